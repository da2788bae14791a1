//! Watching: the run across the room, the table as it lies, what is asked of the player.
//!
//! Complete without its script, which keeps it fresh, speaks and beeps where the user wants it to.

use super::{
    board::Board,
    messages::{say, weave},
    shell::{Place, Shell},
};
use crate::service::{App, CameraName, CameraStatus, Problem};
use axum::{
    body::Bytes,
    extract::{Query, State, rejection::QueryRejection},
    response::{Html, IntoResponse, Response},
};
use jiff::Timestamp;
use maud::{Markup, html};
use serde::Deserialize;

/// Which table.
#[derive(Debug, Deserialize)]
pub(super) struct Which {
    /// The camera over it; the one that saw the latest rest where none is given.
    camera: Option<String>,
}

impl Which {
    /// The camera's name, if one was given that can be one.
    pub(super) fn camera(self) -> Result<Option<String>, Problem> {
        Ok(self
            .camera
            .map(|name| name.parse::<CameraName>())
            .transpose()?
            .map(|name| name.to_string()))
    }
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    which: Result<Query<Which>, QueryRejection>,
) -> Result<Response, Problem> {
    // Looked up first: a rest that comes meanwhile is told twice rather than not at all.
    let last = *app.record.announcements().borrow();
    let board = Board::of(&app, which?.0.camera()?).await?;
    let cameras = app.cameras.board().all();
    let main = match board {
        Some(board) => watching(&board, last, &cameras),
        None => nothing_yet(last, &cameras),
    };
    let shell = Shell {
        title: &say!("shell-table"),
        place: Place::Watch,
        sheet: Some("/watch.css"),
        script: Some("/watch.js"),
    };
    Ok(shell.around(&main).into_response())
}

/// The parts alone, for the script.
pub(super) async fn parts(
    State(app): State<App>,
    which: Result<Query<Which>, QueryRejection>,
) -> Result<Response, Problem> {
    let camera = which?.0.camera()?;
    // The record answers one after the other: what it was told before is announced by then.
    let newest = app.record.newest(camera.clone(), 1).await?.pop().map(|rest| rest.id);
    // What is shown changes with the events, with how the cameras do, and with time.
    let last = *app.record.announcements().borrow();
    let cameras = app.cameras.board().all().into_iter().map(|status| {
        let age_s = status.last_frame_age_ms.map(|age_ms| age_ms / 1000);
        (status.name.to_string(), status.health, status.state, status.words, age_s)
    });
    let second = Timestamp::now().as_second();
    let key = format!("{camera:?} {newest:?} {last} {second} {:?}", cameras.collect::<Vec<_>>());
    let make = async {
        let board = Board::of(&app, camera).await?;
        let board = board.ok_or_else(|| Problem::not_found(say!("watch-no-rest-of-camera")))?;
        Ok(Bytes::from(board.parts().into_string()))
    };
    Ok(Html(app.shown_lately.of(key, make).await?).into_response())
}

fn watching(board: &Board, last: i64, cameras: &[CameraStatus]) -> Markup {
    html! {
        main #main.watch data-camera=(board.camera) data-last=(last) {
            h1.hidden { (say!("watch-table-of", camera = &board.camera)) }
            p #link role="status" { (say!("reload")) }
            @if cameras.len() > 1 {
                nav.tables aria-label=(say!("tables")) {
                    @for camera in cameras {
                        @let here = camera.name.as_str() == board.camera;
                        a href={ "/?camera=" (camera.name) } aria-current=[here.then_some("page")] {
                            (camera.name)
                        }
                    }
                }
            }
            p #told.hidden role="status" {}
            div #said hidden {}
            (board.parts())
            (own_screen())
        }
    }
}

/// What each screen sets for itself; the script remembers it.
fn own_screen() -> Markup {
    let switch = |id: &str, words: &str| {
        html! {
            label { input type="checkbox" id=(id); " " (words) }
        }
    };
    html! {
        details.own #own hidden {
            summary { (say!("watch-this-screen")) }
            div.switches {
                (switch("speak", &say!("watch-speak")))
                (switch("beep", &say!("watch-beep")))
                (switch("keys", &say!("watch-keys")))
                label {
                    (say!("watch-goal")) " "
                    input type="number" id="goal" min="1" max="9999" inputmode="numeric";
                }
                p.quiet #awake {}
            }
        }
    }
}

/// What is shown before the first rest.
fn nothing_yet(last: i64, cameras: &[CameraStatus]) -> Markup {
    html! {
        main #main.single data-last=(last) {
            p #link role="status" { (say!("reload")) }
            h1 { (say!("watch-no-rest-yet")) }
            p { (weave(&say!("watch-no-rest-why"), &[])) }
            p { a.button href="/setup" { (say!("watch-set-up")) } }
            ul.cameras aria-label=(say!("cameras")) {
                @for camera in cameras {
                    li { strong { (camera.name) } " " (camera.words) }
                }
            }
        }
    }
}
