//! Turns at the processor: as many frames are decoded and read at a time as there are cores, so
//! that many cameras neither slow each other down nor fill the memory with pictures.

use std::{
    sync::{Arc, Condvar, Mutex, PoisonError},
    thread::available_parallelism,
};

/// The free turns. Cheap to clone.
#[derive(Debug, Clone)]
pub(super) struct Turns {
    free: Arc<(Mutex<usize>, Condvar)>,
}

/// A turn; given back when dropped.
pub(super) struct Turn<'a>(&'a Turns);

impl Default for Turns {
    fn default() -> Self {
        let cores = available_parallelism().map_or(1, std::num::NonZero::get);
        Self { free: Arc::new((Mutex::new(cores), Condvar::new())) }
    }
}

impl Turns {
    /// Waits for a turn.
    pub(super) fn take(&self) -> Turn<'_> {
        let (free, given_back) = &*self.free;
        let free = free.lock().unwrap_or_else(PoisonError::into_inner);
        let mut free =
            given_back.wait_while(free, |free| *free == 0).unwrap_or_else(PoisonError::into_inner);
        *free -= 1;
        Turn(self)
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        let (free, given_back) = &*self.0.free;
        *free.lock().unwrap_or_else(PoisonError::into_inner) += 1;
        given_back.notify_one();
    }
}
