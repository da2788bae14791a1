//! The record as text for other programs: JSON Lines (<https://jsonlines.org>) or CSV (RFC 4180).

use super::{
    NoteAbout, RecordError, RecordReader,
    event::events_after,
    followers::{corrections, fold},
    notes,
    rows::{CORRECTION_COLUMNS, REST_COLUMNS, RawCorrection, RawRest},
};
use crate::{
    layout::{BallKind, Layout},
    score::{Attempt, Cause, Follower, RackPlayed, ScoreEvent, ShotTaken, Story},
};
use jiff::Timestamp;
use serde::Serialize;
use serde_json::{Value, json};
use std::{
    collections::HashMap,
    io::{self, Write},
};
use thiserror::Error;

/// What is written out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportOf {
    /// Each rest with its layout; in CSV a row for each ball.
    Rests,
    /// Each attempt; in JSON Lines with its shots and racks.
    Attempts,
    Corrections,
    /// All that the user wrote about rests and attempts, what was taken back too.
    Notes,
    /// All that was announced.
    Events,
}

/// How it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportFormat {
    JsonLines,
    Csv,
}

/// Why an export broke off.
#[derive(Debug, Error)]
pub enum ExportError {
    #[error(transparent)]
    Record(#[from] RecordError),
    #[error("cannot write the export: {0}")]
    Write(#[from] io::Error),
    #[error("cannot write a row of the export: {0}")]
    Row(#[from] csv::Error),
}

impl From<rusqlite::Error> for ExportError {
    fn from(error: rusqlite::Error) -> Self {
        Self::Record(error.into())
    }
}

/// Events read in one go.
const PAGE: u32 = 500;

/// Where rows go.
enum Sheet<W: Write> {
    Lines(W),
    Table(Box<csv::Writer<W>>),
}

impl<W: Write> Sheet<W> {
    fn line(&mut self, line: &impl Serialize) -> Result<(), ExportError> {
        if let Self::Lines(to) = self {
            serde_json::to_writer(&mut *to, line).map_err(io::Error::from)?;
            to.write_all(b"\n")?;
        }
        Ok(())
    }

    fn row(&mut self, row: &impl Serialize) -> Result<(), ExportError> {
        if let Self::Table(to) = self {
            to.serialize(row)?;
        }
        Ok(())
    }

    fn end(self) -> Result<(), ExportError> {
        match self {
            Self::Lines(mut to) => Ok(to.flush()?),
            Self::Table(mut to) => Ok(to.flush()?),
        }
    }
}

/// A rest, as a line.
#[derive(Serialize)]
struct RestLine<'a> {
    rest: i64,
    at: Timestamp,
    camera: &'a str,
    /// As they stand after it, with all corrections.
    attempt: Option<u32>,
    run: Option<u32>,
    unseen_ms: u64,
    frame_sha256: &'a str,
    layout: &'a Layout,
}

/// A ball at a rest, as a row. Places are in diamonds.
#[derive(Serialize)]
struct BallRow<'a> {
    rest: i64,
    at: Timestamp,
    camera: &'a str,
    attempt: Option<u32>,
    run: Option<u32>,
    kind: BallKind,
    number: Option<u8>,
    x: f64,
    y: f64,
    sigma_mm: f64,
    confidence: f64,
}

/// An attempt, as a row.
#[derive(Serialize)]
struct AttemptRow<'a> {
    camera: &'a str,
    attempt: u32,
    began: Option<Timestamp>,
    over: Option<Timestamp>,
    run: u32,
    cause: Option<Cause>,
    racks: usize,
    shots: usize,
    start_seen: bool,
    sure: bool,
    began_rest: i64,
    over_rest: Option<i64>,
}

/// An attempt, as a line: the row, and what it counts.
#[derive(Serialize)]
struct AttemptLine<'a> {
    #[serde(flatten)]
    attempt: AttemptRow<'a>,
    rack_list: &'a [RackPlayed],
    shot_list: &'a [ShotTaken],
}

