//! The fold from rests to the story.
//!
//! Each rest is compared with the one that the state stands on, the candidates of the phase are
//! weighed, and the heaviest step is applied; the user's word replaces the weighing. What a step
//! does depends on the step alone; the layout only tells the phase that follows. A rest costs a
//! few hundred distances, whatever went before.

mod hindsight;
mod noted;
mod reading;

use super::{
    Answer, Cause, Correction, Placed, Placing, RestSeen, ScoreEvent, Step, Story, Whence, ask,
    book::Book,
    change::{Change, CueBall, still},
    closing::Fit,
    doubts::{self, Doubts, LaterRest},
    facing::Facing,
    idle::Idle,
    pace::Pace,
    placing, racked, rates,
    scratched::{Later, Scratched},
    seen::{BallSeen, Seen},
    weigh::{LastShot, Verdict, answer},
};
use hindsight::{Aside, Suspect};
use std::collections::HashMap;

/// More racks than this are not played between two rests.
const RACKS_AT_MOST: u32 = 100;

/// Where the game stands.
#[derive(Debug, Clone, Copy)]
enum Phase {
    Idle(Idle),
    /// Racked, and no shot played at it.
    Racked,
    Play,
    /// One object ball or none is left: the rack is due.
    Closing {
        /// The rest that shows the closing layout, where one does.
        rest: Option<i64>,
    },
}

/// What the next rest is compared with.
#[derive(Debug, Clone)]
struct Base {
    seen: Seen,
    at_unix_ms: i64,
    /// Whether the same was told before: somebody came by, or did something else.
    again: bool,
}

/// Follows rests, one after the other, into the story.
#[derive(Debug, Clone)]
pub struct Follower {
    story: Story,
    phase: Phase,
    base: Option<Base>,
    /// The longest time not watched since the base.
    unseen_ms: u64,
    facing: Facing,
    /// Object balls taken by hand and not back yet.
    taken: u32,
    /// Where the cue ball lay when it was lifted.
    lifted: Option<BallSeen>,
    last_shot: LastShot,
    pace: Pace,
    /// The last thing that happened, if it was a scratch beyond doubt.
    scratched: Option<Scratched>,
    doubts: Doubts,
    /// The rest before, where balls are laid out behind a closing layout.
    laid: Option<Seen>,
    /// The rest taken before.
    last_rest: Option<i64>,
    /// What may be amiss about that rest, and how all stood before it.
    aside: Option<Aside>,
}

impl Default for Follower {
    fn default() -> Self {
        Self::new()
    }
}

impl Follower {
    pub fn new() -> Self {
        Self {
            story: Story::default(),
            phase: Phase::Idle(Idle::Fresh),
            base: None,
            unseen_ms: 0,
            facing: Facing::default(),
            taken: 0,
            lifted: None,
            last_shot: LastShot::default(),
            pace: Pace::default(),
            scratched: None,
            doubts: Doubts::default(),
            laid: None,
            last_rest: None,
            aside: None,
        }
    }

    /// What is known so far.
    pub fn story(&self) -> &Story {
        &self.story
    }

    /// What is known, where nothing more is to follow.
    pub fn into_story(self) -> Story {
        self.story
    }

    /// Takes the next rest, with the user's word about the step into it, and tells what follows.
    ///
    /// A rest whose layout is obstructed, or of which the user says that it was none, is left out
    /// and brings no event. Where a rest shows that the one before was read amiss, what is told of it is
    /// followed by what changes with that.
    pub fn take(&mut self, rest: &RestSeen, correction: Option<&Step>) -> Vec<ScoreEvent> {
        let none = matches!(correction, Some(Step::NoRest));
        if none || (correction.is_none() && rest.layout.obstructed) {
            self.unseen_ms = self.unseen_ms.max(rest.unseen_ms);
            return Vec::new();
        }
        let aside = self.aside.take();
        let proved = aside.filter(|aside| correction.is_none() && self.proves(aside, rest));
        let changed = proved.map(|aside| self.reconsider(aside)).unwrap_or_default();
        let mut events = self.enter(rest, correction, None);
        // Behind the rest itself, and before what it adds to the score as it is now.
        events.splice(1..1, changed);
        events
    }

