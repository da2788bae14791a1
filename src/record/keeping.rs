//! Adding to the record: rests, corrections and notes, each with the events it causes.

use super::{
    NewRest, Note, RecordError, Rest,
    event::{Event, NewEvent, REST_KIND, rest_by_id},
    followers::{self, Score},
    outbox::{KnownListener, write_deliveries},
    retention::{NamedPicture, PictureState, name_picture},
    rows::{RawCorrection, RawRest},
    store::{Numbers, Store},
};
use crate::digest::sha256;
use crate::score::{self, Correction, RestSeen, ScoreEvent, Step, Story};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, params};
use serde_json::{Value, json};

/// A rest that was kept, and what followed from it.
#[derive(Debug, Clone)]
pub struct Kept {
    pub rest: Rest,
    /// First the rest's own, then the score's.
    pub events: Vec<Event>,
}

/// A correction that was kept, and what followed from it.
#[derive(Debug, Clone)]
pub struct Corrected {
    /// Grows by one with each correction, over all cameras.
    pub id: i64,
    pub camera: String,
    /// What changed by it.
    pub events: Vec<Event>,
}

/// Writes events and who is to get them.
pub(super) struct Announcer<'a> {
    pub(super) connection: &'a Connection,
    /// Empty where it is history, of which nobody is told.
    pub(super) listeners: &'a [KnownListener],
    pub(super) camera: &'a str,
}

/// What becomes of a rest's picture.
#[derive(Clone, Copy)]
pub(super) struct PictureFile {
    pub(super) size_bytes: i64,
    pub(super) state: PictureState,
}

impl Announcer<'_> {
    pub(super) fn write(
        &self,
        new: Vec<NewEvent>,
        rest: Option<&Rest>,
        numbers: &mut Numbers,
    ) -> Result<Vec<Event>, RecordError> {
        new.into_iter().map(|event| self.write_one(event, rest, numbers)).collect()
    }

    fn write_one(
        &self,
        new: NewEvent,
        rest: Option<&Rest>,
        numbers: &mut Numbers,
    ) -> Result<Event, RecordError> {
        let id = numbers.event + 1;
        let body_json = new.body.to_string();
        self.connection
            .prepare_cached(
                "INSERT INTO events (id, at_unix_ms, camera, kind, rest_id, body_json) \
                 VALUES ($1, $2, $3, $4, $5, $6)",
            )?
            .execute(params![id, new.at_unix_ms, self.camera, new.kind, new.rest_id, body_json])?;
        let now_ms = Timestamp::now().as_millisecond();
        write_deliveries(self.connection, id, &body_json, self.listeners, now_ms)?;
        numbers.event = id;
        let rest = match (new.rest_id, rest) {
            (Some(id), Some(rest)) if rest.id == id => Some(rest.clone()),
            (Some(id), _) => rest_by_id(self.connection, id)?,
            (None, _) => None,
        };
        Ok(Event {
            id,
            at: Timestamp::from_millisecond(new.at_unix_ms).unwrap_or_default(),
            camera: self.camera.into(),
            kind: new.kind,
            rest,
            body: new.body,
        })
    }
}

impl Store {
    /// Keeps a rest with the events it causes; when this returns, all of it is on disk.
    pub(super) fn append(&mut self, new: NewRest) -> Result<Kept, RecordError> {
        let (unseen_ms, listeners) = (self.unseen_ms(&new)?, self.listeners.clone());
        let practised = !new.layout.obstructed && self.practises(&new.camera)?;
        self.append_for(new, (unseen_ms, practised), &listeners)
    }

    /// Keeps a rest that lies in the past, of which no listener is told.
    pub(super) fn append_history(&mut self, new: NewRest) -> Result<Kept, RecordError> {
        let unseen_ms = i64::try_from(new.unseen_ms).unwrap_or(i64::MAX);
        self.append_for(new, (unseen_ms, false), &[])
    }

