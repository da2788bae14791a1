//! Setting a camera up: its picture, calibrations tried on it, and the one that is kept.
//!
//! A calibration that is kept counts from the camera's next frame on, and after a restart. Nothing
//! here decides what a frame shows: `vision` calibrates, the camera's reader keeps.

use super::{CameraName, Cameras, FrameError, sight::Sight};
use crate::{
    camera::{Calibration, picture},
    vision::CalibrateOptions,
};
use image::{RgbImage, imageops::FilterType};
use std::sync::Arc;
use thiserror::Error;
use tokio::task::spawn_blocking;

/// Pictures to look at are made no wider than this.
const WIDEST_PX: u32 = 1600;

const JPEG_QUALITY: u8 = 80;

/// Why a camera could not be set up.
#[derive(Debug, Error)]
pub(super) enum SettingUpError {
    #[error(transparent)]
    Frame(#[from] FrameError),
    #[error("there is no camera {camera}: /api/cameras lists those there are")]
    NoCamera { camera: CameraName },
    #[error(
        "camera {camera} has sent no picture yet: wait for its first, or look after the camera"
    )]
    NoPicture { camera: CameraName },
    #[error(
        "what was tried last for camera {camera} is not number {number}: try the corners again, \
         then keep what comes out"
    )]
    NoTrial { camera: CameraName, number: u64 },
}

/// A calibration that was tried.
pub(super) struct Trial {
    pub(super) number: u64,
    pub(super) calibration: Calibration,
}

impl Cameras {
    fn sight_of(&self, camera: &CameraName) -> Result<Sight, SettingUpError> {
        self.sight(camera).ok_or_else(|| SettingUpError::NoCamera { camera: camera.clone() })
    }

    fn latest(&self, camera: &CameraName) -> Result<(Sight, Arc<RgbImage>), SettingUpError> {
        let sight = self.sight_of(camera)?;
        let frame = sight.latest();
        let frame = frame.ok_or_else(|| SettingUpError::NoPicture { camera: camera.clone() })?;
        Ok((sight, frame))
    }

    /// The last frame of a camera as a JPEG to look at, which may be smaller, and the frame's own
    /// width and height.
    pub(super) async fn picture(
        &self,
        camera: &CameraName,
    ) -> Result<(Vec<u8>, (u32, u32)), SettingUpError> {
        let (_, frame) = self.latest(camera)?;
        let size = frame.dimensions();
        let turns = self.turns.clone();
        let drawing = spawn_blocking(move || {
            let _turn = turns.take();
            jpeg(&frame)
        });
        Ok((drawing.await.map_err(|_| FrameError::Panicked)??, size))
    }

    /// The calibration that a camera's frames are read by, where there is one.
    pub(super) async fn kept(
        &self,
        camera: &CameraName,
    ) -> Result<Option<Calibration>, SettingUpError> {
        self.sight_of(camera)?;
        let reader = (self.readers)(camera);
        let looking = spawn_blocking(move || reader.kept());
        let kept = looking.await.map_err(|_| FrameError::Panicked)?;
        Ok(kept.map_err(FrameError::from)?)
    }

    /// Calibrates from a camera's last frame as the user wishes.
    pub(super) async fn try_out(
        &self,
        camera: &CameraName,
        wish: CalibrateOptions,
    ) -> Result<Trial, SettingUpError> {
        let (sight, frame) = self.latest(camera)?;
        let (reader, turns) = ((self.readers)(camera), self.turns.clone());
        let trying = spawn_blocking(move || {
            let _turn = turns.take();
            reader.try_out(&frame, &wish)
        });
        let tried = trying.await.map_err(|_| FrameError::Panicked)?;
        let calibration = tried.map_err(FrameError::from)?;
        Ok(Trial { number: sight.note_trial(&calibration), calibration })
    }

    /// Keeps what was tried last; the camera goes by it from its next frame on.
    pub(super) async fn keep_trial(
        &self,
        camera: &CameraName,
        number: u64,
    ) -> Result<Calibration, SettingUpError> {
        let sight = self.sight_of(camera)?;
        let calibration = sight
            .trial(number)
            .ok_or_else(|| SettingUpError::NoTrial { camera: camera.clone(), number })?;
        let (reader, kept) = ((self.readers)(camera), calibration.clone());
        let keeping = spawn_blocking(move || sight.exchange(|| reader.keep_for_good(&kept)));
        keeping.await.map_err(|_| FrameError::Panicked)?.map_err(FrameError::from)?;
        Ok(calibration)
    }
}

fn jpeg(frame: &RgbImage) -> Result<Vec<u8>, FrameError> {
    let (width, height) = frame.dimensions();
    if width <= WIDEST_PX {
        return Ok(picture::jpeg(frame, JPEG_QUALITY)?);
    }
    let less = (u64::from(height) * u64::from(WIDEST_PX) / u64::from(width)).max(1);
    let less = u32::try_from(less).unwrap_or(height);
    let smaller = image::imageops::resize(frame, WIDEST_PX, less, FilterType::Triangle);
    Ok(picture::jpeg(&smaller, JPEG_QUALITY)?)
}
