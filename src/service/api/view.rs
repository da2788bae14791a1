//! A kept rest as clients see it.

use super::published::layout;
use crate::{layout::Layout, record::Rest};
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

/// A rest: where every ball lay, when, and under which camera.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RestView {
    /// Grows by one with each rest, over all cameras.
    pub id: i64,
    /// When the frame was taken, UTC.
    #[schema(value_type = String, format = DateTime)]
    pub at: Timestamp,
    /// The camera's name.
    pub camera: String,
    #[schema(schema_with = layout)]
    pub layout: Layout,
    /// SHA-256 of the frame as it was sent, in hexadecimal.
    pub frame_sha256: String,
}

impl From<Rest> for RestView {
    fn from(rest: Rest) -> Self {
        Self {
            id: rest.id,
            at: rest.at,
            camera: rest.camera,
            layout: rest.layout,
            frame_sha256: rest.picture_sha256,
        }
    }
}
