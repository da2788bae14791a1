//! The impulse between two balls that touch: restitution along the line of their middles, and
//! friction across it, which throws them and passes spin on.
//!
//! Input: two states (bed frame). Output: the states after. Method (Wallace & Schroeder 1988;
//! Marlow 1995): equal masses exchange (1 + e) / 2 of the speed of approach; the rubbing surfaces,
//! whose relative velocity has a level and an upright part, exchange Coulomb's friction, at most
//! what stops the rubbing. For equal solid spheres a level impulse J changes the rubbing by 7 J/m
//! and an upright one by 5 J/m: upright only the spins give way, since the cloth holds the balls.
//!
//! Energy never grows, momentum in the plane is kept to rounding. Not modelled: hops, friction that
//! depends on speed, the cloth's friction during the contact. Degenerates: balls that part or stand
//! are left as they are.

use super::piece::State;
use super::{Flat, Spin};

/// What two balls do to each other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Balls {
    pub radius_m: f64,
    pub restitution: f64,
    pub friction: f64,
}

/// The surfaces of two touching balls rubbing on each other.
pub(super) struct Rubbing {
    /// Level, to the left of the line of middles, m/s.
    pub level: f64,
    /// Upward, m/s.
    pub upright: f64,
}

impl Rubbing {
    /// Of one ball's surface on the other's; `line` is the unit vector from one to the other, and
    /// `turn` the sum of their spins times the radius.
    pub fn of(line: Flat, apart: Flat, turn: Spin) -> Self {
        Self {
            level: line.x * apart.y - line.y * apart.x + turn.z,
            upright: turn.x * line.y - turn.y * line.x,
        }
    }

    /// The friction on the first ball per mass: level and upright; `most` is what Coulomb allows,
    /// `share` the part of the rubbing that may be stopped.
    pub fn friction(&self, most: f64, share: f64) -> (f64, f64) {
        let square = self.level * self.level + self.upright * self.upright;
        if square <= f64::MIN_POSITIVE {
            return (0.0, 0.0);
        }
        let speed = square.sqrt();
        let give = (7.0 * self.level * self.level + 5.0 * self.upright * self.upright) / square;
        let size = most.min(share * speed / give);
        (-size * self.level / speed, -size * self.upright / speed)
    }
}

/// What a frictional impulse per mass does to the spin of both balls, times the radius.
pub(super) fn turn_by(line: Flat, level: f64, upright: f64) -> Spin {
    Spin::new(2.5 * upright * line.y, -2.5 * upright * line.x, 2.5 * level)
}

impl Balls {
    /// Both balls after their contact; `line` is the unit vector from the first to the second.
    pub fn meet(&self, line: Flat, first: &mut State, second: &mut State) {
        let apart = first.velocity - second.velocity;
        let approach = apart.dot(&line);
        if approach <= 0.0 {
            return;
        }
        let push = 0.5 * (1.0 + self.restitution) * approach;
        let turn = (first.spin + second.spin) * self.radius_m;
        let (level, upright) = Rubbing::of(line, apart, turn).friction(self.friction * push, 1.0);
        let left = Flat::new(-line.y, line.x);
        let impulse = left * level - line * push;
        let turned = turn_by(line, level, upright) / self.radius_m;
        first.velocity += impulse;
        second.velocity -= impulse;
        first.spin += turned;
        second.spin += turned;
    }
}
