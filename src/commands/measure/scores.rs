//! The attempts of a made-up session beside those that were told.

use serde::Serialize;
use stillcloth::{
    score::{Attempt, Cause, Story},
    staged::session::{AttemptTruth, Cause as TrueCause, SessionTruth},
};

/// An attempt that was played, and what was told of it.
#[derive(Serialize)]
pub struct Scored {
    attempt: usize,
    from_s: f64,
    pub run: usize,
    racks: usize,
    cause: TrueCause,
    pub all_seen: bool,
    /// None where no attempt was told.
    pub told_run: Option<usize>,
    told_racks: usize,
    told_cause: Option<Cause>,
    /// Whether anything about it was left open.
    asked: bool,
}

/// How an attempt was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    Right,
    AskedRight,
    AskedWrong,
    SilentlyWrong,
}

impl Scored {
    pub fn end_is_right(&self) -> bool {
        match self.cause {
            TrueCause::Miss => self.told_cause == Some(Cause::Miss),
            TrueCause::Scratch => self.told_cause == Some(Cause::Scratch),
            // Where the film ends with the attempt, nobody has racked anew.
            TrueCause::Stop => {
                self.told_run.is_some() && matches!(self.told_cause, None | Some(Cause::Stopped))
            }
        }
    }

    pub fn is_right(&self) -> bool {
        self.told_run == Some(self.run) && self.told_racks == self.racks && self.end_is_right()
    }

    pub fn verdict(&self) -> Verdict {
        match (self.is_right(), self.asked) {
            (true, false) => Verdict::Right,
            (true, true) => Verdict::AskedRight,
            (false, true) => Verdict::AskedWrong,
            (false, false) => Verdict::SilentlyWrong,
        }
    }

    /// True and told, in one line.
    pub fn in_words(&self) -> String {
        let told = self.told_run.map_or("not told".into(), |run| {
            format!("told: run {run} in {} racks, {:?}", self.told_racks, self.told_cause)
        });
        format!(
            "attempt {} from {:.0} s: run {} in {} racks, {:?}; {told}{}",
            self.attempt,
            self.from_s,
            self.run,
            self.racks,
            self.cause,
            if self.asked { ", asked" } else { "" }
        )
    }
}

/// A rack may be told so long before it counts as uncovered: while the hand is drawn back.
const EARLY_S: f64 = 1.0;
/// One whose start was not seen begins with the rest that shows it, which may be the last: told so late.
const LATE_S: f64 = 1.0;

/// Each attempt of a session beside the first one that was told to begin in its time, which is since the
/// one before was over: a rack that was set up anew before any shot was played at it, or stood there with
/// the cue ball put down, is no attempt of its own. One that was not told is asked about where a question
/// is open about a rest in its time: `asked_s` are the times of those rests.
pub fn hold_attempts(truth: &SessionTruth, story: &Story, asked_s: &[f64]) -> Vec<Scored> {
    let mut left: Vec<&Attempt> = story.attempts.iter().collect();
    let mut since_s = f64::MIN;
    let mut held = Vec::new();
    for played in &truth.attempts {
        if played.run == 0 && played.cause == TrueCause::Stop {
            continue;
        }
        let time = since_s.min(played.from_s - EARLY_S)..=played.over_s + LATE_S;
        since_s = played.over_s;
        let at = left.iter().position(|told| time.contains(&(told.began_unix_ms as f64 / 1000.0)));
        let own_s = played.from_s - EARLY_S..=played.over_s + LATE_S;
        let asked = asked_s.iter().any(|at_s| own_s.contains(at_s));
        held.push(scored(played, at.map(|at| left.remove(at)), asked));
    }
    held
}

fn scored(played: &AttemptTruth, told: Option<&Attempt>, asked_in_its_time: bool) -> Scored {
    Scored {
        attempt: played.attempt,
        from_s: played.from_s,
        run: played.run,
        racks: played.reracks + 1,
        cause: played.cause,
        all_seen: played.all_seen,
        told_run: told.and_then(|told| usize::try_from(told.run).ok()),
        told_racks: told.map_or(0, |told| told.racks.len()),
        told_cause: told.and_then(|told| told.over).map(|over| over.cause),
        asked: told.map_or(asked_in_its_time, |told| !told.sure),
    }
}
