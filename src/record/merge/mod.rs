//! Another record's history taken into this one: all its rests with their pictures, corrections, notes,
//! contests and hand-kept attempts, in one transaction.
//!
//! A rest that is here already is known by its time, layout and picture, whatever its number or camera
//! is called; it stays as it is. New rests get new numbers behind those that are here, and an event
//! each, so that numbers and events go on without a hole; nobody is told of them by webhook. The score
//! follows a camera's rests in the order of their numbers, so new ones join a camera only where all of
//! them are later than what it saw; else they stand under a name of their own. Of two words on one rest
//! the later holds, whichever record it came from.

mod targets;
mod words;

use super::{
    RecordError, RecordReader, Retention, contests,
    followers::{self, Score},
    hand_kept::{HandKept, raw_hand_kept, take_list},
    keeping::{Announcer, PictureFile, events_of, new_events, write_rest},
    notes::{self, RawNote},
    pictures::Pictures,
    retention::{PictureState, state_of},
    rows::{CORRECTION_COLUMNS, REST_COLUMNS, RawCorrection, RawRest},
    store::{Numbers, Store},
};
use crate::{
    camera::picture::PictureFormat,
    score::{self, Step},
};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, params};
use std::{
    collections::{BTreeMap, HashMap, HashSet},
    fs,
    path::{Path, PathBuf},
};
use targets::{Target, targets};
use thiserror::Error;
use words::Words;

/// What was taken in.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MergeReport {
    pub rests: usize,
    /// Rests of the other record that were here already.
    pub known: usize,
    pub corrections: usize,
    pub notes: usize,
    pub pictures: usize,
    /// Pictures that the other record should have had, and has not.
    pub pictures_missing: usize,
    pub contests: usize,
    pub entries: usize,
    pub hand_kept: usize,
    /// Cameras of the other record whose new rests stand under another name here.
    pub renamed: Vec<(String, String)>,
}

/// Why nothing was taken in.
#[derive(Debug, Error)]
pub enum MergeError {
    #[error("{path} is the record itself: give the data folder of another one")]
    Itself { path: PathBuf },
    #[error("the record in {path} cannot be taken in: {source}")]
    Other { path: PathBuf, source: RecordError },
    #[error(transparent)]
    Record(#[from] RecordError),
}

/// Takes another data folder's record into that of `data`, which is made where there is none.
///
/// # Errors
/// Where either cannot be used, the other is of a newer version or damaged, or the disk has no room:
/// the record is as it was then.
pub fn merge(data: &Path, other: &Path) -> Result<MergeReport, MergeError> {
    let of_other = |source| MergeError::Other { path: other.into(), source };
    let same = fs::canonicalize(data).ok().zip(fs::canonicalize(other).ok());
    if same.is_some_and(|(data, other)| data == other) {
        return Err(MergeError::Itself { path: other.into() });
    }
    let reader = RecordReader::open(other).map_err(of_other)?;
    let mut store = Store::open(data, Retention::default())?;
    Ok(reader.at_one_moment(|| store.take_in(&reader))?)
}

/// Picture files that were copied, to be taken away again if nothing comes of it.
struct Copied {
    pictures: Pictures,
    files: Vec<PathBuf>,
}

impl Copied {
    fn take_away(&self) {
        for file in &self.files {
            if let Err(error) = fs::remove_file(file) {
                tracing::warn!("cannot delete {}: {error}", file.display());
            }
        }
    }
}

impl Store {
    fn take_in(&mut self, other: &RecordReader) -> Result<MergeReport, RecordError> {
        let mut copied = Copied { pictures: self.pictures.clone(), files: Vec::new() };
        let merged = self.write(|transaction, numbers| {
            let mut merging = Merging::begin(transaction, other, &mut copied)?;
            merging.rests(numbers)?;
            merging.corrections(numbers)?;
            merging.notes(numbers)?;
            merging.contests(numbers)?;
            merging.hand_kept(numbers)?;
            Ok((merging.report, merging.grown_bytes))
        });
        if merged.is_err() {
            copied.take_away();
        }
        let (report, grown_bytes) = merged?;
        self.keeper.kept_bytes += grown_bytes;
        Ok(report)
    }
}

struct Merging<'a> {
    here: &'a Connection,
    other: &'a RecordReader,
    copied: &'a mut Copied,
    targets: HashMap<String, Target>,
    /// The numbers here of the other record's rests that something is said about, and the camera.
    rests: HashMap<i64, (i64, String)>,
    /// Those of them that were here before.
    shared: HashSet<i64>,
    spoken_of: HashSet<i64>,
    scores: HashMap<String, Score>,
    grown_bytes: i64,
    report: MergeReport,
}

