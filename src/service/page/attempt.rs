//! One attempt: how it ended, its closing layouts side by side, each rack as a strip of its rests.

use super::{
    messages::{say, weave},
    note::note,
    shell::{Place, Shell, not_there},
    sketch::{bed_once, sketch},
    told::{self, Told},
    words,
};
use crate::{
    layout::diagram,
    record::{NoteAbout, Rest, RestQuery},
    score::{Attempt, Step, Story, potted},
    service::{App, CameraName, Problem, api::sheets},
};
use axum::{
    extract::{Path, State, rejection::PathRejection},
    response::{IntoResponse, Redirect, Response},
};
use maud::{Markup, html};
use std::collections::HashMap;

/// Rests on the page; the longest runs ever played have fewer.
const MOST_RESTS: u32 = 1000;

/// The kinds of an attempt's sheet, with the endings of their addresses.
const SHEETS: [(&str, &str); 3] = [("PDF", "pdf"), ("PNG", "png"), ("SVG", "svg")];

/// Where an attempt is shown.
pub(super) fn address(camera: &str, id: u32) -> String {
    format!("/attempts/{camera}/{id}")
}

/// An attempt with what is known of its rests.
struct Shown {
    camera: String,
    attempt: Attempt,
    /// Oldest first.
    rests: Vec<Rest>,
    /// Rests with an open question.
    asked: Vec<i64>,
    said: HashMap<i64, Step>,
    /// What the user noted on the attempt, and the rests that have a note.
    note: String,
    noted: Vec<i64>,
    high_run: u32,
    attempts: usize,
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    path: Result<Path<(String, u32)>, PathRejection>,
) -> Result<Response, Problem> {
    let Ok(Path((camera, id))) = path else { return Ok(no_such(&say!("attempt-whole-numbers"))) };
    let Ok(camera) = camera.parse::<CameraName>() else {
        return Ok(no_such(&say!("attempt-no-camera")));
    };
    let Some(shown) = look_up(&app, camera.to_string(), id).await? else {
        return Ok(no_such(&say!(
            "attempt-none-of-camera",
            camera = camera.to_string(),
            attempt = id
        )));
    };
    let title = say!("attempt-title", attempt = id, run = shown.attempt.run);
    let shell = Shell {
        title: &title,
        place: Place::Attempts,
        sheet: Some("/review.css"),
        script: Some("/review.js"),
    };
    Ok(shell.around(&body(&shown)).into_response())
}

