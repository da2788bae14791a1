//! All cameras: those that the program watches itself, those whose frames are posted, each with a
//! thread and a short queue of its own, and those whose frames are pushed.

use super::{
    CameraName, FrameError, Health, Metrics, ReaderFactory, StatusBoard, Watching,
    cloth::Cloths,
    live::{LiveCamera, STALE_AFTER_S, Ways},
    newest::{Feeder, Newest},
    pipeline::{self, Pipeline},
    sending::{Answers, Poster, Sender},
    sight::Sight,
    turns::Turns,
    unkept::Unkept,
    unseen::Unseen,
    vitals::Vitals,
};
use crate::{
    camera::source::FrameSource,
    layout::Layout,
    record::{Record, Rest},
};
use jiff::Timestamp;
use std::{
    collections::BTreeMap,
    sync::{
        Arc, Mutex, MutexGuard, PoisonError,
        mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel},
    },
    time::{Duration, Instant},
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
    Own(LiveCamera),
    /// Through the service, by this queue.
    Posted { jobs: SyncSender<Job>, last_used: Instant },
    /// Through the service, as a stream.
    Pushed {
        live: LiveCamera,
        newest: Arc<Newest>,
        last_used: Instant,
        named_by_user: bool,
        /// Who sends by single requests, where that is how its frames come.
        poster: Option<Box<Poster>>,
    },
}

impl Feed {
    /// Since when a camera that turned up by itself is silent; none for one that must stay.
    fn silent_since(&self) -> Option<Instant> {
        match self {
            Self::Posted { last_used, .. } => Some(*last_used),
            Self::Pushed { newest, last_used, named_by_user: false, poster, .. }
                if !is_fed(newest, poster.as_deref()) =>
            {
                Some(*last_used)
            }
            Self::Pushed { .. } | Self::Own(_) => None,
        }
    }
}

/// Whether somebody sends now: one who posts may have gone without a word.
fn is_fed(newest: &Newest, poster: Option<&Poster>) -> bool {
    newest.is_fed() && poster.is_none_or(Poster::is_fresh)
}

/// All cameras of a service. Cheap to clone.
#[derive(Clone)]
pub struct Cameras {
    feeds: Arc<Mutex<BTreeMap<CameraName, Feed>>>,
    sights: Arc<Mutex<BTreeMap<CameraName, Sight>>>,
    pub(super) readers: ReaderFactory,
    record: Record,
    board: StatusBoard,
    pub(super) turns: Turns,
    metrics: Metrics,
    vitals: Vitals,
    watching: Watching,
    pub(super) cloths: Cloths,
    /// The beginning of all cameras' monotonic time.
    epoch: Instant,
}

/// A sender's way in, for as long as no other takes its place.
pub(super) struct Entrance {
    pub(super) feeder: Feeder,
    pub(super) watching: Watching,
    pub(super) epoch: Instant,
}

