//! What the follower tells as it goes, and what a correction changed.

use super::{Cause, Placing, Question, Step, Story};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One thing that happened to the score.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum ScoreEvent {
    /// A rest, always the first event of its rest. Attempt and run are those after its step; an
    /// attempt that ends with this rest is still named.
    Rest {
        rest: i64,
        at_unix_ms: i64,
        attempt: Option<u32>,
        run: Option<u32>,
        step: Step,
    },
    AttemptBegan {
        rest: i64,
        attempt: u32,
        start_seen: bool,
    },
    /// A shot that counts.
    Shot {
        rest: i64,
        attempt: u32,
        potted: u32,
        run: u32,
        /// The numbers of the balls that went, as far as they could be read for sure.
        numbers: Vec<u8>,
    },
    /// The table is racked again: which rack of the attempt this is, and the closing layout before.
    ReRack {
        rest: i64,
        attempt: u32,
        rack: u32,
        closing_rest: Option<i64>,
    },
    /// The last ball or the cue ball is in the way of the rack.
    Placing {
        rest: i64,
        attempt: u32,
        placing: Placing,
        words: String,
    },
    AttemptOver {
        rest: i64,
        attempt: u32,
        run: u32,
        cause: Cause,
    },
    /// What the rests could not tell.
    Question {
        #[serde(flatten)]
        question: Question,
    },
    /// A question is no longer open: answered, or made idle by what came after.
    Settled {
        rest: i64,
    },
    /// An attempt's run or end is no longer what was told before.
    Rescored {
        rest: i64,
        attempt: u32,
        run: u32,
        over: Option<Cause>,
    },
    /// An attempt that was told before never was.
    Withdrawn {
        attempt: u32,
    },
}

/// What differs between two stories of the same rests: for telling what a correction changed.
///
/// Attempts are compared by id, questions by rest. Both stories may lack the same first attempts.
pub fn changes(before: &Story, after: &Story) -> Vec<ScoreEvent> {
    let mut events = Vec::new();
    for attempt in &after.attempts {
        let old = before.attempt(attempt.id);
        let told = |a: &super::Attempt| (a.began_rest, a.run, a.over);
        if old.map(told) != Some(told(attempt)) {
            events.push(ScoreEvent::Rescored {
                rest: attempt.over.map_or(attempt.began_rest, |over| over.rest),
                attempt: attempt.id,
                run: attempt.run,
                over: attempt.over.map(|over| over.cause),
            });
        }
    }
    for gone in before.attempts.iter().skip(after.attempts.len()) {
        events.push(ScoreEvent::Withdrawn { attempt: gone.id });
    }
    for question in &before.questions {
        if !after.questions.iter().any(|q| q.rest == question.rest) {
            events.push(ScoreEvent::Settled { rest: question.rest });
        }
    }
    for question in &after.questions {
        if !before.questions.contains(question) {
            events.push(ScoreEvent::Question { question: question.clone() });
        }
    }
    events
}
