//! What a bed looks like when nothing is on it: learned over the rests of one camera.
//!
//! Input: the bed's views at rests, with the balls that were on it. Output: for each cell of the
//! grid what usually differs there from plain cloth: spots, chalk marks, the cushions' shadows,
//! and beyond the noses the cushions and rails themselves. Method: a running mean of the cells
//! that no ball covers or shades. A cell that has plain cloth again forgets at once what lay on
//! it. What is in the way look after look, in the same cells with the same colours, is in nobody's
//! way: a worn line or a cushion's deep shadow. It is learned too, so that a table that has one is
//! not obstructed for ever. Knows nothing of time.

use super::bed::BedView;
use super::obstruction::{ball_cover, disc, is_plain, is_unusual};
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
/// Patches to a side of such a place, each 12 mm wide.
const PATCHES: usize = 4;
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

    /// How far a disc of the bed is from its usual look, as [`change_from`] has it; none where a part
    /// of the disc was not seen bare at two rests.
    pub fn change(&self, view: &BedView, centre: TablePoint, radius_mm: f64) -> Option<f32> {
        let usual = |cell: usize| self.cells.get(cell).filter(|usual| usual.rests >= LEAST_RESTS);
        change_from(view, (centre, radius_mm), |cell| usual(cell).map(|usual| usual.difference))
    }

    /// What usually differs from plain cloth in a cell; none where it was never seen bare.
    pub fn usual(&self, cell: usize) -> Option<[f32; 3]> {
        self.cells.get(cell).filter(|usual| usual.rests > 0.0).map(|usual| usual.difference)
    }
}

/// How far a disc of the bed is from another look of it, logarithmic: each patch's mean change, in the
/// channel that changed most, averaged over the patches. Noise counts for little in them, and a ball's
/// light and dark parts do not make up for each other. None where that look is not known of a part.
pub(super) fn change_from(
    view: &BedView,
    (centre, radius_mm): (TablePoint, f64),
    other: impl Fn(usize) -> Option<[f32; 3]>,
) -> Option<f32> {
    let mut patches = [([0.0_f32; 3], 0.0_f32); PATCHES * PATCHES];
    let (mut known, mut cells) = (0, 0);
    for (index, place) in disc(view, centre, radius_mm) {
        cells += 1;
        let Some(other) = other(index) else { continue };
        known += 1;
        let [column, row] = [place.x_mm - centre.x_mm, place.y_mm - centre.y_mm].map(|off_mm| {
            let part = (off_mm / radius_mm + 1.0) / 2.0;
            ((part * PATCHES as f64) as usize).min(PATCHES - 1)
        });
        let (sum, count) = &mut patches[row * PATCHES + column];
        *count += 1.0;
        for ((sum, now), other) in sum.iter_mut().zip(view.difference[index]).zip(other) {
            *sum += now - other;
        }
    }
    let is_known = cells > 0 && f64::from(known) >= KNOWN_PART * f64::from(cells);
    let changes = patches
        .iter()
        .filter(|(_, count)| *count > 0.0)
        .map(|(sum, count)| sum.iter().map(|sum| (sum / count).abs()).fold(0.0_f32, f32::max));
    let (sum, seen) = changes.fold((0.0, 0.0), |(sum, seen), change| (sum + change, seen + 1.0));
    is_known.then(|| sum / seen)
}

#[cfg(test)]
mod tests {
    use super::super::bed::cell_place;
    use super::*;
    use crate::random::Random;
    use std::sync::Arc;

    const RADIUS_MM: f64 = 28.6;

    /// A bed with a dark strip along one side, as a grainy camera sees it, and on it what `thing` adds.
    fn view(random: &mut Random, thing: impl Fn(TablePoint) -> f32) -> BedView {
        let (columns, rows) = (120, 90);
        let difference = (0..columns * rows)
            .map(|index| {
                let place = cell_place((index % columns) as f64, (index / columns) as f64);
                let strip = if place.y_mm < 40.0 { -0.8 } else { 0.0 };
                let add = thing(place);
                [0.3, -0.2, 0.1].map(|tint| strip + tint + add + 0.3 * random.normal() as f32)
            })
            .collect();
        BedView {
            columns,
            rows,
            difference,
            cells: Arc::new([]),
            noise: 0.3,
            cloth: [0.0; 3],
            cloth_part: 1.0,
        }
    }

    #[test]
    fn noise_leaves_a_bare_bed_as_it_always_looks_and_a_ball_does_not() {
        let mut random = Random::stream(5, 0);
        let mut steady = SteadyBed::default();
        let lay = TablePoint::new(150.0, 120.0);
        let ball = |at: TablePoint| {
            move |place: TablePoint| if place.distance_mm(at) < RADIUS_MM { 0.9 } else { 0.0 }
        };
        let (edge, open) = (TablePoint::new(90.0, 28.0), TablePoint::new(200.0, 200.0));
        steady.learn(&view(&mut random, ball(lay)), &[lay], RADIUS_MM);
        let bare = view(&mut random, ball(lay));
        assert_eq!(steady.change(&bare, open, RADIUS_MM), None, "one rest is too few");
        steady.learn(&bare, &[lay], RADIUS_MM);
        for at in [edge, open] {
            let change = |view: &BedView| steady.change(view, at, RADIUS_MM).unwrap();
            let bare = change(&view(&mut random, ball(lay)));
            assert!(bare < 0.2, "{bare} at {at:?}");
            let came = change(&view(&mut random, ball(at)));
            assert!(came > 0.7, "{came} at {at:?}");
        }
        let never_bare = steady.change(&view(&mut random, ball(lay)), lay, RADIUS_MM);
        assert_eq!(never_bare, None, "a ball has always lain there");
    }
}
