//! One rest: the drawing beside the frame, what it counted as, and the user's word about it.

use super::{
    advice::{self, Chosen, Known},
    messages::{say, weave},
    near::{self, Near},
    note::note,
    shell::{Place, Shell, not_there},
    sketch::bed_once,
    told::{self, Told},
    words,
};
use crate::{
    layout::{Ball, BallKind, diagram},
    record::{NoteAbout, Picture, Rest, RestQuery},
    score::{Cause, Question, Step, Story},
    service::{
        App, Problem,
        access::{May, Visitor},
        api::layouts::find,
    },
};
use axum::{
    extract::{
        Path, Query, State,
        rejection::{PathRejection, QueryRejection},
    },
    http::StatusCode,
    response::{IntoResponse, Response},
};
use maud::{Markup, html};

/// Rests that are looked at for the one before of the same camera.
const LOOK_BACK: u32 = 200;
/// Positions like this one that are shown.
const NEAREST: usize = 6;

/// Where a rest is shown.
pub(super) fn address(id: i64) -> String {
    format!("/layouts/{id}")
}

/// A rest's drawing.
pub(super) fn drawing(id: i64) -> String {
    format!("/api/layouts/{id}/diagram.svg")
}

/// A rest with what is known of it.
struct Shown {
    rest: Rest,
    picture: Picture,
    before: Option<i64>,
    after: Option<i64>,
    /// The attempt's id, and what the rest came to in it.
    attempt: Option<(u32, Told)>,
    question: Option<Question>,
    said: Option<Step>,
    /// Whether whoever looks may see the room, and not only the table.
    sees_room: bool,
    /// What the user noted on it.
    note: String,
    advice: Known,
    /// Positions like this one, where few balls lie.
    near: Vec<Near>,
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    visitor: Visitor,
    id: Result<Path<i64>, PathRejection>,
    chosen: Result<Query<Chosen>, QueryRejection>,
) -> Result<Response, Problem> {
    let found = match id {
        Ok(Path(id)) => find(&app, id).await,
        Err(rejection) => Err(rejection.into()),
    };
    let rest = match found {
        Ok(rest) => rest,
        Err(problem) if problem.status == StatusCode::NOT_FOUND => {
            return Ok(not_there(
                &say!("rest-none"),
                &problem.detail,
                ("/", &say!("to-the-table")),
            ));
        }
        Err(problem) => return Err(problem),
    };
    let title = say!("rest-number", rest = rest.id);
    let sees_room = visitor.may == May::All;
    let shown = Shown { sees_room, ..look_up(&app, rest, &chosen?.0).await? };
    let shell = Shell {
        title: &title,
        place: Place::Elsewhere,
        sheet: Some("/review.css"),
        script: Some("/review.js"),
    };
    Ok(shell.around(&body(&shown)).into_response())
}

async fn look_up(app: &App, rest: Rest, chosen: &Chosen) -> Result<Shown, Problem> {
    let (id, camera) = (rest.id, rest.camera.clone());
    let around = |after: i64, limit: u32| RestQuery {
        camera: Some(camera.clone()),
        after,
        limit,
        ..RestQuery::default()
    };
    let after = app.record.list(around(id, 1)).await?.first().map(|rest| rest.id);
    let before = app.record.list(around(id - 1 - i64::from(LOOK_BACK), LOOK_BACK)).await?;
    let before = before.iter().rev().map(|rest| rest.id).find(|before| *before < id);
    let look = move |story: &Story| {
        let attempt = told::attempt_of(story, id);
        let told = attempt.map(|attempt| (attempt.id, Told::of(attempt, id)));
        (told, story.questions.iter().find(|question| question.rest == id).cloned())
    };
    let (attempt, question) = app.record.story(camera.clone(), look).await?;
    let said = app.record.corrections(camera.clone()).await?.remove(&id);
    let notes = app.record.notes(camera).await?;
    let note = notes.into_iter().find(|note| (note.rest, note.about) == (id, NoteAbout::Rest));
    let note = note.map_or_else(String::new, |note| note.text);
    let picture = app.record.picture(rest.clone()).await?;
    let advice = advice::look_up(app, &rest, chosen).await;
    let near = near::look_up(app, &rest, NEAREST).await?;
    let sees_room = false;
    let shown = Shown {
        rest,
        picture,
        before,
        after,
        attempt,
        question,
        said,
        sees_room,
        note,
        advice,
        near,
    };
    Ok(shown)
}

