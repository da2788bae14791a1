//! The positions of the record nearest to one, and what came of them.

use super::layouts::find;
use crate::{
    record::Rest,
    service::{App, Problem},
    study::{Outcome, Position, came_of},
};
use axum::{
    Json,
    extract::{
        Path, Query, State,
        rejection::{PathRejection, QueryRejection},
    },
    http::StatusCode,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// Positions in one answer, where nothing is said, and at the most.
const USUAL_LIMIT: usize = 12;
const MOST: usize = 100;

/// How many.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct NearestParams {
    /// At most so many; 12 where nothing is said.
    #[param(minimum = 1, maximum = 100)]
    limit: Option<usize>,
}

/// A position and what came of the shot from it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NearView {
    /// The rest that shows it.
    pub(in crate::service) rest: i64,
    /// How far each ball is off on the mean, in diamonds; it or its mirror image.
    pub(in crate::service) off_diamonds: f64,
    attempt: u32,
    /// The rack that the shot was played in: the next one where it was a break shot.
    rack: u32,
    /// Whether it pocketed a ball.
    pub(in crate::service) made: bool,
    /// Balls that the attempt brought from there on.
    balls: u32,
    /// It was missed by a scratch.
    scratched: bool,
}

/// The nearest positions to one.
#[derive(Debug, Serialize, ToSchema)]
pub struct NearestView {
    rest: i64,
    /// The nearest first. Positions with as many object balls of the same camera's record, one to four
    /// of them, whose shot is known.
    positions: Vec<NearView>,
}

/// The positions of the record that are nearest to one, with what came of them.
#[utoipa::path(
    get, path = "/api/layouts/{id}/nearest", tag = "layouts",
    params(("id" = i64, Path, description = "The layout's id"), NearestParams),
    responses(
        (status = 200, description = "The nearest; none where more than four object balls lie there",
            body = NearestView),
        (status = 400, description = "The limit is out of bounds", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is none of this id", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_nearest(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
    params: Result<Query<NearestParams>, QueryRejection>,
) -> Result<Json<NearestView>, Problem> {
    let limit = params?.0.limit.unwrap_or(USUAL_LIMIT);
    if !(1..=MOST).contains(&limit) {
        return Err(Problem::new(
            StatusCode::BAD_REQUEST,
            "query",
            format!("A limit of {limit} is out of bounds: give 1 to {MOST}."),
        ));
    }
    let rest = find(&app, id?.0).await?;
    Ok(Json(NearestView { rest: rest.id, positions: nearest_to(&app, &rest, limit).await? }))
}

/// The nearest positions to a rest's, of its camera.
pub(in crate::service) async fn nearest_to(
    app: &App,
    rest: &Rest,
    count: usize,
) -> Result<Vec<NearView>, Problem> {
    let (id, position) = (rest.id, Position::of(&rest.layout));
    let look = move |story: &crate::score::Story, log: &crate::study::ShotLog| {
        let known = |rest: i64| rest != id && came_of(story, rest).is_some();
        let found = log.places().nearest(&position, count, known);
        let view = |(rest, off_diamonds): (i64, f64)| {
            let Outcome { attempt, rack, made, balls, scratched } = came_of(story, rest)?;
            Some(NearView { rest, off_diamonds, attempt, rack, made, balls, scratched })
        };
        found.into_iter().filter_map(view).collect()
    };
    Ok(app.record.study(rest.camera.clone(), look).await?)
}

impl NearView {
    /// What came of it.
    pub(in crate::service) fn in_words(&self) -> String {
        match (self.made, self.balls) {
            (false, _) if self.scratched => "Scratch".into(),
            (false, _) => "Missed".into(),
            (true, 1) => "Made, 1 ball more".into(),
            (true, balls) => format!("Made, {balls} balls more"),
        }
    }
}
