//! What every page has around its content: head, name, ways to the other pages.

use super::messages::{SPOKEN, say};
use crate::service::Problem;
use axum::{
    extract::Request,
    http::{HeaderValue, Method, StatusCode, header},
    middleware::Next,
    response::{Html, IntoResponse, Response},
};
use maud::{DOCTYPE, Markup, html};

/// The pages that the head of each page leads to.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    Watch,
    Attempts,
    Progress,
    Draw,
    Setup,
    /// None of them.
    Elsewhere,
}

fn places() -> [(Place, &'static str, String); 5] {
    [
        (Place::Watch, "/", say!("shell-table")),
        (Place::Attempts, "/attempts", say!("shell-attempts")),
        (Place::Progress, "/progress", say!("shell-progress")),
        (Place::Draw, "/draw", say!("shell-draw")),
        (Place::Setup, "/setup", say!("shell-setup")),
    ]
}

/// A page's frame: its title, where it belongs, the sheets and the script it needs beside those of
/// all pages.
pub(super) struct Shell<'a> {
    pub(super) title: &'a str,
    pub(super) place: Place,
    pub(super) sheet: Option<&'static str>,
    pub(super) script: Option<&'static str>,
}

impl Shell<'_> {
    /// The whole page around a `main`.
    pub(super) fn around(&self, main: &Markup) -> Html<String> {
        let whole = html! {
            (DOCTYPE)
            html lang=(SPOKEN.tag) {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover";
                    meta name="color-scheme" content="light dark";
                    meta name="theme-color" content="#f3f1ea" media="(prefers-color-scheme: light)";
                    meta name="theme-color" content="#11171a" media="(prefers-color-scheme: dark)";
                    title { (self.title) " · Stillcloth" }
                    link rel="icon" type="image/svg+xml" href="/mark.svg";
                    link rel="manifest" href="/app.webmanifest";
                    link rel="stylesheet" href="/page.css";
                    @if let Some(sheet) = self.sheet { link rel="stylesheet" href=(sheet); }
                    @if let Some(script) = self.script { script type="module" src=(script) {} }
                }
                body {
                    a.skip href="#main" { (say!("shell-skip")) }
                    header {
                        a.name href="/" {
                            img src="/mark.svg" alt="" width="36" height="36";
                            span { "Stillcloth" }
                        }
                        nav.places aria-label=(say!("shell-pages")) {
                            @for (place, address, name) in places() {
                                a href=(address) aria-current=[(place == self.place).then_some("page")] {
                                    (name)
                                }
                            }
                        }
                    }
                    (main)
                }
            }
        };
        Html(whole.into_string())
    }
}

/// A page that says that something is not there, and where to go instead.
pub(super) fn not_there(heading: &str, why: &str, to: (&str, &str)) -> Response {
    (StatusCode::NOT_FOUND, instead(heading, why, to)).into_response()
}

/// A page instead of another: why, and where to go.
fn instead(heading: &str, why: &str, to: (&str, &str)) -> Html<String> {
    let shell = Shell { title: heading, place: Place::Elsewhere, sheet: None, script: None };
    shell.around(&html! {
        main #main.single {
            h1 { (heading) }
            p { (why) }
            p { a.button href=(to.0) { (to.1) } }
        }
    })
}

/// Makes a page of a problem where a browser shows the answer to a person.
pub(in crate::service) async fn for_people(request: Request, next: Next) -> Response {
    let accepted =
        request.headers().get(header::ACCEPT).and_then(|accepted| accepted.to_str().ok());
    let shown = request.method() == Method::GET
        && !request.uri().path().starts_with("/api/")
        && accepted.is_some_and(|accepted| accepted.contains("text/html"));
    let mut response = next.run(request).await;
    let Some(problem) = response.extensions().get::<Problem>().filter(|_| shown) else {
        return response;
    };
    let heading = match problem.status {
        StatusCode::NOT_FOUND => say!("shell-nothing-here"),
        StatusCode::SERVICE_UNAVAILABLE => say!("shell-not-now"),
        status if status.is_server_error() => say!("shell-failed"),
        _ => say!("shell-does-not-work"),
    };
    let page = instead(&heading, &problem.detail, ("/", &say!("to-the-table")));
    let media_type = HeaderValue::from_static("text/html; charset=utf-8");
    response.headers_mut().insert(header::CONTENT_TYPE, media_type);
    response.headers_mut().remove(header::CONTENT_LENGTH);
    *response.body_mut() = page.0.into();
    response
}
