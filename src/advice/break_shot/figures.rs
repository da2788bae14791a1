//! Figures over many simulated hits: counted as they come, told with what they may be off by.

use super::outcome::Outcome;
use crate::advice::estimate::{Estimate, Sum};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Within this of where it met the rack, a cue ball has stayed there, in millimetres.
const STAYS_MM: f64 = 200.0;
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

pub(super) fn part(yes: bool) -> f64 {
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

impl BreakFigures {
    /// The figures of hits, `middling` being the player's chance of a middling shot.
    pub(super) fn of(outcomes: &[Outcome], middling: f64) -> Self {
        let over = |value: &dyn Fn(&Outcome) -> f64| Sum::of(outcomes.iter().map(value));
        let going_on = |value: &dyn Fn(&Outcome) -> f64| {
            Sum::of(outcomes.iter().filter(|outcome| outcome.goes_on()).map(value)).estimate()
        };
        let beyond: Vec<f64> = outcomes.iter().filter_map(|outcome| outcome.beyond_mm).collect();
        let of_met = |yes: &dyn Fn(f64) -> bool| {
            beyond.iter().filter(|mm| yes(**mm)).count() as f64 / beyond.len().max(1) as f64
        };
        Self {
            hits: outcomes.len(),
            pocketed: over(&|outcome| part(outcome.made)).chance(),
            scratch: over(&|outcome| part(outcome.scratched)).chance(),
            next_shot: over(&|outcome| part(outcome.open())).chance(),
            loose_balls: going_on(&|outcome| outcome.loose as f64),
            left_rack: going_on(&|outcome| outcome.left_rack as f64),
            moved_mm: going_on(&|outcome| outcome.moved_mm),
            extra_balls: going_on(&|outcome| outcome.extra as f64),
            worth_balls: over(&|outcome| worth(outcome, middling)).estimate(),
            meets_rack: over(&|outcome| part(outcome.met_rack)).mean(),
            thrown_back: of_met(&|mm| mm < -STAYS_MM),
            stays: of_met(&|mm| mm.abs() <= STAYS_MM),
            beyond_mm: Sum::of(beyond.iter().copied()).mean(),
        }
    }
}

/// How much a value is greater in one choice's hits than in another's: hit by hit, since the n-th
/// hits of both have the same errors; over those hits for which both have it.
pub(super) fn gain(
    of: &[Outcome],
    over: &[Outcome],
    value: impl Fn(&Outcome) -> Option<f64>,
) -> Estimate {
    let differences = of.iter().zip(over).filter_map(|(of, over)| Some(value(of)? - value(over)?));
    Estimate::of(differences)
}
