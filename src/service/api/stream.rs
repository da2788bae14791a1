//! A sender pushes a stream of frames over a WebSocket: one binary message is one picture file.
//!
//! The newest frame wins: one that comes before the one before it was looked at takes its place.
//! Each frame is answered with what became of it, so that a sender can keep pace by waiting for
//! answers. A sender that does not take its answers is not read from either; one that falls silent
//! is let go.

use crate::service::{
    App, CameraName, Problem,
    newest::Fate,
    sending::{Answers, Sender},
};
use axum::{
    extract::{
        Path, State,
        ws::{
            CloseFrame, Message, WebSocket, WebSocketUpgrade, close_code,
            rejection::WebSocketUpgradeRejection,
        },
    },
    http::StatusCode,
    response::Response,
};
use serde::Serialize;
use std::time::Duration;
use tokio::{
    sync::{
        mpsc::{UnboundedReceiver, unbounded_channel},
        watch,
    },
    time::timeout,
};
use utoipa::ToSchema;

/// A sender that says nothing for so long is gone.
const SILENCE: Duration = Duration::from_secs(120);

/// The time a sender has to take an answer.
const ANSWER_TIME: Duration = Duration::from_secs(10);

/// How often a sender is asked whether another has taken its place.
const LOOK_FOR_ANOTHER: Duration = Duration::from_secs(1);

/// What became of a frame.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FrameFate {
    /// It was looked at.
    Seen,
    /// A newer one took its place, or it came sooner than was wanted.
    PassedOver,
    /// It is no picture, or shows no table; `why` says more.
    Unreadable,
}

/// The answer to a frame, a text message.
#[derive(Debug, Serialize, ToSchema)]
pub struct FrameAnswer {
    /// Counts the frames of this connection from 1.
    frame: u64,
    fate: FrameFate,
    /// The id of the rest that it showed, where it was a new one.
    #[serde(skip_serializing_if = "Option::is_none")]
    rest: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<String>,
}

impl FrameAnswer {
    pub(super) fn new(frame: u64, fate: Fate) -> Self {
        let (fate, rest, why) = match fate {
            Fate::Seen { rest } => (FrameFate::Seen, rest, None),
            Fate::PassedOver => (FrameFate::PassedOver, None, None),
            Fate::Unreadable { why } => (FrameFate::Unreadable, None, Some(why)),
        };
        Self { frame, fate, rest, why }
    }
}

