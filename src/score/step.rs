//! What lay between two rests, as the follower reads it or as the user says it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What ended an attempt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// A shot that pocketed nothing.
    Miss,
    /// The cue ball was pocketed or left the table.
    Scratch,
    /// An object ball left the table.
    Foul,
    /// The player cleared the table or racked anew.
    Stopped,
    /// It ended while the table was not watched.
    Unseen,
}

impl Cause {
    /// For the user: how an attempt ended.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Miss => "a miss",
            Self::Scratch => "a scratch",
            Self::Foul => "a ball left the table",
            Self::Stopped => "stopped",
            Self::Unseen => "its end was not seen",
        }
    }
}

/// Where a ball that is on the table again had been.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Whence {
    /// It had left the table at the shot before: a foul, its point is taken back.
    LeftTable,
    /// It had never gone, it only was not seen or was in the hand: its point is taken back, and a
    /// stroke that pocketed nothing else was a miss.
    NeverGone,
    /// It had been pocketed, and was put back by hand: its point stands.
    Pocketed,
}

/// What lay between the rest before and this one.
///
/// A step says all that the score needs: applying it never looks at the rests again.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "step", rename_all = "snake_case")]
pub enum Step {
    /// Nothing moved.
    Same,
    /// Balls are being laid out, racked or put away: nothing counts, an attempt stays as it is.
    SettingUp,
    /// The table is racked for a new attempt; one that was on has been stopped.
    OpeningRack,
    /// Fourteen balls (or fifteen) are racked again and the run goes on.
    ReRack,
    /// A legal shot that pocketed so many object balls.
    Shot {
        #[schemars(range(min = 1, max = 15))]
        potted: u32,
    },
    /// A shot that pocketed nothing: the attempt is over.
    Miss,
    /// The cue ball is gone; object balls that went with it do not count. The attempt is over.
    Scratch,
    /// An object ball left the table at this shot; nothing counts and the attempt is over.
    BallOffTable,
    /// So many balls are on the table again.
    CameBack {
        #[schemars(range(min = 1, max = 15))]
        balls: u32,
        whence: Whence,
    },
    /// Balls were nudged, moved, taken or put back by hand: nothing counts, the attempt goes on.
    ByHand,
    /// Shots whose rests were not seen: how many, what they pocketed in all, how often was racked
    /// again, and how the attempt ended if it did.
    Several {
        #[schemars(range(min = 1, max = 1000))]
        shots: u32,
        #[schemars(range(max = 1000))]
        potted: u32,
        #[serde(default)]
        #[schemars(range(max = 100))]
        re_racks: u32,
        #[serde(default)]
        ended: Option<Cause>,
    },
    /// An attempt whose start was not seen: its run so far, and how it ended if it did. Another
    /// one that was on ended unseen.
    AttemptOn {
        #[schemars(range(max = 10_000))]
        run: u32,
        #[serde(default)]
        ended: Option<Cause>,
    },
    /// The player stopped: the attempt is over, nothing is pocketed.
    Stopped,
    /// A shot is practised, or set up to be: nothing counts, and an attempt that was on has been
    /// stopped.
    Practice,
    /// This was no rest: the follower takes no notice of it.
    NoRest,
}

impl Step {
    /// Whether it is one stroke at balls that are being played, and nothing else.
    pub(super) fn is_one_stroke(&self) -> bool {
        matches!(self, Self::Shot { .. } | Self::Miss)
    }

    /// Whether it counts balls, with the run going on.
    pub(super) fn pots(&self) -> bool {
        matches!(self, Self::Shot { potted: 1.. } | Self::Several { potted: 1.., ended: None, .. })
    }

    /// Whether the attempt that was on is over by it, with the cue ball lost.
    pub(super) fn scratches(&self) -> bool {
        matches!(self, Self::Scratch | Self::Several { ended: Some(Cause::Scratch), .. })
    }

    /// Whether the attempt that was on is over by it, with a shot of its own.
    pub(super) fn misses_or_scratches(&self) -> bool {
        matches!(self, Self::Miss | Self::Scratch | Self::Several { ended: Some(_), .. })
    }
}
