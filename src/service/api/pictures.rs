//! A layout as a drawing, and the frame it was read from.

use super::layouts::find;
use crate::{
    layout::diagram,
    record::Picture,
    service::{App, Problem},
};
use axum::{
    body::Body,
    extract::{
        Path, Query, State,
        rejection::{PathRejection, QueryRejection},
    },
    http::{HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::Deserialize;
use utoipa::IntoParams;

/// Width of a PNG diagram, where nothing is said.
const USUAL_WIDTH_PX: u32 = 1200;

/// The widest PNG diagram: sharp on a sheet of paper.
const MAX_WIDTH_PX: u32 = 4096;

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
    let rest = find(&app, id?.0).await?;
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static("image/svg+xml; charset=utf-8")),
        (header::CONTENT_SECURITY_POLICY, DRAWING_POLICY),
        (header::CACHE_CONTROL, DRAWING_CACHE),
    ];
    Ok((headers, diagram::svg(&rest.layout)).into_response())
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
    let width_px = params?.0.width.unwrap_or(USUAL_WIDTH_PX);
    if !(100..=MAX_WIDTH_PX).contains(&width_px) {
        return Err(Problem::new(
            StatusCode::BAD_REQUEST,
            "query",
            format!("A width of {width_px} is out of bounds: give 100 to {MAX_WIDTH_PX}."),
        ));
    }
    let rest = find(&app, id?.0).await?;
    let stopping = |_| Problem::new(StatusCode::SERVICE_UNAVAILABLE, "stopping", "Stopping.");
    let turn = app.drawings.clone().acquire_owned().await.map_err(stopping)?;
    let drawing = tokio::task::spawn_blocking(move || {
        let drawing = diagram::png(&rest.layout, width_px);
        drop(turn);
        drawing
    });
    let drawing = drawing.await.map_err(|error| Problem::ours(&error))??;
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static("image/png")),
        (header::CACHE_CONTROL, DRAWING_CACHE),
    ];
    Ok((headers, drawing).into_response())
}

/// The frame that a layout was read from, as it was sent.
#[utoipa::path(
    get, path = "/api/layouts/{id}/frame", tag = "layouts",
    params(("id" = i64, Path, description = "The layout's id")),
    responses(
        (status = 200, description = "The picture file", body = Vec<u8>,
            content_type = "image/jpeg"),
        (status = 404, description = "There is none of this id", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_frame(
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