    fn append_for(
        &mut self,
        new: NewRest,
        (unseen_ms, practised): (i64, bool),
        listeners: &[KnownListener],
    ) -> Result<Kept, RecordError> {
        let layout_json = serde_json::to_string(&new.layout).map_err(RecordError::Json)?;
        let picture_sha256 = sha256(&new.picture);
        let state = self.keep_picture(&new, &picture_sha256)?;
        let row = RawRest {
            id: self.numbers.rest + 1,
            at_unix_ms: new.at.as_millisecond(),
            unseen_ms,
            camera: new.camera,
            layout_json,
            picture_sha256,
            picture_type: new.format.media_type().into(),
            row_sha256: String::new(),
        };
        let said = practised.then_some(Step::Practice);
        let mut score = self.followers.take(&self.connection, &row.camera)?;
        let seen = row.seen(new.layout);
        let new_events = events_of(&mut score, &seen, said.as_ref(), row.at_unix_ms)?;
        let size_bytes = i64::try_from(new.picture.len()).unwrap_or(i64::MAX);
        let (rest, events, grown_bytes) = self.write(|transaction, numbers| {
            let (camera, at_unix_ms) = (row.camera.clone(), row.at_unix_ms);
            let announcer = Announcer { connection: transaction, listeners, camera: &camera };
            let picture = PictureFile { size_bytes, state };
            let kept = write_rest(&announcer, (row, seen), picture, new_events, numbers)?;
            if practised {
                let rest = (camera.as_str(), kept.0.id);
                RawCorrection::of_practice(transaction, numbers, rest, true, at_unix_ms)?;
            }
            Ok(kept)
        })?;
        self.seen_since_opened.insert(rest.camera.clone());
        // A score that took a rest which is not on disk is not put back, but folded anew.
        self.followers.put_back(&rest.camera, score);
        self.keeper.kept_bytes += grown_bytes;
        Ok(Kept { rest, events })
    }

    /// For how long the table was not watched before a rest. Whoever watches knows nothing of the
    /// time before it was started: a camera's first rest since the record was opened was unseen
    /// since the rest before, at most.
    fn unseen_ms(&self, new: &NewRest) -> Result<i64, RecordError> {
        let told_ms = i64::try_from(new.unseen_ms).unwrap_or(i64::MAX);
        if self.seen_since_opened.contains(&new.camera) {
            return Ok(told_ms);
        }
        let before_unix_ms: Option<i64> = self
            .connection
            .prepare_cached(
                "SELECT at_unix_ms FROM rests WHERE camera = $1 ORDER BY id DESC LIMIT 1",
            )?
            .query_row([&new.camera], |row| row.get(0))
            .optional()?;
        let since_ms = |before: i64| new.at.as_millisecond().saturating_sub(before);
        Ok(told_ms.max(before_unix_ms.map_or(0, since_ms)))
    }

    /// Writes a picture if there is room for it. The score matters more: a rest whose picture
    /// cannot be written is kept all the same.
    fn keep_picture(&mut self, new: &NewRest, sha256: &str) -> Result<PictureState, RecordError> {
        if !self.has_room_for_pictures()? {
            return Ok(PictureState::Never);
        }
        match self.pictures.keep(&new.picture, sha256, new.format.extension()) {
            Ok(()) => Ok(PictureState::Kept),
            Err(error) => {
                tracing::error!(camera = new.camera, "a rest's picture is not kept: {error}");
                Ok(PictureState::Never)
            }
        }
    }

    /// Keeps a correction with what it changes; when this returns, all of it is on disk.
    pub(super) fn correct(
        &mut self,
        correction: Correction,
        instead_of: Option<Option<Step>>,
        at: Timestamp,
    ) -> Result<Corrected, RecordError> {
        let rest_id = correction.rest;
        let rest = rest_by_id(&self.connection, rest_id)?;
        let camera = rest.ok_or(RecordError::NoSuchRest { id: rest_id })?.camera;
        if let Some(known) = instead_of {
            let stands = followers::corrections(&self.connection, &camera)?.remove(&rest_id);
            if stands != known && stands != correction.says {
                return Err(RecordError::SaidMeanwhile { id: rest_id });
            }
        }
        let step_json = correction
            .says
            .as_ref()
            .map(serde_json::to_string)
            .transpose()
            .map_err(RecordError::Json)?;
        let mut before = self.followers.take(&self.connection, &camera)?;
        let mut row = RawCorrection {
            id: self.numbers.correction + 1,
            at_unix_ms: at.as_millisecond(),
            camera,
            rest_id,
            step_json,
            row_sha256: String::new(),
        };
        let listeners = self.listeners.clone();
        let (after, events) = self.write(|transaction, numbers| {
            row.insert(transaction)?;
            numbers.correction = row.id;
            let after = followers::fold_again(transaction, &row.camera, &mut before, rest_id)?;
            let changed = score::changes(before.follower.story(), after.follower.story());
            let announcer =
                Announcer { connection: transaction, listeners: &listeners, camera: &row.camera };
            let events = announcer.write(new_events(changed, row.at_unix_ms)?, None, numbers)?;
            Ok((after, events))
        })?;
        self.followers.put_back(&row.camera, after);
        Ok(Corrected { id: row.id, camera: row.camera, events })
    }

