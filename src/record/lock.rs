//! One service to one record: a lock that ends with its process, however that ends.

use super::RecordError;
use std::{
    fs::{File, OpenOptions, TryLockError},
    path::Path,
};

/// Held as long as a record is written to. Who only reads does not need it.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
}

impl Lock {
    /// Takes the lock of a data folder.
    ///
    /// # Errors
    /// Where another process holds it, or the folder cannot be written to.
    pub(super) fn take(data: &Path) -> Result<Self, RecordError> {
        let path = data.join("record.lock");
        let folder = |source| RecordError::Folder { path: data.into(), source };
        let file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&path)
            .map_err(folder)?;
        match file.try_lock() {
            Ok(()) => Ok(Self { _file: file }),
            Err(TryLockError::WouldBlock) => Err(RecordError::InUse { path: data.into() }),
            Err(TryLockError::Error(source)) => Err(folder(source)),
        }
    }
}
