//! What the user wrote about rests and attempts: only ever added to, the last word counts.
//!
//! Attempts are told anew when a rest is corrected, and their numbers with them; so a note on an
//! attempt is kept by a rest of it, and belongs to whichever attempt that rest belongs to.

use super::{
    RecordError,
    event::rest_by_id,
    kept_row::kept_row,
    store::{Numbers, Store},
};
use jiff::Timestamp;
use rusqlite::Connection;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What a note is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoteAbout {
    Rest,
    /// The attempt that the rest belongs to.
    Attempt,
}

impl NoteAbout {
    const fn name(self) -> &'static str {
        match self {
            Self::Rest => "rest",
            Self::Attempt => "attempt",
        }
    }
}

/// A note to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewNote {
    pub rest: i64,
    pub about: NoteAbout,
    /// Empty to take back what was written before.
    pub text: String,
    /// What the user saw to stand there before, if that matters; empty where nothing stood.
    pub instead_of: Option<String>,
}

/// A note that is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UserNote {
    /// Grows by one with each note, over all cameras.
    pub id: i64,
    /// When it was written.
    pub at: Timestamp,
    pub camera: String,
    pub rest: i64,
    pub about: NoteAbout,
    pub text: String,
}

kept_row! {
    /// A note's row.
    RawNote in "notes" {
        id: i64,
        at_unix_ms: i64,
        camera: String,
        rest_id: i64,
        about: String,
        text: String,
    }
}

impl RawNote {
    pub(super) fn into_note(self) -> Result<UserNote, RecordError> {
        let id = self.id;
        let damaged = |why: String| RecordError::damaged("note", id, why);
        let about = [NoteAbout::Rest, NoteAbout::Attempt];
        let about = about.into_iter().find(|about| about.name() == self.about);
        Ok(UserNote {
            id,
            at: Timestamp::from_millisecond(self.at_unix_ms)
                .map_err(|error| damaged(error.to_string()))?,
            about: about.ok_or_else(|| damaged(format!("it is about no '{}'", self.about)))?,
            camera: self.camera,
            rest: self.rest_id,
            text: self.text,
        })
    }
}

/// Looks at each note there is, oldest first, or at those of one camera.
pub(super) fn each<E: From<RecordError>>(
    connection: &Connection,
    camera: Option<&str>,
    mut look: impl FnMut(RawNote) -> Result<(), E>,
) -> Result<(), E> {
    let read = || -> Result<Vec<RawNote>, RecordError> {
        // One text for both: an empty name stands for all cameras.
        let columns = RawNote::COLUMNS;
        let sql = format!("SELECT {columns} FROM notes WHERE ($1 = '' OR camera = $2) ORDER BY id");
        let camera = camera.unwrap_or_default();
        let mut statement = connection.prepare_cached(&sql)?;
        let rows = statement.query_map([camera, camera], RawNote::from_row)?;
        Ok(rows.collect::<Result<_, _>>()?)
    };
    read()?.into_iter().try_for_each(&mut look)
}

/// The notes of a camera that stand, oldest first: the last on each thing, if it is not empty.
pub(super) fn standing(
    connection: &Connection,
    camera: &str,
) -> Result<Vec<UserNote>, RecordError> {
    let mut last = BTreeMap::new();
    each(connection, Some(camera), |row| {
        match row.into_note() {
            Ok(note) => {
                last.insert((note.rest, note.about), note);
            }
            Err(error) => tracing::error!("left out of the notes: {error}"),
        }
        Ok::<_, RecordError>(())
    })?;
    let mut notes: Vec<UserNote> =
        last.into_values().filter(|note| !note.text.is_empty()).collect();
    notes.sort_by_key(|note| note.id);
    Ok(notes)
}

/// A text as a browser hands it back: programs may end lines in other ways.
fn one_line_end(text: &str) -> String {
    text.replace("\r\n", "\n").replace('\r', "\n")
}

impl Store {
    /// Keeps what the user wrote; when this returns, it is on disk.
    pub(super) fn write_note(
        &mut self,
        new: NewNote,
        at: Timestamp,
    ) -> Result<UserNote, RecordError> {
        let rest = rest_by_id(&self.connection, new.rest)?;
        let camera = rest.ok_or(RecordError::NoSuchRest { id: new.rest })?.camera;
        if let Some(known) = &new.instead_of {
            let mut notes = standing(&self.connection, &camera)?.into_iter();
            let stands = notes.find(|note| (note.rest, note.about) == (new.rest, new.about));
            let stands = one_line_end(&stands.map_or_else(String::new, |note| note.text));
            if stands != one_line_end(known) && stands != one_line_end(&new.text) {
                return Err(RecordError::NotedMeanwhile);
            }
        }
        self.write(|transaction, numbers: &mut Numbers| {
            let mut row = RawNote {
                id: numbers.note + 1,
                at_unix_ms: at.as_millisecond(),
                camera,
                rest_id: new.rest,
                about: new.about.name().into(),
                text: new.text,
                row_sha256: String::new(),
            };
            row.insert(transaction)?;
            numbers.note = row.id;
            row.into_note()
        })
    }
}
