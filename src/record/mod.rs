//! The record: every rest, kept for good before anything else hears of it.
//!
//! A data folder holds `record.sqlite3`, `pictures/`, files named by their SHA-256, and
//! `record.lock`, which the one process holds that writes. One thread owns all of it and works off
//! a bounded channel; [`Record`] is the handle to it. Rests, corrections, notes and events are only
//! ever added; a rest, the events it causes and who is to be told are one transaction, and its events
//! are announced once that is on disk. The score is folded from what is on disk. Whoever only reads
//! does so beside the running service. SQL stays inside this module and keeps to what SQLite and
//! PostgreSQL share.
//!
//! On `score` and `layout`, on `study` for what is noted of each rest beside the score, and on
//! `contest`. Knows nothing of frames' contents, of HTTP or of how listeners are
//! reached.

mod backup;
mod beside;
mod check;
mod contests;
mod disk;
mod event;
mod export;
mod followers;
mod hand_kept;
mod handle;
mod keeping;
mod kept_row;
mod lock;
mod merge;
mod migrations;
mod notes;
mod outbox;
mod pictures;
mod player_key;
mod practising;
mod reader;
mod reading;
mod rest;
mod retention;
mod rows;
mod store;

pub use backup::{BackupError, BackupReport};
pub use beside::picture_fault;
pub use check::{CheckReport, Problem};
pub use contests::{Contest, EntryTaken};
pub use event::{Event, Note, REST_KIND};
pub use export::{ExportError, ExportFormat, ExportOf};
pub use hand_kept::{HandKept, ListTaken, take_hand_kept};
pub use handle::Record;
pub use keeping::{Corrected, Kept};
pub use merge::{MergeError, MergeReport, merge};
pub use notes::{NewNote, NoteAbout, UserNote};
pub use outbox::{Delivery, DeliveryCounts, DeliveryOutcome, Due, KnownListener, ListenerSetting};
pub use player_key::{PlayerKeyError, player_key};
pub use practising::{PRACTICE_KIND, Practice, PracticeData};
pub use reader::{AttemptRests, RecordReader, Studied};
pub use rest::{NewRest, Picture, Rest, RestQuery};
pub use retention::Retention;

use std::path::PathBuf;
use thiserror::Error;

/// Why the record could not be opened, read or added to.
#[derive(Debug, Error)]
pub enum RecordError {
    #[error("cannot use the data folder {path}: {source}. Give a folder that can be written to")]
    Folder { path: PathBuf, source: std::io::Error },
    #[error(
        "the record in {path} is in use by another process. Stop it first, or give another data folder"
    )]
    InUse { path: PathBuf },
    #[error("there is no record in {path}. Give the data folder of a service with --data")]
    NoRecord { path: PathBuf },
    #[error(
        "the record is of version {found}, this program knows up to {known}. Use a newer program"
    )]
    TooNew { found: i64, known: i64 },
    #[error("the record's database refused: {0}")]
    Database(#[from] rusqlite::Error),
    #[error(
        "the disk of {path} is full ({free_bytes} bytes are free): nothing more is kept. Delete \
         something, or set pictures.max_gb so that old pictures are deleted"
    )]
    DiskFull { path: PathBuf, free_bytes: u64 },
    #[error(
        "the disk of {path} refuses: {source}. What was announced is kept, nothing more is. See \
         whether it is mounted read-only or failing"
    )]
    Disk { path: PathBuf, source: rusqlite::Error },
    #[error("there is no rest {id}")]
    NoSuchRest { id: i64 },
    #[error("there is no contest {id}")]
    NoSuchContest { id: i64 },
    #[error("contest {contest} has no entry {id}")]
    NoSuchEntry { id: i64, contest: i64 },
    #[error(
        "somebody else said something else of rest {id} meanwhile, and that counts now. Look at what \
         stands there, and say yours again if it should count instead"
    )]
    SaidMeanwhile { id: i64 },
    #[error(
        "somebody else has written here meanwhile, and that stands now. Copy your text, load the page \
         again, and write what should stand of both"
    )]
    NotedMeanwhile,
    #[error("{what} {id} cannot be read back: {why}. Run `stillcloth check` on the data folder")]
    Damaged { what: &'static str, id: i64, why: String },
    #[error("something could not be written as JSON: {0}")]
    Json(serde_json::Error),
    #[error("the record has been closed")]
    Closed,
}

impl RecordError {
    /// What happened, for all who look on: it does not say where on this computer the record lies.
    pub fn without_place(&self) -> String {
        let words = self.to_string();
        match self {
            Self::Folder { path, .. }
            | Self::InUse { path }
            | Self::NoRecord { path }
            | Self::DiskFull { path, .. }
            | Self::Disk { path, .. } => words.replace(&path.display().to_string(), "the record"),
            _ => words,
        }
    }
}

#[cfg(test)]
mod tests;
