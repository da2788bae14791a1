//! Layouts that have been kept: the latest, one, or many.

use super::RestView;
use crate::{
    record::{Rest, RestQuery},
    service::{App, Problem},
};
use axum::{
    Json,
    extract::{
        Path, Query, State,
        rejection::{PathRejection, QueryRejection},
    },
    http::StatusCode,
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// Layouts in one answer, where nothing is said.
const USUAL_LIMIT: u32 = 100;

/// Which layouts.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct LatestParams {
    /// Of this camera alone.
    camera: Option<String>,
}

/// Which layouts, oldest first.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct ListParams {
    /// Taken at this time or later (RFC 3339, such as 2030-05-17T18:00:00Z).
    #[param(format = DateTime)]
    from: Option<String>,
    /// Taken before this time.
    #[param(format = DateTime)]
    to: Option<String>,
    /// Of this camera alone.
    camera: Option<String>,
    /// At most so many; 100 where nothing is said.
    #[param(minimum = 1, maximum = 1000)]
    limit: Option<u32>,
    /// Only layouts with a greater id than this: `next` of the answer before.
    after: Option<i64>,
}

/// Some of the layouts.
#[derive(Debug, Serialize, ToSchema)]
pub struct LayoutList {
    layouts: Vec<RestView>,
    /// What to give as `after` for the next part; none where this is the last.
    next: Option<i64>,
}

/// The newest layout.
#[utoipa::path(
    get, path = "/api/layouts/latest", tag = "layouts", params(LatestParams),
    responses(
        (status = 200, description = "The newest layout", body = RestView),
        (status = 404, description = "There is none yet", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_latest(
    State(app): State<App>,
    params: Result<Query<LatestParams>, QueryRejection>,
) -> Result<Json<RestView>, Problem> {
    let newest = app.record.newest(params?.0.camera, 1).await?.pop();
    let newest = newest.ok_or_else(|| Problem::not_found("There is no layout yet."))?;
    Ok(Json(newest.into()))
}

/// One layout.
#[utoipa::path(
    get, path = "/api/layouts/{id}", tag = "layouts",
    params(("id" = i64, Path, description = "The layout's id")),
    responses(
        (status = 200, description = "The layout", body = RestView),
        (status = 404, description = "There is none of this id", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_one(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Json<RestView>, Problem> {
    Ok(Json(find(&app, id?.0).await?.into()))
}

/// Layouts by time, oldest first.
#[utoipa::path(
    get, path = "/api/layouts", tag = "layouts", params(ListParams),
    responses(
        (status = 200, description = "The layouts, oldest first", body = LayoutList),
        (status = 400, description = "A parameter cannot be understood", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_list(
    State(app): State<App>,
    params: Result<Query<ListParams>, QueryRejection>,
) -> Result<Json<LayoutList>, Problem> {
    let params = params?.0;
    let limit = limit(params.limit, USUAL_LIMIT, 1000)?;
    let query = RestQuery {
        from: time("from", params.from.as_deref())?,
        to: time("to", params.to.as_deref())?,
        camera: params.camera,
        after: params.after.unwrap_or(0),
        limit,
    };
    let layouts: Vec<RestView> =
        app.record.list(query).await?.into_iter().map(RestView::from).collect();
    let full = layouts.len() == limit as usize;
    let next = layouts.last().map(|rest| rest.id).filter(|_| full);
    Ok(Json(LayoutList { layouts, next }))
}

/// How many at most: what is asked for, within bounds.
pub(super) fn limit(asked_for: Option<u32>, usual: u32, most: u32) -> Result<u32, Problem> {
    match asked_for {
        None => Ok(usual),
        Some(limit) if (1..=most).contains(&limit) => Ok(limit),
        Some(limit) => Err(Problem::new(
            StatusCode::BAD_REQUEST,
            "query",
            format!("A limit of {limit} is out of bounds: give 1 to {most}."),
        )),
    }
}

/// A rest by its id.
pub(in crate::service) async fn find(app: &App, id: i64) -> Result<Rest, Problem> {
    let found = app.record.by_id(id).await?;
    found.ok_or_else(|| Problem::not_found(format!("There is no layout {id}.")))
}

fn time(name: &str, text: Option<&str>) -> Result<Option<Timestamp>, Problem> {
    let parsed = text.map(str::parse).transpose();
    parsed.map_err(|_: jiff::Error| {
        Problem::new(
            StatusCode::BAD_REQUEST,
            "query",
            format!("'{name}' is no time: write it as in 2030-05-17T18:00:00Z."),
        )
    })
}
