//! Writing a session into a folder: its frames as JPEG files named by their time, and its truth.

use super::film::{SessionFrame, StagedSession};
use super::truth::SessionTruth;
use crate::camera::picture::{self, PictureError};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Why a session could not be written.
#[derive(Debug, Error)]
pub enum SessionWriteError {
    #[error(
        "cannot write {path}: {source}. Give a folder that can be written to, on a disk with room"
    )]
    Unwritable { path: PathBuf, source: io::Error },
    #[error("cannot code the picture {path}: {source}")]
    Picture { path: PathBuf, source: PictureError },
    #[error("cannot write the truth {path}: {source}")]
    Truth { path: PathBuf, source: serde_json::Error },
}

/// Quality of the JPEG files: that of a usual stream of pictures.
const QUALITY: u8 = 88;

/// Writes `frame-MILLISECONDS.jpg` for every frame that is left, and `truth.json`; `wrote` is told
/// after each frame.
///
/// # Errors
/// Where the folder or a file cannot be written.
pub fn write_session(
    folder: &Path,
    session: &mut StagedSession,
    mut wrote: impl FnMut(),
) -> Result<(), SessionWriteError> {
    fs::create_dir_all(folder).map_err(|e| unwritable(folder, e))?;
    write_truth(&folder.join("truth.json"), session.truth())?;
    for frame in session {
        let path = folder.join(format!("frame-{:08}.jpg", frame.at.as_millis()));
        match frame.as_jpeg() {
            Ok(file) => fs::write(&path, file).map_err(|e| unwritable(&path, e))?,
            Err(source) => return Err(SessionWriteError::Picture { path, source }),
        }
        wrote();
    }
    Ok(())
}

impl SessionFrame {
    /// The frame as a JPEG file, as it would come from a stream.
    ///
    /// # Errors
    /// Where it is larger than such a file can be.
    pub fn as_jpeg(&self) -> Result<Vec<u8>, PictureError> {
        picture::jpeg(&self.picture, QUALITY)
    }
}

fn write_truth(path: &Path, truth: &SessionTruth) -> Result<(), SessionWriteError> {
    let text = serde_json::to_string_pretty(truth)
        .map_err(|source| SessionWriteError::Truth { path: path.into(), source })?;
    fs::write(path, text + "\n").map_err(|e| unwritable(path, e))
}

fn unwritable(path: &Path, source: io::Error) -> SessionWriteError {
    SessionWriteError::Unwritable { path: path.into(), source }
}