fn body(shown: &Shown) -> Markup {
    let rest = &shown.rest;
    let [width, height] = diagram::size(&rest.layout.table, 0);
    html! {
        main #main.review.one data-said=(serde_json::to_string(&shown.said).unwrap_or_default()) {
            div.heading {
                h1 { (say!("rest-number", rest = rest.id)) }
                p {
                    (facts(rest))
                    @if rest.layout.obstructed { " " (say!("rest-hidden")) }
                }
                nav.ways aria-label=(say!("rest-others")) {
                    @if let Some(id) = shown.before {
                        a rel="prev" href=(address(id)) { (say!("rest-before")) }
                    }
                    @if let Some(id) = shown.after {
                        a rel="next" href=(address(id)) { (say!("rest-after")) }
                    }
                    @if let Some((attempt, _)) = &shown.attempt {
                        a href={ (address(rest.id)) "/attempt" } {
                            (say!("rest-its-attempt", attempt = *attempt))
                        }
                    }
                    a href={ "/draw?rest=" (rest.id) } { (say!("rest-draw-from-it")) }
                    a href={ "/try?rest=" (rest.id) } { (say!("try-a-shot")) }
                    a href=(super::again::address(rest.id)) { (say!("set-it-up-again")) }
                }
            }
            (word(shown))
            div.side {
                figure {
                    img src=(drawing(rest.id)) alt=(words::in_words(&rest.layout))
                        width=(width) height=(height);
                    figcaption {
                        (say!("rest-drawing")) " "
                        a href=(drawing(rest.id)) { "SVG" } ", "
                        a href={ "/api/layouts/" (rest.id) "/diagram.png" } { "PNG" } ", "
                        a href={ "/api/layouts/" (rest.id) } { "JSON" }
                    }
                }
                (frame(shown))
            }
            (choose(shown))
            (advice::section(rest.id, &shown.advice))
            (like_this(&shown.near))
            (note(rest.id, NoteAbout::Rest, &shown.note))
            (ball_table(rest))
        }
    }
}

/// When and where it was seen, and what lay there.
fn facts(rest: &Rest) -> Markup {
    let layout = words::in_words(&rest.layout);
    let day = words::day(rest.at);
    let told = say!("rest-facts", day = day, camera = &rest.camera, layout = layout);
    weave(&told, &[("day", html! { time.day datetime=(rest.at) {} })])
}

fn frame(shown: &Shown) -> Markup {
    let address = format!("/api/layouts/{}/frame", shown.rest.id);
    html! {
        @match shown.picture {
            Picture::Kept(_) if !shown.sees_room => p.quiet.no-frame {
                (weave(&say!("rest-frame-unseen"), &[("pair", html! { a href="/pair" {} })]))
            },
            Picture::Kept(_) => figure {
                // Most frames have this shape, and then nothing moves when it comes.
                img src=(address) alt=(say!("rest-frame-alt")) loading="lazy"
                    width="1280" height="720";
                figcaption {
                    (weave(&say!("rest-frame"), &[("frame", html! { a href=(address) {} })]))
                }
            },
            Picture::LetGo => p.quiet.no-frame { (say!("rest-frame-deleted")) },
            Picture::NeverKept => p.quiet.no-frame { (say!("rest-frame-not-kept")) },
        }
    }
}

/// Positions of the record like this one, and what came of them.
fn like_this(near: &[Near]) -> Markup {
    html! {
        @if !near.is_empty() {
            section aria-labelledby="near" {
                h2 #near { (say!("rest-near")) }
                p { (near::summary(near)) }
                (bed_once())
                ol.strip { (near::items(near)) }
            }
        }
    }
}

