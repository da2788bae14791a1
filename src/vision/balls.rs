//! Which places on the bed are balls, by geometry alone.
//!
//! Input: a frame and a camera over a table. Output: places that may be balls, or fitted balls, no
//! two in one place. Method: the edges propose places (`find`), each is fitted
//! (`ball_fit`), and what shows too little of an outline, lies off the bed or in a pocket, or is
//! bare cloth is refused; of places nearer to each other than two balls can be the better stays.

use super::ball_fit::{self, BallFit, Widening};
use super::bed::{BedGrid, BedView};
use super::find;
use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use image::RgbImage;

/// Least part of a ball's outline that is seen.
const LEAST_SEEN: f64 = 0.5;
/// Least part under a ball that differs from cloth.
const LEAST_COVERED: f64 = 0.55;
/// Centres of two balls lie at least this part of a diameter apart, to the errors of fitting.
const LEAST_APART: f64 = 0.9;
/// Candidates may lie this far beyond where a ball on the rail lies, and show this much cloth.
const CANDIDATE_REACH_MM: f64 = 12.0;
const CANDIDATE_COVERED: f64 = 0.4;
/// More candidates than these are looked at on no frame: a rack, its shadows and the rails' edges.
const MOST_CANDIDATES: usize = 48;
/// A ball's centre this far inside a pocket's rim has dropped.
const DROPPED_MM: f64 = 4.0;
/// A ball that hangs in a corner lies no farther out than this, places being off a little.
const IN_CORNER_MM: f64 = 14.0;
/// A ball this far from a nose is taken to lie at it.
const AT_NOSE_MM: f64 = 4.0;
/// A ball that is seen so far over a nose lies at its cushion: fit and calibration may err by that.
const OVER_NOSE_MM: f64 = 9.0;

/// Looks at one frame after another from one camera over one table.
pub(super) struct BallFinder {
    pub camera: Camera,
    pub table: TableSize,
    grid: BedGrid,
}

impl BallFinder {
    pub fn new(camera: &Camera, table: &TableSize) -> Self {
        Self { camera: *camera, table: *table, grid: BedGrid::new(camera, table) }
    }

    /// Places on a frame that may be balls, strongest first: the edges' proposals but those that
    /// lie where no ball can or on bare cloth.
    pub fn candidates(&self, view: &BedView) -> Vec<TablePoint> {
        let mut places = Vec::new();
        for proposal in find::proposals(view, &self.camera, &self.table) {
            let near_rail_mm = CANDIDATE_REACH_MM;
            let beyond = |at_mm: f64, length_mm: f64| {
                let inset_mm = self.table.ball_radius_mm() - near_rail_mm;
                at_mm < inset_mm || at_mm > length_mm - inset_mm
            };
            let off = beyond(proposal.at.x_mm, self.table.length_mm)
                || beyond(proposal.at.y_mm, self.table.width_mm);
            if (off && self.table.beyond_rim_mm(proposal.at) > self.table.ball_diameter_mm)
                || self.is_hopeless(proposal.at)
                || find::part_covered(view, proposal.at, &self.table) < CANDIDATE_COVERED
            {
                continue;
            }
            places.push(proposal.at);
            if places.len() == MOST_CANDIDATES {
                break;
            }
        }
        places
    }

    /// Whether no ball can lie at a place or near enough for a proposal to be this far off: deep in
    /// a pocket, or over the cushions beside one.
    fn is_hopeless(&self, place: TablePoint) -> bool {
        (0..8).all(|eighth| {
            let (sin, cos) = (f64::from(eighth) * std::f64::consts::FRAC_PI_4).sin_cos();
            let x_mm = place.x_mm + CANDIDATE_REACH_MM * cos;
            let y_mm = place.y_mm + CANDIDATE_REACH_MM * sin;
            self.misplaced(TablePoint::new(x_mm, y_mm)).is_some()
        }) && self.misplaced(place).is_some()
    }

