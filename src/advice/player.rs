//! The player's errors: how far what is played lies from what was meant.
//!
//! Input: the hit that was meant and a seeded source of random numbers. Output: the hit that is
//! played. Each error is normal and independent of the others: the aim by an angle, the speed by a
//! part of itself, the tip's place on the ball by a part of what the tip holds, the cue's elevation
//! by an angle. Not modelled: errors that lean to one side, that grow with the speed or under the
//! cushion, miscues (a tip that would slip is held at the edge of what it holds).

use crate::motion::Hit;
use crate::random::Random;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;
use std::str::FromStr;
use thiserror::Error;

/// The errors of a player, each one standard deviation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Player {
    /// Of the direction in which the cue ball leaves, in radians.
    pub aim_rad: f64,
    /// Of the speed, as a part of it.
    pub speed: f64,
    /// Of the tip's place on the ball, in height and in side alike, in units of the farthest that
    /// the tip holds: a hit's `height` and `side`.
    pub tip: f64,
    /// Of the cue's elevation, in radians.
    pub elevation_rad: f64,
}

/// Three levels of players, from whose errors a fit begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// Pockets an easy ball more often than not.
    Beginner,
    /// Plays regularly and runs a few balls.
    Club,
    /// Plays matches and runs racks.
    Expert,
}

/// A name that is no level.
#[derive(Debug, Error, PartialEq, Eq)]
#[error("'{0}' is no level of a player: give beginner, club or expert")]
pub struct NoLevel(String);

/// Errors that nobody makes.
#[derive(Debug, Error, PartialEq)]
#[error("a player's {field} of {value} cannot be: give 0 to {most}")]
pub struct PlayerError {
    pub field: &'static str,
    pub value: f64,
    pub most: f64,
}

const DEGREE: f64 = PI / 180.0;
/// Slowest and fastest that a hit can come out, m/s.
const SPEEDS_M_S: (f64, f64) = (0.02, 18.0);
const MOST_ELEVATION_RAD: f64 = 75.0 * DEGREE;

impl Level {
    pub const ALL: [Self; 3] = [Self::Beginner, Self::Club, Self::Expert];

    /// The errors that a player of this level is taken to have before any shot is known.
    ///
    /// Their size follows from what players make of a straight shot over 1.5 m to a ball 1 m from
    /// its pocket, some 30, 55 and 90 in a hundred; and from tips placed to 3, 1.5 and 0.8 mm.
    pub const fn prior(self) -> Player {
        match self {
            Self::Beginner => Player {
                aim_rad: 0.26 * DEGREE,
                speed: 0.15,
                tip: 0.20,
                elevation_rad: 1.5 * DEGREE,
            },
            Self::Club => {
                Player { aim_rad: 0.12 * DEGREE, speed: 0.08, tip: 0.10, elevation_rad: DEGREE }
            }
            Self::Expert => Player {
                aim_rad: 0.05 * DEGREE,
                speed: 0.04,
                tip: 0.05,
                elevation_rad: 0.6 * DEGREE,
            },
        }
    }

    pub const fn name(self) -> &'static str {
        match self {
            Self::Beginner => "beginner",
            Self::Club => "club",
            Self::Expert => "expert",
        }
    }
}

impl FromStr for Level {
    type Err = NoLevel;

    fn from_str(text: &str) -> Result<Self, NoLevel> {
        let named = |level: &Self| level.name() == text.trim().to_ascii_lowercase();
        Self::ALL.into_iter().find(named).ok_or_else(|| NoLevel(text.into()))
    }
}

impl Player {
    /// A player who plays what is meant.
    pub const FLAWLESS: Self = Self { aim_rad: 0.0, speed: 0.0, tip: 0.0, elevation_rad: 0.0 };

    /// Holds the errors to what a player can have.
    ///
    /// # Errors
    /// [`PlayerError`] with the field, its value and its range.
    pub fn check(&self) -> Result<(), PlayerError> {
        let ranges = [
            ("aim_rad", self.aim_rad, 0.2),
            ("speed", self.speed, 0.5),
            ("tip", self.tip, 1.0),
            ("elevation_rad", self.elevation_rad, 0.5),
        ];
        let wrong = ranges.iter().find(|(_, value, most)| !(0.0..=*most).contains(value));
        match wrong {
            Some(&(field, value, most)) => Err(PlayerError { field, value, most }),
            None => Ok(()),
        }
    }

    /// What is played where `meant` was meant: always a hit that [`Hit::check`] takes.
    pub fn played(&self, meant: &Hit, random: &mut Random) -> Hit {
        let (slowest, fastest) = SPEEDS_M_S;
        let speed_m_s = meant.speed_m_s * (1.0 + self.speed * random.normal());
        let (height, side) =
            (meant.height + self.tip * random.normal(), meant.side + self.tip * random.normal());
        let out = height.hypot(side).max(1.0);
        let elevation_rad = meant.elevation_rad + self.elevation_rad * random.normal();
        Hit {
            aim_rad: meant.aim_rad + self.aim_rad * random.normal(),
            speed_m_s: speed_m_s.clamp(slowest, fastest),
            height: height / out,
            side: side / out,
            elevation_rad: elevation_rad.clamp(0.0, MOST_ELEVATION_RAD),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MEANT: Hit =
        Hit { aim_rad: 0.4, speed_m_s: 2.0, height: 0.3, side: -0.2, elevation_rad: 0.2 };

    #[test]
    fn the_errors_are_as_large_as_they_are_said_to_be() {
        let player = Level::Club.prior();
        let mut random = Random::new(7);
        let hits: Vec<Hit> = (0..20_000).map(|_| player.played(&MEANT, &mut random)).collect();
        let sigma = |of: fn(&Hit) -> f64, meant: f64| {
            let square = hits.iter().map(|hit| (of(hit) - meant).powi(2)).sum::<f64>();
            (square / hits.len() as f64).sqrt()
        };
        let near = |found: f64, want: f64| assert!((found / want - 1.0).abs() < 0.03, "{found}");
        near(sigma(|hit| hit.aim_rad, 0.4), player.aim_rad);
        near(sigma(|hit| hit.speed_m_s, 2.0), 2.0 * player.speed);
        near(sigma(|hit| hit.height, 0.3), player.tip);
        near(sigma(|hit| hit.side, -0.2), player.tip);
        near(sigma(|hit| hit.elevation_rad, 0.2), player.elevation_rad);
    }

    #[test]
    fn who_makes_no_errors_plays_what_is_meant() {
        assert_eq!(Player::FLAWLESS.played(&MEANT, &mut Random::new(1)), MEANT);
    }

    #[test]
    fn what_is_played_can_be_played_however_wild() {
        let wild = Player { aim_rad: 3.0, speed: 4.0, tip: 5.0, elevation_rad: 6.0 };
        let mut random = Random::new(3);
        for _ in 0..5000 {
            let hit = wild.played(&MEANT, &mut random);
            assert_eq!(hit.check(), Ok(()));
        }
    }

    #[test]
    fn levels_are_read_by_name() {
        for level in Level::ALL {
            assert_eq!(level.name().parse(), Ok(level));
        }
        let error = "master".parse::<Level>().unwrap_err();
        assert!(error.to_string().contains("beginner, club or expert"), "{error}");
    }
}