    /// Takes a rest that is not left out. In doubt it prefers the given step.
    fn enter(
        &mut self,
        rest: &RestSeen,
        correction: Option<&Step>,
        prefers: Option<&Step>,
    ) -> Vec<ScoreEvent> {
        self.unseen_ms = self.unseen_ms.max(rest.unseen_ms);
        let mut now = self.look(rest);
        if let Some(before) = self.before() {
            now.name_after(before);
        }
        let change = self.base.as_ref().map(|base| Change::between(&base.seen, &now));
        let rolled = rest.layout.rolled;
        let (verdict, idle) = match correction {
            Some(step) => (Verdict::plain(step.clone()), Idle::Over),
            None => self.weigh(rest, &now, change.as_ref()),
        };
        let verdict = match prefers {
            Some(step) => verdict.preferring(step),
            None => verdict,
        };
        let suspect =
            change.as_ref().and_then(|change| Suspect::of(&verdict, change, &now, rolled));
        let aside = suspect.filter(|_| correction.is_none()).map(|suspect| {
            let (over, before) = self.without_those_over();
            Aside { rest: rest.clone(), suspect, before: Box::new(before), over }
        });
        if verdict.answers.is_empty() && correction.is_none() && verdict.step.is_one_stroke() {
            self.learn_pace(rest);
        }
        let mut story = std::mem::take(&mut self.story);
        let mut book = Book::open(&mut story, rest);
        let perhaps_cleared = verdict.is_scratch_or_cleared();
        let step = verdict.step;
        let sure = verdict.answers.is_empty();
        self.settle(&step, sure, change.as_ref(), &now, &mut book);
        self.doubt_scratch(change.as_ref(), &now, &mut book);
        if let Some(change) =
            change.as_ref().filter(|_| step == Step::Scratch && (sure || perhaps_cleared))
        {
            self.scratched = match correction {
                Some(_) => None,
                None => self.scratch_read(change, &mut book),
            };
        }
        self.apply(&step, &now, change.as_ref(), &mut book);
        self.remember(correction.is_none().then_some(rest.id), &step, change.as_ref());
        self.proceed(&step, idle, now, change.as_ref(), &mut book);
        if !sure {
            self.ask(&step, verdict.answers, change.as_ref(), &mut book);
        }
        if perhaps_cleared {
            self.doubts.cleared_perhaps(rest.id);
        }
        self.last_rest = Some(rest.id);
        let events = book.close(step);
        self.story = story;
        self.aside = aside;
        events
    }

    /// Whether balls may be laid out, racked and placed now: no rack is being played.
    pub fn may_set_up(&self) -> bool {
        !matches!(self.phase, Phase::Play)
    }

    /// How the last ball and the cue ball lie at a rest that is about to be taken, against what the
    /// rule of the re-rack asks. None unless the closing layout was seen and this rest shows the
    /// table racked behind it.
    pub fn placed(&self, rest: &RestSeen) -> Option<Placed> {
        let Phase::Closing { rest: Some(_) } = self.phase else { return None };
        let mut facing = self.facing;
        let faced = facing.read(&rest.layout, self.before());
        let (mut closing, mut before) = (self.base.as_ref()?.seen.clone(), self.before()?.clone());
        if faced.turn_before {
            closing.turn();
            before.turn();
        }
        let mut now = faced.seen;
        now.name_after(&before);
        now.racked?;
        let fit = Fit::of(&closing, &now, &Change::between(&closing, &now), true);
        Some(Placed { last_ball: fit.last, cue_ball: fit.cue })
    }

    /// The layout just before.
    fn before(&self) -> Option<&Seen> {
        self.laid.as_ref().or(self.base.as_ref().map(|base| &base.seen))
    }

    /// The layout, the right way round.
    fn look(&mut self, rest: &RestSeen) -> Seen {
        let mut facing = self.facing;
        let faced = facing.read(&rest.layout, self.before());
        self.facing = facing;
        if faced.turn_before {
            let table = faced.seen.table;
            let base = self.base.as_mut().map(|base| &mut base.seen);
            base.into_iter().chain(&mut self.laid).for_each(Seen::turn);
            for ball in self.lifted.iter_mut().chain(&mut self.last_shot.vanished) {
                ball.at = ball.at.turned(&table);
            }
        }
        faced.seen
    }

    /// What is kept of a scratch for later rests to doubt. Behind two balls at one shot it can be
    /// that one of them was not read and has gone, or been found, only now.
    fn scratch_read(&self, change: &Change, book: &mut Book) -> Option<Scratched> {
        let (attempt, last) = (book.before?, &self.last_shot);
        let potted = last.potted;
        if let Some(rest) = last.rest.filter(|_| last.may_be_back(change)) {
            let answers = [potted, potted - 1].map(|potted| answer(Step::Shot { potted })).to_vec();
            book.ask_about(rest, Some(attempt), ask::BALL_IS_BACK.into(), answers);
        }
        Scratched::new(book.rest.id, attempt, &self.base.as_ref()?.seen, change)
    }

