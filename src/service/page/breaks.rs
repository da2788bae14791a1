//! Break shots: every closing layout and what came of it on one table, and the nearest earlier ones to
//! one of them.
//!
//! Shape tells before shade does: a break ball that was pocketed is a disc, one that was missed a
//! square with a cross; the cue ball is a ring, the way between them whole or dashed.

use super::{
    near::{self, Near},
    shell::{Place, Shell, not_there},
    sketch::{VIEW, bed, bed_once, place, sketch},
    words,
};
use crate::{
    record::Rest,
    service::{App, CameraName, Problem},
    study::{BreakShot, Position, break_shots},
};
use axum::{
    extract::{Query, State, rejection::QueryRejection},
    response::{IntoResponse, Response},
};
use maud::{Markup, html};
use serde::Deserialize;

/// The latest break shots are shown, no more than these.
const MOST: usize = 300;
/// Of them so many one by one.
const LISTED: usize = 24;
/// Nearest positions that are shown.
const NEAREST: usize = 12;

/// Whose break shots, and which one is looked at.
#[derive(Debug, Deserialize)]
pub(super) struct Which {
    /// The camera over the table; the one that saw the latest rest where none is given.
    camera: Option<String>,
    /// A rest with a closing layout: the nearest to it are shown.
    near: Option<i64>,
}

/// A break shot with its layout.
struct Shown {
    shot: BreakShot,
    rest: Rest,
    position: Position,
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    which: Result<Query<Which>, QueryRejection>,
) -> Result<Response, Problem> {
    let Query(Which { camera, near }) = which?;
    let camera = camera.map(|name| name.parse::<CameraName>()).transpose()?;
    let newest = app.record.newest(camera.map(|name| name.to_string()), 1).await?.pop();
    let Some(newest) = newest else {
        let why = "Break shots are shown here once the camera has seen a rack closed.";
        return Ok(not_there("No break shots yet", why, ("/", "To the table")));
    };
    let camera = newest.camera;
    let mut shots = app.record.story(camera.clone(), break_shots).await?;
    let one = shots.iter().find(|shot| Some(shot.rest) == near).copied();
    shots.drain(..shots.len().saturating_sub(MOST));
    let mut shown = Vec::with_capacity(shots.len());
    for shot in shots {
        shown.extend(look_up(&app, shot).await?);
    }
    let near = match one {
        Some(shot) => look_up(&app, shot).await?,
        None => None,
    };
    let near = match near {
        Some(one) => {
            let others = near::look_up(&app, &one.rest, NEAREST).await?;
            Some((one, others))
        }
        None => None,
    };
    let shell = Shell {
        title: "Break shots",
        place: Place::Progress,
        sheet: Some("/study.css"),
        script: None,
    };
    Ok(shell.around(&body(&camera, &shown, near.as_ref())).into_response())
}

async fn look_up(app: &App, shot: BreakShot) -> Result<Option<Shown>, Problem> {
    let rest = app.record.by_id(shot.rest).await?;
    Ok(rest.map(|rest| Shown { shot, position: Position::of(&rest.layout), rest }))
}

fn body(camera: &str, shown: &[Shown], near: Option<&(Shown, Vec<Near>)>) -> Markup {
    let made = shown.iter().filter(|one| one.shot.made).count();
    html! {
        main #main.study {
            div.heading {
                h1 { "Break shots" }
                p {
                    "Camera " (camera) ": " (words::count(shown.len(), "break shot", "break shots"))
                    ", " (made) " made. " a href="/progress" { "Progress" }
                }
            }
            @if shown.is_empty() {
                p { "None yet: a break shot is on record once a rack is closed and the next one opened." }
            } @else {
                (bed_once())
                @if let Some((one, others)) = near { (nearest_to(one, others)) }
                (all_on_one(shown))
                (latest(camera, shown))
            }
        }
    }
}

/// All of them on one table.
fn all_on_one(shown: &[Shown]) -> Markup {
    let made = shown.iter().filter(|one| one.shot.made).count();
    let told =
        format!("A table with {} closing layouts; {made} break shots were made.", shown.len());
    html! {
        section aria-labelledby="all-heading" {
            h2 #all-heading { "Where they lay" }
            figure {
                svg.table viewBox=(VIEW) role="img" aria-labelledby="all-told" {
                    title #all-told { (told) }
                    (bed())
                    @for one in shown { (marks(one)) }
                }
                figcaption {
                    "A disc is a break ball that was made, a crossed square one that was missed; the "
                    "ring is the cue ball of the same shot."
                }
            }
        }
    }
}

fn marks(one: &Shown) -> Markup {
    let (Some(cue), Some(ball)) = (one.position.cue, one.position.objects.first()) else {
        return html! {};
    };
    let ((cx, cy), (x, y)) = (place(cue), place(*ball));
    let way = if one.shot.made { "way" } else { "way missed" };
    html! {
        line class=(way) x1=(cx) y1=(cy) x2=(x) y2=(y) {}
        circle.cue cx=(cx) cy=(cy) r="8" {}
        @if one.shot.made {
            circle.object cx=(x) cy=(y) r="11" {}
        } @else {
            path.cross d={ "M" (x - 10.0) " " (y - 10.0) "h20v20h-20zl20 20m0-20l-20 20" } {}
        }
    }
}

fn outcome(shot: &BreakShot) -> String {
    if shot.made {
        format!("Made, rack of {}", words::count(shot.balls as usize, "ball", "balls"))
    } else {
        "Missed".into()
    }
}

/// One as a small table with what came of it, and what else is said of it.
fn small(one: &Shown, said: &Markup) -> Markup {
    html! {
        li {
            a href=(super::rest::address(one.rest.id)) {
                (sketch(&one.rest.layout))
                span.told { (outcome(&one.shot)) }
            }
            span.quiet { "Attempt " (one.shot.attempt) ", rack " (one.shot.rack) (said) }
        }
    }
}

fn latest(camera: &str, shown: &[Shown]) -> Markup {
    html! {
        section aria-labelledby="latest-heading" {
            h2 #latest-heading { "The latest" }
            ol.strip {
                @for one in shown.iter().rev().take(LISTED) {
                    @let near = format!("/breaks?camera={camera}&near={}", one.shot.rest);
                    (small(one, &html! { ". " a href=(near) { "Nearest to it" } }))
                }
            }
        }
    }
}

/// The nearest others to one, of the whole record, and how often they were made.
fn nearest_to(one: &Shown, others: &[Near]) -> Markup {
    html! {
        section aria-labelledby="near-heading" {
            h2 #near-heading { "The nearest to one" }
            p {
                "Attempt " (one.shot.attempt) ", rack " (one.shot.rack) ": " (outcome(&one.shot)) ". "
                (near::summary(others))
            }
            ol.strip {
                (small(one, &html! { ": this one" }))
                (near::items(others))
            }
        }
    }
}
