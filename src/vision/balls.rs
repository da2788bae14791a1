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
/// A corner's jaws begin this far along the noses, and between the jaws of any pocket a ball's
/// centre has this much play to either side.
const CORNER_MOUTH_MM: f64 = 90.0;
const MOUTH_PLAY_MM: f64 = 37.0;
/// Candidates may lie this far beyond where a ball on the rail lies, and show this much cloth.
const CANDIDATE_REACH_MM: f64 = 12.0;
const CANDIDATE_COVERED: f64 = 0.4;
/// More candidates than these are looked at on no frame: a rack, its shadows and the rails' edges.
const MOST_CANDIDATES: usize = 48;
/// A ball's centre this far inside a pocket's rim has dropped.
const DROPPED_MM: f64 = 4.0;

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
            if (off && self.beyond_rim_mm(proposal.at) > self.table.ball_diameter_mm)
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

    /// Distance of a place from the nearest pocket's rim, negative inside.
    fn beyond_rim_mm(&self, place: TablePoint) -> f64 {
        self.table
            .pockets()
            .into_iter()
            .map(|pocket| pocket.centre.distance_mm(place) - pocket.radius_mm)
            .fold(f64::INFINITY, f64::min)
    }

    /// Why no ball can lie at a place; none where one can.
    pub fn misplaced(&self, place: TablePoint) -> Option<&'static str> {
        let radius_mm = self.table.ball_radius_mm();
        let inside = |at_mm: f64, length_mm: f64| {
            at_mm > radius_mm - DROPPED_MM && at_mm < length_mm - radius_mm + DROPPED_MM
        };
        let on_bed =
            inside(place.x_mm, self.table.length_mm) && inside(place.y_mm, self.table.width_mm);
        let beyond_rim_mm = self.beyond_rim_mm(place);
        if beyond_rim_mm < -DROPPED_MM {
            Some("pocketed")
        } else if !on_bed && !self.in_a_mouth(place) {
            Some("off the bed")
        } else {
            None
        }
    }

    /// Whether a ball fits here between the jaws of a pocket, beyond the noses.
    fn in_a_mouth(&self, place: TablePoint) -> bool {
        let (l, w) = (self.table.length_mm, self.table.width_mm);
        // From the corner that is nearest, into the table.
        let (a, b) = (place.x_mm.min(l - place.x_mm), place.y_mm.min(w - place.y_mm));
        let off_diagonal_mm = (a - b).abs() / std::f64::consts::SQRT_2;
        let in_corner =
            a < CORNER_MOUTH_MM && b < CORNER_MOUTH_MM && off_diagonal_mm < MOUTH_PLAY_MM;
        let in_side =
            b < self.table.ball_radius_mm() && (place.x_mm - l / 2.0).abs() < MOUTH_PLAY_MM;
        in_corner || in_side
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
