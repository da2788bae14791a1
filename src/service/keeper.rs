//! Keeps a watched camera going: opens it, judges its health by when frames come, gives up what
//! hangs, and tries again without end.
//!
//! Each attempt has a capture thread of its own, which drains the source and puts the newest frame
//! forward. A thread that is stuck in a library is left to itself; it is heard no more, and while a
//! few of them hang no further one is started. The keeper never waits for a source.

use super::{
    CameraName, Health, StatusBoard,
    health::{Patience, Pauses},
    live::Watching,
    newest::{Caught, Feeder, Newest, News, Phase},
    vitals::Part,
};
use crate::camera::source::{Nature, OpenStream, SourceError, StopSign, Terms, Thinning};
use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    sync::Arc,
    thread::JoinHandle,
    time::{Duration, Instant},
};

/// Attempts that may hang in a library before no further one is started.
const MOST_HANGING: usize = 3;

/// How often a film's capture looks whether it is to stop, while it waits for a frame's time.
const LOOK_FOR_STOP: Duration = Duration::from_millis(50);

const STALE: &str = "No new frame comes: what was seen last may no longer be so.";
const FROZEN: &str = "The same picture comes over and over: the camera may be frozen.";
const UNDECODABLE: &str = "Its frames cannot be decoded.";

/// What keeps one camera.
pub(super) struct Keeper {
    pub(super) camera: CameraName,
    pub(super) board: StatusBoard,
    pub(super) newest: Arc<Newest>,
    pub(super) watching: Watching,
    pub(super) _part: Part,
}

/// What the times of frames come to.
struct Verdict {
    /// None: as it was.
    health: Option<(Health, String)>,
    /// When this has to be judged again, if nothing happens.
    until: Option<Instant>,
}

/// How an attempt came to its end.
enum Over {
    Stopped,
    Ended,
    Lost(String),
    /// The camera is to be opened anew at once, since it may be frozen.
    Anew,
}

impl Keeper {
    /// Keeps a camera that this program opens, until it ends or the service stops.
    pub(super) fn keep_open(self, source: &Arc<dyn OpenStream>, epoch: Instant) {
        let mut pauses = Pauses::default();
        let mut hanging: Vec<JoinHandle<()>> = Vec::new();
        let mut reopen_frozen_at = Duration::ZERO;
        self.note(Health::Starting, "The camera is being opened.");
        loop {
            hanging.retain(|thread| !thread.is_finished());
            let over = if hanging.len() >= MOST_HANGING {
                Over::Lost("earlier tries still hang in the system".into())
            } else {
                self.attempt(source, epoch, (&mut hanging, &mut pauses, &mut reopen_frozen_at))
            };
            match over {
                Over::Stopped => break,
                Over::Ended => return,
                Over::Anew => {}
                Over::Lost(why) => {
                    tracing::warn!(camera = %self.camera, "lost: {why}");
                    self.note(Health::Lost, &format!("Lost: {why}. It is tried again."));
                    if !self.newest.pause(pauses.next(&self.watching.patience)) {
                        break;
                    }
                }
            }
        }
        self.let_go(hanging);
    }

    /// One attempt, from opening to its end.
    fn attempt(
        &self,
        source: &Arc<dyn OpenStream>,
        epoch: Instant,
        (hanging, pauses, reopen_frozen_at): (&mut Vec<JoinHandle<()>>, &mut Pauses, &mut Duration),
    ) -> Over {
        let patience = self.watching.patience;
        let stop = StopSign::default();
        // The keeper goes by the source's own rate; the library's time-outs only have to let a
        // thread that was given up end some time.
        let terms = Terms {
            open_within: patience.open,
            read_within: patience.open.max(patience.least_lost),
            stop: stop.clone(),
        };
        let feeder = self.newest.begin();
        let capture = Capture { source: Arc::clone(source), epoch, utc: self.watching.utc };
        let thread = std::thread::Builder::new()
            .name(format!("frames {}", self.camera))
            .spawn(move || capture.run(&feeder, &terms));
        match thread {
            Ok(thread) => hanging.push(thread),
            Err(error) => return Over::Lost(format!("no thread for it: {error}")),
        }
        let over = self.watch(&patience, pauses, reopen_frozen_at);
        stop.raise();
        if !matches!(over, Over::Ended) {
            self.newest.abandon();
        }
        over
    }

    /// Judges an attempt until it is over.
    fn watch(&self, patience: &Patience, pauses: &mut Pauses, reopen_at: &mut Duration) -> Over {
        let (mut version, mut until, mut awaited) = (0, None, true);
        loop {
            let (news, now_at) = self.newest.news_after(version, until, awaited);
            version = now_at;
            if news.stopping {
                return Over::Stopped;
            }
            if let (Some(first), Some(last)) = (news.first, news.last)
                && last - first >= patience.settled
            {
                pauses.begin_again();
            }
            match &news.phase {
                Phase::Ended => return Over::Ended,
                Phase::Failed(why) => return Over::Lost(why.clone()),
                Phase::Idle | Phase::Running => {}
            }
            match news.frozen_for {
                Some(frozen_for) if frozen_for >= *reopen_at && news.first.is_some() => {
                    // Each time twice as long after the time before: looking for a frozen camera
                    // must not cost the frames of one that is not.
                    *reopen_at = 2 * frozen_for;
                    self.note(Health::Stale, FROZEN);
                    return Over::Anew;
                }
                Some(_) => {}
                None => *reopen_at = Duration::ZERO,
            }
            let verdict = judge(&news, patience, Instant::now());
            until = verdict.until;
            awaited = true;
            if let Some((health, words)) = verdict.health {
                awaited = health != Health::Live;
                if health == Health::Lost {
                    return Over::Lost(words);
                }
                self.note(health, &words);
            }
        }
    }

