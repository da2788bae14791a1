//! The pages' HTML. What stands in it is complete without the script; the script keeps it fresh.

use crate::{
    layout::{Ball, BallKind, Layout},
    record::Rest,
    service::{App, CameraState, CameraStatus, Problem, api::layouts::find},
};
use axum::{
    extract::{Path, State, rejection::PathRejection},
    http::StatusCode,
    response::{Html, IntoResponse, Response},
};
use jiff::Timestamp;
use maud::{DOCTYPE, Markup, html};

/// Rests shown below the latest one.
const RECENT: u32 = 12;

/// The latest layout, live.
pub(super) async fn live(State(app): State<App>) -> Result<Response, Problem> {
    // Looked up first: a rest that comes meanwhile is told twice rather than not at all.
    let last = *app.record.announcements().borrow();
    let recent = app.record.newest(None, RECENT + 1).await?;
    let cameras = app.cameras.board().all();
    let body = match recent.first() {
        Some(latest) => live_body(latest, last, &recent, &cameras),
        None => empty_body(last, &cameras),
    };
    Ok(page("Stillcloth", true, &body).into_response())
}

/// One rest: the drawing beside the frame.
pub(super) async fn one(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Response, Problem> {
    let found = match id {
        Ok(Path(id)) => find(&app, id).await,
        Err(rejection) => Err(rejection.into()),
    };
    let rest = match found {
        Ok(rest) => rest,
        Err(problem) if problem.status == StatusCode::NOT_FOUND => {
            let body = html! {
                main #main.single {
                    h1 { "No such rest" }
                    p { (problem.detail) }
                    p { a href="/" { "To the latest rest" } }
                }
            };
            let page = page("No such rest · Stillcloth", false, &body);
            return Ok((StatusCode::NOT_FOUND, page).into_response());
        }
        Err(problem) => return Err(problem),
    };
    let newest = app.record.newest(None, 1).await?.first().map_or(rest.id, |newest| newest.id);
    let title = format!("Rest {} · Stillcloth", rest.id);
    Ok(page(&title, false, &one_body(&rest, newest)).into_response())
}

fn page(title: &str, live: bool, body: &Markup) -> Html<String> {
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                link rel="icon" type="image/svg+xml" href="/mark.svg";
                link rel="stylesheet" href="/stillcloth.css";
                script type="module" src="/live.js" {}
            }
            body {
                a.skip href="#main" { "To the content" }
                header {
                    a.name href="/" {
                        img src="/mark.svg" alt="" width="36" height="36";
                        "Stillcloth"
                    }
                    @if live { p #link role="status" { "Reload for newer rests" } }
                }
                (body)
            }
        }
    };
    Html(whole.into_string())
}

/// What is shown before the first rest.
fn empty_body(last: i64, cameras: &[CameraStatus]) -> Markup {
    html! {
        main #main.single data-last=(last) {
            h1 { "No rest yet" }
            p {
                "As soon as a frame with a table in it has been read, its layout appears here. "
                "Send one to " code { "/api/frames" } ", or start with a camera."
            }
            (camera_list(cameras))
        }
    }
}

fn live_body(latest: &Rest, last: i64, recent: &[Rest], cameras: &[CameraStatus]) -> Markup {
    let now = Timestamp::now();
    let camera = cameras.iter().find(|status| status.name.as_str() == latest.camera);
    let stale_after_s = camera.map_or(300, |status| status.stale_after_s);
    let age_s = now.as_second().saturating_sub(latest.at.as_second()).max(0).unsigned_abs();
    let stale = age_s > stale_after_s;
    html! {
        main #main.live data-last=(last) data-rest=(latest.id) data-stale-after=(stale_after_s) data-stale=(stale) {
            p #stale role="status" hidden[!stale] {
                strong { "Stale." }
                " The last rest is older than the " (duration(stale_after_s))
                " within which one was expected."
            }
            figure.table {
                a #drawing-link href=(address(latest.id)) {
                    img #drawing src=(drawing(latest.id)) alt=(in_words(&latest.layout))
                        width="1200" height="700";
                }
            }
            section.facts aria-label="The latest rest" {
                h1 { "Latest rest, camera " span #camera { (latest.camera) } }
                p.count role="status" {
                    span #count { (latest.layout.balls.len()) }
                    " on the table: "
                    span #what { (in_words(&latest.layout)) }
                }
                dl {
                    dt { "Taken" }
                    dd {
                        time.age #age datetime=(latest.at) { (age(age_s)) }
                        time.clock #clock datetime=(latest.at) { (clock(latest.at)) }
                    }
                }
                (camera_list(cameras))
            }
            section.recent aria-labelledby="recent-title" {
                h2 #recent-title { "Before that" }
                ol #recent {
                    @for rest in recent.iter().skip(1) { (recent_item(rest)) }
                }
            }
            template #recent-item { (blank_item()) }
        }
    }
}

/// Every camera with its state; a shape and a word tell the state, and colour only adds to them.
fn camera_list(cameras: &[CameraStatus]) -> Markup {
    html! {
        ul #cameras.cameras aria-label="Cameras" {
            @if cameras.is_empty() {
                li data-camera="" data-state="waiting" {
                    "No camera has sent a frame since the program was started."
                }
            }
            @for camera in cameras {
                li data-camera=(camera.name) data-state=(state_name(camera.state)) {
                    strong { (camera.name) } " " span { (camera.words) }
                }
            }
        }
    }
}

