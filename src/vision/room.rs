//! Where there is room for a ball among others, and where a rack has room that should be filled.
//!
//! Input: places of balls. Output: whether another fits, and the empty places of a rack that stands but
//! for a few. Method: balls do not overlap, and where a rack's balls stand is known. Not modelled: what
//! the picture shows there.

use crate::table::{Rack, TablePoint, TableSize};

/// Centres of two balls lie at least this part of a diameter apart, to the errors of reading.
const LEAST_APART: f64 = 0.88;
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
