//! The user's word: what a shot was that the rests could not tell, or were wrong about.

use super::{
    published::one_or_none,
    score::{ScoreView, score_of},
};
use crate::{
    score::{Correction, Step},
    service::{App, Problem, Sent, status::now},
};
use axum::{Json, extract::State, http::StatusCode};
use serde::{Deserialize, Deserializer, Serialize};
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};

/// The largest body that is taken, in bytes.
pub(in crate::service) const MAX_BYTES: usize = 4 << 10;

/// What a rest's step was.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CorrectionBody {
    /// The rest that the step led to: a question's `rest`.
    #[schema(minimum = 1)]
    rest: i64,
    /// What the step was: an answer's `step`. `null` takes back what was said before.
    // Without this, leaving the step out would take back what was said before.
    #[serde(deserialize_with = "Option::deserialize")]
    #[schema(required, schema_with = maybe_step)]
    step: Option<Step>,
    /// What the sender saw to be said of the rest before, `null` where nothing was. Where something
    /// else is said of it by now, nothing is kept; where this is left out, whatever was said is
    /// replaced.
    #[serde(default, deserialize_with = "given")]
    #[schema(schema_with = maybe_step)]
    instead_of: Option<Option<Step>>,
}

/// What is there, be it null.
fn given<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Option<Step>>, D::Error> {
    Option::deserialize(from).map(Some)
}

fn maybe_step() -> RefOr<Schema> {
    one_or_none("Step")
}

/// A correction that was kept.
#[derive(Debug, Serialize, ToSchema)]
pub struct CorrectionView {
    /// Grows by one with each correction, over all cameras.
    id: i64,
    /// The score as it stands now.
    score: ScoreView,
}

/// Say what a shot was: answer a question, or correct the score.
#[utoipa::path(
    post, path = "/api/corrections", tag = "score", request_body = CorrectionBody,
    responses(
        (status = 201, description = "Kept, and the score told again", body = CorrectionView),
        (status = 400, description = "The body is no JSON", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is no such rest", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "Something else was said of the rest meanwhile", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and no correction", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_correction(
    State(app): State<App>,
    sent: Sent,
) -> Result<(StatusCode, Json<CorrectionView>), Problem> {
    let CorrectionBody { rest, step, instead_of } = sent.into_a("correction", "no_correction")?;
    if !step.iter().chain(instead_of.iter().flatten()).all(is_within_bounds) {
        return Err(Problem::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "no_correction",
            "A number in the step is out of bounds: /api/openapi.json names them at Step.",
        ));
    }
    let correction = Correction { rest, says: step };
    let kept = app.record.correct(correction, instead_of, now()).await?;
    let score = score_of(&app, kept.camera).await?;
    Ok((StatusCode::CREATED, Json(CorrectionView { id: kept.id, score })))
}

/// Whether the numbers in a step are such as can happen; the published schema has the same bounds.
fn is_within_bounds(step: &Step) -> bool {
    match step {
        Step::Shot { potted: balls } | Step::CameBack { balls, .. } => (1..=15).contains(balls),
        Step::Several { shots, potted, re_racks, .. } => {
            (1..=1000).contains(shots) && *potted <= 1000 && *re_racks <= 100
        }
        Step::AttemptOn { run, .. } => *run <= 10_000,
        Step::Same
        | Step::SettingUp
        | Step::OpeningRack
        | Step::ReRack
        | Step::Miss
        | Step::Scratch
        | Step::BallOffTable
        | Step::ByHand
        | Step::Stopped
        | Step::Practice
        | Step::NoRest => true,
    }
}
