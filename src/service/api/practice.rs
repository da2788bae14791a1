//! A shot is practised: the user's word that nothing counts from here on, or that it does again.

use super::score::{ScoreView, score_of, seen_camera};
use crate::{
    record::Practice,
    service::{App, Problem, Sent, status::now},
};
use axum::{Json, extract::State, http::StatusCode};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// That a practice begins, or is over.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PracticeBody {
    /// The camera over the table; the one that saw the latest rest where none is given.
    #[schema(max_length = 40, pattern = "^[A-Za-z0-9_-]+$")]
    camera: Option<String>,
    /// It begins, or it is over.
    on: bool,
    /// The last rest that this is not about, where the word comes late; the newest where none is
    /// given.
    after: Option<u64>,
}

/// A word that was kept.
#[derive(Debug, Serialize, ToSchema)]
pub struct PracticeView {
    /// The score as it stands now.
    score: ScoreView,
}

/// Say that a shot is practised from now on, or that the practice is over.
///
/// Rests in between do not count: an attempt that was on has been stopped, and none begins. Each of
/// them is corrected to `practice`, which can be taken back like any correction.
#[utoipa::path(
    post, path = "/api/practice", tag = "score", request_body = PracticeBody,
    responses(
        (status = 201, description = "Kept, and the score told again", body = PracticeView),
        (status = 400, description = "The body is no JSON, or no camera's name", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "No rest of this camera's was seen yet", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and says no such thing", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_practice(
    State(app): State<App>,
    sent: Sent,
) -> Result<(StatusCode, Json<PracticeView>), Problem> {
    let PracticeBody { camera, on, after } = sent.into_a("practice", "no_practice")?;
    let camera = seen_camera(&app, camera).await?;
    let newest = app.record.newest(Some(camera.clone()), 1).await?.pop().map_or(0, |rest| rest.id);
    let after = after.map_or(newest, |after| i64::try_from(after).unwrap_or(i64::MAX)).min(newest);
    app.record.practise(Practice { camera: camera.clone(), on, after }, now()).await?;
    Ok((StatusCode::CREATED, Json(PracticeView { score: score_of(&app, camera).await? })))
}
