//! Which ball is which, decided for the layout as a whole.
//!
//! Input: a frame, a camera, the balls' centres. Output: for each the cue ball, a number or no ball,
//! with how sure it is. Method: a trained network looks at all balls of the layout together, since
//! the light's colour and the set's own tones show only in comparison; then each number is given at
//! most once, as an assignment of least cost (H. W. Kuhn, "The Hungarian method", 1955). A name's
//! confidence is its share against the best assignment without it. Trained on made pictures, see
//! models/README.md.

use super::net::{Net, NetError};
use super::patch::{self, OutlineMap};
use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use image::RgbImage;

/// Side of the patch in pixels, and how many radii it reaches.
const SIDE_PX: usize = 32;
const REACH_RADII: f64 = 1.25;
/// Cue ball and fifteen numbers.
const NAMES: usize = 16;
/// The network's class for what is no ball.
const NO_BALL: usize = 16;
/// No look at a place is surer than this.
const LEAST_DOUBT: f64 = 0.02;
/// Cost of what cannot be.
const NEVER: f64 = 1e6;

/// What a place holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Name {
    /// 0 for the cue ball, 1 to 15, or none for no ball.
    pub number: Option<u8>,
    /// How sure the number is, 0 to 1, against every other reading of the layout.
    pub confidence: f64,
}

/// The network, ready to run.
pub(super) struct Naming {
    net: Net,
}

impl Naming {
    pub fn new() -> Result<Self, NetError> {
        static ONNX: &[u8] = include_bytes!("../../models/ball_naming.onnx");
        Ok(Self { net: Net::read("ball_naming", ONNX, SIDE_PX)? })
    }

    /// Names the balls of a layout; `sure` is how sure each is a ball by what was seen before.
    pub fn name(
        &self,
        frame: &RgbImage,
        (camera, table): (&Camera, &TableSize),
        (centres, sure): (&[TablePoint], &[f64]),
    ) -> Result<Vec<Name>, NetError> {
        let mut patches = Vec::with_capacity(centres.len() * 3 * SIDE_PX * SIDE_PX);
        let mut cut = Vec::with_capacity(centres.len());
        for (index, centre) in centres.iter().enumerate() {
            if let Some(map) = OutlineMap::of(camera, table, *centre) {
                patches.extend(patch::cut(frame, &map, SIDE_PX, REACH_RADII));
                cut.push(index);
            }
        }
        let mut rows = self.net.rows(patches)?;
        for (row, index) in rows.iter_mut().zip(&cut) {
            // Two looks at the same place: the earlier one's odds join the network's.
            let ball =
                sure.get(*index).copied().unwrap_or(0.5).clamp(LEAST_DOUBT, 1.0 - LEAST_DOUBT);
            if let Some(no_ball) = row.get_mut(NO_BALL) {
                *no_ball -= (ball / (1.0 - ball)).ln() as f32;
            }
        }
        let mut names = vec![Name { number: None, confidence: 0.0 }; centres.len()];
        for (index, name) in cut.into_iter().zip(decide(&rows)) {
            names[index] = name;
        }
        Ok(names)
    }
}

/// Names from the network's rows of class scores.
fn decide(rows: &[Vec<f32>]) -> Vec<Name> {
    let costs: Vec<[f64; NAMES + 1]> = rows.iter().map(|row| costs_of(row)).collect();
    // Columns: each name once, then a "no ball" of its own for every row.
    let cost = |row: usize, column: usize| {
        if column < NAMES {
            costs[row][column]
        } else if column - NAMES == row {
            costs[row][NO_BALL]
        } else {
            NEVER
        }
    };
    let columns = NAMES + rows.len();
    let best = assign(rows.len(), columns, &cost);
    let total =
        |given: &[usize]| -> f64 { given.iter().enumerate().map(|(r, c)| cost(r, *c)).sum() };
    let least = total(&best);
    (0..rows.len())
        .map(|row| {
            let taken = best[row];
            let without =
                |r: usize, c: usize| if (r, c) == (row, taken) { NEVER } else { cost(r, c) };
            let other = assign(rows.len(), columns, &without);
            let worse: f64 =
                other.iter().enumerate().map(|(r, c)| without(r, *c)).sum::<f64>() - least;
            Name {
                number: (taken < NAMES).then_some(taken as u8),
                confidence: 1.0 / (1.0 + (-worse).exp()),
            }
        })
        .collect()
}

