//! The pages that people look at, drawn by the server and kept fresh by small scripts.
//!
//! Each page is a file; what it needs beside its HTML (a sheet, scripts) lies here too and is built
//! into the program. What they say stands in `i18n/` and is asked for by `messages.rs`; what several
//! of them tell in the same way is put into words by `words.rs`. Nothing is fetched from elsewhere,
//! and no script or style stands in the HTML.

mod advice;
mod again;
mod attempt;
mod attempts;
mod board;
mod breaks;
mod cautions;
mod chart;
mod contest;
mod contests;
mod count;
mod draw;
mod messages;
mod misses;
mod near;
mod note;
mod pair;
mod phone;
mod plan;
mod progress;
mod progress_charts;
mod rest;
mod setup;
mod shell;
mod sketch;
mod skills;
mod told;
mod try_hit;
mod watch;
mod words;

pub(super) use contest::standalone_standings;
pub(super) use shell::for_people;

use super::App;
use axum::{
    Router,
    http::{HeaderValue, header},
    response::IntoResponse,
    routing::{get, post},
};

/// Files inside the program change with the program alone.
const CACHE: HeaderValue = HeaderValue::from_static("private, max-age=300");

const CSS: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const SVG: &str = "image/svg+xml";

/// What pages are made of beside their HTML: address, media type, content.
const FILES: &[(&str, &str, &str)] = &[
    ("/page.css", CSS, include_str!("page.css")),
    ("/watch.css", CSS, include_str!("watch.css")),
    ("/review.css", CSS, include_str!("review.css")),
    ("/draw.css", CSS, include_str!("draw.css")),
    ("/setup.css", CSS, include_str!("setup.css")),
    ("/phone.css", CSS, include_str!("phone.css")),
    ("/again.css", CSS, include_str!("again.css")),
    ("/again.js", SCRIPT, include_str!("again.js")),
    ("/follow.js", SCRIPT, include_str!("follow.js")),
    ("/parts.js", SCRIPT, include_str!("parts.js")),
    ("/study.css", CSS, include_str!("study.css")),
    ("/contests.css", CSS, include_str!("contests.css")),
    ("/contests.js", SCRIPT, include_str!("contests.js")),
    ("/watch.js", SCRIPT, include_str!("watch.js")),
    ("/own.js", SCRIPT, include_str!("own.js")),
    ("/review.js", SCRIPT, include_str!("review.js")),
    ("/draw.js", SCRIPT, include_str!("draw.js")),
    ("/stage.js", SCRIPT, include_str!("stage.js")),
    ("/try.js", SCRIPT, include_str!("try.js")),
    ("/progress.js", SCRIPT, include_str!("progress.js")),
    ("/layout.js", SCRIPT, include_str!("layout.js")),
    ("/balls.js", SCRIPT, include_str!("balls.js")),
    ("/pair.js", SCRIPT, include_str!("pair.js")),
    ("/setup.js", SCRIPT, include_str!("setup.js")),
    ("/phone.js", SCRIPT, include_str!("phone.js")),
    ("/save.js", SCRIPT, include_str!("save.js")),
    ("/correct.js", SCRIPT, include_str!("correct.js")),
    ("/note.js", SCRIPT, include_str!("note.js")),
    ("/times.js", SCRIPT, include_str!("times.js")),
    ("/words.js", SCRIPT, messages::SPOKEN.scripts),
    ("/mark.svg", SVG, include_str!("mark.svg")),
    ("/mark-wide.svg", SVG, include_str!("mark-wide.svg")),
    ("/app.webmanifest", "application/manifest+json", include_str!("app.webmanifest")),
];

pub(super) fn routes() -> Router<App> {
    let pages = Router::new()
        .route("/", get(watch::page))
        .route("/parts", get(watch::parts))
        .route("/attempts", get(attempts::page))
        .route("/attempts/{camera}/{id}", get(attempt::page))
        .route("/again", get(again::page))
        .route("/again/parts", post(again::parts))
        .route("/progress", get(progress::page))
        .route("/breaks", get(breaks::page))
        .route("/contests", get(contests::page))
        .route("/contests/{id}", get(contest::page))
        .route("/draw", get(draw::page))
        .route("/try", get(try_hit::page))
        .route("/setup", get(setup::page))
        .route("/phone", get(phone::page))
        .route("/pair", get(pair::page))
        .route("/certificate", get(pair::certificate))
        .route(pair::AUTHORITY, get(pair::authority))
        .route("/layouts/{id}", get(rest::page))
        .route("/layouts/{id}/attempt", get(attempt::of_rest));
    FILES.iter().fold(pages, |router, &(address, media_type, text)| {
        router.route(address, get(move || file(media_type, text)))
    })
}

async fn file(media_type: &'static str, text: &'static str) -> impl IntoResponse {
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static(media_type)),
        (header::CACHE_CONTROL, CACHE),
    ];
    (headers, text)
}
