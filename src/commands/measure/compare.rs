//! One reading against the truth of its frame.
//!
//! Compared in the true table's frame up to its turn by 180°, since a frame need not tell the head
//! from the foot. Balls are paired one to one, nearest pairs first, within [`REACH_MM`]: true
//! balls lie a diameter apart, so no reading has two true balls in reach and this is the best
//! assignment. Must not know how frames are read.

use super::labelled::{Label, TrueBall};
use serde::Serialize;
use stillcloth::camera::Calibration;
use stillcloth::layout::BallKind;
use stillcloth::table::{TablePoint, TableSize};
use stillcloth::vision::Reading;

/// A ball that is read further from its true place than this was not found there.
const REACH_MM: f64 = 25.0;
/// A table size is right when the length is within this part of the true one.
const SAME_SIZE: f64 = 0.01;

/// A ball that lies there and was found.
#[derive(Debug, Clone, Serialize)]
pub struct Found {
    pub number: u8,
    pub read_as: Option<u8>,
    pub at: TablePoint,
    pub error_mm: f64,
    pub sigma_mm: f64,
}

/// A ball that was not found, or something that was read as a ball and is none.
#[derive(Debug, Clone, Serialize)]
pub struct Odd {
    pub number: Option<u8>,
    pub at: TablePoint,
}

/// What came of one frame.
#[derive(Debug, Clone, Serialize)]
pub struct Comparison {
    pub found: Vec<Found>,
    pub missed: Vec<Odd>,
    pub false_balls: Vec<Odd>,
    pub cue_right: bool,
    pub obstructed_right: bool,
    pub size_right: bool,
    pub corners_rms_px: f64,
    /// The table's size as it was read.
    pub size: TableSize,
}

/// Holds a reading against its label.
pub fn compare(label: &Label, calibration: &Calibration, reading: &Reading) -> Comparison {
    let (corners_rms_px, turned) = corners(label, calibration);
    // Diamonds are independent of the table's size; millimetres are compared on the true table.
    let places: Vec<TablePoint> = reading
        .layout
        .balls
        .iter()
        .map(|ball| ball.place().on_table(&label.table))
        .map(|place| if turned { place.turned(&label.table) } else { place })
        .collect();
    let truth: Vec<TablePoint> = label.balls.iter().map(TrueBall::place).collect();
    let pairs = pair(&truth, &places, |a, b| a.distance_mm(*b), REACH_MM);
    let found = pairs.iter().map(|(true_ball, read_ball)| {
        let (ball, read) = (&label.balls[*true_ball], &reading.layout.balls[*read_ball]);
        let error_mm = ball.place().distance_mm(places[*read_ball]);
        let (at, sigma_mm) = (ball.place(), read.sigma_mm);
        Found { number: ball.number, read_as: read.number, at, error_mm, sigma_mm }
    });
    let unpaired = |count: usize, side: fn(&(usize, usize)) -> usize| {
        (0..count).filter(|i| !pairs.iter().any(|pair| side(pair) == *i)).collect::<Vec<_>>()
    };
    let missed = unpaired(truth.len(), |pair| pair.0).into_iter();
    let false_balls = unpaired(places.len(), |pair| pair.1).into_iter();
    Comparison {
        found: found.collect(),
        missed: missed.map(|i| Odd { number: Some(label.balls[i].number), at: truth[i] }).collect(),
        false_balls: false_balls
            .map(|i| Odd { number: reading.layout.balls[i].number, at: places[i] })
            .collect(),
        cue_right: cue_right(label, reading, &pairs),
        obstructed_right: reading.layout.obstructed == label.obstructed,
        size_right: (calibration.table.length_mm / label.table.length_mm - 1.0).abs() < SAME_SIZE,
        corners_rms_px,
        size: calibration.table,
    }
}

/// The cue ball is right when it alone is said to be it, and nothing where there is none.
fn cue_right(label: &Label, reading: &Reading, pairs: &[(usize, usize)]) -> bool {
    let said: Vec<usize> = (0..reading.layout.balls.len())
        .filter(|i| reading.layout.balls[*i].kind == BallKind::Cue)
        .collect();
    match (label.balls.iter().position(|ball| ball.number == 0), &said[..]) {
        (None, []) => true,
        (Some(cue), [only]) => pairs.contains(&(cue, *only)),
        _ => false,
    }
}

/// Root mean square distance of the nose corners, and whether the reading is turned.
fn corners(label: &Label, calibration: &Calibration) -> (f64, bool) {
    let truth = label.nose_corners();
    let rms = |turn: usize| {
        let squares = (0..4)
            .map(|i| calibration.nose_corners_px[(i + turn) % 4].distance_px(truth[i]).powi(2));
        (squares.sum::<f64>() / 4.0).sqrt()
    };
    let (straight, turned) = (rms(0), rms(2));
    if turned < straight { (turned, true) } else { (straight, false) }
}

/// Pairs of places, one to one, nearest first, no further apart than `reach`.
pub fn pair<A, B>(
    these: &[A],
    those: &[B],
    distance: impl Fn(&A, &B) -> f64,
    reach: f64,
) -> Vec<(usize, usize)> {
    let mut near = Vec::new();
    for (i, a) in these.iter().enumerate() {
        for (j, b) in those.iter().enumerate() {
            let apart = distance(a, b);
            if apart <= reach {
                near.push((apart, i, j));
            }
        }
    }
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (_, i, j) in near {
        if pairs.iter().all(|(a, b)| *a != i && *b != j) {
            pairs.push((i, j));
        }
    }
    pairs
}

#[cfg(test)]
mod tests {
    use super::pair;

    fn pairs(these: &[f64], those: &[f64]) -> Vec<(usize, usize)> {
        pair(these, those, |a, b| (a - b).abs(), 25.0)
    }

    #[test]
    fn the_nearest_are_paired_and_nobody_twice() {
        assert_eq!(pairs(&[0.0, 60.0], &[61.0, 2.0]), [(1, 0), (0, 1)]);
        // Two readings of one ball: the nearer counts, the other stays alone.
        assert_eq!(pairs(&[0.0], &[10.0, -4.0]), [(0, 1)]);
        assert_eq!(pairs(&[0.0], &[25.1]), []);
        assert_eq!(pairs(&[], &[1.0]), []);
    }
}
