//! Whether runs are getting longer.
//!
//! Input: runs in the order they were played. Output: whether they grow or shrink, by how much in a
//! hundred attempts with a 95 % interval, and how likely so much would be by luck.
//!
//! Method: Mann–Kendall's test with ties and continuity correction (Mann, Econometrica 13 (1945) 245;
//! Kendall 1975); the slope by Theil and Sen, the median of the slopes of all pairs, with Sen's
//! interval (J. Am. Stat. Assoc. 63 (1968) 1379). Both go by ranks, so that one very long run does
//! not make a trend. Attempts are numbered, not dated: a clock set back changes nothing. More than
//! [`MOST_POINTS`] attempts are taken in groups of neighbours, each by its mean run. A stopped
//! attempt counts as it stands. Not modelled: days of good form, which make a trend look surer.

use super::{
    estimate::{Estimate, Z},
    run::Run,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::f64::consts::SQRT_2;

/// Points that slopes are taken between: 80,000 pairs.
const MOST_POINTS: usize = 400;
/// Fewer attempts have no trend to speak of.
const FEWEST: usize = 8;

/// A trend of the runs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Trend {
    /// Points that it was reckoned from: attempts, or groups of attempts.
    pub points: u32,
    /// Attempts in a point.
    pub attempts_a_point: u32,
    /// Balls that a run grows by in a hundred attempts.
    pub balls_in_100_attempts: Estimate,
    /// Kendall's tau, −1 to 1: 1 if each run is longer than all before it.
    pub tau: f64,
    /// Pairs that grow less pairs that shrink.
    pub score: i64,
    /// The score in standard deviations.
    pub z: f64,
    /// How likely so much of a trend, up or down, would be if there were none.
    pub by_luck: f64,
}

impl Trend {
    /// The trend of runs in the order they were played; none if there are too few of them.
    pub fn of(runs: &[Run]) -> Option<Self> {
        let size = runs.len().div_ceil(MOST_POINTS).max(1);
        // What does not fill a group is left out of the oldest.
        let points: Vec<(f64, f64)> = runs[runs.len() % size..]
            .chunks_exact(size)
            .enumerate()
            .map(|(k, group)| {
                let sum: f64 = group.iter().map(|run| f64::from(run.balls)).sum();
                let middle = (k * size) as f64 + (size as f64 - 1.0) / 2.0;
                (middle, sum / size as f64)
            })
            .collect();
        if points.len() < FEWEST {
            return None;
        }
        let test = MannKendall::of(&points);
        let slope = slope(&points)?.growing(|balls| 100.0 * balls);
        Some(Self {
            points: points.len() as u32,
            attempts_a_point: size as u32,
            balls_in_100_attempts: slope,
            tau: test.tau,
            score: test.score,
            z: test.z,
            by_luck: test.by_luck,
        })
    }
}

struct MannKendall {
    score: i64,
    tau: f64,
    z: f64,
    by_luck: f64,
}

impl MannKendall {
    /// Of points in the order of time.
    fn of(points: &[(f64, f64)]) -> Self {
        let mut score = 0_i64;
        for (at, (_, early)) in points.iter().enumerate() {
            for (_, late) in &points[at + 1..] {
                score += i64::from(late > early) - i64::from(late < early);
            }
        }
        let sigma = score_variance(points).sqrt();
        let corrected = (score - score.signum()) as f64;
        let z = if sigma > 0.0 { corrected / sigma } else { 0.0 };
        let n = points.len() as f64;
        let by_luck = libm::erfc(z.abs() / SQRT_2);
        Self { score, tau: score as f64 / (n * (n - 1.0) / 2.0), z, by_luck }
    }
}

/// The variance of the score if there is no trend, ties taken into account.
fn score_variance(points: &[(f64, f64)]) -> f64 {
    let term = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    let mut values: Vec<f64> = points.iter().map(|(_, value)| *value).collect();
    values.sort_unstable_by(f64::total_cmp);
    let ties: f64 = values.chunk_by(|a, b| a == b).map(|tied| term(tied.len() as f64)).sum();
    (term(values.len() as f64) - ties) / 18.0
}

/// Theil's slope with Sen's interval, of points at different times.
fn slope(points: &[(f64, f64)]) -> Option<Estimate> {
    let mut slopes = Vec::with_capacity(points.len() * points.len() / 2);
    for (at, (x, y)) in points.iter().enumerate() {
        slopes.extend(points[at + 1..].iter().map(|(later, then)| (then - y) / (later - x)));
    }
    slopes.sort_unstable_by(f64::total_cmp);
    let count = slopes.len() as f64;
    let reach = Z * score_variance(points).sqrt();
    let rank = |at: f64| (at.max(0.0) as usize).min(slopes.len().saturating_sub(1));
    let low = rank(((count - reach) / 2.0).round_ties_even() - 1.0);
    let high = rank(((count + reach) / 2.0).round_ties_even());
    let half = slopes.len() / 2;
    let middle = if slopes.len() % 2 == 0 {
        f64::midpoint(*slopes.get(half.wrapping_sub(1))?, *slopes.get(half)?)
    } else {
        *slopes.get(half)?
    };
    Some(Estimate { value: middle, low: *slopes.get(low)?, high: *slopes.get(high)? })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::Ending;

    fn runs(balls: impl IntoIterator<Item = u32>) -> Vec<Run> {
        balls.into_iter().map(|balls| Run::of_balls(None, balls, Ending::Missed)).collect()
    }

    #[test]
    fn runs_that_grow_by_one_grow_by_a_hundred_in_a_hundred() {
        let trend = Trend::of(&runs(0..30)).unwrap();
        assert_eq!(trend.balls_in_100_attempts.value, 100.0);
        assert_eq!((trend.tau, trend.score), (1.0, 435));
        assert!(trend.by_luck < 1e-9);
    }

    #[test]
    fn runs_all_alike_have_no_trend() {
        let trend = Trend::of(&runs([12; 20])).unwrap();
        assert_eq!((trend.score, trend.z, trend.by_luck), (0, 0.0, 1.0));
        assert_eq!(trend.balls_in_100_attempts.value, 0.0);
    }

    #[test]
    fn many_attempts_are_taken_in_groups_and_tell_the_same_slope() {
        let trend = Trend::of(&runs((0..10_000).map(|k| k / 100))).unwrap();
        assert_eq!((trend.points, trend.attempts_a_point), (400, 25));
        assert!((trend.balls_in_100_attempts.value - 1.0).abs() < 1e-3);
    }

    #[test]
    fn a_handful_of_attempts_has_no_trend() {
        assert_eq!(Trend::of(&runs(0..7)), None);
    }
}
