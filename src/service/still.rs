//! Whether two layouts are the same: nothing was added, taken or moved.

use crate::layout::{Ball, Layout};

/// Two readings of a ball that lies still differ by less than this, whatever they say of sigma.
const STILL_WITHIN_MM: f64 = 2.0;

/// Sigmas by which two readings of one place may differ.
const STILL_WITHIN_SIGMAS: f64 = 4.0;

/// The largest difference that is ever put down to sigma: half a slow roll between two looks.
const STILL_AT_MOST_MM: f64 = 4.0;

/// Whether both layouts show the same balls in the same places.
///
/// Balls are a diameter apart at least, so the nearest ball is the only one within reach.
pub(super) fn same_places(one: &Layout, other: &Layout) -> bool {
    let there = |ball: &Ball| {
        other.balls.iter().any(|candidate| {
            let sigma_mm = ball.sigma_mm.hypot(candidate.sigma_mm);
            let reach_mm =
                (STILL_WITHIN_SIGMAS * sigma_mm).clamp(STILL_WITHIN_MM, STILL_AT_MOST_MM);
            let apart_mm = one.centre_of(ball).distance_mm(other.centre_of(candidate));
            candidate.kind == ball.kind && apart_mm <= reach_mm
        })
    };
    one.balls.len() == other.balls.len() && one.balls.iter().all(there)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        layout::BallKind,
        table::{FootEnd, TableSize},
    };

    fn layout(places: &[(f64, f64)]) -> Layout {
        let ball = |&(x, y): &(f64, f64)| Ball {
            kind: BallKind::Object,
            number: None,
            x,
            y,
            sigma_mm: 0.3,
            confidence: 1.0,
            number_confidence: 0.0,
        };
        Layout {
            table: TableSize::NINE_FOOT,
            foot: FootEnd::Open,
            obstructed: false,
            balls: places.iter().map(ball).collect(),
        }
    }

    #[test]
    fn a_slow_roll_is_no_rest() {
        let before = layout(&[(1.0, 1.0), (5.0, 2.0)]);
        let diamond_mm = 2540.0 / 8.0;
        assert!(same_places(&before, &layout(&[(5.0, 2.0), (1.0 + 1.0 / diamond_mm, 1.0)])));
        assert!(!same_places(&before, &layout(&[(1.0 + 5.0 / diamond_mm, 1.0), (5.0, 2.0)])));
        assert!(!same_places(&before, &layout(&[(1.0, 1.0)])));
    }
}
