//! Whether all that was kept is still there and unchanged.

use super::{
    RecordError, RecordReader, contests, hand_kept, notes,
    retention::{PictureState, state_of},
    rows::{CORRECTION_COLUMNS, REST_COLUMNS, RawCorrection, RawRest},
};
use crate::digest::sha256;
use serde_json::{Map, Value};
use std::fmt;

/// What a check of the whole record found.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckReport {
    pub rests: usize,
    pub corrections: usize,
    pub notes: usize,
    pub events: usize,
    pub contests: usize,
    pub contest_entries: usize,
    /// Empty where all is well.
    pub problems: Vec<Problem>,
}

/// Something that is not as it was written. `what` is a rest, a correction, a note, an event, a
/// contest, an entry of one, a word on an entry, or a hand-kept attempt.
#[derive(Debug, Clone, PartialEq)]
pub enum Problem {
    /// The database's own check complains.
    Database {
        says: String,
    },
    /// Ids are given one after the other, so a gap is a lost row.
    Missing {
        what: &'static str,
        id: i64,
    },
    Changed {
        what: &'static str,
        id: i64,
    },
    Unreadable {
        what: &'static str,
        id: i64,
        why: String,
    },
    MissingPicture {
        id: i64,
        picture_sha256: String,
    },
    ChangedPicture {
        id: i64,
        picture_sha256: String,
    },
    /// Each rest is announced once.
    NotAnnouncedOnce {
        id: i64,
        events: i64,
    },
    /// Something speaks of a row that is not there.
    Dangling {
        what: &'static str,
        id: i64,
        of: &'static str,
    },
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Database { says } => write!(f, "the database says: {says}"),
            Self::Missing { what, id } => write!(f, "{what} {id} is missing"),
            Self::Changed { what, id } => write!(f, "{what} {id} was changed after it was written"),
            Self::Unreadable { what, id, why } => write!(f, "{what} {id} cannot be read: {why}"),
            Self::MissingPicture { id, picture_sha256 } => {
                write!(f, "the picture {picture_sha256} of rest {id} is missing")
            }
            Self::ChangedPicture { id, picture_sha256 } => {
                write!(f, "the picture {picture_sha256} of rest {id} was changed")
            }
            Self::NotAnnouncedOnce { id, events } => {
                write!(f, "rest {id} was announced by {events} events instead of one")
            }
            Self::Dangling { what, id, of } => {
                write!(f, "{what} {id} is about {of} that is not there")
            }
        }
    }
}

/// Finds the numbers that are left out.
#[derive(Default)]
struct Counting {
    seen: usize,
    last: i64,
}

impl Counting {
    fn note(&mut self, what: &'static str, id: i64, problems: &mut Vec<Problem>) {
        problems.extend((self.last + 1..id).map(|id| Problem::Missing { what, id }));
        self.last = id;
        self.seen += 1;
    }

    /// The same, and whether the row is as it was written and can be read.
    fn row<T>(
        &mut self,
        what: &'static str,
        id: i64,
        as_written: bool,
        read: Result<T, RecordError>,
        problems: &mut Vec<Problem>,
    ) {
        self.note(what, id, problems);
        if !as_written {
            problems.push(Problem::Changed { what, id });
        }
        if let Err(error) = read {
            problems.push(Problem::Unreadable { what, id, why: error.to_string() });
        }
    }
}

/// Each finds the ids of what is out of order between tables; the text says what it speaks of.
const DANGLING: [(&str, &str, &str); 7] = [
    (
        "correction",
        "a rest",
        "SELECT id FROM corrections WHERE rest_id NOT IN (SELECT id FROM rests) ORDER BY id",
    ),
    (
        "note",
        "a rest",
        "SELECT id FROM notes WHERE rest_id NOT IN (SELECT id FROM rests) ORDER BY id",
    ),
    (
        "event",
        "a rest",
        "SELECT id FROM events WHERE rest_id IS NOT NULL \
         AND rest_id NOT IN (SELECT id FROM rests) ORDER BY id",
    ),
    (
        "entry",
        "a contest",
        "SELECT id FROM contest_entries WHERE contest_id NOT IN (SELECT id FROM contests) \
         ORDER BY id",
    ),
    (
        "word",
        "an entry",
        "SELECT id FROM contest_words WHERE entry_id NOT IN (SELECT id FROM contest_entries) \
         ORDER BY id",
    ),
    (
        "delivery of event",
        "an event",
        "SELECT event_id FROM deliveries WHERE event_id NOT IN (SELECT id FROM events) \
         ORDER BY event_id",
    ),
    (
        "delivery of event",
        "a listener",
        "SELECT event_id FROM deliveries WHERE listener_id NOT IN (SELECT id FROM listeners) \
         ORDER BY event_id",
    ),
];

