//! Stillcloth: a camera over a pocket-billiard table, and what follows from it.
//!
//! A frame goes in, a normalised layout comes out, is kept, and is passed on. The modules are the
//! floors of one house, lowest first; a floor never imports one above it (`tests/it/tidy.rs`
//! holds that).
//!
//! Conventions that hold everywhere:
//!
//! - **Table frame**: right-handed, millimetres, origin where the nose lines of the head rail and
//!   one long rail meet, x toward the foot rail, y across, z up from the cloth.
//! - **Layout coordinates**: diamonds, x in 0..8 along the table, y in 0..4 across.
//! - **Picture coordinates**: continuous pixels, (0, 0) at the picture's top left corner, so the
//!   first pixel's centre is at (0.5, 0.5); x right, y down.
//! - **Camera frame**: x right, y down, z forward, millimetres.
//! - Units stand in names (`_mm`, `_px`, `_rad`, `_s`) or in types. Transforms read
//!   `to_from_source`: `camera_from_table`.
//! - Colour is 8-bit sRGB in the order red, green, blue.

pub mod advice;
pub mod again;
mod assignment;
pub mod camera;
pub mod contest;
mod digest;
pub mod layout;
pub mod motion;
mod private_file;
pub mod random;
pub mod record;
pub mod run_sheet;
pub mod score;
pub mod service;
pub mod staged;
pub mod study;
pub mod table;
pub mod vision;
