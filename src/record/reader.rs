//! Reading a record beside the service that writes it, or without one.

use super::{
    RecordError, Rest,
    followers::{Score, corrections, fold},
    lock::Lock,
    migrations,
    pictures::Pictures,
    retention::{PictureState, state_of},
    rows::{REST_COLUMNS, RawRest},
    store::{DATABASE, explained},
};
use crate::{
    score::{Attempt, Step, Story},
    study::ShotLog,
};
use rusqlite::{Connection, OpenFlags, OptionalExtension as _, params};
use std::{
    path::{Path, PathBuf},
    time::{Duration, Instant},
};

/// How long reading waits for a service that is just starting or stopping.
const PATIENCE: Duration = Duration::from_secs(5);

/// The pause before looking again.
const LOOK_AGAIN: Duration = Duration::from_millis(50);

/// What is known of one camera's table.
#[derive(Debug)]
pub struct Studied {
    pub camera: String,
    pub story: Story,
    pub log: ShotLog,
}

/// An attempt with all its rests, from the opening rack to the one that ended it; each with the
/// user's last word on it.
#[derive(Debug, Clone)]
pub struct AttemptRests {
    pub attempt: Attempt,
    pub rests: Vec<(Rest, Option<Step>)>,
}

/// A record that is only read. Whether a service writes to it meanwhile makes no difference.
#[derive(Debug)]
pub struct RecordReader {
    pub(super) connection: Connection,
    pub(super) pictures: Pictures,
    pub(super) data: PathBuf,
}

impl RecordReader {
    /// Opens the record of a data folder for reading. One that an older program has written is
    /// brought to the present version first.
    ///
    /// # Errors
    /// Where there is no record, or a program of another version writes it.
    pub fn open(data: &Path) -> Result<Self, RecordError> {
        let path = data.join(DATABASE);
        if !path.is_file() {
            return Err(RecordError::NoRecord { path: data.into() });
        }
        let explain = |error| explained(error, data);
        let begun = Instant::now();
        loop {
            let connection = match open_for_reading(&path).map_err(explain) {
                // A service that is starting or stopping puts it in order.
                Err(RecordError::InUse { .. }) if begun.elapsed() < PATIENCE => {
                    std::thread::sleep(LOOK_AGAIN);
                    continue;
                }
                connection => connection?,
            };
            // One without a version has only just been begun, or cannot be read at all, which the
            // migration tells.
            let found = migrations::version(&connection).unwrap_or(0);
            if found > migrations::KNOWN {
                return Err(RecordError::TooNew { found, known: migrations::KNOWN });
            }
            if found == migrations::KNOWN {
                return Ok(Self { connection, pictures: Pictures::of(data), data: data.into() });
            }
            match Lock::take(data, Duration::ZERO) {
                Ok(_lock) => {
                    migrations::migrate(&mut Connection::open(&path)?).map_err(explain)?;
                }
                // A service that is starting does it.
                Err(RecordError::InUse { .. }) if begun.elapsed() < PATIENCE => {
                    std::thread::sleep(LOOK_AGAIN);
                }
                Err(error) => return Err(error),
            }
        }
    }

    /// All rests of an attempt as they are on record, with what was corrected. None where the camera
    /// has no attempt of this id.
    ///
    /// # Errors
    /// Where the record cannot be read, or one of these rests is damaged.
    pub fn attempt(&self, camera: &str, id: u32) -> Result<Option<AttemptRests>, RecordError> {
        self.at_one_moment(|| {
            let score = fold(&self.connection, camera)?;
            let Some(attempt) = score.follower.story().attempt(id).cloned() else {
                return Ok(None);
            };
            let last = attempt.over.map_or(i64::MAX, |over| over.rest);
            let mut said = corrections(&self.connection, camera)?;
            let mut statement = self.connection.prepare(&format!(
                "SELECT {REST_COLUMNS} FROM rests \
                 WHERE camera = $1 AND id >= $2 AND id <= $3 ORDER BY id"
            ))?;
            let rows = statement
                .query_map(params![camera, attempt.began_rest, last], RawRest::from_row)?;
            let mut rests = Vec::new();
            for row in rows {
                let rest = row?.into_rest()?;
                let said = said.remove(&rest.id);
                rests.push((rest, said));
            }
            Ok(Some(AttemptRests { attempt, rests }))
        })
    }

    /// Where the picture of a rest lies, if it is still there.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub fn picture_file(&self, rest: &Rest) -> Result<Option<PathBuf>, RecordError> {
        let kept = state_of(&self.connection, &rest.picture_sha256)? == Some(PictureState::Kept);
        let path = self.pictures.path(&rest.picture_sha256, rest.format.extension());
        Ok((kept && path.is_file()).then_some(path))
    }

    /// Each camera's score with all corrections and what its rests tell the study, as it stands at
    /// one moment.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub fn stories(&self) -> Result<Vec<Studied>, RecordError> {
        self.at_one_moment(|| {
            let of = |camera: String| {
                let Score { follower, log, .. } = fold(&self.connection, &camera)?;
                Ok(Studied { camera, story: follower.into_story(), log })
            };
            self.cameras()?.into_iter().map(of).collect()
        })
    }

    /// When a rest was, in milliseconds since 1970; none where there is no such rest.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub fn time_of(&self, rest: i64) -> Result<Option<i64>, RecordError> {
        let mut statement =
            self.connection.prepare_cached("SELECT at_unix_ms FROM rests WHERE id = $1")?;
        Ok(statement.query_row([rest], |row| row.get(0)).optional()?)
    }
}

/// On a disk that cannot be written to, SQLite can open a record only if told that nobody writes,
/// and then does not look for what was written last but is not yet in the main file: so that is
/// said only where there is no such thing.
fn open_for_reading(path: &Path) -> Result<Connection, RecordError> {
    let open = |uri: String| -> Result<Connection, RecordError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
        let connection = Connection::open_with_flags(uri, flags)?;
        connection.busy_timeout(PATIENCE)?;
        // Opening alone reads nothing.
        connection.query_row("SELECT COUNT(*) FROM sqlite_master", [], |_| Ok(()))?;
        Ok(connection)
    };
    let name = escaped(path);
    open(format!("file:{name}?mode=ro")).or_else(|error| {
        let log = path.with_extension("sqlite3-wal");
        let all_in_one = std::fs::metadata(log).map_or(true, |log| log.len() == 0);
        if all_in_one { open(format!("file:{name}?immutable=1")) } else { Err(error) }
    })
}

/// A path as it stands in a URI (RFC 3986).
fn escaped(path: &Path) -> String {
    use std::{fmt::Write, os::unix::ffi::OsStrExt};
    let mut name = String::new();
    for byte in path.as_os_str().as_bytes() {
        if byte.is_ascii_alphanumeric() || b"/-_.".contains(byte) {
            name.push(char::from(*byte));
        } else {
            let _ = write!(name, "%{byte:02X}");
        }
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_with_marks_of_its_own_stays_one_path() {
        assert_eq!(escaped(Path::new("/a b/50%?x#é")), "/a%20b/50%25%3Fx%23%C3%A9");
    }
}
