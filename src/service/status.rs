//! How each camera is doing, in words for people and in a form for programs.

use super::CameraName;
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::Serialize;
use std::{
    collections::BTreeMap,
    sync::{Arc, Mutex, MutexGuard, PoisonError},
};
use tokio::sync::watch;
use utoipa::ToSchema;

/// What a camera's last frame came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CameraState {
    /// No frame has come yet.
    Waiting,
    /// The table is in view and read.
    Reading,
    /// Something is over the cloth.
    Obstructed,
    /// The last frame shows no whole table, or is no picture.
    Unreadable,
    /// The folder or film has come to its end.
    Ended,
    /// The program cannot go on with this camera.
    Failed,
}

/// How a camera is doing.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CameraStatus {
    #[schema(value_type = String)]
    pub name: CameraName,
    /// Where its frames come from: `demo`, `folder`, `video`, or `posted`.
    pub source: &'static str,
    pub state: CameraState,
    /// The state in words.
    pub words: String,
    #[schema(value_type = Option<String>, format = DateTime)]
    pub last_frame_at: Option<Timestamp>,
    #[schema(value_type = Option<String>, format = DateTime)]
    pub last_rest_at: Option<Timestamp>,
    /// A last rest older than this is stale.
    pub stale_after_s: u64,
}

/// The time, to the millisecond that is kept of it.
pub(super) fn now() -> Timestamp {
    let now = Timestamp::now();
    Timestamp::from_millisecond(now.as_millisecond()).unwrap_or(now)
}

/// The state of all cameras, kept in one place.
#[derive(Debug, Clone)]
pub struct StatusBoard {
    cameras: Arc<Mutex<BTreeMap<CameraName, CameraStatus>>>,
    changes: watch::Sender<u64>,
}

impl Default for StatusBoard {
    fn default() -> Self {
        Self { cameras: Arc::default(), changes: watch::Sender::new(0) }
    }
}

impl StatusBoard {
    fn locked(&self) -> MutexGuard<'_, BTreeMap<CameraName, CameraStatus>> {
        // A panic elsewhere leaves a status behind, not half of one.
        self.cameras.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts a new camera on the board.
    pub fn add(&self, name: &CameraName, source: &'static str, stale_after_s: u64) {
        let status = CameraStatus {
            name: name.clone(),
            source,
            state: CameraState::Waiting,
            words: "Waiting for its first frame.".into(),
            last_frame_at: None,
            last_rest_at: None,
            stale_after_s,
        };
        self.locked().insert(name.clone(), status);
        self.announce();
    }

    /// Takes a camera off the board.
    pub fn remove(&self, name: &CameraName) {
        self.locked().remove(name);
        self.announce();
    }

    /// Notes what a camera is doing; listeners hear of it only when state or words change.
    pub fn note(&self, name: &CameraName, state: CameraState, words: &str) {
        if let Some(status) = self.locked().get_mut(name)
            && (status.state != state || status.words != words)
        {
            status.state = state;
            status.words = words.into();
            self.announce();
        }
    }

    /// Notes when a camera's last frame came.
    pub fn note_frame(&self, name: &CameraName, at: Timestamp) {
        if let Some(status) = self.locked().get_mut(name) {
            status.last_frame_at = Some(at);
        }
    }

    /// Notes when a camera's last rest was kept.
    pub fn note_rest(&self, name: &CameraName, at: Timestamp) {
        if let Some(status) = self.locked().get_mut(name) {
            status.last_rest_at = Some(at);
        }
    }

    /// All cameras, in the order of their names.
    pub fn all(&self) -> Vec<CameraStatus> {
        self.locked().values().cloned().collect()
    }

    /// Tells when a camera's state changes.
    pub fn changes(&self) -> watch::Receiver<u64> {
        self.changes.subscribe()
    }

    fn announce(&self) {
        self.changes.send_modify(|count| *count = count.wrapping_add(1));
    }
}
