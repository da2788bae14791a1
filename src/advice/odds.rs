//! What becomes of a hit as this player plays it: many times, each with the player's errors.
//!
//! Input: balls, the hit that is meant, which ball shall drop where. Output: shares of the played
//! hits and the cue ball's resting places. Errors come from a seed; two hits that are compared with
//! one seed meet the same errors, so that their difference is not luck.

use super::outcome::{self, Played};
use super::player::Player;
use crate::motion::{Bed, Hit, Placed};
use crate::random::Random;

/// A wished ball and its pocket.
pub(super) type Goal = (usize, usize);

/// What became of a hit, played many times.
#[derive(Debug, Clone, Default)]
pub(super) struct Odds {
    /// Share in which the wished ball dropped where it should and the cue ball did not.
    pub chance: f64,
    /// Share in which the cue ball dropped.
    pub scratch: f64,
    /// The outcomes of which the run goes on.
    pub going_on: Vec<Played>,
}

/// Plays a hit many times: each outcome that makes the wished pot, none for the others.
pub(super) fn made(
    bed: &Bed,
    player: &Player,
    balls: &[Placed],
    (hit, goal): (&Hit, Goal),
    (times, seed): (usize, u64),
) -> Vec<Option<Played>> {
    let mut random = Random::new(seed);
    let play = |_| {
        let (played, _) = outcome::play(bed, balls, &player.played(hit, &mut random))?;
        played.makes(goal).then_some(played)
    };
    (0..times).map(play).collect()
}

/// Plays a hit many times.
pub(super) fn odds(
    bed: &Bed,
    player: &Player,
    balls: &[Placed],
    (hit, goal): (&Hit, Goal),
    (times, seed): (usize, u64),
) -> Odds {
    let mut random = Random::new(seed);
    let mut odds = Odds::default();
    let share = 1.0 / times.max(1) as f64;
    for _ in 0..times {
        let actual = player.played(hit, &mut random);
        let Some((played, _)) = outcome::play(bed, balls, &actual) else { continue };
        if played.scratch {
            odds.scratch += share;
        } else if played.has_dropped(goal.0, goal.1) {
            odds.chance += share;
        }
        if played.goes_on() {
            odds.going_on.push(played);
        }
    }
    odds
}
