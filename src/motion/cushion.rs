//! The impulse between a ball and a cushion's nose, or a jaw.
//!
//! Input: a state and the unit vector from the cushion to the ball. Output: the state after.
//! Method, after Han 2005 and Mathavan et al. 2010: the nose meets the ball above its middle, at
//! the angle θ with sin θ = h/R − 1, and pushes it away and down; the cloth holds it, so that the
//! level speed turns into e times itself and the push is (1 + e) v / cos θ per mass. Friction of at
//! most μ times that acts against the slip of the ball's surface on the nose after the push, along
//! the cushion and up or down; it turns the ball and moves it in the plane.
//!
//! Energy never grows. Not modelled: the cushion's give (a contact takes no time), hops, the
//! cloth's friction during the contact. Degenerates: a ball that does not approach is left alone.

use super::piece::State;
use super::{Flat, Physics, Spin};

/// What a cushion does to a ball.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cushion {
    pub radius_m: f64,
    pub restitution: f64,
    pub friction: f64,
    /// Sine and cosine of the contact's angle above the ball's middle.
    pub rise: (f64, f64),
}

impl Cushion {
    pub fn of(physics: &Physics, radius_m: f64) -> Self {
        let sin = 2.0 * physics.nose_height_per_diameter - 1.0;
        Self {
            radius_m,
            restitution: physics.cushion_restitution,
            friction: physics.cushion_friction,
            rise: (sin, (1.0 - sin * sin).sqrt()),
        }
    }

    /// The ball after the contact; `inward` is the unit vector from the cushion to its middle.
    pub fn meet(&self, inward: Flat, ball: &mut State) {
        let approach = -ball.velocity.dot(&inward);
        if approach <= 0.0 {
            return;
        }
        let (sin, cos) = self.rise;
        ball.velocity += inward * ((1.0 + self.restitution) * approach);
        let push = (1.0 + self.restitution) * approach / cos;

        // The slip of the surface at the nose: along the cushion, and up its slope. The slope's
        // unit vector is up·cos θ − out·sin θ, with out = −inward.
        let along = Flat::new(-inward.y, inward.x);
        let turn = ball.spin * self.radius_m;
        let turn_along = turn.x * along.x + turn.y * along.y;
        let turn_inward = turn.x * inward.x + turn.y * inward.y;
        let slip_along = ball.velocity.dot(&along) - turn_inward * sin - turn.z * cos;
        let slip_up = ball.velocity.dot(&inward) * sin + turn_along;
        let square = slip_along * slip_along + slip_up * slip_up;
        if square <= f64::MIN_POSITIVE {
            return;
        }
        let slip = square.sqrt();
        // How the slip gives way to an impulse: by turning 5/2, by moving only in the plane.
        let give = 2.5 + (slip_along * slip_along + slip_up * slip_up * sin * sin) / square;
        let size = (self.friction * push).min(slip / give);
        let (force_along, force_up) = (-size * slip_along / slip, -size * slip_up / slip);
        ball.velocity += along * force_along + inward * (force_up * sin);
        // The contact's arm is out·cos θ + up·sin θ.
        let level = along * force_up - inward * (force_along * sin);
        let turned = Spin::new(level.x, level.y, -force_along * cos);
        ball.spin += turned * (2.5 / self.radius_m);
    }
}
