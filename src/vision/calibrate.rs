//! Calibration from ordinary frames: finds the table and solves lens, pose and size together.

use crate::camera::{Calibration, PixelPoint};
use crate::table::TableSize;
use image::RgbImage;
use thiserror::Error;

/// Which end of the table the user says is the foot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FootChoice {
    /// Taken from the rack or the foot spot when seen.
    #[default]
    FromFrame,
    /// The end that lies further left in the picture.
    Left,
    /// The end that lies further right in the picture.
    Right,
    /// The end that lies further up in the picture.
    Top,
    /// The end that lies further down in the picture.
    Bottom,
}

/// What the user knows beforehand.
#[derive(Debug, Clone, Default)]
pub struct CalibrateOptions {
    /// The table's size; taken from the balls' apparent size where none.
    pub table: Option<TableSize>,
    pub foot: FootChoice,
    /// Nose corners given by hand, in order around the table; refined before use.
    pub corners_px: Option<[PixelPoint; 4]>,
}

/// Why no calibration came out of the frames.
#[derive(Debug, Error)]
pub enum CalibrateError {
    #[error("no frame was given: calibration needs at least one picture of the whole table")]
    NoFrame,
    #[error(
        "no table found in the picture: {missing}. The whole table has to be in view, from above, with light on it"
    )]
    NoTable { missing: String },
    #[error(
        "the frames are of different sizes ({first} and {other} pixels): give frames of one camera only"
    )]
    MixedSizes { first: String, other: String },
}

/// Finds the table in frames of one camera and solves lens, pose and table size.
///
/// # Errors
/// [`CalibrateError`] where the frames do not show a whole table.
pub fn calibrate(
    frames: &[RgbImage],
    _options: &CalibrateOptions,
) -> Result<Calibration, CalibrateError> {
    let _first = frames.first().ok_or(CalibrateError::NoFrame)?;
    Err(CalibrateError::NoTable { missing: "nothing is looked for yet".into() })
}
