//! Seeing: from a frame to a calibration and a layout.
//!
//! On `camera` and `layout`. Knows nothing of sources, storage or the network. A frame here is an
//! upright 8-bit RGB picture; turning bytes into one is `camera::picture`'s business.

mod ball_fit;
mod balls;
mod bare;
mod bed;
mod beside;
mod bundle;
mod calibrate;
mod centring;
mod evidence;
mod find;
mod focal;
mod foot;
pub mod lens_board;
mod naming;
mod net;
mod noses;
mod obstruction;
mod openings;
pub mod overlay;
mod patch;
mod pixels;
mod pockets;
mod profile;
mod quad;
mod read;
mod recalibrate;
mod refine;
mod region;
mod rest;
mod room;
mod row;
mod search;
mod shade;
mod size;
mod start;
mod steady;

pub use calibrate::{CalibrateError, CalibrateOptions, FootChoice, calibrate};
pub use naming::{BallLook, LaidOut, LookError};
pub use net::NetError;
pub use read::{ReadError, Reader, Reading, Rejected, read};
pub use rest::{Look, Passed, RestWatch, RollingBall, TableState};
pub use row::{RowError, set_in_a_row};
