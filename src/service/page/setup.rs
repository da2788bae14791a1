//! Setting a camera up: its picture with what was found drawn over it, corners to drag, the foot end,
//! the size, and in plain words how good it is. The drawing is its script's.

use super::{
    cautions,
    pair::key_form,
    shell::{Place, Shell},
    watch::Which,
};
use crate::{
    motion::Physics,
    service::{
        App, CameraStatus, Invitation, Problem,
        access::{May, Visitor},
        cloth::{Learned, NEEDED},
    },
    table::TableSize,
};
use axum::{
    extract::{Query, State, rejection::QueryRejection},
    http::{HeaderMap, HeaderValue, header},
    response::{IntoResponse, Response},
};
use maud::{Markup, PreEscaped, html};
use qrcode::{QrCode, render::svg};

/// A code's width and height on a page at least, so that a phone reads it from an arm's length.
const CODE_PX: u32 = 240;

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    visitor: Visitor,
    headers: HeaderMap,
    which: Result<Query<Which>, QueryRejection>,
) -> Result<Response, Problem> {
    let wished = which?.0.camera()?;
    let paired = visitor.may == May::All;
    let shell = Shell {
        title: "Set-up",
        place: Place::Setup,
        sheet: Some("/setup.css"),
        script: Some(if paired { "/setup.js" } else { "/pair.js" }),
    };
    if !paired {
        let main = html! {
            main #main.single {
                h1 { "Set up a camera" }
                (key_form(visitor))
                p { a href="/certificate" { "A warning before this page? How a device learns to trust this machine" } }
            }
        };
        return Ok(shell.around(&main).into_response());
    }
    let cameras = app.cameras.board().all();
    let chosen = match &wished {
        Some(name) => cameras.iter().find(|camera| camera.name.as_str() == name),
        None => cameras.first(),
    };
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let invitation = app.access.invitation().map(|invitation| invitation.at(host));
    let main = html! {
        main #main.setup data-camera=[chosen.map(|camera| camera.name.as_str())]
            data-wished=[wished.as_deref()] {
            h1 { "Set up a camera" }
            (choice(&cameras, chosen, wished.as_deref()))
            @if chosen.is_some() {
                (stage())
                div.tools { (knowledge()) (keeping()) (quality()) (cloth(&app, chosen)) }
            }
            (phone(invitation.as_ref(), chosen.is_none()))
            (cautions::mounting())
        }
    };
    let mut response = shell.around(&main).into_response();
    // The code pairs whoever scans it.
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(response)
}

fn choice(cameras: &[CameraStatus], chosen: Option<&CameraStatus>, wished: Option<&str>) -> Markup {
    html! {
        @if !cameras.is_empty() {
            nav.tables #cameras aria-label="Cameras" {
                @for camera in cameras {
                    @let here = chosen.is_some_and(|chosen| chosen.name == camera.name);
                    a href={ "/setup?camera=" (camera.name) } aria-current=[here.then_some("page")] {
                        (camera.name)
                    }
                }
            }
        }
        @match (chosen, wished) {
            (Some(camera), _) => p #camera-state { (camera.words) },
            (None, Some(name)) => p #camera-state { "There is no camera " (name) " at present." },
            (None, None) => p #camera-state {
                "There is no camera yet. Use a phone, or start the program with one: "
                code { "stillcloth serve --camera 0" } "."
            },
        }
    }
}

fn stage() -> Markup {
    html! {
        noscript { p { "Setting up needs scripts, which this browser does not run." } }
        div.stage #stage {
            svg #scene viewBox="0 0 1600 900" role="group"
                aria-label="The camera's picture, with the table that was found drawn over it" {
                g #shown { image #picture width="1600" height="900" {} g #lines {} }
                g #corners {}
            }
            svg #loupe viewBox="0 0 60 60" aria-hidden="true" hidden { use href="#shown" {} path #cross {} }
        }
        p #status role="status" { "Waiting for the camera's picture …" }
        p #grade {}
        p.quiet #help {
            "The lines should lie where the cushions' noses are, the circles on the pockets, the small "
            "marks on the sights. Drag a corner where they do not, or choose it with the Tab key and "
            "move it with the arrow keys, with Shift in large steps."
        }
    }
}

fn quality() -> Markup {
    html! {
        section.quality aria-labelledby="quality-title" {
            h2 #quality-title { "How good it is" }
            ul #says { li { "Nothing was found yet." } }
            div #better-part hidden {
                h3 { "What would make it better" }
                ul #better {}
            }
        }
    }
}