impl RecordReader {
    /// Reads everything back: the database's own check, every row and every picture. What a
    /// service adds meanwhile is not looked at.
    ///
    /// # Errors
    /// Where the record cannot be read at all.
    pub fn check(&self) -> Result<CheckReport, RecordError> {
        let mut problems = self.database_complaints()?;
        let mut report = self.at_one_moment(|| {
            let rests = self.check_rests(&mut problems)?;
            let corrections = self.check_corrections(&mut problems)?;
            let notes = self.check_notes(&mut problems)?;
            let events = self.check_events(&mut problems)?;
            let (contests, contest_entries) = self.check_contests(&mut problems)?;
            self.check_links(&mut problems)?;
            Ok::<_, RecordError>(CheckReport {
                rests,
                corrections,
                notes,
                events,
                contests,
                contest_entries,
                problems,
            })
        })?;
        self.forget_pictures_let_go_meanwhile(&mut report.problems)?;
        Ok(report)
    }

    fn database_complaints(&self) -> Result<Vec<Problem>, RecordError> {
        let mut statement = self.connection.prepare("PRAGMA integrity_check")?;
        let lines = statement.query_map([], |row| row.get::<_, String>(0))?;
        let mut problems = Vec::new();
        for says in lines {
            let says = says?;
            if says != "ok" {
                problems.push(Problem::Database { says });
            }
        }
        Ok(problems)
    }

    fn check_rests(&self, problems: &mut Vec<Problem>) -> Result<usize, RecordError> {
        let mut statement =
            self.connection.prepare(&format!("SELECT {REST_COLUMNS} FROM rests ORDER BY id"))?;
        let mut counting = Counting::default();
        for row in statement.query_map([], RawRest::from_row)? {
            let row = row?;
            counting.note("rest", row.id, problems);
            self.check_rest(row, problems)?;
        }
        Ok(counting.seen)
    }

    fn check_rest(&self, row: RawRest, problems: &mut Vec<Problem>) -> Result<(), RecordError> {
        let (what, id) = ("rest", row.id);
        if !row.is_unchanged() {
            problems.push(Problem::Changed { what, id });
        }
        let rest = match row.into_rest() {
            Ok(rest) => rest,
            Err(error) => {
                problems.push(Problem::Unreadable { what, id, why: error.to_string() });
                return Ok(());
            }
        };
        let picture_sha256 = rest.picture_sha256;
        match state_of(&self.connection, &picture_sha256)? {
            Some(PictureState::Kept) => {}
            Some(_) => return Ok(()),
            None => problems.push(Problem::Dangling { what, id, of: "a picture" }),
        }
        let path = self.pictures.path(&picture_sha256, rest.format.extension());
        match std::fs::read(path) {
            Err(_) => problems.push(Problem::MissingPicture { id, picture_sha256 }),
            Ok(bytes) if sha256(&bytes) != picture_sha256 => {
                problems.push(Problem::ChangedPicture { id, picture_sha256 });
            }
            Ok(_) => {}
        }
        Ok(())
    }

    /// A picture that the service let go between our looking at its row and at its file is not
    /// missing.
    fn forget_pictures_let_go_meanwhile(
        &self,
        problems: &mut Vec<Problem>,
    ) -> Result<(), RecordError> {
        let mut missing = Vec::new();
        for problem in problems.drain(..) {
            let let_go = match &problem {
                Problem::MissingPicture { picture_sha256, .. } => matches!(
                    state_of(&self.connection, picture_sha256)?,
                    Some(PictureState::Leaving | PictureState::Gone)
                ),
                _ => false,
            };
            if !let_go {
                missing.push(problem);
            }
        }
        *problems = missing;
        Ok(())
    }

