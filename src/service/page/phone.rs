//! A phone, or any device with a camera, as a camera of the program: the page that it shows.

use super::{
    cautions,
    messages::{say, weave},
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
        title: &say!("phone-heading"),
        place: Place::Elsewhere,
        sheet: Some("/phone.css"),
        script: Some(if may_send { "/phone.js" } else { "/pair.js" }),
    };
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let trustable = app.access.authority().is_some();
    let encrypted = app.access.is_open_to_network().then(|| format!("https://{host}/phone"));
    let main = html! {
        main #main.phone {
            h1 { (say!("phone-heading")) }
            @if may_send {
                noscript { p { (say!("phone-needs-scripts")) } }
                (live(encrypted.as_deref(), trustable))
                (photo())
            } @else {
                (key_form(visitor))
                @if trustable {
                    p { a href="/certificate" { (say!("phone-trust")) } }
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
            h2 #live-title { (say!("phone-watch")) }
            p #no-camera hidden {
                span #no-camera-why {} " "
                span #encrypted hidden {
                    @if let Some(address) = encrypted { a href=(address) { (say!("phone-encrypted")) } " " }
                    @if trustable { a href="/certificate" { (say!("phone-trust")) } }
                }
            }
            div #camera-part {
                video #preview playsinline muted aria-label=(say!("phone-preview")) {}
                p #phone-status role="status" { (say!("phone-off")) }
                p #seen {}
                div.row {
                    button #start type="button" { (say!("phone-start")) }
                    button #stop type="button" disabled { (say!("phone-stop")) }
                    label {
                        (say!("phone-name")) " "
                        input #phone-name type="text" maxlength="34" size="14" pattern="[A-Za-z0-9_\\-]+"
                            autocapitalize="none" spellcheck="false" value="phone";
                    }
                }
                p.quiet #awake {}
                @let setup = html! { a #to-setup href="/setup?camera=phone" {} };
                p.quiet { (weave(&say!("phone-lay-still"), &[("setup", setup)])) }
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
            h2 #photo-title { (say!("phone-one-photo")) }
            label.file {
                (say!("phone-photo-of")) " "
                input #photo type="file" accept="image/jpeg,image/png,image/webp";
            }
            progress #photo-progress max="1" value="0" hidden aria-label=(say!("phone-sent")) {}
            p #photo-status role="status" {}
            p #photo-result hidden {
                img #photo-drawing alt=(say!("phone-drawing-alt")) width=(width) height=(height);
                a #photo-rest href="/" { (say!("phone-what-was-read")) }
            }
        }
    }
}
