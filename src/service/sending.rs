//! One who sends a stream of frames, by whatever way: each frame is counted, and up to ten a second
//! are put forward to be looked at.

use super::{
    cameras::Entrance,
    newest::{Caught, Fate, Receipt},
};
use crate::camera::source::{SourceFrame, Thinning};
use std::time::{Duration, Instant};
use tokio::sync::mpsc::UnboundedSender;

/// Where it is told what became of each frame, by its number.
pub(super) type Answers = UnboundedSender<(u64, Fate)>;

/// One who sends frames, for as long as no other takes its place.
pub(super) struct Sender {
    entrance: Entrance,
    thinning: Thinning,
    frames: u64,
}

impl Sender {
    pub(super) fn new(entrance: Entrance) -> Self {
        Self { entrance, thinning: Thinning::default(), frames: 0 }
    }

    /// Takes a frame in; false where another sender has taken this one's place.
    pub(super) fn take(&mut self, bytes: Vec<u8>, to: &Answers) -> bool {
        let Entrance { feeder, watching, epoch } = &self.entrance;
        self.frames += 1;
        let receipt = Receipt::new(self.frames, to.clone());
        let utc = (watching.utc)();
        if !feeder.arrived(utc) {
            return false;
        }
        let at = epoch.elapsed();
        if self.thinning.wants(at) {
            let frame = SourceFrame::File(bytes);
            feeder.offer(Caught { frame, at, utc, receipt: Some(receipt) });
        }
        true
    }

    /// Whether anybody still wants what it sends.
    pub(super) fn is_wanted(&self) -> bool {
        self.entrance.feeder.is_wanted()
    }

    /// It is gone, and why.
    pub(super) fn leave(&self, why: &str) {
        self.entrance.feeder.fail(why.into());
    }
}

/// One who has posted nothing for so long may be replaced by another of the same camera.
const FRESH: Duration = Duration::from_secs(10);

/// One who sends each frame by a request of its own, and may go away without a word.
pub(super) struct Poster {
    /// What it calls itself, to be known from one request to the next.
    name: String,
    pub(super) sender: Sender,
    last: Instant,
}

impl Poster {
    pub(super) fn new(name: &str, sender: Sender) -> Self {
        Self { name: name.into(), sender, last: Instant::now() }
    }

    /// Whether this is the one, and still has its place.
    pub(super) fn is(&self, name: &str) -> bool {
        self.name == name && self.sender.is_wanted()
    }

    pub(super) fn is_fresh(&self) -> bool {
        self.last.elapsed() < FRESH
    }

    /// Takes a frame in; false where another sender has taken this one's place.
    pub(super) fn take(&mut self, bytes: Vec<u8>, to: &Answers) -> bool {
        self.last = Instant::now();
        self.sender.take(bytes, to)
    }
}
