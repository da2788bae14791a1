//! A hit of the player's own, tried on a layout; nothing is kept.

use super::{
    advice::{physics, player},
    pictures::{in_turn, layout_in},
    published::layout,
};
use crate::{
    advice::{AdviceError, Advisor, OwnHit, Player},
    layout::{Layout, diagram::WayEnd},
    motion::{Bed, Hit, Physics, PlayError},
    service::{App, Problem, Sent},
    table::{DiamondPoint, TablePoint, TableSize},
};
use axum::{
    Json,
    extract::{Query, State, rejection::QueryRejection},
    http::StatusCode,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};

/// The same hit gets the same answer.
const SEED: u64 = 1;
/// How far a way's points may lie off it, in millimetres: less than is seen on a screen.
const WAY_WITHIN_MM: f64 = 2.0;

/// A layout and the hit that is tried on it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HitBody {
    #[schema(schema_with = layout)]
    layout: Value,
    hit: WishedHit,
}

/// How the cue ball is hit.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WishedHit {
    /// The direction in which the cue ball leaves: 0 toward the foot, 90 toward the rail at y = 4.
    aim_deg: f64,
    /// The speed with which it leaves.
    #[schema(minimum = 0.001, maximum = 20)]
    speed_m_s: f64,
    /// Where the tip meets the ball: 1 as high as it holds, -1 as low. The squares of height and side
    /// come to 1 at the most.
    #[serde(default)]
    #[schema(minimum = -1, maximum = 1)]
    height: f64,
    /// 1 as far right as the tip holds, -1 left.
    #[serde(default)]
    #[schema(minimum = -1, maximum = 1)]
    side: f64,
    /// How far the cue's butt is raised.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 80)]
    elevation_deg: f64,
}

/// Who plays, and where.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct PlayParams {
    /// `beginner`, `club` or `expert`; where nothing is said, as the settings say, or `club`.
    #[param(pattern = "^(beginner|club|expert)$")]
    player: Option<String>,
    /// The camera over the table, whose cloth is played on as far as it is known; an ordinary one where
    /// nothing is said.
    camera: Option<String>,
}

/// What becomes of a hit. Places are in diamonds, `[x, y]`.
#[derive(Debug, Serialize, ToSchema)]
pub struct TriedHit {
    /// What it comes to, in sentences.
    said: Vec<String>,
    /// Until the last ball lies still.
    duration_s: f64,
    /// The balls that moved.
    ways: Vec<BallWay>,
    /// Where the cue ball first meets a ball.
    meeting: Option<[f64; 2]>,
    /// Where the cue ball comes to rest in hits with the player's errors, as far as they are made.
    lies: Vec<[f64; 2]>,
    /// Share of the hits with errors that are made; none where no ball is meant to drop.
    made: Option<f64>,
    /// Share in which the cue ball drops.
    scratch: f64,
    /// The layout at rest.
    #[schema(schema_with = layout)]
    layout: Layout,
}

/// One ball's way.
#[derive(Debug, Serialize, ToSchema)]
pub struct BallWay {
    /// The ball's place in the list of the layout that was sent, from 0.
    ball: usize,
    /// Where its centre passes, straight from point to point.
    points: Vec<[f64; 2]>,
    drops: bool,
}

/// Try a hit on a layout: where the balls run, and how often it is made.
#[utoipa::path(
    post, path = "/api/hits", tag = "advice", params(PlayParams), request_body = HitBody,
    responses(
        (status = 200, description = "What becomes of it", body = TriedHit),
        (status = 400, description = "The body is no JSON, or there is no such player",
            body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "No layout with a cue ball, or a hit that cannot be; the detail \
            names the ball or the field", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn post_hit(
    State(app): State<App>,
    params: Result<Query<PlayParams>, QueryRejection>,
    sent: Sent,
) -> Result<Json<TriedHit>, Problem> {
    let params = params?.0;
    let player = player(&app, params.player.as_deref())?;
    let physics = physics(&app, params.camera.as_deref());
    let HitBody { layout, hit } = sent.into_a("hit", "no_hit")?;
    let layout = layout_in(layout)?;
    in_turn(&app, move || tried((&layout, &physics), player, &hit.meant())).await?.map(Json)
}

impl WishedHit {
    fn meant(self) -> Hit {
        Hit {
            aim_rad: self.aim_deg.to_radians(),
            speed_m_s: self.speed_m_s,
            height: self.height,
            side: self.side,
            elevation_rad: self.elevation_deg.to_radians(),
        }
    }
}

fn tried(
    (layout, physics): (&Layout, &Physics),
    player: Player,
    hit: &Hit,
) -> Result<TriedHit, Problem> {
    let TableSize { length_mm, width_mm, ball_diameter_mm } = layout.table;
    let table = TableSize::new(length_mm, width_mm, ball_diameter_mm).map_err(AdviceError::from)?;
    let bed = Bed::new(&table, physics).map_err(AdviceError::from)?;
    let advisor = Advisor::new(&bed, player, SEED).map_err(AdviceError::from)?;
    let balls = advisor.balls(layout).map_err(AdviceError::from)?;
    let OwnHit { shot, meeting, made, scratch, lies, said } = advisor.own_hit(&balls, hit)?;
    let at = |point: TablePoint| {
        let DiamondPoint { x, y } = DiamondPoint::from_table(point, &table);
        [x, y].map(|value| (1000.0 * value).round() / 1000.0)
    };
    let moved = shot.ways(layout, WAY_WITHIN_MM).into_iter().filter(|way| way.points.len() > 1);
    let ways = moved.map(|way| BallWay {
        ball: way.ball,
        points: way.points.into_iter().map(at).collect(),
        drops: way.end == WayEnd::Drops,
    });
    Ok(TriedHit {
        said,
        duration_s: shot.duration_s,
        ways: ways.collect(),
        meeting: meeting.map(at),
        lies: lies.into_iter().map(at).collect(),
        made: made.map(|made| made.mean),
        scratch: scratch.mean,
        layout: shot.layout_after(layout),
    })
}

impl From<PlayError> for Problem {
    fn from(error: PlayError) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, "no_hit", format!("{error}."))
    }
}
