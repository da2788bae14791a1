//! The reading of a rest: what can have happened since the one that it is compared with, weighed.
//!
//! In: the state, the rest, what changed. Out: the verdict. Method: the candidates of the phase, joined by
//! those of the layout as it is if a doubtful ball is another or none, and by whether balls were seen to
//! roll.

use super::{Follower, Phase};
use crate::score::{
    RestSeen, Step,
    change::Change,
    closing,
    idle::{self, Idle},
    missed::{Missed, Way},
    play, racked, rates,
    seen::{BallSeen, Seen},
    weigh::{Candidates, Situation, Verdict},
};

/// A doubt about the cue ball that is seldom worth a second weighing.
const SMALL_DOUBT: f64 = 0.25;
/// So doubtful a ball where none lay before may be none: of 48 so doubtful four were a shadow or a hand.
const BALL_DOUBT: f64 = 0.02;

impl Follower {
    /// The reading, and what is known of attempts if none is on after it.
    pub(super) fn weigh(
        &self,
        rest: &RestSeen,
        now: &Seen,
        change: Option<&Change>,
    ) -> (Verdict, Idle) {
        let (Some(base), Some(change)) = (&self.base, change) else {
            let (candidates, idle) = idle::at_start(now);
            return (candidates.verdict(), idle);
        };
        let same_idle = match self.phase {
            Phase::Idle(idle) => idle,
            Phase::Racked | Phase::Play | Phase::Closing { .. } => Idle::Over,
        };
        if change.nothing() || change.same_places {
            return (Verdict::plain(Step::Same), same_idle);
        }
        let elapsed = rates::Elapsed::between(base.at_unix_ms, rest.at_unix_ms);
        let rolled = rest.layout.rolled;
        let missed = Missed::on(&Way {
            unseen_ms: self.unseen_ms,
            elapsed,
            rolled,
            lost_rolling_ms: rest.layout.lost_rolling_ms,
            played_for_ms: self.played_for_ms(elapsed).filter(|_| now.racked.is_none()),
            pace: &self.pace,
            pots: change.gone() > 0,
        });
        let at = Situation {
            before: &base.seen,
            now,
            change,
            elapsed,
            rolled: rolled == Some(true),
            missed,
            renewed: rates::renewed(self.unseen_ms),
            rack_played: rates::rack_played(self.unseen_ms),
            taken: self.taken,
            last: &self.last_shot,
            laid: self.laid.as_ref(),
        };
        let (mut candidates, idle) = self.candidates(&at);
        let stroke = matches!(self.phase, Phase::Racked | Phase::Play);
        let part = rates::cue_mistaken(now.cue_doubt);
        // A small doubt counts only where few shots pocket as many as went: a striped ball taken for the
        // cue ball is missing among the others.
        if stroke && (part > SMALL_DOUBT || (part > 0.0 && change.gone() > 1)) {
            self.join(&mut candidates, &at, (&now.with_cue_as_object(), part));
        }
        if let Some(ball) = may_be_none(change, now).filter(|_| stroke) {
            self.join(&mut candidates, &at, (&now.without(ball), ball.doubt));
        }
        // Balls that rolled to this very rest did so last, whatever was not watched before; that none
        // were seen to tells nothing where not all was watched.
        let told = |rolled: &bool| *rolled || rates::saw_all(self.unseen_ms);
        if let Some(rolled) = rolled.filter(told) {
            candidates.seen_to_roll(rolled);
        }
        (candidates.verdict(), idle)
    }

    /// Learns how long a shot took that was watched from the rest before.
    pub(super) fn learn_pace(&mut self, rest: &RestSeen) {
        let Some(base) = &self.base else { return };
        let elapsed = rates::Elapsed::between(base.at_unix_ms, rest.at_unix_ms);
        let watched = rates::hides_none(self.unseen_ms);
        if let Some(ms) = self.played_for_ms(elapsed).filter(|_| watched) {
            self.pace.learn(ms);
        }
    }

    /// The time since the rest before, where nothing but playing on fills it.
    fn played_for_ms(&self, elapsed: rates::Elapsed) -> Option<f64> {
        let plays = matches!(self.phase, Phase::Play);
        let at_once = self.base.as_ref().is_some_and(|base| !base.again);
        elapsed.ms().filter(|_| plays && at_once)
    }

    /// Joins what can have happened if the layout is another one, which it is as often as `part`.
    fn join(&self, candidates: &mut Candidates, at: &Situation, (other, part): (&Seen, f64)) {
        let change = Change::between(at.before, other);
        let (others, _) = self.candidates(&Situation { now: other, change: &change, ..*at });
        candidates.join(others, part);
    }

    fn candidates(&self, at: &Situation) -> (Candidates, Idle) {
        match self.phase {
            Phase::Idle(idle) => idle::candidates(at, idle),
            Phase::Racked => (racked::candidates(at, self.sets_up_freely()), Idle::Over),
            Phase::Play => (play::candidates(at), Idle::Over),
            Phase::Closing { rest } => (closing::candidates(at, rest.is_some()), Idle::Over),
        }
    }

    /// Before an attempt's first shot the player places what they like.
    fn sets_up_freely(&self) -> bool {
        self.story.going_on().is_some_and(|attempt| attempt.shots.is_empty())
    }
}

/// The ball that is new and least surely one, where it is in doubt.
pub(super) fn may_be_none<'a>(change: &'a Change, now: &Seen) -> Option<&'a BallSeen> {
    let unsure = change.new.iter().max_by(|a, b| a.doubt.total_cmp(&b.doubt));
    // What stands in its place in a rack is no shadow.
    unsure.filter(|ball| now.racked.is_none() && ball.doubt > BALL_DOUBT)
}
