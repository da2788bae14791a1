//! A film, at its own speed, a few frames of each second (FFmpeg, through OpenCV's videoio).

use super::{SourceError, SourceFrame};
use image::RgbImage;
use opencv::{core::Mat, core::MatTraitConst, core::MatTraitConstManual, videoio};
use opencv::{prelude::VideoCaptureTrait, prelude::VideoCaptureTraitConst};
use std::{
    path::{Path, PathBuf},
    time::Duration,
};

/// Two looks a second: a slow roll of 10 mm/s moves 5 mm between them.
pub(super) const PACE: Duration = Duration::from_millis(500);

/// Assumed where a film does not tell.
const USUAL_FPS: f64 = 30.0;

/// A film that is being shown.
pub struct Video {
    path: PathBuf,
    film: videoio::VideoCapture,
    /// Frames that are passed over between two looks.
    skipped: u32,
    shown_any: bool,
}

impl std::fmt::Debug for Video {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Video").field("path", &self.path).field("skipped", &self.skipped).finish()
    }
}

impl Video {
    pub(super) fn open(path: &Path) -> Result<Self, SourceError> {
        let no_video = |why: String| SourceError::NoVideo { path: path.into(), why };
        let text = path.to_str().ok_or_else(|| no_video("its name is not UTF-8".into()))?;
        let film = videoio::VideoCapture::from_file(text, videoio::CAP_FFMPEG)
            .map_err(|error| no_video(error.message))?;
        if !film.is_opened().unwrap_or(false) {
            return Err(no_video("it cannot be opened".into()));
        }
        let told = film.get(videoio::CAP_PROP_FPS).unwrap_or(0.0);
        let fps = if (1.0..=1000.0).contains(&told) { told } else { USUAL_FPS };
        let step = (fps * PACE.as_secs_f64()).round().max(1.0);
        Ok(Self { path: path.into(), film, skipped: step as u32 - 1, shown_any: false })
    }

    pub(super) fn next_frame(&mut self) -> Result<Option<SourceFrame>, SourceError> {
        let path = self.path.clone();
        let no_video = |why: String| SourceError::NoVideo { path: path.clone(), why };
        if self.shown_any {
            for _ in 0..self.skipped {
                if !self.film.grab().map_err(|error| no_video(error.message))? {
                    return Ok(None);
                }
            }
        }
        let mut frame = Mat::default();
        if !self.film.read(&mut frame).map_err(|error| no_video(error.message))? {
            return if self.shown_any { Ok(None) } else { Err(no_video("it is empty".into())) };
        }
        self.shown_any = true;
        let size = frame.size().map_err(|error| no_video(error.message))?;
        let bgr = frame.data_bytes().map_err(|error| no_video(error.message))?;
        let rgb: Vec<u8> =
            bgr.chunks_exact(3).flat_map(|pixel| pixel.iter().rev().copied()).collect();
        RgbImage::from_raw(size.width as u32, size.height as u32, rgb)
            .map(|picture| Some(SourceFrame::Decoded(picture)))
            .ok_or_else(|| no_video("its frames are not of 8-bit colour".into()))
    }
}
