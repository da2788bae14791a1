//! Frames as files named by their content, so that the same picture is kept once.

use std::{
    fs::{self, File},
    io::{self, Write},
    path::{Path, PathBuf},
};

/// The ending of a file that is not all there yet.
const UNFINISHED: &str = "part";

/// The folder of frames.
#[derive(Debug, Clone)]
pub(super) struct Pictures {
    folder: PathBuf,
}

impl Pictures {
    /// The pictures of a data folder, whether there are any or not.
    pub(super) fn of(data: &Path) -> Self {
        Self { folder: data.join("pictures") }
    }

    /// Makes the folder.
    pub(super) fn open(data: &Path) -> io::Result<Self> {
        let pictures = Self::of(data);
        fs::create_dir_all(&pictures.folder)?;
        Ok(pictures)
    }

    /// Where a picture lies. Two characters of its name make a folder, to keep folders small.
    pub(super) fn path(&self, sha256: &str, extension: &str) -> PathBuf {
        let shelf = sha256.get(..2).unwrap_or("00");
        self.folder.join(shelf).join(format!("{sha256}.{extension}"))
    }

    /// Writes a picture under its name; when this returns, it is on disk.
    pub(super) fn keep(&self, bytes: &[u8], sha256: &str, extension: &str) -> io::Result<()> {
        let path = self.path(sha256, extension);
        if fs::metadata(&path).is_ok_and(|found| found.len() == bytes.len() as u64) {
            return Ok(());
        }
        self.place(&path, |file| file.write_all(bytes))
    }

    /// Copies a picture's file from elsewhere, unless it is here already; when this returns, it is
    /// on disk.
    pub(super) fn copy_in(&self, from: &Path, sha256: &str, extension: &str) -> io::Result<bool> {
        let mut source = File::open(from)?;
        let path = self.path(sha256, extension);
        if fs::metadata(&path)
            .is_ok_and(|found| source.metadata().is_ok_and(|wanted| wanted.len() == found.len()))
        {
            return Ok(false);
        }
        self.place(&path, |file| io::copy(&mut source, file).map(|_| ()))?;
        Ok(true)
    }

    fn place(&self, path: &Path, fill: impl FnOnce(&mut File) -> io::Result<()>) -> io::Result<()> {
        let shelf = path.parent().unwrap_or(&self.folder);
        fs::create_dir_all(shelf)?;
        // A name that no reader looks for, until all of it is on disk.
        let unfinished = path.with_extension(UNFINISHED);
        let filled = File::create(&unfinished).and_then(|mut file| {
            fill(&mut file)?;
            file.sync_all()
        });
        if let Err(error) = filled.and_then(|()| fs::rename(&unfinished, path)) {
            // Where the disk is full, a piece of a picture must not take the last room.
            let _ = fs::remove_file(&unfinished);
            return Err(error);
        }
        for folder in [shelf, &self.folder] {
            File::open(folder)?.sync_all()?;
        }
        Ok(())
    }

    /// Deletes what an earlier run had begun to write when it ended.
    pub(super) fn clear_unfinished(&self) {
        let Ok(shelves) = fs::read_dir(&self.folder) else { return };
        let files = shelves.flatten().filter_map(|shelf| fs::read_dir(shelf.path()).ok());
        for file in files.flatten().flatten() {
            let path = file.path();
            if path.extension().is_some_and(|ending| ending == UNFINISHED)
                && let Err(error) = fs::remove_file(&path)
            {
                tracing::warn!("cannot delete {}: {error}", path.display());
            }
        }
    }
}
