//! One attempt on paper: its run sheet as PDF, PNG and SVG.

use super::{
    pictures::{as_svg, drawn, saved_as, width_within},
    score::{ScoreParams, seen_camera},
};
use crate::{
    advice::Level,
    layout::diagram,
    run_sheet::{self, Conditions, RunSheet, rests_of},
    score::{RestSeen, Story},
    service::{App, Problem},
};
use axum::{
    body::Bytes,
    extract::{
        Path, Query, State,
        rejection::{PathRejection, QueryRejection},
    },
    response::Response,
};
use serde::Deserialize;
use utoipa::IntoParams;

/// Width of a PNG sheet in pixels, where nothing is said, and between what it can be.
const USUAL_WIDTH_PX: u32 = 1400;
const WIDTHS_PX: std::ops::RangeInclusive<u32> = 400..=2400;

/// How large.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct SheetParams {
    /// The picture's width in pixels; 1400 where nothing is said.
    #[param(minimum = 400, maximum = 2400)]
    width: Option<u32>,
}

/// Where an attempt's sheet is, by the ending of its kind.
pub(in crate::service) fn address(camera: &str, attempt: u32, ending: &str) -> String {
    format!("/api/attempts/{attempt}/sheet.{ending}?camera={camera}")
}

/// An attempt's run sheet as a PDF: pages of A4.
#[utoipa::path(
    get, path = "/api/attempts/{id}/sheet.pdf", tag = "score",
    params(
        ("id" = u32, Path, description = "The attempt's id"),
        ScoreParams,
    ),
    responses(
        (status = 200, description = "The sheet", body = Vec<u8>, content_type = "application/pdf"),
        (status = 400, description = "A parameter cannot be understood", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is no such attempt", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_pdf(
    State(app): State<App>,
    id: Result<Path<u32>, PathRejection>,
    camera: Result<Query<ScoreParams>, QueryRejection>,
) -> Result<Response, Problem> {
    let sheet = look_up(&app, id, camera).await?;
    let name = format!("attempt-{}-run-{}.pdf", sheet.attempt, sheet.run);
    let draw = move || {
        let pages = run_sheet::pages(&sheet);
        diagram::pdf_of(&pages, &sheet.title(), run_sheet::UNITS_PER_MM)
    };
    Ok(saved_as(&name, drawn(&app, "application/pdf", draw).await?))
}

/// An attempt's run sheet as one picture.
#[utoipa::path(
    get, path = "/api/attempts/{id}/sheet.png", tag = "score",
    params(
        ("id" = u32, Path, description = "The attempt's id"),
        ScoreParams,
        SheetParams,
    ),
    responses(
        (status = 200, description = "The sheet", body = Vec<u8>, content_type = "image/png"),
        (status = 400, description = "A parameter cannot be understood", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is no such attempt", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_png(
    State(app): State<App>,
    id: Result<Path<u32>, PathRejection>,
    camera: Result<Query<ScoreParams>, QueryRejection>,
    params: Result<Query<SheetParams>, QueryRejection>,
) -> Result<Response, Problem> {
    let width_px = width_within(params?.0.width, USUAL_WIDTH_PX, &WIDTHS_PX)?;
    let sheet = look_up(&app, id, camera).await?;
    drawn(&app, "image/png", move || diagram::png_of(&run_sheet::long(&sheet), width_px)).await
}

/// An attempt's run sheet as one drawing.
#[utoipa::path(
    get, path = "/api/attempts/{id}/sheet.svg", tag = "score",
    params(
        ("id" = u32, Path, description = "The attempt's id"),
        ScoreParams,
    ),
    responses(
        (status = 200, description = "The sheet", body = String, content_type = "image/svg+xml"),
        (status = 400, description = "A parameter cannot be understood", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is no such attempt", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_svg(
    State(app): State<App>,
    id: Result<Path<u32>, PathRejection>,
    camera: Result<Query<ScoreParams>, QueryRejection>,
) -> Result<Response, Problem> {
    let sheet = look_up(&app, id, camera).await?;
    Ok(as_svg(Bytes::from(run_sheet::long(&sheet))))
}

async fn look_up(
    app: &App,
    id: Result<Path<u32>, PathRejection>,
    camera: Result<Query<ScoreParams>, QueryRejection>,
) -> Result<RunSheet, Problem> {
    let Path(id) = id?;
    let camera = seen_camera(app, camera?.0.camera).await?;
    let none = || Problem::not_found(format!("{camera} has no attempt {id}."));
    let look = move |story: &Story| Some((story.attempt(id)?.clone(), story.high_run()));
    let found = app.record.story(camera.clone(), look).await?;
    let (attempt, high_run) = found.ok_or_else(none)?;
    let mut rests = Vec::new();
    for id in rests_of(&attempt) {
        let Some(rest) = app.record.by_id(id).await? else { continue };
        let (at_unix_ms, unseen_ms) = (rest.at.as_millisecond(), rest.unseen_ms);
        rests.push(RestSeen { id, at_unix_ms, unseen_ms, layout: rest.layout });
    }
    let advice = app.advising.background().map(|player| {
        let level = Level::ALL.into_iter().find(|level| level.prior() == player);
        level.map_or("the player".into(), |level| format!("a {} player", level.name()))
    });
    let conditions = Conditions { camera, high_run: high_run.unwrap_or(0), advice };
    Ok(RunSheet::of(&attempt, &rests, conditions))
}
