//! Which pictures are kept and for how long. Rows are never deleted, only pictures' files.

use super::{RecordError, pictures::Pictures};
use crate::camera::picture::PictureFormat;
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, params};
use serde::{Deserialize, Deserializer, de::Error as _};
use std::{
    path::Path,
    time::{Duration, Instant},
};

/// How long pictures are kept. Rests, scores and all else are kept for good.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Retention {
    /// Pictures older than so many days are deleted; none keeps them.
    pub keep_days: Option<u32>,
    /// The oldest pictures are deleted beyond so many gigabytes (10⁹ bytes); none keeps them.
    #[serde(deserialize_with = "some_gigabytes")]
    pub max_gb: Option<f64>,
    /// No picture is added where less than this would be left on the disk, in gigabytes.
    #[serde(deserialize_with = "gigabytes")]
    pub min_free_gb: f64,
}

/// An amount of data as a user writes it down.
fn gigabytes<'de, D: Deserializer<'de>>(value: D) -> Result<f64, D::Error> {
    let gb = f64::deserialize(value)?;
    if gb.is_finite() && gb >= 0.0 {
        Ok(gb)
    } else {
        Err(D::Error::custom(format!("{gb} is no number of gigabytes: give 0 or more")))
    }
}

fn some_gigabytes<'de, D: Deserializer<'de>>(value: D) -> Result<Option<f64>, D::Error> {
    gigabytes(value).map(Some)
}

impl Default for Retention {
    fn default() -> Self {
        Self { keep_days: None, max_gb: None, min_free_gb: 1.0 }
    }
}

impl Retention {
    pub(super) fn min_free_bytes(&self) -> u64 {
        bytes(self.min_free_gb)
    }

    fn max_bytes(&self) -> Option<i64> {
        self.max_gb.map(|gb| i64::try_from(bytes(gb)).unwrap_or(i64::MAX))
    }
}

/// Saturates at both ends; what is no number counts as nothing.
fn bytes(gb: f64) -> u64 {
    (gb * 1e9) as u64
}

/// What a picture's row says of its file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PictureState {
    Kept,
    /// Given up, and its file may still lie there.
    Leaving,
    Gone,
    /// It was never written.
    Never,
}

impl PictureState {
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Kept => "kept",
            Self::Leaving => "leaving",
            Self::Gone => "gone",
            Self::Never => "never",
        }
    }

    fn from_word(word: &str) -> Option<Self> {
        [Self::Kept, Self::Leaving, Self::Gone, Self::Never]
            .into_iter()
            .find(|state| state.word() == word)
    }
}

/// A picture's state; none where the record knows no such picture.
pub(super) fn state_of(
    connection: &Connection,
    sha256: &str,
) -> Result<Option<PictureState>, RecordError> {
    let word: Option<String> = connection
        .prepare_cached("SELECT state FROM pictures WHERE sha256 = $1")?
        .query_row([sha256], |row| row.get(0))
        .optional()?;
    Ok(word.and_then(|word| PictureState::from_word(&word)))
}

/// A picture that a rest names.
pub(super) struct NamedPicture<'a> {
    pub(super) sha256: &'a str,
    pub(super) picture_type: &'a str,
    pub(super) size_bytes: i64,
    pub(super) at_unix_ms: i64,
    pub(super) state: PictureState,
}

/// Writes down that a rest names a picture. One that is kept stays so; returns by how many bytes
/// the kept pictures have grown.
pub(super) fn name_picture(
    connection: &Connection,
    picture: &NamedPicture<'_>,
) -> Result<i64, RecordError> {
    let before = state_of(connection, picture.sha256)?;
    let state = match before {
        Some(PictureState::Kept) => PictureState::Kept,
        // What is not written again stays as it is.
        Some(before) if picture.state == PictureState::Never => before,
        _ => picture.state,
    };
    connection
        .prepare_cached(
            "INSERT INTO pictures (sha256, picture_type, size_bytes, last_at_unix_ms, state) \
             VALUES ($1, $2, $3, $4, $5) ON CONFLICT (sha256) DO UPDATE SET \
             last_at_unix_ms = CASE WHEN excluded.last_at_unix_ms > pictures.last_at_unix_ms \
             THEN excluded.last_at_unix_ms ELSE pictures.last_at_unix_ms END, \
             state = excluded.state",
        )?
        .execute(params![
            picture.sha256,
            picture.picture_type,
            picture.size_bytes,
            picture.at_unix_ms,
            state.word()
        ])?;
    let grown = state == PictureState::Kept && before != Some(PictureState::Kept);
    Ok(if grown { picture.size_bytes } else { 0 })
}