    /// Asks about a scratch that this rest makes doubtful.
    fn doubt_scratch(&mut self, change: Option<&Change>, now: &Seen, book: &mut Book) {
        let Some(scratched) = &mut self.scratched else { return };
        let Some(change) = change else { return };
        match scratched.later(change, now) {
            Later::Nothing => {}
            Later::Scratch => self.scratched = None,
            Later::Perhaps(step) => {
                let answers = [Step::Scratch, step].map(answer).to_vec();
                let (rest, attempt) = (scratched.rest, scratched.attempt);
                book.ask_about(rest, Some(attempt), ask::CUE_IS_BACK.into(), answers);
                self.scratched = None;
            }
        }
    }

    /// Closes what this rest makes idle.
    fn settle(
        &mut self,
        step: &Step,
        sure: bool,
        change: Option<&Change>,
        now: &Seen,
        book: &mut Book,
    ) {
        let Some(change) = change else { return };
        let cue_back = change.cue == CueBall::Came
            && self.lifted.zip(now.cue).is_some_and(|(old, new)| still(&old, &new));
        let back = u32::try_from(-change.gone()).unwrap_or(0);
        let attempt = book.going_on();
        let later = LaterRest {
            step,
            sure,
            cue_put_down: change.cue == CueBall::Came && change.untouched() && now.count() > 1,
            cue_ball_known: self
                .base
                .as_ref()
                .and_then(|base| base.seen.cue)
                .is_some_and(|cue| doubts::is_cue_ball(&cue, step, (change, now))),
            all_back: cue_back || (self.taken > 0 && back == self.taken),
            renewed: rates::renewed(self.unseen_ms) > 0.0,
            rest_before: self.last_rest,
            attempt: attempt.as_deref(),
        };
        for rest in self.doubts.settled(&later) {
            book.settle(rest);
        }
    }

    /// Enters a step into the story.
    fn apply(&mut self, step: &Step, now: &Seen, change: Option<&Change>, book: &mut Book) {
        let closing = match self.phase {
            Phase::Closing { rest } => rest,
            Phase::Idle(_) | Phase::Racked | Phase::Play => None,
        };
        let numbers = || change.map(Change::numbers_gone).unwrap_or_default();
        match step {
            Step::Same | Step::SettingUp | Step::ByHand | Step::NoRest => {}
            Step::OpeningRack => {
                book.end(Cause::Stopped);
                book.begin(true, 0);
            }
            Step::ReRack => book.re_rack(closing, now.racked.is_some()),
            Step::Shot { potted } => {
                if book.going_on().is_none() {
                    book.begin(false, 0);
                }
                book.shot(*potted, 1, numbers());
            }
            Step::Miss => {
                book.shot(0, 1, Vec::new());
                book.end(Cause::Miss);
            }
            Step::Scratch => {
                book.shot(0, 1, Vec::new());
                book.end(Cause::Scratch);
            }
            Step::BallOffTable => {
                book.shot(0, 1, Vec::new());
                book.end(Cause::Foul);
            }
            Step::CameBack { balls, whence } => self.came_back(*balls, *whence, book),
            Step::Several { shots, potted, re_racks, ended } => {
                // No more racks than the balls allow, nor than a gap can hold, whatever is said.
                for again in 0..(*re_racks).min(potted / 14 + 1).min(RACKS_AT_MOST) {
                    let last = again + 1 == *re_racks && now.racked.is_some();
                    book.re_rack(closing.filter(|_| again == 0), last);
                }
                book.shot(*potted, *shots, Vec::new());
                if let Some(cause) = ended {
                    book.end(*cause);
                }
            }
            Step::AttemptOn { run, ended } => {
                book.end(Cause::Unseen);
                book.begin(*run == 0 && now.racked.is_some(), *run);
                if let Some(cause) = ended {
                    book.end(*cause);
                }
            }
            Step::Stopped | Step::Practice => book.end(Cause::Stopped),
        }
    }

    /// Moves on to the phase that follows and to what the next rest is compared with.
    fn proceed(
        &mut self,
        step: &Step,
        idle: Idle,
        mut now: Seen,
        change: Option<&Change>,
        book: &mut Book,
    ) {
        let on = book.going_on().map(|attempt| attempt.id);
        let stays = matches!(step, Step::Same | Step::SettingUp);
        let played_out = matches!(step, Step::Several { re_racks: 0, .. })
            && change.is_some_and(|change| change.gone() < 0);
        if on != book.before {
            self.doubts = Doubts::default();
        }
        match on {
            None => self.phase = Phase::Idle(idle),
            Some(_) if stays || *step == Step::ByHand && now.count() <= 1 => {}
            Some(_) if now.racked.is_some() => self.phase = Phase::Racked,
            Some(_) if played_out => {
                // The closing layout was not seen: of its last ball is known at most where it lies.
                let new = change.map(|change| change.new.as_slice()).unwrap_or_default();
                now.objects.retain(|ball| !new.contains(ball));
                now.objects.truncate(1);
                self.phase = Phase::Closing { rest: None };
            }
            Some(id) if now.count() <= 1 => self.close_rack(id, &now, book),
            Some(_) => self.phase = Phase::Play,
        }
        // While balls are laid out the closing layout stays what is compared with.
        let laying = stays && matches!(self.phase, Phase::Closing { .. });
        self.laid = laying.then(|| now.clone());
        if !(laying || self.is_misread(&now, change)) {
            let again = *step == Step::Same;
            self.base = Some(Base { seen: now, at_unix_ms: book.rest.at_unix_ms, again });
            self.unseen_ms = 0;
        }
    }

