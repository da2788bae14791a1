//! Attempts from lists that the player kept by hand: never among the rests, and never mixed up with
//! attempts that a camera saw.
//!
//! A list is known by its name. Brought again, whole or with lines added, it adds what is new in it;
//! alike lines count as often as they stand there.

use super::{
    RecordError, RecordReader, Retention,
    kept_row::{Content, kept_row},
    store::{Numbers, Store},
};
use crate::study::{Ending, Run};
use jiff::{Timestamp, civil::Date};
use rusqlite::Connection;
use std::{collections::HashMap, path::Path};

/// An attempt of a list.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct HandKept {
    pub day: Option<Date>,
    pub balls: u32,
    /// No shot ended it.
    pub stopped: bool,
}

impl From<&Run> for HandKept {
    fn from(run: &Run) -> Self {
        Self { day: run.day, balls: run.balls, stopped: run.ending == Ending::Stopped }
    }
}

impl HandKept {
    /// The attempt as the statistics take it.
    pub fn run(&self) -> Run {
        let ending = if self.stopped { Ending::Stopped } else { Ending::Missed };
        Run::of_balls(self.day, self.balls, ending)
    }
}

/// What a list brought.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ListTaken {
    pub added: usize,
    /// Attempts that were there already.
    pub known: usize,
    /// The list of another name that this one is the same as.
    pub same_as: Option<String>,
}

kept_row! {
    /// An attempt's row.
    RawHandKept in "hand_kept" {
        id: i64,
        at_unix_ms: i64,
        list: String,
        camera: String,
        day: Option<String>,
        balls: i64,
        stopped: i64,
    } hashed |row| Content::default()
        .number(row.id)
        .number(row.at_unix_ms)
        .text(&row.list)
        .text(&row.camera)
        .text(row.day.as_deref().unwrap_or_default())
        .number(row.balls)
        .number(row.stopped)
}

impl RawHandKept {
    pub(super) fn attempt(&self) -> Result<HandKept, RecordError> {
        let damaged = |why: String| RecordError::damaged("hand-kept attempt", self.id, why);
        let day = self.day.as_deref().map(str::parse::<Date>).transpose();
        Ok(HandKept {
            day: day.map_err(|error| damaged(error.to_string()))?,
            balls: u32::try_from(self.balls)
                .map_err(|_| damaged(format!("{} is no run", self.balls)))?,
            stopped: self.stopped != 0,
        })
    }
}

/// All rows, oldest first.
pub(super) fn raw_hand_kept(connection: &Connection) -> Result<Vec<RawHandKept>, RecordError> {
    let sql = format!("SELECT {} FROM hand_kept ORDER BY id", RawHandKept::COLUMNS);
    let mut statement = connection.prepare_cached(&sql)?;
    Ok(statement.query_map([], RawHandKept::from_row)?.collect::<Result<_, _>>()?)
}

/// The attempts that count with those of a camera, in the order in which they were brought.
pub(super) fn of_camera(
    connection: &Connection,
    camera: &str,
) -> Result<Vec<HandKept>, RecordError> {
    let mut attempts = Vec::new();
    for row in raw_hand_kept(connection)? {
        if row.camera.is_empty() || row.camera == camera {
            match row.attempt() {
                Ok(attempt) => attempts.push(attempt),
                Err(error) => tracing::error!("left out of the figures: {error}"),
            }
        }
    }
    Ok(attempts)
}

fn counted(attempts: impl Iterator<Item = HandKept>) -> HashMap<HandKept, usize> {
    let mut counts = HashMap::new();
    for attempt in attempts {
        *counts.entry(attempt).or_default() += 1;
    }
    counts
}

/// Brings a list in: what is new in it.
pub(super) fn take_list(
    connection: &Connection,
    numbers: &mut Numbers,
    (list, camera): (&str, &str),
    attempts: &[HandKept],
    at_unix_ms: i64,
) -> Result<ListTaken, RecordError> {
    let mut lists: HashMap<String, Vec<HandKept>> = HashMap::new();
    for row in raw_hand_kept(connection)? {
        let attempt = row.attempt()?;
        lists.entry(row.list).or_default().push(attempt);
    }
    let known = lists.remove(list).unwrap_or_default();
    let brought = counted(attempts.iter().cloned());
    let same = lists.into_iter().find(|(_, all)| counted(all.iter().cloned()) == brought);
    if let (true, Some((name, _))) = (known.is_empty() && !attempts.is_empty(), same) {
        return Ok(ListTaken { added: 0, known: attempts.len(), same_as: Some(name) });
    }
    let mut left = counted(known.into_iter());
    let mut taken = ListTaken::default();
    for attempt in attempts {
        if let Some(count) = left.get_mut(attempt).filter(|count| **count > 0) {
            *count -= 1;
            taken.known += 1;
            continue;
        }
        let mut row = RawHandKept {
            id: numbers.hand_kept + 1,
            at_unix_ms,
            list: list.into(),
            camera: camera.into(),
            day: attempt.day.map(|day| day.to_string()),
            balls: i64::from(attempt.balls),
            stopped: i64::from(attempt.stopped),
            row_sha256: String::new(),
        };
        row.insert(connection)?;
        numbers.hand_kept = row.id;
        taken.added += 1;
    }
    Ok(taken)
}

/// Brings a list of hand-kept attempts into the record of a data folder, which is made where there is
/// none. `camera` is whose attempts they count with; empty for any.
///
/// # Errors
/// Where the folder cannot be used, or a service is running on it; nothing has changed then.
pub fn take_hand_kept(
    data: &Path,
    (list, camera): (&str, &str),
    attempts: &[HandKept],
    at: Timestamp,
) -> Result<ListTaken, RecordError> {
    let mut store = Store::open(data, Retention::default())?;
    store.write(|transaction, numbers| {
        take_list(transaction, numbers, (list, camera), attempts, at.as_millisecond())
    })
}

impl RecordReader {
    /// Hand-kept attempts that count with those of a camera, in the order in which they were brought.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub fn hand_kept(&self, camera: &str) -> Result<Vec<HandKept>, RecordError> {
        of_camera(&self.connection, camera)
    }
}
