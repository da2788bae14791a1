//! The record for other programs: JSON Lines (<https://jsonlines.org>), CSV (RFC 4180), or Parquet.

mod columns;
mod rows;

use super::{
    NoteAbout, RecordError, RecordReader,
    event::events_after,
    followers::{self, Score, corrections, fold},
    notes,
    reading::each_rest,
    rows::{CORRECTION_COLUMNS, REST_COLUMNS, RawCorrection},
};
use crate::score::{Follower, ScoreEvent, Story};
use columns::Columns;
use jiff::Timestamp;
use rows::{
    AttemptLine, AttemptRow, BallRow, CorrectionLine, EventLine, NoteLine, RestLine, SaidRow,
    each_shot,
};
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
    /// Each shot with what its rests tell of it.
    Shots,
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
    /// Of rests, attempts and shots; its columns are in `docs/parquet.md`.
    Parquet,
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
    #[error("cannot write columns of the export: {0}")]
    Columns(#[from] parquet::errors::ParquetError),
    #[error("Parquet is written of rests, shots and attempts: give another format")]
    NoColumns,
}

impl From<rusqlite::Error> for ExportError {
    fn from(error: rusqlite::Error) -> Self {
        Self::Record(error.into())
    }
}

/// Events read in one go.
const PAGE: u32 = 500;

/// Where rows go.
enum Sheet<W: Write + Send> {
    Lines(W),
    Table(Box<csv::Writer<W>>),
    Columns(Box<Columns<W>>),
}

impl<W: Write + Send> Sheet<W> {
    fn begin(of: ExportOf, format: ExportFormat, to: W) -> Result<Self, ExportError> {
        Ok(match format {
            ExportFormat::JsonLines => Self::Lines(to),
            ExportFormat::Csv => Self::Table(Box::new(csv::Writer::from_writer(to))),
            ExportFormat::Parquet => {
                let schema = match of {
                    ExportOf::Rests => columns::RESTS,
                    ExportOf::Attempts => columns::ATTEMPTS,
                    ExportOf::Shots => columns::SHOTS,
                    ExportOf::Corrections | ExportOf::Notes | ExportOf::Events => {
                        return Err(ExportError::NoColumns);
                    }
                };
                Self::Columns(Box::new(Columns::begin(schema, to)?))
            }
        })
    }

    /// In Parquet, a row.
    fn columns(
        &mut self,
        write: impl FnOnce(&mut Columns<W>) -> Result<(), ExportError>,
    ) -> Result<(), ExportError> {
        if let Self::Columns(to) = self { write(to) } else { Ok(()) }
    }

    fn line(&mut self, line: &impl Serialize) -> Result<(), ExportError> {
        if let Self::Lines(to) = self {
            serde_json::to_writer(&mut *to, line).map_err(io::Error::from)?;
            to.write_all(b"\n")?;
        }
        Ok(())
    }