/// What the rest counted as, what the user said of it, and what is asked.
fn word(shown: &Shown) -> Markup {
    let rest = shown.rest.id;
    html! {
        section.word aria-labelledby="counted" {
            h2 #counted {
                @match &shown.attempt {
                    Some((_, told)) => (told.long()),
                    None => (say!("rest-no-attempt")),
                }
            }
            p #said tabindex="-1" role="status" {
                @if let Some(step) = &shown.said {
                    (say!("rest-you-said", said = words::said(step))) " "
                    button type="button" data-rest=(rest) data-step="null" { (say!("undo")) }
                    @if *step == Step::Practice {
                        " "
                        button type="button" data-counts-after=(rest - 1)
                            data-camera=(shown.rest.camera) { (say!("rest-no-practice")) }
                    }
                }
            }
            @if let Some(question) = &shown.question {
                h3 { (question.text) }
                div.answers {
                    @for answer in &question.answers { (choice(rest, &answer.step, &answer.text)) }
                }
            }
        }
    }
}

/// All that a user can say of a rest, folded away where something is said or asked already.
fn choose(shown: &Shown) -> Markup {
    let rest = shown.rest.id;
    html! {
        details.choose open[shown.question.is_none() && shown.said.is_none()] {
            summary { (say!("rest-say")) }
            div.groups {
                @for (heading, choices) in choices() {
                    div {
                        h3 { (heading) }
                        div.answers {
                            @for (step, words) in &choices { (choice(rest, step, words)) }
                        }
                    }
                }
            }
        }
    }
}

fn choice(rest: i64, step: &Step, words: &str) -> Markup {
    let json = serde_json::to_string(step).unwrap_or_default();
    html! { button type="button" data-rest=(rest) data-step=(json) { (words) } }
}

/// What a user can say of any rest.
fn choices() -> [(String, Vec<(Step, String)>); 4] {
    let shot = |potted| (Step::Shot { potted }, say!("rest-pocketed", balls = potted));
    [
        (say!("rest-goes-on"), [1, 2, 3].map(shot).into()),
        (
            say!("rest-ended"),
            vec![
                (Step::Miss, words::cause(Cause::Miss)),
                (Step::Scratch, words::cause(Cause::Scratch)),
                (Step::BallOffTable, words::cause(Cause::Foul)),
                (Step::Stopped, say!("rest-i-stopped")),
            ],
        ),
        (
            say!("rest-racked"),
            vec![
                (Step::ReRack, say!("rest-racked-again")),
                (Step::OpeningRack, say!("rest-new-attempt")),
            ],
        ),
        (
            say!("rest-nothing-counts"),
            vec![
                (Step::ByHand, say!("rest-by-hand")),
                (Step::SettingUp, say!("rest-setting-up")),
                (Step::Practice, say!("rest-practice")),
                (Step::NoRest, say!("rest-not-at-rest")),
            ],
        ),
    ]
}

fn ball_table(rest: &Rest) -> Markup {
    let mut balls: Vec<&Ball> = rest.layout.balls.iter().collect();
    balls.sort_by_key(|ball| (ball.kind != BallKind::Cue, ball.number.unwrap_or(u8::MAX)));
    html! {
        details.balls {
            summary { (say!("rest-where")) }
            table {
                caption { (say!("rest-where-caption")) }
                thead {
                    tr {
                        th scope="col" { (say!("rest-ball")) }
                        th scope="col" { (say!("rest-along")) }
                        th scope="col" { (say!("rest-across")) }
                        th scope="col" { "± mm" }
                        th scope="col" { (say!("rest-ball")) }
                        th scope="col" { (say!("rest-number-short")) }
                    }
                }
                tbody {
                    @for ball in balls {
                        tr {
                            th scope="row" { (words::ball_name(ball)) }
                            td { (format!("{:.2}", ball.x)) }
                            td { (format!("{:.2}", ball.y)) }
                            td { (format!("{:.1}", ball.sigma_mm)) }
                            td { (words::percent(ball.confidence)) }
                            td { (words::percent(ball.number_confidence)) }
                        }
                    }
                }
            }
        }
    }
}
