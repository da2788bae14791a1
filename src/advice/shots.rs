//! Every shot that is on.
//!
//! Input: a layout's balls, a player. Output: the shots, the likeliest first, each with its measures
//! and with its chance as this player plays it. Method: direct pots by geometry (`direct`), the rest
//! by sweeping the face of each ball that the cue ball can meet (`scan`); each shot's aim is solved
//! with throw (`aim`), the hit is played many times with the player's errors (`odds`). Not modelled:
//! shots off a cushion before the first ball, over two cushions, jumps.

use super::advisor::Advisor;
use super::aim;
use super::direct::{self, Direct};
use super::odds::odds;
use super::outcome::{self, cue_of, objects};
use super::scan::{self, Found, Kind};
use crate::motion::{Hit, Placed};
use schemars::JsonSchema;
use serde::Serialize;

/// Shots with less chance by the first look are not played out.
const LEAST_CHANCE: f64 = 0.01;
/// How often each shot is played.
const TIMES: usize = 120;
/// At most so many indirect shots are played out, those of the widest aims.
const MOST_INDIRECT: usize = 12;
/// Heights of the tip for plain hits: a natural roll, and what keeps the cue ball out of the pocket.
const PLAIN_HEIGHTS: [f64; 3] = [0.4, 0.0, -0.4];

/// A shot that is on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ShotOn {
    /// The ball that drops, by number.
    pub ball: usize,
    /// Where, numbered as in the whole advice.
    pub pocket: usize,
    #[serde(flatten)]
    pub way: Kind,
    /// Between the cue ball's way and the way of the ball it meets.
    pub cut_deg: f64,
    /// The cue ball's way to the meeting.
    pub to_meeting_mm: f64,
    /// From the ball that drops to its pocket.
    pub to_pocket_mm: f64,
    /// How far the aim may be off to either side.
    pub tolerance_deg: f64,
    /// The gap that the ways leave to the nearest other ball; none for indirect shots and where no
    /// other ball is.
    pub clearance_mm: Option<f64>,
    /// Chance that the cue ball drops.
    pub scratch: f64,
    /// Chance that the ball drops and the cue ball does not.
    pub probability: f64,
    /// The hit that these chances are for: where the shot is direct with a natural roll, or lower
    /// where the cue ball would drop too.
    pub hit: Hit,
}

