//! A rest that the next one shows to have been read amiss.
//!
//! In: what changed at a rest, and at the one behind it. Out: what the first should have been. Method:
//! a ball that went while the cue ball and all others lay still, and lies in its place again behind
//! the next stroke, never went: a hand or a cue hid it. Balls that came while all others lay still, and
//! are all gone again behind the next stroke, were none: knuckles, or a chalk. What was read as the cue
//! ball with some doubt, and lies there as another ball when the cue ball is put down elsewhere, was that
//! other ball, and the cue ball was gone; so it was where the very next rest shows the table racked anew, or
//! being cleared. A ball of no sure number that was new where the cue ball went, and is gone where it is
//! back behind a stroke, was the cue ball itself. And what left open whether the attempt was over is read so
//! where the next rest shows a new rack or the table being cleared: who plays on seldom stops there; and that
//! it goes on where the next rest shows one more stroke, since few play on behind a miss. Not modelled: a ball
//! taken by hand, put back in its very place and played past with no rest seen between.

use super::{Follower, reading};
use crate::{
    layout::BallKind,
    score::{
        RestSeen, ScoreEvent, Step, Story,
        change::{Change, CueBall, still},
        event::changes,
        rates,
        seen::{BallSeen, Seen},
        weigh::Verdict,
    },
    table::TablePoint,
};

/// A name of the cue ball that is less in doubt than this is right.
const DOUBTFUL: f64 = 0.02;
/// A hand passes for no more balls: more are laid out to be racked.
const A_HAND: usize = 3;
/// So sure is the name of a cue ball that was told by the next rest alone: it is asked about.
const HARDLY_THE_CUE_BALL: f64 = 0.7;
/// A ball of a layout is found again by its place.
const SAME_MM: f64 = 1.0;
/// So likely is the end of an attempt for a new rack to tell that it was over: judged well above
/// [`rates::STOPS`], since what a gap hides is known no better than that.
const LIKELIER_THAN_STOPPED: f64 = 0.05;
/// So many balls gone at once are being put away: no stroke pockets them, and hands may roll some.
const CLEARED: i64 = 5;
/// In so much doubt it is likelier another ball than that a run was stopped there.
const SERIOUS: f64 = 0.1;

/// What may be amiss about a rest.
#[derive(Debug, Clone)]
pub(super) enum Suspect {
    /// Balls that may only be hidden.
    Hidden(Vec<BallSeen>),
    /// Balls that may be none.
    Added(Vec<BallSeen>),
    /// A ball that may not be the cue ball.
    NotTheCueBall { ball: BallSeen, doubt: f64 },
    /// A ball that may be the cue ball.
    TheCueBall(BallSeen),
    /// The attempt may be over by this step, which is so likely against what was read.
    Over { step: Step, chance: f64 },
    /// It may go on by this step, with a ball that is none.
    GoesOn { step: Step, chance: f64, ball: Option<BallSeen> },
}

impl Suspect {
    /// What may be amiss about a rest that was read so; `rolled` as its layout tells it.
    pub fn of(
        verdict: &Verdict,
        change: &Change,
        now: &Seen,
        rolled: Option<bool>,
    ) -> Option<Self> {
        let in_doubt = !verdict.answers.is_empty();
        let of_reading = || {
            let (step, chance) = verdict.turns.clone()?;
            Some(if verdict.step.misses_or_scratches() {
                let ball = reading::may_be_none(change, now).copied();
                Self::GoesOn { step, chance, ball }
            } else {
                Self::Over { step, chance }
            })
        };
        Self::of_balls(change, now, (rolled, in_doubt)).or_else(of_reading)
    }

