//! Whether balls rolled to rest, with nobody over the table.
//!
//! Input: frame by frame what changed from the one before, window by window, and in the end the frame that
//! shows the rest. Output: whether balls were seen to roll for a while. Method: windows that changed and
//! lie side by side are a spot; what rolls makes spots about as large as a ball with its shadow, from
//! frame to frame, and against the rest that it comes to there are no larger ones either, while whoever
//! reaches over the table makes larger ones. Now and then a hand looks like a ball, but not for several
//! frames on end. Not modelled: a ball that a hand rolls and lets go; balls that roll nowhere but along
//! the rails, which are told as none.

use super::glance::{Glance, Raster};
use super::likeness::{Changes, Known, WINDOW_CELLS};
use std::collections::VecDeque;
use std::time::Duration;

/// A ball's spot is at most so many times its diameter long, and so many windows more.
const LONGEST_PER_BALL: f64 = 2.5;
const LONGEST_MORE: f64 = 3.0;
/// So many windows change at least where a ball moves from one frame to the next; fewer may be a
/// shadow's doing.
const LEAST_MOVED: usize = 3;
/// So many of the last frames that look like it are kept, so far apart.
const KEPT: usize = 16;
const APART: Duration = Duration::from_millis(90);
/// Balls rolled if so many of them on end have nobody over the table, over so long a time.
const LEAST_FRAMES: usize = 3;
const LEAST_TIME: Duration = Duration::from_millis(300);
/// Frames farther apart than this are not on end.
const ON_END: Duration = Duration::from_millis(600);

/// The last frames since the last rest in which what moved may have been balls.
#[derive(Default)]
pub(super) struct Rolling {
    frames: VecDeque<(Duration, Glance)>,
}

impl Rolling {
    /// Looks at a frame and at what changed in it since the one before.
    pub fn look(&mut self, raster: &Raster, moved: &Changes, (at, glance): (Duration, &Glance)) {
        let too_soon = self.frames.back().is_some_and(|(last, _)| at < *last + APART);
        if too_soon || !balls_alone(raster, moved) {
            return;
        }
        if self.frames.len() == KEPT {
            self.frames.pop_front();
        }
        self.frames.push_back((at, glance.clone()));
    }

    /// Whether balls were seen to roll to a rest that looks like this.
    pub fn led_to(&self, raster: &Raster, rest: &Known) -> bool {
        let mut on_end: Vec<Duration> = Vec::new();
        for (at, glance) in &self.frames {
            if !balls_alone(raster, &rest.changes(raster, glance)) {
                on_end.clear();
                continue;
            }
            if on_end.last().is_some_and(|last| *at > *last + ON_END) {
                on_end.clear();
            }
            on_end.push(*at);
            if on_end.len() >= LEAST_FRAMES && *at >= on_end[0] + LEAST_TIME {
                return true;
            }
        }
        false
    }
}

/// Whether all that changed is spots as balls make them, and one of them lies clear of the rails.
fn balls_alone(raster: &Raster, changes: &Changes) -> bool {
    let longest = LONGEST_PER_BALL * raster.ball_cells + LONGEST_MORE;
    let spots = spots(raster, changes);
    let is_clear = |spot: &Spot| !spot.at_edge && spot.longest >= LEAST_MOVED;
    spots.iter().all(|spot| spot.longest as f64 <= longest) && spots.iter().any(is_clear)
}

/// Windows that changed and lie side by side.
struct Spot {
    /// Windows along its longer side.
    longest: usize,
    /// Whether it reaches over the bed's edge.
    at_edge: bool,
}

fn spots(raster: &Raster, changes: &Changes) -> Vec<Spot> {
    let columns = changes.columns;
    let mut open: Vec<bool> = changes.windows.iter().map(|change| *change >= 1.0).collect();
    let mut spots = Vec::new();
    for first in 0..open.len() {
        if !std::mem::take(&mut open[first]) {
            continue;
        }
        let mut windows = vec![(first % columns, first / columns)];
        let mut next = 0;
        while let Some(&(column, row)) = windows.get(next) {
            next += 1;
            for y in row.saturating_sub(1)..=row + 1 {
                for x in column.saturating_sub(1)..(column + 2).min(columns) {
                    if open.get_mut(y * columns + x).is_some_and(std::mem::take) {
                        windows.push((x, y));
                    }
                }
            }
        }
        let extent = |of: fn(&(usize, usize)) -> usize| {
            let (least, most) = windows
                .iter()
                .map(of)
                .fold((usize::MAX, 0), |(least, most), at| (least.min(at), most.max(at)));
            most + 1 - least
        };
        let longest = extent(|window| window.0).max(extent(|window| window.1));
        let at_edge = windows.iter().any(|window| raster.reaches_out(*window, WINDOW_CELLS));
        spots.push(Spot { longest, at_edge });
    }
    spots
}
