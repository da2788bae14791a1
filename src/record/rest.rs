//! What is kept of a rest.

use crate::{camera::picture::PictureFormat, layout::Layout};
use jiff::Timestamp;
use std::path::PathBuf;

/// A rest that is to be kept.
#[derive(Debug, Clone)]
pub struct NewRest {
    /// When the frame was taken.
    pub at: Timestamp,
    /// How long the camera saw nothing of the table since the rest before: a shot may have gone
    /// unseen. 0 where it watched all the time.
    pub unseen_ms: u64,
    /// The camera's name.
    pub camera: String,
    pub layout: Layout,
    /// The frame as it came: a whole file.
    pub picture: Vec<u8>,
    pub format: PictureFormat,
}

#[cfg(test)]
impl NewRest {
    /// One of an empty table.
    pub fn of_nothing(picture: &[u8], at: Timestamp) -> Self {
        use crate::table::{FootEnd, TableSize};
        let (table, foot) = (TableSize::NINE_FOOT, FootEnd::Given);
        Self {
            at,
            unseen_ms: 0,
            camera: "hall".into(),
            layout: Layout::of(table, foot, Vec::new()),
            picture: picture.to_vec(),
            format: PictureFormat::Png,
        }
    }
}

/// A rest that has been kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Rest {
    /// Grows by one with each rest, over all cameras.
    pub id: i64,
    pub at: Timestamp,
    /// As in [`NewRest`].
    pub unseen_ms: u64,
    pub camera: String,
    pub layout: Layout,
    /// Names the frame's file, whether it is still kept or not.
    pub picture_sha256: String,
    pub format: PictureFormat,
}

/// What became of a rest's frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Picture {
    /// It lies here.
    Kept(PathBuf),
    /// It was deleted, as the retention setting says.
    LetGo,
    /// It was not kept, since the disk had little room left.
    NeverKept,
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
