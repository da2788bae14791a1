//! Rows as they stand in the database, with the hashes that tell whether they were changed.

use super::{RecordError, Rest};
use crate::{
    camera::picture::PictureFormat,
    digest::sha256,
    layout::Layout,
    score::{RestSeen, Step},
};
use jiff::Timestamp;
use rusqlite::{Connection, Row, params};

/// The columns of `rests`, in the order in which [`RawRest::from_row`] takes them.
pub(super) const REST_COLUMNS: &str = "id, at_unix_ms, unseen_ms, camera, layout_json, \
     picture_sha256, picture_type, row_sha256";

/// The columns of `corrections`, in the order in which [`RawCorrection::from_row`] takes them.
pub(super) const CORRECTION_COLUMNS: &str =
    "id, at_unix_ms, camera, rest_id, step_json, row_sha256";

/// A rest's row.
#[derive(Debug)]
pub(super) struct RawRest {
    pub(super) id: i64,
    pub(super) at_unix_ms: i64,
    pub(super) unseen_ms: i64,
    pub(super) camera: String,
    pub(super) layout_json: String,
    pub(super) picture_sha256: String,
    pub(super) picture_type: String,
    pub(super) row_sha256: String,
}

/// A correction's row.
#[derive(Debug)]
pub(super) struct RawCorrection {
    pub(super) id: i64,
    pub(super) at_unix_ms: i64,
    pub(super) camera: String,
    pub(super) rest_id: i64,
    pub(super) step_json: Option<String>,
    pub(super) row_sha256: String,
}

/// Bytes to hash; texts are preceded by their length, so that none runs into the next.
#[derive(Default, Clone)]
pub(super) struct Content(Vec<u8>);

impl Content {
    pub(super) fn number(mut self, number: i64) -> Self {
        self.0.extend(number.to_be_bytes());
        self
    }

    pub(super) fn text(mut self, text: &str) -> Self {
        self.0.extend((text.len() as u64).to_be_bytes());
        self.0.extend(text.as_bytes());
        self
    }

    pub(super) fn sha256(&self) -> String {
        sha256(&self.0)
    }
}

impl RawRest {
    pub(super) fn from_row(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: row.get(0)?,
            at_unix_ms: row.get(1)?,
            unseen_ms: row.get(2)?,
            camera: row.get(3)?,
            layout_json: row.get(4)?,
            picture_sha256: row.get(5)?,
            picture_type: row.get(6)?,
            row_sha256: row.get(7)?,
        })
    }

    pub(super) fn insert(&mut self, connection: &Connection) -> rusqlite::Result<()> {
        self.row_sha256 = self.content().number(self.unseen_ms).sha256();
        connection
            .prepare_cached(&format!(
                "INSERT INTO rests ({REST_COLUMNS}) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)"
            ))?
            .execute(params![
                self.id,
                self.at_unix_ms,
                self.unseen_ms,
                self.camera,
                self.layout_json,
                self.picture_sha256,
                self.picture_type,
                self.row_sha256
            ])?;
        Ok(())
    }

    fn content(&self) -> Content {
        Content::default()
            .number(self.id)
            .number(self.at_unix_ms)
            .text(&self.camera)
            .text(&self.layout_json)
            .text(&self.picture_sha256)
            .text(&self.picture_type)
    }

    /// Whether no column has changed since the row was written.
    pub(super) fn is_as_written(&self) -> bool {
        let content = self.content();
        // Rows of the record's first version were hashed before there was `unseen_ms`.
        let of_version_1 = self.unseen_ms == 0 && content.sha256() == self.row_sha256;
        of_version_1 || content.number(self.unseen_ms).sha256() == self.row_sha256
    }

    pub(super) fn layout(&self) -> Result<Layout, RecordError> {
        serde_json::from_str(&self.layout_json).map_err(|error| RecordError::Damaged {
            what: "rest",
            id: self.id,
            why: format!("its layout is none: {error}"),
        })
    }

    pub(super) fn into_rest(self) -> Result<Rest, RecordError> {
        let layout = self.layout()?;
        self.into_rest_with(layout)
    }

    /// The rest as the score sees it.
    pub(super) fn parsed(&self) -> Result<RestSeen, RecordError> {
        Ok(self.seen(self.layout()?))
    }

    /// The same, where the layout is at hand.
    pub(super) fn seen(&self, layout: Layout) -> RestSeen {
        RestSeen {
            id: self.id,
            at_unix_ms: self.at_unix_ms,
            unseen_ms: self.unseen_ms.unsigned_abs(),
            layout,
        }
    }

    /// The rest, where the layout is at hand.
    pub(super) fn into_rest_with(self, layout: Layout) -> Result<Rest, RecordError> {
        let id = self.id;
        let damaged = |why: String| RecordError::Damaged { what: "rest", id, why };
        Ok(Rest {
            id,
            at: Timestamp::from_millisecond(self.at_unix_ms)
                .map_err(|error| damaged(format!("its time is none: {error}")))?,
            unseen_ms: self.unseen_ms.unsigned_abs(),
            layout,
            format: PictureFormat::from_media_type(&self.picture_type)
                .ok_or_else(|| damaged(format!("its picture is of type {}", self.picture_type)))?,
            camera: self.camera,
            picture_sha256: self.picture_sha256,
        })
    }
}

impl RawCorrection {
    pub(super) fn from_row(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: row.get(0)?,
            at_unix_ms: row.get(1)?,
            camera: row.get(2)?,
            rest_id: row.get(3)?,
            step_json: row.get(4)?,
            row_sha256: row.get(5)?,
        })
    }

    pub(super) fn insert(&mut self, connection: &Connection) -> rusqlite::Result<()> {
        self.row_sha256 = self.content_sha256();
        connection
            .prepare_cached(&format!(
                "INSERT INTO corrections ({CORRECTION_COLUMNS}) VALUES ($1, $2, $3, $4, $5, $6)"
            ))?
            .execute(params![
                self.id,
                self.at_unix_ms,
                self.camera,
                self.rest_id,
                self.step_json,
                self.row_sha256
            ])?;
        Ok(())
    }

    fn content_sha256(&self) -> String {
        let content = Content::default()
            .number(self.id)
            .number(self.at_unix_ms)
            .text(&self.camera)
            .number(self.rest_id);
        match &self.step_json {
            Some(step) => content.text(step).sha256(),
            None => content.sha256(),
        }
    }

    /// Whether no column has changed since the row was written.
    pub(super) fn is_as_written(&self) -> bool {
        self.content_sha256() == self.row_sha256
    }

    /// What it says the step into its rest was.
    pub(super) fn step(&self) -> Result<Option<Step>, RecordError> {
        self.step_json.as_deref().map(serde_json::from_str).transpose().map_err(|error| {
            RecordError::Damaged {
                what: "correction",
                id: self.id,
                why: format!("its step is none: {error}"),
            }
        })
    }
}
