//! Figures over many simulated hits: counted as they come, told with what they may be off by.

use super::outcome::Outcome;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Within this of where it met the rack, a cue ball has stayed there, in millimetres.
const STAYS_MM: f64 = 200.0;
/// Standard errors to a 95 % interval.
const SIGMAS: f64 = 1.96;

/// A mean over simulated hits with half of its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Estimate {
    pub mean: f64,
    /// Half of the 95 % interval.
    pub plus_minus: f64,
}

impl Estimate {
    /// Whether two estimates differ by more than their intervals allow.
    pub fn differs_from(&self, other: &Self) -> bool {
        (self.mean - other.mean).abs() > self.plus_minus.hypot(other.plus_minus)
    }
}

/// What the simulated hits of one choice gave.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BreakFigures {
    /// Simulated hits, each with the player's errors.
    pub hits: usize,
    /// Chance that the break ball drops where it is meant to.
    pub pocketed: Estimate,
    /// Chance that the cue ball drops.
    pub scratch: Estimate,
    /// Chance that the break ball drops, the cue ball stays, and the player has a next shot: a
    /// direct pot made more often than not.
    pub next_shot: Estimate,
    /// Balls that lie clear of others with a free way into a pocket and room for the cue ball
    /// behind them; over the hits after which the run goes on.
    pub loose_balls: Estimate,
    /// Spread: racked balls that left the triangle; over the hits after which the run goes on.
    pub left_rack: Estimate,
    /// Spread: how far racked balls moved on average, in millimetres; over the same hits.
    pub moved_mm: Estimate,
    /// Racked balls that dropped besides; over the same hits.
    pub extra_balls: Estimate,
    /// Balls that the player can expect to make from here until a loose ball is missed or none is
    /// left, the break ball included; over all hits.
    pub worth_balls: Estimate,
    /// Part of the hits in which the cue ball meets the rack at all.
    pub meets_rack: f64,
    /// Of those without a scratch, the part in which the cue ball is thrown back 20 cm or more.
    pub thrown_back: f64,
    /// Of the same, the part in which it stays within 20 cm, measured along its way into the rack.
    pub stays: f64,
    /// How far it comes to lie beyond where it met the rack, along its way, in millimetres;
    /// negative for a cue ball thrown back.
    pub beyond_mm: f64,
}

/// A sum with its square.
#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    count: f64,
    sum: f64,
    square: f64,
}

impl Sum {
    fn add(&mut self, value: f64) {
        self.count += 1.0;
        self.sum += value;
        self.square += value * value;
    }

    fn mean(&self) -> f64 {
        self.sum / self.count.max(1.0)
    }

    fn estimate(&self) -> Estimate {
        let mean = self.mean();
        let spread = (self.square / self.count.max(1.0) - mean * mean).max(0.0);
        Estimate { mean, plus_minus: SIGMAS * (spread / (self.count - 1.0).max(1.0)).sqrt() }
    }

    /// A chance's interval is that of Agresti & Coull (1998): none in a hundred is not never.
    fn chance(&self) -> Estimate {
        let count = self.count + SIGMAS * SIGMAS;
        let middle = (self.sum + 0.5 * SIGMAS * SIGMAS) / count;
        let plus_minus = SIGMAS * (middle * (1.0 - middle) / count).sqrt();
        Estimate { mean: self.mean(), plus_minus }
    }
}

/// The hits of one choice, as they are played.
#[derive(Debug, Clone, Default)]
pub(super) struct Tally {
    pocketed: Sum,
    scratch: Sum,
    next_shot: Sum,
    loose: Sum,
    left_rack: Sum,
    moved_mm: Sum,
    extra: Sum,
    worth: Sum,
    beyond_mm: Sum,
    thrown_back: f64,
    stays: f64,
    met: f64,
}

fn part(yes: bool) -> f64 {
    f64::from(u8::from(yes))
}

/// Balls to be expected from an outcome: the break ball and what dropped with it, the next shot
/// with its chance, then one loose ball after the other with the player's chance of a middling
/// shot, until one is missed or none is left.
pub(super) fn worth(outcome: &Outcome, middling: f64) -> f64 {
    if !outcome.goes_on() {
        return 0.0;
    }
    let following = outcome.loose.saturating_sub(1);
    let run: f64 = (0..=following).map(|k| middling.powi(k as i32)).sum();
    1.0 + outcome.extra as f64 + outcome.next * run
}

impl Tally {
    pub fn add(&mut self, outcome: &Outcome, middling: f64) {
        self.pocketed.add(part(outcome.made));
        self.scratch.add(part(outcome.scratched));
        self.next_shot.add(part(outcome.open()));
        self.worth.add(worth(outcome, middling));
        if outcome.goes_on() {
            self.loose.add(outcome.loose as f64);
            self.left_rack.add(outcome.left_rack as f64);
            self.moved_mm.add(outcome.moved_mm);
            self.extra.add(outcome.extra as f64);
        }
        self.met += part(outcome.met_rack);
        if let Some(beyond_mm) = outcome.beyond_mm {
            self.beyond_mm.add(beyond_mm);
            self.thrown_back += part(beyond_mm < -STAYS_MM);
            self.stays += part(beyond_mm.abs() <= STAYS_MM);
        }
    }

    pub fn hits(&self) -> usize {
        self.worth.count as usize
    }

    pub fn mean_worth(&self) -> f64 {
        self.worth.mean()
    }

    pub fn figures(&self) -> BreakFigures {
        let of_met = self.beyond_mm.count.max(1.0);
        BreakFigures {
            hits: self.hits(),
            pocketed: self.pocketed.chance(),
            scratch: self.scratch.chance(),
            next_shot: self.next_shot.chance(),
            loose_balls: self.loose.estimate(),
            left_rack: self.left_rack.estimate(),
            moved_mm: self.moved_mm.estimate(),
            extra_balls: self.extra.estimate(),
            worth_balls: self.worth.estimate(),
            meets_rack: self.met / self.worth.count.max(1.0),
            thrown_back: self.thrown_back / of_met,
            stays: self.stays / of_met,
            beyond_mm: self.beyond_mm.mean(),
        }
    }
}
