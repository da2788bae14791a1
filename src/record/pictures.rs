//! Frames as files named by their content, so that the same picture is kept once.

use super::RecordError;
use sha2::{Digest, Sha256};
use std::{
    fs::{self, File},
    io::{self, Write},
    path::{Path, PathBuf},
};

/// Lower-case hexadecimal SHA-256.
pub(super) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The folder of frames.
#[derive(Debug, Clone)]
pub(super) struct Pictures {
    folder: PathBuf,
}

impl Pictures {
    pub(super) fn open(data: &Path) -> io::Result<Self> {
        let folder = data.join("pictures");
        fs::create_dir_all(&folder)?;
        Ok(Self { folder })
    }

    /// Where a picture lies. Two characters of its name make a folder, to keep folders small.
    pub(super) fn path(&self, sha256: &str, extension: &str) -> PathBuf {
        let shelf = sha256.get(..2).unwrap_or("00");
        self.folder.join(shelf).join(format!("{sha256}.{extension}"))
    }

    /// Writes a picture and returns its name once it is on disk.
    pub(super) fn keep(&self, bytes: &[u8], extension: &str) -> Result<String, RecordError> {
        let name = sha256(bytes);
        let path = self.path(&name, extension);
        let refused = |source| RecordError::Picture { path: path.clone(), source };
        if fs::metadata(&path).is_ok_and(|found| found.len() == bytes.len() as u64) {
            return Ok(name);
        }
        let shelf = path.parent().unwrap_or(&self.folder);
        fs::create_dir_all(shelf).map_err(refused)?;
        // A name that no reader looks for, until all of it is on disk.
        let unfinished = path.with_extension("part");
        let mut file = File::create(&unfinished).map_err(refused)?;
        file.write_all(bytes).and_then(|()| file.sync_all()).map_err(refused)?;
        fs::rename(&unfinished, &path).map_err(refused)?;
        for folder in [shelf, &self.folder] {
            File::open(folder).and_then(|folder| folder.sync_all()).map_err(refused)?;
        }
        Ok(name)
    }
}
