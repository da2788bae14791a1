//! What a rest came to in its attempt, as the story has it.

use super::{messages::say, words};
use crate::score::{Attempt, Cause, Story, potted};

/// What a rest came to.
pub(super) struct Told {
    what: What,
    /// The run after it, where something was counted.
    pub(super) run: Option<u32>,
}

enum What {
    Racked(u32),
    Shot { potted: u32, shots: u32 },
    Ended(Cause),
    Nothing,
}

/// The attempt that a rest belongs to.
pub(super) fn attempt_of(story: &Story, rest: i64) -> Option<&Attempt> {
    let attempt = story.attempts.iter().rev().find(|attempt| attempt.began_rest <= rest)?;
    attempt.over.is_none_or(|over| rest <= over.rest).then_some(attempt)
}

impl Told {
    pub(super) fn of(attempt: &Attempt, rest: i64) -> Self {
        if let Some(over) = attempt.over.filter(|over| over.rest == rest) {
            return Self { what: What::Ended(over.cause), run: Some(attempt.run) };
        }
        if let Some(rack) = attempt.racks.iter().find(|rack| rack.racked_rest == Some(rest)) {
            return Self { what: What::Racked(rack.number), run: None };
        }
        match attempt.shots.iter().find(|shot| shot.rest == rest) {
            Some(shot) => {
                let later = attempt.shots.iter().filter(|shot| shot.rest > rest);
                let run = attempt.run.saturating_sub(potted(later));
                let what = What::Shot { potted: shot.potted.into(), shots: shot.shots.into() };
                Self { what, run: Some(run) }
            }
            None => Self { what: What::Nothing, run: None },
        }
    }

    pub(super) const fn counts(&self) -> bool {
        !matches!(self.what, What::Nothing)
    }

    /// For a strip.
    pub(super) fn short(&self) -> String {
        match self.what {
            What::Racked(_) => say!("told-racked"),
            What::Shot { potted, .. } => format!("+{potted}"),
            What::Ended(cause) => words::cause(cause),
            What::Nothing => say!("told-no-count"),
        }
    }

    /// For a page of its own.
    pub(super) fn long(&self) -> String {
        let run = self.run.unwrap_or(0);
        match self.what {
            What::Racked(1) => say!("told-opening-rack"),
            What::Racked(rack) => say!("told-racked-again", rack = rack),
            What::Shot { potted, shots: 1 } => say!("told-pocketed", potted = potted, run = run),
            What::Shot { potted, shots } => {
                say!("told-pocketed-in", potted = potted, shots = shots, run = run)
            }
            What::Ended(cause) => say!("told-ended", cause = words::cause(cause), run = run),
            What::Nothing => say!("told-nothing"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::{Over, RackPlayed, ShotTaken};

    fn attempt() -> Attempt {
        let shot = |rest, potted| ShotTaken { rest, rack: 1, potted, shots: 1 };
        Attempt {
            id: 1,
            began_rest: 5,
            began_unix_ms: 0,
            start_seen: true,
            run: 5,
            shots: vec![shot(6, 1), shot(8, 2), shot(9, 2), shot(11, 0)],
            racks: vec![RackPlayed { number: 1, racked_rest: Some(5), closing_rest: None }],
            over: Some(Over { cause: Cause::Miss, rest: 11, at_unix_ms: 0 }),
            sure: true,
        }
    }

    #[test]
    fn a_rest_is_told_with_the_run_as_it_was_then() {
        let told = |rest| Told::of(&attempt(), rest).long();
        assert_eq!(told(5), "The opening rack.");
        assert_eq!(told(6), "1 pocketed, the run is 1.");
        assert_eq!(told(7), "Nothing was counted here.");
        assert_eq!(told(8), "2 pocketed, the run is 3.");
        assert_eq!(told(11), "Miss: the run ended at 5.");
    }

    #[test]
    fn a_rest_between_two_attempts_belongs_to_neither() {
        let second = Attempt { id: 2, began_rest: 14, over: None, ..attempt() };
        let story = Story { attempts: vec![attempt(), second], questions: Vec::new() };
        let of = |rest| attempt_of(&story, rest).map(|attempt| attempt.id);
        assert_eq!(
            [4, 5, 11, 12, 14, 90].map(of),
            [None, Some(1), Some(1), None, Some(2), Some(2)]
        );
    }
}
