//! What a position is worth: the balls that the player may still expect from it.
//!
//! Input: balls at rest. Output: a number of balls. Method: the likeliest direct pot, and after it a
//! run of the player's own length, the shorter the more balls have no open pocket; with one object
//! ball left fourteen are racked, and what counts is that it can be pocketed and that the cue ball
//! meets the rack on its way from it, tried in `motion` at break speed. A quick judgement for the
//! leaves of a search; what is told to the player is played out. Degenerates: without a pot that is
//! on, a position is worth nearly nothing.

use super::advisor::Advisor;
use super::direct::{self, Direct};
use super::normal;
use super::outcome::{CUE, cue_of, objects, play};
use crate::motion::{EventKind, Hit, Placed};
use crate::table::{Rack, TablePoint};

/// A pot is worth more than a look from this chance on, and so many are looked at.
const LIKELY: f64 = 0.3;
const LIKELY_POTS: usize = 6;
/// Half the interval of aims of an ordinary pot in a run, in radians.
const ORDINARY_AIM_RAD: f64 = 0.0032;
/// The longest run that a position is credited with.
const MOST_RUN: f64 = 12.0;
/// What is left of a run where no ball has an open pocket.
const CLOSED: f64 = 0.25;
/// A position from which all fifteen are racked.
const ALL_RACKED: f64 = 0.3;
/// The last ball or the cue ball lies in the rack's way and is moved.
const IN_THE_WAY: f64 = 0.6;
/// Break shots tried: speed and heights.
const BREAK_SPEED_M_S: f64 = 5.0;
const BREAK_HEIGHTS: [f64; 3] = [-0.35, 0.1, 0.55];
/// What a run is worth after the cue ball meets the rack at once, off a cushion, or not at all.
const RACK_MET: [f64; 3] = [0.8, 0.5, 0.08];

impl Advisor<'_> {
    /// The balls that a run of this player brings from an ordinary position.
    pub(super) fn ordinary_run(&self) -> f64 {
        let chance = normal::within(ORDINARY_AIM_RAD, self.player.aim_rad);
        (chance / (1.0 - chance).max(1e-3)).min(MOST_RUN)
    }

    /// What a position is worth, in balls to come.
    pub(super) fn worth(&mut self, balls: &[Placed]) -> f64 {
        match objects(balls).count() {
            0 => ALL_RACKED,
            1 => self.break_worth(balls),
            _ => {
                let best = self.quick_directs(balls).iter().map(|d| d.chance).fold(0.0, f64::max);
                let open = CLOSED + (1.0 - CLOSED) * self.open_share(balls);
                best * (1.0 + self.ordinary_run() * open)
            }
        }
    }

    /// Direct pots with windows taken over from near places.
    pub(super) fn quick_directs(&mut self, balls: &[Placed]) -> Vec<Direct> {
        let Self { bed, player, windows, .. } = self;
        direct::directs(bed, player, balls, |place| windows.about(place))
    }

    /// The direct pots from which break-outs and nudges are looked for, the likeliest first.
    pub(super) fn likely_pots(&mut self, balls: &[Placed]) -> Vec<Direct> {
        let mut directs = self.quick_directs(balls);
        directs.retain(|direct| direct.chance >= LIKELY);
        directs.sort_by(|a, b| b.chance.total_cmp(&a.chance));
        directs.truncate(LIKELY_POTS);
        directs
    }

    /// The share of object balls that have an open pocket and room for the cue ball behind them.
    pub(super) fn open_share(&mut self, balls: &[Placed]) -> f64 {
        let count = objects(balls).count().max(1) as f64;
        let ids: Vec<Placed> = objects(balls).copied().collect();
        ids.iter().map(|ball| self.openness(balls, ball)).sum::<f64>() / count
    }

    /// How open a ball's best pocket is: 1 for a whole mouth, 0 for none.
    pub(super) fn openness(&mut self, balls: &[Placed], ball: &Placed) -> f64 {
        let diameter = self.bed.table().ball_diameter_mm;
        let mut best: f64 = 0.0;
        for (pocket, window) in self.windows.about(ball.place).into_iter().enumerate() {
            let Some(whole) = window else { continue };
            let Some(open) = direct::open_window(self.bed, balls, ball, pocket, whole) else {
                continue;
            };
            let at = ball.place.moved(open.middle_rad(), -diameter);
            let taken =
                |other: &Placed| other.id != ball.id && other.place.distance_mm(at) < diameter;
            if !objects(balls).any(taken) {
                best = best.max(open.width_rad() / whole.width_rad());
            }
        }
        best
    }

    /// The worth of a position with one object ball left: the break ball.
    fn break_worth(&mut self, balls: &[Placed]) -> f64 {
        let table = self.bed.table();
        let (Some(cue), Some(ball)) = (cue_of(balls), objects(balls).next().copied()) else {
            return 0.0;
        };
        let rack = Rack::on(table);
        if rack.holds_part_of(ball.place) || rack.holds_part_of(cue) {
            return IN_THE_WAY;
        }
        let racked = racked(&rack);
        let all: Vec<Placed> = balls.iter().copied().chain(racked.iter().copied()).collect();
        let run = self.ordinary_run();
        let directs = self.quick_directs(&all).into_iter().filter(|direct| direct.ball == ball.id);
        let likely: Vec<Direct> = directs.filter(|direct| direct.chance > 0.1).collect();
        let mut best: f64 = 0.0;
        for direct in &likely {
            let met = self.meets_rack(balls, direct, &racked);
            best = best.max(direct.chance * (1.0 + run * met));
        }
        best
    }

    /// How well the cue ball comes into the rack from a pot of the break ball, played hard.
    fn meets_rack(&self, balls: &[Placed], direct: &Direct, racked: &[Placed]) -> f64 {
        let reach = self.bed.table().ball_diameter_mm;
        let mut best = RACK_MET[2];
        for height in BREAK_HEIGHTS {
            let hit = Hit { height, ..Hit::centre(0.0, BREAK_SPEED_M_S) };
            let Some(hit) = self.aimed(balls, direct, &hit, 1) else { continue };
            let Some((_, shot)) = play(self.bed, balls, &hit) else { continue };
            // The cue ball's corners: from the pot on, up to the second cushion.
            let mut from: Option<TablePoint> = None;
            let mut cushions = 0;
            for event in &shot.events {
                let Some(cue) = event.balls.iter().find(|change| change.ball == CUE) else {
                    continue;
                };
                if let Some(from) = from {
                    let near =
                        |ball: &Placed| ball.place.distance_to_way_mm(from, cue.place) < reach;
                    if racked.iter().any(near) {
                        best = best.max(RACK_MET[cushions]);
                        break;
                    }
                }
                match event.kind {
                    EventKind::Balls => from = Some(cue.place),
                    EventKind::Cushion | EventKind::Jaw { .. } if from.is_some() => {
                        cushions += 1;
                        from = Some(cue.place);
                    }
                    _ => from = from.map(|_| cue.place),
                }
                if cushions > 1 {
                    break;
                }
            }
        }
        best
    }
}

/// The fourteen of a continuing rack, with ids that no ball of a layout has.
pub(super) fn racked(rack: &Rack) -> Vec<Placed> {
    let placed = |(k, place): (usize, &TablePoint)| Placed { id: RACKED_FROM + k, place: *place };
    rack.continuing().iter().enumerate().map(placed).collect()
}

/// Where the ids of balls begin that are racked in thought.
const RACKED_FROM: usize = 100;