/// Leads from a rest to its attempt.
pub(super) async fn of_rest(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Response, Problem> {
    let Path(id) = id?;
    let Some(rest) = app.record.by_id(id).await? else {
        return Ok(no_such(&say!("attempt-no-rest", rest = id)));
    };
    let camera = rest.camera;
    let look = move |story: &Story| told::attempt_of(story, id).map(|attempt| attempt.id);
    let to = match app.record.story(camera.clone(), look).await? {
        Some(attempt) => format!("{}#rest-{id}", address(&camera, attempt)),
        None => super::attempts::address(&camera),
    };
    Ok(Redirect::to(&to).into_response())
}

fn no_such(why: &str) -> Response {
    not_there(&say!("attempt-none"), why, ("/attempts", &say!("to-the-attempts")))
}

async fn look_up(app: &App, camera: String, id: u32) -> Result<Option<Shown>, Problem> {
    // A camera that is not known must not be followed: anyone can make names up.
    if app.record.newest(Some(camera.clone()), 1).await?.is_empty() {
        return Ok(None);
    }
    let look = move |story: &Story| {
        let attempt = story.attempt(id)?.clone();
        let asked = story.questions.iter().map(|question| question.rest).collect::<Vec<_>>();
        Some((attempt, asked, story.high_run().unwrap_or(0), story.attempts.len()))
    };
    let Some((attempt, asked, high_run, attempts)) = app.record.story(camera.clone(), look).await?
    else {
        return Ok(None);
    };
    let query = RestQuery {
        camera: Some(camera.clone()),
        after: attempt.began_rest - 1,
        limit: MOST_RESTS,
        ..RestQuery::default()
    };
    let mut rests = app.record.list(query).await?;
    rests.retain(|rest| is_in(&attempt, rest.id));
    let said = app.record.corrections(camera.clone()).await?;
    let mut notes = app.record.notes(camera.clone()).await?;
    notes.retain(|note| is_in(&attempt, note.rest));
    let of_attempt = notes.iter().rfind(|note| note.about == NoteAbout::Attempt);
    let note = of_attempt.map_or_else(String::new, |note| note.text.clone());
    let of_rests = notes.iter().filter(|note| note.about == NoteAbout::Rest);
    let noted = of_rests.map(|note| note.rest).collect();
    Ok(Some(Shown { camera, attempt, rests, asked, said, note, noted, high_run, attempts }))
}

fn is_in(attempt: &Attempt, rest: i64) -> bool {
    rest >= attempt.began_rest && attempt.over.is_none_or(|over| rest <= over.rest)
}

fn body(shown: &Shown) -> Markup {
    let attempt = &shown.attempt;
    html! {
        main #main.review {
            div.heading {
                p.run { span.label { (say!("run")) } " " span.figure { (attempt.run) } }
                h1 { (say!("attempt-heading", attempt = attempt.id, ending = words::ending(attempt))) }
                p {
                    (facts(shown))
                    @if !attempt.start_seen { " " (say!("start-not-seen")) }
                }
                nav.ways aria-label=(say!("attempt-others")) {
                    @if attempt.id > 1 {
                        a rel="prev" href=(address(&shown.camera, attempt.id - 1)) {
                            (say!("attempt-before"))
                        }
                    }
                    @if (attempt.id as usize) < shown.attempts {
                        a rel="next" href=(address(&shown.camera, attempt.id + 1)) {
                            (say!("attempt-after"))
                        }
                    }
                    a href=(super::attempts::address(&shown.camera)) { (say!("attempt-all")) }
                }
                p.quiet {
                    (say!("attempt-run-sheet")) " "
                    @for (at, (name, ending)) in SHEETS.into_iter().enumerate() {
                        @if at > 0 { ", " }
                        a href=(sheets::address(&shown.camera, attempt.id, ending)) { (name) }
                    }
                }
            }
            (ending(shown))
            (note(attempt.began_rest, NoteAbout::Attempt, &shown.note))
            (closings(shown))
            (bed_once())
            @for (rack, rests) in by_rack(attempt, &shown.rests) {
                (strip(shown, rack, &rests))
            }
            @if shown.rests.len() == MOST_RESTS as usize {
                p.quiet { (say!("attempt-first-only", rests = MOST_RESTS)) }
            }
        }
    }
}

/// When and where it was played, how long it is.
fn facts(shown: &Shown) -> Markup {
    let (attempt, camera) = (&shown.attempt, &shown.camera);
    let begun = words::moment(attempt.began_unix_ms);
    let day = words::day(begun);
    let racks = say!("count-racks", racks = attempt.racks.len());
    let shots = say!("count-shots", shots = attempt.shots.len());
    let told = if attempt.run == shown.high_run && attempt.run > 0 {
        say!("attempt-facts-high-run", day = day, camera = camera, racks = racks, shots = shots)
    } else {
        say!("attempt-facts", day = day, camera = camera, racks = racks, shots = shots)
    };
    weave(&told, &[("day", html! { time.day datetime=(begun) {} })])
}

/// What ended the run, with the layout before and the one after.
fn ending(shown: &Shown) -> Markup {
    let Some(over) = shown.attempt.over else { return html! {} };
    let Some(at) = shown.rests.iter().position(|rest| rest.id == over.rest) else {
        return html! {};
    };
    let before = at.checked_sub(1).and_then(|at| shown.rests.get(at));
    html! {
        section aria-labelledby="ended" {
            h2 #ended { (say!("attempt-ended", cause = words::cause(over.cause))) }
            div.side {
                @if let Some(rest) = before { (large(rest, &say!("attempt-before-last-shot"))) }
                @if let Some(rest) = shown.rests.get(at) { (large(rest, &say!("attempt-after-it"))) }
            }
        }
    }
}

/// The closing layouts, side by side.
fn closings(shown: &Shown) -> Markup {
    let racks = shown.attempt.racks.iter();
    let closings: Vec<(u32, &Rest)> = racks
        .filter_map(|rack| {
            let closing = rack.closing_rest?;
            Some((rack.number, shown.rests.iter().find(|rest| rest.id == closing)?))
        })
        .collect();
    html! {
        @if !closings.is_empty() {
            section aria-labelledby="closings" {
                h2 #closings { (say!("attempt-closing-layouts")) }
                div.side {
                    @for (rack, rest) in closings { (large(rest, &say!("rack-number", rack = rack))) }
                }
            }
        }
    }
}

