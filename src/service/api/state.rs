//! How the service and its cameras are doing.

use crate::{
    record::RecordError,
    service::{
        App, CameraStatus, Problem,
        metrics::{Gauges, MEDIA_TYPE},
    },
};
use axum::{
    Json,
    extract::State,
    http::{HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::Serialize;
use std::time::Duration;
use tokio::time::timeout;
use utoipa::ToSchema;

/// The time the record has to answer before it counts as hung.
const RECORD_TIME: Duration = Duration::from_secs(5);

/// The service is well.
#[derive(Debug, Serialize, ToSchema)]
pub struct Health {
    /// Always `ok`: a service that is not answers 503, or not at all.
    status: &'static str,
    version: &'static str,
    /// The newest layout's id; 0 where there is none.
    latest_layout: i64,
    /// The newest event's id; 0 where there is none.
    latest_event: i64,
}

/// Whether the service is well: its record answers, and each of its parts runs.
///
/// A camera that is lost is no fault of the service's; `/api/cameras` tells of it.
#[utoipa::path(
    get, path = "/healthz", tag = "state",
    responses(
        (status = 200, description = "Well", body = Health),
        (status = 503, description = "Not well; the detail names what is wrong", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_health(State(app): State<App>) -> Result<Json<Health>, Problem> {
    let mut wrong: Vec<String> = app.vitals.fallen();
    let newest = match timeout(RECORD_TIME, app.record.newest(None, 1)).await {
        Ok(Ok(newest)) => newest,
        Ok(Err(error)) => {
            tracing::error!("the record does not answer: {error}");
            wrong.push("the record".into());
            Vec::new()
        }
        Err(_) => {
            tracing::error!("the record did not answer within {RECORD_TIME:?}");
            wrong.push("the record".into());
            Vec::new()
        }
    };
    if !wrong.is_empty() {
        return Err(Problem::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "unwell",
            format!("Not running: {}. The program's log says why.", wrong.join(", ")),
        ));
    }
    Ok(Json(Health {
        status: "ok",
        version: env!("CARGO_PKG_VERSION"),
        latest_layout: newest.first().map_or(0, |rest| rest.id),
        latest_event: *app.record.announcements().borrow(),
    }))
}

/// Counts, in the text format that Prometheus reads.
#[utoipa::path(
    get, path = "/metrics", tag = "state",
    responses(
        (status = 200, description = "The counts since the program's start", body = String,
            content_type = "text/plain"),
    )
)]
pub async fn get_metrics(State(app): State<App>) -> Response {
    // What cannot be looked up is left out: counts must not fail because the record does.
    let looked_up = async {
        let waiting = app.record.delivery_counts().await?.due;
        Ok::<_, RecordError>((waiting, app.record.free_bytes().await?))
    };
    let looked_up = timeout(RECORD_TIME, looked_up).await.ok().and_then(Result::ok);
    let gauges = Gauges {
        cameras: app.cameras.board().all(),
        waiting_deliveries: looked_up.map(|(waiting, _)| waiting),
        newest_event: *app.record.announcements().borrow(),
        disk_free_bytes: looked_up.map(|(_, free)| free).filter(|free| *free < u64::MAX),
    };
    let media_type = HeaderValue::from_static(MEDIA_TYPE);
    ([(header::CONTENT_TYPE, media_type)], app.metrics.text(&gauges)).into_response()
}

/// All cameras since the service started, and how each is doing.
#[utoipa::path(
    get, path = "/api/cameras", tag = "state",
    responses((status = 200, description = "The cameras by name", body = Vec<CameraStatus>))
)]
pub async fn get_cameras(State(app): State<App>) -> Json<Vec<CameraStatus>> {
    Json(app.cameras.board().all())
}
