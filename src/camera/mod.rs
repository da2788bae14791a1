//! The camera: lens, pose, and the stored calibration that ties pictures to a table.
//!
//! On `table` alone. `picture` turns bytes into frames and `source` hands frames out; what is to be
//! seen in a frame is the business of `vision`.

pub mod board;
mod calibration;
mod lens;
mod outline;
pub mod picture;
mod pose;
pub mod source;

pub use calibration::{Calibration, CalibrationError, CalibrationReport};
pub use lens::{Lens, PixelPoint};
pub use pose::{Camera, Pose, TableFromPicture};

#[cfg(test)]
mod tests;