/// What was learned of the cloth. A ball that rolls at v runs v² / (2 μᵣ g).
fn cloth(app: &App, chosen: Option<&CameraStatus>) -> Markup {
    let learned = chosen.and_then(|camera| app.cameras.cloths.learned(camera.name.as_str()));
    let rolls = learned.map_or(0, |learned| learned.rolls);
    let runs_m = |resistance: f64| 0.5 / (resistance * Physics::default().gravity_m_s2);
    html! {
        section aria-labelledby="cloth-title" {
            h2 #cloth-title { "The cloth" }
            @match learned.filter(|learned| learned.rolls >= NEEDED) {
                Some(Learned { rolling_resistance, sigma, .. }) => {
                    p { "A ball that rolls at 1 m/s runs " b {
                        (format!("{:.1} m", runs_m(rolling_resistance)))
                    } (format!(
                        " here, give or take {:.1} m: learned from the last {rolls} balls that rolled out.",
                        runs_m(rolling_resistance) * sigma / rolling_resistance,
                    )) }
                    p.quiet { "Advice and tried shots go by it." }
                }
                None => {
                    p { "How fast it is shows while you play, from balls that roll out in the open: "
                        (rolls) " of the " (NEEDED) " that are needed." }
                    p.quiet { "Until then advice goes by an ordinary cloth, on which a ball that rolls "
                        "at 1 m/s runs "
                        (format!("{:.1} m.", runs_m(Physics::default().rolling_resistance))) }
                }
            }
        }
    }
}

/// What the user knows and the picture may not tell.
fn knowledge() -> Markup {
    // Most tables lie across the picture; the script shows the other two sides where one stands.
    let side = |value: &str, words: &str, shown: bool| {
        html! {
            label.side data-side=(value) hidden[!shown] {
                input type="radio" name="foot" value=(value) id={ "foot-" (value) };
                span { (words) }
            }
        }
    };
    html! {
        section aria-labelledby="table-title" {
            h2 #table-title { "The table" }
            fieldset #foot {
                legend { "Foot end, where the rack stands" }
                label.side {
                    input type="radio" name="foot" value="" id="foot-found" checked;
                    span { "As found " span #foot-found-words {} }
                }
                (side("left", "Left in the picture", true))
                (side("right", "Right in the picture", true))
                (side("top", "Above in the picture", false))
                (side("bottom", "Below in the picture", false))
            }
            div.row {
                label {
                    "Size "
                    select #size {
                        option value="" { "As found" }
                        @for size in TableSize::PRESETS {
                            option value={ (size.length_mm) "x" (size.width_mm) } { (size.name()) }
                        }
                        option value="other" { "Another" }
                    }
                }
                span.row #other-size hidden {
                    label { "Length, mm " input #length type="number" min="1000" max="5000" step="0.1" inputmode="decimal"; }
                    label { "Width, mm " input #width type="number" min="500" max="2500" step="0.1" inputmode="decimal"; }
                }
            }
            p.quiet { "Between the cushions' noses." }
        }
    }
}

fn keeping() -> Markup {
    html! {
        section aria-labelledby="keep-title" {
            h2 #keep-title { "Keep it" }
            div.row {
                button #save type="button" disabled { "Keep this set-up" }
                button #find type="button" { "Find the table anew" }
            }
            p.quiet { "The camera goes by it at once, and after a restart." }
            p #kept hidden { a.button href="/" { "To the table" } }
        }
    }
}

/// A phone as a camera.
fn phone(invitation: Option<&Invitation>, open: bool) -> Markup {
    html! {
        details.phone #phone-invite open[open] {
            summary { "Use a phone as a camera" }
            @if let Some(invitation) = invitation {
                div.codes {
                    figure {
                        (code(&invitation.phone_link(), "phone-code", "Code that pairs a phone as a camera"))
                        figcaption {
                            "Scan this with the phone: it is paired, and its page shows what it sees. "
                            a #phone-link href=(invitation.phone_link()) { "The same as a link" }
                        }
                    }
                    figure {
                        (code(&invitation.certificate_link(), "certificate-code", "Code for the page about the certificate"))
                        figcaption {
                            "The phone warns of the connection? Scan this first: "
                            a #certificate-link href="/certificate" { "how it learns to trust this machine" }
                        }
                    }
                    figure {
                        (code(&invitation.pictures_link(), "pictures-code", "Code for single photos without a certificate"))
                        figcaption {
                            "Without any certificate: single photos, over a connection that others "
                            "could listen to, with a key that is good for photos alone. "
                            a #pictures-link href=(invitation.pictures_link()) { "The same as a link" }
                        }
                    }
                }
                p.quiet {
                    "Whoever sees the first code can change what the program keeps: show it to nobody "
                    "else. Did somebody see it, or is a phone lost? "
                    a #to-forget href="/pair" { "Forget all paired devices" } "."
                }
            } @else {
                p #phone-closed {
                    "Only this machine reaches the program now. Start it with "
                    code { "stillcloth serve --lan" } " and a code to scan appears here. "
                    a href="/phone" { "This machine's own camera" } " can be used as it is."
                }
            }
        }
    }
}

/// A code to scan: black on white by day and by night.
fn code(link: &str, id: &str, words: &str) -> Markup {
    let drawn = QrCode::new(link).map(|code| {
        code.render::<svg::Color>().min_dimensions(CODE_PX, CODE_PX).quiet_zone(true).build()
    });
    // What stands before the drawing itself is for files.
    let drawn = drawn.ok().and_then(|text| text.find("<svg").map(|at| text[at..].to_string()));
    html! {
        @if let Some(drawn) = drawn {
            div.code id=(id) role="img" aria-label=(words) { (PreEscaped(drawn)) }
        }
    }
}
