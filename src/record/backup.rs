//! A copy of a data folder that a service can go on from, made while another one writes.
//!
//! The database is copied as it stands at one moment; the pictures it names follow, those excepted
//! that the target has already; last the database gets its name. So whatever interrupts a backup,
//! the target holds the one before.

use super::{
    RecordError, RecordReader,
    lock::Lock,
    pictures::Pictures,
    retention::{PictureState, paths, set_state, state_of},
    store::{DATABASE, explained, keep_to_owner},
};
use rusqlite::{Connection, OptionalExtension};
use std::{
    fs::{self, File},
    io,
    path::{Path, PathBuf},
    time::Duration,
};
use thiserror::Error;

/// What a backup holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BackupReport {
    pub rests: i64,
    /// Pictures that were not in the target before.
    pub pictures_copied: u64,
    /// Pictures that should have been there and were not; `stillcloth check` names them.
    pub pictures_missing: u64,
}

/// Why no backup was made.
#[derive(Debug, Error)]
pub enum BackupError {
    #[error(transparent)]
    Record(#[from] RecordError),
    #[error("{path} is the data folder itself or lies inside it. Give a folder elsewhere")]
    Inside { path: PathBuf },
    #[error(
        "{path} holds another record than the one to be backed up, and is left as it is. Give an \
         empty folder, or the one of an earlier backup"
    )]
    OtherRecord { path: PathBuf },
    #[error("cannot write the backup to {path}: {source}. What was there before is untouched")]
    Write { path: PathBuf, source: io::Error },
}

impl From<rusqlite::Error> for BackupError {
    fn from(error: rusqlite::Error) -> Self {
        Self::Record(error.into())
    }
}

impl RecordReader {
    /// Copies the whole data folder into another, which is made where it is not there.
    ///
    /// # Errors
    /// Where the target cannot be written to, is in use, or holds something else.
    pub fn backup(&self, target: &Path) -> Result<BackupReport, BackupError> {
        let refused = |source| BackupError::Write { path: target.into(), source };
        fs::create_dir_all(target).map_err(refused)?;
        let inside = || -> io::Result<bool> {
            Ok(fs::canonicalize(target)?.starts_with(fs::canonicalize(&self.data)?))
        };
        if inside().map_err(refused)? {
            return Err(BackupError::Inside { path: target.into() });
        }
        let _lock = Lock::take(target, Duration::ZERO)?;
        self.holds_nothing_else(target)?;
        let unfinished = target.join(format!("{DATABASE}.part"));
        match fs::remove_file(&unfinished) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(refused(error)),
            _ => {}
        }
        let name =
            unfinished.to_str().ok_or_else(|| refused(io::ErrorKind::InvalidFilename.into()))?;
        // Listeners' secrets stand in it: nobody else may read it, not even while it is written.
        keep_to_owner(&unfinished).map_err(refused)?;
        self.connection
            .execute("VACUUM INTO $1", [name])
            .map_err(|error| explained(error.into(), target))?;
        let report = self.copy_pictures(&unfinished, target)?;
        copy_others(&self.data, target).map_err(refused)?;
        File::open(&unfinished).and_then(|file| file.sync_all()).map_err(refused)?;
        fs::rename(&unfinished, target.join(DATABASE)).map_err(refused)?;
        File::open(target).and_then(|folder| folder.sync_all()).map_err(refused)?;
        Ok(report)
    }

    /// Holds that a target's record, if there is one, is an earlier state of ours, and puts all of
    /// it into its one file.
    fn holds_nothing_else(&self, target: &Path) -> Result<(), BackupError> {
        let path = target.join(DATABASE);
        if !path.exists() {
            return Ok(());
        }
        let last = |connection: &Connection, sql: &str, id: i64| {
            let row = connection
                .query_row(sql, [id], |row| Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?)));
            row.optional()
        };
        let there = Connection::open(&path)?;
        there.execute_batch("PRAGMA journal_mode = DELETE")?;
        let newest = last(
            &there,
            "SELECT id, row_sha256 FROM rests WHERE id > $1 ORDER BY id DESC LIMIT 1",
            0,
        )?;
        let Some((id, sha256)) = newest else { return Ok(()) };
        let ours = last(&self.connection, "SELECT id, row_sha256 FROM rests WHERE id = $1", id)?;
        if ours == Some((id, sha256)) {
            Ok(())
        } else {
            Err(BackupError::OtherRecord { path: target.into() })
        }
    }

    fn copy_pictures(&self, copy: &Path, target: &Path) -> Result<BackupReport, BackupError> {
        let connection = Connection::open(copy)?;
        let rests = connection.query_row("SELECT COUNT(*) FROM rests", [], |row| row.get(0))?;
        let mut report = BackupReport { rests, pictures_copied: 0, pictures_missing: 0 };
        let pictures = Pictures::open(target)
            .map_err(|source| BackupError::Write { path: target.into(), source })?;
        for (sha256, path) in paths(&connection, &self.pictures, "state = 'kept'")? {
            let extension = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
            match pictures.copy_in(&path, &sha256, extension) {
                Ok(copied) => report.pictures_copied += u64::from(copied),
                Err(error) if error.kind() == io::ErrorKind::NotFound => {
                    // The service may have let it go since.
                    match state_of(&self.connection, &sha256)? {
                        Some(PictureState::Leaving | PictureState::Gone) => {
                            set_state(&connection, &sha256, PictureState::Gone)?;
                        }
                        _ => report.pictures_missing += 1,
                    }
                }
                Err(source) => return Err(BackupError::Write { path: target.into(), source }),
            }
        }
        Ok(report)
    }
}

/// Copies what else lies in a data folder, such as calibrations.
fn copy_others(from: &Path, to: &Path) -> io::Result<()> {
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let name = entry.file_name();
        let is_the_records =
            name == "pictures" || name.to_str().is_none_or(|name| name.starts_with("record."));
        if !is_the_records {
            copy_all(&entry.path(), &to.join(name))?;
        }
    }
    Ok(())
}

fn copy_all(from: &Path, to: &Path) -> io::Result<()> {
    if from.is_dir() {
        fs::create_dir_all(to)?;
        for entry in fs::read_dir(from)? {
            let entry = entry?;
            copy_all(&entry.path(), &to.join(entry.file_name()))?;
        }
        Ok(())
    } else {
        fs::copy(from, to).map(|_| ())
    }
}
