//! Writing made-up frames into a folder: a JPEG and its label each.

use super::random::Random;
use super::scene::Scene;
use super::viewpoint::Profile;
use crate::camera::picture::{self, PictureError};
use std::fs;
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
    Picture { path: PathBuf, source: PictureError },
    #[error("cannot write the label {path}: {source}")]
    Label { path: PathBuf, source: serde_json::Error },
}

/// A frame that was written.
#[derive(Debug)]
pub struct StagedFrame {
    /// The picture; its label lies beside it.
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
    let quality = 80 + u8::try_from(Random::stream(seed, 10).below(16)).unwrap_or(0);
    let path = write_scene(folder, &name, &scene, quality)?;
    Ok(StagedFrame { path, scene })
}

/// Writes a scene's picture as `NAME.jpg`, of a JPEG quality of 1 to 100, and its label as
/// `NAME.json`; gives the picture's path.
///
/// # Errors
/// Where the folder or a file cannot be written.
pub fn write_scene(
    folder: &Path,
    name: &str,
    scene: &Scene,
    quality: u8,
) -> Result<PathBuf, StageError> {
    let path = folder.join(format!("{name}.jpg"));
    fs::create_dir_all(folder).map_err(|e| unwritable(folder, e))?;
    let file = picture::jpeg(&scene.render(), quality)
        .map_err(|source| StageError::Picture { path: path.clone(), source })?;
    fs::write(&path, file).map_err(|e| unwritable(&path, e))?;
    let label_path = folder.join(format!("{name}.json"));
    let label = serde_json::to_string_pretty(&scene.truth(&format!("{name}.jpg")))
        .map_err(|source| StageError::Label { path: label_path.clone(), source })?;
    fs::write(&label_path, label + "\n").map_err(|e| unwritable(&label_path, e))?;
    Ok(path)
}

fn unwritable(path: &Path, source: std::io::Error) -> StageError {
    StageError::Unwritable { path: path.into(), source }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Lens;

    fn small_scene() -> Scene {
        let mut scene = Scene::random(5, Profile::Near);
        scene.camera.lens = Lens::pinhole(96, 54, 80.0);
        scene
    }

    #[test]
    fn picture_and_label_belong_together() {
        let folder = std::env::temp_dir().join(format!("staged-write-{}", std::process::id()));
        let scene = small_scene();
        let path = write_scene(&folder, "one", &scene, 90).expect("a writable folder");
        let picture = image::open(&path).expect("a picture");
        let text = fs::read_to_string(folder.join("one.json")).expect("a label");
        fs::remove_dir_all(&folder).expect("the folder just made");
        let label: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        assert_eq!((picture.width(), picture.height()), (96, 54));
        assert_eq!(label["frame"], "one.jpg");
        assert_eq!(label["camera"]["width"], 96);
        assert_eq!(label["balls"].as_array().map(Vec::len), Some(scene.balls.len()));
        assert_eq!(label["table"]["pockets_mm"].as_array().map(Vec::len), Some(6));
        assert_eq!(label["nose_corners_px"].as_array().map(Vec::len), Some(4));
    }

    #[test]
    fn a_folder_that_cannot_be_says_so() {
        let file = std::env::temp_dir().join(format!("staged-file-{}", std::process::id()));
        fs::write(&file, "in the way").expect("a temporary file");
        let outcome = write_scene(&file.join("deeper"), "one", &small_scene(), 90);
        fs::remove_file(&file).expect("the file just made");
        let message = outcome.expect_err("a file is no folder").to_string();
        assert!(message.contains("cannot write"), "{message}");
    }
}
