//! The camera: lens, pose, and the stored calibration that ties pictures to a table.
//!
//! On `table` alone. Knows geometry, not pictures: finding a table in a frame is `vision`.

pub mod board;
mod calibration;
mod lens;
mod outline;
mod pose;

pub use calibration::{Calibration, CalibrationError, CalibrationReport};
pub use lens::{Lens, PixelPoint};
pub use pose::{Camera, Pose, TableFromPicture};

#[cfg(test)]
mod tests;
