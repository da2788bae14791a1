//! The rules of a made-up session, for its truth: what a shot is worth, and what is racked.
//!
//! Written apart from `score`, from the published rules of 14.1 alone, so that measuring one by
//! the other means something. Knows nothing of pictures.

use crate::table::{Rack, TablePoint, TableSize};

/// Numbers and places, the cue ball's number 0.
pub type Places = Vec<(u8, TablePoint)>;

/// What came of a shot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// So many points, and the run goes on.
    Pocketed(usize),
    Miss,
    /// The cue ball dropped: nothing counts.
    Scratch,
}

/// The verdict on a shot by which balls dropped.
pub fn verdict(dropped: &[u8]) -> Verdict {
    if dropped.contains(&0) {
        Verdict::Scratch
    } else if dropped.is_empty() {
        Verdict::Miss
    } else {
        Verdict::Pocketed(dropped.len())
    }
}

/// Where a ball goes when the rack is set up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Goes {
    Stays,
    /// Into the rack.
    Racked,
    To(TablePoint),
    /// Anywhere behind the head string.
    InHand,
}

/// What happens at a re-rack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rerack {
    pub last: Goes,
    pub cue: Goes,
}

/// What the rules say when one object ball is left, or none, and the balls are racked again.
pub fn rerack(table: &TableSize, last: Option<TablePoint>, cue: TablePoint) -> Rerack {
    let rack = Rack::on(table);
    let head = table.head_spot();
    let on_head = |place: TablePoint| place.distance_mm(head) < table.ball_diameter_mm;
    let cue_in_rack = rack.holds_part_of(cue);
    let stay = Rerack { last: Goes::Stays, cue: Goes::Stays };
    let Some(last) = last else {
        let cue = if cue_in_rack { Goes::InHand } else { Goes::Stays };
        return Rerack { last: Goes::Racked, cue };
    };
    if rack.holds_part_of(last) {
        return match (cue_in_rack, on_head(cue)) {
            (true, _) => Rerack { last: Goes::Racked, cue: Goes::InHand },
            (false, false) => Rerack { last: Goes::To(head), ..stay },
            (false, true) => Rerack { last: Goes::To(table.centre_spot()), ..stay },
        };
    }
    if !cue_in_rack {
        return stay;
    }
    let cue = if on_head(last) {
        Goes::To(table.centre_spot())
    } else if last.x_mm < table.length_mm / 4.0 {
        Goes::To(head)
    } else {
        Goes::InHand
    };
    Rerack { cue, ..stay }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_case_of_the_rules_is_told_apart() {
        let table = TableSize::NINE_FOOT;
        let (head, centre) = (table.head_spot(), table.centre_spot());
        let in_rack = Rack::on(&table).places()[4];
        let (kitchen, far) = (TablePoint::new(200.0, 300.0), TablePoint::new(1500.0, 200.0));
        let rule = |last, cue| {
            let rule = rerack(&table, last, cue);
            (rule.last, rule.cue)
        };
        use Goes::{InHand, Racked, Stays, To};
        assert_eq!(rule(Some(in_rack), in_rack), (Racked, InHand));
        assert_eq!(rule(Some(in_rack), far), (To(head), Stays));
        assert_eq!(rule(Some(in_rack), head), (To(centre), Stays));
        assert_eq!(rule(None, in_rack), (Racked, InHand));
        assert_eq!(rule(None, far), (Racked, Stays));
        assert_eq!(rule(Some(kitchen), in_rack), (Stays, To(head)));
        assert_eq!(rule(Some(kitchen), far), (Stays, Stays));
        assert_eq!(rule(Some(far), in_rack), (Stays, InHand));
        assert_eq!(rule(Some(far), head), (Stays, Stays));
        assert_eq!(rule(Some(head), in_rack), (Stays, To(centre)));
    }
}
