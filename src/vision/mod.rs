//! Seeing: from a frame to a calibration and a layout.
//!
//! On `camera` and `layout`. Knows nothing of sources, storage or the network. A frame here is an
//! upright 8-bit RGB picture; turning bytes into one is `camera::picture`'s business.

mod bundle;
mod calibrate;
mod evidence;
mod noses;
mod pixels;
mod quad;
mod read;
mod region;
mod start;

pub use calibrate::{CalibrateError, CalibrateOptions, FootChoice, calibrate};
pub use read::{ReadError, Reading, Rejected, read};
