//! Rows as they stand in the database, with the hashes that tell whether they were changed.

use super::{
    RecordError, Rest,
    kept_row::{Content, kept_row},
};
use crate::{
    camera::picture::PictureFormat,
    layout::Layout,
    score::{RestSeen, Step},
};
use jiff::Timestamp;

pub(super) const REST_COLUMNS: &str = RawRest::COLUMNS;
pub(super) const CORRECTION_COLUMNS: &str = RawCorrection::COLUMNS;

kept_row! {
    /// A rest's row.
    RawRest in "rests" {
        id: i64,
        at_unix_ms: i64,
        unseen_ms: i64,
        camera: String,
        layout_json: String,
        picture_sha256: String,
        picture_type: String,
    } hashed |row| row.content_of_version_1().number(row.unseen_ms)
}

kept_row! {
    /// A correction's row.
    RawCorrection in "corrections" {
        id: i64,
        at_unix_ms: i64,
        camera: String,
        rest_id: i64,
        step_json: Option<String>,
    }
}

impl RawRest {
    fn content_of_version_1(&self) -> Content {
        Content::default()
            .number(self.id)
            .number(self.at_unix_ms)
            .text(&self.camera)
            .text(&self.layout_json)
            .text(&self.picture_sha256)
            .text(&self.picture_type)
    }

    /// Whether no column has changed since the row was written, in whichever version.
    pub(super) fn is_unchanged(&self) -> bool {
        // Rows of the record's first version were hashed before there was `unseen_ms`.
        let of_version_1 =
            self.unseen_ms == 0 && self.content_of_version_1().sha256() == self.row_sha256;
        of_version_1 || self.is_as_written()
    }

    pub(super) fn layout(&self) -> Result<Layout, RecordError> {
        serde_json::from_str(&self.layout_json).map_err(|error| {
            RecordError::damaged("rest", self.id, format!("its layout is none: {error}"))
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
        let damaged = |why: String| RecordError::damaged("rest", id, why);
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
    /// What it says the step into its rest was.
    pub(super) fn step(&self) -> Result<Option<Step>, RecordError> {
        self.step_json.as_deref().map(serde_json::from_str).transpose().map_err(|error| {
            RecordError::damaged("correction", self.id, format!("its step is none: {error}"))
        })
    }
}