    /// Whether the rest before is the better one to go on from: this one shows a rack that lacks a
    /// ball.
    fn is_misread(&self, now: &Seen, change: Option<&Change>) -> bool {
        let (Some(base), Some(change)) = (&self.base, change) else { return false };
        let racked = matches!(self.phase, Phase::Racked) && now.racked.is_none();
        racked && racked::lacks_few(&base.seen, change)
    }

    /// One object ball or none is left: tells the player what has to be placed.
    fn close_rack(&mut self, attempt: u32, now: &Seen, book: &mut Book) {
        let last = now.objects.first().map(|ball| ball.at);
        let asked = now.cue.map_or(Placing::STAY, |cue| placing(last, cue.at, &now.table));
        self.phase = Phase::Closing { rest: Some(book.rest.id) };
        if asked.applies() {
            let (rest, words) = (book.rest.id, asked.words());
            book.events.push(ScoreEvent::Placing { rest, attempt, placing: asked, words });
        }
    }

    /// Keeps what the next weighing needs of this step.
    fn remember(&mut self, rest: Option<i64>, step: &Step, change: Option<&Change>) {
        match step {
            Step::Same | Step::SettingUp => {}
            Step::ByHand => {
                let gone = change.map_or(0, Change::gone);
                let balls = u32::try_from(gone.unsigned_abs()).unwrap_or(u32::MAX);
                self.taken = if gone > 0 {
                    self.taken.saturating_add(balls)
                } else {
                    self.taken.saturating_sub(balls)
                };
                self.lifted = match change.map(|change| change.cue) {
                    Some(CueBall::Gone) => self.base.as_ref().and_then(|base| base.seen.cue),
                    Some(CueBall::Absent) => self.lifted,
                    _ => None,
                };
            }
            Step::Shot { potted } => {
                self.last_shot = LastShot::of((1, *potted), rest, change);
            }
            Step::Several { shots, potted, ended: None, .. } => {
                self.last_shot = LastShot::of((*shots, *potted), None, change);
            }
            _ => {
                self.last_shot = LastShot::default();
                self.taken = 0;
                self.lifted = None;
            }
        }
    }

    /// Balls counted as pocketed are on the table again.
    fn came_back(&self, balls: u32, whence: Whence, book: &mut Book) {
        match whence {
            Whence::Pocketed => {}
            Whence::LeftTable => {
                book.take_back(balls);
                book.end(Cause::Foul);
            }
            Whence::NeverGone => {
                if book.take_back(balls) == 0 && self.last_shot.stroke {
                    book.end(Cause::Miss);
                }
            }
        }
    }

    /// Opens the question about this rest, unless it stands already.
    fn ask(&mut self, step: &Step, answers: Vec<Answer>, change: Option<&Change>, book: &mut Book) {
        let rest = book.rest.id;
        let watched = rates::renewed(book.rest.unseen_ms) <= 0.0 && step.pots();
        let others_end = answers.iter().skip(1).all(|answer| answer.step.misses_or_scratches());
        if watched && matches!(self.phase, Phase::Play) && others_end {
            self.doubts.ended_perhaps(rest, book.going_on().as_deref());
        }
        let others = answers.iter().skip(1);
        if step.pots() && others.clone().all(|answer| answer.step.scratches()) {
            self.doubts.mistaken_perhaps(rest);
        }
        let between_attempts = matches!(self.phase, Phase::Idle(_));
        let no_stroke = change.is_some_and(|change| change.cue == CueBall::Still);
        if self.doubts.keep(rest, step, between_attempts, no_stroke) {
            let text = ask::text(change, book.rest.unseen_ms);
            book.ask(book.before.or(book.concerned), text, answers);
        }
    }
}

/// The story of all rests, in order, with all corrections, oldest first.
pub fn follow<'a>(
    rests: impl IntoIterator<Item = &'a RestSeen>,
    corrections: &[Correction],
) -> Story {
    let mut said: HashMap<i64, &Step> = HashMap::new();
    for correction in corrections {
        match &correction.says {
            Some(step) => said.insert(correction.rest, step),
            None => said.remove(&correction.rest),
        };
    }
    let mut follower = Follower::new();
    for rest in rests {
        follower.take(rest, said.get(&rest.id).copied());
    }
    follower.story
}
