//! The camera: lens, pose, and the stored calibration that ties pictures to a table.
//!
//! On `table` alone. Knows geometry, not pictures: finding a table in a frame is `vision`.

mod calibration;
mod lens;
pub mod picture;
mod pose;

pub use calibration::{Calibration, CalibrationError, CalibrationReport};
pub use lens::{Lens, PixelPoint};
pub use pose::{Camera, Pose, TableFromPicture};