    fn check_corrections(&self, problems: &mut Vec<Problem>) -> Result<usize, RecordError> {
        let mut statement = self
            .connection
            .prepare(&format!("SELECT {CORRECTION_COLUMNS} FROM corrections ORDER BY id"))?;
        let mut counting = Counting::default();
        for row in statement.query_map([], RawCorrection::from_row)? {
            let row = row?;
            counting.row("correction", row.id, row.is_as_written(), row.step(), problems);
        }
        Ok(counting.seen)
    }

    fn check_notes(&self, problems: &mut Vec<Problem>) -> Result<usize, RecordError> {
        let mut counting = Counting::default();
        notes::each(&self.connection, None, |row| {
            let (id, as_written) = (row.id, row.is_as_written());
            counting.row("note", id, as_written, row.into_note(), problems);
            Ok::<_, RecordError>(())
        })?;
        Ok(counting.seen)
    }

    fn check_events(&self, problems: &mut Vec<Problem>) -> Result<usize, RecordError> {
        let mut statement =
            self.connection.prepare("SELECT id, body_json FROM events ORDER BY id")?;
        let mut rows = statement.query([])?;
        let mut counting = Counting::default();
        while let Some(row) = rows.next()? {
            let (what, id) = ("event", row.get(0)?);
            counting.note(what, id, problems);
            let body: String = row.get(1)?;
            if let Err(error) = serde_json::from_str::<Map<String, Value>>(&body) {
                problems.push(Problem::Unreadable { what, id, why: error.to_string() });
            }
        }
        Ok(counting.seen)
    }

    /// What belongs to no rest: contests with their entries, and hand-kept attempts.
    fn check_contests(&self, problems: &mut Vec<Problem>) -> Result<(usize, usize), RecordError> {
        let mut counting = Counting::default();
        for row in contests::raw_contests(&self.connection)? {
            let (id, as_written) = (row.id, row.is_as_written());
            counting.row("contest", id, as_written, row.into_contest(), problems);
        }
        let contests = counting.seen;
        let mut counting = Counting::default();
        for row in contests::raw_entries(&self.connection, None)? {
            let file = contests::entry_file(&self.connection, row.id)?;
            let (id, as_written) = (row.id, row.is_as_written(file.as_deref()));
            counting.row("entry", id, as_written, row.into_entered(), problems);
        }
        let entries = counting.seen;
        let mut counting = Counting::default();
        for row in contests::raw_words(&self.connection)? {
            counting.row("word", row.id, row.is_as_written(), row.state(), problems);
        }
        let mut counting = Counting::default();
        for row in hand_kept::raw_hand_kept(&self.connection)? {
            let (id, as_written) = (row.id, row.is_as_written());
            counting.row("hand-kept attempt", id, as_written, row.attempt(), problems);
        }
        Ok((contests, entries))
    }

    fn check_links(&self, problems: &mut Vec<Problem>) -> Result<(), RecordError> {
        let mut statement = self.connection.prepare(
            "SELECT rests.id, COUNT(events.id) FROM rests \
             LEFT JOIN events ON events.rest_id = rests.id AND events.kind = 'rest' \
             GROUP BY rests.id HAVING COUNT(events.id) <> 1 ORDER BY rests.id",
        )?;
        let rows = statement.query_map([], |row| {
            Ok(Problem::NotAnnouncedOnce { id: row.get(0)?, events: row.get(1)? })
        })?;
        problems.extend(rows.collect::<Result<Vec<_>, _>>()?);
        for (what, of, sql) in DANGLING {
            let mut statement = self.connection.prepare(sql)?;
            let ids = statement.query_map([], |row| row.get(0))?.collect::<Result<Vec<_>, _>>()?;
            problems.extend(ids.into_iter().map(|id| Problem::Dangling { what, id, of }));
        }
        Ok(())
    }

    /// Looks at the record as it stands now, whatever is added meanwhile.
    pub(super) fn at_one_moment<T, E: From<RecordError>>(
        &self,
        look: impl FnOnce() -> Result<T, E>,
    ) -> Result<T, E> {
        self.connection.execute_batch("BEGIN").map_err(RecordError::from)?;
        let seen = look();
        self.connection.execute_batch("COMMIT").map_err(RecordError::from)?;
        seen
    }
}
