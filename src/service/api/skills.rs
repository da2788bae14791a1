//! What would change most if the player had a tenth less error of one kind.

use super::score::{ScoreParams, seen_camera};
use crate::service::{
    App, Problem,
    skills::{self, SkillsState},
};
use axum::{
    Json,
    extract::{Query, State, rejection::QueryRejection},
    http::StatusCode,
};

/// How far the search is, and what was found.
#[utoipa::path(
    get, path = "/api/skills", tag = "advice",
    responses((status = 200, description = "How it stands", body = SkillsState))
)]
pub async fn get_skills(State(app): State<App>) -> Json<SkillsState> {
    Json(app.skills.state())
}

/// Begins the search, from the record of a camera; one that runs is left to go on. It takes a minute or
/// two.
#[utoipa::path(
    post, path = "/api/skills", tag = "advice", params(ScoreParams),
    responses(
        (status = 202, description = "It runs", body = SkillsState),
        (status = 404, description = "There is no rest of this camera", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_skills(
    State(app): State<App>,
    params: Result<Query<ScoreParams>, QueryRejection>,
) -> Result<(StatusCode, Json<SkillsState>), Problem> {
    let camera = seen_camera(&app, params?.0.camera).await?;
    Ok((StatusCode::ACCEPTED, Json(skills::begin(&app, &camera))))
}
