//! What a bed looks like when nothing is on it: learned over the rests of one camera.
//!
//! Input: the bed's views at rests, with the balls that were on it. Output: for each cell of the
//! grid what usually differs there from plain cloth: spots, chalk marks, the cushions' shadows,
//! and beyond the noses the cushions and rails themselves. Method: a running mean of the cells
//! that no ball covers or shades. A cell that has plain cloth again forgets at once what lay on
//! it. Knows nothing of time.

use super::bed::BedView;
use super::obstruction::{ball_cover, is_plain};

/// A cell's mean follows the last so many rests.
const MEMORY: f32 = 8.0;
/// A ball's shade reaches this many radii from its centre.
const SHADE_RADII: f64 = 2.4;

/// The usual look of each cell of a camera's bed.
#[derive(Clone, Default)]
pub(super) struct SteadyBed {
    cells: Vec<Usual>,
}

#[derive(Clone, Copy, Default)]
struct Usual {
    difference: [f32; 3],
    rests: f32,
}

impl SteadyBed {
    /// Takes in a view at a rest.
    pub fn learn(&mut self, view: &BedView, balls: &[crate::table::TablePoint], radius_mm: f64) {
        self.cells.resize(view.difference.len(), Usual::default());
        let covered = ball_cover(view, balls, SHADE_RADII * radius_mm);
        for ((usual, difference), covered) in
            self.cells.iter_mut().zip(&view.difference).zip(covered)
        {
            if covered {
                continue;
            }
            if is_plain(*difference) && !is_plain(usual.difference) {
                usual.rests = 0.0;
            }
            usual.rests = (usual.rests + 1.0).min(MEMORY);
            for (mean, now) in usual.difference.iter_mut().zip(difference) {
                *mean += (now - *mean) / usual.rests;
            }
        }
    }

    /// What usually differs from plain cloth in a cell; none where it was never seen bare.
    pub fn usual(&self, cell: usize) -> Option<[f32; 3]> {
        self.cells.get(cell).filter(|usual| usual.rests > 0.0).map(|usual| usual.difference)
    }
}