/// A correction, as a line.
#[derive(Serialize)]
struct CorrectionLine<'a> {
    correction: i64,
    at: Timestamp,
    camera: &'a str,
    rest: i64,
    says: &'a Value,
}

/// A note, as a line.
#[derive(Serialize)]
struct NoteLine<'a> {
    note: i64,
    at: Timestamp,
    camera: &'a str,
    rest: i64,
    about: NoteAbout,
    /// Empty where it takes back what was written before.
    text: &'a str,
}

/// An event, as a line.
#[derive(Serialize)]
struct EventLine<'a> {
    id: i64,
    at: Timestamp,
    camera: &'a str,
    kind: &'a str,
    rest: Option<i64>,
    body: &'a Value,
}

impl<'a> AttemptRow<'a> {
    fn new(camera: &'a str, attempt: &Attempt) -> Self {
        Self {
            camera,
            attempt: attempt.id,
            began: Timestamp::from_millisecond(attempt.began_unix_ms).ok(),
            over: attempt.over.and_then(|over| Timestamp::from_millisecond(over.at_unix_ms).ok()),
            run: attempt.run,
            cause: attempt.over.map(|over| over.cause),
            racks: attempt.racks.len(),
            shots: attempt.shots.len(),
            start_seen: attempt.start_seen,
            sure: attempt.sure,
            began_rest: attempt.began_rest,
            over_rest: attempt.over.map(|over| over.rest),
        }
    }
}

/// A correction, a note or an event, as a row; what the user wrote, and what has parts of its own,
/// is JSON in a cell, so that no spreadsheet takes it for a formula.
#[derive(Serialize)]
struct SaidRow<'a> {
    id: i64,
    at: Timestamp,
    camera: &'a str,
    kind: &'a str,
    rest: Option<i64>,
    body: String,
}

impl RecordReader {
    /// Writes the record out, oldest first, as it stands at one moment.
    ///
    /// # Errors
    /// Where the record cannot be read, or nobody takes what is written.
    pub fn export(
        &self,
        of: ExportOf,
        format: ExportFormat,
        to: impl Write,
    ) -> Result<(), ExportError> {
        let mut sheet = match format {
            ExportFormat::JsonLines => Sheet::Lines(to),
            ExportFormat::Csv => Sheet::Table(Box::new(csv::Writer::from_writer(to))),
        };
        self.at_one_moment(|| match of {
            ExportOf::Rests => self.export_rests(&mut sheet),
            ExportOf::Attempts => self.export_attempts(&mut sheet),
            ExportOf::Corrections => self.export_corrections(&mut sheet),
            ExportOf::Notes => self.export_notes(&mut sheet),
            ExportOf::Events => self.export_events(&mut sheet),
        })?;
        sheet.end()
    }

    /// The names of all cameras that saw a rest.
    pub(super) fn cameras(&self) -> Result<Vec<String>, RecordError> {
        let mut statement =
            self.connection.prepare("SELECT DISTINCT camera FROM rests ORDER BY camera")?;
        let cameras = statement.query_map([], |row| row.get(0))?;
        Ok(cameras.collect::<Result<_, _>>()?)
    }

