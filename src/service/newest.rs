//! Where the threads of one watched camera meet: whoever feeds it puts the newest frame here, the
//! seeing thread takes it, and the keeper hears how the feeding goes.
//!
//! At most one frame waits; a newer one takes its place. Feeding is done in attempts: what an
//! abandoned attempt still does, as when a thread comes back from a library after minutes, is
//! ignored. Nothing here waits for a camera.

use super::{health::Gap, status::Figures};
use crate::camera::source::SourceFrame;
use jiff::Timestamp;
use std::{
    sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError},
    time::{Duration, Instant},
};
use tokio::sync::mpsc::UnboundedSender;

/// A frame that waits to be looked at.
pub(super) struct Caught {
    pub(super) frame: SourceFrame,
    /// Its time on the camera's own clock, which never runs backwards.
    pub(super) at: Duration,
    /// When it came, by the wall clock.
    pub(super) utc: Timestamp,
    /// For frames of a sender who wants to know.
    pub(super) receipt: Option<Receipt>,
}

/// What became of a sender's frame.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Fate {
    Seen { rest: Option<i64> },
    PassedOver,
    Unreadable { why: String },
}

/// Tells a sender once what became of a frame: passed over, where nobody says otherwise.
pub(super) struct Receipt {
    number: u64,
    to: Option<UnboundedSender<(u64, Fate)>>,
}

impl Receipt {
    pub(super) fn new(number: u64, to: UnboundedSender<(u64, Fate)>) -> Self {
        Self { number, to: Some(to) }
    }

    pub(super) fn tell(mut self, fate: Fate) {
        self.send(fate);
    }

    fn send(&mut self, fate: Fate) {
        // A sender who went away wants no receipt.
        if let Some(to) = self.to.take() {
            let _ = to.send((self.number, fate));
        }
    }
}

impl Drop for Receipt {
    fn drop(&mut self) {
        self.send(Fate::PassedOver);
    }
}

/// How the present attempt goes.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Phase {
    /// Nobody feeds.
    Idle,
    Running,
    Failed(String),
    Ended,
}

/// What the keeper goes by.
#[derive(Debug, Clone)]
pub(super) struct News {
    pub(super) phase: Phase,
    pub(super) begun: Instant,
    /// The first and last frame of this attempt.
    pub(super) first: Option<Instant>,
    pub(super) last: Option<Instant>,
    pub(super) gap: Option<Duration>,
    /// Since when no frame could be decoded.
    pub(super) unusable_since: Option<Instant>,
    /// For how long the same picture has come, where that is too long.
    pub(super) frozen_for: Option<Duration>,
    pub(super) stopping: bool,
}

struct State {
    attempt: u64,
    newest: Option<Caught>,
    gap: Gap,
    news: News,
    /// Counts what the keeper should hear of.
    version: u64,
    /// Whether the keeper wants to hear of the next frame.
    awaited: bool,
}

/// The meeting place.
pub(super) struct Newest {
    state: Mutex<State>,
    for_keeper: Condvar,
    for_seer: Condvar,
    figures: Arc<Figures>,
}

impl Newest {
    pub(super) fn new(figures: Arc<Figures>) -> Self {
        let news = News {
            phase: Phase::Idle,
            begun: Instant::now(),
            first: None,
            last: None,
            gap: None,
            unusable_since: None,
            frozen_for: None,
            stopping: false,
        };
        let gap = Gap::default();
        let state = State { attempt: 0, newest: None, gap, news, version: 0, awaited: true };
        Self {
            state: Mutex::new(state),
            for_keeper: Condvar::new(),
            for_seer: Condvar::new(),
            figures,
        }
    }

