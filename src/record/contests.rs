//! Contests that an organiser keeps here: their rules, entries, and whether each entry counts.
//!
//! Only ever added to, the last word counts. Nothing of it is announced.

use super::{
    RecordError,
    kept_row::{Cells, Content, insert, kept_row},
    store::Store,
};
use crate::contest::{Clash, Entered, EntryState, Facts, Rules, clash};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, Row, ToSql};

/// A contest that is kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Contest {
    /// Grows by one with each contest.
    pub id: i64,
    /// When it was opened.
    pub at: Timestamp,
    pub rules: Rules,
}

/// What became of an entry that was brought, or of a word on one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EntryTaken {
    Kept(Entered),
    /// It cannot stand beside an entry that counts already; nothing was kept.
    Clash(Clash),
}

kept_row! {
    RawContest in "contests" {
        id: i64,
        at_unix_ms: i64,
        rules_json: String,
    }
}

/// The columns of an entry but its file, in the order in which [`RawEntry::from_row`] takes them.
const ENTRY_COLUMNS: &str = "id, at_unix_ms, contest_id, facts_json, row_sha256";

/// An entry's row but for its file: that is large, and seldom wanted.
pub(super) struct RawEntry {
    pub(super) id: i64,
    pub(super) at_unix_ms: i64,
    pub(super) contest_id: i64,
    pub(super) facts_json: String,
    pub(super) row_sha256: String,
}

kept_row! {
    RawWord in "contest_words" {
        id: i64,
        at_unix_ms: i64,
        entry_id: i64,
        state: String,
        reason: String,
    }
}

impl EntryState {
    const fn word(self) -> &'static str {
        match self {
            Self::Counts => "counts",
            Self::Withdrawn => "withdrawn",
            Self::Removed => "removed",
        }
    }

    fn from_word(word: &str) -> Option<Self> {
        [Self::Counts, Self::Withdrawn, Self::Removed].into_iter().find(|s| s.word() == word)
    }
}

fn moment(what: &'static str, id: i64, at_unix_ms: i64) -> Result<Timestamp, RecordError> {
    Timestamp::from_millisecond(at_unix_ms).map_err(|error| RecordError::damaged(what, id, error))
}

impl RawContest {
    pub(super) fn into_contest(self) -> Result<Contest, RecordError> {
        let (what, id) = ("contest", self.id);
        Ok(Contest {
            id,
            at: moment(what, id, self.at_unix_ms)?,
            rules: serde_json::from_str(&self.rules_json)
                .map_err(|error| RecordError::damaged(what, id, error))?,
        })
    }
}

impl RawEntry {
    fn from_row(row: &Row<'_>) -> rusqlite::Result<Self> {
        let mut cells = Cells::of(row);
        Ok(Self {
            id: cells.take()?,
            at_unix_ms: cells.take()?,
            contest_id: cells.take()?,
            facts_json: cells.take()?,
            row_sha256: cells.take()?,
        })
    }

    pub(super) fn insert(
        &mut self,
        connection: &Connection,
        file: Option<&str>,
    ) -> rusqlite::Result<()> {
        self.row_sha256 = self.content_sha256(file);
        let columns = format!("{ENTRY_COLUMNS}, file_text");
        let Self { id, at_unix_ms, contest_id, facts_json, row_sha256 } = self;
        let values: [&dyn ToSql; 6] = [id, at_unix_ms, contest_id, facts_json, row_sha256, &file];
        insert(connection, ("contest_entries", &columns), &values)
    }

    fn content_sha256(&self, file: Option<&str>) -> String {
        let content = Content::default()
            .number(self.id)
            .number(self.at_unix_ms)
            .number(self.contest_id)
            .text(&self.facts_json);
        file.map_or_else(|| content.sha256(), |file| content.clone().text(file).sha256())
    }

    pub(super) fn is_as_written(&self, file: Option<&str>) -> bool {
        self.content_sha256(file) == self.row_sha256
    }

    pub(super) fn into_entered(self) -> Result<Entered, RecordError> {
        let (what, id) = ("entry", self.id);
        let facts: Facts = serde_json::from_str(&self.facts_json)
            .map_err(|error| RecordError::damaged(what, id, error))?;
        let at = moment(what, id, self.at_unix_ms)?;
        Ok(Entered { id, at, facts, state: EntryState::Counts, reason: String::new() })
    }
}

impl RawWord {
    pub(super) fn state(&self) -> Result<EntryState, RecordError> {
        EntryState::from_word(&self.state).ok_or_else(|| {
            RecordError::damaged("word", self.id, format!("'{}' is no state", self.state))
        })
    }
}

/// All contests, oldest first.
pub(super) fn raw_contests(connection: &Connection) -> Result<Vec<RawContest>, RecordError> {
    let sql = format!("SELECT {} FROM contests ORDER BY id", RawContest::COLUMNS);
    let mut statement = connection.prepare_cached(&sql)?;
    Ok(statement.query_map([], RawContest::from_row)?.collect::<Result<_, _>>()?)
}

/// All entries, oldest first, of one contest or of all.
pub(super) fn raw_entries(
    connection: &Connection,
    contest: Option<i64>,
) -> Result<Vec<RawEntry>, RecordError> {
    // One text for both: ids begin at 1.
    let sql = format!(
        "SELECT {ENTRY_COLUMNS} FROM contest_entries WHERE ($1 = 0 OR contest_id = $2) ORDER BY id"
    );
    let contest = contest.unwrap_or(0);
    let mut statement = connection.prepare_cached(&sql)?;
    Ok(statement.query_map([contest, contest], RawEntry::from_row)?.collect::<Result<_, _>>()?)
}

