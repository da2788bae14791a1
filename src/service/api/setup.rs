//! Setting a camera up: its picture, a calibration tried on it, the one that is kept.

use super::setup_view::{CalibrationView, Side};
use crate::{
    camera::PixelPoint,
    service::{App, CameraName, Problem, Sent, access::Paired},
    table::TableSize,
    vision::{CalibrateOptions, FootChoice},
};
use axum::{
    Json,
    extract::{Path, State},
    http::{HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Corners this far outside of any picture are no corners.
const FARTHEST_PX: f64 = 100_000.0;

/// What the user knows of a table that a camera sees. What is left out is found in the picture.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct TrialBody {
    /// Where the noses' lines meet at the four corners, in pixels of the frame, x and y, in order
    /// around the table. A few pixels off do no harm: they are refined.
    #[schema(value_type = Option<Vec<Vec<f64>>>, min_items = 4, max_items = 4)]
    corners_px: Option<[[f64; 2]; 4]>,
    /// `9ft`, `8ft`, `7ft`, or length x width between the noses in millimetres.
    #[schema(example = "2540x1270")]
    table: Option<String>,
    /// The side of the picture where the foot end is.
    foot: Option<Side>,
}

/// A calibration that was tried.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrialView {
    /// Keep it by this number.
    trial: u64,
    calibration: CalibrationView,
}

/// Which trial is to be kept.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct KeepBody {
    #[schema(minimum = 1)]
    trial: u64,
}

/// A camera's last frame, as a JPEG to look at: it is made smaller where it is large.
#[utoipa::path(
    get, path = "/api/cameras/{name}/picture", tag = "set-up",
    params(("name" = String, Path, min_length = 1, max_length = 40,
        pattern = "^[A-Za-z0-9_-]+$", description = "The camera's name")),
    responses(
        (status = 200, description = "The picture", body = Vec<u8>, content_type = "image/jpeg",
            headers(("Frame-Size" = String, description = "The frame's own width x height in pixels"))),
        (status = 400, description = "The name cannot be one", body = Problem,
            content_type = "application/problem+json"),
        (status = 401, description = "Pictures of the room are for paired devices", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "No such camera, or no frame yet", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_picture(
    _: Paired,
    State(app): State<App>,
    Path(name): Path<String>,
) -> Result<Response, Problem> {
    let camera: CameraName = name.parse()?;
    let (jpeg, (width, height)) = app.cameras.picture(&camera).await?;
    let mut response = jpeg.into_response();
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("image/jpeg"));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    if let Ok(size) = HeaderValue::from_str(&format!("{width}x{height}")) {
        headers.insert("frame-size", size);
    }
    Ok(response)
}

/// The calibration that a camera's frames are read by.
#[utoipa::path(
    get, path = "/api/cameras/{name}/calibration", tag = "set-up",
    params(("name" = String, Path, min_length = 1, max_length = 40,
        pattern = "^[A-Za-z0-9_-]+$", description = "The camera's name")),
    responses(
        (status = 200, description = "The calibration", body = CalibrationView),
        (status = 400, description = "The name cannot be one", body = Problem,
            content_type = "application/problem+json"),
        (status = 401, description = "Set-up is for paired devices", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "No such camera, or none is kept yet", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_calibration(
    _: Paired,
    State(app): State<App>,
    Path(name): Path<String>,
) -> Result<Json<CalibrationView>, Problem> {
    let camera: CameraName = name.parse()?;
    let kept = app.cameras.kept(&camera).await?;
    let kept = kept.ok_or_else(|| Problem::not_found("This camera is not calibrated yet."))?;
    Ok(Json(CalibrationView::of(&kept)))
}

/// Try a calibration on a camera's last frame: find the table, with the help that is given.
///
/// Nothing is kept until the trial is.
#[utoipa::path(
    post, path = "/api/cameras/{name}/trials", tag = "set-up", request_body = TrialBody,
    params(("name" = String, Path, min_length = 1, max_length = 40,
        pattern = "^[A-Za-z0-9_-]+$", description = "The camera's name")),
    responses(
        (status = 201, description = "A table was found", body = TrialView),
        (status = 400, description = "The name cannot be one, or the body is no JSON",
            body = Problem, content_type = "application/problem+json"),
        (status = 404, description = "No such camera, or no frame yet", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "The service was started with another size for this camera",
            body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "No table is found that way, or the body is no wish",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn post_trial(
    State(app): State<App>,
    Path(name): Path<String>,
    sent: Sent,
) -> Result<(StatusCode, Json<TrialView>), Problem> {
    let camera: CameraName = name.parse()?;
    let wish = wish(sent.into_a("calibration to try", "no_wish")?)?;
    let trial = app.cameras.try_out(&camera, wish).await?;
    let calibration = CalibrationView::of(&trial.calibration);
    Ok((StatusCode::CREATED, Json(TrialView { trial: trial.number, calibration })))
}

/// Keep the calibration that was tried last.
///
/// The camera goes by it from its next frame on, and after a restart.
#[utoipa::path(
    post, path = "/api/cameras/{name}/calibration", tag = "set-up", request_body = KeepBody,
    params(("name" = String, Path, min_length = 1, max_length = 40,
        pattern = "^[A-Za-z0-9_-]+$", description = "The camera's name")),
    responses(
        (status = 201, description = "Kept", body = CalibrationView),
        (status = 400, description = "The name cannot be one, or the body is no JSON",
            body = Problem, content_type = "application/problem+json"),
        (status = 404, description = "No such camera, or another trial came after",
            body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "The settings name a calibration or size for this camera",
            body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and names no trial", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_calibration(
    State(app): State<App>,
    Path(name): Path<String>,
    sent: Sent,
) -> Result<(StatusCode, Json<CalibrationView>), Problem> {
    let camera: CameraName = name.parse()?;
    let KeepBody { trial: number } = sent.into_a("trial to keep", "no_trial")?;
    let kept = app.cameras.keep_trial(&camera, number).await?;
    tracing::info!(%camera, "set up by the user");
    Ok((StatusCode::CREATED, Json(CalibrationView::of(&kept))))
}

fn wish(body: TrialBody) -> Result<CalibrateOptions, Problem> {
    let refused =
        |detail: String| Problem::new(StatusCode::UNPROCESSABLE_ENTITY, "no_wish", detail);
    let table = body.table.map(|text| text.parse::<TableSize>()).transpose();
    let table = table.map_err(|error| refused(format!("{error}.")))?;
    let corners_px = body.corners_px.map(|corners| corners.map(|[x, y]| PixelPoint::new(x, y)));
    let far = |corner: &PixelPoint| corner.x_px.abs().max(corner.y_px.abs()) > FARTHEST_PX;
    if let Some(corner) = corners_px.iter().flatten().find(|corner| far(corner)) {
        return Err(refused(format!(
            "A corner at {}, {} lies nowhere near the picture: give pixels of the frame.",
            corner.x_px, corner.y_px
        )));
    }
    let foot = body.foot.map_or(FootChoice::FromFrame, Side::as_foot);
    Ok(CalibrateOptions { table, foot, corners_px, lens: None })
}