const fn state_name(state: CameraState) -> &'static str {
    match state {
        CameraState::Waiting => "waiting",
        CameraState::Reading => "reading",
        CameraState::Obstructed => "obstructed",
        CameraState::Unreadable => "unreadable",
        CameraState::Ended => "ended",
        CameraState::Failed => "failed",
    }
}

fn recent_item(rest: &Rest) -> Markup {
    html! {
        li {
            a href=(address(rest.id)) {
                img src=(drawing(rest.id)) alt="" loading="lazy" width="1200" height="700";
                time datetime=(rest.at) { (clock(rest.at)) }
                span { (ball_count(rest.layout.balls.len())) }
            }
        }
    }
}

/// What the script fills in for a rest that has moved down from the top.
fn blank_item() -> Markup {
    html! {
        li {
            a {
                img alt="" width="1200" height="700";
                time {}
                span {}
            }
        }
    }
}

fn one_body(rest: &Rest, newest: i64) -> Markup {
    let mut balls: Vec<&Ball> = rest.layout.balls.iter().collect();
    balls.sort_by_key(|ball| (ball.kind != BallKind::Cue, ball.number.unwrap_or(u8::MAX)));
    html! {
        main #main.one {
            div.heading {
                h1 { "Rest " (rest.id) }
                p {
                    time datetime=(rest.at) data-full="" { (rest.at.strftime("%F %T UTC")) }
                    ", camera " (rest.camera) ": " (in_words(&rest.layout)) "."
                    @if rest.layout.obstructed { " Part of the cloth is hidden." }
                }
                nav aria-label="Other rests" {
                    @if rest.id > 1 { a rel="prev" href=(address(rest.id - 1)) { "Rest before" } }
                    @if rest.id < newest {
                        a rel="next" href=(address(rest.id + 1)) { "Rest after" }
                    }
                    a href="/" { "Latest rest" }
                }
            }
            div.beside {
                figure {
                    img src=(drawing(rest.id)) alt=(in_words(&rest.layout))
                        width="1200" height="700";
                    figcaption {
                        "Drawing, seen from above: "
                        a href=(drawing(rest.id)) { "SVG" } ", "
                        a href={ "/api/layouts/" (rest.id) "/diagram.png" } { "PNG" } ", "
                        a href={ "/api/layouts/" (rest.id) } { "JSON" }
                    }
                }
                figure {
                    img src={ "/api/layouts/" (rest.id) "/frame" } alt="The frame it was read from";
                    figcaption {
                        a href={ "/api/layouts/" (rest.id) "/frame" } { "Frame" } " as it came"
                    }
                }
            }
            (ball_table(&balls))
        }
    }
}

fn ball_table(balls: &[&Ball]) -> Markup {
    html! {
        table {
            caption {
                "Places in diamonds, along the table from 0 to 8 and across from 0 to 4; "
                "how far off they may be; how sure the ball and its number are."
            }
            thead {
                tr {
                    th scope="col" { "Ball" }
                    th scope="col" { "Along" }
                    th scope="col" { "Across" }
                    th scope="col" { "± mm" }
                    th scope="col" { "Ball" }
                    th scope="col" { "No." }
                }
            }
            tbody {
                @for ball in balls {
                    tr {
                        th scope="row" { (ball_name(ball)) }
                        td { (format!("{:.2}", ball.x)) }
                        td { (format!("{:.2}", ball.y)) }
                        td { (format!("{:.1}", ball.sigma_mm)) }
                        td { (percent(ball.confidence)) }
                        td { (percent(ball.number_confidence)) }
                    }
                }
            }
        }
    }
}

fn ball_name(ball: &Ball) -> String {
    match (ball.kind, ball.number) {
        (BallKind::Cue, _) => "Cue ball".into(),
        (BallKind::Object, Some(number)) => number.to_string(),
        (BallKind::Object, None) => "Not read".into(),
    }
}

fn percent(part: f64) -> String {
    format!("{:.0} %", 100.0 * part)
}

fn address(id: i64) -> String {
    format!("/layouts/{id}")
}

fn drawing(id: i64) -> String {
    format!("/api/layouts/{id}/diagram.svg")
}

fn ball_count(balls: usize) -> String {
    if balls == 1 { "1 ball".into() } else { format!("{balls} balls") }
}

/// The balls in words; the script says the same of a new layout.
fn in_words(layout: &Layout) -> String {
    let objects = layout.object_balls().count();
    let plural = if objects == 1 { "" } else { "s" };
    if layout.cue_ball().is_some() {
        format!("cue ball and {objects} object ball{plural}")
    } else {
        format!("{objects} object ball{plural}, no cue ball")
    }
}

fn clock(at: Timestamp) -> String {
    at.strftime("%H:%M:%S UTC").to_string()
}

/// An age as the script writes it too.
fn age(age_s: u64) -> String {
    format!("{} ago", duration(age_s))
}

fn duration(seconds: u64) -> String {
    match seconds {
        0..120 => format!("{seconds} s"),
        120..7200 => format!("{} min", seconds / 60),
        7200..172_800 => format!("{} h", seconds / 3600),
        _ => format!("{} days", seconds / 86_400),
    }
}
