//! Reading a frame with a calibration: the balls, where they lie and which they are.

use super::ball_fit::{BallFit, Widening};
use super::balls::BallFinder;
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

/// Reads frames of one camera; what a calibration gives once is kept.
pub struct Reader {
    calibration: Calibration,
    finder: BallFinder,
}

impl Reader {
    /// A reader for a calibration.
    pub fn new(calibration: Calibration) -> Self {
        let finder = BallFinder::new(&calibration.camera, &calibration.table);
        Self { calibration, finder }
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
        let found = self.finder.find(frame, Widening::Usual);
        let balls = found.balls.iter().map(|fit| self.ball(fit)).collect();
        let rejected = found
            .refused
            .iter()
            .map(|(at, why)| Rejected { at: *at, why: (*why).into() })
            .collect();
        let Calibration { table, foot, .. } = self.calibration;
        Ok(Reading { layout: Layout { table, foot, obstructed: false, balls }, rejected })
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