    fn of_balls(
        change: &Change,
        now: &Seen,
        (rolled, in_doubt): (Option<bool>, bool),
    ) -> Option<Self> {
        if change.cue == CueBall::Still && rolled != Some(true) {
            return match (change.left.len(), change.new.len()) {
                (1.., 0) => Some(Self::Hidden(change.left.clone())),
                (0, 1..=A_HAND) if in_doubt => Some(Self::Added(change.new.clone())),
                _ => None,
            };
        }
        if change.cue == CueBall::Gone {
            let mut unnamed = change.new.iter().filter(|ball| ball.number.is_none());
            let only = unnamed.next().filter(|_| unnamed.next().is_none());
            return only.copied().map(Self::TheCueBall);
        }
        let came = matches!(change.cue, CueBall::Moved | CueBall::Came) && change.gone() > 0;
        let doubt = now.cue_doubt;
        now.cue.filter(|_| came && doubt > DOUBTFUL).map(|ball| Self::NotTheCueBall { ball, doubt })
    }

    /// What should be read then, of the answers that there were.
    pub fn instead(&self) -> Option<&Step> {
        match self {
            Self::Over { step, .. } | Self::GoesOn { step, .. } => Some(step),
            _ => None,
        }
    }

    /// Whether the next rest shows that it was so.
    pub fn is_proved(
        &self,
        before: &Seen,
        (change, now): (&Change, &Seen),
        rest: &RestSeen,
    ) -> bool {
        let rolled = rest.layout.rolled;
        let stroke = matches!(change.cue, CueBall::Moved | CueBall::Gone);
        let is_gone = |ball: &BallSeen| change.left.iter().any(|old| still(old, ball));
        let new_rack = now.racked.is_some() && change.gone() < 0;
        let cleared = change.gone() >= CLEARED;
        // Few are left to be put away, and nothing rolls.
        let put_away = change.cue == CueBall::Gone
            && change.gone() > 0
            && change.new.is_empty()
            && rolled == Some(false);
        match self {
            Self::Over { chance, .. } => {
                // Else the attempt was stopped there.
                let stopped =
                    (new_rack || cleared) && before.racked.is_none() && before.count() > 1;
                let watched = rates::hides_none(rest.unseen_ms);
                stopped && watched && *chance > LIKELIER_THAN_STOPPED
            }
            Self::GoesOn { chance, .. } => {
                let watched = rates::hides_none(rest.unseen_ms);
                let played = change.cue == CueBall::Moved && change.stroke().is_some();
                played && watched && now.racked.is_none() && *chance > rates::PLAYS_ON
            }
            Self::Hidden(balls) => {
                let named = |old: &BallSeen, new: &BallSeen| {
                    old.number.zip(new.number).is_none_or(|(old, new)| old == new)
                };
                let is_back = |old: &BallSeen| {
                    change.new.iter().any(|new| still(old, new) && named(old, new))
                };
                stroke && balls.iter().all(is_back)
            }
            Self::Added(balls) => {
                // A single one may be put there, and be the one that is pocketed next.
                let least = balls.len().max(2);
                let all = change.gone() >= i64::try_from(least).unwrap_or(i64::MAX);
                stroke && rolled != Some(false) && all && balls.iter().all(is_gone)
            }
            Self::TheCueBall(ball) => {
                let back = change.cue == CueBall::Came && rolled != Some(false);
                back && is_gone(ball) && now.racked.is_none() && change.gone() >= 0
            }
            // A run is stopped as seldom in its middle as a cue ball so doubtful is one; at its last ball
            // the next rack is due, and so it is at none, with the cue ball in its place.
            Self::NotTheCueBall { doubt, .. } if new_rack || cleared || put_away => {
                let due = match before.count() {
                    0 => change.cue != CueBall::Moved,
                    balls => balls == 1,
                };
                *doubt > SERIOUS && !due
            }
            Self::NotTheCueBall { ball, .. } => {
                let [other] = change.new.as_slice() else { return false };
                let put_down = change.cue == CueBall::Moved && change.left.is_empty();
                put_down && rolled != Some(true) && still(ball, other)
            }
        }
    }

