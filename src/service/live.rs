//! Cameras that this program watches: their threads, begun and stopped.
//!
//! Of chosen pictures (a folder) each is kept, one after the other at the source's pace. A
//! stream (film, webcam, network, pushed, demo) has a keeper, a capture thread to each attempt, and a
//! seeing thread, which meet in [`Newest`].

use super::{
    Health, Patience,
    keeper::Keeper,
    newest::Newest,
    pipeline::Pipeline,
    seer::Seer,
    status::{Figures, now},
    vitals::Vitals,
};
use crate::camera::source::{Folder, Nature, OpenStream, SourceFrame};
use jiff::Timestamp;
use std::{
    sync::{
        Arc,
        mpsc::{Receiver, RecvTimeoutError, channel},
    },
    thread::JoinHandle,
    time::{Duration, Instant},
};

/// A rest of a film, folder or camera is stale after this; players take their time.
pub(super) const STALE_AFTER_S: u64 = 300;

/// How cameras are watched.
#[derive(Debug, Clone, Copy)]
pub struct Watching {
    pub patience: Patience,
    /// The wall clock. It may jump: nothing but the stamps of frames and rests goes by it.
    pub utc: fn() -> Timestamp,
}

impl Default for Watching {
    fn default() -> Self {
        Self { patience: Patience::default(), utc: now }
    }
}

/// A running live camera.
pub(super) struct LiveCamera {
    stop: Box<dyn FnOnce() + Send>,
    threads: Vec<JoinHandle<()>>,
}

/// What a camera's frames go through, made by whoever has all cameras.
pub(super) struct Ways {
    pub(super) pipeline: Pipeline,
    pub(super) figures: Arc<Figures>,
    pub(super) watching: Watching,
    pub(super) vitals: Vitals,
}

impl LiveCamera {
    /// Starts showing chosen pictures.
    ///
    /// # Errors
    /// Where the system gives no thread.
    pub(super) fn show(chosen: Folder, kind: &'static str, ways: Ways) -> std::io::Result<Self> {
        let (stop, stopped) = channel::<()>();
        let utc = ways.watching.utc;
        let show = Show { pipeline: ways.pipeline, chosen, kind, utc };
        let thread = std::thread::Builder::new()
            .name(format!("camera {}", show.pipeline.camera))
            .spawn(move || show.run(&stopped))?;
        Ok(Self { stop: Box::new(move || drop(stop)), threads: vec![thread] })
    }

    /// Starts watching a stream that this program opens.
    ///
    /// # Errors
    /// Where the system gives no thread.
    pub(super) fn watch(source: Arc<dyn OpenStream>, ways: Ways) -> std::io::Result<Self> {
        let epoch = Instant::now();
        let nature = source.nature();
        let keep = move |keeper: Keeper| keeper.keep_open(&source, epoch);
        Self::begin(nature, ways, keep).map(|(camera, _)| camera)
    }

    /// Starts watching frames that are sent; they are put into the place that comes back.
    ///
    /// # Errors
    /// Where the system gives no thread.
    pub(super) fn receive(ways: Ways) -> std::io::Result<(Self, Arc<Newest>)> {
        Self::begin(Nature::LiveStills, ways, Keeper::keep_fed)
    }

    fn begin(
        nature: Nature,
        ways: Ways,
        keep: impl FnOnce(Keeper) + Send + 'static,
    ) -> std::io::Result<(Self, Arc<Newest>)> {
        let Ways { pipeline, figures, watching, vitals } = ways;
        let newest = Arc::new(Newest::new(figures));
        let camera = pipeline.camera.clone();
        let board = pipeline.board.clone();
        let keeper = Keeper {
            camera: camera.clone(),
            board,
            newest: Arc::clone(&newest),
            watching,
            _part: vitals.part(format!("keeper of camera {camera}")),
        };
        let seer = Seer::new(pipeline, Arc::clone(&newest), nature, watching);
        let seeing = std::thread::Builder::new()
            .name(format!("camera {camera}"))
            .spawn(move || seer.run())?;
        let keeping = std::thread::Builder::new()
            .name(format!("keeper {camera}"))
            .spawn(move || keep(keeper));
        let place = Arc::clone(&newest);
        let camera = Self { stop: Box::new(move || place.stop()), threads: vec![seeing] };
        match keeping {
            Ok(thread) => {
                let threads = camera.threads.into_iter().chain([thread]).collect();
                Ok((Self { threads, ..camera }, newest))
            }
            Err(error) => {
                camera.stop();
                Err(error)
            }
        }
    }

    /// Stops all of these, and waits until the frames in hand are done.
    pub(super) fn stop_all(cameras: Vec<Self>) {
        let threads = cameras.into_iter().map(|camera| {
            (camera.stop)();
            camera.threads
        });
        for thread in threads.collect::<Vec<_>>().into_iter().flatten() {
            if thread.join().is_err() {
                tracing::error!("a camera's thread had ended in a panic");
            }
        }
    }

    /// Stops it, and waits for nothing.
    pub(super) fn stop(self) {
        (self.stop)();
    }
}

/// The state of a thread that shows chosen pictures.
struct Show {
    pipeline: Pipeline,
    chosen: Folder,
    kind: &'static str,
    utc: fn() -> Timestamp,
}

impl Show {
    fn run(mut self, stopped: &Receiver<()>) {
        let mut next = Instant::now();
        loop {
            let wait = next.saturating_duration_since(Instant::now());
            match stopped.recv_timeout(wait) {
                Err(RecvTimeoutError::Timeout) => {}
                Ok(()) | Err(RecvTimeoutError::Disconnected) => return,
            }
            next = (next + Folder::PACE).max(Instant::now());
            match self.chosen.next_frame() {
                Ok(Some(frame)) => self.take(frame),
                Ok(None) => {
                    let words = format!("The {} has come to its end.", self.kind);
                    self.note(Health::Ended, &words);
                    return;
                }
                Err(error) => {
                    tracing::warn!(camera = %self.pipeline.camera, "no frame: {error}");
                    self.note(Health::Lost, &format!("No frame: {error}."));
                    next += Duration::from_secs(1);
                }
            }
        }
    }

    fn note(&self, health: Health, words: &str) {
        self.pipeline.board.note_health(&self.pipeline.camera, health, words, (self.utc)());
    }

    fn take(&mut self, frame: SourceFrame) {
        let taken = match frame {
            SourceFrame::File(bytes) => self.pipeline.take(bytes, (self.utc)()).map(|_| ()),
            SourceFrame::Decoded(picture) => {
                let picture = Arc::new(picture);
                self.pipeline.sight.show(&picture);
                self.pipeline.look(&picture).map(|_| ())
            }
        };
        // What went wrong is on the board.
        if let Err(error) = taken {
            tracing::debug!(camera = %self.pipeline.camera, "not kept: {error}");
        }
    }
}
