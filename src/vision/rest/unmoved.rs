//! Which balls of the last rest still lie there, by the picture alone.
//!
//! Input: the bed at the last rest with its layout, the bed now, and its usual look. Output: the balls
//! around which all looks as it did, and not as the bare bed does. Method: mean changes of patches
//! (`steady::change_from`). A ball in a cluster, or one half in shade, is one to the networks in this
//! mean of frames and none in the next; one that has not moved need not be found again.

use crate::layout::Layout;
use crate::vision::{
    bare::INNER_PART,
    bed::BedView,
    centring::Centred,
    read::SURE_BALL,
    steady::{SteadyBed, change_from},
};
use nalgebra::Matrix2;

/// A ball is there still if its picture changed by no more than this part of what there is between it
/// and the bare bed.
const MOST_CHANGE: f32 = 0.3;
/// And where so much is between them: a ball of the cloth's own look has to be found.
const LEAST_BETWEEN: f32 = 0.15;

/// The balls of a layout that lie as they lay.
pub(super) fn unmoved(
    (layout, before): (&Layout, &BedView),
    now: &BedView,
    steady: &SteadyBed,
) -> Vec<Centred> {
    let radius_mm = INNER_PART * layout.table.ball_radius_mm();
    let lies = |centred: &Centred| {
        let place = (centred.centre, radius_mm);
        let change = change_from(now, place, |cell| before.difference.get(cell).copied());
        let between = change_from(now, place, |cell| Some(steady.usual(cell).unwrap_or_default()));
        change.zip(between).is_some_and(|(change, between)| {
            between > LEAST_BETWEEN && change < MOST_CHANGE * between
        })
    };
    let sure = layout.balls.iter().filter(|ball| ball.confidence >= SURE_BALL);
    let lay = sure.map(|ball| Centred {
        centre: layout.centre_of(ball),
        covariance_mm2: Matrix2::identity() * ball.sigma_mm.powi(2),
        ball: ball.confidence,
    });
    lay.filter(lies).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{Ball, BallKind};
    use crate::random::Random;
    use crate::table::{DiamondPoint, FootEnd, TablePoint, TableSize};
    use crate::vision::bed::cell_place;
    use std::sync::Arc;

    const TABLE: TableSize = TableSize::NINE_FOOT;
    const PLACE: TablePoint = TablePoint { x_mm: 200.0, y_mm: 180.0 };

    /// A bed with a ball at its place, half of it white, that differs from the cloth by so much.
    fn bed(random: &mut Random, ball: Option<f32>) -> BedView {
        let (columns, rows) = (120, 100);
        let cell = |index: usize| cell_place((index % columns) as f64, (index / columns) as f64);
        let colour =
            |at: TablePoint| match ball {
                Some(by) if at.distance_mm(PLACE) < TABLE.ball_radius_mm() => {
                    if at.x_mm < PLACE.x_mm { [2.0 * by; 3] } else { [-by, 0.2 * by, -by] }
                }
                _ => [0.0; 3],
            };
        let difference = (0..columns * rows)
            .map(|index| colour(cell(index)).map(|c| c + 0.12 * random.normal() as f32))
            .collect();
        BedView {
            columns,
            rows,
            difference,
            cells: Arc::new([]),
            noise: 0.12,
            cloth: [0.0; 3],
            cloth_part: 1.0,
        }
    }

    fn layout() -> Layout {
        let DiamondPoint { x, y } = DiamondPoint::from_table(PLACE, &TABLE);
        let ball = Ball {
            kind: BallKind::Object,
            number: Some(14),
            x,
            y,
            sigma_mm: 0.6,
            confidence: 0.999,
            number_confidence: 0.99,
        };
        let balls = vec![ball];
        Layout::of(TABLE, FootEnd::Given, balls)
    }

    #[test]
    fn a_ball_whose_picture_did_not_change_is_there_and_one_that_went_is_not() {
        let mut random = Random::stream(8, 0);
        let steady = SteadyBed::default();
        let before = bed(&mut random, Some(0.4));
        let mut there = |now: Option<f32>| {
            let now = bed(&mut random, now);
            unmoved((&layout(), &before), &now, &steady).len()
        };
        assert_eq!(there(Some(0.4)), 1, "through all the noise");
        assert_eq!(there(None), 0, "bare cloth");
        assert_eq!(there(Some(-0.4)), 0, "another ball");
    }

    #[test]
    fn a_ball_of_the_cloths_own_look_has_to_be_found() {
        let mut random = Random::stream(9, 0);
        let (before, now) = (bed(&mut random, Some(0.05)), bed(&mut random, Some(0.05)));
        assert!(unmoved((&layout(), &before), &now, &SteadyBed::default()).is_empty());
    }
}
