//! What reads frames: the table in front of a camera, calibrated from its own first frame.

use super::{CameraName, ball_set_beside, load_ball_set};
use crate::{
    camera::{Calibration, CalibrationError},
    table::TableSize,
    vision::{self, CalibrateError, CalibrateOptions, Look, ReadError, Reading, RestWatch},
};
use image::RgbImage;
use std::{
    path::{Path, PathBuf},
    sync::Arc,
    time::Duration,
};
use thiserror::Error;

/// Reads one camera's frames, one after the other.
pub trait FrameReader: Send {
    /// # Errors
    /// Where no layout can be read from the frame.
    fn read(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError>;

    /// Reads a frame that belongs to no camera: whatever was learned of one is neither used nor
    /// changed. A reader that learns nothing of its camera need not do more than read.
    ///
    /// # Errors
    /// Where no layout can be read from the frame.
    fn read_alone(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError> {
        self.read(frame)
    }

    /// Looks at the next frame of a stream, at the stream's own time: a reading comes out where
    /// the table has come to a new rest.
    ///
    /// # Errors
    /// Where no table can be found in the frame.
    fn watch(&mut self, frame: &RgbImage, at: Duration) -> Result<Look, ReaderError>;

    /// The calibration that is kept for the frames to come, where there is one.
    ///
    /// # Errors
    /// Where it cannot be read.
    fn kept(&self) -> Result<Option<Calibration>, ReaderError> {
        Ok(None)
    }

    /// Calibrates from a frame as the user wishes, and keeps nothing of it.
    ///
    /// # Errors
    /// Where no table is found that way.
    fn try_out(
        &self,
        frame: &RgbImage,
        wish: &CalibrateOptions,
    ) -> Result<Calibration, ReaderError> {
        Ok(vision::calibrate(std::slice::from_ref(frame), wish)?)
    }

    /// Keeps a calibration for the frames to come. A reader that runs takes it up when it is told
    /// to begin again.
    ///
    /// # Errors
    /// Where it cannot be written, or another would be taken all the same.
    fn keep_for_good(&self, _: &Calibration) -> Result<(), ReaderError> {
        Ok(())
    }

    /// Forgets what was learned of the camera: from the next frame on what is kept counts.
    fn begin_again(&mut self) {}
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
    #[error(
        "this camera goes by the calibration file {path} that the settings name: take `calibration` \
         out of the settings, start again, and set it up then"
    )]
    Given { path: PathBuf },
    #[error(
        "the service was started with a table of {given} for this camera, and {wished} is asked for \
         here: leave the size as it is, or start the service with the right one"
    )]
    OtherTable { given: String, wished: String },
}

/// Where a camera's calibration is kept in the data folder.
pub fn calibration_file(data: &Path, camera: &CameraName) -> PathBuf {
    data.join("calibrations").join(format!("{camera}.json"))
}

/// Frames in a row that do not fit the stored calibration until the camera counts as moved.
const MISFITS_UNTIL_MOVED: u32 = 3;

/// Reads a real camera's frames with `vision`.
pub struct TableReader {
    /// Where the calibration is kept; none where nothing is.
    file: Option<PathBuf>,
    /// A calibration of the user's, taken instead of the kept one and never written to.
    given: Option<PathBuf>,
    options: CalibrateOptions,
    eye: Option<RestWatch>,
    misfits: u32,
}

impl TableReader {
    /// A reader that keeps its calibration under the camera's name in the data folder.
    pub fn new(data: &Path, camera: &CameraName, options: CalibrateOptions) -> Self {
        let file = calibration_file(data, camera);
        Self { file: Some(file), ..Self::keeping_nothing(options) }
    }

    /// A reader that leaves nothing behind.
    pub fn keeping_nothing(options: CalibrateOptions) -> Self {
        Self { file: None, given: None, options, eye: None, misfits: 0 }
    }

    /// The same reader, beginning with a calibration file of the user's.
    pub fn beginning_with(self, calibration: PathBuf) -> Self {
        Self { given: Some(calibration), ..self }
    }

    /// Takes the stored calibration, if there is one that is still wanted.
    fn load(&mut self) -> Result<(), ReaderError> {
        if self.eye.is_some() {
            return Ok(());
        }
        if let Some(given) = &self.given {
            self.eye = Some(RestWatch::new(self.reader(Calibration::load(given)?)?));
        } else if let Some(file) = self.file.as_ref().filter(|file| file.exists()) {
            let stored = Calibration::load(file)?;
            let other_table = self.options.table.is_some_and(|table| table != stored.table);
            if !other_table {
                self.eye = Some(RestWatch::new(self.reader(stored)?));
            }
        }
        Ok(())
    }

