//! What is taken for a ball and is the bed itself.
//!
//! Input: the bed's view and usual look, and a place that the network takes for a ball's. Output: whether
//! nothing lies there. Method: a cushion's edge that looks as it usually does bare is none, and a place
//! where all that is seen is the cloth, in whatever shadow, is a shadow: every ball has a gloss, a number
//! or a colour of its own. Knows nothing of outlines.

use super::bed::BedView;
use super::centring::Centred;
use super::obstruction::{disc, is_cloth};
use super::steady::SteadyBed;
use crate::table::{TablePoint, TableSize};

/// At a nose that looks as it usually does bare lies nothing: what noise makes of a cushion's edge changes
/// it by 0.14 at most. Away from the noses a black ball in the dark changes the cloth by as little as 0.16.
const LEAST_CHANGE: f32 = 0.15;
/// That much of a ball's radius shows the ball and nothing beside it.
pub(super) const INNER_PART: f64 = 0.85;
/// So much of it is a neighbour's picture.
const NEIGHBOUR_PART: f64 = 1.2;
/// Of a place that is more than this part cloth nothing else is seen: of places taken for balls by shadows
/// alone 0.97 and more is, of balls read surely 0.64 at most, but of one of the cloth's own colour in a
/// rack 0.94.
const ONLY_CLOTH: f64 = 0.96;
/// And a shadow has no place that the network could tell: of 15 each was less sure than those of the other
/// balls by 2.7 times at least, of 129,000 balls 215 by twice.
const LESS_SURE: f64 = 2.2;
/// So much of a place has to be seen beside its neighbours.
const LEAST_SEEN: f64 = 0.4;

/// Whether a place at a nose looks as the bed does there with nothing on it.
pub(super) fn is_bare(
    view: &BedView,
    at: TablePoint,
    table: &TableSize,
    steady: &SteadyBed,
) -> bool {
    let change = steady.change(view, at, INNER_PART * table.ball_radius_mm());
    change.is_some_and(|change| change < LEAST_CHANGE)
}

/// Whether a ball's place is much less sure than those of the others, in the middle.
pub(super) fn is_vague(ball: &Centred, balls: &[Centred]) -> bool {
    let spread = |ball: &Centred| ball.covariance_mm2.trace().max(0.0).sqrt();
    let elsewhere = |other: &&Centred| other.centre != ball.centre;
    let mut others: Vec<f64> = balls.iter().filter(elsewhere).map(spread).collect();
    others.sort_by(f64::total_cmp);
    others.get(others.len() / 2).is_some_and(|middle| spread(ball) > LESS_SURE * middle)
}

/// Whether all that is seen at a place, beside other balls, is the cloth.
pub(super) fn is_shadow(
    view: &BedView,
    (at, balls): (TablePoint, &[Centred]),
    table: &TableSize,
    steady: &SteadyBed,
) -> bool {
    let radius_mm = table.ball_radius_mm();
    let others: Vec<TablePoint> = balls
        .iter()
        .map(|ball| ball.centre)
        .filter(|other| (radius_mm..3.0 * radius_mm).contains(&other.distance_mm(at)))
        .collect();
    let (mut all, mut seen, mut cloth) = (0.0, 0.0, 0.0);
    for (cell, place) in disc(view, at, INNER_PART * radius_mm) {
        all += 1.0;
        if others.iter().all(|other| other.distance_mm(place) > NEIGHBOUR_PART * radius_mm) {
            seen += 1.0;
            cloth += f64::from(u8::from(is_cloth(view, cell, steady)));
        }
    }
    seen > LEAST_SEEN * all && cloth > ONLY_CLOTH * seen
}

#[cfg(test)]
mod tests {
    use super::super::bed::cell_place;
    use super::*;
    use nalgebra::Matrix2;
    use std::sync::Arc;

    /// Maroon cloth, logarithmic, and what its shadows leave of it.
    const CLOTH: [f32; 3] = [4.75, 3.95, 4.16];
    const SHADE: [f32; 3] = [-0.62, -0.4, -0.46];

    fn ball(centre: TablePoint, sigma_mm: f64) -> Centred {
        let covariance_mm2 = Matrix2::identity() * (sigma_mm * sigma_mm);
        Centred { centre, covariance_mm2, ball: 0.97 }
    }

    fn bed(seen: impl Fn(TablePoint) -> [f32; 3]) -> BedView {
        let (columns, rows) = (120, 90);
        let place = |index: usize| cell_place((index % columns) as f64, (index / columns) as f64);
        let difference = (0..columns * rows).map(|index| seen(place(index))).collect();
        let (noise, cloth_part) = (0.05, 1.0);
        BedView { columns, rows, difference, cells: Arc::new([]), noise, cloth: CLOTH, cloth_part }
    }

    #[test]
    fn a_place_is_vague_beside_surer_ones_and_alone_is_none() {
        let ball = |x_mm: f64, sigma_mm: f64| ball(TablePoint::new(x_mm, 500.0), sigma_mm);
        let others = [0.7, 0.8, 1.1, 0.9].map(|sigma_mm| ball(1000.0 * sigma_mm, sigma_mm));
        let among = |ball: Centred| is_vague(&ball, &[others.as_slice(), &[ball]].concat());
        assert!(among(ball(300.0, 2.6)));
        assert!(!among(ball(300.0, 1.5)));
        assert!(!is_vague(&ball(300.0, 2.6), &[ball(300.0, 2.6)]));
    }

    #[test]
    fn a_deep_shadow_beside_a_ball_is_none_and_a_dark_ball_with_its_gloss_is_one() {
        let table = TableSize::NINE_FOOT;
        let radius_mm = table.ball_radius_mm();
        let (white, dark) = (TablePoint::new(150.0, 120.0), TablePoint::new(210.0, 122.0));
        let steady = SteadyBed::default();
        let gloss = TablePoint::new(dark.x_mm - 8.0, dark.y_mm - 6.0);
        let seen = |own: [f32; 3], glossy: bool| {
            bed(move |at| match at {
                at if at.distance_mm(white) < radius_mm => [0.8, 1.4, 1.2],
                at if glossy && at.distance_mm(gloss) < 9.0 => [0.9, 1.5, 1.3],
                at if at.distance_mm(dark) < radius_mm => own,
                at if at.distance_mm(dark) < 2.0 * radius_mm => SHADE,
                _ => [0.0; 3],
            })
        };
        let balls = [white, dark].map(|at| ball(at, 1.0));
        let none = |view: &BedView| is_shadow(view, (dark, &balls), &table, &steady);
        assert!(none(&seen(SHADE, false)));
        assert!(none(&seen([-0.2, -0.13, -0.15], false)), "a softer one");
        assert!(!none(&seen(SHADE, true)), "of the cloth's own colour but for its gloss");
        assert!(!none(&seen([-1.9, -1.3, -1.5], false)), "black");
        assert!(!none(&seen([-0.6, -0.1, 0.4], false)), "blue");
    }
}
