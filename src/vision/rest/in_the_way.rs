//! What was found in the way over the cloth, and whether it is gone.
//!
//! Input: the beds of a picture in which something was in the way and of a later one. Output: whether
//! its own cells look otherwise now. The comparison of whole pictures may miss that: the corner of a
//! rack that is drawn away over a rail is thin, and nothing else moves any more.

use super::likeness::Known;
use crate::vision::bed::{BedView, largest};
use crate::vision::obstruction::Obstruction;
use std::time::Duration;

/// It is looked at again this often.
const EVERY: Duration = Duration::from_millis(300);
/// Its cells change by more than this when it goes (logarithmic colour), and by so many times the
/// bed's noise: half of what makes cloth unusual in hue.
const GONE: f32 = 0.07;
const GONE_NOISE: f32 = 2.0;

/// Something in the way.
pub(super) struct InTheWay {
    /// The still picture that shows it, where it is kept.
    pub picture: Option<Known>,
    /// Its cells and what they looked like.
    cells: Vec<(usize, [f32; 3])>,
    looked_at: Duration,
}

impl InTheWay {
    /// A thing as a bed shows it; none where it is not known where it is.
    pub fn new(
        picture: Option<Known>,
        (thing, view): (Option<Obstruction>, &BedView),
        at: Duration,
    ) -> Self {
        let cells = thing.map(|thing| thing.cells().collect::<Vec<usize>>()).unwrap_or_default();
        let cells = cells.into_iter().map(|cell| (cell, view.difference[cell])).collect();
        Self { picture, cells, looked_at: at }
    }

    /// Whether it is time to look at it again, which is noted.
    pub fn is_due(&mut self, at: Duration) -> bool {
        let due = at >= self.looked_at + EVERY;
        if due {
            self.looked_at = at;
        }
        due
    }

    /// Whether its cells look otherwise in a later bed of the same camera.
    pub fn is_gone(&self, view: &BedView) -> bool {
        let change = |(cell, was): &(usize, [f32; 3])| {
            let now = view.difference.get(*cell)?;
            Some(largest(&[0, 1, 2].map(|i| now[i] - was[i])))
        };
        let sum: f32 = self.cells.iter().filter_map(change).sum();
        sum > self.cells.len() as f32 * GONE.max(GONE_NOISE * view.noise) && !self.cells.is_empty()
    }
}