    /// Keeps a camera whose frames are sent, until the service stops.
    pub(super) fn keep_fed(self) {
        self.note(Health::Starting, "Waiting for its sender.");
        let (mut version, mut until, mut awaited) = (0, None, true);
        loop {
            let (news, now_at) = self.newest.news_after(version, until, awaited);
            version = now_at;
            if news.stopping {
                return;
            }
            let verdict = match &news.phase {
                Phase::Running => judge(&news, &self.watching.patience, Instant::now()),
                Phase::Failed(why) => {
                    Verdict { health: Some((Health::Lost, why.clone())), until: None }
                }
                Phase::Idle | Phase::Ended => Verdict { health: None, until: None },
            };
            until = verdict.until;
            awaited = true;
            if let Some((health, words)) = verdict.health {
                awaited = health != Health::Live;
                let words = match health {
                    Health::Lost => format!("Lost: {words}. Its sender may come back."),
                    _ => words,
                };
                self.note(health, &words);
            }
        }
    }

    fn note(&self, health: Health, words: &str) {
        self.board.note_health(&self.camera, health, words, (self.watching.utc)());
    }

    /// Waits a little for threads to end, and leaves those alone that do not.
    fn let_go(&self, hanging: Vec<JoinHandle<()>>) {
        let until = Instant::now() + self.watching.patience.letting_go;
        for thread in hanging {
            while !thread.is_finished() && Instant::now() < until {
                std::thread::sleep(LOOK_FOR_STOP / 5);
            }
            if !thread.is_finished() {
                tracing::warn!(camera = %self.camera, "its source does not let go, and is left");
            } else if thread.join().is_err() {
                tracing::error!(camera = %self.camera, "a capture thread had ended in a panic");
            }
        }
    }
}

/// Health by the times of frames.
fn judge(news: &News, patience: &Patience, now: Instant) -> Verdict {
    let Some(last) = news.last else {
        // The same again for the first frame of a camera that took all its time to open.
        let until = news.begun + 2 * patience.open;
        let late = now >= until;
        let health = late.then(|| (Health::Lost, "no frame came".into()));
        return Verdict { health, until: Some(until) };
    };
    let good_at = news.unusable_since.map_or(last, |since| since.min(last));
    let age = now.saturating_duration_since(good_at);
    let (stale, lost) = (patience.stale_after(news.gap), patience.lost_after(news.gap));
    let silent = news.unusable_since.is_none_or(|since| since > last);
    if age >= lost {
        let why = if silent { "no new frame came in time" } else { "its frames cannot be decoded" };
        return Verdict { health: Some((Health::Lost, why.into())), until: Some(now + stale) };
    }
    if age >= stale {
        let words = if silent { STALE } else { UNDECODABLE };
        let health = Some((Health::Stale, words.into()));
        return Verdict { health, until: Some(good_at + lost) };
    }
    let health = match news.frozen_for {
        Some(_) => (Health::Stale, FROZEN.into()),
        None => (Health::Live, String::new()),
    };
    Verdict { health: Some(health), until: Some(good_at + stale) }
}

/// What drains a source.
struct Capture {
    source: Arc<dyn OpenStream>,
    /// The beginning of the camera's own clock.
    epoch: Instant,
    utc: fn() -> jiff::Timestamp,
}

impl Capture {
    fn run(&self, feeder: &Feeder, terms: &Terms) {
        let drained = catch_unwind(AssertUnwindSafe(|| self.drain(feeder, terms)));
        match drained {
            Ok(Ok(())) => feeder.end(),
            Ok(Err(error)) => feeder.fail(error.to_string()),
            Err(_) => feeder.fail("reading it failed inside the program".into()),
        }
    }

    fn drain(&self, feeder: &Feeder, terms: &Terms) -> Result<(), SourceError> {
        let mut stream = self.source.open(terms)?;
        let mut thinning = Thinning::default();
        let opened = Instant::now();
        while feeder.is_wanted() {
            let Some(grabbed) = stream.grab()? else { return Ok(()) };
            if self.source.nature() == Nature::Film
                && let Some(at) = grabbed.at
            {
                wait_until(opened + at, terms)?;
            }
            let utc = (self.utc)();
            if !feeder.arrived(utc) {
                break;
            }
            let at = grabbed.at.unwrap_or_else(|| self.epoch.elapsed());
            if !thinning.wants(at) {
                continue;
            }
            match stream.retrieve() {
                Ok(frame) => feeder.offer(Caught { frame, at, utc, receipt: None }),
                Err(error) => {
                    tracing::debug!("{error}");
                    feeder.undecodable();
                }
            }
        }
        Err(SourceError::Stopped)
    }
}

/// Shows a film at its own speed.
fn wait_until(time: Instant, terms: &Terms) -> Result<(), SourceError> {
    loop {
        if terms.stop.is_raised() {
            return Err(SourceError::Stopped);
        }
        let left = time.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return Ok(());
        }
        std::thread::sleep(left.min(LOOK_FOR_STOP));
    }
}
