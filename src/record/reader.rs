//! Reading a record beside the service that writes it, or without one.

use super::{
    RecordError,
    lock::Lock,
    migrations,
    pictures::Pictures,
    store::{DATABASE, explained},
};
use rusqlite::{Connection, OpenFlags};
use std::{
    path::{Path, PathBuf},
    time::Duration,
};

/// How long reading waits for a service that is just starting or stopping.
const PATIENCE: Duration = Duration::from_secs(5);

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
        let connection = open_for_reading(&path).map_err(|error| explained(error, data))?;
        let found = migrations::version(&connection).map_err(|error| explained(error, data))?;
        let known = migrations::KNOWN;
        if found < known {
            // Only where nobody else writes.
            let _lock = Lock::take(data)?;
            let mut writer = Connection::open(&path)?;
            migrations::migrate(&mut writer).map_err(|error| explained(error, data))?;
        } else if found > known {
            return Err(RecordError::TooNew { found, known });
        }
        Ok(Self { connection, pictures: Pictures::of(data), data: data.into() })
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
