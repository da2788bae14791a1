//! One service to one record: a lock that ends with its process, however that ends.

use super::RecordError;
use std::{
    fs::{File, OpenOptions, TryLockError},
    path::Path,
    time::{Duration, Instant},
};

/// The pause before looking again.
const LOOK_AGAIN: Duration = Duration::from_millis(50);

/// Held as long as a record is written to. Who only reads does not need it.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
}

impl Lock {
    /// Takes the lock of a data folder, waiting so long for whoever holds it.
    ///
    /// # Errors
    /// Where another process holds it, or the folder cannot be written to.
    pub(super) fn take(data: &Path, patience: Duration) -> Result<Self, RecordError> {
        let path = data.join("record.lock");
        let folder = |source| RecordError::Folder { path: data.into(), source };
        let file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&path)
            .map_err(folder)?;
        let begun = Instant::now();
        loop {
            match file.try_lock() {
                Ok(()) => return Ok(Self { _file: file }),
                Err(TryLockError::WouldBlock) if begun.elapsed() < patience => {
                    std::thread::sleep(LOOK_AGAIN);
                }
                Err(TryLockError::WouldBlock) => {
                    return Err(RecordError::InUse { path: data.into() });
                }
                Err(TryLockError::Error(source)) => return Err(folder(source)),
            }
        }
    }
}
