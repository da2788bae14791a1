//! Drawing a layout of one's own: the page's frame; the drawing itself is its script's.

use super::{
    messages::say,
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
        title: &say!("draw"),
        place: Place::Draw,
        sheet: Some("/draw.css"),
        script: Some("/draw.js"),
    };
    let main = html! {
        main #main.draw data-rest=[rest] data-ball=(BALL_DIAMETER_MM) {
            h1 { (say!("draw")) }
            noscript { p { (say!("draw-needs-scripts")) } }
            (stage(
                &say!("draw-table"),
                &["balls"],
                &say!("draw-begin"),
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
            h2 #tray-title { (say!("balls")) }
            div.tray #tray {
                button type="button" data-ball="cue" aria-label=(say!("ball-cue")) { (say!("draw-cue")) }
                @for number in NUMBERS {
                    @let name = say!("ball-number", number = number);
                    button type="button" data-ball=(number) aria-label=(name) { (number) }
                }
                button type="button" data-ball="unread" aria-label=(say!("draw-no-number")) { "?" }
            }
        }
    }
}

/// The ball in hand: what the pointer does, by numbers and keys.
fn chosen() -> Markup {
    html! {
        section aria-labelledby="chosen-title" {
            h2 #chosen-title { (say!("draw-chosen")) }
            p #chosen { (say!("draw-none-chosen")) }
            div.row {
                label {
                    (say!("draw-along")) " "
                    input type="number" id="along" step="0.01" min="0" max="8" disabled;
                }
                label {
                    (say!("draw-across")) " "
                    input type="number" id="across" step="0.01" min="0" max="4" disabled;
                }
                button type="button" id="remove" disabled { (say!("draw-remove")) }
            }
            p.quiet { (say!("draw-keys")) }
        }
    }
}

fn whole() -> Markup {
    html! {
        section aria-labelledby="whole-title" {
            h2 #whole-title { (say!("draw-whole")) }
            div.row {
                label {
                    (say!("draw-size")) " "
                    select id="size" {
                        @for size in TableSize::PRESETS {
                            option value={ (size.length_mm) "x" (size.width_mm) } { (size.name()) }
                        }
                    }
                }
                button type="button" id="fifteen" { (say!("draw-fifteen")) }
                button type="button" id="fourteen" { (say!("draw-fourteen")) }
                button type="button" id="round" { (say!("draw-round")) }
                button type="button" id="clear" { (say!("draw-clear")) }
                button type="button" id="undo" disabled { (say!("undo")) }
                button type="button" id="redo" disabled { (say!("draw-redo")) }
            }
        }
    }
}

fn photo() -> Markup {
    html! {
        section aria-labelledby="photo-title" {
            h2 #photo-title { (say!("draw-photo")) }
            label.file {
                (say!("draw-photo-of")) " "
                input type="file" id="photo" accept="image/jpeg,image/png,image/webp";
            }
            p.quiet { (say!("draw-photo-kept")) }
            img #shown hidden alt=(say!("draw-photo-alt"));
        }
    }
}

fn copies() -> Markup {
    html! {
        section aria-labelledby="copies-title" {
            h2 #copies-title { (say!("draw-take")) }
            div.row {
                a.button id="again" href="/again" { (say!("set-it-up-again")) }
                a.button id="try" href="/try" { (say!("try-a-shot")) }
                button type="button" id="link" { (say!("copy-link")) }
                button type="button" data-save="svg" { "SVG" }
                button type="button" data-save="png" { "PNG" }
                button type="button" data-save="json" { "JSON" }
            }
        }
    }
}
