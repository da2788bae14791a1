//! Setting a camera up: its picture with what was found drawn over it, corners to drag, the foot end,
//! the size, and in plain words how good it is. The drawing is its script's.

use super::{
    cautions,
    messages::{say, weave},
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
        title: &say!("shell-setup"),
        place: Place::Setup,
        sheet: Some("/setup.css"),
        script: Some(if paired { "/setup.js" } else { "/pair.js" }),
    };
    if !paired {
        let main = html! {
            main #main.single {
                h1 { (say!("setup-heading")) }
                (key_form(visitor))
                p { a href="/certificate" { (say!("setup-warning")) } }
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
            h1 { (say!("setup-heading")) }
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
            nav.tables #cameras aria-label=(say!("cameras")) {
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
            (None, Some(name)) => p #camera-state { (say!("setup-no-such", camera = name)) },
            (None, None) => p #camera-state { (weave(&say!("setup-none"), &[])) },
        }
    }
}

fn stage() -> Markup {
    html! {
        noscript { p { (say!("setup-needs-scripts")) } }
        div.stage #stage {
            svg #scene viewBox="0 0 1600 900" role="group"
                aria-label=(say!("setup-scene")) {
                g #shown { image #picture width="1600" height="900" {} g #lines {} }
                g #corners {}
            }
            svg #loupe viewBox="0 0 60 60" aria-hidden="true" hidden { use href="#shown" {} path #cross {} }
        }
        p #status role="status" { (say!("setup-waiting")) }
        p #grade {}
        p.quiet #help { (say!("setup-help")) }
    }
}

fn quality() -> Markup {
    html! {
        section.quality aria-labelledby="quality-title" {
            h2 #quality-title { (say!("setup-quality")) }
            ul #says { li { (say!("setup-nothing-found")) } }
            div #better-part hidden {
                h3 { (say!("setup-better")) }
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
    let tenths = |metres: f64| format!("{metres:.1}");
    html! {
        section aria-labelledby="cloth-title" {
            h2 #cloth-title { (say!("setup-cloth")) }
            @match learned.filter(|learned| learned.rolls >= NEEDED) {
                Some(Learned { rolling_resistance, sigma, .. }) => {
                    @let runs = runs_m(rolling_resistance);
                    @let off = tenths(runs * sigma / rolling_resistance);
                    @let told = say!("setup-cloth-learned", runs = tenths(runs), off = off, rolls = rolls);
                    p { (weave(&told, &[])) }
                    p.quiet { (say!("setup-cloth-used")) }
                }
                None => {
                    @let runs = tenths(runs_m(Physics::default().rolling_resistance));
                    p { (say!("setup-cloth-not-yet", rolls = rolls, needed = NEEDED)) }
                    p.quiet { (say!("setup-cloth-ordinary", runs = runs)) }
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
            h2 #table-title { (say!("the-table")) }
            fieldset #foot {
                legend { (say!("setup-foot")) }
                label.side {
                    input type="radio" name="foot" value="" id="foot-found" checked;
                    @let place = html! { span #foot-found-words {} };
                    span { (weave(&say!("setup-foot-found"), &[("where", place)])) }
                }
                (side("left", &say!("setup-left"), true))
                (side("right", &say!("setup-right"), true))
                (side("top", &say!("setup-above"), false))
                (side("bottom", &say!("setup-below"), false))
            }
            div.row {
                label {
                    (say!("setup-size")) " "
                    select #size {
                        option value="" { (say!("setup-as-found")) }
                        @for size in TableSize::PRESETS {
                            option value={ (size.length_mm) "x" (size.width_mm) } { (size.name()) }
                        }
                        option value="other" { (say!("setup-another")) }
                    }
                }
                span.row #other-size hidden {
                    label {
                        (say!("setup-length")) " "
                        input #length type="number" min="1000" max="5000" step="0.1" inputmode="decimal";
                    }
                    label {
                        (say!("setup-width")) " "
                        input #width type="number" min="500" max="2500" step="0.1" inputmode="decimal";
                    }
                }
            }
            p.quiet { (say!("setup-between-noses")) }
        }
    }
}

fn keeping() -> Markup {
    html! {
        section aria-labelledby="keep-title" {
            h2 #keep-title { (say!("setup-keep")) }
            div.row {
                button #save type="button" disabled { (say!("setup-keep-this")) }
                button #find type="button" { (say!("setup-find")) }
            }
            p.quiet { (say!("setup-kept-told")) }
            p #kept hidden { a.button href="/" { (say!("to-the-table")) } }
        }
    }
}

/// A phone as a camera.
fn phone(invitation: Option<&Invitation>, open: bool) -> Markup {
    html! {
        details.phone #phone-invite open[open] {
            summary { (say!("setup-phone")) }
            @if let Some(invitation) = invitation {
                div.codes {
                    figure {
                        (code(&invitation.phone_link(), "phone-code", &say!("setup-phone-code")))
                        @let link = html! { a #phone-link href=(invitation.phone_link()) {} };
                        figcaption { (weave(&say!("setup-phone-scan"), &[("link", link)])) }
                    }
                    figure {
                        @let certificate = invitation.certificate_link();
                        (code(&certificate, "certificate-code", &say!("setup-certificate-code")))
                        @let link = html! { a #certificate-link href="/certificate" {} };
                        figcaption { (weave(&say!("setup-certificate-scan"), &[("link", link)])) }
                    }
                    figure {
                        (code(&invitation.pictures_link(), "pictures-code", &say!("setup-pictures-code")))
                        @let link = html! { a #pictures-link href=(invitation.pictures_link()) {} };
                        figcaption { (weave(&say!("setup-pictures-scan"), &[("link", link)])) }
                    }
                }
                @let forget = html! { a #to-forget href="/pair" {} };
                p.quiet { (weave(&say!("setup-first-code"), &[("forget", forget)])) }
            } @else {
                @let here = html! { a href="/phone" {} };
                p #phone-closed { (weave(&say!("setup-phone-closed"), &[("here", here)])) }
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
