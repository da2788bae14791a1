//! A few balls more or fewer where nothing else moved: a hand that passes for balls or covers some, a ball
//! that drops from a pocket's edge.
//!
//! Input: a reading, its view of the bed, the last rest, the newest frame. Output: how long the picture must be
//! still for it, without what is likelier a hand, and whether a ball dropped meanwhile. Method: what a stroke does moves other balls too.

use super::super::bed::BedView;
use super::super::obstruction;
use super::super::read::{Before, Reading, Rejected};
use super::mean::Halves;
use super::same::{self, Unmoved};
use super::{RestWatch, centres};
use crate::layout::Layout;
use crate::table::TablePoint;
use image::RgbImage;
use std::time::Duration;

/// The picture must be still for so long where there are balls more, not surely balls, or fewer, and nothing
/// moved: a hand may hold still. So near to a pocket's edge, where hands are put down, what is more is taken
/// for one, and beside an arm that reaches over a rail, though skin may look like the cloth.
const STILL_WITH_MORE: Duration = Duration::from_millis(1200);
const STILL_WITH_FEWER: Duration = Duration::from_millis(800);
const HAND_AT_POCKET_MM: f64 = 60.0;
/// A ball this near to a pocket's edge lies where frames are not compared, and may have dropped since
/// the first of them; so often a still picture is begun anew for that.
const AT_POCKET_MM: f64 = 25.0;
const MOST_DROPS: u32 = 3;

impl RestWatch {
    /// Whether a ball that lay at a pocket's edge is there no more in the newest frame: those before it
    /// tell nothing then.
    pub(super) fn has_dropped(&mut self, layout: &Layout, newest: &RgbImage) -> bool {
        let hang = self.at_pockets(layout);
        let Some(still) = self.still.as_mut().filter(|still| still.drops < MOST_DROPS) else {
            return false;
        };
        if hang.is_empty() {
            return false;
        }
        let view = self.reader.view(newest);
        let before = Before { lay: &hang, ..Before::of(&self.steady) };
        let Ok((now, _)) = self.reader.read_view(newest, &view, before) else {
            return false;
        };
        let now = centres(&now.layout);
        let radius_mm = self.reader.table().ball_radius_mm();
        let there = |place: &TablePoint| now.iter().any(|at| at.distance_mm(*place) < radius_mm);
        let dropped = !hang.iter().all(there);
        if dropped {
            still.drops += 1;
            still.frames = Halves::default();
            self.pending = None;
        }
        dropped
    }

    /// Whether a ball lies where it may drop and no frame would show it.
    pub(super) fn may_drop(&self, layout: &Layout) -> bool {
        !self.at_pockets(layout).is_empty()
    }

    /// The places of balls at a pocket's edge.
    fn at_pockets(&self, layout: &Layout) -> Vec<TablePoint> {
        let table = self.reader.table();
        let hangs = |place: &TablePoint| table.beyond_rim_mm(*place) < AT_POCKET_MM;
        centres(layout).into_iter().filter(hangs).collect()
    }

    /// How long the picture must be still where a hand may pass for balls, or cover some; what is more
    /// likely a hand is left out.
    pub(super) fn needed_for_a_few(&self, reading: &mut Reading, view: &BedView) -> Duration {
        let layout = &mut reading.layout;
        let unmoved = self.rest.as_ref().and_then(|rest| same::but_for_a_few(&rest.layout, layout));
        let more = match unmoved {
            None => return Duration::ZERO,
            Some(Unmoved::Fewer) => return STILL_WITH_FEWER,
            Some(Unmoved::More(more)) => more,
        };
        let count = more.len();
        let table = self.reader.table();
        let arm = obstruction::over_rails(view, table, &self.steady);
        let mut left_out = 0;
        for ball in more.into_iter().rev() {
            let at = layout.centre_of(&layout.balls[ball]);
            let why = if table.beyond_rim_mm(at) < HAND_AT_POCKET_MM {
                "came to a pocket by itself"
            } else if arm.as_ref().is_some_and(|arm| arm.is_near(view, at)) {
                "came by itself, with an arm over the rail"
            } else {
                continue;
            };
            left_out += 1;
            layout.balls.remove(ball);
            reading.rejected.push(Rejected { at, why: why.into() });
        }
        if left_out < count { STILL_WITH_MORE } else { Duration::ZERO }
    }
}
