//! The score of each camera, folded from what is on disk.
//!
//! A camera's rests are followed when it is first asked for. On the way the state is noted now and
//! then, so that a correction of a rest not long ago need not follow all of them again.

use super::{
    RecordError,
    reading::each_rest,
    rows::{CORRECTION_COLUMNS, REST_COLUMNS, RawCorrection},
};
use crate::{
    score::{Follower, RestSeen, ScoreEvent, Step},
    study::ShotLog,
};
use rusqlite::{Connection, params};
use std::collections::HashMap;

/// Followers held at a time. Camera names come from outside; any other is folded again on demand.
const HELD: usize = 32;

/// Rests after which the state is noted at the earliest, and the share of all rests so far that
/// lies between two notes in a long record: a note costs as much as the story is long.
const NOTE_EVERY: usize = 1000;
const NOTE_SHARE: usize = 16;

/// A camera's score, what its rests tell the study, and how the score was a while ago.
#[derive(Debug, Default)]
pub(super) struct Score {
    pub(super) follower: Follower,
    /// No correction changes what it holds.
    pub(super) log: ShotLog,
    /// The states noted last, each as it was after a rest; the older one first. They hold the attempts
    /// that are over no second time.
    noted: [Option<Noted>; 2],
    taken: usize,
    taken_when_noted: usize,
}

impl Score {
    /// Takes the next rest.
    pub(super) fn take(&mut self, seen: &RestSeen, said: Option<&Step>) -> Vec<ScoreEvent> {
        let told = self.follower.take(seen, said);
        self.log.take(seen);
        self.taken += 1;
        let since_noted = self.taken - self.taken_when_noted;
        let due = since_noted >= NOTE_EVERY.max(self.taken / NOTE_SHARE);
        if due && !self.follower.may_reconsider() {
            self.taken_when_noted = self.taken;
            self.noted.swap(0, 1);
            let (over, follower) = self.follower.without_those_over();
            self.noted[1] = Some(Noted { after: seen.id, over, follower });
        }
        told
    }

    /// The latest noted state from before a rest, as it was noted and whole; the very beginning where
    /// there is none.
    fn before(&self, rest: i64) -> (Option<Noted>, Follower) {
        let noted = self.noted.iter().rev().flatten().find(|noted| noted.after < rest).cloned();
        let attempts = &self.follower.story().attempts;
        let whole = noted.as_ref().map(|noted| {
            noted.follower.clone().with_those_over(attempts.iter().take(noted.over).cloned())
        });
        (noted, whole.unwrap_or_default())
    }
}

/// A state as it was after a rest: the follower without the attempts that were over, which nothing
/// changes any more but a correction of their own rests and what is asked of them.
#[derive(Debug, Clone)]
struct Noted {
    after: i64,
    over: usize,
    follower: Follower,
}

/// The scores of cameras, each made when it is first asked for.
#[derive(Debug, Default)]
pub(super) struct Followers {
    by_camera: HashMap<String, Score>,
}

impl Followers {
    /// A camera's score, to be put back once what it took is on disk.
    pub(super) fn take(
        &mut self,
        connection: &Connection,
        camera: &str,
    ) -> Result<Score, RecordError> {
        match self.by_camera.remove(camera) {
            Some(score) => Ok(score),
            None => fold(connection, camera),
        }
    }

    pub(super) fn put_back(&mut self, camera: &str, score: Score) {
        if self.by_camera.len() >= HELD
            && let Some(other) = self.by_camera.keys().next().cloned()
        {
            self.by_camera.remove(&other);
        }
        self.by_camera.insert(camera.into(), score);
    }
}

/// Follows all rests of a camera with all corrections of them.
pub(super) fn fold(connection: &Connection, camera: &str) -> Result<Score, RecordError> {
    go_on(connection, camera, Score::default())
}

/// The score of a camera after a correction of a rest, from how it stood without it, whose log it takes
/// over.
pub(super) fn fold_again(
    connection: &Connection,
    camera: &str,
    stood: &mut Score,
    rest: i64,
) -> Result<Score, RecordError> {
    let (noted, follower) = stood.before(rest);
    let log = std::mem::take(&mut stood.log);
    // How many rests went before only sets how often the state is noted.
    let taken = if noted.is_some() { stood.taken_when_noted } else { 0 };
    let noted = [None, noted];
    go_on(connection, camera, Score { follower, log, noted, taken, taken_when_noted: taken })
}

/// Follows a camera's rests after those that a score knows. Rows that are damaged are told and left
/// out.
fn go_on(connection: &Connection, camera: &str, mut score: Score) -> Result<Score, RecordError> {
    let after = score.noted[1].as_ref().map_or(0, |noted| noted.after);
    let said = corrections(connection, camera)?;
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {REST_COLUMNS} FROM rests WHERE camera = $1 AND id > $2 ORDER BY id"
    ))?;
    let mut rows = statement.query(params![camera, after])?;
    each_rest::<RecordError>(&mut rows, |(_, seen)| {
        match seen {
            Ok(seen) => {
                score.take(seen, said.get(&seen.id));
            }
            Err(error) => tracing::error!("left out of the score: {error}"),
        }
        Ok(())
    })?;
    Ok(score)
}

/// The names of all cameras that saw a rest.
pub(super) fn cameras(connection: &Connection) -> Result<Vec<String>, RecordError> {
    let mut statement = connection.prepare("SELECT DISTINCT camera FROM rests ORDER BY camera")?;
    let cameras = statement.query_map([], |row| row.get(0))?;
    Ok(cameras.collect::<Result<_, _>>()?)
}

/// The last word on each rest of a camera.
pub(super) fn corrections(
    connection: &Connection,
    camera: &str,
) -> Result<HashMap<i64, Step>, RecordError> {
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {CORRECTION_COLUMNS} FROM corrections WHERE camera = $1 ORDER BY id"
    ))?;
    let rows = statement.query_map([camera], RawCorrection::from_row)?;
    let mut said = HashMap::new();
    for row in rows {
        let row = row?;
        match row.step() {
            Ok(Some(step)) => said.insert(row.rest_id, step),
            Ok(None) => said.remove(&row.rest_id),
            Err(error) => {
                tracing::error!("left out of the score: {error}");
                None
            }
        };
    }
    Ok(said)
}
