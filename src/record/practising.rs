//! When a shot is practised, and nothing counts: from a word of the user's to the next.
//!
//! The word is an event of the record, so that it holds through a restart and whoever follows hears
//! of it. Each rest that comes while it holds is kept together with a correction that says so; the
//! score follows from rests and corrections as ever, and the user can take it back rest by rest. A
//! word may come late: rests since then are corrected as well, but for those of which the user has
//! said something else.

use super::{
    Corrected, RecordError,
    event::{Event, NewEvent},
    followers,
    keeping::{Announcer, new_events},
    rows::{REST_COLUMNS, RawCorrection, RawRest},
    store::{Numbers, Store},
};
use crate::score::{self, Step};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, params};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The kind of event that tells that a practice has begun or ended.
pub const PRACTICE_KIND: &str = "practice";

/// What an event of kind `practice` says: a shot is practised from now on, and nothing counts; or
/// that is over.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, JsonSchema)]
pub struct PracticeData {
    pub on: bool,
    /// The last rest that it is not about; later ones, where there are any already, were counted
    /// anew.
    pub after: i64,
}

/// A word of the user's on a camera's table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Practice {
    pub camera: String,
    /// It begins, or it is over.
    pub on: bool,
    /// The last rest that it is not about.
    pub after: i64,
}

impl RawCorrection {
    /// Keeps that a rest belongs to a practice, or that it does not.
    pub(super) fn of_practice(
        connection: &Connection,
        numbers: &mut Numbers,
        (camera, rest_id): (&str, i64),
        practised: bool,
        at_unix_ms: i64,
    ) -> Result<(), RecordError> {
        let step = practised.then_some(Step::Practice);
        let step_json =
            step.map(|step| serde_json::to_string(&step)).transpose().map_err(RecordError::Json)?;
        let mut row = Self {
            id: numbers.correction + 1,
            at_unix_ms,
            camera: camera.into(),
            rest_id,
            step_json,
            row_sha256: String::new(),
        };
        row.insert(connection)?;
        numbers.correction = row.id;
        Ok(())
    }
}

impl Store {
    /// Whether a shot is practised before a camera now, as the user said last.
    pub(super) fn practises(&mut self, camera: &str) -> Result<bool, RecordError> {
        if let Some(on) = self.practising.get(camera) {
            return Ok(*on);
        }
        let said: Option<String> = self
            .connection
            .prepare_cached(
                "SELECT body_json FROM events WHERE camera = $1 AND kind = $2 \
                 ORDER BY id DESC LIMIT 1",
            )?
            .query_row([camera, PRACTICE_KIND], |row| row.get(0))
            .optional()?;
        let said = said.and_then(|body| serde_json::from_str::<PracticeData>(&body).ok());
        let on = said.is_some_and(|said| said.on);
        self.practising.insert(camera.into(), on);
        Ok(on)
    }

    /// Keeps that a practice begins or is over; when this returns, all of it is on disk.
    pub(super) fn practise(
        &mut self,
        practice: Practice,
        at: Timestamp,
    ) -> Result<Corrected, RecordError> {
        let Practice { camera, on, after } = practice;
        let concerned = self.concerned(&camera, on, after)?;
        let mut before = self.followers.take(&self.connection, &camera)?;
        let listeners = self.listeners.clone();
        let at_unix_ms = at.as_millisecond();
        let body = serde_json::to_value(PracticeData { on, after }).map_err(RecordError::Json)?;
        let kind = PRACTICE_KIND.into();
        let word = NewEvent { at_unix_ms, kind, rest_id: None, body };
        let (score, events, id) = self.write(|transaction, numbers| {
            let announcer =
                Announcer { connection: transaction, listeners: &listeners, camera: &camera };
            let mut events: Vec<Event> = announcer.write(vec![word], None, numbers)?;
            for rest in &concerned {
                RawCorrection::of_practice(transaction, numbers, (&camera, *rest), on, at_unix_ms)?;
            }
            let Some(first) = concerned.first() else {
                return Ok((before, events, numbers.correction));
            };
            let score = followers::fold_again(transaction, &camera, &mut before, *first)?;
            let changed = score::changes(before.follower.story(), score.follower.story());
            events.extend(announcer.write(new_events(changed, at_unix_ms)?, None, numbers)?);
            Ok((score, events, numbers.correction))
        })?;
        self.followers.put_back(&camera, score);
        self.practising.insert(camera.clone(), on);
        Ok(Corrected { id, camera, events })
    }

    /// The rests that a late word is about, oldest first: those that say nothing else yet.
    fn concerned(&self, camera: &str, on: bool, after: i64) -> Result<Vec<i64>, RecordError> {
        let said = followers::corrections(&self.connection, camera)?;
        let mut statement = self.connection.prepare_cached(&format!(
            "SELECT {REST_COLUMNS} FROM rests WHERE camera = $1 AND id > $2 ORDER BY id"
        ))?;
        let mut rows = statement.query(params![camera, after])?;
        let mut concerned = Vec::new();
        while let Some(row) = rows.next()? {
            let row = RawRest::from_row(row)?;
            let id = row.id;
            let is_meant = match (on, said.get(&id)) {
                (true, None) => row.layout().is_ok_and(|layout| !layout.obstructed),
                (false, Some(Step::Practice)) => true,
                _ => false,
            };
            concerned.extend(is_meant.then_some(id));
        }
        Ok(concerned)
    }
}