    /// A reader that knows the ball set which was taught for this camera. Where that cannot be used
    /// frames are still read, and the log says why their numbers are in doubt.
    fn reader(&self, calibration: Calibration) -> Result<vision::Reader, ReadError> {
        let mut reader = vision::Reader::new(calibration)?;
        let beside = self.given.as_deref().or(self.file.as_deref()).map(ball_set_beside);
        let taught = beside.filter(|file| file.exists());
        if let Some(file) = taught {
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

    /// Keeps what was calibrated anew for the frames to come.
    fn keep(&mut self, reader: vision::Reader) -> Result<(), CalibrationError> {
        self.save(reader.calibration())?;
        self.eye = Some(RestWatch::new(reader));
        self.misfits = 0;
        Ok(())
    }

    /// Writes a calibration down; the one before it is set aside, not lost.
    fn save(&self, calibration: &Calibration) -> Result<(), CalibrationError> {
        let Some(file) = &self.file else { return Ok(()) };
        let unwritable = |source| CalibrationError::Unwritable { path: file.clone(), source };
        if let Some(folder) = file.parent() {
            std::fs::create_dir_all(folder).map_err(unwritable)?;
        }
        if file.exists() {
            let until = jiff::Timestamp::now().as_second();
            let aside = file.with_extension(format!("until-{until}.json"));
            std::fs::rename(file, aside).map_err(unwritable)?;
        }
        calibration.save(file)?;
        tracing::info!(file = %file.display(), "kept a calibration of {}", calibration.table);
        Ok(())
    }

    /// Holds that a size is not another one than the service was started with.
    fn hold_size(&self, wished: TableSize) -> Result<(), ReaderError> {
        match self.options.table {
            Some(given) if given != wished => {
                Err(ReaderError::OtherTable { given: given.name(), wished: wished.name() })
            }
            _ => Ok(()),
        }
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
        let Some(eye) = &self.eye else {
            let (reader, reading) = self.begin(frame)?;
            self.keep(reader)?;
            return Ok(reading);
        };
        match eye.reader().read(frame) {
            Ok(reading) => {
                self.misfits = 0;
                Ok(reading)
            }
            Err(misfit) => self.read_anew(frame, &misfit),
        }
    }

    fn read_alone(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError> {
        self.begin(frame).map(|(_, reading)| reading)
    }

    fn watch(&mut self, frame: &RgbImage, at: Duration) -> Result<Look, ReaderError> {
        self.load()?;
        let eye = match &mut self.eye {
            Some(eye) if eye.reader().fits(frame) => eye,
            // Without a calibration, or where the camera now sends frames of another size.
            _ => {
                let (reader, _) = self.begin(frame)?;
                self.save(reader.calibration())?;
                self.eye.insert(RestWatch::new(reader))
            }
        };
        let look = eye.look(frame, at)?;
        if let Some(calibration) = &look.recalibrated {
            tracing::warn!("the camera was moved, so it was calibrated again");
            self.save(calibration)?;
        }
        Ok(look)
    }

    fn kept(&self) -> Result<Option<Calibration>, ReaderError> {
        let file = self.given.as_ref().or(self.file.as_ref().filter(|file| file.exists()));
        let kept = file.map(|file| Calibration::load(file)).transpose()?;
        Ok(kept.filter(|kept| self.hold_size(kept.table).is_ok()))
    }

    fn try_out(
        &self,
        frame: &RgbImage,
        wish: &CalibrateOptions,
    ) -> Result<Calibration, ReaderError> {
        wish.table.map_or(Ok(()), |wished| self.hold_size(wished))?;
        let wish = CalibrateOptions { table: wish.table.or(self.options.table), ..wish.clone() };
        Ok(vision::calibrate(std::slice::from_ref(frame), &wish)?)
    }

    fn keep_for_good(&self, calibration: &Calibration) -> Result<(), ReaderError> {
        if let Some(given) = &self.given {
            return Err(ReaderError::Given { path: given.clone() });
        }
        self.hold_size(calibration.table)?;
        Ok(self.save(calibration)?)
    }

    fn begin_again(&mut self) {
        (self.eye, self.misfits) = (None, 0);
    }
}