fn damaged(what: &'static str, id: i64) -> RecordError {
    RecordError::damaged(what, id, "it was changed after it was written")
}

/// A rest that is here already: its number and camera.
fn known_rest(here: &Connection, rest: &RawRest) -> Result<Option<(i64, String)>, RecordError> {
    let found = here
        .prepare_cached(
            "SELECT id, camera FROM rests \
             WHERE at_unix_ms = $1 AND picture_sha256 = $2 AND layout_json = $3 ORDER BY id LIMIT 1",
        )?
        .query_row(params![rest.at_unix_ms, rest.picture_sha256, rest.layout_json], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .optional()?;
    Ok(found)
}

/// Looks at each of a record's rests, in the order of their numbers.
fn each_rest(
    connection: &Connection,
    mut look: impl FnMut(RawRest) -> Result<(), RecordError>,
) -> Result<(), RecordError> {
    let mut statement =
        connection.prepare(&format!("SELECT {REST_COLUMNS} FROM rests ORDER BY id"))?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        look(RawRest::from_row(row)?)?;
    }
    Ok(())
}

fn raw_corrections(connection: &Connection) -> Result<Vec<RawCorrection>, RecordError> {
    let sql = format!("SELECT {CORRECTION_COLUMNS} FROM corrections ORDER BY id");
    let mut statement = connection.prepare(&sql)?;
    Ok(statement.query_map([], RawCorrection::from_row)?.collect::<Result<_, _>>()?)
}

fn raw_notes(connection: &Connection) -> Result<Vec<RawNote>, RecordError> {
    let mut all = Vec::new();
    notes::each(connection, None, |row| {
        all.push(row);
        Ok::<_, RecordError>(())
    })?;
    Ok(all)
}

impl<'a> Merging<'a> {
    /// Plans where new rests go.
    fn begin(
        here: &'a Connection,
        other: &'a RecordReader,
        copied: &'a mut Copied,
    ) -> Result<Self, RecordError> {
        let mut spoken_of: HashSet<i64> = HashSet::new();
        spoken_of.extend(raw_corrections(&other.connection)?.iter().map(|row| row.rest_id));
        spoken_of.extend(raw_notes(&other.connection)?.iter().map(|row| row.rest_id));
        let targets = targets(here, other)?;
        let mut report = MergeReport::default();
        let renamed = targets.iter().filter(|(old, target)| **old != target.camera);
        report.renamed = renamed.map(|(old, to)| (old.clone(), to.camera.clone())).collect();
        report.renamed.sort();
        Ok(Self {
            here,
            other,
            copied,
            targets,
            rests: HashMap::new(),
            shared: HashSet::new(),
            spoken_of,
            scores: HashMap::new(),
            grown_bytes: 0,
            report,
        })
    }

    fn rests(&mut self, numbers: &mut Numbers) -> Result<(), RecordError> {
        let other = self.other;
        let mut said: HashMap<i64, Step> = HashMap::new();
        for camera in other.cameras()? {
            said.extend(followers::corrections(&other.connection, &camera)?);
        }
        each_rest(&other.connection, |row| {
            if !row.is_unchanged() {
                return Err(damaged("rest", row.id));
            }
            let old = row.id;
            let spoken_of = self.spoken_of.contains(&old);
            if let Some((id, camera)) = known_rest(self.here, &row)? {
                self.report.known += 1;
                if spoken_of {
                    self.shared.insert(id);
                    self.rests.insert(old, (id, camera));
                }
                return Ok(());
            }
            let (id, camera) = self.rest(row, said.get(&old), numbers)?;
            if spoken_of {
                self.rests.insert(old, (id, camera));
            }
            Ok(())
        })
    }

    /// Takes one new rest in.
    fn rest(
        &mut self,
        mut row: RawRest,
        said: Option<&Step>,
        numbers: &mut Numbers,
    ) -> Result<(i64, String), RecordError> {
        let picture = self.picture(&row)?;
        row.id = numbers.rest + 1;
        if let Some(target) = self.targets.get_mut(&row.camera) {
            if let Some(from) = target.gap_from_unix_ms.take() {
                row.unseen_ms = row.unseen_ms.max(row.at_unix_ms.saturating_sub(from));
            }
            row.camera.clone_from(&target.camera);
        }
        let (id, camera) = (row.id, row.camera.clone());
        if !self.scores.contains_key(&camera) {
            self.scores.insert(camera.clone(), followers::fold(self.here, &camera)?);
        }
        let layout = row.layout()?;
        let seen = row.seen(layout);
        let score = self.scores.entry(camera.clone()).or_default();
        let events = events_of(score, &seen, said, row.at_unix_ms)?;
        let announcer = Announcer { connection: self.here, listeners: &[], camera: &camera };
        let (_, _, grown) = write_rest(&announcer, (row, seen), picture, events, numbers)?;
        self.grown_bytes += grown;
        self.report.rests += 1;
        Ok((id, camera))
    }

