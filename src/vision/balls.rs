//! Which places on the bed are balls, by geometry alone.
//!
//! Input: a frame and a camera over a table. Output: fitted balls, no two in one place, and what
//! was looked at and refused. Method: the edges propose places (`find`), each is fitted
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
/// A ball's centre this far inside a pocket's rim has dropped.
const DROPPED_MM: f64 = 4.0;

/// Looks at one frame after another from one camera over one table.
pub(super) struct BallFinder {
    pub camera: Camera,
    pub table: TableSize,
    grid: BedGrid,
}

/// What a frame shows.
pub(super) struct Found {
    pub balls: Vec<BallFit>,
    /// Places that were looked at, and why there is no ball.
    pub refused: Vec<(TablePoint, &'static str)>,
    pub view: BedView,
}

impl BallFinder {
    pub fn new(camera: &Camera, table: &TableSize) -> Self {
        Self { camera: *camera, table: *table, grid: BedGrid::new(camera, table) }
    }

    /// The balls on a frame.
    pub fn find(&self, frame: &RgbImage, widening: Widening) -> Found {
        let view = self.grid.view(frame);
        let mut refused = Vec::new();
        let mut fits: Vec<(f64, BallFit)> = Vec::new();
        for proposal in find::proposals(&view, &self.camera, &self.table) {
            let fit = ball_fit::fit(frame, &self.camera, &self.table, proposal.at, widening);
            let Some(fit) = fit else { continue };
            let covered = find::part_covered(&view, fit.centre, &self.table);
            match self.refusal(&fit, covered) {
                Some(why) => refused.push((fit.centre, why)),
                None => {
                    let support = 0.3 + f64::from(proposal.support);
                    fits.push((fit.seen * support - 0.2 * fit.rms_px, fit));
                }
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
        Found { balls, refused, view }
    }

    /// Why a fit is no ball on the table; none where it is one.
    fn refusal(&self, fit: &BallFit, covered: f64) -> Option<&'static str> {
        let (radius_mm, c) = (self.table.ball_radius_mm(), fit.centre);
        let inside = |at_mm: f64, length_mm: f64| {
            at_mm > radius_mm - DROPPED_MM && at_mm < length_mm - radius_mm + DROPPED_MM
        };
        let on_bed = inside(c.x_mm, self.table.length_mm) && inside(c.y_mm, self.table.width_mm);
        let from_rim_mm = self
            .table
            .pockets()
            .into_iter()
            .map(|pocket| pocket.centre.distance_mm(c) - pocket.radius_mm)
            .fold(f64::INFINITY, f64::min);
        if from_rim_mm < -DROPPED_MM {
            Some("pocketed")
        } else if !on_bed && from_rim_mm > 1.2 * radius_mm {
            Some("off the bed")
        } else if fit.seen < LEAST_SEEN {
            Some("too little of an outline")
        } else if covered < LEAST_COVERED {
            Some("mostly cloth")
        } else {
            None
        }
    }
}
