//! A phone, or any device with a camera, as a camera of the program: the page that it shows.

use super::{
    cautions,
    pair::key_form,
    shell::{Place, Shell},
};
use crate::{
    layout::diagram,
    service::{
        App,
        access::{May, Visitor},
    },
    table::TableSize,
};
use axum::{
    extract::State,
    http::{HeaderMap, header},
    response::{IntoResponse, Response},
};
use maud::{Markup, html};

/// The page.
pub(super) async fn page(State(app): State<App>, visitor: Visitor, headers: HeaderMap) -> Response {
    let may_send = visitor.may >= May::SendPictures;
    let shell = Shell {
        title: "This device as a camera",
        place: Place::Elsewhere,
        sheet: Some("/phone.css"),
        script: Some(if may_send { "/phone.js" } else { "/pair.js" }),
    };
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let trustable = app.access.authority().is_some();
    let encrypted = app.access.is_open_to_network().then(|| format!("https://{host}/phone"));
    let main = html! {
        main #main.phone {
            h1 { "This device as a camera" }
            @if may_send {
                noscript { p { "Sending pictures needs scripts, which this browser does not run." } }
                (live(encrypted.as_deref(), trustable))
                (photo())
            } @else {
                (key_form(visitor))
                @if trustable {
                    p { a href="/certificate" { "How this device learns to trust the machine" } }
                }
            }
            (cautions::mounting())
        }
    };
    shell.around(&main).into_response()
}

/// What is seen, sent on as a stream.
fn live(encrypted: Option<&str>, trustable: bool) -> Markup {
    html! {
        section aria-labelledby="live-title" {
            h2 #live-title { "Watch the table" }
            p #no-camera hidden {
                span #no-camera-why {} " "
                span #encrypted hidden {
                    @if let Some(address) = encrypted { a href=(address) { "Open this page encrypted" } " " }
                    @if trustable { a href="/certificate" { "How this device learns to trust the machine" } }
                }
            }
            div #camera-part {
                video #preview playsinline muted aria-label="What this device's camera sees" {}
                p #phone-status role="status" { "The camera is off." }
                p #seen {}
                div.row {
                    button #start type="button" { "Start" }
                    button #stop type="button" disabled { "Stop" }
                    label {
                        "Name of this camera "
                        input #phone-name type="text" maxlength="34" size="14" pattern="[A-Za-z0-9_\\-]+"
                            autocapitalize="none" spellcheck="false" value="phone";
                    }
                }
                p.quiet #awake {}
                p.quiet {
                    "Lay the device still over the table, the whole rail in the picture, and lock the "
                    "turning of its screen. Then set it up: "
                    a #to-setup href="/setup?camera=phone" { "Set-up of this camera" } "."
                }
            }
        }
    }
}

/// A single picture, which needs no camera from the browser and so no encrypted page.
fn photo() -> Markup {
    // Of whatever size the table is, its drawing has this shape.
    let [width, height] = diagram::size(&TableSize::NINE_FOOT, 0);
    html! {
        section aria-labelledby="photo-title" {
            h2 #photo-title { "Send one photo" }
            label.file {
                "A photo of the whole table; it is read and kept "
                input #photo type="file" accept="image/jpeg,image/png,image/webp";
            }
            progress #photo-progress max="1" value="0" hidden aria-label="Sent" {}
            p #photo-status role="status" {}
            p #photo-result hidden {
                img #photo-drawing alt="The layout that was read" width=(width) height=(height);
                a #photo-rest href="/" { "What was read" }
            }
        }
    }
}
