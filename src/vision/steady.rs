//! What a bed looks like when nothing is on it: learned over the rests of one camera.
//!
//! Input: the bed's views at rests, with the balls that were on it. Output: for each cell of the
//! grid what usually differs there from plain cloth: spots, chalk marks, the cushions' shadows,
//! and beyond the noses the cushions and rails themselves. Method: a running mean of the cells
//! that no ball covers or shades. A cell that has plain cloth again forgets at once what lay on
//! it. What is in the way look after look, in the same cells with the same colours, is in nobody's
//! way: a worn line or a cushion's deep shadow. It is learned too, so that a table that has one is
//! not obstructed for ever. Knows nothing of time.

use super::bed::{BedView, cell_place};
use super::obstruction::{ball_cover, is_plain, is_unusual};
use crate::table::TablePoint;

/// A cell's mean follows the last so many rests.
const MEMORY: f32 = 8.0;
/// A cell that looks alike in so many looks in a row, with no rest among them, looks so usually.
const PERSISTS: f32 = 5.0;
/// A cell's usual look is trusted against a ball from so many rests on: at one a ball may have been
/// missed that lay there.
const LEAST_RESTS: f32 = 2.0;
/// So much of a place has to be known to be held against its usual look.
const KNOWN_PART: f64 = 0.75;
/// A ball's shade reaches this many radii from its centre.
const SHADE_RADII: f64 = 2.4;

/// The usual look of each cell of a camera's bed.
#[derive(Clone, Default)]
pub(super) struct SteadyBed {
    cells: Vec<Usual>,
    /// What cells look like since the last rest, in looks with something in the way.
    suspected: Vec<Usual>,
}

#[derive(Clone, Copy, Default)]
struct Usual {
    difference: [f32; 3],
    rests: f32,
}

impl Usual {
    fn take(&mut self, difference: [f32; 3]) {
        self.rests = (self.rests + 1.0).min(MEMORY);
        for (mean, now) in self.difference.iter_mut().zip(difference) {
            *mean += (now - *mean) / self.rests;
        }
    }
}

impl SteadyBed {
    /// Takes in a view with something in the way, some seconds after the last.
    pub fn suspect(&mut self, view: &BedView) {
        self.cells.resize(view.difference.len(), Usual::default());
        self.suspected.resize(view.difference.len(), Usual::default());
        for ((usual, suspected), difference) in
            self.cells.iter_mut().zip(&mut self.suspected).zip(&view.difference)
        {
            if is_unusual(*difference, suspected.difference, false) {
                *suspected = Usual::default();
            }
            suspected.take(*difference);
            if suspected.rests >= PERSISTS {
                *usual = Usual { rests: 1.0, ..*suspected };
            }
        }
    }

    /// Takes in a view at a rest.
    pub fn learn(&mut self, view: &BedView, balls: &[TablePoint], radius_mm: f64) {
        self.suspected.clear();
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
            usual.take(*difference);
        }
    }

    /// How far a disc of the bed is from its usual look, logarithmic: each quarter's mean change, in
    /// the channel that changed most, averaged over the quarters, so that noise counts for little. None
    /// where a part of it was not seen bare at two rests.
    pub fn change(&self, view: &BedView, centre: TablePoint, radius_mm: f64) -> Option<f32> {
        let mut quarters = [([0.0_f32; 3], 0.0_f32); 4];
        let disc = ball_cover(view, &[centre], radius_mm);
        let (mut known, mut cells) = (0, 0);
        for index in disc.iter().enumerate().filter(|(_, inside)| **inside).map(|(index, _)| index)
        {
            cells += 1;
            let Some(usual) = self.cells.get(index).filter(|usual| usual.rests >= LEAST_RESTS)
            else {
                continue;
            };
            known += 1;
            let place = cell_place((index % view.columns) as f64, (index / view.columns) as f64);
            let beyond = [place.x_mm > centre.x_mm, place.y_mm > centre.y_mm].map(usize::from);
            let (sum, count) = &mut quarters[beyond[0] + 2 * beyond[1]];
            *count += 1.0;
            for ((sum, now), usual) in
                sum.iter_mut().zip(view.difference[index]).zip(usual.difference)
            {
                *sum += now - usual;
            }
        }
        let is_known = cells > 0 && f64::from(known) >= KNOWN_PART * f64::from(cells);
        let changes = quarters
            .iter()
            .filter(|(_, count)| *count > 0.0)
            .map(|(sum, count)| sum.iter().map(|sum| (sum / count).abs()).fold(0.0_f32, f32::max));
        let (sum, seen) =
            changes.fold((0.0, 0.0), |(sum, seen), change| (sum + change, seen + 1.0));
        is_known.then(|| sum / seen)
    }

    /// What usually differs from plain cloth in a cell; none where it was never seen bare.
    pub fn usual(&self, cell: usize) -> Option<[f32; 3]> {
        self.cells.get(cell).filter(|usual| usual.rests > 0.0).map(|usual| usual.difference)
    }
}
