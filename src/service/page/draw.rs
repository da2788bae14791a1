//! Drawing a layout of one's own: the page's frame; the drawing itself is its script's.

use super::{
    shell::{Place, Shell},
    sketch::stage,
};
use crate::{
    service::Problem,
    table::{BALL_DIAMETER_MM, TableSize},
};
use axum::{
    extract::{Query, rejection::QueryRejection},
    response::{IntoResponse, Response},
};
use maud::{Markup, html};
use serde::Deserialize;

/// Object balls have these numbers.
const NUMBERS: std::ops::RangeInclusive<u8> = 1..=15;

/// What to begin with.
#[derive(Debug, Deserialize)]
pub(super) struct Begin {
    /// A rest whose layout is drawn from.
    rest: Option<i64>,
}

/// The page.
pub(super) async fn page(begin: Result<Query<Begin>, QueryRejection>) -> Result<Response, Problem> {
    let Query(Begin { rest }) = begin?;
    let shell = Shell {
        title: "Draw a layout",
        place: Place::Draw,
        sheet: Some("/draw.css"),
        script: Some("/draw.js"),
    };
    let main = html! {
        main #main.draw data-rest=[rest] data-ball=(BALL_DIAMETER_MM) {
            h1 { "Draw a layout" }
            noscript { p { "Drawing needs scripts, which this browser does not run." } }
            (stage(
                "The table; each ball on it can be moved",
                &["balls"],
                "Choose a ball, then tap the table where it lies.",
            ))
            div.tools {
                (tray())
                (chosen())
                (whole())
                (photo())
                (copies())
            }
        }
    };
    Ok(shell.around(&main).into_response())
}

/// A button for each ball.
fn tray() -> Markup {
    html! {
        section aria-labelledby="tray-title" {
            h2 #tray-title { "Balls" }
            div.tray #tray {
                button type="button" data-ball="cue" aria-label="Cue ball" { "Cue" }
                @for number in NUMBERS {
                    button type="button" data-ball=(number) aria-label={ "Ball " (number) } {
                        (number)
                    }
                }
                button type="button" data-ball="unread" aria-label="A ball without a number" { "?" }
            }
        }
    }
}

/// The ball in hand: what the pointer does, by numbers and keys.
fn chosen() -> Markup {
    html! {
        section aria-labelledby="chosen-title" {
            h2 #chosen-title { "Chosen ball" }
            p #chosen { "No ball is chosen." }
            div.row {
                label { "Along " input type="number" id="along" step="0.01" min="0" max="8" disabled; }
                label { "Across " input type="number" id="across" step="0.01" min="0" max="4" disabled; }
                button type="button" id="remove" disabled { "Remove" }
            }
            p.quiet {
                "In diamonds from the head rail and the near long rail. Arrow keys move a ball, "
                "with Shift in large steps, with Alt in small ones; Delete removes it."
            }
        }
    }
}

fn whole() -> Markup {
    html! {
        section aria-labelledby="whole-title" {
            h2 #whole-title { "Table" }
            div.row {
                label {
                    "Size "
                    select id="size" {
                        @for size in TableSize::PRESETS {
                            option value={ (size.length_mm) "x" (size.width_mm) } { (size.name()) }
                        }
                    }
                }
                button type="button" id="fifteen" { "Rack fifteen" }
                button type="button" id="fourteen" { "Rack fourteen" }
                button type="button" id="round" { "Turn round" }
                button type="button" id="clear" { "Clear" }
                button type="button" id="undo" disabled { "Undo" }
                button type="button" id="redo" disabled { "Redo" }
            }
        }
    }
}

fn photo() -> Markup {
    html! {
        section aria-labelledby="photo-title" {
            h2 #photo-title { "From a photo" }
            label.file {
                "Photo of a whole table, from above or from the side "
                input type="file" id="photo" accept="image/jpeg,image/png,image/webp";
            }
            p.quiet { "The program on this machine reads it and keeps nothing of it." }
            img #shown hidden alt="Your photo, to compare with";
        }
    }
}

fn copies() -> Markup {
    html! {
        section aria-labelledby="copies-title" {
            h2 #copies-title { "Take it with you" }
            div.row {
                a.button id="again" href="/again" { "Set it up again" }
                a.button id="try" href="/try" { "Try a shot" }
                button type="button" id="link" { "Copy link" }
                button type="button" data-save="svg" { "SVG" }
                button type="button" data-save="png" { "PNG" }
                button type="button" data-save="json" { "JSON" }
            }
        }
    }
}