    fn export_rests<W: Write>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
        let mut cameras = HashMap::new();
        for camera in self.cameras()? {
            let said = corrections(&self.connection, &camera)?;
            cameras.insert(camera, (Follower::new(), said));
        }
        let mut statement =
            self.connection.prepare(&format!("SELECT {REST_COLUMNS} FROM rests ORDER BY id"))?;
        for row in statement.query_map([], RawRest::from_row)? {
            let row = row?;
            let (camera, frame_sha256) = (row.camera.clone(), row.picture_sha256.clone());
            let at = Timestamp::from_millisecond(row.at_unix_ms).unwrap_or_default();
            let seen = match row.into_seen() {
                Ok(seen) => seen,
                Err(error) => {
                    tracing::error!("left out of the export: {error}");
                    continue;
                }
            };
            let Some((follower, said)) = cameras.get_mut(&camera) else { continue };
            let told = follower.take(&seen, said.get(&seen.id));
            let (attempt, run) = standing(&told, follower.story());
            sheet.line(&RestLine {
                rest: seen.id,
                at,
                camera: &camera,
                attempt,
                run,
                unseen_ms: seen.unseen_ms,
                frame_sha256: &frame_sha256,
                layout: &seen.layout,
            })?;
            for ball in &seen.layout.balls {
                sheet.row(&BallRow {
                    rest: seen.id,
                    at,
                    camera: &camera,
                    attempt,
                    run,
                    kind: ball.kind,
                    number: ball.number,
                    x: ball.x,
                    y: ball.y,
                    sigma_mm: ball.sigma_mm,
                    confidence: ball.confidence,
                })?;
            }
        }
        Ok(())
    }

    fn export_attempts<W: Write>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
        for camera in self.cameras()? {
            let follower = fold(&self.connection, &camera)?.follower;
            for attempt in &follower.story().attempts {
                let row = AttemptRow::new(&camera, attempt);
                sheet.row(&row)?;
                let (racks, shots) = (&attempt.racks, &attempt.shots);
                sheet.line(&AttemptLine { attempt: row, rack_list: racks, shot_list: shots })?;
            }
        }
        Ok(())
    }

    fn export_corrections<W: Write>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
        let mut statement = self
            .connection
            .prepare(&format!("SELECT {CORRECTION_COLUMNS} FROM corrections ORDER BY id"))?;
        for row in statement.query_map([], RawCorrection::from_row)? {
            let row = row?;
            let step = row.step().map(|step| json!(step)).unwrap_or_else(|error| {
                tracing::error!("left out of the export: {error}");
                Value::Null
            });
            let at = Timestamp::from_millisecond(row.at_unix_ms).unwrap_or_default();
            sheet.line(&CorrectionLine {
                correction: row.id,
                at,
                camera: &row.camera,
                rest: row.rest_id,
                says: &step,
            })?;
            sheet.row(&SaidRow {
                id: row.id,
                at,
                camera: &row.camera,
                kind: "correction",
                rest: Some(row.rest_id),
                body: step.to_string(),
            })?;
        }
        Ok(())
    }

    fn export_notes<W: Write>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
        notes::each(&self.connection, None, |row| {
            let note = match row.into_note() {
                Ok(note) => note,
                Err(error) => {
                    tracing::error!("left out of the export: {error}");
                    return Ok(());
                }
            };
            sheet.line(&NoteLine {
                note: note.id,
                at: note.at,
                camera: &note.camera,
                rest: note.rest,
                about: note.about,
                text: &note.text,
            })?;
            sheet.row(&SaidRow {
                id: note.id,
                at: note.at,
                camera: &note.camera,
                kind: if note.about == NoteAbout::Rest { "rest" } else { "attempt" },
                rest: Some(note.rest),
                body: json!(note.text).to_string(),
            })
        })
    }

    fn export_events<W: Write>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
        let mut last = 0;
        loop {
            let events = events_after(&self.connection, last, PAGE)?;
            let Some(newest) = events.last() else { return Ok(()) };
            last = newest.id;
            for event in &events {
                let rest = event.rest.as_ref().map(|rest| rest.id);
                sheet.line(&EventLine {
                    id: event.id,
                    at: event.at,
                    camera: &event.camera,
                    kind: &event.kind,
                    rest,
                    body: &event.body,
                })?;
                sheet.row(&SaidRow {
                    id: event.id,
                    at: event.at,
                    camera: &event.camera,
                    kind: &event.kind,
                    rest,
                    body: event.body.to_string(),
                })?;
            }
        }
    }
}

/// The attempt and the run that a rest leaves the player with.
fn standing(told: &[ScoreEvent], story: &Story) -> (Option<u32>, Option<u32>) {
    let rest = told.iter().find_map(|event| match event {
        ScoreEvent::Rest { attempt, run, .. } => Some((*attempt, *run)),
        _ => None,
    });
    let on = story.going_on();
    rest.unwrap_or((on.map(|attempt| attempt.id), on.map(|attempt| attempt.run)))
}
