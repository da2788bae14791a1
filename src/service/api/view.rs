//! A kept rest as clients see it.

use crate::{layout::Layout, record::Rest};
use jiff::Timestamp;
use serde::Serialize;
use utoipa::{
    ToSchema,
    openapi::{Ref, RefOr, Schema},
};

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
    #[schema(schema_with = published_layout)]
    pub layout: Layout,
    /// SHA-256 of the frame as it was sent, in hexadecimal.
    pub frame_sha256: String,
}

/// The layout's schema is published with the layout itself; here it is only pointed at.
fn published_layout() -> RefOr<Schema> {
    RefOr::Ref(Ref::from_schema_name("Layout"))
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
