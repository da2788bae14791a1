//! A scratch that later rests make doubtful: the cue ball may only not have been read there.
//!
//! In: the scratch as it was read, and the change from it to each later rest. Out: whether it still
//! is one, and what else that rest can have been. Method: a player who lost the cue ball puts it
//! down somewhere and racks; a cue ball that was never gone lies where it lay before, or is struck
//! without ever having been put down, or a run is played on with it. Not modelled: a miss whose
//! cue ball was not read and is found put down by the next rest; it stays a scratch, with the same
//! run.

use super::{
    Step,
    change::{Change, CueBall, still},
    seen::{BallSeen, Seen},
};

/// Where so many balls lie elsewhere the table was racked.
const ANEW: usize = 8;

/// A scratch that was read without a doubt.
#[derive(Debug, Clone)]
pub(super) struct Scratched {
    pub rest: i64,
    pub attempt: u32,
    /// Where the cue ball lay before.
    cue: BallSeen,
    /// Object balls that went with it.
    gone: u32,
    /// The cue ball is on the table again, and nothing else has happened.
    returned: bool,
}

/// What a later rest says.
pub(super) enum Later {
    Nothing,
    /// It was one.
    Scratch,
    /// It may have been this as well.
    Perhaps(Step),
}

impl Scratched {
    /// None where the change shows no cue ball that went.
    pub fn new(rest: i64, attempt: u32, before: &Seen, change: &Change) -> Option<Self> {
        let cue = before.cue.filter(|_| change.cue == CueBall::Gone)?;
        let gone = u32::try_from(change.gone()).ok()?;
        Some(Self { rest, attempt, cue, gone, returned: false })
    }

    /// What the next rest says, which differs so from the one before.
    pub fn later(&mut self, change: &Change, now: &Seen) -> Later {
        if change.same_places && now.cue.is_some() {
            // The cue ball lay there as one of the object balls.
            return Later::Perhaps(counted(self.gone + 1));
        }
        if change.nothing() {
            return Later::Nothing;
        }
        if now.racked.is_some() || change.gone() < 0 || change.new.len() >= ANEW {
            return Later::Scratch;
        }
        let touched = !change.left.is_empty();
        match (change.cue, now.cue) {
            _ if self.returned => match change.stroke() {
                Some(_) if self.gone > 0 => Later::Perhaps(counted(self.gone)),
                Some(_) => Later::Scratch,
                None => Later::Nothing,
            },
            (CueBall::Came, Some(cue)) if still(&self.cue, &cue) => {
                Later::Perhaps(if self.gone == 0 { Step::ByHand } else { counted(self.gone) })
            }
            (CueBall::Came, Some(_)) if touched => Later::Perhaps(counted(self.gone)),
            // Balls moved about, as by a stroke with a cue ball that is not read again.
            (CueBall::Absent, None) if change.moved() > 0 => Later::Perhaps(counted(self.gone)),
            (CueBall::Came, Some(_)) => {
                self.returned = true;
                Later::Nothing
            }
            _ => Later::Scratch,
        }
    }
}

/// A stroke that lost no cue ball.
fn counted(potted: u32) -> Step {
    if potted == 0 { Step::Miss } else { Step::Shot { potted } }
}
