//! A layout set up again: the table held against it, and the shots from it counted.
//!
//! Nothing is kept of it: what is told follows from the rests since the practice began, so it is
//! the same whoever asks and after whatever restart.

use super::{
    layouts::find,
    pictures::layout_in,
    published::{layout, maybe_layout},
};
use crate::{
    again::{Ellipse, Ending, Guide, INSIDE, Practice, Wanted},
    layout::{BallKind, Layout},
    record::RestQuery,
    service::{App, CameraName, Problem, Sent},
    table::{DiamondPoint, TablePoint, TableSize},
};
use axum::{Json, extract::State, http::StatusCode};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

/// Rests read in one go, and the most that are followed: many evenings of one shot.
const PAGE: u32 = 500;
const MOST_RESTS: usize = 20_000;

/// The most shots that can be left out.
const MOST_LEFT_OUT: usize = 1000;

/// What is to be set up, and where.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AgainBody {
    /// A layout of one's own.
    #[schema(required = false, schema_with = maybe_layout)]
    layout: Option<Value>,
    /// Or a rest, whose layout is wanted.
    rest: Option<i64>,
    /// The camera over the table; the one that saw the latest rest where none is given.
    #[schema(max_length = 40, pattern = "^[A-Za-z0-9_-]+$")]
    camera: Option<String>,
    /// The rest at which the practice began: shots before do not count.
    #[serde(default)]
    after: i64,
    /// Rests whose shots do not count, since they were none.
    #[serde(default)]
    #[schema(max_items = 1000)]
    left_out: Vec<i64>,
}

/// A practice as far as it has come.
pub(in crate::service) struct Standing {
    pub(in crate::service) camera: String,
    pub(in crate::service) wanted: Layout,
    pub(in crate::service) practice: Practice,
    /// Its rests are left out of the score.
    pub(in crate::service) uncounted: bool,
}

impl AgainBody {
    /// A practice of a rest's layout.
    pub(in crate::service) const fn of_rest(rest: i64, camera: Option<String>, after: i64) -> Self {
        Self { layout: None, rest: Some(rest), camera, after, left_out: Vec::new() }
    }

    /// Follows the rests since it began.
    pub(in crate::service) async fn stand(self, app: &App) -> Result<Standing, Problem> {
        let unclear =
            |detail: &str| Problem::new(StatusCode::UNPROCESSABLE_ENTITY, "no_practice", detail);
        let wanted = match (self.layout, self.rest) {
            (Some(layout), None) => layout_in(layout)?,
            (None, Some(rest)) => find(app, rest).await?.layout,
            _ => return Err(unclear("Give either a layout or the number of a rest.")),
        };
        if self.left_out.len() > MOST_LEFT_OUT {
            return Err(unclear("More shots are left out than one practice has."));
        }
        let named = self.camera.map(|name| name.parse::<CameraName>()).transpose()?;
        let newest = app.record.newest(named.map(|name| name.to_string()), 1).await?.pop();
        let newest =
            newest.ok_or_else(|| Problem::not_found("This camera has seen no rest yet."))?;
        let camera = newest.camera;
        let mut practice = Practice::new(wanted.clone(), self.left_out);
        // How the table lay when it began belongs to it: it may have been set up already.
        let (mut after, mut followed) = (self.after.saturating_sub(1), 0);
        while followed < MOST_RESTS {
            let camera = Some(camera.clone());
            let query = RestQuery { camera, after, limit: PAGE, ..RestQuery::default() };
            let rests = app.record.list(query).await?;
            let Some(last) = rests.last() else { break };
            after = last.id;
            followed += rests.len();
            for rest in &rests {
                practice.take(rest.id, &rest.layout);
            }
        }
        if practice.guide().is_none() {
            // No rest of this camera's since: the table as it lies.
            practice.take(newest.id, &newest.layout);
        }
        let uncounted = app.record.practises(camera.clone()).await?;
        Ok(Standing { camera, wanted, practice, uncounted })
    }
}

/// How a wanted ball stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BallStands {
    /// Within 5 mm of its place.
    InPlace,
    Away,
    /// No ball on the table is left for it.
    Missing,
}

/// A wanted ball. Places are in diamonds, in the wanted layout's frame.
#[derive(Debug, Serialize, ToSchema)]
pub struct WantedView {
    /// `cue` or `object`.
    #[schema(value_type = String)]
    kind: BallKind,
    number: Option<u8>,
    x: f64,
    y: f64,
    stands: BallStands,
    /// How far the ball that stands for it has to go toward the foot, in millimetres.
    along_mm: Option<f64>,
    /// The same across the table, to the left as seen from the head.
    across_mm: Option<f64>,
    /// The number of the ball that stands for it, where that is surely another.
    another: Option<u8>,
}

/// A ball that has to be taken off.
#[derive(Debug, Serialize, ToSchema)]
pub struct ExtraView {
    /// `cue` or `object`.
    #[schema(value_type = String)]
    kind: BallKind,
    number: Option<u8>,
    x: f64,
    y: f64,
}

/// What a shot came to.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum EndingView {
    Made,
    Missed,
    Scratched,
}