fn large(rest: &Rest, caption: &str) -> Markup {
    let [width, height] = diagram::size(&rest.layout.table, 0);
    html! {
        figure {
            a href=(super::rest::address(rest.id)) {
                img src=(super::rest::drawing(rest.id)) alt=(words::in_words(&rest.layout))
                    width=(width) height=(height) loading="lazy";
            }
            figcaption { (caption) }
        }
    }
}

/// The rests of each rack. A rack whose racking was not seen begins at its first shot.
fn by_rack<'a>(attempt: &Attempt, rests: &'a [Rest]) -> Vec<(u32, Vec<&'a Rest>)> {
    let begins = |rack: &crate::score::RackPlayed| {
        let first_shot = attempt.shots.iter().find(|shot| shot.rack == rack.number);
        rack.racked_rest.or(first_shot.map(|shot| shot.rest))
    };
    let mut racks: Vec<(u32, i64, Vec<&Rest>)> = attempt
        .racks
        .iter()
        .filter_map(|rack| Some((rack.number, begins(rack)?, Vec::new())))
        .collect();
    if racks.is_empty() {
        racks.push((1, attempt.began_rest, Vec::new()));
    }
    for rest in rests {
        let at = racks.iter().rposition(|(_, begins, _)| *begins <= rest.id).unwrap_or(0);
        racks[at].2.push(rest);
    }
    racks.into_iter().map(|(number, _, rests)| (number, rests)).collect()
}

fn strip(shown: &Shown, rack: u32, rests: &[&Rest]) -> Markup {
    let potted = potted(shown.attempt.shots.iter().filter(|shot| shot.rack == rack));
    html! {
        section aria-label=(say!("rack-number", rack = rack)) {
            h2 {
                (say!("rack-number", rack = rack))
                small { " " (say!("count-balls", balls = potted)) }
            }
            ol.strip {
                @for rest in rests {
                    @let told = Told::of(&shown.attempt, rest.id);
                    li id={ "rest-" (rest.id) } data-counts=(told.counts()) {
                        a href=(super::rest::address(rest.id)) {
                            (sketch(&rest.layout))
                            span.told { (told.short()) }
                            @if let Some(run) = told.run { span.then { (run) } }
                            @if shown.asked.contains(&rest.id) {
                                strong.asked { (say!("question-open")) }
                            } @else if shown.said.contains_key(&rest.id) {
                                span.quiet { (say!("attempt-corrected")) }
                            }
                            @if shown.noted.contains(&rest.id) { span.quiet { (say!("attempt-note")) } }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::{RackPlayed, ShotTaken};

    fn rest(id: i64) -> Rest {
        let layout = r#"{"table":{"length_mm":2540.0,"width_mm":1270.0,"ball_diameter_mm":57.15},
            "foot":"given","obstructed":false,"balls":[]}"#;
        Rest {
            id,
            at: words::moment(id),
            unseen_ms: 0,
            camera: "table".into(),
            layout: serde_json::from_str(layout).unwrap(),
            picture_sha256: String::new(),
            format: crate::camera::picture::PictureFormat::Jpeg,
        }
    }

    #[test]
    fn rests_stand_in_the_rack_that_they_were_played_in() {
        let shot = |rest, rack| ShotTaken { rest, rack, potted: 1, shots: 1 };
        let rack = |number, racked_rest| RackPlayed { number, racked_rest, closing_rest: None };
        let attempt = Attempt {
            id: 1,
            began_rest: 3,
            began_unix_ms: 0,
            start_seen: true,
            run: 4,
            shots: vec![shot(4, 1), shot(7, 2), shot(9, 3)],
            racks: vec![rack(1, Some(3)), rack(2, Some(6)), rack(3, None)],
            over: None,
            sure: true,
        };
        let rests: Vec<Rest> = (3..=10).map(rest).collect();
        let ids: Vec<(u32, Vec<i64>)> = by_rack(&attempt, &rests)
            .into_iter()
            .map(|(rack, rests)| (rack, rests.iter().map(|rest| rest.id).collect()))
            .collect();
        assert_eq!(ids, [(1, vec![3, 4, 5]), (2, vec![6, 7, 8]), (3, vec![9, 10])]);
    }
}