/// Negative log probabilities of the classes.
fn costs_of(row: &[f32]) -> [f64; NAMES + 1] {
    let mut costs = [NEVER; NAMES + 1];
    let most = row.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let sum: f64 = row.iter().map(|v| f64::from(v - most).exp()).sum();
    for (cost, value) in costs.iter_mut().zip(row) {
        *cost = (sum.ln() - f64::from(value - most)).min(NEVER / 1e3);
    }
    costs
}

/// The column of each row in the assignment of least cost; shortest augmenting paths.
fn assign(rows: usize, columns: usize, cost: &dyn Fn(usize, usize) -> f64) -> Vec<usize> {
    // One-based, with column 0 for the row being placed.
    let (mut row_price, mut column_price) = (vec![0.0; rows + 1], vec![0.0; columns + 1]);
    let mut row_of = vec![0_usize; columns + 1];
    for row in 1..=rows {
        row_of[0] = row;
        let mut reach = vec![f64::INFINITY; columns + 1];
        let (mut done, mut from) = (vec![false; columns + 1], vec![0_usize; columns + 1]);
        let mut column = 0;
        while row_of[column] != 0 {
            done[column] = true;
            let here = row_of[column];
            let (mut least, mut next) = (f64::INFINITY, 0);
            for other in (1..=columns).filter(|other| !done[*other]) {
                let slack = cost(here - 1, other - 1) - row_price[here] - column_price[other];
                if slack < reach[other] {
                    reach[other] = slack;
                    from[other] = column;
                }
                if reach[other] < least {
                    least = reach[other];
                    next = other;
                }
            }
            for other in 0..=columns {
                if done[other] {
                    row_price[row_of[other]] += least;
                    column_price[other] -= least;
                } else {
                    reach[other] -= least;
                }
            }
            column = next;
        }
        while column != 0 {
            row_of[column] = row_of[from[column]];
            column = from[column];
        }
    }
    let mut given = vec![0; rows];
    for column in 1..=columns {
        if row_of[column] != 0 {
            given[row_of[column] - 1] = column - 1;
        }
    }
    given
}

#[cfg(test)]
mod tests {
    use super::{assign, decide};

    #[test]
    fn the_least_cost_is_found_against_all_orders() {
        let cost = |row: usize, column: usize| f64::from(((row * 7 + column * 13) * 31 % 17) as u8);
        let given = assign(3, 4, &cost);
        let sum = |columns: [usize; 3]| -> f64 { (0..3).map(|r| cost(r, columns[r])).sum() };
        let mut least = f64::INFINITY;
        for a in 0..4 {
            for b in (0..4).filter(|b| *b != a) {
                for c in (0..4).filter(|c| *c != a && *c != b) {
                    least = least.min(sum([a, b, c]));
                }
            }
        }
        assert_eq!(sum([given[0], given[1], given[2]]), least);
    }

    #[test]
    fn a_number_is_given_once_and_the_doubt_shows() {
        let mut sure = vec![0.0_f32; 17];
        sure[3] = 12.0;
        let mut doubtful = vec![0.0_f32; 17];
        (doubtful[3], doubtful[7]) = (6.0, 5.5);
        let names = decide(&[sure, doubtful]);
        assert_eq!((names[0].number, names[1].number), (Some(3), Some(7)));
        assert!(names[0].confidence > 0.9 && names[1].confidence > 0.9);
        let mut alone = vec![0.0_f32; 17];
        (alone[3], alone[7]) = (6.0, 5.5);
        let name = decide(&[alone])[0];
        assert_eq!(name.number, Some(3));
        assert!((0.5..0.7).contains(&name.confidence), "{}", name.confidence);
    }
}
