//! How the service and its cameras are doing.

use crate::service::{App, CameraStatus, Problem};
use axum::{Json, extract::State};
use serde::Serialize;
use utoipa::ToSchema;

/// The service is there.
#[derive(Debug, Serialize, ToSchema)]
pub struct Health {
    /// Always `ok`: a service that is not answers differently or not at all.
    status: &'static str,
    version: &'static str,
    /// The newest layout's id; 0 where there is none.
    latest_layout: i64,
}

/// Whether the service is up and its record answers.
#[utoipa::path(
    get, path = "/healthz", tag = "state",
    responses(
        (status = 200, description = "Up", body = Health),
        (status = 500, description = "The record does not answer", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_health(State(app): State<App>) -> Result<Json<Health>, Problem> {
    let newest = app.record.newest(None, 1).await?;
    Ok(Json(Health {
        status: "ok",
        version: env!("CARGO_PKG_VERSION"),
        latest_layout: newest.first().map_or(0, |rest| rest.id),
    }))
}

/// All cameras since the service started, and how each is doing.
#[utoipa::path(
    get, path = "/api/cameras", tag = "state",
    responses((status = 200, description = "The cameras by name", body = Vec<CameraStatus>))
)]
pub async fn get_cameras(State(app): State<App>) -> Json<Vec<CameraStatus>> {
    Json(app.cameras.board().all())
}
