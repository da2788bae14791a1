//! Reading a frame with a calibration: the balls, where they lie and which they are.

use super::ball_fit::{self, BallFit};
use super::bed::BedGrid;
use super::find;
use crate::camera::Calibration;
use crate::layout::{Ball, BallKind, Layout};
use crate::table::{DiamondPoint, TablePoint};
use image::RgbImage;
use serde::Serialize;
use thiserror::Error;

/// Something that was looked at and found to be no ball on the table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rejected {
    pub at: TablePoint,
    /// Why it is no ball, in a few words.
    pub why: String,
}

/// What a frame shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    pub layout: Layout,
    pub rejected: Vec<Rejected>,
}

/// Why a frame could not be read.
#[derive(Debug, Error)]
pub enum ReadError {
    #[error(
        "the frame is {got} pixels, the calibration was made for {wanted}: calibrate again with a frame of this camera"
    )]
    WrongSize { got: String, wanted: String },
    #[error(
        "the table is not where the calibration has it: {why}. Calibrate again; the camera may have been moved"
    )]
    TableMoved { why: String },
}

/// Least part of a ball's outline that is seen.
const LEAST_SEEN: f64 = 0.5;
/// Least part under a ball that differs from cloth.
const LEAST_COVERED: f64 = 0.55;
/// Centres of two balls lie at least this part of a diameter apart, to the errors of reading.
const LEAST_APART: f64 = 0.9;

/// Reads frames of one camera; what a calibration gives once is kept.
pub struct Reader {
    calibration: Calibration,
    grid: BedGrid,
}

impl Reader {
    /// A reader for a calibration.
    pub fn new(calibration: Calibration) -> Self {
        let grid = BedGrid::new(&calibration.camera, &calibration.table);
        Self { calibration, grid }
    }

    /// The calibration it reads with.
    pub fn calibration(&self) -> &Calibration {
        &self.calibration
    }

    /// Reads one frame.
    ///
    /// # Errors
    /// [`ReadError`] where frame and calibration do not belong together.
    pub fn read(&self, frame: &RgbImage) -> Result<Reading, ReadError> {
        let lens = &self.calibration.camera.lens;
        if frame.dimensions() != (lens.width_px, lens.height_px) {
            return Err(ReadError::WrongSize {
                got: format!("{} × {}", frame.width(), frame.height()),
                wanted: format!("{} × {}", lens.width_px, lens.height_px),
            });
        }
        let (camera, table) = (&self.calibration.camera, &self.calibration.table);
        let view = self.grid.view(frame);
        let mut rejected = Vec::new();
        let mut fits: Vec<(f64, BallFit)> = Vec::new();
        for proposal in find::proposals(&view, camera, table) {
            let Some(fit) = ball_fit::fit(frame, camera, table, proposal.at) else { continue };
            let covered = find::part_covered(&view, fit.centre, table);
            if std::env::var_os("STILLCLOTH_DEBUG").is_some() { eprintln!("  prop {:.0?} support {:.2} fit {:.0},{:.0} seen {:.2} rms {:.2} wid {:.2} cov {:.2}", proposal.at, proposal.support, fit.centre.x_mm, fit.centre.y_mm, fit.seen, fit.rms_px, fit.widening_px, covered); }
            match self.refusal(&fit, covered) {
                Some(why) => rejected.push(Rejected { at: fit.centre, why: why.into() }),
                None => fits.push((fit.seen * (0.3 + f64::from(proposal.support)) - 0.2 * fit.rms_px, fit)),
            }
        }
        fits.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut kept: Vec<BallFit> = Vec::new();
        for (_, fit) in fits {
            let apart_mm = LEAST_APART * table.ball_diameter_mm;
            if kept.iter().all(|other| other.centre.distance_mm(fit.centre) > apart_mm) {
                kept.push(fit);
            }
        }
        if std::env::var_os("STILLCLOTH_WID").is_some() { let mut w: Vec<f64> = kept.iter().filter(|f| f.seen > 0.8).map(|f| f.widening_px / f.radius_px).collect(); w.sort_by(f64::total_cmp); eprintln!("wid {:.4} n {} r {:.1}", w.get(w.len()/2).copied().unwrap_or(0.0), w.len(), kept.first().map_or(0.0, |f| f.radius_px)); }
        let balls = kept.iter().map(|fit| self.ball(fit)).collect();
        let foot = self.calibration.foot;
        Ok(Reading {
            layout: Layout { table: *table, foot, obstructed: false, balls },
            rejected,
        })
    }

    /// Why a fit is no ball on the table; none where it is one.
    fn refusal(&self, fit: &BallFit, covered: f64) -> Option<&'static str> {
        let table = &self.calibration.table;
        let (radius_mm, c) = (table.ball_radius_mm(), fit.centre);
        let slack_mm = 4.0;
        let inside = |at: f64, length: f64| {
            at > radius_mm - slack_mm && at < length - radius_mm + slack_mm
        };
        let on_bed = inside(c.x_mm, table.length_mm) && inside(c.y_mm, table.width_mm);
        let pocket = table
            .pockets()
            .into_iter()
            .map(|pocket| pocket.centre.distance_mm(c) - pocket.radius_mm)
            .fold(f64::INFINITY, f64::min);
        if pocket < -4.0 {
            Some("pocketed")
        } else if !on_bed && pocket > 1.2 * radius_mm {
            Some("off the bed")
        } else if fit.seen < LEAST_SEEN {
            Some("too little of an outline")
        } else if covered < LEAST_COVERED {
            Some("mostly cloth")
        } else {
            None
        }
    }

    fn ball(&self, fit: &BallFit) -> Ball {
        let place = DiamondPoint::from_table(fit.centre, &self.calibration.table);
        let variance_mm2 = fit.covariance_mm2.trace() / 2.0;
        Ball {
            kind: BallKind::Object,
            number: None,
            x: place.x,
            y: place.y,
            sigma_mm: variance_mm2.sqrt().hypot(self.calibration.report.sigma_mm),
            confidence: fit.seen.min(0.99),
            number_confidence: 0.0,
        }
    }
}

/// Reads one frame; to read many of one camera, keep a [`Reader`].
///
/// # Errors
/// [`ReadError`] where frame and calibration do not belong together.
pub fn read(frame: &RgbImage, calibration: &Calibration) -> Result<Reading, ReadError> {
    Reader::new(calibration.clone()).read(frame)
}
