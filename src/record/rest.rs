//! What is kept of a rest.

use crate::{camera::picture::PictureFormat, layout::Layout};
use jiff::Timestamp;

/// A rest that is to be kept.
#[derive(Debug, Clone)]
pub struct NewRest {
    /// When the frame was taken.
    pub at: Timestamp,
    /// The camera's name.
    pub camera: String,
    pub layout: Layout,
    /// The frame as it came: a whole file.
    pub picture: Vec<u8>,
    pub format: PictureFormat,
}

/// A rest that has been kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Rest {
    /// Grows by one with each rest, over all cameras.
    pub id: i64,
    pub at: Timestamp,
    pub camera: String,
    pub layout: Layout,
    /// Names the frame's file.
    pub picture_sha256: String,
    pub format: PictureFormat,
}

/// Which rests are asked for, oldest first.
#[derive(Debug, Clone, Default)]
pub struct RestQuery {
    /// At or after this time.
    pub from: Option<Timestamp>,
    /// Before this time.
    pub to: Option<Timestamp>,
    pub camera: Option<String>,
    /// Only ids greater than this one.
    pub after: i64,
    pub limit: u32,
}
