//! What a tenth less error of one kind would bring: by how much more often a run would go on.
//!
//! Input: a position, the player. Output: for the hit that is advised there how often the run goes on
//! after it, and by how much more with a tenth less error of the aim, of the speed, of the tip's place.
//! Method: the hit is played many times, and again with the smaller error and the same luck, so that the
//! difference is none of luck's. Two things count: how often the pot drops, and how likely the best
//! straight pot is that it leaves; each is a part of what decides whether the next ball falls. Not
//! modelled: that a better player would choose other hits, what is gained beyond the next ball.
//! Degenerates: a position where nothing is on tells nothing.

use super::advisor::Advisor;
use super::odds::odds;
use super::outcome::objects;
use super::player::Player;
use crate::motion::Placed;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How often each hit is played.
const TIMES: usize = 160;
/// What is left of an error when it has become a tenth smaller.
const A_TENTH_LESS: f64 = 0.9;

/// A skill that can be practised by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Skill {
    /// The direction in which the cue ball leaves.
    Aim,
    /// How hard it is hit.
    Speed,
    /// Where the tip meets it: follow, draw and side.
    Spin,
}

/// What one position says of each skill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkillsAt {
    /// How often the run goes on.
    pub goes_on: f64,
    /// How much more often with each of [`Skill::ALL`] a tenth better.
    pub more: [f64; 3],
}

impl Skill {
    pub const ALL: [Self; 3] = [Self::Aim, Self::Speed, Self::Spin];

    /// The player with a tenth less error of this kind.
    fn better(self, player: Player) -> Player {
        let less = |error: f64| A_TENTH_LESS * error;
        match self {
            Self::Aim => Player { aim_rad: less(player.aim_rad), ..player },
            Self::Speed => Player { speed: less(player.speed), ..player },
            Self::Spin => Player { tip: less(player.tip), ..player },
        }
    }
}

impl Advisor<'_> {
    /// What a position says of each skill; none where nothing is on.
    pub fn skills_at(&mut self, balls: &[Placed]) -> Option<SkillsAt> {
        let next = self.next_hit(balls)?;
        let played = |advisor: &mut Self, player: &Player| {
            let goal = (next.ball, next.pocket);
            let odds = odds(advisor.bed, player, balls, (&next.hit, goal), (TIMES, advisor.seed));
            let goes_on = odds.going_on.len() as f64 / TIMES as f64;
            let left: f64 = odds.going_on.iter().map(|played| advisor.leaves(&played.after)).sum();
            (goes_on, left / odds.going_on.len().max(1) as f64)
        };
        let player = self.player;
        let (goes_on, leaves) = played(self, &player);
        let more = Skill::ALL.map(|skill| {
            let (better, better_leaves) = played(self, &skill.better(player));
            better - goes_on + better_leaves - leaves
        });
        Some(SkillsAt { goes_on, more })
    }

    /// The chance of the best straight pot that is left; sure where none is, since then all are racked.
    fn leaves(&mut self, balls: &[Placed]) -> f64 {
        if objects(balls).next().is_none() {
            return 1.0;
        }
        self.quick_directs(balls).iter().map(|direct| direct.chance).fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::advice::Level;
    use crate::motion::{Bed, Physics};
    use crate::table::{TablePoint, TableSize};

    fn at(balls: &[(f64, f64)], player: Player) -> Option<SkillsAt> {
        let bed = Bed::new(&TableSize::NINE_FOOT, &Physics::default()).unwrap();
        let placed = |(id, &(x_mm, y_mm)): (usize, &(f64, f64))| Placed {
            id,
            place: TablePoint::new(x_mm, y_mm),
        };
        let balls: Vec<Placed> = balls.iter().enumerate().map(placed).collect();
        Advisor::new(&bed, player, 3).unwrap().skills_at(&balls)
    }

    #[test]
    fn a_long_shot_asks_for_aim_more_than_for_anything_else() {
        let long = [(500.0, 600.0), (2000.0, 800.0), (2200.0, 300.0), (1700.0, 900.0)];
        let [aim, speed, spin] = at(&long, Level::Club.prior()).unwrap().more;
        assert!(aim > 0.01 && aim > speed && aim > spin, "{aim} {speed} {spin}");
    }

    #[test]
    fn who_makes_no_error_gains_nothing_and_an_empty_table_tells_nothing() {
        let easy = [(1500.0, 600.0), (2300.0, 1000.0), (2300.0, 200.0)];
        let at_easy = at(&easy, Player::FLAWLESS).unwrap();
        assert!(at_easy.goes_on > 0.999 && at_easy.more == [0.0; 3], "{at_easy:?}");
        assert_eq!(at(&easy[..1], Level::Club.prior()), None);
    }
}
