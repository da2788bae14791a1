//! The tip's hit on the cue ball.
//!
//! Input: where the cue points, how fast the cue ball leaves, where and how steeply the tip meets
//! it. Output: the cue ball's velocity and spin. Method (Coriolis 1835; Marlow 1995): the impulse
//! runs along the cue, at a point off the ball's middle; of an elevated cue's impulse the part into
//! the cloth is taken by the slate, and the spin's axis tilts, from which swerve follows by itself.
//!
//! Not modelled: squirt (the aim is the direction in which the ball leaves), hops of elevated hits,
//! a second contact of the tip. Degenerates: a tip farther out than it holds is refused.

use super::piece::State;
use super::{Flat, Spin, on_grid};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Fastest cue ball that is played, m/s; the hardest breaks stay below 15.
const MOST_SPEED_M_S: f64 = 20.0;
const MOST_ELEVATION_RAD: f64 = 80.0 * std::f64::consts::PI / 180.0;

/// One hit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Hit {
    /// Direction in which the cue ball leaves: from x (toward the foot) toward y, in radians.
    pub aim_rad: f64,
    /// Speed over the cloth with which the cue ball leaves the tip, m/s.
    pub speed_m_s: f64,
    /// Where the tip meets the ball, above its middle: 1 is as high as the tip holds
    /// (`tip_reach_per_radius` of the physics), −1 as low.
    pub height: f64,
    /// The same to the right, as the player sees it: 1 is right side, −1 left.
    pub side: f64,
    /// How far the cue's butt is raised, in radians.
    pub elevation_rad: f64,
}

/// Why a hit was refused.
#[derive(Debug, Error, PartialEq)]
pub enum HitError {
    #[error("a hit's {field} of {value} cannot be: give {least} to {most}")]
    OutOfRange { field: &'static str, value: f64, least: f64, most: f64 },
    #[error(
        "height {height} with side {side} meets the ball {out:.2} times as far out as the tip holds: a miscue; bring their squares' sum to 1 or less"
    )]
    Miscue { height: f64, side: f64, out: f64 },
}

impl Hit {
    /// A level hit on the middle of the ball.
    pub fn centre(aim_rad: f64, speed_m_s: f64) -> Self {
        Self { aim_rad, speed_m_s, height: 0.0, side: 0.0, elevation_rad: 0.0 }
    }

    /// Holds a hit to what can be played.
    ///
    /// # Errors
    /// [`HitError`] with the field, its value and its range.
    pub fn check(&self) -> Result<(), HitError> {
        let ranges = [
            ("aim in radians", self.aim_rad, -1e3, 1e3),
            ("speed in m/s", self.speed_m_s, 1e-3, MOST_SPEED_M_S),
            ("height", self.height, -1.0, 1.0),
            ("side", self.side, -1.0, 1.0),
            ("elevation in radians", self.elevation_rad, 0.0, MOST_ELEVATION_RAD),
        ];
        let wrong = ranges.iter().find(|(_, value, least, most)| !(least..=most).contains(&value));
        if let Some(&(field, value, least, most)) = wrong {
            return Err(HitError::OutOfRange { field, value, least, most });
        }
        let out = self.height.hypot(self.side);
        if out > 1.0 + 1e-9 {
            return Err(HitError::Miscue { height: self.height, side: self.side, out });
        }
        Ok(())
    }

    /// The cue ball after the hit; `reach` is the farthest that the tip holds, per radius.
    pub(super) fn play(&self, place: Flat, radius_m: f64, reach: f64) -> State {
        let (sin, cos) = self.aim_rad.sin_cos();
        let ahead = Flat::new(on_grid(cos), on_grid(sin));
        let (sin, cos) = self.elevation_rad.sin_cos();
        // The impulse per mass along the cue, so that the level part is the speed.
        let impulse = self.speed_m_s / cos;
        let (up, right) = (self.height * reach, self.side * reach);
        // Arm × impulse: height turns the ball forward, side turns it about the axis that stands
        // upright on the cue, which leans forward with the elevation.
        let forward = 2.5 * up * impulse / radius_m;
        let sideways = 2.5 * right * impulse / radius_m;
        let level = Flat::new(-ahead.y, ahead.x) * forward + ahead * (sideways * sin);
        State {
            place,
            velocity: ahead * self.speed_m_s,
            spin: Spin::new(level.x, level.y, sideways * cos),
        }
    }
}
