//! What every handler shares.

use super::{
    Cameras, Metrics, Problem, ReaderFactory, Watching, access::Access, advising::Advising,
    cloth::Cloths, feed::Feed, lately::Lately, skills::Skills, vitals::Vitals,
};
use crate::{
    advice::{Advice, Player},
    motion::Physics,
    record::{Record, Rest},
};
use std::{path::Path, sync::Arc, time::Duration};
use tokio::sync::{Semaphore, watch};

/// Bounds on what clients can ask for.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// The largest frame that is taken, in bytes.
    pub frame_bytes: usize,
    /// The time a client has to send a frame.
    pub frame_time: Duration,
    /// Frames taken in or waiting for their turn, over all cameras.
    pub frames_at_a_time: usize,
    /// Sign of life to those who follow live.
    pub keep_alive: Duration,
    /// Those who may follow the events at a time.
    pub followers: usize,
    /// The time a client may leave what is sent to it untaken.
    pub write_time: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            frame_bytes: 32 << 20,
            frame_time: Duration::from_secs(30),
            frames_at_a_time: 12,
            keep_alive: Duration::from_secs(15),
            followers: 512,
            write_time: Duration::from_secs(30),
        }
    }
}

/// PNG diagrams drawn at a time.
const DRAWINGS_AT_A_TIME: usize = 2;

/// What every handler shares. Cheap to clone.
#[derive(Clone)]
pub struct App {
    pub(super) record: Record,
    pub(super) cameras: Cameras,
    pub(super) feed: Feed,
    pub(super) metrics: Metrics,
    pub(super) vitals: Vitals,
    pub(super) access: Access,
    pub(super) limits: Limits,
    pub(super) uploads: Arc<Semaphore>,
    pub(super) drawings: Arc<Semaphore>,
    /// Rests' drawings, by id; a rest never changes.
    pub(super) drawn_lately: Lately<i64>,
    /// What is shown of tables, by all that it depends on.
    pub(super) shown_lately: Lately<String>,
    pub(super) advising: Advising,
    pub(super) skills: Skills,
    /// Turns true when the service stops, so that those who follow live are let go.
    pub(super) stopping: watch::Sender<bool>,
}

impl App {
    /// What a service needs: where rests are kept, and who reads frames.
    pub fn new(record: Record, readers: ReaderFactory, limits: Limits, watching: Watching) -> Self {
        let (metrics, vitals) = (Metrics::default(), Vitals::default());
        let cameras =
            Cameras::new(record.clone(), readers, watching, metrics.clone(), vitals.clone());
        Self {
            cameras,
            feed: Feed::new(record.clone()),
            metrics,
            vitals,
            access: Access::here(),
            record,
            limits,
            uploads: Arc::new(Semaphore::new(limits.frames_at_a_time)),
            drawings: Arc::new(Semaphore::new(DRAWINGS_AT_A_TIME)),
            drawn_lately: Lately::default(),
            shown_lately: Lately::default(),
            advising: Advising::new(None),
            skills: Skills::new(),
            stopping: watch::Sender::new(false),
        }
    }

    /// The same service, open to whoever may come in.
    pub(super) fn opened(self, access: Access) -> Self {
        Self { access, ..self }
    }

    /// Keeps what is learned of the cloths in a data folder, from the cameras that are started then.
    pub(super) fn keep_cloths_in(&mut self, data: &Path) {
        self.cameras.cloths = Cloths::kept_in(data);
    }

    /// The physics of the table under a camera, as far as they are known.
    pub(super) fn physics_of(&self, camera: &str) -> Physics {
        self.cameras.cloths.physics(camera)
    }

    /// Advice on a kept rest, on the cloth it lies on: what is held, or found now.
    ///
    /// # Errors
    /// Where too many are thought about already, or the layout cannot be.
    pub(super) async fn advice_on(&self, rest: &Rest) -> Result<Arc<Advice>, Problem> {
        self.advising.of_rest(rest, self.physics_of(&rest.camera)).await
    }

    /// Thinks about each fresh rest for this player, once the service runs.
    pub(super) fn advise_each_rest(&mut self, player: Option<Player>) {
        self.advising = Advising::new(player);
    }

    /// The counts of this service, for whoever has something to count.
    pub fn metrics(&self) -> &Metrics {
        &self.metrics
    }

    /// The cameras, and how each is doing.
    pub fn cameras(&self) -> &Cameras {
        &self.cameras
    }
}