/// Push a stream of frames, to be watched as a camera.
///
/// A WebSocket: each binary message is one JPEG, PNG or WebP file, and is answered by a text message
/// (`FrameAnswer`), not always in order. Up to ten frames a second are looked at, the newest first.
/// A second sender of one name takes the first one's place.
#[utoipa::path(
    get, path = "/api/cameras/{name}/frames", tag = "frames",
    params(("name" = String, Path,
        description = "The camera's name: letters, digits, - and _")),
    responses(
        (status = 101, description = "Frames may come", body = FrameAnswer),
        (status = 400, description = "The camera's name cannot be one, or this is no WebSocket",
            body = Problem, content_type = "application/problem+json"),
        (status = 403, description = "A page from elsewhere asked", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "The name belongs to a camera that the service opens itself",
            body = Problem, content_type = "application/problem+json"),
        (status = 503, description = "Too many cameras", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn push_frames(
    State(app): State<App>,
    Path(name): Path<String>,
    upgrade: Result<WebSocketUpgrade, WebSocketUpgradeRejection>,
) -> Result<Response, Problem> {
    let camera: CameraName = name.parse()?;
    let upgrade = upgrade.map_err(|rejection| {
        let detail = format!("Frames are pushed over a WebSocket: {}.", rejection.body_text());
        Problem::new(StatusCode::BAD_REQUEST, "no_websocket", detail)
    })?;
    app.cameras.may_push(&camera)?;
    let most_bytes = app.limits.frame_bytes;
    let forgotten = app.access.forgotten();
    Ok(upgrade
        .max_message_size(most_bytes)
        .max_frame_size(most_bytes)
        .on_upgrade(move |socket| serve(app, camera, socket, forgotten)))
}

async fn serve(
    app: App,
    camera: CameraName,
    mut socket: WebSocket,
    forgotten: impl Future<Output = ()>,
) {
    // Waiting for room was over when the connection was let in; now it may be another's again.
    let entrance = match app.cameras.let_in(&camera) {
        Ok(entrance) => entrance,
        Err(error) => {
            tracing::warn!("a sender was turned away: {error}");
            return close(&mut socket, close_code::AGAIN, &error.to_string()).await;
        }
    };
    let (to, answers) = unbounded_channel();
    let mut sender = Sender::new(entrance);
    let stopping = app.stopping.subscribe();
    let why = tokio::select! {
        why = run(&mut socket, &mut sender, (&to, answers), stopping) => why,
        () = forgotten => {
            close(&mut socket, close_code::POLICY, FORGOTTEN).await;
            FORGOTTEN
        }
    };
    tracing::info!(%camera, "its sender is gone: {why}");
    sender.leave(why);
}

/// Reads frames and gives answers until one side has enough; says why.
async fn run(
    socket: &mut WebSocket,
    sender: &mut Sender,
    (to, mut answers): (&Answers, UnboundedReceiver<(u64, Fate)>),
    mut stopping: watch::Receiver<bool>,
) -> &'static str {
    let mut look = tokio::time::interval(LOOK_FOR_ANOTHER);
    let mut silent = tokio::time::Instant::now() + SILENCE;
    loop {
        tokio::select! {
            // Answers first: there are never more of them than frames were read.
            biased;
            _ = async { stopping.wait_for(|stopping| *stopping).await.is_ok() } => {
                close(socket, close_code::AWAY, "the service is stopping").await;
                return "the service is stopping";
            }
            Some((frame, fate)) = answers.recv() => {
                let Ok(text) = serde_json::to_string(&FrameAnswer::new(frame, fate)) else { continue };
                match timeout(ANSWER_TIME, socket.send(Message::Text(text.into()))).await {
                    Ok(Ok(())) => {}
                    Ok(Err(_)) => return "the connection broke off",
                    Err(_) => return "it did not take its answers",
                }
            }
            message = socket.recv() => {
                silent = tokio::time::Instant::now() + SILENCE;
                match message {
                    Some(Ok(Message::Binary(bytes))) => {
                        if !sender.take(bytes.into(), to) {
                            close(socket, close_code::POLICY, ANOTHER).await;
                            return ANOTHER;
                        }
                    }
                    Some(Ok(Message::Text(_))) => {
                        close(socket, close_code::UNSUPPORTED, "frames are binary messages").await;
                        return "it sent text";
                    }
                    Some(Ok(Message::Ping(_) | Message::Pong(_))) => {}
                    Some(Ok(Message::Close(_))) | None => return "it closed the connection",
                    Some(Err(error)) => {
                        tracing::debug!("a sender's connection: {error}");
                        close(socket, close_code::SIZE, "too large, or damaged on its way").await;
                        return "the connection broke off";
                    }
                }
            }
            _ = look.tick() => {
                if !sender.is_wanted() {
                    close(socket, close_code::POLICY, ANOTHER).await;
                    return ANOTHER;
                }
            }
            () = tokio::time::sleep_until(silent) => {
                close(socket, close_code::AWAY, "nothing came for a while").await;
                return "it fell silent";
            }
        }
    }
}

const FORGOTTEN: &str = "it is not paired any more";

const ANOTHER: &str = "another sender took its place";

async fn close(socket: &mut WebSocket, code: u16, why: &str) {
    // Whoever is gone does not hear it, and need not.
    let reason = why.chars().take(40).collect::<String>().into();
    let _ =
        timeout(ANSWER_TIME, socket.send(Message::Close(Some(CloseFrame { code, reason })))).await;
}
