//! Candidate steps between two rests, weighed against each other.
//!
//! Each phase of the game lists what can have happened with a weight: how often it happens
//! ([`rates`](super::rates)) times how well it explains the change. Candidates that mean the same
//! for the score are taken together. The heaviest is the reading; where another is within
//! 1 : 150, the user is asked, with at most three answers. Nothing that fits at all degenerates to
//! a question as well.

use super::{
    Answer, Cause, Step, Whence,
    change::{Change, CueBall},
    missed::Missed,
    rates,
    seen::{BallSeen, Seen},
};

/// A runner-up nearer than this, in units of the natural logarithm, is asked about: 1 : 150.
const ASK_WITHIN: f64 = 5.0;
/// What is farther off than this is no answer.
const ANSWER_WITHIN: f64 = 8.0;
const ANSWERS: usize = 3;

/// What the weighing looks at.
#[derive(Clone, Copy)]
pub(super) struct Situation<'a> {
    pub before: &'a Seen,
    pub now: &'a Seen,
    pub change: &'a Change,
    pub elapsed: rates::Elapsed,
    /// Whether balls were seen to roll to the rest.
    pub rolled: bool,
    /// What may have been missed in between.
    pub missed: Missed,
    /// The chance that a new attempt began in between.
    pub renewed: f64,
    /// The chance that a rack now is a later one of an attempt that began in between.
    pub rack_played: f64,
    /// Balls taken by hand and not back yet.
    pub taken: u32,
    /// The shot just before.
    pub last: &'a LastShot,
    /// The rest before, where the one compared with is still the closing layout.
    pub laid: Option<&'a Seen>,
}

/// The shot just before, for a ball that comes back.
#[derive(Debug, Clone, Default)]
pub(super) struct LastShot {
    /// The rest behind it, where it was read as one shot.
    pub rest: Option<i64>,
    pub potted: u32,
    /// How many of them went at one stroke, at least.
    pub at_once: u32,
    /// Whether the cue ball moved.
    pub stroke: bool,
    /// The balls that left their places.
    pub vanished: Vec<BallSeen>,
}

impl LastShot {
    /// So many shots with so many balls pocketed, and what changed with them.
    pub fn of((shots, potted): (u32, u32), rest: Option<i64>, change: Option<&Change>) -> Self {
        let at_once = (potted + 1).saturating_sub(shots);
        let stroke = change.is_some_and(|change| change.cue != CueBall::Still);
        let vanished = change.map(|change| change.left.clone()).unwrap_or_default();
        Self { rest, potted, at_once, stroke, vanished }
    }

    /// Whether one of the balls that are new now may be one of several that were taken as pocketed
    /// at once then, whatever the numbers say.
    pub fn may_be_back(&self, change: &Change) -> bool {
        self.at_once > 1 && !change.new.is_empty()
    }
}

/// Candidates with their weights.
#[derive(Default)]
pub(super) struct Candidates(Vec<(Step, f64)>);

/// What came out: the reading and, if it is in doubt, the answers with the reading first.
pub(super) struct Verdict {
    pub step: Step,
    pub answers: Vec<Answer>,
    /// Whether it is in doubt for the second answer alone.
    pub for_one: bool,
    /// The answer by which the attempt is over where it goes on by the reading, or the other way round, and how
    /// likely that is against the reading.
    pub turns: Option<(Step, f64)>,
}

impl Verdict {
    /// A reading beyond doubt.
    pub fn plain(step: Step) -> Self {
        Self { step, answers: Vec::new(), for_one: false, turns: None }
    }

    /// The same in doubt, with one of the other answers as the reading.
    #[must_use]
    pub fn preferring(mut self, step: &Step) -> Self {
        if let Some(at) = self.answers.iter().position(|answer| answer.step == *step) {
            let answer = self.answers.remove(at);
            self.step = answer.step.clone();
            self.answers.insert(0, answer);
            (self.for_one, self.turns) = (false, None);
        }
        self
    }

    /// Whether all that makes a scratch doubtful is that the cue ball may have been cleared away.
    pub fn is_scratch_or_cleared(&self) -> bool {
        let cleared = self.answers.get(1).is_some_and(|answer| answer.step == Step::Stopped);
        self.step == Step::Scratch && self.for_one && cleared
    }
}

impl Candidates {
    pub fn add(&mut self, step: Step, weight: f64) {
        if weight > 0.0 {
            self.0.push((step, weight));
        }
    }

    /// Takes in what can have happened if the layout is another one, which it is as often as `part`.
    pub fn join(&mut self, others: Self, part: f64) {
        for (_, weight) in &mut self.0 {
            *weight *= 1.0 - part;
        }
        for (step, weight) in others.0 {
            self.add(step, part * weight);
        }
    }

    /// Weighs in whether balls were seen to roll before the rest, with nobody over the table.
    pub fn seen_to_roll(&mut self, rolled: bool) {
        for (step, weight) in &mut self.0 {
            *weight *= rates::seen_to_roll(rolled, step.is_stroke());
        }
    }