    /// Copies a rest's picture, where the other record has it.
    fn picture(&mut self, row: &RawRest) -> Result<PictureFile, RecordError> {
        let sha256 = &row.picture_sha256;
        let gone = |state| PictureFile { size_bytes: 0, state };
        let state = state_of(&self.other.connection, sha256)?;
        if state != Some(PictureState::Kept) {
            return Ok(gone(state.unwrap_or(PictureState::Never)));
        }
        let Some(format) = PictureFormat::from_media_type(&row.picture_type) else {
            return Ok(gone(PictureState::Never));
        };
        let from = self.other.pictures.path(sha256, format.extension());
        let Ok(about) = fs::metadata(&from) else {
            self.report.pictures_missing += 1;
            return Ok(gone(PictureState::Never));
        };
        let to = self.copied.pictures.path(sha256, format.extension());
        let refused = |source| RecordError::Folder { path: to.clone(), source };
        if self.copied.pictures.copy_in(&from, sha256, format.extension()).map_err(refused)? {
            self.copied.files.push(to);
            self.report.pictures += 1;
        }
        let size_bytes = i64::try_from(about.len()).unwrap_or(i64::MAX);
        Ok(PictureFile { size_bytes, state: PictureState::Kept })
    }

    /// A rest of the other record by its number here.
    fn own(&self, rest: i64, what: &'static str, id: i64) -> Result<(i64, String), RecordError> {
        let why = || format!("it is about rest {rest}, which is not there");
        self.rests.get(&rest).cloned().ok_or_else(|| RecordError::damaged(what, id, why()))
    }

    fn corrections(&mut self, numbers: &mut Numbers) -> Result<(), RecordError> {
        let text = |step: Option<&String>| step.cloned().unwrap_or_default();
        let here = raw_corrections(self.here)?;
        let mut words = Words::of(
            here.iter().map(|row| (row.rest_id, row.at_unix_ms, text(row.step_json.as_ref()))),
        );
        let mut cameras: HashMap<i64, String> =
            here.into_iter().map(|row| (row.rest_id, row.camera)).collect();
        let mut new = Vec::new();
        for row in raw_corrections(&self.other.connection)? {
            if !row.is_as_written() {
                return Err(damaged("correction", row.id));
            }
            let (rest, camera) = self.own(row.rest_id, "correction", row.id)?;
            if words.bring(rest, row.at_unix_ms, text(row.step_json.as_ref())) {
                self.report.corrections += 1;
                cameras.insert(rest, camera);
                new.push((rest, row.at_unix_ms, text(row.step_json.as_ref())));
            }
        }
        new.extend(words.again());
        // What the score of a camera was without these words; a new rest was followed with them.
        let mut stood = BTreeMap::new();
        for (rest, _, _) in &new {
            if let Some(camera) = cameras.get(rest).filter(|_| self.shared.contains(rest))
                && !stood.contains_key(camera)
            {
                let score = match self.scores.remove(camera) {
                    Some(score) => score,
                    None => followers::fold(self.here, camera)?,
                };
                stood.insert(camera.clone(), score);
            }
        }
        for (rest_id, at_unix_ms, step) in new {
            let mut row = RawCorrection {
                id: numbers.correction + 1,
                at_unix_ms,
                camera: cameras.get(&rest_id).cloned().unwrap_or_default(),
                rest_id,
                step_json: (!step.is_empty()).then_some(step),
                row_sha256: String::new(),
            };
            row.insert(self.here)?;
            numbers.correction = row.id;
        }
        for (camera, stood) in stood {
            let now = followers::fold(self.here, &camera)?;
            let changed = score::changes(stood.follower.story(), now.follower.story());
            let announcer = Announcer { connection: self.here, listeners: &[], camera: &camera };
            let at_unix_ms = Timestamp::now().as_millisecond();
            announcer.write(new_events(changed, at_unix_ms)?, None, numbers)?;
        }
        Ok(())
    }

