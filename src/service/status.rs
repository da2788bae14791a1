//! How each camera is doing, in words for people and in a form for programs.
//!
//! Two things are told apart: the *state* is what the last frame came to, the *health* whether
//! there are frames to go by at all. While there are none, words and state are the health's: what
//! was seen last is not told as if it were so now.

use super::{CameraName, Health};
use jiff::Timestamp;
use serde::Serialize;
use std::{
    collections::BTreeMap,
    sync::{
        Arc, Mutex, MutexGuard, PoisonError,
        atomic::{AtomicI64, AtomicU64, Ordering},
    },
    time::{Duration, Instant},
};
use tokio::sync::watch;
use utoipa::ToSchema;

/// What a camera's last frame came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CameraState {
    /// No frame to go by: none has come yet, or the last is too old.
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
    /// Where its frames come from: `demo`, `folder`, `video`, `webcam`, `mjpeg`, `network`,
    /// `pushed`, or `posted`.
    pub source: &'static str,
    pub state: CameraState,
    /// State or health in words.
    pub words: String,
    pub health: Health,
    /// Since when it has this health.
    #[schema(value_type = String, format = DateTime)]
    pub health_since: Timestamp,
    #[schema(value_type = Option<String>, format = DateTime)]
    pub last_frame_at: Option<Timestamp>,
    /// The last frame's age, whatever the wall clock did meanwhile.
    pub last_frame_age_ms: Option<u64>,
    /// Frames that came.
    pub frames: u64,
    /// Frames put forward to be looked at in whose place a newer one was looked at.
    pub dropped: u64,
    /// Frames that could not be decoded.
    pub undecodable: u64,
    /// Attempts after the first.
    pub reconnects: u64,
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

/// What is counted of one camera's frames, by threads that must not wait for each other.
#[derive(Debug)]
pub(super) struct Figures {
    began: Instant,
    frames: AtomicU64,
    dropped: AtomicU64,
    undecodable: AtomicU64,
    reconnects: AtomicU64,
    /// Since `began`; of use where `frames` is not 0.
    last_frame_ms: AtomicU64,
    last_frame_utc_ms: AtomicI64,
}

impl Default for Figures {
    fn default() -> Self {
        Self {
            began: Instant::now(),
            frames: AtomicU64::new(0),
            dropped: AtomicU64::new(0),
            undecodable: AtomicU64::new(0),
            reconnects: AtomicU64::new(0),
            last_frame_ms: AtomicU64::new(0),
            last_frame_utc_ms: AtomicI64::new(0),
        }
    }
}

fn whole_ms(time: Duration) -> u64 {
    u64::try_from(time.as_millis()).unwrap_or(u64::MAX)
}

impl Figures {
    pub(super) fn note_frame(&self, utc: Timestamp) {
        self.last_frame_ms.store(whole_ms(self.began.elapsed()), Ordering::Relaxed);
        self.last_frame_utc_ms.store(utc.as_millisecond(), Ordering::Relaxed);
        self.frames.fetch_add(1, Ordering::Release);
    }

    pub(super) fn note_dropped(&self) {
        self.dropped.fetch_add(1, Ordering::Relaxed);
    }

    pub(super) fn note_undecodable(&self) {
        self.undecodable.fetch_add(1, Ordering::Relaxed);
    }

    pub(super) fn note_reconnect(&self) {
        self.reconnects.fetch_add(1, Ordering::Relaxed);
    }

    /// Writes the figures into a status.
    fn fill(&self, status: &mut CameraStatus) {
        status.frames = self.frames.load(Ordering::Acquire);
        status.dropped = self.dropped.load(Ordering::Relaxed);
        status.undecodable = self.undecodable.load(Ordering::Relaxed);
        status.reconnects = self.reconnects.load(Ordering::Relaxed);
        if status.frames > 0 {
            let age_ms = whole_ms(self.began.elapsed())
                .saturating_sub(self.last_frame_ms.load(Ordering::Relaxed));
            status.last_frame_age_ms = Some(age_ms);
            let utc_ms = self.last_frame_utc_ms.load(Ordering::Relaxed);
            status.last_frame_at = Timestamp::from_millisecond(utc_ms).ok();
        }
    }
}

/// A camera on the board.
#[derive(Debug)]
struct Entry {
    status: CameraStatus,
    figures: Arc<Figures>,
}

/// The state of all cameras, kept in one place.
#[derive(Debug, Clone)]
pub struct StatusBoard {
    cameras: Arc<Mutex<BTreeMap<CameraName, Entry>>>,
    changes: watch::Sender<u64>,
}

impl Default for StatusBoard {
    fn default() -> Self {
        Self { cameras: Arc::default(), changes: watch::Sender::new(0) }
    }
}