impl Advisor<'_> {
    /// Every shot that is on, the likeliest first.
    pub fn shots(&mut self, balls: &[Placed]) -> Vec<ShotOn> {
        let Some(cue) = cue_of(balls) else { return Vec::new() };
        let mut shots: Vec<ShotOn> = self
            .directs(balls)
            .iter()
            .filter(|direct| direct.chance > LEAST_CHANCE)
            .filter_map(|direct| self.direct_shot(balls, direct))
            .collect();
        let mut found: Vec<Found> =
            objects(balls).flat_map(|first| scan::indirect(self.bed, balls, cue, first)).collect();
        found.sort_by(|a, b| b.half_aim_rad.total_cmp(&a.half_aim_rad));
        let indirect = found.iter().take(MOST_INDIRECT);
        shots.extend(indirect.filter_map(|found| self.indirect_shot(balls, found)));
        shots.retain(|shot| shot.probability > LEAST_CHANCE);
        // A way around is no shot of its own where the straight one is as good.
        let direct: Vec<(usize, usize, f64)> = shots
            .iter()
            .filter(|shot| shot.way == Kind::Direct)
            .map(|shot| (shot.ball, shot.pocket, shot.probability))
            .collect();
        shots.retain(|shot| {
            let better = |(ball, pocket, probability): &(usize, usize, f64)| {
                (*ball, *pocket) == (shot.ball, shot.pocket) && *probability >= shot.probability
            };
            shot.way == Kind::Direct || !direct.iter().any(better)
        });
        shots.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        shots
    }

    /// The direct pots by the fast formula.
    pub(super) fn directs(&mut self, balls: &[Placed]) -> Vec<Direct> {
        let Self { bed, player, windows, .. } = self;
        direct::directs(bed, player, balls, |place| windows.from(place))
    }

    /// A direct pot's natural roll at an ordinary pace. None where the aim is not found.
    pub(super) fn natural_hit(&self, balls: &[Placed], direct: &Direct) -> Option<Hit> {
        self.plain_hit(balls, direct, PLAIN_HEIGHTS[0])
    }

    /// A direct pot at an ordinary pace with the tip at a height.
    fn plain_hit(&self, balls: &[Placed], direct: &Direct, height: f64) -> Option<Hit> {
        let &Direct { to_meeting_mm, to_pocket_mm, cut_rad, .. } = direct;
        let speed = aim::least_speed_m_s(self.bed, to_meeting_mm, to_pocket_mm, cut_rad);
        self.aimed(balls, direct, &Hit { height, ..Hit::centre(0.0, speed) }, 4)
    }

    /// The plain hit that leaves the cue ball on the table.
    fn safe_hit(&self, balls: &[Placed], direct: &Direct) -> Option<Hit> {
        let goes_on = |hit: &Hit| {
            let played = outcome::play(self.bed, balls, hit);
            played.is_some_and(|(played, _)| played.goes_on())
        };
        let hits = PLAIN_HEIGHTS.map(|height| self.plain_hit(balls, direct, height));
        hits.into_iter().flatten().find(goes_on).or(hits[0])
    }

    /// A hit with the aim that pockets a ball, throw allowed for.
    pub(super) fn aimed(
        &self,
        balls: &[Placed],
        direct: &Direct,
        hit: &Hit,
        tries: usize,
    ) -> Option<Hit> {
        let ball = balls.iter().find(|ball| ball.id == direct.ball)?;
        let wished = direct.window.middle_rad();
        let aim_rad = aim::aim_for(self.bed, cue_of(balls)?, ball, wished, hit, tries)?;
        Some(Hit { aim_rad, ..*hit })
    }

    fn direct_shot(&self, balls: &[Placed], direct: &Direct) -> Option<ShotOn> {
        let hit = self.safe_hit(balls, direct)?;
        let goal = (direct.ball, direct.pocket);
        let odds = odds(self.bed, &self.player, balls, (&hit, goal), (TIMES, self.seed));
        Some(ShotOn {
            ball: direct.ball,
            pocket: direct.pocket,
            way: Kind::Direct,
            cut_deg: direct.cut_rad.to_degrees(),
            to_meeting_mm: direct.to_meeting_mm,
            to_pocket_mm: direct.to_pocket_mm,
            tolerance_deg: direct.half_aim_rad.to_degrees(),
            clearance_mm: direct.clearance_mm.is_finite().then_some(direct.clearance_mm),
            scratch: odds.scratch,
            probability: odds.chance,
            hit,
        })
    }

    fn indirect_shot(&self, balls: &[Placed], found: &Found) -> Option<ShotOn> {
        let place = |id: usize| balls.iter().find(|ball| ball.id == id).map(|ball| ball.place);
        let (cue, first) = (cue_of(balls)?, place(found.kind.first(found.ball))?);
        let (_, shot) = outcome::play(self.bed, balls, &found.hit)?;
        let meeting = outcome::first_meeting(&shot)?;
        let at = meeting.balls.iter().find(|change| change.ball == outcome::CUE)?.place;
        let cut_rad = super::window::turn(cue.direction_to(at), at.direction_to(first));
        let goal = (found.ball, found.pocket);
        let odds = odds(self.bed, &self.player, balls, (&found.hit, goal), (TIMES, self.seed));
        let mouth = self.bed.table().pockets()[found.pocket].centre;
        Some(ShotOn {
            ball: found.ball,
            pocket: found.pocket,
            way: found.kind,
            cut_deg: cut_rad.abs().to_degrees(),
            to_meeting_mm: cue.distance_mm(at),
            to_pocket_mm: place(found.ball)?.distance_mm(mouth),
            tolerance_deg: found.half_aim_rad.to_degrees(),
            clearance_mm: None,
            scratch: odds.scratch,
            probability: odds.chance,
            hit: found.hit,
        })
    }
}
