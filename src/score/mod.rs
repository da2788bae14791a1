//! The rules of 14.1 continuous alone: rests followed into attempts, runs, racks and shots.
//!
//! On `table` and `layout` alone: knows nothing of cameras, storage or the network, and has no
//! clock and no chance in it. The story is a pure function of the rests and the user's
//! corrections, so that it can be told again after a rule is mended.

mod ask;
mod book;
mod change;
mod closing;
mod doubts;
mod event;
mod facing;
mod follower;
mod idle;
mod missed;
mod numbers;
mod pace;
mod placing;
mod play;
mod racked;
mod rates;
mod scratched;
mod seen;
mod step;
mod story;
mod weigh;

pub use change::Changed;
pub use event::{ScoreEvent, changes};
pub use follower::{Follower, follow};
pub use placing::{CueBallGoes, LastBallGoes, Placed, Placing, placing};
pub use step::{Cause, Step, Whence};
pub use story::{Answer, Attempt, Over, Question, RackPlayed, ShotTaken, Story, potted};

use crate::layout::Layout;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A rest as the record keeps it, as far as the score needs it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RestSeen {
    /// The rest's number in the record; later rests have greater ones.
    pub id: i64,
    /// When the table came to rest, in milliseconds since 1970, UTC.
    pub at_unix_ms: i64,
    /// The longest time, in milliseconds, that the table was not watched since the rest before:
    /// lost frames, the camera gone, a restart.
    pub unseen_ms: u64,
    pub layout: Layout,
}

/// The user's word about the step into a rest; the last one about a rest holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Correction {
    /// The rest whose step is meant.
    pub rest: i64,
    /// What the step was; none takes back what was said before.
    pub says: Option<Step>,
}
