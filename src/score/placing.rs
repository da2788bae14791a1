//! Where the last ball and the cue ball go when one of them is in the way of the re-rack.
//!
//! In: centres in the table frame, millimetres, at the closing layout. Out: what stays, what goes
//! where. Source: the published rules of 14.1 continuous, twelve cases. How the cases are told
//! apart here:
//!
//! - *in the rack*: some part of the ball lies inside the triangle's inner outline;
//! - *on the head spot*: a ball spotted there would touch it, that is, its centre lies less than a
//!   ball's diameter from the spot;
//! - *behind the head string*: its centre lies nearer to the head rail than the string.
//!
//! Both balls on the head spot, which the rules need not know, means that both stay.

use crate::table::{DiamondPoint, Rack, TablePoint, TableSize};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Where the last object ball of a rack goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LastBallGoes {
    Stays,
    /// Racked with the other fourteen.
    InRack,
    HeadSpot,
    CentreSpot,
}

/// Where the cue ball goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CueBallGoes {
    Stays,
    /// In hand behind the head string.
    InHand,
    HeadSpot,
    CentreSpot,
}

/// What a re-rack asks of the last ball and the cue ball.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Placing {
    pub last_ball: LastBallGoes,
    pub cue_ball: CueBallGoes,
}

/// Whether the two balls lie at a re-rack where the rule wants them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placed {
    pub last_ball: bool,
    /// True too where no cue ball is on the table.
    pub cue_ball: bool,
}

/// Where a ball lies, as far as the rule asks.
#[derive(Clone, Copy, PartialEq)]
enum Lies {
    InRack,
    OnHeadSpot,
    BehindHeadString,
    Elsewhere,
}

impl Placing {
    /// Nothing is in the way.
    pub const STAY: Self = Self { last_ball: LastBallGoes::Stays, cue_ball: CueBallGoes::Stays };

    /// Whether something is to be placed or all fifteen are to be racked.
    pub fn applies(self) -> bool {
        self != Self::STAY
    }

    /// Where the last ball is to be put, in diamonds, if on a spot.
    pub fn last_ball_spot(self) -> Option<DiamondPoint> {
        match self.last_ball {
            LastBallGoes::HeadSpot => Some(HEAD_SPOT),
            LastBallGoes::CentreSpot => Some(CENTRE_SPOT),
            LastBallGoes::Stays | LastBallGoes::InRack => None,
        }
    }

    /// Where the cue ball is to be put, in diamonds, if on a spot.
    pub fn cue_ball_spot(self) -> Option<DiamondPoint> {
        match self.cue_ball {
            CueBallGoes::HeadSpot => Some(HEAD_SPOT),
            CueBallGoes::CentreSpot => Some(CENTRE_SPOT),
            CueBallGoes::Stays | CueBallGoes::InHand => None,
        }
    }

    /// For the player; empty where both balls stay.
    pub fn words(self) -> String {
        let last = match self.last_ball {
            LastBallGoes::Stays => "",
            LastBallGoes::InRack => "Rack all fifteen.",
            LastBallGoes::HeadSpot => "Last ball to the head spot.",
            LastBallGoes::CentreSpot => "Last ball to the centre spot.",
        };
        let cue = match self.cue_ball {
            CueBallGoes::Stays if self.applies() => "The cue ball stays.",
            CueBallGoes::Stays => "",
            CueBallGoes::InHand => "Cue ball in hand behind the head string.",
            CueBallGoes::HeadSpot => "Cue ball to the head spot.",
            CueBallGoes::CentreSpot => "Cue ball to the centre spot.",
        };
        [last, cue].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
    }
}

const HEAD_SPOT: DiamondPoint = DiamondPoint { x: 2.0, y: 2.0 };
const CENTRE_SPOT: DiamondPoint = DiamondPoint { x: 4.0, y: 2.0 };

