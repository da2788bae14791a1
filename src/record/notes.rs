//! What the user wrote about rests and attempts: only ever added to, the last word counts.
//!
//! Attempts are told anew when a rest is corrected, and their numbers with them; so a note on an
//! attempt is kept by a rest of it, and belongs to whichever attempt that rest belongs to.

use super::{
    RecordError,
    event::rest_by_id,
    rows::Content,
    store::{Numbers, Store},
};
use jiff::Timestamp;
use rusqlite::{Connection, Row, params};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The columns of `notes`, in the order in which [`RawNote::from_row`] takes them.
const COLUMNS: &str = "id, at_unix_ms, camera, rest_id, about, text, row_sha256";

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

/// A note's row.
#[derive(Debug)]
pub(super) struct RawNote {
    pub(super) id: i64,
    pub(super) at_unix_ms: i64,
    pub(super) camera: String,
    pub(super) rest_id: i64,
    pub(super) about: String,
    pub(super) text: String,
    pub(super) row_sha256: String,
}

impl RawNote {
    fn from_row(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: row.get(0)?,
            at_unix_ms: row.get(1)?,
            camera: row.get(2)?,
            rest_id: row.get(3)?,
            about: row.get(4)?,
            text: row.get(5)?,
            row_sha256: row.get(6)?,
        })
    }

    pub(super) fn insert(&mut self, connection: &Connection) -> rusqlite::Result<()> {
        self.row_sha256 = self.content_sha256();
        connection
            .prepare_cached(&format!(
                "INSERT INTO notes ({COLUMNS}) VALUES ($1, $2, $3, $4, $5, $6, $7)"
            ))?
            .execute(params![
                self.id,
                self.at_unix_ms,
                self.camera,
                self.rest_id,
                self.about,
                self.text,
                self.row_sha256
            ])?;
        Ok(())
    }

    fn content_sha256(&self) -> String {
        Content::default()
            .number(self.id)
            .number(self.at_unix_ms)
            .text(&self.camera)
            .number(self.rest_id)
            .text(&self.about)
            .text(&self.text)
            .sha256()
    }

    /// Whether no column has changed since the row was written.
    pub(super) fn is_as_written(&self) -> bool {
        self.content_sha256() == self.row_sha256
    }

    pub(super) fn into_note(self) -> Result<UserNote, RecordError> {
        let id = self.id;
        let damaged = |why: String| RecordError::Damaged { what: "note", id, why };
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
        let sql = format!("SELECT {COLUMNS} FROM notes WHERE ($1 = '' OR camera = $2) ORDER BY id");
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
