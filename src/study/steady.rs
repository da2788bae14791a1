//! Whether later balls of an attempt are missed as often as early ones.
//!
//! The chance of a long run is told from all balls alike, also from those of short runs. Where a
//! player misses less once a run is on its way (good days do that), the true chance of a long run is
//! higher than told; where more (nerves, tiredness), lower.
//!
//! Method: Mantel & Haenszel, J. Natl. Cancer Inst. 22 (1959) 719: at each place of the rack the
//! balls up to the median run against those beyond it, without continuity correction.

use super::run::{PLACES, Run};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Misses at balls late in the attempt.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LateBalls {
    /// Balls from this one on are late.
    pub from_ball: u32,
    pub missed: u64,
    /// Misses that there would be if late and early balls were missed alike.
    pub expected: f64,
    /// The difference in standard deviations: beyond ±2 it is hardly luck.
    pub z: f64,
}

impl LateBalls {
    /// None where there is nothing to compare.
    pub fn of(runs: &[Run], median_run: u32) -> Option<Self> {
        let from_ball = median_run.saturating_add(2);
        // Balls faced and missed at each place, early and late.
        let mut cells = [[[0_u64; 2]; PLACES]; 2];
        for run in runs {
            let mut ball = 0;
            run.each_ball(|_, place, missed| {
                ball += 1;
                let cell = &mut cells[usize::from(ball >= from_ball)][place];
                cell[0] += 1;
                cell[1] += u64::from(missed);
            });
        }
        let (mut missed, mut expected, mut variance) = (0, 0.0, 0.0);
        let [early_balls, late_balls] = cells;
        for ([early, early_missed], [late, late_missed]) in early_balls.into_iter().zip(late_balls)
        {
            let (all, all_missed) = ((early + late) as f64, (early_missed + late_missed) as f64);
            if early + late < 2 {
                continue;
            }
            let share = late as f64 / all;
            missed += late_missed;
            expected += all_missed * share;
            variance += all_missed * share * (1.0 - share) * (all - all_missed) / (all - 1.0);
        }
        let difference = missed as f64 - expected;
        let z = difference / variance.sqrt();
        (variance > 0.0).then_some(Self { from_ball, missed, expected, z })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{random::Random, study::Ending};

    fn played(seed: u64, chance: impl Fn(u32) -> f64) -> Vec<Run> {
        let mut random = Random::new(seed);
        (0..400)
            .map(|_| {
                let mut balls = 0;
                while !random.chance(chance(balls)) {
                    balls += 1;
                }
                Run::of_balls(None, balls, Ending::Missed)
            })
            .collect()
    }

    #[test]
    fn a_steady_player_is_rarely_told_otherwise() {
        let beyond = (0..200)
            .filter(|seed| LateBalls::of(&played(*seed, |_| 0.08), 8).unwrap().z.abs() > 1.96)
            .count();
        assert!((3..=20).contains(&beyond), "{beyond} of 200");
    }

    #[test]
    fn a_player_who_settles_in_is_found_out() {
        let late = LateBalls::of(&played(1, |ball| if ball < 9 { 0.12 } else { 0.05 }), 8).unwrap();
        assert!(late.z < -3.0 && (late.missed as f64) < late.expected, "{late:?}");
    }

    #[test]
    fn nothing_is_compared_with_nothing() {
        assert_eq!(LateBalls::of(&[], 0), None);
        assert_eq!(LateBalls::of(&[Run::of_balls(None, 0, Ending::Missed)], 0), None);
    }
}
