//! What a camera saw last, and the calibration that is being tried on it: where the thread that
//! looks and whoever sets the camera up meet.

use super::FrameReader;
use crate::camera::Calibration;
use image::RgbImage;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// One camera's sight. Cheap to clone.
#[derive(Clone, Default)]
pub(super) struct Sight(Arc<Inner>);

#[derive(Default)]
struct Inner {
    state: Mutex<State>,
    /// Held while a frame is looked at: what is kept is not exchanged in the middle of a look, which
    /// may keep a calibration of its own.
    looking: Mutex<()>,
}

#[derive(Default)]
struct State {
    latest: Option<Arc<RgbImage>>,
    /// The last calibration that was tried, and its number.
    trial: Option<(u64, Calibration)>,
    trials: u64,
    /// Whether the reader goes by what is kept no longer.
    outdated: bool,
}

impl Sight {
    fn locked(&self) -> MutexGuard<'_, State> {
        self.0.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn alone(&self) -> MutexGuard<'_, ()> {
        self.0.looking.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A frame came.
    pub(super) fn show(&self, frame: &Arc<RgbImage>) {
        self.locked().latest = Some(Arc::clone(frame));
    }

    /// The last frame that came.
    pub(super) fn latest(&self) -> Option<Arc<RgbImage>> {
        self.locked().latest.clone()
    }

    /// Begins a look at a frame; what was kept meanwhile counts in it.
    pub(super) fn look(&self, reader: &mut dyn FrameReader) -> MutexGuard<'_, ()> {
        let looking = self.alone();
        if std::mem::take(&mut self.locked().outdated) {
            reader.begin_again();
        }
        looking
    }

    /// Keeps something that counts from the next look on.
    pub(super) fn exchange<E>(&self, keep: impl FnOnce() -> Result<(), E>) -> Result<(), E> {
        let _alone = self.alone();
        keep()?;
        self.locked().outdated = true;
        Ok(())
    }

    /// Notes a calibration that was tried; its number.
    pub(super) fn note_trial(&self, calibration: &Calibration) -> u64 {
        let mut state = self.locked();
        state.trials += 1;
        let number = state.trials;
        state.trial = Some((number, calibration.clone()));
        number
    }

    /// The calibration of a trial, if it was the last.
    pub(super) fn trial(&self, number: u64) -> Option<Calibration> {
        let state = self.locked();
        let trial = state.trial.as_ref().filter(|(last, _)| *last == number);
        trial.map(|(_, calibration)| calibration.clone())
    }
}