/// A shot, with where the cue ball came to rest, in diamonds.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShotView {
    /// The rest that it led to: names it in `left_out`.
    rest: i64,
    ending: EndingView,
    potted: usize,
    x: Option<f64>,
    y: Option<f64>,
    counts: bool,
}

/// An ellipse in which a part of further shots will end, in millimetres of the table frame.
#[derive(Debug, Serialize, ToSchema)]
pub struct EllipseView {
    x_mm: f64,
    y_mm: f64,
    half_length_mm: f64,
    half_breadth_mm: f64,
    /// The direction of its length, from x toward y.
    turned_rad: f64,
    /// The part of further shots that end inside.
    inside: f64,
}

/// A practice as far as it has come.
#[derive(Debug, Serialize, ToSchema)]
pub struct AgainView {
    camera: String,
    #[schema(schema_with = layout)]
    wanted: Layout,
    balls: Vec<WantedView>,
    extra: Vec<ExtraView>,
    /// Every ball is in its place, and the shot is waited for.
    ready: bool,
    /// What is seen was turned by 180°, since nothing tells which end is the foot.
    turned: bool,
    shots: Vec<ShotView>,
    made: usize,
    missed: usize,
    scratched: usize,
    /// Between which bounds the chance of making it lies, with 95 % confidence; none before the
    /// first shot.
    chance: Option<[f64; 2]>,
    /// Where the cue ball ends when the shot is made; none below five such shots.
    ellipse: Option<EllipseView>,
}

/// A practice from its JSON.
pub(in crate::service) fn practice_in(sent: Sent) -> Result<AgainBody, Problem> {
    sent.into_a("practice", "no_practice")
}

/// Hold the table against a wanted layout, and count the shots from it.
///
/// For each wanted ball which way and how far the ball on the table has to go, from the latest
/// rest; and what the shots came to since the practice began. Nothing is kept.
#[utoipa::path(
    post, path = "/api/again", tag = "layouts", request_body = AgainBody,
    responses(
        (status = 200, description = "The practice as far as it has come", body = AgainView),
        (status = 400, description = "The body is no JSON, or no camera's name", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is no such rest, or the camera has seen none",
            body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and no practice", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_again(State(app): State<App>, sent: Sent) -> Result<Json<AgainView>, Problem> {
    Ok(Json(practice_in(sent)?.stand(&app).await?.into()))
}

impl From<Standing> for AgainView {
    fn from(standing: Standing) -> Self {
        let Standing { camera, wanted, practice, uncounted: _ } = standing;
        let table = practice.guide().map_or(wanted.table, |guide| guide.table);
        let tally = practice.tally();
        let guide = practice.guide();
        let extra = |(kind, number, at): &(BallKind, Option<u8>, TablePoint)| {
            let DiamondPoint { x, y } = DiamondPoint::from_table(*at, &table);
            ExtraView { kind: *kind, number: *number, x, y }
        };
        Self {
            camera,
            balls: guide.map_or_else(Vec::new, |guide| {
                guide.wanted.iter().map(|ball| WantedView::of(ball, &table)).collect()
            }),
            extra: guide.map_or_else(Vec::new, |guide| guide.extra.iter().map(extra).collect()),
            ready: practice.is_ready(),
            turned: guide.is_some_and(|guide: &Guide| guide.turned),
            shots: practice.shots().iter().map(|shot| shot_view(shot, &table)).collect(),
            made: tally.made,
            missed: tally.missed,
            scratched: tally.scratched,
            chance: tally.chance().map(|(low, high)| [low, high]),
            ellipse: practice.scatter().ellipse.map(EllipseView::from),
            wanted,
        }
    }
}

impl WantedView {
    fn of(ball: &Wanted, table: &TableSize) -> Self {
        let DiamondPoint { x, y } = DiamondPoint::from_table(ball.at, table);
        let stands = match ball.partner {
            None => BallStands::Missing,
            Some(_) if ball.is_in_place() => BallStands::InPlace,
            Some(_) => BallStands::Away,
        };
        Self {
            kind: ball.kind,
            number: ball.number,
            x,
            y,
            stands,
            along_mm: ball.partner.map(|partner| partner.by_mm[0]),
            across_mm: ball.partner.map(|partner| partner.by_mm[1]),
            another: ball.partner.and_then(|partner| partner.another),
        }
    }
}

fn shot_view(shot: &crate::again::Shot, table: &TableSize) -> ShotView {
    let cue = shot.cue.map(|at| DiamondPoint::from_table(at, table));
    ShotView {
        rest: shot.rest,
        ending: match shot.ending {
            Ending::Made => EndingView::Made,
            Ending::Missed => EndingView::Missed,
            Ending::Scratched => EndingView::Scratched,
        },
        potted: shot.potted,
        x: cue.map(|cue| cue.x),
        y: cue.map(|cue| cue.y),
        counts: shot.counts,
    }
}

impl From<Ellipse> for EllipseView {
    fn from(ellipse: Ellipse) -> Self {
        let [half_length_mm, half_breadth_mm] = ellipse.half_mm;
        Self {
            x_mm: ellipse.middle.x_mm,
            y_mm: ellipse.middle.y_mm,
            half_length_mm,
            half_breadth_mm,
            turned_rad: ellipse.turned_rad,
            inside: INSIDE,
        }
    }
}
