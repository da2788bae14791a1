//! A folder of pictures, in the order of their names.

use super::{SourceError, SourceFrame};
use std::{
    collections::VecDeque,
    path::{Path, PathBuf},
    time::Duration,
};

/// The pictures of a folder that have not been shown yet.
#[derive(Debug)]
pub struct Folder {
    waiting: VecDeque<PathBuf>,
}

impl Folder {
    /// Slow enough to follow on a page.
    pub const PACE: Duration = Duration::from_secs(1);

    /// The pictures of a folder.
    ///
    /// # Errors
    /// Where it cannot be read, or there is no picture in it.
    pub fn open(path: &Path) -> Result<Self, SourceError> {
        let unreadable = |source| SourceError::Unreadable { path: path.into(), source };
        let mut files = Vec::new();
        for entry in std::fs::read_dir(path).map_err(unreadable)? {
            let file = entry.map_err(unreadable)?.path();
            if file.is_file() && is_named_like_a_picture(&file) {
                files.push(file);
            }
        }
        if files.is_empty() {
            return Err(SourceError::EmptyFolder { path: path.into() });
        }
        files.sort();
        Ok(Self { waiting: files.into() })
    }

    /// How many pictures are left.
    pub fn left(&self) -> usize {
        self.waiting.len()
    }

    /// The file of the next picture.
    pub fn next_path(&self) -> Option<&Path> {
        self.waiting.front().map(PathBuf::as_path)
    }

    /// The time of the next picture, where the folder holds a film's frames, each named after its
    /// time in milliseconds, as in `frame-00001200.jpg`.
    pub fn next_time(&self) -> Option<Duration> {
        let stem = self.waiting.front()?.file_stem()?.to_str()?;
        let ms = stem.strip_prefix("frame-")?.parse().ok()?;
        Some(Duration::from_millis(ms))
    }

    /// The next picture; none at the end.
    ///
    /// # Errors
    /// Where this picture cannot be read; the next one may.
    pub fn next_frame(&mut self) -> Result<Option<SourceFrame>, SourceError> {
        let Some(path) = self.waiting.pop_front() else { return Ok(None) };
        let bytes = std::fs::read(&path)
            .map_err(|source| SourceError::Unreadable { path: path.clone(), source })?;
        Ok(Some(SourceFrame::File(bytes)))
    }
}

fn is_named_like_a_picture(path: &Path) -> bool {
    path.extension().and_then(|ending| ending.to_str()).is_some_and(|ending| {
        ["jpg", "jpeg", "png", "webp"].iter().any(|known| ending.eq_ignore_ascii_case(known))
    })
}
