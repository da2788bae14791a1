//! What may have been missed on the way to a rest: another rest, with a shot before it and one behind, or a
//! shot alone.
//!
//! In: how long nobody watched, the time that passed, what rolled, the player's pace. Out: chances. Method:
//! the longer a gap, the likelier; then how well what else is known fits one stroke more.

use super::{
    pace::Pace,
    rates::{self, Elapsed},
};

/// A pace that speaks against a second stroke does so no more than this, and against a third by as much again:
/// anyone hurries now and then.
const LEAST_FAVOUR: f64 = 0.2;

/// What is known of the way to a rest.
pub(super) struct Way<'a> {
    pub unseen_ms: u64,
    pub elapsed: Elapsed,
    /// Whether balls were seen to roll to the rest; none where nobody can say.
    pub rolled: Option<bool>,
    /// Since when, where balls rolled as sight of the table was lost.
    pub lost_rolling_ms: Option<u64>,
    /// The time in which nothing was done but playing, as far as is known.
    pub played_for_ms: Option<f64>,
    pub pace: &'a Pace,
    /// Whether fewer balls lie there.
    pub pots: bool,
}

/// The chances.
#[derive(Debug, Clone, Copy)]
pub(super) struct Missed {
    /// That a rest was missed.
    pub rest: f64,
    /// That a further one was, for each.
    pub further_rest: f64,
    /// That a shot was, in a gap, with no other behind it.
    pub shot: f64,
    /// That one was, with balls racked right behind it.
    pub end: f64,
    /// How many times better the time that passed fits hands than a stroke.
    pub hands_fit: f64,
}

impl Missed {
    pub fn on(way: &Way) -> Self {
        let &Way { unseen_ms, elapsed, .. } = way;
        // Hands that moved balls and a stroke that did tell less apart by the time they took.
        let by_pace = |strokes, least: f64| {
            if way.pots { way.favours(strokes).max(least) } else { 1.0 }
        };
        let two = by_pace(2, LEAST_FAVOUR);
        let three = by_pace(3, LEAST_FAVOUR * LEAST_FAVOUR);
        let of_gap = rates::hidden(unseen_ms, elapsed);
        let mut missed = Self {
            rest: rates::favoured(of_gap, two),
            further_rest: rates::favoured(of_gap, three),
            shot: rates::shot_hidden(unseen_ms, elapsed),
            end: rates::end_hidden(unseen_ms, elapsed),
            hands_fit: way.favours(1).recip(),
        };
        match (way.lost_rolling_ms, way.rolled) {
            (Some(ms), Some(true)) if rates::outlasts_a_stroke(ms) => {
                missed.rest = rates::hidden_in_roll(of_gap, ms, two);
                let further = rates::further_hidden(unseen_ms, elapsed);
                missed.further_rest = rates::favoured(further, three);
            }
            (Some(_), Some(false)) => missed.shot = rates::shot_begun(missed.shot),
            _ => {}
        }
        missed
    }

    /// That so many rests were missed in between, each behind a shot.
    pub fn rests(&self, rests: i64) -> f64 {
        match rests {
            ..=0 => 1.0,
            n => self.rest * self.further_rest.powi(i32::try_from(n - 1).unwrap_or(i32::MAX)),
        }
    }
}

impl Way<'_> {
    /// How many times likelier so many strokes are to have taken that time than one less, where a gap can
    /// hide any.
    fn favours(&self, strokes: u32) -> f64 {
        let in_gap = self.played_for_ms.filter(|_| !rates::hides_none(self.unseen_ms));
        in_gap.map_or(1.0, |ms| self.pace.favours(strokes, ms))
    }
}
