//! The next hit: the option that brings and leaves the most balls on the mean.
//!
//! Input: balls at rest. Output: one shot and its hit, or none where nothing is on. Method: options
//! as meant (`option`), the best of them played with the player's errors, the best of those played
//! more often. Knows nothing of patterns; quick enough to be asked at every shot of many attempts.

use super::advisor::Advisor;
use super::option::{Breadth, Choice};
use super::scan::Kind;
use crate::motion::{Hit, Placed};

/// Options played, and how often, round by round; each round plays the better part of the last.
const ROUNDS: [(usize, usize); 3] = [(12, 8), (5, 24), (2, 48)];

/// One hit to play.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NextHit {
    pub ball: usize,
    pub pocket: usize,
    pub way: Kind,
    pub hit: Hit,
    /// Balls that it brings and leaves to come, expected.
    pub value: f64,
}

impl Advisor<'_> {
    /// The hit to play next; none where nothing is on.
    pub fn next_hit(&mut self, balls: &[Placed]) -> Option<NextHit> {
        let mut options: Vec<(f64, f64, Choice)> = self
            .options(balls, Breadth::WHOLE)
            .into_iter()
            .map(|option| (0.0, 0.0, option))
            .collect();
        for (round, (kept, times)) in ROUNDS.into_iter().enumerate() {
            options.truncate(kept);
            let seed = self.seed.wrapping_add(round as u64);
            for (sum, played, option) in &mut options {
                *sum += times as f64 * self.weigh(balls, option, (times, seed));
                *played += times as f64;
            }
            options.sort_by(|a, b| (b.0 / b.1).total_cmp(&(a.0 / a.1)));
        }
        let (sum, played, choice) = options.into_iter().next()?;
        Some(NextHit {
            ball: choice.goal.0,
            pocket: choice.goal.1,
            way: choice.way,
            hit: choice.hit,
            value: sum / played,
        })
    }

    /// The likeliest pot with a natural roll, wherever the cue ball goes; none where nothing is on.
    pub fn likeliest_pot(&mut self, balls: &[Placed]) -> Option<NextHit> {
        let mut directs = self.directs(balls);
        directs.sort_by(|a, b| b.chance.total_cmp(&a.chance));
        let direct = directs.first()?;
        let hit = self.natural_hit(balls, direct)?;
        let (ball, pocket) = (direct.ball, direct.pocket);
        Some(NextHit { ball, pocket, way: Kind::Direct, hit, value: direct.chance })
    }
}