/// All that was said about entries, oldest first.
pub(super) fn raw_words(connection: &Connection) -> Result<Vec<RawWord>, RecordError> {
    let sql = format!("SELECT {} FROM contest_words ORDER BY id", RawWord::COLUMNS);
    let mut statement = connection.prepare_cached(&sql)?;
    Ok(statement.query_map([], RawWord::from_row)?.collect::<Result<_, _>>()?)
}

/// An entry's signed file; none where it has none, or there is no such entry.
pub(super) fn entry_file(connection: &Connection, id: i64) -> Result<Option<String>, RecordError> {
    let file: Option<Option<String>> = connection
        .prepare_cached("SELECT file_text FROM contest_entries WHERE id = $1")?
        .query_row([id], |row| row.get(0))
        .optional()?;
    Ok(file.flatten())
}

/// One contest.
fn contest(connection: &Connection, id: i64) -> Result<Contest, RecordError> {
    let mut found = raw_contests(connection)?.into_iter();
    let row = found.find(|row| row.id == id).ok_or(RecordError::NoSuchContest { id })?;
    row.into_contest()
}

/// A contest's entries as they stand, oldest first.
fn entries(connection: &Connection, contest: i64) -> Result<Vec<Entered>, RecordError> {
    let mut entries = Vec::new();
    for row in raw_entries(connection, Some(contest))? {
        match row.into_entered() {
            Ok(entry) => entries.push(entry),
            Err(error) => tracing::error!("left out of a contest: {error}"),
        }
    }
    for word in raw_words(connection)? {
        if let Some(entry) = entries.iter_mut().find(|entry| entry.id == word.entry_id) {
            match word.state() {
                Ok(state) => (entry.state, entry.reason) = (state, word.reason),
                Err(error) => tracing::error!("left out of a contest: {error}"),
            }
        }
    }
    Ok(entries)
}

impl Store {
    pub(super) fn contests(&self) -> Result<Vec<Contest>, RecordError> {
        let mut contests = Vec::new();
        for row in raw_contests(&self.connection)? {
            match row.into_contest() {
                Ok(contest) => contests.push(contest),
                Err(error) => tracing::error!("left out of the contests: {error}"),
            }
        }
        Ok(contests)
    }

    pub(super) fn contest(&self, id: i64) -> Result<(Contest, Vec<Entered>), RecordError> {
        Ok((contest(&self.connection, id)?, entries(&self.connection, id)?))
    }

    pub(super) fn open_contest(
        &mut self,
        rules: Rules,
        at: Timestamp,
    ) -> Result<Contest, RecordError> {
        let rules_json = serde_json::to_string(&rules).map_err(RecordError::Json)?;
        self.write(|transaction, numbers| {
            let mut row = RawContest {
                id: numbers.contest + 1,
                at_unix_ms: at.as_millisecond(),
                rules_json,
                row_sha256: String::new(),
            };
            row.insert(transaction)?;
            numbers.contest = row.id;
            row.into_contest()
        })
    }

    /// Keeps an entry with its signed file, unless it cannot stand beside one that counts.
    pub(super) fn enter(
        &mut self,
        contest_id: i64,
        facts: Facts,
        file: Option<&str>,
        at: Timestamp,
    ) -> Result<EntryTaken, RecordError> {
        let (_, entries) = self.contest(contest_id)?;
        if let Some(clash) = clash(&facts, &entries) {
            return Ok(EntryTaken::Clash(clash));
        }
        let facts_json = serde_json::to_string(&facts).map_err(RecordError::Json)?;
        self.write(|transaction, numbers| {
            let mut row = RawEntry {
                id: numbers.contest_entry + 1,
                at_unix_ms: at.as_millisecond(),
                contest_id,
                facts_json,
                row_sha256: String::new(),
            };
            row.insert(transaction, file)?;
            numbers.contest_entry = row.id;
            row.into_entered().map(EntryTaken::Kept)
        })
    }

    /// Says whether an entry counts; not where it is to count again and cannot.
    pub(super) fn say_of_entry(
        &mut self,
        contest_id: i64,
        entry_id: i64,
        (state, reason): (EntryState, String),
        at: Timestamp,
    ) -> Result<EntryTaken, RecordError> {
        let no_such = RecordError::NoSuchEntry { id: entry_id, contest: contest_id };
        let (_, entries) = self.contest(contest_id)?;
        let entry = entries.iter().find(|entry| entry.id == entry_id).ok_or(no_such)?.clone();
        let others: Vec<Entered> = entries.into_iter().filter(|e| e.id != entry_id).collect();
        if state == EntryState::Counts
            && let Some(clash) = clash(&entry.facts, &others)
        {
            return Ok(EntryTaken::Clash(clash));
        }
        self.write(|transaction, numbers| {
            let mut row = RawWord {
                id: numbers.contest_word + 1,
                at_unix_ms: at.as_millisecond(),
                entry_id,
                state: state.word().into(),
                reason: reason.clone(),
                row_sha256: String::new(),
            };
            row.insert(transaction)?;
            numbers.contest_word = row.id;
            Ok(EntryTaken::Kept(Entered { state, reason, ..entry }))
        })
    }

    /// The signed file of an entry; none where it has none.
    pub(super) fn entry_file(
        &self,
        contest_id: i64,
        entry_id: i64,
    ) -> Result<Option<String>, RecordError> {
        let (_, entries) = self.contest(contest_id)?;
        if !entries.iter().any(|entry| entry.id == entry_id) {
            return Err(RecordError::NoSuchEntry { id: entry_id, contest: contest_id });
        }
        entry_file(&self.connection, entry_id)
    }
}
