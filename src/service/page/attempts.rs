//! The list of a table's attempts, newest first.

use super::{
    messages::{say, weave},
    shell::{Place, Shell, not_there},
    words,
};
use crate::{
    score::{Attempt, Story},
    service::{App, CameraName, Problem},
};
use axum::{
    extract::{Query, State, rejection::QueryRejection},
    response::{IntoResponse, Response},
};
use maud::{Markup, html};
use serde::Deserialize;

/// Attempts on a page.
const ON_A_PAGE: usize = 50;

/// Which attempts.
#[derive(Debug, Deserialize)]
pub(super) struct Which {
    /// The camera over the table; the one that saw the latest rest where none is given.
    camera: Option<String>,
    /// Only attempts with a smaller id than this.
    before: Option<u32>,
}

/// Where a table's attempts are listed.
pub(super) fn address(camera: &str) -> String {
    format!("/attempts?camera={camera}")
}

/// Some of a table's attempts.
struct Part {
    /// Newest first.
    attempts: Vec<Attempt>,
    /// Attempts with an open question.
    asked: Vec<u32>,
    all: usize,
    high_run: u32,
    older: bool,
}

impl Part {
    fn of(story: &Story, before: Option<u32>) -> Self {
        let before = before.unwrap_or(u32::MAX);
        let mut older = story.attempts.iter().rev().skip_while(|attempt| attempt.id >= before);
        let attempts: Vec<Attempt> = older.by_ref().take(ON_A_PAGE).cloned().collect();
        Self {
            attempts,
            asked: story.questions.iter().filter_map(|question| question.attempt).collect(),
            all: story.attempts.len(),
            high_run: story.high_run().unwrap_or(0),
            older: older.next().is_some(),
        }
    }
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    which: Result<Query<Which>, QueryRejection>,
) -> Result<Response, Problem> {
    let Which { camera, before } = which?.0;
    let camera = camera.map(|name| name.parse::<CameraName>()).transpose()?;
    let newest = app.record.newest(camera.map(|name| name.to_string()), 1).await?.pop();
    let Some(newest) = newest else {
        let why = say!("attempts-none-why");
        return Ok(not_there(&say!("attempts-none"), &why, ("/", &say!("to-the-table"))));
    };
    let camera = newest.camera;
    let part = app.record.story(camera.clone(), move |story| Part::of(story, before)).await?;
    let tables: Vec<String> =
        app.cameras.board().all().into_iter().map(|status| status.name.to_string()).collect();
    let title = say!("attempts-of", camera = &camera);
    let shell = Shell {
        title: &title,
        place: Place::Attempts,
        sheet: Some("/review.css"),
        script: Some("/review.js"),
    };
    let hand_kept = app.record.hand_kept(camera.clone()).await?.len();
    Ok(shell.around(&list(&camera, &part, hand_kept, &tables)).into_response())
}

fn list(camera: &str, part: &Part, hand_kept: usize, tables: &[String]) -> Markup {
    html! {
        main #main.review {
            div.heading {
                h1 { (say!("attempts")) }
                p {
                    @let (all, high) = (part.all, part.high_run);
                    (say!("attempts-summary", camera = camera, attempts = all, run = high)) " "
                    a href="/contests" { (say!("contests")) }
                }
                @if tables.len() > 1 {
                    nav.tables aria-label=(say!("tables")) {
                        @for table in tables {
                            a href=(address(table)) aria-current=[(table == camera).then_some("page")] {
                                (table)
                            }
                        }
                    }
                }
            }
            @if part.attempts.is_empty() {
                p { (say!("no-attempt-yet")) }
            } @else {
                table.attempts {
                    thead {
                        tr {
                            th scope="col" { (say!("attempt")) }
                            th scope="col" { (say!("run")) }
                            th.bars { span.hidden { (say!("attempts-against-high-run")) } }
                            th scope="col" { (say!("attempts-racks")) }
                            th scope="col" { (say!("attempts-ended-by")) }
                            th scope="col" { (say!("attempts-begun")) }
                        }
                    }
                    tbody { @for attempt in &part.attempts { (row(camera, part, attempt)) } }
                }
            }
            @if hand_kept > 0 {
                @let progress = html! { a href={ "/progress?camera=" (camera) } {} };
                p.quiet {
                    (weave(&say!("attempts-hand-kept", attempts = hand_kept), &[("progress", progress)]))
                }
            }
            @if part.older {
                @let last = part.attempts.last().map_or(0, |attempt| attempt.id);
                p { a.button href={ (address(camera)) "&before=" (last) } { (say!("attempts-older")) } }
            }
        }
    }
}

fn row(camera: &str, part: &Part, attempt: &Attempt) -> Markup {
    let begun = words::moment(attempt.began_unix_ms);
    let length = 100.0 * f64::from(attempt.run) / f64::from(part.high_run.max(1));
    html! {
        tr {
            th scope="row" { a href=(super::attempt::address(camera, attempt.id)) { (attempt.id) } }
            td.run { (attempt.run) }
            td.bars {
                svg.bar viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true" {
                    rect width=(length) height="10" {}
                }
            }
            td { (attempt.racks.len()) }
            td.words {
                (words::ending(attempt))
                @if part.asked.contains(&attempt.id) { " " strong.asked { (say!("question-open")) } }
                @if !attempt.start_seen { " " span.quiet { (say!("attempts-start-not-seen")) } }
            }
            td.words { time.day datetime=(begun) { (words::day(begun)) } }
        }
    }
}
