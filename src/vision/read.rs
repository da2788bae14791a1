//! Reading a frame with a calibration: the balls, where they lie and which they are.

use crate::camera::Calibration;
use crate::layout::Layout;
use crate::table::TablePoint;
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

/// Reads one frame.
///
/// # Errors
/// [`ReadError`] where frame and calibration do not belong together.
pub fn read(frame: &RgbImage, calibration: &Calibration) -> Result<Reading, ReadError> {
    let lens = &calibration.camera.lens;
    if frame.dimensions() != (lens.width_px, lens.height_px) {
        return Err(ReadError::WrongSize {
            got: format!("{} × {}", frame.width(), frame.height()),
            wanted: format!("{} × {}", lens.width_px, lens.height_px),
        });
    }
    Ok(Reading {
        layout: Layout {
            table: calibration.table,
            foot: calibration.foot,
            obstructed: false,
            balls: Vec::new(),
        },
        rejected: Vec::new(),
    })
}
