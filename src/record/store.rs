//! The database and the pictures, as their one owner uses them.

use super::{
    RecordError, Rest, RestQuery, Retention,
    disk::{self, Room},
    event::MAX_ANSWER,
    followers::Followers,
    lock::Lock,
    migrations,
    outbox::{self, KnownListener},
    pictures::Pictures,
    rest::Picture,
    retention::{self, Keeper, PictureState},
    rows::{REST_COLUMNS, RawRest},
};
use jiff::Timestamp;
use rusqlite::{Connection, ErrorCode, Transaction, TransactionBehavior, params};
use std::{
    collections::{BTreeMap, BTreeSet},
    fs::{OpenOptions, Permissions},
    os::unix::fs::{OpenOptionsExt, PermissionsExt},
    path::{Path, PathBuf},
    time::Duration,
};

/// The database's file in a data folder.
pub(super) const DATABASE: &str = "record.sqlite3";

/// How long a write waits for a reader that is just opening or closing the record.
const WRITE_PATIENCE: Duration = Duration::from_secs(5);

/// A reader that brings an old record up to date, or a service that is just closing it, holds the
/// lock for a moment: longer on a slow disk.
const LOCK_PATIENCE: Duration = Duration::from_secs(5);

/// The last numbers given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Numbers {
    pub(super) rest: i64,
    pub(super) correction: i64,
    pub(super) event: i64,
    pub(super) note: i64,
    pub(super) contest: i64,
    pub(super) contest_entry: i64,
    pub(super) contest_word: i64,
    pub(super) hand_kept: i64,
}

impl Numbers {
    pub(super) fn read(connection: &Connection) -> Result<Self, RecordError> {
        let last = |table: &str| {
            let sql = format!("SELECT COALESCE(MAX(id), 0) FROM {table}");
            connection.query_row(&sql, [], |row| row.get(0))
        };
        Ok(Self {
            rest: last("rests")?,
            correction: last("corrections")?,
            event: last("events")?,
            note: last("notes")?,
            contest: last("contests")?,
            contest_entry: last("contest_entries")?,
            contest_word: last("contest_words")?,
            hand_kept: last("hand_kept")?,
        })
    }
}

/// The record's one owner.
#[derive(Debug)]
pub(super) struct Store {
    pub(super) connection: Connection,
    pub(super) pictures: Pictures,
    pub(super) keeper: Keeper,
    pub(super) numbers: Numbers,
    pub(super) listeners: Vec<KnownListener>,
    pub(super) followers: Followers,
    /// Cameras with a rest since the record was opened.
    pub(super) seen_since_opened: BTreeSet<String>,
    /// Whether a shot is practised before a camera, where that was asked.
    pub(super) practising: BTreeMap<String, bool>,
    data: PathBuf,
    /// Told once, not with each rest.
    room: Room,
    _lock: Lock,
}

impl Store {
    /// Opens the record of a data folder, or begins one.
    pub(super) fn open(data: &Path, retention: Retention) -> Result<Self, RecordError> {
        let folder = |source| RecordError::Folder { path: data.into(), source };
        std::fs::create_dir_all(data).map_err(folder)?;
        if let Some(share) = disk::network_share(data) {
            tracing::warn!(
                "the data folder {} lies on a network share ({share}): a cut connection can damage \
                 the record. Better keep it on a disk of this machine, and back up to the share",
                data.display()
            );
        }
        let lock = Lock::take(data, LOCK_PATIENCE)?;
        let pictures = Pictures::open(data).map_err(folder)?;
        let path = data.join(DATABASE);
        // SQLite gives the files beside it the same permissions.
        keep_to_owner(&path).map_err(folder)?;
        let mut connection = Connection::open(&path)?;
        prepare(&mut connection).map_err(|error| explained(error, data))?;
        let keeper = Keeper::open(retention, &mut connection, &pictures)
            .map_err(|error| explained(error, data))?;
        Ok(Self {
            numbers: Numbers::read(&connection)?,
            listeners: outbox::listeners(&connection)?,
            followers: Followers::default(),
            seen_since_opened: BTreeSet::new(),
            practising: BTreeMap::new(),
            connection,
            pictures,
            keeper,
            data: data.into(),
            room: Room::Pictures,
            _lock: lock,
        })
    }