impl Cameras {
    /// No camera yet; each that turns up gets a reader of its own.
    pub(super) fn new(
        record: Record,
        readers: ReaderFactory,
        watching: Watching,
        metrics: Metrics,
        vitals: Vitals,
    ) -> Self {
        Self {
            feeds: Arc::default(),
            sights: Arc::default(),
            readers,
            record,
            board: StatusBoard::default(),
            turns: Turns::default(),
            metrics,
            vitals,
            watching,
            cloths: Cloths::default(),
            epoch: Instant::now(),
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
        self.send(camera, Job { bytes, at: (self.watching.utc)(), reply, _room: room })?;
        answer.await.map_err(|_| FrameError::Stopping)?
    }

    /// Reads a frame that belongs to no camera; nothing is kept of it.
    ///
    /// # Errors
    /// Where no layout can be read from the frame.
    pub async fn read_alone(
        &self,
        bytes: Vec<u8>,
        room: OwnedSemaphorePermit,
    ) -> Result<Layout, FrameError> {
        let (readers, turns) = (Arc::clone(&self.readers), self.turns.clone());
        let reading = tokio::task::spawn_blocking(move || {
            let _room = room;
            pipeline::read_alone(readers(&CameraName::default()), &turns, &bytes)
        });
        reading.await.map_err(|_| FrameError::Panicked)?
    }

    /// Starts a camera that the user named.
    ///
    /// # Errors
    /// Where the system gives no thread.
    pub fn start(&self, camera: &CameraName, source: FrameSource) -> std::io::Result<()> {
        let kind = source.kind();
        let ways = self.ways(camera, kind, STALE_AFTER_S);
        let feed = match source {
            FrameSource::Chosen(chosen) => Feed::Own(LiveCamera::show(chosen, kind, ways)?),
            FrameSource::Stream(stream) => Feed::Own(LiveCamera::watch(stream, ways)?),
            FrameSource::Pushed => pushed(ways, true)?,
        };
        self.locked().insert(camera.clone(), feed);
        Ok(())
    }

    /// Whether a sender of this name would be let in, as far as can be told beforehand.
    ///
    /// # Errors
    /// Where the name is another camera's.
    pub(super) fn may_push(&self, camera: &CameraName) -> Result<(), FrameError> {
        match self.locked().get(camera) {
            Some(Feed::Own(_)) => Err(FrameError::NotYours { camera: camera.clone() }),
            _ => Ok(()),
        }
    }

    /// Lets a sender in, in the place of one that was there before.
    ///
    /// # Errors
    /// Where the name is another camera's, or there is no room.
    pub(super) fn let_in(&self, camera: &CameraName) -> Result<Entrance, FrameError> {
        self.let_in_among(&mut self.locked(), camera)
    }

    fn let_in_among(
        &self,
        feeds: &mut BTreeMap<CameraName, Feed>,
        camera: &CameraName,
    ) -> Result<Entrance, FrameError> {
        match feeds.get(camera) {
            Some(Feed::Own(_)) => return Err(FrameError::NotYours { camera: camera.clone() }),
            Some(Feed::Pushed { .. }) => {}
            // A camera that posted single frames may as well send a stream of them.
            Some(Feed::Posted { .. }) | None => {
                if feeds.remove(camera).is_none() {
                    self.make_room(feeds)?;
                }
                let ways = self.ways(camera, "pushed", POSTED_STALE_AFTER_S);
                let feed = pushed(ways, false).map_err(|error| no_thread(camera, &error))?;
                feeds.insert(camera.clone(), feed);
            }
        }
        match feeds.get_mut(camera) {
            Some(Feed::Pushed { newest, last_used, poster, .. }) => {
                (*last_used, *poster) = (Instant::now(), None);
                let feeder = newest.begin();
                Ok(Entrance { feeder, watching: self.watching, epoch: self.epoch })
            }
            _ => Err(FrameError::NotYours { camera: camera.clone() }),
        }
    }

    /// Takes in the next frame of a stream that comes by single requests; false where it came too
    /// late to have a place. What becomes of it is told to `to`.
    ///
    /// # Errors
    /// Where the name is another camera's, another sender is at it, or there is no room.
    pub(super) fn post_in(
        &self,
        camera: &CameraName,
        name: &str,
        bytes: Vec<u8>,
        to: &Answers,
    ) -> Result<bool, FrameError> {
        let mut feeds = self.locked();
        let known = match feeds.get(camera) {
            Some(Feed::Pushed { poster: Some(poster), .. }) if poster.is(name) => true,
            Some(Feed::Pushed { newest, poster, .. }) if is_fed(newest, poster.as_deref()) => {
                return Err(FrameError::Fed { camera: camera.clone() });
            }
            _ => false,
        };
        if !known {
            let sender = Sender::new(self.let_in_among(&mut feeds, camera)?);
            if let Some(Feed::Pushed { poster, .. }) = feeds.get_mut(camera) {
                *poster = Some(Box::new(Poster::new(name, sender)));
            }
        }
        let Some(Feed::Pushed { poster: Some(poster), last_used, .. }) = feeds.get_mut(camera)
        else {
            return Err(FrameError::NotYours { camera: camera.clone() });
        };
        *last_used = Instant::now();
        Ok(poster.take(bytes, to))
    }

    /// Stops all cameras; those whose frames are posted finish what waits.
    pub fn stop(&self) {
        let feeds = std::mem::take(&mut *self.locked());
        let live = feeds.into_values().filter_map(|feed| match feed {
            Feed::Own(live) | Feed::Pushed { live, .. } => Some(live),
            Feed::Posted { .. } => None,
        });
        LiveCamera::stop_all(live.collect());
    }

    fn ways(&self, camera: &CameraName, kind: &'static str, stale_after_s: u64) -> Ways {
        let figures = self.board.add(camera, kind, stale_after_s);
        let vitals = self.vitals.clone();
        Ways { pipeline: self.pipeline(camera), figures, watching: self.watching, vitals }
    }

    fn locked(&self) -> MutexGuard<'_, BTreeMap<CameraName, Feed>> {
        self.feeds.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn locked_sights(&self) -> MutexGuard<'_, BTreeMap<CameraName, Sight>> {
        self.sights.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Where a camera shows what it sees; none where there is no such camera.
    pub(super) fn sight(&self, camera: &CameraName) -> Option<Sight> {
        self.locked_sights().get(camera).cloned()
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
            unseen: Unseen::default(),
            unkept: Unkept::default(),
            sight: self.locked_sights().entry(camera.clone()).or_default().clone(),
            cloths: self.cloths.clone(),
            epoch: self.epoch,
        }
    }

