//! What every page has around its content: head, name, ways to the other pages.

use axum::{
    http::StatusCode,
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

const PLACES: [(Place, &str, &str); 5] = [
    (Place::Watch, "/", "Table"),
    (Place::Attempts, "/attempts", "Attempts"),
    (Place::Progress, "/progress", "Progress"),
    (Place::Draw, "/draw", "Draw"),
    (Place::Setup, "/setup", "Set-up"),
];

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
            html lang="en" {
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
                    a.skip href="#main" { "To the content" }
                    header {
                        a.name href="/" {
                            img src="/mark.svg" alt="" width="36" height="36";
                            span { "Stillcloth" }
                        }
                        nav.places aria-label="Pages" {
                            @for (place, address, name) in PLACES {
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
    let shell = Shell { title: heading, place: Place::Elsewhere, sheet: None, script: None };
    let main = html! {
        main #main.single {
            h1 { (heading) }
            p { (why) }
            p { a.button href=(to.0) { (to.1) } }
        }
    };
    (StatusCode::NOT_FOUND, shell.around(&main)).into_response()
}
