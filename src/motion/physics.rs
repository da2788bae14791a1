//! Every parameter of the motion, with unit, range and where its start value comes from.
//!
//! Sources: Coriolis, Théorie mathématique des effets du jeu de billard (1835); Wallace &
//! Schroeder, Am. J. Phys. 56 (1988) 815; Marlow, The Physics of Pocket Billiards (1995); Han,
//! J. Mech. Sci. Technol. 19 (2005) 976; Mathavan, Jackson & Parkin, Proc. IMechE C 224 (2010) 1863.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// The parameters; what a file leaves out keeps its start value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Physics {
    /// Acceleration of free fall, m/s².
    pub gravity_m_s2: f64,
    /// Friction of a ball sliding on the cloth, per weight (Marlow 1995: 0.15–0.4; 0.20).
    pub sliding_friction: f64,
    /// Resistance against rolling, per weight: the cloth's speed (Marlow 1995: 0.005–0.015).
    pub rolling_resistance: f64,
    /// How fast side spin dies on the cloth, rad/s² (Marlow 1995: 5–15).
    pub spin_decay_rad_s2: f64,
    /// Speed of parting per speed of approach of two balls (Wallace & Schroeder 1988: 0.92–0.98).
    pub ball_restitution: f64,
    /// Friction between two balls, which throws them (Wallace & Schroeder 1988: 0.03–0.08).
    pub ball_friction: f64,
    /// Speed away from a cushion per speed into it, squarely and without spin (0.85).
    pub cushion_restitution: f64,
    /// Friction between ball and cushion nose (Mathavan et al. 2010: 0.14).
    pub cushion_friction: f64,
    /// Height of the nose per ball diameter (the trade's specifications: 0.625–0.645).
    pub nose_height_per_diameter: f64,
    /// Farthest from the ball's middle that the tip holds without a miscue, per ball radius: the
    /// unit of a hit's height and side (Marlow 1995: about a half).
    pub tip_reach_per_radius: f64,
}

impl Default for Physics {
    fn default() -> Self {
        Self {
            gravity_m_s2: 9.81,
            sliding_friction: 0.20,
            rolling_resistance: 0.010,
            spin_decay_rad_s2: 10.0,
            ball_restitution: 0.94,
            ball_friction: 0.06,
            cushion_restitution: 0.85,
            cushion_friction: 0.14,
            nose_height_per_diameter: 0.635,
            tip_reach_per_radius: 0.5,
        }
    }
}

/// Why parameters were refused.
#[derive(Debug, Error, PartialEq)]
#[error("{field} of {value} cannot be: give {least} to {most}")]
pub struct PhysicsError {
    pub field: &'static str,
    pub value: f64,
    pub least: f64,
    pub most: f64,
}

impl Physics {
    /// Holds every parameter to what a table can be.
    ///
    /// # Errors
    /// [`PhysicsError`] with the field, its value and its range.
    pub fn check(&self) -> Result<(), PhysicsError> {
        let ranges = [
            ("gravity_m_s2", self.gravity_m_s2, 1.0, 30.0),
            ("sliding_friction", self.sliding_friction, 0.02, 1.0),
            ("rolling_resistance", self.rolling_resistance, 0.001, 0.1),
            ("spin_decay_rad_s2", self.spin_decay_rad_s2, 0.5, 200.0),
            ("ball_restitution", self.ball_restitution, 0.3, 1.0),
            ("ball_friction", self.ball_friction, 0.0, 0.5),
            ("cushion_restitution", self.cushion_restitution, 0.1, 1.0),
            ("cushion_friction", self.cushion_friction, 0.0, 1.0),
            ("nose_height_per_diameter", self.nose_height_per_diameter, 0.5, 0.75),
            ("tip_reach_per_radius", self.tip_reach_per_radius, 0.05, 0.8),
        ];
        let wrong = ranges.iter().find(|(_, value, least, most)| !(least..=most).contains(&value));
        match wrong {
            Some(&(field, value, least, most)) => Err(PhysicsError { field, value, least, most }),
            None => Ok(()),
        }
    }
}
