//! A stored calibration: camera, table and how good they are, as a JSON file.

use super::{Camera, PixelPoint};
use crate::table::{FootEnd, TableSize};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// How well a calibration fits what was seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CalibrationReport {
    /// Frames that went into it.
    pub frames: usize,
    /// Root mean square distance of the seen edges and points from their modelled places.
    pub reprojection_px: f64,
    /// Height of the camera above the cloth.
    pub height_mm: f64,
    /// Angle between the viewing direction and straight down.
    pub tilt_deg: f64,
    pub focal_px: f64,
    /// Millimetres to the pixel at the worst corner of the playing surface.
    pub worst_corner_mm_per_px: f64,
    /// One standard deviation of a place on the table that comes from the calibration itself.
    pub sigma_mm: f64,
    /// What is weak, in words for the user; empty where nothing is.
    pub weak: Vec<String>,
}

/// What ties the pictures of one camera to one table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    pub table: TableSize,
    /// Whether the size was given or taken from the balls' apparent size.
    pub table_given: bool,
    pub foot: FootEnd,
    pub camera: Camera,
    /// Nose corners in the picture: (0,0), (L,0), (L,W), (0,W) of the table frame.
    pub nose_corners_px: [PixelPoint; 4],
    pub report: CalibrationReport,
}

/// Why a calibration file could not be read or written.
#[derive(Debug, Error)]
pub enum CalibrationError {
    #[error(
        "cannot read the calibration {path}: {source}. Make one with `stillcloth calibrate FRAME --out {path}`"
    )]
    Unreadable { path: PathBuf, source: std::io::Error },
    #[error(
        "{path} is no calibration: {source}. Make one with `stillcloth calibrate FRAME --out {path}`"
    )]
    Malformed { path: PathBuf, source: serde_json::Error },
    #[error("cannot write the calibration {path}: {source}")]
    Unwritable { path: PathBuf, source: std::io::Error },
}

impl Calibration {
    /// How far the nose corner moved that moved most, in pixels, where they are here now.
    pub fn moved_px(&self, now: &[PixelPoint; 4]) -> f64 {
        let moved = self.nose_corners_px.iter().zip(now).map(|(was, is)| was.distance_px(*is));
        moved.fold(0.0, f64::max)
    }

    /// Reads a calibration file.
    ///
    /// # Errors
    /// Where the file cannot be read or is no calibration.
    pub fn load(path: &Path) -> Result<Self, CalibrationError> {
        let text = std::fs::read_to_string(path)
            .map_err(|source| CalibrationError::Unreadable { path: path.into(), source })?;
        serde_json::from_str(&text)
            .map_err(|source| CalibrationError::Malformed { path: path.into(), source })
    }

    /// Writes a calibration file.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn save(&self, path: &Path) -> Result<(), CalibrationError> {
        let unwritable = |source| CalibrationError::Unwritable { path: path.into(), source };
        let text = serde_json::to_string_pretty(self).map_err(|e| unwritable(e.into()))?;
        std::fs::write(path, text + "\n").map_err(unwritable)
    }
}