/// Pictures let go in one go, so that nobody waits long for the record's thread.
const BATCH: u32 = 50;

/// How often pictures' ages are looked at.
const LOOK_EVERY: Duration = Duration::from_secs(3600);

/// The pause after something failed.
const PAUSE: Duration = Duration::from_secs(60);

/// A clock that a jump ahead does not move, since it decides what is deleted: it never runs faster
/// than the machine's own counting since the record was opened.
#[derive(Debug)]
struct SlowClock {
    opened: Timestamp,
    since: Instant,
}

impl SlowClock {
    fn now_unix_ms(&self) -> i64 {
        let counted_ms = i64::try_from(self.since.elapsed().as_millis()).unwrap_or(i64::MAX);
        let expected_ms = self.opened.as_millisecond().saturating_add(counted_ms);
        expected_ms.min(Timestamp::now().as_millisecond())
    }
}

/// Lets pictures go as the setting says.
#[derive(Debug)]
pub(super) struct Keeper {
    pub(super) retention: Retention,
    pub(super) kept_bytes: i64,
    clock: SlowClock,
    looked: Option<Instant>,
    /// After something failed, nothing is tried before then.
    not_before: Option<Instant>,
}

impl Keeper {
    /// Measures pictures of older records and finishes what an earlier run began.
    pub(super) fn open(
        retention: Retention,
        connection: &mut Connection,
        pictures: &Pictures,
    ) -> Result<Self, RecordError> {
        pictures.clear_unfinished();
        measure(connection, pictures)?;
        finish_leaving(connection, pictures)?;
        let kept_bytes = kept_bytes(connection)?;
        let clock = SlowClock { opened: Timestamp::now(), since: Instant::now() };
        Ok(Self { retention, kept_bytes, clock, looked: None, not_before: None })
    }

    /// Whether there may be something to let go.
    pub(super) fn is_due(&self) -> bool {
        if self.not_before.is_some_and(|then| Instant::now() < then) {
            return false;
        }
        let too_much = self.retention.max_bytes().is_some_and(|most| self.kept_bytes > most);
        let time_to_look = self.looked.is_none_or(|looked| looked.elapsed() > LOOK_EVERY);
        too_much || (self.retention.keep_days.is_some() && time_to_look)
    }

    /// Lets some pictures go, oldest first. Their rows say so before the files are deleted, so that
    /// whatever interrupts this, no file is missing that the record believes to have.
    ///
    /// # Errors
    /// Where the record cannot be written; nothing is deleted then.
    pub(super) fn let_some_go(
        &mut self,
        connection: &mut Connection,
        pictures: &Pictures,
    ) -> Result<(), RecordError> {
        let leaving = self.choose(connection)?;
        if leaving.is_empty() {
            self.kept_bytes = kept_bytes(connection)?;
            self.looked = Some(Instant::now());
            return Ok(());
        }
        let transaction = connection.transaction()?;
        for (sha256, _) in &leaving {
            set_state(&transaction, sha256, PictureState::Leaving)?;
        }
        transaction.commit()?;
        self.kept_bytes -= leaving.iter().map(|(_, size_bytes)| size_bytes).sum::<i64>();
        tracing::info!(pictures = leaving.len(), "old pictures are deleted, as the setting says");
        finish_leaving(connection, pictures)
    }