    /// Writes: all of it is on disk when this returns, or nothing has changed.
    pub(super) fn write<T>(
        &mut self,
        work: impl FnOnce(&Transaction<'_>, &mut Numbers) -> Result<T, RecordError>,
    ) -> Result<T, RecordError> {
        let mut numbers = self.numbers;
        let written = (|| {
            let transaction =
                self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let done = work(&transaction, &mut numbers)?;
            transaction.commit()?;
            Ok(done)
        })();
        match written {
            Ok(done) => {
                self.numbers = numbers;
                Ok(done)
            }
            Err(error) => {
                // Whatever the disk made of it is what holds.
                if let Ok(numbers) = Numbers::read(&self.connection) {
                    self.numbers = numbers;
                }
                Err(explained(error, &self.data))
            }
        }
    }

    /// Bytes free on the record's disk.
    pub(super) fn free_bytes(&self) -> u64 {
        disk::free_bytes(&self.data)
    }

    /// Whether the next rest's picture is kept. Says so when that changes.
    pub(super) fn has_room_for_pictures(&mut self) -> Result<bool, RecordError> {
        let bound = self.keeper.retention.min_free_bytes();
        let room = disk::room(&self.data, bound)?;
        if room != self.room {
            match room {
                Room::Pictures => tracing::info!("there is room for pictures again"),
                Room::RestsOnly | Room::Nothing => tracing::warn!(
                    "less than {bound} bytes are free on the disk of {}: scores go on, pictures \
                     are not kept. Delete something, or set pictures.max_gb",
                    self.data.display()
                ),
            }
            self.room = room;
        }
        Ok(room == Room::Pictures)
    }

    /// Lets some old pictures go, as the setting says. Where that fails, it is tried again later.
    pub(super) fn let_some_pictures_go(&mut self) {
        if let Err(error) = self.keeper.let_some_go(&mut self.connection, &self.pictures) {
            let error = explained(error, &self.data);
            tracing::error!("old pictures could not be deleted: {error}");
            self.keeper.put_off();
        }
    }

    /// The newest rests, newest first.
    pub(super) fn newest(
        &self,
        camera: Option<&str>,
        limit: u32,
    ) -> Result<Vec<Rest>, RecordError> {
        let limit = limit.min(MAX_ANSWER);
        match camera {
            Some(camera) => {
                self.select("WHERE camera = $1 ORDER BY id DESC LIMIT $2", params![camera, limit])
            }
            None => self.select("ORDER BY id DESC LIMIT $1", params![limit]),
        }
    }

    /// The rests a query asks for, oldest first.
    pub(super) fn list(&self, query: &RestQuery) -> Result<Vec<Rest>, RecordError> {
        let from = query.from.map_or(i64::MIN, ceil_ms);
        let to = query.to.map_or(i64::MAX, ceil_ms);
        let limit = query.limit.clamp(1, MAX_ANSWER);
        // One text for every combination: an empty name stands for all cameras.
        let camera = query.camera.as_deref().unwrap_or_default();
        self.select(
            "WHERE id > $1 AND at_unix_ms >= $2 AND at_unix_ms < $3 AND ($4 = '' OR camera = $5) \
             ORDER BY id LIMIT $6",
            params![query.after, from, to, camera, camera, limit],
        )
    }

    /// The picture and the time of each rest of a camera.
    pub(super) fn pictures_of(
        &self,
        camera: &str,
    ) -> Result<Vec<(String, Timestamp)>, RecordError> {
        let sql = "SELECT picture_sha256, at_unix_ms FROM rests WHERE camera = $1 ORDER BY id";
        let mut statement = self.connection.prepare_cached(sql)?;
        let rows = statement.query_map([camera], |row| {
            let at = Timestamp::from_millisecond(row.get(1)?).unwrap_or_default();
            Ok((row.get(0)?, at))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn select(
        &self,
        condition: &str,
        values: impl rusqlite::Params,
    ) -> Result<Vec<Rest>, RecordError> {
        let mut statement = self
            .connection
            .prepare_cached(&format!("SELECT {REST_COLUMNS} FROM rests {condition}"))?;
        let rows = statement.query_map(values, RawRest::from_row)?;
        let mut rests = Vec::new();
        for row in rows {
            match row?.into_rest() {
                Ok(rest) => rests.push(rest),
                // One bad row must not hide all the others.
                Err(error) => tracing::error!("left out of an answer: {error}"),
            }
        }
        Ok(rests)
    }

    /// What became of a rest's frame.
    pub(super) fn picture(&self, rest: &Rest) -> Result<Picture, RecordError> {
        Ok(match retention::state_of(&self.connection, &rest.picture_sha256)? {
            Some(PictureState::Leaving | PictureState::Gone) => Picture::LetGo,
            Some(PictureState::Never) => Picture::NeverKept,
            Some(PictureState::Kept) | None => {
                Picture::Kept(self.pictures.path(&rest.picture_sha256, rest.format.extension()))
            }
        })
    }
}

/// Makes the database's file, if there is none, and lets nobody but its owner read it: the
/// listeners' secrets stand in it.
pub(super) fn keep_to_owner(path: &Path) -> std::io::Result<()> {
    let file = OpenOptions::new().create(true).append(true).mode(0o600).open(path)?;
    file.set_permissions(Permissions::from_mode(0o600))
}

/// Every commit on disk, the present tables, and room for readers beside.
fn prepare(connection: &mut Connection) -> Result<(), RecordError> {
    connection.busy_timeout(Duration::from_millis(500))?;
    connection.execute_batch("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;")?;
    migrations::migrate(connection)?;
    // Finds out now, instead of at the first rest, whether it can be written to.
    connection.execute_batch("BEGIN IMMEDIATE; COMMIT;")?;
    connection.busy_timeout(WRITE_PATIENCE)?;
    Ok(())
}

/// What the database says, in words that tell what to do.
pub(super) fn explained(error: RecordError, data: &Path) -> RecordError {
    let RecordError::Database(source) = error else { return error };
    match source.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            RecordError::InUse { path: data.into() }
        }
        Some(ErrorCode::DiskFull) => {
            RecordError::DiskFull { path: data.into(), free_bytes: disk::free_bytes(data) }
        }
        Some(ErrorCode::ReadOnly | ErrorCode::SystemIoFailure | ErrorCode::CannotOpen) => {
            RecordError::Disk { path: data.into(), source }
        }
        _ => RecordError::Database(source),
    }
}

/// Times are kept in whole milliseconds, so a bound between two of them means the later one.
fn ceil_ms(at: Timestamp) -> i64 {
    let ms = at.as_millisecond();
    let floor = Timestamp::from_millisecond(ms).unwrap_or(at);
    if floor < at { ms.saturating_add(1) } else { ms }
}
