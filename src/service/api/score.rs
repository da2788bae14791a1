//! The score as it stands: the attempt that is on, the attempts before it, and what is asked.

use super::{
    layouts::limit,
    published::{list_of, one_or_none, published},
};
use crate::{
    score::{Attempt, Question, Story},
    service::{App, CameraName, Problem},
};
use axum::{
    Json,
    extract::{
        Path, Query, State,
        rejection::{PathRejection, QueryRejection},
    },
};
use serde::{Deserialize, Serialize};
use utoipa::{
    IntoParams, ToSchema,
    openapi::{RefOr, Schema},
};

/// Attempts in one answer, where nothing is said, and at the most.
const USUAL_LIMIT: u32 = 50;
const MAX_LIMIT: u32 = 200;

/// Open questions in one answer; more wait until these are answered.
const MAX_QUESTIONS: usize = 50;

/// Whose score.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct ScoreParams {
    /// The camera over the table; the one that saw the latest rest where none is given.
    #[param(min_length = 1, max_length = 40, pattern = "^[A-Za-z0-9_-]+$")]
    pub(super) camera: Option<String>,
}

/// Which attempts, oldest first.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct AttemptParams {
    /// The camera over the table; the one that saw the latest rest where none is given.
    #[param(min_length = 1, max_length = 40, pattern = "^[A-Za-z0-9_-]+$")]
    camera: Option<String>,
    /// At most so many; 50 where nothing is said.
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u32>,
    /// Only attempts with a greater id than this: `next` of the answer before.
    after: Option<i64>,
}

/// One table's score.
#[derive(Debug, Serialize, ToSchema)]
pub struct ScoreView {
    pub(in crate::service) camera: String,
    /// The attempt that is on; none between two.
    #[schema(schema_with = maybe_attempt)]
    pub(in crate::service) going_on: Option<Attempt>,
    /// The latest attempt that is over; none where there is none.
    #[schema(schema_with = maybe_attempt)]
    pub(in crate::service) last_over: Option<Attempt>,
    /// How many attempts there are, the one that is on included.
    pub(in crate::service) attempts: usize,
    /// The longest run of all attempts.
    pub(in crate::service) high_run: Option<u32>,
    /// What the rests could not tell, oldest first; at most fifty.
    #[schema(schema_with = questions)]
    pub(in crate::service) questions: Vec<Question>,
    /// How many questions are open in all.
    pub(in crate::service) open_questions: usize,
    /// A shot is practised: rests do not count until the user says that it is over.
    pub(in crate::service) practising: bool,
}

/// Some of the attempts.
#[derive(Debug, Serialize, ToSchema)]
pub struct AttemptList {
    camera: String,
    #[schema(schema_with = attempts)]
    attempts: Vec<Attempt>,
    /// What to give as `after` for the next part; none where this is the last.
    next: Option<u32>,
}

fn attempt() -> RefOr<Schema> {
    published("Attempt")
}

fn maybe_attempt() -> RefOr<Schema> {
    one_or_none("Attempt")
}

fn attempts() -> RefOr<Schema> {
    list_of("Attempt")
}

fn questions() -> RefOr<Schema> {
    list_of("Question")
}

impl ScoreView {
    /// What is shown of a camera's story.
    fn of(camera: String, story: &Story, practising: bool) -> Self {
        Self {
            camera,
            going_on: story.going_on().cloned(),
            last_over: story.attempts.iter().rev().find(|attempt| attempt.over.is_some()).cloned(),
            attempts: story.attempts.len(),
            high_run: story.high_run(),
            questions: story.questions.iter().take(MAX_QUESTIONS).cloned().collect(),
            open_questions: story.questions.len(),
            practising,
        }
    }
}

/// The score of a table.
#[utoipa::path(
    get, path = "/api/score", tag = "score", params(ScoreParams),
    responses(
        (status = 200, description = "The score as it stands", body = ScoreView),
        (status = 400, description = "No camera's name", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "No rest of this camera's was seen yet", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_score(
    State(app): State<App>,
    params: Result<Query<ScoreParams>, QueryRejection>,
) -> Result<Json<ScoreView>, Problem> {
    let camera = seen_camera(&app, params?.0.camera).await?;
    Ok(Json(score_of(&app, camera).await?))
}

/// The score of a camera that is known to have seen a rest.
pub(in crate::service) async fn score_of(app: &App, camera: String) -> Result<ScoreView, Problem> {
    let name = camera.clone();
    let practising = app.record.practises(camera.clone()).await?;
    Ok(app.record.story(camera, move |story| ScoreView::of(name, story, practising)).await?)
}

/// Attempts of a table, oldest first.
#[utoipa::path(
    get, path = "/api/attempts", tag = "score", params(AttemptParams),
    responses(
        (status = 200, description = "The attempts with their shots and racks", body = AttemptList),
        (status = 400, description = "A parameter cannot be understood", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "No rest of this camera's was seen yet", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_attempts(
    State(app): State<App>,
    params: Result<Query<AttemptParams>, QueryRejection>,
) -> Result<Json<AttemptList>, Problem> {
    let params = params?.0;
    let camera = seen_camera(&app, params.camera).await?;
    let limit = limit(params.limit, USUAL_LIMIT, MAX_LIMIT)? as usize;
    let after = params.after.unwrap_or(0);
    let look = move |story: &Story| -> (Vec<Attempt>, bool) {
        let mut later = story.attempts.iter().filter(|attempt| i64::from(attempt.id) > after);
        let attempts = later.by_ref().take(limit).cloned().collect();
        (attempts, later.next().is_some())
    };
    let (attempts, more) = app.record.story(camera.clone(), look).await?;
    let next = attempts.last().map(|attempt| attempt.id).filter(|_| more);
    Ok(Json(AttemptList { camera, attempts, next }))
}

/// One attempt of a table.
#[utoipa::path(
    get, path = "/api/attempts/{id}", tag = "score",
    params(
        ("id" = u32, Path, description = "The attempt's id: the table's first attempt is 1"),
        ScoreParams,
    ),
    responses(
        (status = 200, description = "The attempt with its shots and racks",
            body = inline(AttemptView)),
        (status = 400, description = "No camera's name", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is none of this id", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_attempt(
    State(app): State<App>,
    id: Result<Path<u32>, PathRejection>,
    params: Result<Query<ScoreParams>, QueryRejection>,
) -> Result<Json<AttemptView>, Problem> {
    let no_such = |what: String| Problem::not_found(what);
    let id = id.map_err(|_| no_such("There is no such attempt: ids are whole numbers.".into()))?.0;
    let camera = seen_camera(&app, params?.0.camera).await?;
    let attempt = app.record.story(camera.clone(), move |story| story.attempt(id).cloned()).await?;
    let attempt = attempt.ok_or_else(|| no_such(format!("{camera} has no attempt {id}.")))?;
    Ok(Json(AttemptView { camera, attempt }))
}

/// One attempt.
#[derive(Debug, Serialize, ToSchema)]
pub struct AttemptView {
    camera: String,
    #[schema(schema_with = attempt)]
    attempt: Attempt,
}

/// A camera that has seen a rest: the one that is named, or that saw the latest.
pub(super) async fn seen_camera(app: &App, named: Option<String>) -> Result<String, Problem> {
    let named = named.map(|name| name.parse::<CameraName>()).transpose()?;
    let newest = app.record.newest(named.map(|name| name.to_string()), 1).await?.pop();
    let newest = newest.ok_or_else(|| Problem::not_found("This camera has seen no rest yet."))?;
    Ok(newest.camera)
}
