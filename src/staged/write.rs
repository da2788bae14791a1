//! Writing made-up frames into a folder: a JPEG and its label each.

use super::random::Random;
use super::scene::Scene;
use super::viewpoint::Profile;
use image::codecs::jpeg::JpegEncoder;
use std::fs;
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Why frames could not be written.
#[derive(Debug, Error)]
pub enum StageError {
    #[error(
        "cannot write {path}: {source}. Give a folder that can be written to, on a disk with room"
    )]
    Unwritable { path: PathBuf, source: std::io::Error },
    #[error("cannot code the picture {path}: {source}")]
    Picture { path: PathBuf, source: image::ImageError },
    #[error("cannot write the label {path}: {source}")]
    Label { path: PathBuf, source: serde_json::Error },
}

/// One frame: its name, what was drawn.
#[derive(Debug)]
pub struct StagedFrame {
    pub path: PathBuf,
    pub scene: Scene,
}

/// Makes up the frame of a seed and writes `PROFILE-SEED.jpg` and `.json` into a folder.
///
/// # Errors
/// Where the folder or a file cannot be written.
pub fn write_frame(folder: &Path, profile: Profile, seed: u64) -> Result<StagedFrame, StageError> {
    let scene = Scene::random(seed, profile);
    let name = format!("{}-{seed:06}", profile.name());
    let path = folder.join(format!("{name}.jpg"));
    fs::create_dir_all(folder).map_err(|e| unwritable(folder, e))?;
    let quality = 80 + u8::try_from(Random::stream(seed, 10).below(16)).unwrap_or(0);
    let file = fs::File::create(&path).map_err(|e| unwritable(&path, e))?;
    JpegEncoder::new_with_quality(BufWriter::new(file), quality)
        .encode_image(&scene.render())
        .map_err(|source| StageError::Picture { path: path.clone(), source })?;
    let label_path = folder.join(format!("{name}.json"));
    let label = serde_json::to_string_pretty(&scene.truth(&format!("{name}.jpg")))
        .map_err(|source| StageError::Label { path: label_path.clone(), source })?;
    fs::write(&label_path, label + "\n").map_err(|e| unwritable(&label_path, e))?;
    Ok(StagedFrame { path, scene })
}

fn unwritable(path: &Path, source: std::io::Error) -> StageError {
    StageError::Unwritable { path: path.into(), source }
}
