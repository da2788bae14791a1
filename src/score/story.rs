//! What the score knows: attempts with their shots and racks, and questions still open.
//!
//! Layouts are not in it: a rest's number leads to its record.

use super::{Cause, Step};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Everything followed so far.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Story {
    /// In order, ids from 1; only the last can be going on.
    pub attempts: Vec<Attempt>,
    /// What the rests could not tell, oldest first.
    pub questions: Vec<Question>,
}

/// Object balls that count in some shots.
pub fn potted<'a>(shots: impl IntoIterator<Item = &'a ShotTaken>) -> u32 {
    shots.into_iter().map(|shot| u32::from(shot.potted)).sum()
}

impl Attempt {
    /// The shots in order, each behind the number of balls that its rack had brought before it.
    pub fn shots_by_place(&self) -> impl Iterator<Item = (u32, &ShotTaken)> {
        let (mut rack, mut brought) = (0, 0);
        self.shots.iter().map(move |shot| {
            let place = if shot.rack == rack { brought } else { 0 };
            (rack, brought) = (shot.rack, place + u32::from(shot.potted));
            (place, shot)
        })
    }
}

impl Story {
    /// The attempt that is going on.
    pub fn going_on(&self) -> Option<&Attempt> {
        self.attempts.last().filter(|attempt| attempt.over.is_none())
    }

    /// An attempt by its id.
    pub fn attempt(&self, id: u32) -> Option<&Attempt> {
        self.attempts.get(self.place(id)?)
    }

    /// Where an attempt stands; the first ones may have been left out.
    fn place(&self, id: u32) -> Option<usize> {
        usize::try_from(id.checked_sub(self.attempts.first()?.id)?).ok()
    }

    /// Finds anew whether an attempt is beyond doubt.
    pub(super) fn judge(&mut self, id: u32) {
        // Questions are few, and those of an attempt stand last.
        let open = self.questions.iter().any(|q| q.attempt == Some(id));
        if let Some(attempt) = self.place(id).and_then(|at| self.attempts.get_mut(at)) {
            attempt.sure = attempt.start_seen && !open;
        }
    }

    /// The longest run of all attempts.
    pub fn high_run(&self) -> Option<u32> {
        self.attempts.iter().map(|attempt| attempt.run).max()
    }
}

/// From an opening rack to the miss, scratch or stop.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Attempt {
    /// From 1, without gaps.
    pub id: u32,
    /// The rest that shows the opening rack, or the first one known to belong to it.
    pub began_rest: i64,
    /// When that was, in milliseconds since 1970, UTC.
    pub began_unix_ms: i64,
    /// Whether the opening rack was seen: where not, the run may be longer than counted.
    pub start_seen: bool,
    /// Object balls pocketed on legal shots.
    pub run: u32,
    pub shots: Vec<ShotTaken>,
    /// One for each time the table was racked, the opening first.
    pub racks: Vec<RackPlayed>,
    /// How it ended; none while it goes on.
    pub over: Option<Over>,
    /// No question about it is open and its start was seen.
    pub sure: bool,
}

/// One shot, known by the rest behind it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ShotTaken {
    /// The rest that the balls came to.
    pub rest: i64,
    /// The rack that it was played in, from 1.
    pub rack: u32,
    /// Object balls that count.
    pub potted: u16,
    /// Shots that this stands for: more than one where rests between were missed.
    pub shots: u16,
}

/// One rack of an attempt.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct RackPlayed {
    /// From 1.
    pub number: u32,
    /// The rest that shows it racked; none where that was not seen.
    pub racked_rest: Option<i64>,
    /// The rest with its closing layout, just before the next re-rack.
    pub closing_rest: Option<i64>,
}

/// How and when an attempt ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Over {
    pub cause: Cause,
    pub rest: i64,
    /// In milliseconds since 1970, UTC.
    pub at_unix_ms: i64,
}

/// Something that the rests could not tell.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Question {
    /// The rest whose step is in doubt; an answer is a correction of this rest.
    pub rest: i64,
    /// The attempt that it bears on.
    pub attempt: Option<u32>,
    pub text: String,
    /// Two or three; the first is how the score reads it meanwhile.
    pub answers: Vec<Answer>,
}

/// One answer, for one tap.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Answer {
    pub text: String,
    /// What it says of the step into the question's rest.
    pub step: Step,
}
