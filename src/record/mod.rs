//! The record: every rest, kept for good before anything else hears of it.
//!
//! A data folder holds `record.sqlite3` and `pictures/`, files named by their SHA-256. One thread
//! owns both and works off a bounded channel; [`Record`] is the handle to it. Rows are only ever
//! added, a rest's picture is on disk before its row, and the row is on disk before its id is
//! announced. SQL stays inside this module and keeps to what SQLite and PostgreSQL share.
//!
//! On `layout`. Knows nothing of frames' contents, of HTTP or of who listens.

mod check;
mod handle;
mod migrations;
mod pictures;
mod rest;
mod store;

pub use check::{CheckReport, Problem};
pub use handle::Record;
pub use rest::{NewRest, Rest, RestQuery};

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
    #[error(
        "the record is of version {found}, this program knows up to {known}. Use a newer program"
    )]
    TooNew { found: i64, known: i64 },
    #[error("the record's database refused: {0}")]
    Database(#[from] rusqlite::Error),
    #[error("cannot keep the picture {path}: {source}")]
    Picture { path: PathBuf, source: std::io::Error },
    #[error("rest {id} cannot be read back: {why}. Run `stillcloth check` on the data folder")]
    Damaged { id: i64, why: String },
    #[error("a layout could not be written as JSON: {0}")]
    Layout(serde_json::Error),
    #[error("the record has been closed")]
    Closed,
}