    /// The frame on the bed's grid.
    pub fn view(&self, frame: &RgbImage) -> BedView {
        self.grid.view(frame)
    }

    /// Why no ball can lie at a place; none where one can.
    pub fn misplaced(&self, place: TablePoint) -> Option<&'static str> {
        let radius_mm = self.table.ball_radius_mm();
        let outside = |at_mm: f64, length_mm: f64| (-at_mm).max(at_mm - length_mm);
        let outside_mm =
            outside(place.x_mm, self.table.length_mm).max(outside(place.y_mm, self.table.width_mm));
        // Beyond the lines of the noses a ball lies in a mouth, near its hole; at a corner, whose hole
        // lies farther in, no farther out than its jaws let it.
        let beyond_rim_mm = self.table.beyond_rim_mm(place);
        let at_side = (place.x_mm / self.table.length_mm - 0.5).abs() < 0.25;
        let in_mouth = beyond_rim_mm < radius_mm && (at_side || outside_mm < IN_CORNER_MM);
        let in_reach = outside_mm <= 0.0 || in_mouth;
        let clear = |[from, to]: [TablePoint; 2]| {
            place.distance_to_way_mm(from, to) > radius_mm - OVER_NOSE_MM
        };
        if beyond_rim_mm < -DROPPED_MM {
            Some("pocketed")
        } else if !in_reach || !self.table.noses().into_iter().all(clear) {
            Some("off the bed")
        } else {
            None
        }
    }

    /// Whether a ball at a place would reach over a nose by more than places are off.
    pub fn is_over_nose(&self, place: TablePoint) -> bool {
        self.nearer_to_nose(place, self.table.ball_radius_mm() - DROPPED_MM)
    }

    /// Whether a ball at a place would touch a nose, or nearly.
    pub fn is_at_nose(&self, place: TablePoint) -> bool {
        self.nearer_to_nose(place, self.table.ball_radius_mm() + AT_NOSE_MM)
    }

    fn nearer_to_nose(&self, place: TablePoint, least_mm: f64) -> bool {
        let mut noses = self.table.noses().into_iter();
        noses.any(|[from, to]| place.distance_to_way_mm(from, to) < least_mm)
    }

    /// A place as no cushion is in the way of a ball there.
    pub fn beside_noses(&self, place: TablePoint) -> TablePoint {
        let radius_mm = self.table.ball_radius_mm();
        self.table.noses().into_iter().fold(place, |at, [from, to]| {
            let nearest = at.nearest_on_way(from, to);
            let apart_mm = nearest.distance_mm(at);
            if apart_mm >= radius_mm || apart_mm < radius_mm - OVER_NOSE_MM {
                return at;
            }
            let out = radius_mm / apart_mm;
            TablePoint::new(
                nearest.x_mm + out * (at.x_mm - nearest.x_mm),
                nearest.y_mm + out * (at.y_mm - nearest.y_mm),
            )
        })
    }

    /// The balls on a frame, by their outlines alone.
    pub fn find(&self, frame: &RgbImage, widening: Widening) -> Vec<BallFit> {
        let view = self.grid.view(frame);
        let mut fits: Vec<(f64, BallFit)> = Vec::new();
        for proposal in find::proposals(&view, &self.camera, &self.table) {
            let fit = ball_fit::fit(frame, &self.camera, &self.table, proposal.at, widening);
            let Some(fit) = fit else { continue };
            let covered = find::part_covered(&view, fit.centre, &self.table);
            let is_ball = self.misplaced(fit.centre).is_none()
                && fit.seen > LEAST_SEEN
                && covered > LEAST_COVERED;
            if is_ball {
                let support = 0.3 + f64::from(proposal.support);
                fits.push((fit.seen * support - 0.2 * fit.rms_px, fit));
            }
        }
        fits.sort_by(|a, b| b.0.total_cmp(&a.0));
        let apart_mm = LEAST_APART * self.table.ball_diameter_mm;
        let mut balls: Vec<BallFit> = Vec::new();
        for (_, fit) in fits {
            if balls.iter().all(|other| other.centre.distance_mm(fit.centre) > apart_mm) {
                balls.push(fit);
            }
        }
        balls
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        camera::{Lens, Pose},
        table::PocketKind,
    };
    use std::f64::consts::PI;

    #[test]
    fn a_ball_that_hangs_on_a_jaw_lies_on_the_bed_and_a_dropped_one_does_not() {
        for table in [TableSize::NINE_FOOT, TableSize::SEVEN_FOOT] {
            let finder = BallFinder::new(&camera(&table), &table);
            let radius_mm = table.ball_radius_mm();
            let hangs = |at: &TablePoint| table.beyond_rim_mm(*at) > 0.0;
            let mut beyond_noses = 0;
            for tip in table.noses().into_iter().flatten() {
                let around = (0..72).map(|step| tip.moved(PI * f64::from(step) / 36.0, radius_mm));
                let inside = |at_mm: f64, length_mm: f64| at_mm > 0.0 && at_mm < length_mm;
                let near = |at: &TablePoint| {
                    let between_noses =
                        inside(at.x_mm, table.length_mm) && inside(at.y_mm, table.width_mm);
                    between_noses || table.beyond_rim_mm(*at) < 0.5 * radius_mm
                };
                let clear = |at: &TablePoint| {
                    let gap = |[a, b]: [TablePoint; 2]| at.distance_to_way_mm(a, b);
                    table.noses().into_iter().map(gap).fold(f64::MAX, f64::min) > radius_mm - 0.1
                };
                for at in around.filter(hangs).filter(near).filter(clear) {
                    assert_eq!(finder.misplaced(at), None, "{at:?} at the jaw {tip:?}");
                    let inset_mm = at.y_mm.min(table.width_mm - at.y_mm);
                    beyond_noses += usize::from(inset_mm < 0.5 * radius_mm);
                }
            }
            assert!(beyond_noses > 10, "{beyond_noses} between the jaws of side pockets");
            for pocket in table.pockets() {
                assert_eq!(finder.misplaced(pocket.centre), Some("pocketed"));
            }
            // Two places that a hand on the wood behind a corner was taken for balls at.
            for (out_mm, along_mm) in [(29.0, 64.0), (86.0, 37.0)] {
                let hand = TablePoint::new(table.length_mm + out_mm, along_mm);
                assert_eq!(finder.misplaced(hand), Some("off the bed"));
            }
            let side = table.pockets().into_iter().find(|p| p.kind == PocketKind::Side).unwrap();
            // Frozen to a rail and seen 7 mm over its nose: at the cushion. What is seen on the
            // cushion is none.
            let seen = TablePoint::new(700.0, radius_mm - 7.0);
            assert!(finder.misplaced(seen).is_none() && finder.is_over_nose(seen));
            let lies = finder.beside_noses(seen);
            assert!((lies.x_mm - 700.0).abs() < 1e-9 && (lies.y_mm - radius_mm).abs() < 1e-9);
            assert_eq!(finder.misplaced(TablePoint::new(700.0, 12.0)), Some("off the bed"));
            let free = TablePoint::new(700.0, radius_mm + 0.5);
            assert!(finder.beside_noses(free) == free && !finder.is_over_nose(free));
            let away = TablePoint::new(700.0, radius_mm + 10.0);
            assert!(finder.is_at_nose(free) && !finder.is_at_nose(away));
            let on_wood = TablePoint::new(side.centre.x_mm + 120.0, side.centre.y_mm);
            assert_eq!(finder.misplaced(on_wood), Some("off the bed"));
        }
    }

    /// Straight above the middle.
    fn camera(table: &TableSize) -> Camera {
        let position = table.centre_spot().at_height(2500.0);
        let pose = Pose::looking(position, [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]);
        Camera { lens: Lens::pinhole(1280, 720, 1000.0), pose }
    }
}