    fn locked(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn tell_keeper(&self, state: &mut State) {
        state.version += 1;
        self.for_keeper.notify_all();
    }

    /// Begins a new attempt; the one before has no say any more.
    pub(super) fn begin(self: &Arc<Self>) -> Feeder {
        let mut state = self.locked();
        if state.attempt > 0 {
            self.figures.note_reconnect();
        }
        state.attempt += 1;
        let news = &mut state.news;
        (news.phase, news.begun) = (Phase::Running, Instant::now());
        (news.first, news.last, news.unusable_since) = (None, None, None);
        let attempt = state.attempt;
        self.tell_keeper(&mut state);
        Feeder { newest: Arc::clone(self), attempt }
    }

    /// Takes the word from the present attempt.
    pub(super) fn abandon(&self) {
        let mut state = self.locked();
        state.attempt += 1;
        state.news.phase = Phase::Idle;
    }

    /// Waits for the newest frame; none when no more will come.
    pub(super) fn next(&self) -> Option<Caught> {
        let mut state = self.locked();
        loop {
            if state.news.stopping {
                return None;
            }
            if let Some(caught) = state.newest.take() {
                return Some(caught);
            }
            if state.news.phase == Phase::Ended {
                return None;
            }
            state = self.for_seer.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// Whether frames can be decoded, as the last one shows.
    pub(super) fn note_usable(&self, usable: bool) {
        self.note_usable_in(&mut self.locked(), usable);
    }

    fn note_usable_in(&self, state: &mut State, usable: bool) {
        if !usable {
            self.figures.note_undecodable();
        }
        if usable == state.news.unusable_since.is_some() {
            state.news.unusable_since = (!usable).then(Instant::now);
            self.tell_keeper(state);
        }
    }

    /// For how long the same picture has come, where that is too long.
    pub(super) fn note_frozen(&self, frozen_for: Option<Duration>) {
        let mut state = self.locked();
        let changed = state.news.frozen_for.is_some() != frozen_for.is_some();
        state.news.frozen_for = frozen_for;
        if changed {
            self.tell_keeper(&mut state);
        }
    }

    /// Waits until there is news after this version, or until a time.
    pub(super) fn news_after(
        &self,
        version: u64,
        until: Option<Instant>,
        awaited: bool,
    ) -> (News, u64) {
        let mut state = self.locked();
        state.awaited = awaited;
        while state.version == version && !state.news.stopping {
            let Some(until) = until else {
                state = self.for_keeper.wait(state).unwrap_or_else(PoisonError::into_inner);
                continue;
            };
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                break;
            }
            let waited = self.for_keeper.wait_timeout(state, left);
            (state, _) = waited.unwrap_or_else(PoisonError::into_inner);
        }
        let news = News { gap: state.gap.usual(), ..state.news.clone() };
        (news, state.version)
    }

    /// Waits; tells whether the time has passed without a call to stop.
    pub(super) fn pause(&self, pause: Duration) -> bool {
        let state = self.locked();
        let waiting = |state: &mut State| !state.news.stopping;
        let waited = self.for_keeper.wait_timeout_while(state, pause, waiting);
        !waited.unwrap_or_else(PoisonError::into_inner).0.news.stopping
    }

    /// Lets all who wait here go.
    pub(super) fn stop(&self) {
        let mut state = self.locked();
        state.news.stopping = true;
        state.newest = None;
        self.tell_keeper(&mut state);
        self.for_seer.notify_all();
    }

    /// Whether somebody feeds now.
    pub(super) fn is_fed(&self) -> bool {
        self.locked().news.phase == Phase::Running
    }
}

/// One attempt's way in.
pub(super) struct Feeder {
    newest: Arc<Newest>,
    attempt: u64,
}

impl Feeder {
    /// The place, while this attempt has a say.
    fn state(&self) -> Option<MutexGuard<'_, State>> {
        let state = self.newest.locked();
        (state.attempt == self.attempt && !state.news.stopping).then_some(state)
    }

    /// Whether anybody still wants what this attempt brings.
    pub(super) fn is_wanted(&self) -> bool {
        self.state().is_some()
    }

    /// A frame came, whether it will be looked at or not. False where nobody wants any more.
    pub(super) fn arrived(&self, utc: Timestamp) -> bool {
        let Some(mut state) = self.state() else { return false };
        let now = Instant::now();
        self.newest.figures.note_frame(utc);
        if let Some(last) = state.news.last.replace(now) {
            state.gap.note(now - last);
        }
        let first = state.news.first.is_none();
        state.news.first.get_or_insert(now);
        if first || state.awaited {
            self.newest.tell_keeper(&mut state);
        }
        true
    }

    /// Puts a frame forward, in the place of one that waits.
    pub(super) fn offer(&self, caught: Caught) {
        let Some(mut state) = self.state() else { return };
        if state.newest.replace(caught).is_some() {
            self.newest.figures.note_dropped();
        }
        self.newest.for_seer.notify_all();
    }

    /// A frame could not be decoded.
    pub(super) fn undecodable(&self) {
        if let Some(mut state) = self.state() {
            self.newest.note_usable_in(&mut state, false);
        }
    }

    /// The attempt is over, and why.
    pub(super) fn fail(&self, why: String) {
        self.over(Phase::Failed(why));
    }

    /// The film has come to its end.
    pub(super) fn end(&self) {
        self.over(Phase::Ended);
    }

    fn over(&self, phase: Phase) {
        if let Some(mut state) = self.state() {
            state.news.phase = phase;
            self.newest.tell_keeper(&mut state);
            self.newest.for_seer.notify_all();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::sync::mpsc::unbounded_channel;

    fn caught(first: u8, receipt: Option<Receipt>) -> Caught {
        let frame = SourceFrame::File(vec![first]);
        Caught { frame, at: Duration::ZERO, utc: Timestamp::UNIX_EPOCH, receipt }
    }

    fn place() -> Arc<Newest> {
        Arc::new(Newest::new(Arc::default()))
    }

    #[test]
    fn the_newest_frame_wins_and_each_sender_hears_of_its_frame() {
        let newest = place();
        let feeder = newest.begin();
        let (to, mut told) = unbounded_channel();
        for number in 1..=3 {
            feeder.offer(caught(number as u8, Some(Receipt::new(number, to.clone()))));
        }
        let next = newest.next().unwrap();
        assert!(matches!(&next.frame, SourceFrame::File(bytes) if bytes == &[3]));
        next.receipt.unwrap().tell(Fate::Seen { rest: None });
        let fates: Vec<_> = std::iter::from_fn(|| told.try_recv().ok()).collect();
        let passed = Fate::PassedOver;
        assert_eq!(fates, [(1, passed.clone()), (2, passed), (3, Fate::Seen { rest: None })]);
    }

    #[test]
    fn an_abandoned_attempt_has_no_say() {
        let newest = place();
        let old = newest.begin();
        let new = newest.begin();
        old.offer(caught(1, None));
        old.fail("too late".into());
        assert!(!old.arrived(Timestamp::UNIX_EPOCH) && new.arrived(Timestamp::UNIX_EPOCH));
        new.offer(caught(2, None));
        new.end();
        assert!(matches!(newest.next().unwrap().frame, SourceFrame::File(bytes) if bytes == [2]));
        assert!(newest.next().is_none(), "what waited was seen, then it ends");
    }

    #[test]
    fn who_waits_is_let_go_at_a_stop() {
        let newest = place();
        let waiting = Arc::clone(&newest);
        let thread = std::thread::spawn(move || {
            let paused = waiting.pause(Duration::from_secs(60));
            (paused, waiting.next().is_none())
        });
        newest.stop();
        assert_eq!(thread.join().unwrap(), (false, true));
    }
}