/// What the rule asks for a closing layout; `last` is none where the last ball was pocketed too.
pub fn placing(last: Option<TablePoint>, cue: TablePoint, table: &TableSize) -> Placing {
    use {CueBallGoes as Cue, LastBallGoes as Last, Lies::*};
    let rack = Rack::on(table);
    let lies = |ball: TablePoint| {
        if rack.holds_part_of(ball) {
            InRack
        } else if ball.distance_mm(table.head_spot()) < table.ball_diameter_mm {
            OnHeadSpot
        } else if ball.x_mm < table.head_spot().x_mm {
            BehindHeadString
        } else {
            Elsewhere
        }
    };
    let (last_ball, cue_ball) = match (last.map(lies), lies(cue)) {
        (None | Some(InRack), InRack) => (Last::InRack, Cue::InHand),
        (None, _) => (Last::InRack, Cue::Stays),
        (Some(InRack), OnHeadSpot) => (Last::CentreSpot, Cue::Stays),
        (Some(InRack), _) => (Last::HeadSpot, Cue::Stays),
        (Some(BehindHeadString), InRack) => (Last::Stays, Cue::HeadSpot),
        (Some(Elsewhere), InRack) => (Last::Stays, Cue::InHand),
        (Some(OnHeadSpot), InRack) => (Last::Stays, Cue::CentreSpot),
        (Some(_), _) => (Last::Stays, Cue::Stays),
    };
    Placing { last_ball, cue_ball }
}

#[cfg(test)]
mod tests {
    use super::{CueBallGoes as Cue, LastBallGoes as Last, *};

    const TABLE: TableSize = TableSize::NINE_FOOT;

    fn in_rack() -> TablePoint {
        Rack::on(&TABLE).places()[4]
    }

    fn asked(last: Option<TablePoint>, cue: TablePoint) -> (Last, Cue) {
        let placing = placing(last, cue, &TABLE);
        (placing.last_ball, placing.cue_ball)
    }

    #[test]
    fn every_cell_of_the_rule() {
        let also_in_rack = Rack::on(&TABLE).places()[12];
        let (head, behind) = (TABLE.head_spot(), TablePoint::new(300.0, 900.0));
        let past = TablePoint::new(1200.0, 300.0);
        let elsewhere = TablePoint::new(900.0, 1100.0);
        let stay = (Last::Stays, Cue::Stays);
        let cases = [
            (Some(in_rack()), also_in_rack, (Last::InRack, Cue::InHand)),
            (Some(in_rack()), elsewhere, (Last::HeadSpot, Cue::Stays)),
            (Some(in_rack()), head, (Last::CentreSpot, Cue::Stays)),
            (None, in_rack(), (Last::InRack, Cue::InHand)),
            (None, elsewhere, (Last::InRack, Cue::Stays)),
            (None, head, (Last::InRack, Cue::Stays)),
            (Some(behind), in_rack(), (Last::Stays, Cue::HeadSpot)),
            (Some(behind), elsewhere, stay),
            (Some(behind), head, stay),
            (Some(past), in_rack(), (Last::Stays, Cue::InHand)),
            (Some(past), elsewhere, stay),
            (Some(past), head, stay),
            (Some(head), in_rack(), (Last::Stays, Cue::CentreSpot)),
            (Some(head), elsewhere, stay),
        ];
        for (last, cue, expected) in cases {
            assert_eq!(asked(last, cue), expected, "last ball {last:?}, cue ball {cue:?}");
        }
    }

    #[test]
    fn a_ball_is_on_the_head_spot_while_one_spotted_there_would_touch_it() {
        let head = TABLE.head_spot();
        let off = |mm: f64| TablePoint::new(head.x_mm, head.y_mm + mm);
        let touches = TABLE.ball_diameter_mm - 0.1;
        let clears = TABLE.ball_diameter_mm + 0.1;
        assert_eq!(asked(Some(in_rack()), off(touches)), (Last::CentreSpot, Cue::Stays));
        assert_eq!(asked(Some(in_rack()), off(clears)), (Last::HeadSpot, Cue::Stays));
        assert_eq!(asked(Some(off(touches)), in_rack()), (Last::Stays, Cue::CentreSpot));
    }

    #[test]
    fn a_ball_on_the_head_string_is_not_behind_it() {
        let on = TablePoint::new(TABLE.head_spot().x_mm, 200.0);
        let behind = TablePoint::new(on.x_mm - 0.1, 200.0);
        assert_eq!(asked(Some(on), in_rack()), (Last::Stays, Cue::InHand));
        assert_eq!(asked(Some(behind), in_rack()), (Last::Stays, Cue::HeadSpot));
    }

    #[test]
    fn the_player_is_told_where_both_balls_go() {
        let both = placing(None, in_rack(), &TABLE);
        assert_eq!(both.words(), "Rack all fifteen. Cue ball in hand behind the head string.");
        let last = placing(Some(in_rack()), TABLE.head_spot(), &TABLE);
        assert_eq!(last.words(), "Last ball to the centre spot. The cue ball stays.");
        let spot = last.last_ball_spot().unwrap().on_table(&TABLE);
        assert!(spot.distance_mm(TABLE.centre_spot()) < 1e-9);
        assert_eq!(Placing::STAY.words(), "");
    }
}