    /// Announces something about a camera; when this returns, it is on disk.
    pub(super) fn note(&mut self, note: Note) -> Result<Event, RecordError> {
        let listeners = self.listeners.clone();
        let new = NewEvent {
            at_unix_ms: note.at.as_millisecond(),
            kind: note.kind.into(),
            rest_id: None,
            body: note.body,
        };
        self.write(|transaction, numbers| {
            let announcer =
                Announcer { connection: transaction, listeners: &listeners, camera: &note.camera };
            announcer.write_one(new, None, numbers)
        })
    }
}

/// Writes a rest with the picture that it names and the events that it causes; by how many bytes the
/// kept pictures have grown.
pub(super) fn write_rest(
    announcer: &Announcer<'_>,
    (mut row, seen): (RawRest, RestSeen),
    picture: PictureFile,
    new_events: Vec<NewEvent>,
    numbers: &mut Numbers,
) -> Result<(Rest, Vec<Event>, i64), RecordError> {
    row.insert(announcer.connection)?;
    numbers.rest = row.id;
    let grown_bytes = name_picture(
        announcer.connection,
        &NamedPicture {
            sha256: &row.picture_sha256,
            picture_type: &row.picture_type,
            size_bytes: picture.size_bytes,
            at_unix_ms: row.at_unix_ms,
            state: picture.state,
        },
    )?;
    let rest = row.into_rest_with(seen.layout)?;
    let events = announcer.write(new_events, Some(&rest), numbers)?;
    Ok((rest, events, grown_bytes))
}

/// What a rest means for the score, as events: first the rest's own.
pub(super) fn events_of(
    score: &mut Score,
    seen: &RestSeen,
    said: Option<&Step>,
    at_unix_ms: i64,
) -> Result<Vec<NewEvent>, RecordError> {
    let mut events = new_events(score.take(seen, said), at_unix_ms)?;
    if events.first().is_none_or(|first| first.kind != REST_KIND) {
        events.insert(0, left_out_of_the_score(seen, score.follower.story()));
    }
    Ok(events)
}

/// Announces a rest that the score takes no notice of, such as one with a player over the cloth.
fn left_out_of_the_score(seen: &RestSeen, story: &Story) -> NewEvent {
    let on = story.going_on();
    NewEvent {
        at_unix_ms: seen.at_unix_ms,
        kind: REST_KIND.into(),
        rest_id: Some(seen.id),
        body: json!({
            "event": REST_KIND,
            "rest": seen.id,
            "at_unix_ms": seen.at_unix_ms,
            "attempt": on.map(|attempt| attempt.id),
            "run": on.map(|attempt| attempt.run),
            "step": null,
        }),
    }
}

/// The score's events as they are written down.
pub(super) fn new_events(
    told: Vec<ScoreEvent>,
    at_unix_ms: i64,
) -> Result<Vec<NewEvent>, RecordError> {
    let written = told.into_iter().map(|event| {
        let body = serde_json::to_value(&event).map_err(RecordError::Json)?;
        let kind = body.get("event").and_then(Value::as_str).unwrap_or_default().to_string();
        Ok(NewEvent { at_unix_ms, kind, rest_id: rest_of(&event), body })
    });
    written.collect()
}

/// The rest that an event is about.
fn rest_of(event: &ScoreEvent) -> Option<i64> {
    match event {
        ScoreEvent::Rest { rest, .. }
        | ScoreEvent::AttemptBegan { rest, .. }
        | ScoreEvent::Shot { rest, .. }
        | ScoreEvent::ReRack { rest, .. }
        | ScoreEvent::Placing { rest, .. }
        | ScoreEvent::AttemptOver { rest, .. }
        | ScoreEvent::Settled { rest }
        | ScoreEvent::Rescored { rest, .. } => Some(*rest),
        ScoreEvent::Question { question } => Some(question.rest),
        ScoreEvent::Withdrawn { .. } => None,
    }
}