impl StatusBoard {
    fn locked(&self) -> MutexGuard<'_, BTreeMap<CameraName, Entry>> {
        // A panic elsewhere leaves a status behind, not half of one.
        self.cameras.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts a new camera on the board; its figures are for those who count.
    pub(super) fn add(
        &self,
        name: &CameraName,
        source: &'static str,
        stale_after_s: u64,
    ) -> Arc<Figures> {
        let status = CameraStatus {
            name: name.clone(),
            source,
            state: CameraState::Waiting,
            words: "Waiting for its first frame.".into(),
            health: Health::Starting,
            health_since: now(),
            last_frame_at: None,
            last_frame_age_ms: None,
            frames: 0,
            dropped: 0,
            undecodable: 0,
            reconnects: 0,
            last_rest_at: None,
            stale_after_s,
        };
        let figures = Arc::default();
        let entry = Entry { status, figures: Arc::clone(&figures) };
        self.locked().insert(name.clone(), entry);
        self.announce();
        figures
    }

    /// Takes a camera off the board.
    pub fn remove(&self, name: &CameraName) {
        self.locked().remove(name);
        self.announce();
    }

    /// Notes what a camera's last frame came to; listeners hear of it only when state or words
    /// change.
    pub fn note(&self, name: &CameraName, state: CameraState, words: &str) {
        self.change(name, |status| {
            // A look that was begun before the camera was lost does not bring it back; one at the
            // first frame may be quicker than the word that it came.
            if matches!(status.health, Health::Live | Health::Starting) {
                status.state = state;
                status.words = words.into();
            }
        });
    }

    /// Notes a camera's health, and in words why it is not live.
    pub fn note_health(&self, name: &CameraName, health: Health, words: &str, at: Timestamp) {
        self.change(name, |status| {
            if status.health != health {
                status.health = health;
                status.health_since = at;
                match (health, status.state) {
                    (Health::Live, CameraState::Waiting | CameraState::Ended) => {
                        status.state = CameraState::Waiting;
                        status.words = "Frames come; none was looked at yet.".into();
                    }
                    (Health::Live, _) => {}
                    (Health::Ended, _) => status.state = CameraState::Ended,
                    _ => status.state = CameraState::Waiting,
                }
            }
            // A look may be quicker than the word that a sender is waited for, too.
            let seen = health == Health::Starting && status.state != CameraState::Waiting;
            if health != Health::Live && !seen {
                status.words = words.into();
            }
        });
    }

    fn change(&self, name: &CameraName, change: impl FnOnce(&mut CameraStatus)) {
        let mut cameras = self.locked();
        let Some(Entry { status, .. }) = cameras.get_mut(name) else { return };
        let before = (status.state, status.health, status.words.clone());
        change(status);
        if before != (status.state, status.health, status.words.clone()) {
            self.announce();
        }
    }

    /// Notes a frame of a camera whose frames come singly: that makes it live.
    pub fn note_frame(&self, name: &CameraName, at: Timestamp) {
        if let Some(entry) = self.locked().get(name) {
            entry.figures.note_frame(at);
        }
        self.note_health(name, Health::Live, "", at);
    }

    /// Notes when a camera's last rest was kept.
    pub fn note_rest(&self, name: &CameraName, at: Timestamp) {
        if let Some(entry) = self.locked().get_mut(name) {
            entry.status.last_rest_at = Some(at);
        }
    }

    /// All cameras, in the order of their names.
    pub fn all(&self) -> Vec<CameraStatus> {
        let status = |entry: &Entry| {
            let mut status = entry.status.clone();
            entry.figures.fill(&mut status);
            status
        };
        self.locked().values().map(status).collect()
    }

    /// Tells when a camera's state or health changes.
    pub fn changes(&self) -> watch::Receiver<u64> {
        self.changes.subscribe()
    }

    fn announce(&self) {
        self.changes.send_modify(|count| *count = count.wrapping_add(1));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_look_that_is_quicker_than_the_word_of_its_frame_counts_and_one_from_before_a_loss_does_not()
     {
        let (board, camera) = (StatusBoard::default(), "table".parse().unwrap());
        board.add(&camera, "pushed", 300);
        let told = || {
            let status = board.all().remove(0);
            (status.state, status.words)
        };
        let seen = (CameraState::Reading, "Sees the whole table.".to_string());
        board.note(&camera, seen.0, &seen.1);
        board.note_health(&camera, Health::Starting, "Waiting for its sender.", now());
        assert_eq!(told(), seen);
        board.note_health(&camera, Health::Live, "", now());
        assert_eq!(told(), seen);
        board.note_health(&camera, Health::Lost, "It is gone.", now());
        board.note(&camera, seen.0, &seen.1);
        assert_eq!(told(), (CameraState::Waiting, "It is gone.".to_string()));
    }
}
