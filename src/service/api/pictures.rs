//! A layout as a drawing, and the frame it was read from.

use super::{layouts::find, readings::ReadLayout};
use crate::{
    layout::{
        Layout,
        diagram::{self, DiagramError},
    },
    record::Picture,
    service::{App, Problem, Sent, access::Paired},
};
use axum::{
    body::{Body, Bytes},
    extract::{
        Path, Query, State,
        rejection::{PathRejection, QueryRejection},
    },
    http::{HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::Deserialize;
use serde_json::Value;
use std::ops::RangeInclusive;
use utoipa::IntoParams;

/// Width of a PNG diagram, where nothing is said.
const USUAL_WIDTH_PX: u32 = 1200;

/// Between what it can be: the widest is sharp on a sheet of paper.
const WIDTHS_PX: RangeInclusive<u32> = 100..=4096;

/// The most balls of a layout that is drawn: more than any table has.
const MOST_BALLS: usize = 40;

/// A drawing is scripted by nobody and loads nothing; its look stands in the file itself.
const DRAWING_POLICY: HeaderValue =
    HeaderValue::from_static("default-src 'none'; style-src 'unsafe-inline'");

/// A layout never changes, but a newer program may draw it better.
const DRAWING_CACHE: HeaderValue = HeaderValue::from_static("private, max-age=3600");

/// Frames never change.
const FRAME_CACHE: HeaderValue = HeaderValue::from_static("private, max-age=31536000, immutable");

/// How large.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct DrawingParams {
    /// The picture's width in pixels; 1200 where nothing is said.
    #[param(minimum = 100, maximum = 4096)]
    width: Option<u32>,
}

/// The diagram of a layout as SVG.
#[utoipa::path(
    get, path = "/api/layouts/{id}/diagram.svg", tag = "layouts",
    params(("id" = i64, Path, description = "The layout's id")),
    responses(
        (status = 200, description = "The drawing", body = String, content_type = "image/svg+xml"),
        (status = 404, description = "There is none of this id", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_svg(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Response, Problem> {
    let id = id?.0;
    let draw = async {
        let rest = find(&app, id).await?;
        Ok(Bytes::from(diagram::svg(&rest.layout)))
    };
    let drawing = app.drawn_lately.of(id, draw).await?;
    Ok(([(header::CACHE_CONTROL, DRAWING_CACHE)], as_svg(drawing)).into_response())
}

/// A drawing as it goes out.
pub(super) fn as_svg(drawing: Bytes) -> Response {
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static("image/svg+xml; charset=utf-8")),
        (header::CONTENT_SECURITY_POLICY, DRAWING_POLICY),
    ];
    (headers, drawing).into_response()
}

/// The diagram of a layout as PNG.
#[utoipa::path(
    get, path = "/api/layouts/{id}/diagram.png", tag = "layouts",
    params(("id" = i64, Path, description = "The layout's id"), DrawingParams),
    responses(
        (status = 200, description = "The drawing", body = Vec<u8>, content_type = "image/png"),
        (status = 400, description = "The width is out of bounds", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is none of this id", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_png(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
    params: Result<Query<DrawingParams>, QueryRejection>,
) -> Result<Response, Problem> {
    let width_px = width(params)?;
    let rest = find(&app, id?.0).await?;
    let drawing = as_png(&app, rest.layout, width_px).await?;
    Ok(([(header::CACHE_CONTROL, DRAWING_CACHE)], drawing).into_response())
}

fn width(params: Result<Query<DrawingParams>, QueryRejection>) -> Result<u32, Problem> {
    width_within(params?.0.width, USUAL_WIDTH_PX, &WIDTHS_PX)
}

/// How wide a picture is to be that is asked for, or not.
pub(super) fn width_within(
    asked: Option<u32>,
    usual_px: u32,
    bounds_px: &RangeInclusive<u32>,
) -> Result<u32, Problem> {
    let width_px = asked.unwrap_or(usual_px);
    if bounds_px.contains(&width_px) {
        return Ok(width_px);
    }
    let (least, most) = (bounds_px.start(), bounds_px.end());
    let detail = format!("A width of {width_px} is out of bounds: give {least} to {most}.");
    Err(Problem::new(StatusCode::BAD_REQUEST, "query", detail))
}

/// Makes a browser save an answer under a name instead of showing it.
pub(super) fn saved_as(name: &str, mut response: Response) -> Response {
    if let Ok(value) = HeaderValue::from_str(&format!("attachment; filename=\"{name}\"")) {
        response.headers_mut().insert(header::CONTENT_DISPOSITION, value);
    }
    response
}

async fn as_png(app: &App, layout: Layout, width_px: u32) -> Result<Response, Problem> {
    drawn(app, "image/png", move || diagram::png(&layout, width_px)).await
}

/// What takes a while to draw, when it is its turn.
pub(super) async fn drawn(
    app: &App,
    media_type: &'static str,
    draw: impl FnOnce() -> Result<Vec<u8>, DiagramError> + Send + 'static,
) -> Result<Response, Problem> {
    let drawing = in_turn(app, draw).await??;
    Ok(([(header::CONTENT_TYPE, HeaderValue::from_static(media_type))], drawing).into_response())
}

/// Does on a thread of its own what takes a while, when it is its turn.
pub(super) async fn in_turn<T: Send + 'static>(
    app: &App,
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Problem> {
    let stopping = |_| Problem::new(StatusCode::SERVICE_UNAVAILABLE, "stopping", "Stopping.");
    let turn = app.drawings.clone().acquire_owned().await.map_err(stopping)?;
    let working = tokio::task::spawn_blocking(move || {
        let done = work();
        drop(turn);
        done
    });
    working.await.map_err(|error| Problem::ours(&error))
}

/// The diagram of a layout that is sent, as SVG; nothing is kept.
#[utoipa::path(
    post, path = "/api/diagram.svg", tag = "layouts",
    request_body(content = inline(ReadLayout), description = "A layout"),
    responses(
        (status = 200, description = "The drawing", body = String, content_type = "image/svg+xml"),
        (status = 400, description = "The body is no JSON", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and no layout", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_svg(sent: Sent) -> Result<Response, Problem> {
    Ok(as_svg(diagram::svg(&sent_layout(sent)?).into()))
}

/// The diagram of a layout that is sent, as PNG; nothing is kept.
#[utoipa::path(
    post, path = "/api/diagram.png", tag = "layouts", params(DrawingParams),
    request_body(content = inline(ReadLayout), description = "A layout"),
    responses(
        (status = 200, description = "The drawing", body = Vec<u8>, content_type = "image/png"),
        (status = 400, description = "The body is no JSON, or the width is out of bounds",
            body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and no layout", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_png(
    State(app): State<App>,
    params: Result<Query<DrawingParams>, QueryRejection>,
    sent: Sent,
) -> Result<Response, Problem> {
    let width_px = width(params)?;
    as_png(&app, sent_layout(sent)?, width_px).await
}

/// A layout that is sent.
pub(super) fn sent_layout(sent: Sent) -> Result<Layout, Problem> {
    layout_in(sent.into_json())
}

/// A layout that came as JSON.
pub(super) fn layout_in(json: Value) -> Result<Layout, Problem> {
    let no_layout = |why: String| Problem::new(StatusCode::UNPROCESSABLE_ENTITY, "no_layout", why);
    let layout: Layout = serde_json::from_value(json)
        .map_err(|error| no_layout(format!("This is no layout: {error}.")))?;
    if layout.balls.len() > MOST_BALLS {
        let balls = layout.balls.len();
        return Err(no_layout(format!("{balls} balls are too many: {MOST_BALLS} at the most.")));
    }
    Ok(layout)
}

/// The frame that a layout was read from, as it was sent.
#[utoipa::path(
    get, path = "/api/layouts/{id}/frame", tag = "layouts",
    params(("id" = i64, Path, description = "The layout's id")),
    responses(
        (status = 200, description = "The picture file", body = Vec<u8>,
            content_type = "image/jpeg"),
        (status = 401, description = "Pictures of the room are for paired devices", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is none of this id", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_frame(
    _: Paired,
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Response, Problem> {
    let rest = find(&app, id?.0).await?;
    let media_type = rest.format.media_type();
    let path = match app.record.picture(rest).await? {
        Picture::Kept(path) => path,
        Picture::LetGo => {
            return Err(Problem::not_found(
                "The frame was deleted, as the retention setting says.",
            ));
        }
        Picture::NeverKept => {
            return Err(Problem::not_found(
                "The frame was not kept, since the disk had little room left.",
            ));
        }
    };
    let bytes = tokio::fs::read(&path).await.map_err(|error| Problem::ours(&error))?;
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static(media_type)),
        (header::CACHE_CONTROL, FRAME_CACHE),
    ];
    Ok((headers, Body::from(bytes)).into_response())
}
