//! The normalised layout: which balls lie where on the table at a rest, in diamonds.
//!
//! On `table` alone: knows nothing of cameras, pictures or storage.

mod ball;
pub mod diagram;
mod schema;
pub mod strokes;

pub use ball::{Ball, BallKind, Layout};
pub use schema::LAYOUT_SCHEMA;
#[cfg(test)]
pub(crate) use schema::tests::{faults, is_published};
