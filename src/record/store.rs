//! The database and the pictures, as their one owner uses them.

use super::{
    NewRest, RecordError, Rest, RestQuery, migrations,
    pictures::{Pictures, sha256},
};
use crate::camera::picture::PictureFormat;
use jiff::Timestamp;
use rusqlite::{Connection, ErrorCode, OptionalExtension, Row, params};
use std::{
    path::{Path, PathBuf},
    time::Duration,
};

const COLUMNS: &str =
    "id, at_unix_ms, camera, layout_json, picture_sha256, picture_type, row_sha256";

/// The most rests one question is answered with.
const MAX_ANSWER: u32 = 1000;

/// The record's one owner.
#[derive(Debug)]
pub(super) struct Store {
    pub(super) connection: Connection,
    pub(super) pictures: Pictures,
    pub(super) last_id: i64,
}

/// A row as it stands in the database.
#[derive(Debug)]
pub(super) struct RawRest {
    pub(super) id: i64,
    at_unix_ms: i64,
    camera: String,
    layout_json: String,
    picture_sha256: String,
    picture_type: String,
    row_sha256: String,
}

impl Store {
    /// Opens the record of a data folder, or begins one.
    pub(super) fn open(data: &Path) -> Result<Self, RecordError> {
        let folder = |source| RecordError::Folder { path: data.into(), source };
        std::fs::create_dir_all(data).map_err(folder)?;
        let pictures = Pictures::open(data).map_err(folder)?;
        let path = data.join("record.sqlite3");
        let mut connection = Connection::open(&path)?;
        prepare(&mut connection).map_err(|error| in_use_or(error, &path))?;
        let last_id =
            connection.query_row("SELECT COALESCE(MAX(id), 0) FROM rests", [], |row| row.get(0))?;
        Ok(Self { connection, pictures, last_id })
    }

    /// Keeps a rest; when this returns, it is on disk.
    pub(super) fn append(&mut self, new: NewRest) -> Result<Rest, RecordError> {
        let layout_json = serde_json::to_string(&new.layout).map_err(RecordError::Layout)?;
        let picture_sha256 = self.pictures.keep(&new.picture, new.format.extension())?;
        let mut row = RawRest {
            id: self.last_id + 1,
            at_unix_ms: new.at.as_millisecond(),
            camera: new.camera,
            layout_json,
            picture_sha256,
            picture_type: new.format.media_type().into(),
            row_sha256: String::new(),
        };
        row.row_sha256 = row.content_sha256();
        self.connection
            .prepare_cached(&format!(
                "INSERT INTO rests ({COLUMNS}) VALUES ($1, $2, $3, $4, $5, $6, $7)"
            ))?
            .execute(params![
                row.id,
                row.at_unix_ms,
                row.camera,
                row.layout_json,
                row.picture_sha256,
                row.picture_type,
                row.row_sha256
            ])?;
        self.last_id = row.id;
        row.into_rest()
    }

    pub(super) fn by_id(&self, id: i64) -> Result<Option<Rest>, RecordError> {
        self.connection
            .prepare_cached(&format!("SELECT {COLUMNS} FROM rests WHERE id = $1"))?
            .query_row([id], RawRest::from_row)
            .optional()?
            .map(RawRest::into_rest)
            .transpose()
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

    fn select(
        &self,
        condition: &str,
        values: impl rusqlite::Params,
    ) -> Result<Vec<Rest>, RecordError> {
        let mut statement =
            self.connection.prepare_cached(&format!("SELECT {COLUMNS} FROM rests {condition}"))?;
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

    /// Where a rest's frame lies on disk.
    pub(super) fn picture_path(&self, rest: &Rest) -> PathBuf {
        self.pictures.path(&rest.picture_sha256, rest.format.extension())
    }
}

/// One process alone, every commit on disk, and the present tables.
fn prepare(connection: &mut Connection) -> Result<(), RecordError> {
    connection.busy_timeout(Duration::from_millis(500))?;
    connection.execute_batch(
        "PRAGMA locking_mode = EXCLUSIVE; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;",
    )?;
    migrations::migrate(connection)?;
    // Takes the lock now instead of at the first rest.
    connection.execute_batch("BEGIN IMMEDIATE; COMMIT;")?;
    Ok(())
}

fn in_use_or(error: RecordError, path: &Path) -> RecordError {
    match error {
        RecordError::Database(error)
            if matches!(
                error.sqlite_error_code(),
                Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)
            ) =>
        {
            RecordError::InUse { path: path.into() }
        }
        other => other,
    }
}

/// Times are kept in whole milliseconds, so a bound between two of them means the later one.
fn ceil_ms(at: Timestamp) -> i64 {
    let ms = at.as_millisecond();
    let floor = Timestamp::from_millisecond(ms).unwrap_or(at);
    if floor < at { ms.saturating_add(1) } else { ms }
}

impl RawRest {
    pub(super) fn from_row(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: row.get(0)?,
            at_unix_ms: row.get(1)?,
            camera: row.get(2)?,
            layout_json: row.get(3)?,
            picture_sha256: row.get(4)?,
            picture_type: row.get(5)?,
            row_sha256: row.get(6)?,
        })
    }

    /// SHA-256 over the other columns; texts are preceded by their length, so none runs into the
    /// next.
    fn content_sha256(&self) -> String {
        let mut content = Vec::new();
        content.extend(self.id.to_be_bytes());
        content.extend(self.at_unix_ms.to_be_bytes());
        for text in [&self.camera, &self.layout_json, &self.picture_sha256, &self.picture_type] {
            content.extend((text.len() as u64).to_be_bytes());
            content.extend(text.as_bytes());
        }
        sha256(&content)
    }

    /// Whether no column has changed since the row was written.
    pub(super) fn is_as_written(&self) -> bool {
        self.content_sha256() == self.row_sha256
    }

    pub(super) fn into_rest(self) -> Result<Rest, RecordError> {
        let id = self.id;
        let damaged = |why: String| RecordError::Damaged { id, why };
        Ok(Rest {
            id,
            at: Timestamp::from_millisecond(self.at_unix_ms)
                .map_err(|error| damaged(format!("its time is none: {error}")))?,
            layout: serde_json::from_str(&self.layout_json)
                .map_err(|error| damaged(format!("its layout is none: {error}")))?,
            format: PictureFormat::from_media_type(&self.picture_type)
                .ok_or_else(|| damaged(format!("its picture is of type {}", self.picture_type)))?,
            camera: self.camera,
            picture_sha256: self.picture_sha256,
        })
    }

    pub(super) fn select_all() -> String {
        format!("SELECT {COLUMNS} FROM rests ORDER BY id")
    }
}
