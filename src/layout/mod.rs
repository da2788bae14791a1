//! The normalised layout: which balls lie where on the table at a rest, in diamonds.
//!
//! On `table` alone: knows nothing of cameras, pictures or storage.

mod ball;
pub mod diagram;
pub mod strokes;

pub use ball::{Ball, BallKind, Layout};