    /// A rest, as a line that ends in its layout as it is kept.
    fn rest_line(&mut self, line: &RestLine, kept: &str) -> Result<(), ExportError> {
        if let Self::Lines(to) = self {
            let head = serde_json::to_string(line).map_err(io::Error::from)?;
            to.write_all(head.strip_suffix('}').unwrap_or(&head).as_bytes())?;
            to.write_all(b",\"layout\":")?;
            // What this program keeps has no line breaks; a record can be changed from outside. A search
            // that may stop early takes several times as long.
            if kept.bytes().fold(false, |breaks, byte| breaks | (byte == b'\n')) {
                serde_json::to_writer(&mut *to, line.layout).map_err(io::Error::from)?;
            } else {
                to.write_all(kept.as_bytes())?;
            }
            to.write_all(b"}\n")?;
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
            Self::Columns(to) => to.end(),
        }
    }
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
        to: impl Write + Send,
    ) -> Result<(), ExportError> {
        let mut sheet = Sheet::begin(of, format, to)?;
        self.at_one_moment(|| match of {
            ExportOf::Rests => self.export_rests(&mut sheet),
            ExportOf::Attempts => self.export_attempts(&mut sheet),
            ExportOf::Shots => self.export_shots(&mut sheet),
            ExportOf::Corrections => self.export_corrections(&mut sheet),
            ExportOf::Notes => self.export_notes(&mut sheet),
            ExportOf::Events => self.export_events(&mut sheet),
        })?;
        sheet.end()
    }

    /// The names of all cameras that saw a rest.
    pub(super) fn cameras(&self) -> Result<Vec<String>, RecordError> {
        followers::cameras(&self.connection)
    }

    fn export_rests<W: Write + Send>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
        let mut cameras = HashMap::new();
        for camera in self.cameras()? {
            let said = corrections(&self.connection, &camera)?;
            cameras.insert(camera, (Follower::new(), said));
        }
        let mut statement =
            self.connection.prepare(&format!("SELECT {REST_COLUMNS} FROM rests ORDER BY id"))?;
        each_rest(&mut statement.query([])?, |(row, seen)| {
            let seen = match seen {
                Ok(seen) => seen,
                Err(error) => {
                    tracing::error!("left out of the export: {error}");
                    return Ok(());
                }
            };
            let Some((follower, said)) = cameras.get_mut(&row.camera) else { return Ok(()) };
            let told = follower.take(seen, said.get(&seen.id));
            let (attempt, run) = standing(&told, follower.story());
            let line = RestLine {
                rest: seen.id,
                at: Timestamp::from_millisecond(row.at_unix_ms).unwrap_or_default(),
                camera: &row.camera,
                attempt,
                run,
                unseen_ms: seen.unseen_ms,
                frame_sha256: &row.picture_sha256,
                layout: &seen.layout,
            };
            sheet.rest_line(&line, &row.layout_json)?;
            sheet.columns(|to| to.rest(&line))?;
            seen.layout.balls.iter().try_for_each(|ball| {
                sheet.row(&BallRow {
                    rest: line.rest,
                    at: line.at,
                    camera: line.camera,
                    attempt,
                    run,
                    kind: ball.kind,
                    number: ball.number,
                    x: ball.x,
                    y: ball.y,
                    sigma_mm: ball.sigma_mm,
                    confidence: ball.confidence,
                })
            })
        })
    }

    fn export_attempts<W: Write + Send>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
        for camera in self.cameras()? {
            let follower = fold(&self.connection, &camera)?.follower;
            for attempt in &follower.story().attempts {
                let row = AttemptRow::new(&camera, attempt);
                sheet.row(&row)?;
                sheet.columns(|to| to.attempt(&row))?;
                let (racks, shots) = (&attempt.racks, &attempt.shots);
                sheet.line(&AttemptLine { attempt: row, rack_list: racks, shot_list: shots })?;
            }
        }
        Ok(())
    }

    fn export_shots<W: Write + Send>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
        for camera in self.cameras()? {
            let Score { follower, log, .. } = fold(&self.connection, &camera)?;
            let mut times = self
                .connection
                .prepare("SELECT id, at_unix_ms FROM rests WHERE camera = $1 ORDER BY id")?;
            let mut times = times.query([&camera])?;
            let mut last = (0_i64, 0_i64);
            each_shot(&camera, (follower.story(), &log), |mut row| {
                while last.0 < row.rest
                    && let Some(next) = times.next()?
                {
                    last = (next.get(0)?, next.get(1)?);
                }
                let (rest, at_unix_ms) = last;
                let at = Timestamp::from_millisecond(at_unix_ms).ok();
                row.at = at.filter(|_| rest == row.rest);
                sheet.line(&row)?;
                sheet.row(&row)?;
                sheet.columns(|to| to.shot(&row))
            })?;
        }
        Ok(())
    }

    fn export_corrections<W: Write + Send>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
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

    fn export_notes<W: Write + Send>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
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

    fn export_events<W: Write + Send>(&self, sheet: &mut Sheet<W>) -> Result<(), ExportError> {
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
