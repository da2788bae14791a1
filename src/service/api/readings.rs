//! A photo is sent, its layout comes back, and nothing is kept: for drawing from a photo.

use super::{
    frames::{drain, receive},
    published::published,
};
use crate::{
    layout::Layout,
    service::{App, Problem},
};
use axum::{
    Json,
    body::Body,
    extract::{Request, State},
    http::HeaderMap,
    response::{IntoResponse, Response},
};
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{RefOr, Schema},
};

/// Stands for a layout in the document: its schema is published with the layout itself.
pub struct ReadLayout;

impl PartialSchema for ReadLayout {
    fn schema() -> RefOr<Schema> {
        published("Layout")
    }
}

impl ToSchema for ReadLayout {}

/// Read a picture and keep nothing of it.
///
/// The picture is calibrated from itself alone, as one of no camera.
#[utoipa::path(
    post, path = "/api/readings", tag = "layouts",
    request_body(
        description = "The picture file itself, with its type as Content-Type",
        content(
            (Vec<u8> = "image/jpeg"), (Vec<u8> = "image/png"), (Vec<u8> = "image/webp")
        )
    ),
    responses(
        (status = 200, description = "The layout that it shows", body = inline(ReadLayout)),
        (status = 408, description = "The picture did not come in time", body = Problem,
            content_type = "application/problem+json"),
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
pub async fn post_reading(State(app): State<App>, request: Request) -> Response {
    let (parts, mut body) = request.into_parts();
    match read(&app, &parts.headers, &mut body).await {
        Ok(layout) => Json(layout).into_response(),
        Err(problem) => {
            drain(body, app.limits.frame_bytes).await;
            problem.into_response()
        }
    }
}

async fn read(app: &App, headers: &HeaderMap, body: &mut Body) -> Result<Layout, Problem> {
    let (bytes, room) = receive(app, headers, body).await?;
    Ok(app.cameras.read_alone(bytes, room).await?)
}
