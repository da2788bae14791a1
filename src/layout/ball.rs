//! The layout and its balls, as they are stored and passed on.

use crate::table::{DiamondPoint, FootEnd, TablePoint, TableSize};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Cue ball or object ball.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum BallKind {
    Cue,
    Object,
}

/// One ball at rest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Ball {
    pub kind: BallKind,
    /// 0 for the cue ball, 1 to 15 for an object ball, none where it could not be read.
    #[schemars(range(min = 0, max = 15))]
    pub number: Option<u8>,
    /// Centre along the table in diamonds, 0 at the head rail's nose, 8 at the foot rail's.
    pub x: f64,
    /// Centre across the table in diamonds, 0 to 4.
    pub y: f64,
    /// One standard deviation of the centre in each direction, in millimetres.
    #[schemars(range(min = 0))]
    pub sigma_mm: f64,
    /// How sure it is that a ball lies here, 0 to 1.
    #[schemars(range(min = 0, max = 1))]
    pub confidence: f64,
    /// How sure the number is, 0 to 1.
    #[serde(default)]
    #[schemars(range(min = 0, max = 1))]
    pub number_confidence: f64,
}

impl Ball {
    /// The centre in layout coordinates.
    pub fn place(&self) -> DiamondPoint {
        DiamondPoint { x: self.x, y: self.y }
    }
}

/// The balls' places at a rest, on a table whose size travels with it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Layout {
    pub table: TableSize,
    /// Whether x = 8 is known to be the foot end.
    pub foot: FootEnd,
    /// Something (a player, a cue, a rack) hides part of the cloth: there may be balls unseen.
    pub obstructed: bool,
    /// Whether balls were seen to roll, with nobody over the table, before they came to rest here; none
    /// where that was not watched.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rolled: Option<bool>,
    /// Where balls were seen to roll and the camera then lost sight of the table before they came to rest:
    /// so many milliseconds before this rest they were first seen to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lost_rolling_ms: Option<u64>,
    pub balls: Vec<Ball>,
}

impl Layout {
    /// Balls that lie with nothing over them; nobody watched how they came there.
    pub const fn of(table: TableSize, foot: FootEnd, balls: Vec<Ball>) -> Self {
        Self { table, foot, obstructed: false, rolled: None, lost_rolling_ms: None, balls }
    }

    /// A ball's centre in the table frame, in millimetres.
    pub fn centre_of(&self, ball: &Ball) -> TablePoint {
        ball.place().on_table(&self.table)
    }

    /// The cue ball, where it is on the table.
    pub fn cue_ball(&self) -> Option<&Ball> {
        self.balls.iter().find(|ball| ball.kind == BallKind::Cue)
    }

    /// The object balls.
    pub fn object_balls(&self) -> impl Iterator<Item = &Ball> {
        self.balls.iter().filter(|ball| ball.kind == BallKind::Object)
    }
}
