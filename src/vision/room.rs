//! Where there is room for a ball among others, and where a rack has room that should be filled.
//!
//! Input: places of balls. Output: whether another fits, two that were read too near each other let touch,
//! and the empty places of a rack that stands but for a few. Method: balls do not overlap, and where a rack's balls stand is known. Not modelled: what
//! the picture shows there.

use super::centring::Centred;
use super::read::BEYOND_DOUBT;
use crate::table::{Rack, TablePoint, TableSize};

/// Centres of two balls lie at least this part of a diameter apart, to the errors of reading.
const LEAST_APART: f64 = 0.88;
/// The same of two that are both balls beyond doubt: of two that touch each may be read nearer to the
/// other, and one ball is never read at two places so far apart.
const NEARER_APART: f64 = 0.78;
/// A rack stands when so many of its balls are seen.
const LEAST_RACKED: usize = 10;

/// Whether a ball leaves room for balls at some places.
pub(super) fn is_free_of(places: &[TablePoint], ball: TablePoint, table: &TableSize) -> bool {
    places.iter().all(|at| are_apart(*at, ball, table))
}

/// Whether two balls can lie at two places, to the errors of both.
pub(super) fn are_apart(a: TablePoint, b: TablePoint, table: &TableSize) -> bool {
    a.distance_mm(b) > LEAST_APART * table.ball_diameter_mm
}

/// Whether what was found at two places can be two balls.
pub(super) fn are_two(a: &Centred, b: &Centred, table: &TableSize) -> bool {
    let sure = a.ball.min(b.ball) > BEYOND_DOUBT;
    let least = if sure { NEARER_APART } else { LEAST_APART };
    a.centre.distance_mm(b.centre) > least * table.ball_diameter_mm
}

/// Lets balls that were read nearer to each other than [`LEAST_APART`] touch: the less sure the place of
/// one is, the farther it goes.
pub(super) fn let_touch(balls: &mut [Centred], table: &TableSize) {
    for second in 1..balls.len() {
        let (before, from_second) = balls.split_at_mut(second);
        let [b, ..] = from_second else { return };
        for a in before {
            if are_apart(a.centre, b.centre, table) {
                continue;
            }
            let apart_mm = a.centre.distance_mm(b.centre).max(1.0);
            let (of_a, of_b) = (a.covariance_mm2.trace(), b.covariance_mm2.trace());
            let missing = (table.ball_diameter_mm - apart_mm) / apart_mm;
            let share = if of_a + of_b > 0.0 { of_a / (of_a + of_b) } else { 0.5 };
            let way =
                [b.centre.x_mm - a.centre.x_mm, b.centre.y_mm - a.centre.y_mm].map(|d| d * missing);
            let moved = |at: TablePoint, part: f64| {
                TablePoint::new(at.x_mm + part * way[0], at.y_mm + part * way[1])
            };
            a.centre = moved(a.centre, -share);
            b.centre = moved(b.centre, 1.0 - share);
        }
    }
}

/// What a rack lacks that stands but for a few balls, at either end: within a rack edges are hard to
/// tell apart, but where its balls stand is known.
pub(super) struct RackGaps {
    /// Its places with no ball.
    pub empty: Vec<TablePoint>,
    /// Those of its balls that lie too near to an empty one for a ball there.
    pub crowded: Vec<TablePoint>,
}