    /// The rest as it was; none where it shows nothing that the one before does not.
    pub fn set_right(&self, rest: &RestSeen) -> Option<RestSeen> {
        match self {
            Self::Hidden(_) | Self::Added(_) => None,
            Self::Over { .. } | Self::GoesOn { ball: None, .. } => Some(rest.clone()),
            Self::GoesOn { ball: Some(ball), .. } => without(rest, ball),
            Self::NotTheCueBall { ball, .. } => named(rest, ball, (BallKind::Object, None, 0.0)),
            Self::TheCueBall(ball) => {
                named(rest, ball, (BallKind::Cue, Some(0), HARDLY_THE_CUE_BALL))
            }
        }
    }
}

/// The rest with another name for a ball; none where that is not on it.
fn named(rest: &RestSeen, ball: &BallSeen, name: (BallKind, Option<u8>, f64)) -> Option<RestSeen> {
    let found = place_of(rest, ball)?;
    let mut rest = rest.clone();
    let ball = &mut rest.layout.balls[found];
    (ball.kind, ball.number, ball.number_confidence) = name;
    Some(rest)
}

/// The rest without a ball; none where that is not on it.
fn without(rest: &RestSeen, ball: &BallSeen) -> Option<RestSeen> {
    let found = place_of(rest, ball)?;
    let mut rest = rest.clone();
    rest.layout.balls.remove(found);
    Some(rest)
}

/// Which ball of a rest's layout it is.
fn place_of(rest: &RestSeen, ball: &BallSeen) -> Option<usize> {
    let layout = &rest.layout;
    // A layout whose foot is open may be the other way round there.
    let places = [ball.at, ball.at.turned(&layout.table)];
    let is_it = |at: TablePoint| places.iter().any(|place| place.distance_mm(at) < SAME_MM);
    layout.balls.iter().position(|ball| is_it(layout.centre_of(ball)))
}

/// A rest that may have been read amiss.
#[derive(Debug, Clone)]
pub(super) struct Aside {
    pub rest: RestSeen,
    pub suspect: Suspect,
    /// How all stood before it, without the attempts that were over.
    pub before: Box<Follower>,
    /// So many.
    pub over: usize,
}

impl Follower {
    /// Whether the next rest may show that the last one was read amiss, which can end the attempt that is
    /// over since then otherwise.
    pub fn may_reconsider(&self) -> bool {
        self.aside.is_some()
    }

    /// Whether a rest shows that the one before was read amiss.
    pub(super) fn proves(&self, aside: &Aside, rest: &RestSeen) -> bool {
        let mut facing = self.facing;
        let faced = facing.read(&rest.layout, self.before());
        let (Some(base), false) = (&self.base, faced.turn_before) else { return false };
        let mut now = faced.seen;
        now.name_after(&base.seen);
        let change = Change::between(&base.seen, &now);
        aside.suspect.is_proved(&base.seen, (&change, &now), rest)
    }

    /// Goes back to before a rest that was read amiss and takes it as it was; tells what that changes.
    pub(super) fn reconsider(&mut self, aside: Aside) -> Vec<ScoreEvent> {
        let Aside { rest, suspect, before, over } = aside;
        let Story { mut attempts, questions } = std::mem::replace(self, *before).story;
        let told = Story { attempts: attempts.split_off(over), questions };
        self.put_before(attempts);
        match suspect.set_right(&rest) {
            Some(rest) => {
                self.enter(&rest, None, suspect.instead());
                self.doubts.set_right();
            }
            None => self.unseen_ms = self.unseen_ms.max(rest.unseen_ms),
        }
        let asked = told.questions.iter().chain(&self.story.questions);
        for id in asked.filter_map(|question| question.attempt).collect::<Vec<_>>() {
            self.story.judge(id);
        }
        let now = Story {
            attempts: self.story.attempts.get(over..).unwrap_or_default().to_vec(),
            questions: self.story.questions.clone(),
        };
        changes(&told, &now)
    }
}
