//! What a layout is worth and how to play it: of a layout that is sent, and of one that is kept.

use super::{
    layouts::find,
    pictures::{as_svg, sent_layout},
    published::published,
    readings::ReadLayout,
};
use crate::{
    advice::{Level, Player},
    motion::Physics,
    service::{App, Problem, Sent},
};
use axum::{
    Json,
    body::Bytes,
    extract::{
        Path, Query, State,
        rejection::{PathRejection, QueryRejection},
    },
    http::StatusCode,
    response::{IntoResponse, Response},
};
use serde::Deserialize;
use std::time::Duration;
use utoipa::{
    IntoParams, PartialSchema, ToSchema,
    openapi::{RefOr, Schema},
};

/// The largest body that is taken, in bytes.
pub(in crate::service) const MAX_BYTES: usize = 64 << 10;

/// Seconds to think, where nothing is said, and the most that can be asked for.
const USUAL_S: f64 = 2.0;
const MOST_S: f64 = 10.0;

/// Stands for an advice in the document: its schema is published with the advice itself.
pub struct GivenAdvice;

impl PartialSchema for GivenAdvice {
    fn schema() -> RefOr<Schema> {
        published("Advice")
    }
}

impl ToSchema for GivenAdvice {}

/// For whom, and how long to think.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct AskedParams {
    /// `beginner`, `club` or `expert`; where nothing is said, as the settings say, or `club`.
    #[param(pattern = "^(beginner|club|expert)$")]
    player: Option<String>,
    /// Seconds to think; 2 where nothing is said.
    #[param(minimum = 0, maximum = 10)]
    for_s: Option<f64>,
    /// The camera over the table, whose cloth is played on as far as it is known; an ordinary one where
    /// nothing is said.
    camera: Option<String>,
}

/// Which of the choices.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct ChoiceParams {
    /// Counted from 0, the best first; 0 where nothing is said.
    #[param(maximum = 100)]
    choice: Option<usize>,
}

/// Advice on a layout that is sent; nothing is kept.
#[utoipa::path(
    post, path = "/api/advice", tag = "advice", params(AskedParams),
    request_body(content = inline(ReadLayout), description = "A layout"),
    responses(
        (status = 200, description = "The advice", body = inline(GivenAdvice)),
        (status = 400, description = "The body is no JSON, or a parameter cannot be understood",
            body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "No layout, or one that cannot be; the detail names the ball",
            body = Problem, content_type = "application/problem+json"),
        (status = 503, description = "Too many are thought about at a time; Retry-After says when to come back",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn post_advice(
    State(app): State<App>,
    params: Result<Query<AskedParams>, QueryRejection>,
    sent: Sent,
) -> Result<Response, Problem> {
    let params = params?.0;
    let player = player(&app, params.player.as_deref())?;
    let time = time(params.for_s)?;
    let physics = physics(&app, params.camera.as_deref());
    let advice = app.advising.think((sent_layout(sent)?, physics), player, time).await?;
    Ok(Json(advice).into_response())
}

/// Advice on a kept layout: what was found in the background, or what is found now.
#[utoipa::path(
    get, path = "/api/layouts/{id}/advice", tag = "advice",
    params(("id" = i64, Path, description = "The layout's id")),
    responses(
        (status = 200, description = "The advice", body = inline(GivenAdvice)),
        (status = 404, description = "There is none of this id", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "No advice can be given on it, such as without a cue ball",
            body = Problem, content_type = "application/problem+json"),
        (status = 503, description = "Too many are thought about at a time; Retry-After says when to come back",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn get_advice(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Response, Problem> {
    let rest = find(&app, id?.0).await?;
    Ok(Json(app.advice_on(&rest).await?.as_ref()).into_response())
}

/// The advice on a kept layout as a drawing.
#[utoipa::path(
    get, path = "/api/layouts/{id}/advice.svg", tag = "advice",
    params(("id" = i64, Path, description = "The layout's id"), ChoiceParams),
    responses(
        (status = 200, description = "The drawing", body = String, content_type = "image/svg+xml"),
        (status = 400, description = "The choice cannot be understood", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is none of this id, or no such choice", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "No advice can be given on it, such as without a cue ball",
            body = Problem, content_type = "application/problem+json"),
        (status = 503, description = "Too many are thought about at a time; Retry-After says when to come back",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn get_advice_svg(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
    params: Result<Query<ChoiceParams>, QueryRejection>,
) -> Result<Response, Problem> {
    let choice = params?.0.choice.unwrap_or(0);
    let rest = find(&app, id?.0).await?;
    let advice = app.advice_on(&rest).await?;
    let count = advice.choice_names().len();
    if choice >= count {
        return Err(Problem::not_found(format!("There are {count} choices, counted from 0.")));
    }
    let physics = app.physics_of(&rest.camera);
    Ok(as_svg(Bytes::from(advice.svg(&rest.layout, &physics, choice))))
}

/// The player of a name, or the usual one.
pub(super) fn player(app: &App, name: Option<&str>) -> Result<Player, Problem> {
    let Some(name) = name else { return Ok(app.advising.usual_player()) };
    let level = name.parse::<Level>().map_err(|error| bad_query(format!("{error}.")))?;
    Ok(level.prior())
}

/// The physics of the table under a camera, or of an ordinary one.
pub(super) fn physics(app: &App, camera: Option<&str>) -> Physics {
    camera.map_or_else(Physics::default, |camera| app.physics_of(camera))
}

fn time(for_s: Option<f64>) -> Result<Duration, Problem> {
    let for_s = for_s.unwrap_or(USUAL_S);
    if (0.0..=MOST_S).contains(&for_s) {
        return Ok(Duration::from_secs_f64(for_s));
    }
    Err(bad_query(format!("{for_s} s to think are out of bounds: give 0 to {MOST_S}.")))
}

fn bad_query(detail: String) -> Problem {
    Problem::new(StatusCode::BAD_REQUEST, "query", detail)
}
