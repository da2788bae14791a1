//! A phone sends a stream of frames, each by a request of its own.
//!
//! Some phones take no WebSocket from a machine whose certificate they were told to trust, and every
//! one of them takes a request of its page. What is sent is watched like any stream: looked at for
//! rests, and not kept frame by frame.

use super::{
    frames::{drain, receive},
    stream::FrameAnswer,
};
use crate::service::{App, CameraName, FrameError, Problem, newest::Fate};
use axum::{
    Json,
    body::Body,
    extract::{Path, Query, Request, State, rejection::QueryRejection},
    http::HeaderMap,
    response::{IntoResponse, Response},
};
use serde::{Deserialize, Serialize};
use std::time::Duration;
use tokio::{sync::mpsc::unbounded_channel, time::timeout};
use utoipa::{IntoParams, ToSchema};

/// A sender hears by then what became of its frame: looking for a table for the first time takes
/// seconds.
const ANSWER_TIME: Duration = Duration::from_secs(30);

/// Who sends.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct SenderParams {
    /// What the sender calls itself, the same in each of its requests: a second one of the same
    /// camera is turned away as long as the first goes on.
    #[serde(default)]
    #[param(max_length = 40)]
    sender: String,
}

/// What became of a frame, and how the camera is doing.
#[derive(Debug, Serialize, ToSchema)]
pub struct PostedAnswer {
    #[serde(flatten)]
    answer: FrameAnswer,
    /// The camera's state in words.
    words: String,
}

/// Send the next frame of a stream, to be watched as a camera.
///
/// Up to ten frames a second are looked at, the newest first; none is kept unless the table has
/// come to rest in it.
#[utoipa::path(
    post, path = "/api/cameras/{name}/frames", tag = "frames",
    params(
        ("name" = String, Path, min_length = 1, max_length = 40,
            pattern = "^[A-Za-z0-9_-]+$", description = "The camera's name"),
        SenderParams,
    ),
    request_body(
        description = "The picture file itself, with its type as Content-Type",
        content(
            (Vec<u8> = "image/jpeg"), (Vec<u8> = "image/png"), (Vec<u8> = "image/webp")
        )
    ),
    responses(
        (status = 200, description = "What became of it", body = PostedAnswer),
        (status = 400, description = "The camera's name cannot be one", body = Problem,
            content_type = "application/problem+json"),
        (status = 408, description = "The picture did not come in time", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "The name belongs to another camera, or another device sends \
            for it", body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The file is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "Neither JPEG, PNG nor WebP", body = Problem,
            content_type = "application/problem+json"),
        (status = 503, description = "Too many cameras, or too many frames at a time",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn post_next_frame(
    State(app): State<App>,
    Path(name): Path<String>,
    params: Result<Query<SenderParams>, QueryRejection>,
    request: Request,
) -> Response {
    let (parts, mut body) = request.into_parts();
    match take(&app, &name, params, (&parts.headers, &mut body)).await {
        Ok(answer) => Json(answer).into_response(),
        Err(problem) => {
            drain(body, app.limits.frame_bytes).await;
            problem.into_response()
        }
    }
}

async fn take(
    app: &App,
    name: &str,
    params: Result<Query<SenderParams>, QueryRejection>,
    (headers, body): (&HeaderMap, &mut Body),
) -> Result<PostedAnswer, Problem> {
    let camera: CameraName = name.parse()?;
    let sender: String = params?.0.sender.chars().take(40).collect();
    let (bytes, _room) = receive(app, headers, body).await?;
    let (to, mut answers) = unbounded_channel();
    if !app.cameras.post_in(&camera, &sender, bytes, &to)? {
        return Err(FrameError::Fed { camera }.into());
    }
    let (frame, fate) = match timeout(ANSWER_TIME, answers.recv()).await {
        Ok(Some(told)) => told,
        // Nobody tells any more, or not in time: it was not looked at.
        Ok(None) | Err(_) => (0, Fate::PassedOver),
    };
    let board = app.cameras.board().all();
    let status = board.into_iter().find(|status| status.name == camera);
    let words = status.map(|status| status.words).unwrap_or_default();
    Ok(PostedAnswer { answer: FrameAnswer::new(frame, fate), words })
}
