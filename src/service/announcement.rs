//! What is passed on of an event: one JSON document, the same for those who follow and for
//! listeners.
//!
//! The document has the form that the Standard Webhooks specification recommends: `type`,
//! `timestamp` and `data`, and besides the event's id and camera. Knows the record's events and the
//! score's; nothing of connections.

use super::Health;
use crate::{
    layout::Layout,
    record::{Event, REST_KIND},
    score::Step,
};
use axum::body::Bytes;
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use thiserror::Error;

/// The kind of event that tells of a camera's health.
pub(super) const HEALTH_KIND: &str = "camera_health";

/// The kind of event that tells a follower that events are missing. It is in no record.
pub(super) const GAP_KIND: &str = "gap";

/// An event as it is passed on.
#[derive(Debug, Serialize)]
struct Announcement<'a, T> {
    id: i64,
    #[serde(rename = "type")]
    kind: &'a str,
    timestamp: Timestamp,
    camera: &'a str,
    data: T,
}

/// What an event of kind `rest` says: the table lay still.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct RestData {
    /// The rest's number; `/api/layouts/{rest}` has it again, with its picture beside it.
    pub(super) rest: i64,
    /// The attempt that it belongs to, if any; an attempt that ends with this rest is still named.
    pub(super) attempt: Option<u32>,
    /// The attempt's run after this rest.
    pub(super) run: Option<u32>,
    /// What lay between the rest before and this one; none for rests from before the score was
    /// kept.
    pub(super) step: Option<Step>,
    pub(super) layout: Layout,
    /// SHA-256 of the frame as it was sent, in hexadecimal.
    pub(super) frame_sha256: String,
}

/// What an event of kind `camera_health` says: a camera's frames can be relied on, or cannot.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct HealthData {
    /// Where the camera's frames come from.
    pub(super) source: String,
    pub(super) health: Health,
    /// The health in words.
    pub(super) words: String,
}

/// What an event `gap` says: some events are not to be had.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct GapData {
    /// The last id that the follower had.
    pub(super) after: i64,
    /// The first id behind it, the next to come where there is none yet.
    pub(super) next: i64,
    /// Why, in words.
    pub(super) why: String,
}

/// Why an event cannot be passed on.
#[derive(Debug, Error)]
#[error("event {id} cannot be passed on: {why}. Run `stillcloth check` on the data folder")]
pub(super) struct Unreadable {
    id: i64,
    why: String,
}

/// The score's part of a rest's body; nothing of it where the rest is older than the score.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Told {
    attempt: Option<u32>,
    run: Option<u32>,
    step: Option<Step>,
}

/// An event's document.
///
/// # Errors
/// Where the event's row, or the rest's that it tells of, is damaged.
pub(super) fn document(event: &Event) -> Result<Bytes, Unreadable> {
    let unreadable = |why: &str| Unreadable { id: event.id, why: why.into() };
    let Value::Object(mut body) = event.body.clone() else {
        return Err(unreadable("its body is none"));
    };
    // The kind stands in `type`.
    body.remove("event");
    let data = if event.kind == REST_KIND {
        let rest = event.rest.as_ref().ok_or_else(|| unreadable("its rest is damaged"))?;
        let told: Told = serde_json::from_value(Value::Object(body))
            .map_err(|error| unreadable(&error.to_string()))?;
        serde_json::to_value(RestData {
            rest: rest.id,
            attempt: told.attempt,
            run: told.run,
            step: told.step,
            layout: rest.layout.clone(),
            frame_sha256: rest.picture_sha256.clone(),
        })
        .map_err(|error| unreadable(&error.to_string()))?
    } else {
        Value::Object(body)
    };
    let announcement = Announcement {
        id: event.id,
        kind: &event.kind,
        timestamp: event.at,
        camera: &event.camera,
        data,
    };
    let json = serde_json::to_vec(&announcement).map_err(|error| unreadable(&error.to_string()))?;
    Ok(json.into())
}
