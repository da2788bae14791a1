//! Pairing a device, and telling it to trust this machine's own certificate authority.

use super::shell::{Place, Shell};
use crate::service::{
    App, Problem,
    access::{May, Visitor, fingerprint},
};
use axum::{
    extract::State,
    http::{HeaderMap, HeaderValue, header},
    response::{IntoResponse, Response},
};
use maud::{Markup, html};

/// Where the authority's certificate is had; phones go by the ending and the media type.
pub(super) const AUTHORITY: &str = "/authority.crt";

/// The page that pairs a browser.
pub(super) async fn page(State(app): State<App>, visitor: Visitor) -> Response {
    let shell = Shell {
        title: "Pair this device",
        place: Place::Elsewhere,
        sheet: None,
        script: Some("/pair.js"),
    };
    let main = html! {
        main #main.single {
            h1 { "Pair this device" }
            @if !app.access.is_open_to_network() {
                p #pair-state {
                    "Only this machine reaches the program, so nothing has to be paired. "
                    code { "stillcloth serve --lan" } " lets other devices in."
                }
            } @else if visitor.may == May::All {
                p #pair-state { strong { "This device is paired." } " It may change what the program keeps." }
                (forget())
            } @else {
                (key_form(visitor))
            }
            nav.ways aria-label="Go on" {
                a href="/" { "Table" }
                a href="/setup" { "Set-up of the cameras" }
                a href="/phone" { "Use this device as a camera" }
            }
        }
    };
    shell.around(&main).into_response()
}

/// Shuts out whoever should not have the key any more.
fn forget() -> Markup {
    html! {
        details #forget-part {
            summary { "Forget all paired devices" }
            p {
                "For a phone that is lost, or a code that others have seen. The program makes a new "
                "key: every phone, tablet and program that was paired has to be paired again. This "
                "device stays paired, and nothing that is kept is lost."
            }
            p { button type="button" #forget { "Make a new key" } }
        }
        p #forget-status role="status" {}
    }
}

/// Where a key is typed that was not scanned.
pub(super) fn key_form(visitor: Visitor) -> Markup {
    html! {
        p #pair-state {
            @if visitor.may == May::SendPictures {
                "This device may send pictures. For all else it needs the other key, and an address "
                "with https:// in front."
            } @else {
                "This device may look on. With the key it may also send pictures and change things. "
                "The key stands in the terminal where the program was started, and on the set-up "
                "page of a device that is paired: scan its code, or type it here."
            }
        }
        noscript { p { "Pairing needs scripts, which this browser does not run." } }
        div.row #pair-form {
            label {
                "Key "
                input type="text" id="pair-key" autocomplete="off" autocapitalize="none"
                    spellcheck="false" maxlength="60" size="32";
            }
            button type="button" id="pair-button" { "Pair" }
        }
        p #pair-status role="status" {}
    }
}

/// The page that says how a device learns to trust this machine.
pub(super) async fn certificate(State(app): State<App>, headers: HeaderMap) -> Response {
    let shell =
        Shell { title: "Trust this machine", place: Place::Elsewhere, sheet: None, script: None };
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let main = html! {
        main #main.single {
            h1 { "Trust this machine" }
            @match app.access.authority() {
                Some(der) => (steps(&der, host)),
                None if app.access.is_open_to_network() => p {
                    "The program shows a certificate that you gave it: there is nothing to install. "
                    "Open it by the name that the certificate is for."
                },
                None => p {
                    "Only this machine reaches the program, so nothing is encrypted and nothing has to "
                    "be trusted. " code { "stillcloth serve --lan" } " lets other devices in."
                },
            }
        }
    };
    shell.around(&main).into_response()
}

/// What is done on each system, in this order of steps.
const SYSTEMS: [(&str, &[&str]); 5] = [
    (
        "iPhone and iPad",
        &[
            "Open this page in Safari, tap the button above and allow the download.",
            "Settings, General, VPN & Device Management: tap the downloaded profile, then Install.",
            "Settings, General, About, Certificate Trust Settings: switch it on. Without this step \
             it is there and not trusted.",
        ],
    ),
    (
        "Android",
        &[
            "Tap the button above; the file is in the downloads then.",
            "In the settings search for CA certificate, choose it, and Install anyway.",
            "Choose the file. The system may say from now on that the network could be watched: it \
             means this certificate.",
        ],
    ),
    (
        "macOS",
        &[
            "Open the downloaded file: it comes into the keychain.",
            "Open it there, and under Trust choose Always Trust.",
        ],
    ),
    (
        "Windows",
        &[
            "Open the downloaded file, then Install Certificate, Current User.",
            "Place it in the store Trusted Root Certification Authorities.",
        ],
    ),
    (
        "Linux, and any browser with certificates of its own",
        &[
            "In the browser's settings search for certificates, and there for authorities.",
            "Import the file, and trust it for websites.",
        ],
    ),
];

fn steps(der: &[u8], host: &str) -> Markup {
    html! {
        p {
            "A browser gives a page the camera only over an encrypted connection to a machine that it "
            "trusts. This machine has made a certificate authority of its own for that; a device is "
            "told once to trust it."
        }
        p { a.button #authority href=(AUTHORITY) download="stillcloth-authority.crt" { "Get the certificate" } }
        @for (system, steps) in SYSTEMS {
            details.system {
                summary { (system) }
                ol { @for step in steps { li { (step) } } }
            }
        }
        p { "Then open " a #encrypted href={ "https://" (host) "/phone" } { "https://" (host) "/phone" } "." }
        p {
            "It may vouch for private addresses, for .local and for this machine's names, and for "
            "nothing else. Its fingerprint (SHA-256), which the terminal shows too:"
        }
        p { code.fingerprint #fingerprint { (fingerprint(der)) } }
        p.quiet {
            "Install it only where the two are the same: whoever makes a certificate that you trust "
            "can pass for this machine. Take it off the device again when you no longer need it."
        }
    }
}

/// The authority's certificate as a file.
pub(super) async fn authority(State(app): State<App>) -> Result<Response, Problem> {
    let der = app.access.authority().ok_or_else(|| {
        Problem::not_found("There is no certificate of the program's own: /certificate says why.")
    })?;
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static("application/x-x509-ca-cert")),
        (header::CACHE_CONTROL, HeaderValue::from_static("no-store")),
    ];
    Ok((headers, der).into_response())
}
