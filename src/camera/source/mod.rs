//! Where frames come from without being sent: the built-in demo, a picture folder, a film.
//!
//! A source hands out frames one after the other at its own pace; it does not look at them. Knows
//! nothing of tables, of reading or of storage.

mod demo;
mod folder;
mod video;

use image::RgbImage;
use std::{
    path::{Path, PathBuf},
    time::Duration,
};
use thiserror::Error;

/// One frame as its source has it.
#[derive(Debug, Clone)]
pub enum SourceFrame {
    /// A whole picture file.
    File(Vec<u8>),
    /// A picture out of a film, already decoded.
    Decoded(RgbImage),
}

/// Why a source gave no frame.
#[derive(Debug, Error)]
pub enum SourceError {
    #[error("'{text}' is no camera: give demo, a folder of pictures, or a video file")]
    Unknown { text: String },
    #[error("cannot read {path}: {source}")]
    Unreadable { path: PathBuf, source: std::io::Error },
    #[error("there is no JPEG, PNG or WebP picture in the folder {path}")]
    EmptyFolder { path: PathBuf },
    #[error("{path} is no video that can be read: {why}. MP4 with H.264 is read everywhere")]
    NoVideo { path: PathBuf, why: String },
}

/// A source of frames.
#[derive(Debug)]
pub enum FrameSource {
    Demo(demo::Demo),
    Folder(folder::Folder),
    Video(video::Video),
}

impl FrameSource {
    /// The source that a user names: `demo`, a folder, or a video file.
    ///
    /// # Errors
    /// Where there is no such source, or nothing in it.
    pub fn open(text: &str) -> Result<Self, SourceError> {
        if text == "demo" {
            return Ok(Self::Demo(demo::Demo::default()));
        }
        let path = Path::new(text);
        if path.is_dir() {
            Ok(Self::Folder(folder::Folder::open(path)?))
        } else if path.is_file() {
            Ok(Self::Video(video::Video::open(path)?))
        } else {
            Err(SourceError::Unknown { text: text.into() })
        }
    }

    /// The next frame, or none when the source has come to its end.
    ///
    /// # Errors
    /// Where this frame cannot be had; the next one may.
    pub fn next_frame(&mut self) -> Result<Option<SourceFrame>, SourceError> {
        match self {
            Self::Demo(demo) => Ok(Some(demo.next_frame())),
            Self::Folder(folder) => folder.next_frame(),
            Self::Video(video) => video.next_frame(),
        }
    }

    /// The time from one frame to the next.
    pub const fn pace(&self) -> Duration {
        match self {
            Self::Demo(_) => demo::PACE,
            Self::Folder(_) => folder::PACE,
            Self::Video(_) => video::PACE,
        }
    }

    /// What the source is, in a word.
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Demo(_) => "demo",
            Self::Folder(_) => "folder",
            Self::Video(_) => "video",
        }
    }
}
