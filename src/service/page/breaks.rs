//! Break shots: every closing layout and what came of it on one table, and the nearest earlier ones to
//! one of them.
//!
//! Shape tells before shade does: a break ball that was pocketed is a disc, one that was missed a
//! square with a cross; the cue ball is a ring, the way between them whole or dashed.

use super::{
    messages::{say, weave},
    near::{self, Near},
    shell::{Place, Shell, not_there},
    sketch::{VIEW, bed, bed_once, place, sketch},
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
        let why = say!("breaks-none-why");
        return Ok(not_there(&say!("breaks-none"), &why, ("/", &say!("to-the-table"))));
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
        title: &say!("break-shots"),
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
                h1 { (say!("break-shots")) }
                p {
                    (say!("breaks-summary", camera = camera, shots = shown.len(), made = made)) " "
                    a href="/progress" { (say!("progress")) }
                }
            }
            @if shown.is_empty() {
                p { (say!("breaks-none-yet")) }
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
    let told = say!("breaks-told", layouts = shown.len(), made = made);
    html! {
        section aria-labelledby="all-heading" {
            h2 #all-heading { (say!("breaks-where")) }
            figure {
                svg.table viewBox=(VIEW) role="img" aria-labelledby="all-told" {
                    title #all-told { (told) }
                    (bed())
                    @for one in shown { (marks(one)) }
                }
                figcaption { (say!("breaks-marks")) }
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
    if shot.made { say!("breaks-made", balls = shot.balls) } else { say!("breaks-missed") }
}

/// One as a small table with what came of it, and what is said of it.
fn small(one: &Shown, said: &Markup) -> Markup {
    html! {
        li {
            a href=(super::rest::address(one.rest.id)) {
                (sketch(&one.rest.layout))
                span.told { (outcome(&one.shot)) }
            }
            span.quiet { (said) }
        }
    }
}

fn latest(camera: &str, shown: &[Shown]) -> Markup {
    html! {
        section aria-labelledby="latest-heading" {
            h2 #latest-heading { (say!("breaks-latest")) }
            ol.strip {
                @for one in shown.iter().rev().take(LISTED) {
                    @let near = format!("/breaks?camera={camera}&near={}", one.shot.rest);
                    @let BreakShot { attempt, rack, .. } = one.shot;
                    @let said = say!("breaks-one", attempt = attempt, rack = rack);
                    (small(one, &weave(&said, &[("near", html! { a href=(near) {} })])))
                }
            }
        }
    }
}

/// The nearest others to one, of the whole record, and how often they were made.
fn nearest_to(one: &Shown, others: &[Near]) -> Markup {
    let BreakShot { attempt, rack, .. } = one.shot;
    let outcome = outcome(&one.shot);
    html! {
        section aria-labelledby="near-heading" {
            h2 #near-heading { (say!("breaks-nearest")) }
            p {
                (say!("breaks-nearest-to", attempt = attempt, rack = rack, outcome = outcome)) " "
                (near::summary(others))
            }
            ol.strip {
                (small(one, &html! { (say!("breaks-this-one", attempt = attempt, rack = rack)) }))
                (near::items(others))
            }
        }
    }
}