impl RackGaps {
    /// What the racks lack among balls that lie at some places.
    pub fn among(balls: &[TablePoint], table: &TableSize) -> Self {
        let one_end = *Rack::on(table).places();
        let near = |at: TablePoint, reach_mm: f64| {
            balls.iter().copied().find(|ball| ball.distance_mm(at) < reach_mm)
        };
        let mut gaps = Self { empty: Vec::new(), crowded: Vec::new() };
        for places in [one_end, one_end.map(|place| place.turned(table))] {
            let stands = places.map(|place| near(place, table.ball_radius_mm()));
            let pairs: Vec<(TablePoint, TablePoint)> =
                places.into_iter().zip(stands).filter_map(|(at, ball)| Some((at, ball?))).collect();
            if pairs.len() < LEAST_RACKED {
                continue;
            }
            let off_mm = |axis: fn(TablePoint) -> f64| {
                pairs.iter().map(|(place, ball)| axis(*ball) - axis(*place)).sum::<f64>()
                    / pairs.len() as f64
            };
            let (x_mm, y_mm) = (off_mm(|p| p.x_mm), off_mm(|p| p.y_mm));
            let stood = places.map(|place| TablePoint::new(place.x_mm + x_mm, place.y_mm + y_mm));
            let filled = || stood.into_iter().zip(stands);
            // A rack of fourteen has no apex: what lies there has to show of itself.
            let empty: Vec<TablePoint> =
                filled().skip(1).filter(|(_, ball)| ball.is_none()).map(|(at, _)| at).collect();
            let crowds = |(_, ball): &(TablePoint, Option<TablePoint>)| {
                ball.is_some_and(|ball| !is_free_of(&empty, ball, table))
            };
            gaps.crowded.extend(filled().filter(crowds).map(|(at, _)| at));
            gaps.empty.extend(empty);
        }
        gaps
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Matrix2;

    const TABLE: TableSize = TableSize::NINE_FOOT;

    /// A rack a little off its place that lacks the ball of one place.
    fn rack_without(lacks: usize) -> Vec<TablePoint> {
        let places = *Rack::on(&TABLE).places();
        let stood = places.map(|place| TablePoint::new(place.x_mm + 2.0, place.y_mm - 1.0));
        stood.into_iter().enumerate().filter(|(i, _)| *i != lacks).map(|(_, p)| p).collect()
    }

    fn is_near(a: TablePoint, b: TablePoint) -> bool {
        a.distance_mm(b) < 4.0
    }

    #[test]
    fn a_rack_without_a_ball_has_one_gap_and_one_without_its_apex_none() {
        let places = *Rack::on(&TABLE).places();
        let gaps = RackGaps::among(&rack_without(7), &TABLE);
        assert!(gaps.empty.len() == 1 && is_near(gaps.empty[0], places[7]), "{:?}", gaps.empty);
        assert!(gaps.crowded.is_empty());
        assert!(RackGaps::among(&rack_without(0), &TABLE).empty.is_empty());
    }

    fn found(x_mm: f64, y_mm: f64, ball: f64, sigma_mm: f64) -> Centred {
        let covariance_mm2 = Matrix2::identity() * (sigma_mm * sigma_mm);
        Centred { centre: TablePoint::new(x_mm, y_mm), covariance_mm2, ball }
    }

    #[test]
    fn two_sure_balls_that_are_read_too_near_are_two_and_touch() {
        let table = TableSize::NINE_FOOT;
        let pair = |ball: f64| [found(1000.0, 600.0, 0.9998, 2.0), found(1008.0, 648.6, ball, 1.0)];
        let [a, b] = pair(0.9996);
        assert!(are_two(&a, &b, &table), "49 mm apart");
        let [a, b] = pair(0.99);
        assert!(!are_two(&a, &b, &table), "one of them may be none");
        assert!(!are_two(&a, &found(1004.0, 636.0, 0.9999, 1.0), &table), "one ball, read twice");
        let mut balls = [pair(0.9996)[0], pair(0.9996)[1], found(1700.0, 300.0, 0.99, 1.0)];
        let was = balls.map(|ball| ball.centre);
        let_touch(&mut balls, &table);
        let apart_mm = balls[0].centre.distance_mm(balls[1].centre);
        assert!((apart_mm - table.ball_diameter_mm).abs() < 1e-9, "{apart_mm}");
        let went = |ball: usize| balls[ball].centre.distance_mm(was[ball]);
        assert!(went(0) > 3.0 * went(1), "the surer place holds");
        assert_eq!(balls[2].centre, was[2]);
    }

    #[test]
    fn a_ball_between_its_place_and_an_empty_one_crowds_it() {
        let places = *Rack::on(&TABLE).places();
        let mut kept = rack_without(7);
        // A neighbour, taken for one ten millimetres nearer to the empty place.
        let near_mm = 1.1 * TABLE.ball_diameter_mm;
        let next = kept.iter_mut().find(|ball| ball.distance_mm(places[7]) < near_mm);
        let next = next.unwrap();
        let stood = *next;
        let part = 10.0 / stood.distance_mm(places[7]);
        *next = TablePoint::new(
            stood.x_mm + part * (places[7].x_mm - stood.x_mm),
            stood.y_mm + part * (places[7].y_mm - stood.y_mm),
        );
        let gaps = RackGaps::among(&kept, &TABLE);
        assert!(gaps.empty.len() == 1 && is_near(gaps.empty[0], places[7]), "{:?}", gaps.empty);
        assert!(gaps.crowded.len() == 1 && is_near(gaps.crowded[0], stood), "{:?}", gaps.crowded);
    }
}
