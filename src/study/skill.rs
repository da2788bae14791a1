//! What playing on a little more often makes of a run.
//!
//! Input: by how much more often the run would go on, from position to position; balls faced and missed.
//! Output: the mean run now and then. Method: the mean difference with the normal interval over the
//! positions; a run of shots that are each missed with the chance q is (1 − q)/q long on the mean. The
//! interval is that of the difference alone: how long runs are now is taken as the record has it.

use super::{
    estimate::{Estimate, Z},
    hazard::Tally,
    shot_log::ShotLog,
    shots::each_shot,
};
use crate::score::Story;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;

/// Better than one miss in so many shots a difference is not told to become.
const LEAST_MISSED: f64 = 0.002;

/// A run as it is and as it would be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RunGain {
    /// By how much more often a run would go on after a shot.
    pub goes_on: Estimate,
    /// The mean run by the misses of these shots, and with so many fewer.
    pub run_now: f64,
    pub run_then: Estimate,
}

impl RunGain {
    /// None without two positions, or where nothing was missed.
    pub fn of(more: &[f64], shots: Tally) -> Option<Self> {
        if more.len() < 2 || shots.missed == 0 {
            return None;
        }
        let count = more.len() as f64;
        let mean = more.iter().sum::<f64>() / count;
        let squares = more.iter().map(|more| (more - mean).powi(2)).sum::<f64>();
        let off = Z * (squares / (count - 1.0) / count).sqrt();
        let goes_on = Estimate { value: mean, low: mean - off, high: mean + off };
        let missed = shots.missed as f64 / shots.faced as f64;
        let run = |missed: f64| (1.0 - missed) / missed;
        let then = |more: f64| run((missed - more).clamp(LEAST_MISSED, 1.0));
        Some(Self { goes_on, run_now: run(missed), run_then: goes_on.growing(then) })
    }
}

/// The latest shots whose ball is known for sure.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LatestShots {
    /// The rests before and after each, and whether it was missed; the latest last.
    pub shots: VecDeque<(i64, i64, bool)>,
    /// Misses among as many latest shots, sure or not.
    pub tally: Tally,
}

impl LatestShots {
    /// The latest of a story, so many at the most.
    pub fn of(story: &Story, log: &ShotLog, most: usize) -> Self {
        let mut latest = Self::default();
        let mut missed = VecDeque::new();
        each_shot(story, log, |shot| {
            missed.push_back(shot.missed);
            if missed.len() > most {
                missed.pop_front();
            }
            if shot.read.aim.is_some_and(|aim| aim.sure) {
                latest.shots.push_back((shot.from_rest, shot.rest, shot.missed));
            }
            if latest.shots.len() > most {
                latest.shots.pop_front();
            }
        });
        missed.into_iter().for_each(|missed| latest.tally.add(missed));
        latest
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::made_up::{MadeUp, Meant};

    #[test]
    fn a_point_more_turns_nine_balls_into_ten() {
        let shots = Tally { faced: 1000, missed: 100 };
        let more = [0.02, 0.0, 0.01, 0.01];
        let gain = RunGain::of(&more, shots).unwrap();
        assert!((gain.run_now - 9.0).abs() < 1e-9 && (gain.goes_on.value - 0.01).abs() < 1e-12);
        assert!((gain.run_then.value - 0.91 / 0.09).abs() < 1e-9);
        // The normal interval of four values.
        let off = 1.959_964 * (2e-4_f64 / 3.0 / 4.0).sqrt();
        assert!((gain.goes_on.high - 0.01 - off).abs() < 1e-7);
        assert!(gain.run_then.low < gain.run_then.value && gain.run_then.high > 10.1);
        // Better than never missing is not told.
        assert!(RunGain::of(&[0.5, 0.7], shots).unwrap().run_then.high < 500.0);
        assert_eq!(RunGain::of(&more, Tally { faced: 3, missed: 0 }), None);
        assert_eq!(RunGain::of(&[], shots), None);
    }

    #[test]
    fn the_latest_shots_are_those_played_last() {
        let mut made_up = MadeUp::default();
        let shot = |made| Meant { cut_deg: 30.0, made };
        made_up.play(0, &[shot(true), shot(true), shot(false)]);
        made_up.play(9_000_000, &[shot(true), shot(false)]);
        let latest = LatestShots::of(&made_up.story, &made_up.log, 3);
        assert_eq!(latest.tally, Tally { faced: 3, missed: 2 });
        assert_eq!(latest.shots, [(5, 6, true), (7, 8, false), (9, 10, true)]);
    }
}
