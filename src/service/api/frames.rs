//! A frame is sent, its layout comes back.

use super::RestView;
use crate::{
    camera::picture::PictureFormat,
    service::{App, CameraName, Problem},
};
use axum::{
    Json,
    body::{Body, Bytes},
    extract::{Query, Request, State, rejection::QueryRejection},
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use http_body_util::{BodyExt, LengthLimitError, Limited};
use serde::Deserialize;
use std::{sync::Arc, time::Duration};
use tokio::sync::OwnedSemaphorePermit;
use utoipa::IntoParams;

/// How long the rest of a refused body is still taken in, so that its sender, who may be writing
/// still, gets to read the answer.
const DRAIN_TIME: Duration = Duration::from_secs(5);

/// Where a frame comes from.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct FrameParams {
    /// The camera's name: letters, digits, - and _. Frames of one name come from one camera that
    /// stays where it is; its calibration is taken from the first and kept.
    #[param(min_length = 1, max_length = 40, pattern = "^[A-Za-z0-9_-]+$")]
    camera: Option<String>,
}

/// Read a frame, keep it, and pass its layout on.
#[utoipa::path(
    post, path = "/api/frames", tag = "frames", params(FrameParams),
    request_body(
        description = "The picture file itself, with its type as Content-Type",
        content(
            (Vec<u8> = "image/jpeg"), (Vec<u8> = "image/png"), (Vec<u8> = "image/webp")
        )
    ),
    responses(
        (status = 201, description = "Read and kept", body = RestView,
            headers(("Location" = String, description = "Where the layout is found again"))),
        (status = 400, description = "The camera's name cannot be one", body = Problem,
            content_type = "application/problem+json"),
        (status = 408, description = "The picture did not come in time", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "The name belongs to a camera of the service's own",
            body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The file is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "Neither JPEG, PNG nor WebP", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "A damaged picture, or one with no whole table in it",
            body = Problem, content_type = "application/problem+json"),
        (status = 503, description = "Too many frames at a time; Retry-After says when to come back",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn post_frame(
    State(app): State<App>,
    params: Result<Query<FrameParams>, QueryRejection>,
    request: Request,
) -> Response {
    let (parts, mut body) = request.into_parts();
    match take(&app, params, &parts.headers, &mut body).await {
        Ok(rest) => {
            let location = HeaderValue::from_str(&format!("/api/layouts/{}", rest.id));
            let mut response = (StatusCode::CREATED, Json(rest)).into_response();
            if let Ok(location) = location {
                response.headers_mut().insert(header::LOCATION, location);
            }
            response
        }
        Err(problem) => {
            drain(body, app.limits.frame_bytes).await;
            problem.into_response()
        }
    }
}

async fn take(
    app: &App,
    params: Result<Query<FrameParams>, QueryRejection>,
    headers: &HeaderMap,
    body: &mut Body,
) -> Result<RestView, Problem> {
    let camera = match params?.0.camera {
        Some(name) => name.parse()?,
        None => CameraName::default(),
    };
    let (bytes, room) = receive(app, headers, body).await?;
    Ok(app.cameras.take(&camera, bytes, room).await?.into())
}

/// Takes a picture file in, within the bounds of what may be sent, with the room that it takes up.
pub(super) async fn receive(
    app: &App,
    headers: &HeaderMap,
    body: &mut Body,
) -> Result<(Vec<u8>, OwnedSemaphorePermit), Problem> {
    check_length(headers, app.limits.frame_bytes)?;
    let media_type = headers.get(header::CONTENT_TYPE).and_then(|text| text.to_str().ok());
    if media_type.and_then(PictureFormat::from_media_type).is_none() {
        return Err(Problem::new(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            "media_type",
            "Send the picture file itself with Content-Type image/jpeg, image/png or image/webp.",
        ));
    }
    receive_file(app, headers, body, app.limits.frame_bytes).await
}

/// Takes a file of at most so many bytes in, with the room that it takes up.
pub(super) async fn receive_file(
    app: &App,
    headers: &HeaderMap,
    body: &mut Body,
    limit: usize,
) -> Result<(Vec<u8>, OwnedSemaphorePermit), Problem> {
    check_length(headers, limit)?;
    let room = Arc::clone(&app.uploads).try_acquire_owned().map_err(|_| {
        Problem::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "busy",
            "Too many files are being taken in: send this one again a little later.",
        )
    })?;
    let bytes = tokio::time::timeout(app.limits.frame_time, collect(body, limit)).await.map_err(
        |_| {
            let seconds = app.limits.frame_time.as_secs();
            Problem::new(
                StatusCode::REQUEST_TIMEOUT,
                "too_slow",
                format!("The file did not come within {seconds} s: send it again."),
            )
        },
    )??;
    Ok((bytes, room))
}

fn too_large(limit: usize) -> Problem {
    Problem::new(
        StatusCode::PAYLOAD_TOO_LARGE,
        "too_many_bytes",
        format!("The file is larger than {} MB: send it smaller.", limit >> 20),
    )
}

/// What can be refused before the body is read.
fn check_length(headers: &HeaderMap, limit: usize) -> Result<(), Problem> {
    let length = headers.get(header::CONTENT_LENGTH).and_then(|text| text.to_str().ok());
    let too_long =
        length.and_then(|text| text.parse::<u64>().ok()).is_some_and(|bytes| bytes > limit as u64);
    if too_long { Err(too_large(limit)) } else { Ok(()) }
}

async fn collect(body: &mut Body, limit: usize) -> Result<Vec<u8>, Problem> {
    match Limited::new(body, limit).collect().await {
        Ok(collected) => Ok(collected.to_bytes().into()),
        Err(error) if error.is::<LengthLimitError>() => Err(too_large(limit)),
        Err(error) => Err(Problem::new(
            StatusCode::BAD_REQUEST,
            "broken_off",
            format!("The file broke off on its way: {error}. Send it again."),
        )),
    }
}

/// Takes in what is left of a refused body, within bounds, and throws it away.
pub(in crate::service) async fn drain(mut body: Body, limit: usize) {
    let reading = async {
        let mut taken = 0;
        while let Some(Ok(frame)) = body.frame().await {
            taken += frame.data_ref().map_or(0, Bytes::len);
            if taken > 2 * limit {
                return;
            }
        }
    };
    if tokio::time::timeout(DRAIN_TIME, reading).await.is_err() {
        tracing::debug!("a refused body was still coming when its time was up");
    }
}
