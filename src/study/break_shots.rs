//! The break shots of a record: each closing layout and what came of it.

use crate::score::{Attempt, Story, potted};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A closing layout whose break shot was played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct BreakShot {
    pub attempt: u32,
    /// The rack that the break shot opens, from 2.
    pub rack: u32,
    /// The rest with the closing layout.
    pub rest: i64,
    /// Whether it pocketed a ball.
    pub made: bool,
    /// Balls that the rack brought in all.
    pub balls: u32,
}

/// The break shots of a story in the order they were played. One that was not played (the player
/// stopped), or that nobody saw, is not among them.
pub fn break_shots(story: &Story) -> Vec<BreakShot> {
    story.attempts.iter().flat_map(of_attempt).collect()
}

fn of_attempt(attempt: &Attempt) -> impl Iterator<Item = BreakShot> {
    attempt.racks.iter().filter_map(|closed| {
        let rest = closed.closing_rest?;
        let rack = closed.number + 1;
        let shots = || attempt.shots.iter().filter(|shot| shot.rack == rack);
        let first = shots().next()?;
        // Where rests were missed nobody knows which of the shots it was that pocketed.
        let known = first.shots == 1;
        let balls = potted(shots());
        known.then_some(BreakShot {
            attempt: attempt.id,
            rack,
            rest,
            made: first.potted > 0,
            balls,
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::{RackPlayed, ShotTaken};

    fn story(shots: Vec<ShotTaken>) -> Story {
        let rack = |number, closing_rest| RackPlayed { number, racked_rest: None, closing_rest };
        let attempt = Attempt {
            id: 3,
            began_rest: 1,
            began_unix_ms: 0,
            start_seen: true,
            run: 0,
            shots,
            racks: vec![rack(1, Some(20)), rack(2, Some(40)), rack(3, None)],
            over: None,
            sure: true,
        };
        Story { attempts: vec![attempt], questions: Vec::new() }
    }

    #[test]
    fn a_break_shot_is_the_first_shot_after_a_closing_layout() {
        let shot = |rest, rack, potted, shots| ShotTaken { rest, rack, potted, shots };
        let played =
            story(vec![shot(19, 1, 1, 1), shot(22, 2, 1, 1), shot(23, 2, 2, 1), shot(42, 3, 0, 1)]);
        let told: Vec<_> =
            break_shots(&played).iter().map(|b| (b.rest, b.rack, b.made, b.balls)).collect();
        assert_eq!(told, [(20, 2, true, 3), (40, 3, false, 0)]);
    }

    #[test]
    fn one_that_was_not_played_or_not_seen_by_itself_is_not_told() {
        let shot = |rest, rack, potted, shots| ShotTaken { rest, rack, potted, shots };
        assert!(break_shots(&story(vec![shot(22, 2, 3, 2)])).is_empty());
        assert!(break_shots(&story(Vec::new())).is_empty());
    }
}