    fn send(&self, camera: &CameraName, job: Job) -> Result<(), FrameError> {
        let mut feeds = self.locked();
        if !feeds.contains_key(camera) {
            self.make_room(&mut feeds)?;
            let feed = self.start_posted(camera)?;
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
            Some(Feed::Own(_) | Feed::Pushed { .. }) | None => {
                Err(FrameError::NotYours { camera: camera.clone() })
            }
        }
    }

    /// Lets the camera that was silent longest go, where there is no room for another.
    fn make_room(&self, feeds: &mut BTreeMap<CameraName, Feed>) -> Result<(), FrameError> {
        if feeds.len() < MAX_CAMERAS {
            return Ok(());
        }
        let silent = feeds
            .iter()
            .filter_map(|(name, feed)| Some((feed.silent_since()?, name.clone())))
            .min();
        let Some((_, name)) = silent else {
            return Err(FrameError::TooManyCameras { count: feeds.len() });
        };
        // Its thread finishes what waits in its queue, and ends.
        if let Some(Feed::Pushed { live, .. }) = feeds.remove(&name) {
            live.stop();
        }
        self.board.remove(&name);
        self.locked_sights().remove(&name);
        self.metrics.forget(&name);
        Ok(())
    }

    fn start_posted(&self, camera: &CameraName) -> Result<Feed, FrameError> {
        let (jobs, waiting) = sync_channel(MAX_WAITING);
        self.board.add(camera, "posted", POSTED_STALE_AFTER_S);
        let pipeline = self.pipeline(camera);
        let utc = self.watching.utc;
        std::thread::Builder::new()
            .name(format!("camera {camera}"))
            .spawn(move || work_off(pipeline, &waiting, utc))
            .map_err(|error| no_thread(camera, &error))?;
        Ok(Feed::Posted { jobs, last_used: Instant::now() })
    }
}

fn pushed(ways: Ways, named_by_user: bool) -> std::io::Result<Feed> {
    let (live, newest) = LiveCamera::receive(ways)?;
    Ok(Feed::Pushed { live, newest, last_used: Instant::now(), named_by_user, poster: None })
}

fn no_thread(camera: &CameraName, error: &std::io::Error) -> FrameError {
    tracing::error!("no thread for camera {camera}: {error}");
    FrameError::TooManyCameras { count: MAX_CAMERAS }
}

fn work_off(mut pipeline: Pipeline, waiting: &Receiver<Job>, utc: fn() -> Timestamp) {
    loop {
        let job = match waiting.recv_timeout(Duration::from_secs(POSTED_STALE_AFTER_S)) {
            Ok(job) => job,
            Err(RecvTimeoutError::Timeout) => {
                let words = "No frame was sent for a while.";
                pipeline.board.note_health(&pipeline.camera, Health::Stale, words, utc());
                continue;
            }
            Err(RecvTimeoutError::Disconnected) => return,
        };
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
