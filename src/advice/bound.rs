//! When a search ends: at a time, after so much work, or because nobody wants its answer any more.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// When a search ends, whatever comes first; never by itself where nothing is said.
#[derive(Debug, Clone, Default)]
pub struct Bound {
    pub until: Option<Instant>,
    /// Positions of a pattern that are gone on from.
    pub positions: Option<usize>,
    /// Turned true by whoever no longer wants the answer.
    pub given_up: Option<Arc<AtomicBool>>,
}

impl Bound {
    /// Ends after a time.
    pub fn within(time: Duration) -> Self {
        Self { until: Some(Instant::now() + time), ..Self::default() }
    }

    /// Ends after so many positions: the same on every machine.
    pub const fn of_positions(positions: usize) -> Self {
        Self { until: None, positions: Some(positions), given_up: None }
    }

    /// Whether a search that went on from so many positions has to end.
    pub(super) fn is_reached(&self, positions: usize) -> bool {
        self.positions.is_some_and(|most| positions >= most) || self.is_over()
    }

    /// Whether the time is over, or the answer no longer wanted.
    pub fn is_over(&self) -> bool {
        self.until.is_some_and(|until| Instant::now() >= until) || self.is_given_up()
    }

    /// Whether the answer is no longer wanted.
    pub fn is_given_up(&self) -> bool {
        self.given_up.as_ref().is_some_and(|given_up| given_up.load(Ordering::Relaxed))
    }

    /// The same, ending after a part of what is left of the time.
    pub(super) fn part(&self, part: f64) -> Self {
        let now = Instant::now();
        let shortened = |until: Instant| {
            now + until.saturating_duration_since(now).mul_f64(part.clamp(0.0, 1.0))
        };
        Self { until: self.until.map(shortened), ..self.clone() }
    }
}
