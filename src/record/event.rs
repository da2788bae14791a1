//! What is announced: numbered without a hole, written together with what caused it.

use super::{
    RecordError, Rest,
    rows::{REST_COLUMNS, RawRest},
};
use jiff::Timestamp;
use rusqlite::{Connection, params};
use serde_json::Value;

/// The kind of event that announces a rest.
pub const REST_KIND: &str = "rest";

/// The most rows one question is answered with.
pub(super) const MAX_ANSWER: u32 = 1000;

/// Something that happened, on disk before anybody hears of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// Grows by one with each event, over all cameras.
    pub id: i64,
    pub at: Timestamp,
    pub camera: String,
    /// [`REST_KIND`], a kind of the score's, or what a [`Note`] said.
    pub kind: String,
    /// The rest it is about; none too where that rest's row is damaged, which the log tells.
    pub rest: Option<Rest>,
    /// All the rest of it, a JSON object: a score's [`crate::score::ScoreEvent`]. Of a rest that
    /// the score takes no notice of, `step` is null; it is empty for rests that were kept before
    /// there was a score.
    pub body: Value,
}

/// Something about a camera that is to be announced and belongs to no rest.
#[derive(Debug, Clone)]
pub struct Note {
    pub at: Timestamp,
    pub camera: String,
    pub kind: &'static str,
    /// A JSON object.
    pub body: Value,
}

/// An event before it has its number.
#[derive(Debug, Clone)]
pub(super) struct NewEvent {
    pub(super) at_unix_ms: i64,
    pub(super) kind: String,
    pub(super) rest_id: Option<i64>,
    pub(super) body: Value,
}

/// Events after an id, oldest first, each with the rest it is about.
pub(super) fn events_after(
    connection: &Connection,
    after: i64,
    limit: u32,
) -> Result<Vec<Event>, RecordError> {
    let mut statement = connection.prepare_cached(
        "SELECT id, at_unix_ms, camera, kind, rest_id, body_json FROM events \
         WHERE id > $1 ORDER BY id LIMIT $2",
    )?;
    let mut rows = statement.query(params![after, limit.clamp(1, MAX_ANSWER)])?;
    let mut events = Vec::new();
    while let Some(row) = rows.next()? {
        let id = row.get(0)?;
        let rest_id: Option<i64> = row.get(4)?;
        let body: String = row.get(5)?;
        events.push(Event {
            id,
            at: Timestamp::from_millisecond(row.get(1)?).unwrap_or_default(),
            camera: row.get(2)?,
            kind: row.get(3)?,
            rest: rest_id.map(|rest| announced_rest(connection, rest)).transpose()?.flatten(),
            body: serde_json::from_str(&body).unwrap_or_else(|error| {
                tracing::error!("event {id} cannot be read back: {error}. Run `stillcloth check`");
                Value::Null
            }),
        });
    }
    Ok(events)
}

fn announced_rest(connection: &Connection, id: i64) -> Result<Option<Rest>, RecordError> {
    match rest_by_id(connection, id) {
        Err(error @ RecordError::Damaged { .. }) => {
            tracing::error!("left out of an event: {error}");
            Ok(None)
        }
        other => other,
    }
}

/// A rest by its id.
pub(super) fn rest_by_id(connection: &Connection, id: i64) -> Result<Option<Rest>, RecordError> {
    let mut statement =
        connection.prepare_cached(&format!("SELECT {REST_COLUMNS} FROM rests WHERE id = $1"))?;
    let mut rows = statement.query([id])?;
    let Some(row) = rows.next()? else { return Ok(None) };
    RawRest::from_row(row)?.into_rest().map(Some)
}
