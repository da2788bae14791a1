//! What reads frames: the table in front of a camera, calibrated from its own first frame.

use super::{CameraName, ball_set_beside, load_ball_set};
use crate::{
    camera::{Calibration, CalibrationError},
    vision::{self, CalibrateError, CalibrateOptions, ReadError, Reading},
};
use image::RgbImage;
use std::{
    path::{Path, PathBuf},
    sync::Arc,
};
use thiserror::Error;

/// Reads one camera's frames, one after the other.
pub trait FrameReader: Send {
    /// # Errors
    /// Where no layout can be read from the frame.
    fn read(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError>;
}

/// Makes a reader for each camera that turns up.
pub type ReaderFactory = Arc<dyn Fn(&CameraName) -> Box<dyn FrameReader> + Send + Sync>;

/// Why a frame gave no layout.
#[derive(Debug, Error)]
pub enum ReaderError {
    #[error(transparent)]
    NoTable(#[from] CalibrateError),
    #[error(transparent)]
    Unreadable(#[from] ReadError),
    #[error(transparent)]
    Calibration(#[from] CalibrationError),
}

/// Frames in a row that do not fit the stored calibration until the camera counts as moved.
const MISFITS_UNTIL_MOVED: u32 = 3;

/// Whether frames of one name come from one place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standpoint {
    /// One camera that hangs where it hangs: its calibration is kept in a file.
    Fixed,
    /// Each frame from somewhere else: each is calibrated from itself, and nothing is kept.
    Changing,
}

/// Reads a real camera's frames with `vision`.
pub struct TableReader {
    file: PathBuf,
    options: CalibrateOptions,
    standpoint: Standpoint,
    reader: Option<vision::Reader>,
    misfits: u32,
}

impl TableReader {
    /// A reader that keeps its calibration under the camera's name in the data folder.
    pub fn new(
        data: &Path,
        camera: &CameraName,
        options: CalibrateOptions,
        standpoint: Standpoint,
    ) -> Self {
        let file = data.join("calibrations").join(format!("{camera}.json"));
        Self { file, options, standpoint, reader: None, misfits: 0 }
    }

    /// Takes the stored calibration, if there is one that is still wanted.
    fn load(&mut self) -> Result<(), ReaderError> {
        if self.reader.is_none() && self.standpoint == Standpoint::Fixed && self.file.exists() {
            let stored = Calibration::load(&self.file)?;
            let other_table = self.options.table.is_some_and(|table| table != stored.table);
            self.reader =
                Some(stored).filter(|_| !other_table).map(|kept| self.reader(kept)).transpose()?;
        }
        Ok(())
    }

    /// A reader that knows the ball set which was taught for this camera. Where that cannot be used
    /// frames are still read, and the log says why their numbers are in doubt.
    fn reader(&self, calibration: Calibration) -> Result<vision::Reader, ReadError> {
        let mut reader = vision::Reader::new(calibration)?;
        let file = ball_set_beside(&self.file);
        if self.standpoint == Standpoint::Fixed && file.exists() {
            match load_ball_set(&file).map(|look| reader.teach(look)) {
                Ok(Ok(())) => tracing::info!(file = %file.display(), "reading a taught ball set"),
                Ok(Err(why)) => tracing::warn!(file = %file.display(), "{why}"),
                Err(why) => tracing::warn!("{why}"),
            }
        }
        Ok(reader)
    }

    /// Calibrates from a frame and reads it.
    fn begin(&self, frame: &RgbImage) -> Result<(vision::Reader, Reading), ReaderError> {
        let calibration = vision::calibrate(std::slice::from_ref(frame), &self.options)?;
        let reader = self.reader(calibration)?;
        let reading = reader.read(frame)?;
        Ok((reader, reading))
    }

    /// Keeps a calibration for the frames to come; the one before it is set aside, not lost.
    fn keep(&mut self, reader: vision::Reader) -> Result<(), CalibrationError> {
        if self.standpoint == Standpoint::Changing {
            return Ok(());
        }
        let unwritable = |source| CalibrationError::Unwritable { path: self.file.clone(), source };
        if let Some(folder) = self.file.parent() {
            std::fs::create_dir_all(folder).map_err(unwritable)?;
        }
        if self.file.exists() {
            let until = jiff::Timestamp::now().as_second();
            let aside = self.file.with_extension(format!("until-{until}.json"));
            std::fs::rename(&self.file, aside).map_err(unwritable)?;
        }
        let calibration = reader.calibration();
        calibration.save(&self.file)?;
        tracing::info!(file = %self.file.display(), "kept a calibration of {}", calibration.table);
        self.reader = Some(reader);
        self.misfits = 0;
        Ok(())
    }

    /// The frame does not fit: read it by itself, and take the camera as moved after a few.
    fn read_anew(&mut self, frame: &RgbImage, misfit: &ReadError) -> Result<Reading, ReaderError> {
        let (reader, reading) = self.begin(frame)?;
        self.misfits += 1;
        if self.misfits >= MISFITS_UNTIL_MOVED {
            tracing::warn!("the camera was moved, so it was calibrated again: {misfit}");
            self.keep(reader)?;
        }
        Ok(reading)
    }
}

impl FrameReader for TableReader {
    fn read(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError> {
        self.load()?;
        let Some(reader) = &self.reader else {
            let (reader, reading) = self.begin(frame)?;
            self.keep(reader)?;
            return Ok(reading);
        };
        match reader.read(frame) {
            Ok(reading) => {
                self.misfits = 0;
                Ok(reading)
            }
            Err(misfit) => self.read_anew(frame, &misfit),
        }
    }
}