    fn notes(&mut self, numbers: &mut Numbers) -> Result<(), RecordError> {
        let here = raw_notes(self.here)?;
        let mut words = Words::of(here.iter().map(|row| {
            ((row.rest_id, row.camera.clone(), row.about.clone()), row.at_unix_ms, row.text.clone())
        }));
        let mut new = Vec::new();
        for row in raw_notes(&self.other.connection)? {
            if !row.is_as_written() {
                return Err(damaged("note", row.id));
            }
            let (rest, camera) = self.own(row.rest_id, "note", row.id)?;
            let thing = (rest, camera, row.about);
            if words.bring(thing.clone(), row.at_unix_ms, row.text.clone()) {
                self.report.notes += 1;
                new.push((thing, row.at_unix_ms, row.text));
            }
        }
        new.extend(words.again());
        for ((rest_id, camera, about), at_unix_ms, text) in new {
            let id = numbers.note + 1;
            let row_sha256 = String::new();
            RawNote { id, at_unix_ms, camera, rest_id, about, text, row_sha256 }
                .insert(self.here)?;
            numbers.note = id;
        }
        Ok(())
    }

    fn contests(&mut self, numbers: &mut Numbers) -> Result<(), RecordError> {
        let mut ids = HashMap::new();
        let here = contests::raw_contests(self.here)?;
        for mut row in contests::raw_contests(&self.other.connection)? {
            if !row.is_as_written() {
                return Err(damaged("contest", row.id));
            }
            let old = row.id;
            let same = |it: &&contests::RawContest| {
                (it.at_unix_ms, &it.rules_json) == (row.at_unix_ms, &row.rules_json)
            };
            if let Some(known) = here.iter().find(same) {
                ids.insert(old, known.id);
                continue;
            }
            row.id = numbers.contest + 1;
            row.insert(self.here)?;
            numbers.contest = row.id;
            self.report.contests += 1;
            ids.insert(old, row.id);
        }
        let mut entries = HashMap::new();
        let here = contests::raw_entries(self.here, None)?;
        for mut row in contests::raw_entries(&self.other.connection, None)? {
            let file = contests::entry_file(&self.other.connection, row.id)?;
            let Some(contest) = ids.get(&row.contest_id) else {
                return Err(damaged("entry", row.id));
            };
            if !row.is_as_written(file.as_deref()) {
                return Err(damaged("entry", row.id));
            }
            let old = row.id;
            row.contest_id = *contest;
            let same = |it: &&contests::RawEntry| {
                (it.contest_id, it.at_unix_ms, &it.facts_json)
                    == (row.contest_id, row.at_unix_ms, &row.facts_json)
            };
            if let Some(known) = here.iter().find(same) {
                entries.insert(old, known.id);
                continue;
            }
            row.id = numbers.contest_entry + 1;
            row.insert(self.here, file.as_deref())?;
            numbers.contest_entry = row.id;
            self.report.entries += 1;
            entries.insert(old, row.id);
        }
        self.words_on_entries(&entries, numbers)
    }

    fn words_on_entries(
        &mut self,
        entries: &HashMap<i64, i64>,
        numbers: &mut Numbers,
    ) -> Result<(), RecordError> {
        let both = |row: &contests::RawWord| format!("{} {}", row.state, row.reason);
        let here = contests::raw_words(self.here)?;
        let mut words = Words::of(here.iter().map(|row| (row.entry_id, row.at_unix_ms, both(row))));
        let mut new = Vec::new();
        for row in contests::raw_words(&self.other.connection)? {
            let Some(entry) = entries.get(&row.entry_id).filter(|_| row.is_as_written()) else {
                return Err(damaged("word", row.id));
            };
            if words.bring(*entry, row.at_unix_ms, both(&row)) {
                new.push((*entry, row.at_unix_ms, both(&row)));
            }
        }
        new.extend(words.again());
        for (entry_id, at_unix_ms, both) in new {
            let (state, reason) = both.split_once(' ').unwrap_or((&both, ""));
            let id = numbers.contest_word + 1;
            let (state, reason, row_sha256) = (state.into(), reason.into(), String::new());
            contests::RawWord { id, at_unix_ms, entry_id, state, reason, row_sha256 }
                .insert(self.here)?;
            numbers.contest_word = id;
        }
        Ok(())
    }

    fn hand_kept(&mut self, numbers: &mut Numbers) -> Result<(), RecordError> {
        let mut lists: BTreeMap<(String, String), (i64, Vec<HandKept>)> = BTreeMap::new();
        for row in raw_hand_kept(&self.other.connection)? {
            if !row.is_as_written() {
                return Err(damaged("hand-kept attempt", row.id));
            }
            let attempt = row.attempt()?;
            let list = lists.entry((row.list, row.camera)).or_default();
            list.0 = row.at_unix_ms;
            list.1.push(attempt);
        }
        for ((list, camera), (at_unix_ms, attempts)) in lists {
            let camera = self.targets.get(&camera).map_or(camera.as_str(), |to| to.camera.as_str());
            let taken = take_list(self.here, numbers, (&list, camera), &attempts, at_unix_ms)?;
            self.report.hand_kept += taken.added;
        }
        Ok(())
    }
}
