//! Which ball of one layout is which of another, numbers respected where both are known.
//!
//! Input: two lists of balls on one table. Output: for each ball of the first its partner in the
//! second, if one is left for it. As many as can be have a partner; among those ways the one with
//! the fewest numbers against each other, then the fewest that may be, then the least way in all:
//! the assignment problem, with the order of what counts in the size of the costs.

use crate::{
    assignment::cheapest,
    layout::{Ball, BallKind},
    table::TablePoint,
};

/// A number that is known at least this surely is one.
const KNOWN: f64 = 0.8;

/// Each is dearer than any way on a table (below 4.6 m) with all that stands before it.
const MAYBE_ANOTHER_MM: f64 = 5e3;
const ANOTHER_MM: f64 = 1e4;
const NONE_MM: f64 = 2e4;

/// Cue ball and object ball never stand for each other.
const NEVER_MM: f64 = 1e9;

/// A ball to be paired.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lying {
    pub(super) kind: BallKind,
    /// None where it is not known surely enough.
    pub(super) number: Option<u8>,
    pub(super) at: TablePoint,
}

impl Lying {
    pub(super) fn new(ball: &Ball, at: TablePoint) -> Self {
        let number = ball.number.filter(|_| ball.number_confidence >= KNOWN);
        Self { kind: ball.kind, number, at }
    }

    fn cost_mm(&self, other: &Self) -> f64 {
        let against = match (self.number, other.number) {
            _ if self.kind != other.kind => NEVER_MM,
            _ if self.kind == BallKind::Cue => 0.0,
            (Some(own), Some(its)) if own != its => ANOTHER_MM,
            (Some(_), None) => MAYBE_ANOTHER_MM,
            _ => 0.0,
        };
        against + self.at.distance_mm(other.at)
    }
}

/// For each of some balls its partner's index among the others, and what all of it costs.
pub(super) fn pair(balls: &[Lying], others: &[Lying]) -> (Vec<Option<usize>>, f64) {
    // Behind the others each ball may go without: there is always room for all.
    let columns = others.len() + balls.len();
    let cost: Vec<Vec<f64>> = balls
        .iter()
        .map(|ball| {
            let with = others.iter().map(|other| ball.cost_mm(other));
            with.chain(std::iter::repeat_n(NONE_MM, balls.len())).collect()
        })
        .collect();
    let chosen = cheapest(&cost, columns);
    let sum_mm = chosen.iter().zip(&cost).filter_map(|(&column, own)| own.get(column)).sum();
    let partner = |column: usize| Some(column).filter(|column| *column < others.len());
    (chosen.into_iter().map(partner).collect(), sum_mm)
}
