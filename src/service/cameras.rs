//! The cameras that send frames, each with a thread and a short queue of its own.

use super::{
    CameraName, FrameError, Metrics, ReaderFactory, StatusBoard,
    pipeline::Pipeline,
    status::now,
    turns::Turns,
    vitals::Vitals,
};
use crate::record::{Record, Rest};
use jiff::Timestamp;
use std::{
    collections::BTreeMap,
    sync::{
        Arc, Mutex, MutexGuard, PoisonError,
        mpsc::{Receiver, SyncSender, TrySendError, sync_channel},
    },
    time::Instant,
};
use tokio::sync::{OwnedSemaphorePermit, oneshot};

/// Cameras at a time; each has a thread and holds a frame or two.
const MAX_CAMERAS: usize = 16;

/// Frames that may wait for one camera's thread.
const MAX_WAITING: usize = 4;

/// A frame that is sent now and then is stale after this, where nothing else is known.
const POSTED_STALE_AFTER_S: u64 = 300;

/// A frame on its way to a camera's thread, and where the answer goes.
struct Job {
    bytes: Vec<u8>,
    at: Timestamp,
    reply: oneshot::Sender<Result<Rest, FrameError>>,
    /// Held as long as the bytes are, so that bytes are bounded over all cameras.
    _room: OwnedSemaphorePermit,
}

/// How a camera's frames come.
enum Feed {
    /// From this program itself.
    Own,
    /// Through the service, by this queue.
    Posted { jobs: SyncSender<Job>, last_used: Instant },
}

/// All cameras of a service. Cheap to clone.
#[derive(Clone)]
pub struct Cameras {
    feeds: Arc<Mutex<BTreeMap<CameraName, Feed>>>,
    readers: ReaderFactory,
    record: Record,
    board: StatusBoard,
    turns: Turns,
    metrics: Metrics,
    vitals: Vitals,
}

impl Cameras {
    /// No camera yet; each that turns up gets a reader of its own.
    pub(super) fn new(
        record: Record,
        readers: ReaderFactory,
        metrics: Metrics,
        vitals: Vitals,
    ) -> Self {
        Self {
            feeds: Arc::default(),
            readers,
            record,
            board: StatusBoard::default(),
            turns: Turns::default(),
            metrics,
            vitals,
        }
    }

    /// How each camera is doing.
    pub fn board(&self) -> &StatusBoard {
        &self.board
    }

    /// Reads and keeps a frame that was sent.
    ///
    /// # Errors
    /// Where the frame cannot be read or kept, or too many wait.
    pub async fn take(
        &self,
        camera: &CameraName,
        bytes: Vec<u8>,
        room: OwnedSemaphorePermit,
    ) -> Result<Rest, FrameError> {
        let (reply, answer) = oneshot::channel();
        self.send(camera, Job { bytes, at: now(), reply, _room: room })?;
        answer.await.map_err(|_| FrameError::Stopping)?
    }

    /// Registers a camera that this program feeds itself.
    pub(super) fn own(
        &self,
        camera: &CameraName,
        source: &'static str,
        stale_after_s: u64,
    ) -> Pipeline {
        self.locked().insert(camera.clone(), Feed::Own);
        self.board.add(camera, source, stale_after_s);
        self.pipeline(camera)
    }

    fn locked(&self) -> MutexGuard<'_, BTreeMap<CameraName, Feed>> {
        self.feeds.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn pipeline(&self, camera: &CameraName) -> Pipeline {
        Pipeline {
            camera: camera.clone(),
            reader: (self.readers)(camera),
            record: self.record.clone(),
            board: self.board.clone(),
            turns: self.turns.clone(),
            metrics: self.metrics.clone(),
            _part: self.vitals.part(format!("camera {camera}")),
        }
    }

    fn send(&self, camera: &CameraName, job: Job) -> Result<(), FrameError> {
        let mut feeds = self.locked();
        if !feeds.contains_key(camera) {
            self.make_room(&mut feeds)?;
            let feed = self.start(camera)?;
            feeds.insert(camera.clone(), feed);
        }
        match feeds.get_mut(camera) {
            Some(Feed::Posted { jobs, last_used }) => {
                *last_used = Instant::now();
                jobs.try_send(job).map_err(|error| match error {
                    TrySendError::Full(_) => FrameError::Busy { camera: camera.clone() },
                    TrySendError::Disconnected(_) => FrameError::Stopping,
                })
            }
            Some(Feed::Own) | None => Err(FrameError::NotYours { camera: camera.clone() }),
        }
    }

    /// Lets the camera that was silent longest go, where there is no room for another.
    fn make_room(&self, feeds: &mut BTreeMap<CameraName, Feed>) -> Result<(), FrameError> {
        if feeds.len() < MAX_CAMERAS {
            return Ok(());
        }
        let silent = feeds
            .iter()
            .filter_map(|(name, feed)| match feed {
                Feed::Posted { last_used, .. } => Some((*last_used, name.clone())),
                Feed::Own => None,
            })
            .min();
        let Some((_, name)) = silent else {
            return Err(FrameError::TooManyCameras { count: feeds.len() });
        };
        // Its thread finishes what waits in its queue, and ends.
        feeds.remove(&name);
        self.board.remove(&name);
        self.metrics.forget(&name);
        Ok(())
    }

    fn start(&self, camera: &CameraName) -> Result<Feed, FrameError> {
        let (jobs, waiting) = sync_channel(MAX_WAITING);
        self.board.add(camera, "posted", POSTED_STALE_AFTER_S);
        let pipeline = self.pipeline(camera);
        std::thread::Builder::new()
            .name(format!("camera {camera}"))
            .spawn(move || work_off(pipeline, &waiting))
            .map_err(|error| {
                tracing::error!("no thread for camera {camera}: {error}");
                FrameError::TooManyCameras { count: MAX_CAMERAS }
            })?;
        Ok(Feed::Posted { jobs, last_used: Instant::now() })
    }
}

fn work_off(mut pipeline: Pipeline, waiting: &Receiver<Job>) {
    while let Ok(job) = waiting.recv() {
        if job.reply.is_closed() {
            tracing::debug!(camera = %pipeline.camera, "a sender went away before its frame's turn");
            continue;
        }
        let result = pipeline.take(job.bytes, job.at);
        if job.reply.send(result).is_err() {
            tracing::debug!(camera = %pipeline.camera, "a sender went away before the answer");
        }
    }
}
