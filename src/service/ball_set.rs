//! The taught look of a ball set as a file beside the camera's calibration.

use crate::vision::BallLook;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Why a taught ball set could not be read or written.
#[derive(Debug, Error)]
pub enum BallSetError {
    #[error(
        "cannot read the ball set {path}: {source}. Teach one with `stillcloth teach FRAME --out {path}`"
    )]
    Unreadable { path: PathBuf, source: std::io::Error },
    #[error(
        "{path} is no taught ball set: {source}. Teach one with `stillcloth teach FRAME --out {path}`"
    )]
    Malformed { path: PathBuf, source: serde_json::Error },
    #[error("cannot write the ball set {path}: {source}")]
    Unwritable { path: PathBuf, source: std::io::Error },
}

/// Where the ball set of a camera lies, given its calibration's file.
pub fn ball_set_beside(calibration: &Path) -> PathBuf {
    calibration.with_extension("balls.json")
}

/// Reads a taught ball set.
///
/// # Errors
/// Where the file cannot be read or is no ball set.
pub fn load_ball_set(path: &Path) -> Result<BallLook, BallSetError> {
    let text = std::fs::read_to_string(path)
        .map_err(|source| BallSetError::Unreadable { path: path.into(), source })?;
    serde_json::from_str(&text)
        .map_err(|source| BallSetError::Malformed { path: path.into(), source })
}

/// Writes a taught ball set, its folder with it.
///
/// # Errors
/// Where folder or file cannot be written.
pub fn save_ball_set(look: &BallLook, path: &Path) -> Result<(), BallSetError> {
    let unwritable = |source| BallSetError::Unwritable { path: path.into(), source };
    let text = serde_json::to_string_pretty(look).map_err(|error| unwritable(error.into()))?;
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(unwritable)?;
    }
    std::fs::write(path, text + "\n").map_err(unwritable)
}
