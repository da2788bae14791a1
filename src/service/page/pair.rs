//! Pairing a device, and telling it to trust this machine's own certificate authority.

use super::{
    messages::{plain, say, weave},
    shell::{Place, Shell},
};
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
        title: &say!("pair-heading"),
        place: Place::Elsewhere,
        sheet: None,
        script: Some("/pair.js"),
    };
    let main = html! {
        main #main.single {
            h1 { (say!("pair-heading")) }
            @if !app.access.is_open_to_network() {
                p #pair-state { (weave(&say!("pair-not-needed"), &[])) }
            } @else if visitor.may == May::All {
                p #pair-state { (weave(&say!("pair-paired"), &[])) }
                (forget())
            } @else {
                (key_form(visitor))
            }
            nav.ways aria-label=(say!("pair-go-on")) {
                a href="/" { (say!("shell-table")) }
                a href="/setup" { (say!("pair-setup")) }
                a href="/phone" { (say!("pair-phone")) }
            }
        }
    };
    shell.around(&main).into_response()
}

/// Shuts out whoever should not have the key any more.
fn forget() -> Markup {
    html! {
        details #forget-part {
            summary { (say!("pair-forget")) }
            p { (say!("pair-forget-told")) }
            p { button type="button" #forget { (say!("pair-new-key")) } }
        }
        p #forget-status role="status" {}
    }
}

/// Where a key is typed that was not scanned.
pub(super) fn key_form(visitor: Visitor) -> Markup {
    html! {
        p #pair-state {
            @if visitor.may == May::SendPictures {
                (say!("pair-pictures-only"))
            } @else {
                (say!("pair-looks-on"))
            }
        }
        noscript { p { (say!("pair-needs-scripts")) } }
        div.row #pair-form {
            label {
                (say!("pair-key")) " "
                input type="text" id="pair-key" autocomplete="off" autocapitalize="none"
                    spellcheck="false" maxlength="60" size="32";
            }
            button type="button" id="pair-button" { (say!("pair-do")) }
        }
        p #pair-status role="status" {}
    }
}

/// The page that says how a device learns to trust this machine.
pub(super) async fn certificate(State(app): State<App>, headers: HeaderMap) -> Response {
    let title = &say!("trust");
    let shell = Shell { title, place: Place::Elsewhere, sheet: None, script: None };
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let main = html! {
        main #main.single {
            h1 { (say!("trust")) }
            @match app.access.authority() {
                Some(der) => (steps(&der, host)),
                None if app.access.is_open_to_network() => p { (say!("trust-given")) },
                None => p { (weave(&say!("trust-not-needed"), &[])) },
            }
        }
    };
    shell.around(&main).into_response()
}

/// What is done on each system, in this order of steps.
fn systems() -> [(String, Vec<String>); 5] {
    [
        (
            say!("trust-iphone"),
            vec![say!("trust-iphone-1"), say!("trust-iphone-2"), say!("trust-iphone-3")],
        ),
        (
            say!("trust-android"),
            vec![say!("trust-android-1"), say!("trust-android-2"), say!("trust-android-3")],
        ),
        (say!("trust-macos"), vec![say!("trust-macos-1"), say!("trust-macos-2")]),
        (say!("trust-windows"), vec![say!("trust-windows-1"), say!("trust-windows-2")]),
        (say!("trust-linux"), vec![say!("trust-linux-1"), say!("trust-linux-2")]),
    ]
}

fn steps(der: &[u8], host: &str) -> Markup {
    html! {
        p { (say!("trust-why")) }
        p { a.button #authority href=(AUTHORITY) download="stillcloth-authority.crt" { (say!("trust-get")) } }
        @for (system, steps) in systems() {
            details.system {
                summary { (system) }
                ol { @for step in steps { li { (step) } } }
            }
        }
        @let address = format!("https://{host}/phone");
        @let link = html! { a #encrypted href=(address) {} };
        p { (weave(&say!("trust-then-open", address = plain(&address)), &[("link", link)])) }
        p { (say!("trust-vouches")) }
        p { code.fingerprint #fingerprint { (fingerprint(der)) } }
        p.quiet { (say!("trust-only-where")) }
    }
}

/// The authority's certificate as a file.
pub(super) async fn authority(State(app): State<App>) -> Result<Response, Problem> {
    let der =
        app.access.authority().ok_or_else(|| Problem::not_found(say!("trust-no-certificate")))?;
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static("application/x-x509-ca-cert")),
        (header::CACHE_CONTROL, HeaderValue::from_static("no-store")),
    ];
    Ok((headers, der).into_response())
}
