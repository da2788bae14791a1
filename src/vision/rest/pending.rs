//! Readings of one still picture that wait to be confirmed, of either half of its frames in turn.
//!
//! In poor light one reading in a few has a ball too many or too few, and any two of different halves
//! that agree will do. Halves that never agree are told by their places, and at last by the mean of all.

use super::mean::Part;
use super::same;
use crate::layout::Layout;
use crate::vision::read::Reading;
use std::time::Duration;

/// After so many readings that agree with none before, one is made ever less often.
const PATIENT: u32 = 4;
/// And after so many it is enough that the balls lie in the same places. A striped ball that shows its
/// white may be the cue ball in every reading of one half of the frames, and in none of the other.
const DISPUTED: u32 = 3;
/// And after so many the mean of all frames decides. Noise may hide a black ball in a rack from every
/// reading of one half.
const DISPUTED_LONG: u32 = 4;

/// The readings of one still picture so far.
#[derive(Default)]
pub(super) struct Pending {
    readings: Vec<Reading>,
    /// Readings that agreed with none before.
    disagreed: u32,
    next_at: Duration,
}

impl Pending {
    /// Whether the next reading is not to be made yet.
    pub fn waits(&self, at: Duration) -> bool {
        at < self.next_at
    }

    /// What of the still frames is to be read next: each half in turn.
    pub fn part(&self) -> Part {
        if self.disagreed >= DISPUTED_LONG {
            Part::Both
        } else {
            Part::Half(self.readings.len() % 2)
        }
    }

    /// Whether one reading was made, and none of the other half.
    pub fn is_begun(&self) -> bool {
        self.readings.len() == 1
    }

    /// Which reading before agrees with the next one.
    pub fn agreeing(&self, next: &Reading) -> Option<usize> {
        let part = self.part();
        let of_others = |alike: fn(&Layout, &Layout) -> bool| {
            self.readings.iter().enumerate().position(|(index, before)| {
                part != Part::Half(index % 2) && alike(&before.layout, &next.layout)
            })
        };
        of_others(same::agree).or_else(|| {
            let disputed = self.disagreed >= DISPUTED;
            disputed.then(|| of_others(same::same_places)).flatten()
        })
    }

    /// Keeps a reading that does not end the wait, made at a time with so long between frames.
    pub fn add(&mut self, next: Reading, agrees: bool, (at, interval): (Duration, Duration)) {
        self.disagreed += u32::from(!agrees && !self.readings.is_empty());
        self.next_at = at + interval * self.disagreed.saturating_sub(PATIENT);
        self.readings.push(next);
    }

    /// The surer of a reading before and the one that agrees with it.
    pub fn confirmed(mut self, agreeing: usize, next: Reading) -> Reading {
        surer(self.readings.swap_remove(agreeing), next)
    }
}

/// Of two readings of the same places the one whose numbers are read more surely, with its doubts. One
/// with a cue ball goes before one without: a table seldom lacks it.
fn surer(one: Reading, other: Reading) -> Reading {
    let sureness = |Reading { layout, .. }: &Reading| -> (bool, f64) {
        let sum = layout.balls.iter().map(|ball| ball.number_confidence).sum();
        (layout.cue_ball().is_some(), sum)
    };
    let one_is_surer = sureness(&one) > sureness(&other);
    let (mut surer, other) = if one_is_surer { (one, other) } else { (other, one) };
    same::doubt(&mut surer.layout, &other.layout);
    surer
}