    /// Waits a while before anything is let go again.
    pub(super) fn put_off(&mut self) {
        self.not_before = Instant::now().checked_add(PAUSE);
    }

    fn choose(&self, connection: &Connection) -> Result<Vec<(String, i64)>, RecordError> {
        let oldest_ms = self.retention.keep_days.map_or(i64::MIN, |days| {
            self.clock.now_unix_ms().saturating_sub(i64::from(days) * 86_400_000)
        });
        let mut beyond = match self.retention.max_bytes() {
            Some(most) => self.kept_bytes - most,
            None => 0,
        };
        let mut statement = connection.prepare_cached(
            "SELECT sha256, size_bytes, last_at_unix_ms FROM pictures WHERE state = 'kept' \
             ORDER BY last_at_unix_ms LIMIT $1",
        )?;
        let mut rows = statement.query([BATCH])?;
        let mut chosen = Vec::new();
        while let Some(row) = rows.next()? {
            let (size_bytes, last_at_unix_ms): (i64, i64) = (row.get(1)?, row.get(2)?);
            if last_at_unix_ms >= oldest_ms && beyond <= 0 {
                break;
            }
            beyond -= size_bytes;
            chosen.push((row.get(0)?, size_bytes));
        }
        Ok(chosen)
    }
}

fn kept_bytes(connection: &Connection) -> Result<i64, RecordError> {
    let sql =
        "SELECT CAST(COALESCE(SUM(size_bytes), 0) AS BIGINT) FROM pictures WHERE state = 'kept'";
    Ok(connection.query_row(sql, [], |row| row.get(0))?)
}

pub(super) fn set_state(
    connection: &Connection,
    sha256: &str,
    state: PictureState,
) -> Result<(), RecordError> {
    connection
        .prepare_cached("UPDATE pictures SET state = $1 WHERE sha256 = $2")?
        .execute(params![state.word(), sha256])?;
    Ok(())
}

/// Deletes the files of pictures that were let go, and says so.
fn finish_leaving(connection: &mut Connection, pictures: &Pictures) -> Result<(), RecordError> {
    let leaving = paths(connection, pictures, "state = 'leaving'")?;
    let transaction = connection.transaction()?;
    for (sha256, path) in &leaving {
        match std::fs::remove_file(path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                tracing::warn!("cannot delete the picture {}: {error}", path.display());
            }
            _ => set_state(&transaction, sha256, PictureState::Gone)?,
        }
    }
    transaction.commit()?;
    Ok(())
}

/// Looks up how large the pictures are that no version before this one wrote down.
fn measure(connection: &mut Connection, pictures: &Pictures) -> Result<(), RecordError> {
    let unmeasured = paths(connection, pictures, "size_bytes < 0")?;
    let transaction = connection.transaction()?;
    for (sha256, path) in &unmeasured {
        transaction
            .prepare_cached("UPDATE pictures SET size_bytes = $1 WHERE sha256 = $2")?
            .execute(params![size_bytes(path), sha256])?;
    }
    transaction.commit()?;
    Ok(())
}

/// The size of a file; one that is missing takes no room, and a check of the record tells of it.
fn size_bytes(path: &Path) -> i64 {
    std::fs::metadata(path).map_or(0, |file| i64::try_from(file.len()).unwrap_or(i64::MAX))
}

/// Names and places of the pictures that a condition selects.
pub(super) fn paths(
    connection: &Connection,
    pictures: &Pictures,
    condition: &str,
) -> Result<Vec<(String, std::path::PathBuf)>, RecordError> {
    let mut statement = connection
        .prepare(&format!("SELECT sha256, picture_type FROM pictures WHERE {condition}"))?;
    let mut rows = statement.query([])?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let (sha256, picture_type): (String, String) = (row.get(0)?, row.get(1)?);
        if let Some(format) = PictureFormat::from_media_type(&picture_type) {
            let path = pictures.path(&sha256, format.extension());
            found.push((sha256, path));
        }
    }
    Ok(found)
}