    pub fn verdict(self) -> Verdict {
        let meanings = self.by_meaning();
        let Some((step, best)) = meanings.first().cloned() else {
            return Verdict::plain(Step::SettingUp);
        };
        let behind = |weight: f64| (best / weight).ln();
        let doubtful = |place: usize| {
            meanings.get(place).is_some_and(|(_, weight)| behind(*weight) < ASK_WITHIN)
        };
        let for_one = doubtful(1) && !doubtful(2);
        let answers = if doubtful(1) {
            let near = meanings.iter().filter(|(_, weight)| behind(*weight) < ANSWER_WITHIN);
            near.take(ANSWERS).map(|(step, _)| answer(step.clone())).collect()
        } else {
            Vec::new()
        };
        let is_answer = |step: &Step| answers.iter().any(|answer| answer.step == *step);
        let over = step.misses_or_scratches();
        let other_way = |step: &Step| if over { step.pots() } else { step.misses_or_scratches() };
        let found = meanings.iter().find(|(step, _)| other_way(step) && is_answer(step));
        let turns = found.map(|(step, weight)| (step.clone(), weight / best));
        Verdict { step, answers, for_one, turns }
    }

    /// What means the same for the score taken together, under its heaviest step; the heaviest first.
    fn by_meaning(mut self) -> Vec<(Step, f64)> {
        let heaviest_first = |a: &(Step, f64), b: &(Step, f64)| b.1.total_cmp(&a.1);
        self.0.sort_by(heaviest_first);
        let mut meanings: Vec<(Step, f64)> = Vec::new();
        for (step, weight) in self.0 {
            match meanings.iter_mut().find(|(other, _)| effect(other) == effect(&step)) {
                Some((_, sum)) => *sum += weight,
                None => meanings.push((step, weight)),
            }
        }
        meanings.sort_by(heaviest_first);
        meanings
    }
}

impl Step {
    /// Whether a stroke brought the balls to where they lie, or hands did; none where it may have been
    /// either.
    fn is_stroke(&self) -> Option<bool> {
        match self {
            Self::Shot { .. } | Self::Miss | Self::Scratch | Self::BallOffTable => Some(true),
            Self::Several { .. } | Self::AttemptOn { .. } => Some(true),
            Self::SettingUp | Self::OpeningRack | Self::ReRack => Some(false),
            Self::ByHand | Self::Stopped | Self::Practice => Some(false),
            Self::Same | Self::NoRest | Self::CameBack { .. } => None,
        }
    }
}

/// What a step does to the score, and no more.
fn effect(step: &Step) -> (u8, u32, u32, Option<Cause>) {
    let scored = |potted, re_racks, ended| (0, potted, re_racks, ended);
    match step {
        Step::Same | Step::SettingUp | Step::ByHand | Step::NoRest => scored(0, 0, None),
        Step::ReRack => scored(0, 1, None),
        Step::Shot { potted } => scored(*potted, 0, None),
        Step::Miss => scored(0, 0, Some(Cause::Miss)),
        Step::Scratch => scored(0, 0, Some(Cause::Scratch)),
        Step::BallOffTable => scored(0, 0, Some(Cause::Foul)),
        Step::Stopped | Step::Practice => scored(0, 0, Some(Cause::Stopped)),
        Step::Several { potted, re_racks, ended, .. } => scored(*potted, *re_racks, *ended),
        Step::OpeningRack => (1, 0, 0, None),
        Step::AttemptOn { run, ended } => (2, *run, 0, *ended),
        Step::CameBack { balls, whence: Whence::LeftTable } => (3, *balls, 0, None),
        Step::CameBack { balls, whence: Whence::NeverGone } => (4, *balls, 0, None),
        Step::CameBack { .. } => scored(0, 0, None),
    }
}

/// An answer with its words.
pub(super) fn answer(step: Step) -> Answer {
    Answer { text: step.words(), step }
}

impl Step {
    /// For the user.
    pub fn words(&self) -> String {
        let end = |ended: &Option<Cause>| match ended {
            None => "the run goes on",
            Some(Cause::Miss) => "then a miss",
            Some(Cause::Scratch) => "then a scratch",
            Some(Cause::Foul) => "then a foul",
            Some(Cause::Stopped) => "then I stopped",
            Some(Cause::Unseen) => "then it ended",
        };
        match self {
            Step::Same => "Nothing happened".into(),
            Step::SettingUp => "Setting up, nothing counts".into(),
            Step::OpeningRack => "A new attempt begins".into(),
            Step::ReRack => "Racked again, the run goes on".into(),
            Step::Shot { potted } => format!("{potted} pocketed, the run goes on"),
            Step::Miss => "A miss".into(),
            Step::Scratch => "A scratch".into(),
            Step::BallOffTable => "A ball left the table".into(),
            Step::CameBack { whence: Whence::LeftTable, .. } => {
                "It had left the table: a foul".into()
            }
            Step::CameBack { whence: Whence::NeverGone, .. } => "It had not been pocketed".into(),
            Step::CameBack { .. } => "It counts, I put it back".into(),
            Step::ByHand => "By hand, nothing counts".into(),
            Step::Several { potted, re_racks: 0, ended, .. } => {
                format!("{potted} pocketed, {}", end(ended))
            }
            Step::Several { potted, ended, .. } => {
                format!("{potted} pocketed with racking again, {}", end(ended))
            }
            Step::AttemptOn { run, ended: None } => format!("An attempt is on, its run is {run}"),
            Step::AttemptOn { run, ended } => {
                format!("A new attempt: {run} pocketed, {}", end(ended))
            }
            Step::Stopped => "I stopped".into(),
            Step::Practice => "Practice, nothing counts".into(),
            Step::NoRest => "The table was not at rest".into(),
        }
    }
}
