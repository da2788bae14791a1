//! One piece of a ball's motion in closed form: it slides, rolls, spins on its place or rests.
//!
//! Input: place (bed frame, m), velocity (m/s), spin (rad/s). Output: the same at any time until
//! the piece ends. Method (Coriolis 1835; Marlow 1995): with the slip u = v + ω × (−R ẑ) of the
//! lowest point, a sliding ball has a = −μ g û with û constant, so that it runs on a parabola and
//! rolls after 2|u| / (7 μ g); a rolling ball has a = −μᵣ g v̂ and ω bound to v; the vertical spin
//! dies at a constant rate in every piece, on its own.
//!
//! Not modelled: hops, the cloth's nap, the turning of a rolling ball by side spin.
//! Degenerates: slip below 1e-10 m/s counts as rolling, speed below it as standing.

use super::{Flat, Spin};

/// What a ball does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Phase {
    Slide,
    Roll,
    /// Turning on its place.
    Spin,
    Rest,
}

/// Below this slip or speed there is none, in m/s.
const STILL_M_S: f64 = 1e-10;

/// A ball's state: place (bed frame, m), velocity (m/s) and spin (rad/s).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct State {
    pub place: Flat,
    pub velocity: Flat,
    pub spin: Spin,
}

/// What the cloth does to a ball of a radius.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cloth {
    pub radius_m: f64,
    pub slide_m_s2: f64,
    pub roll_m_s2: f64,
    pub spin_decay_rad_s2: f64,
}

impl State {
    pub fn at_rest(place: Flat) -> Self {
        Self { place, velocity: Flat::zeros(), spin: Spin::zeros() }
    }

    /// Velocity of the lowest point over the cloth.
    pub fn slip(&self, radius_m: f64) -> Flat {
        self.velocity + Flat::new(-self.spin.y, self.spin.x) * radius_m
    }

    /// Kinetic energy per kilogram, J/kg.
    pub fn energy(&self, radius_m: f64) -> f64 {
        0.5 * self.velocity.norm_squared() + self.spin_energy(radius_m)
    }

    /// The part of the energy that is spin, J/kg.
    pub fn spin_energy(&self, radius_m: f64) -> f64 {
        0.2 * radius_m * radius_m * self.spin.norm_squared()
    }

    /// The horizontal spin of a ball that rolls at its velocity.
    fn rolling(mut self, radius_m: f64) -> Self {
        self.spin.x = -self.velocity.y / radius_m;
        self.spin.y = self.velocity.x / radius_m;
        self
    }
}

/// A piece of motion. Vectors are in the bed frame: metres from the table's centre.
#[derive(Debug, Clone, Copy)]
pub struct Piece {
    pub phase: Phase,
    pub from_s: f64,
    /// When it ends by itself; infinite for a ball at rest.
    pub until_s: f64,
    pub(super) start: State,
    pub(super) acceleration: Flat,
    /// Change of the horizontal spin, rad/s².
    spin_rate: Flat,
    spin_decay_rad_s2: f64,
}

impl Piece {
    pub(super) fn new(start: State, from_s: f64, cloth: &Cloth) -> Self {
        let slip = start.slip(cloth.radius_m);
        let (slip_m_s, speed_m_s) = (slip.norm(), start.velocity.norm());
        let spin_decay_rad_s2 = cloth.spin_decay_rad_s2;
        let mut piece = Self {
            phase: Phase::Rest,
            from_s,
            until_s: f64::INFINITY,
            start,
            acceleration: Flat::zeros(),
            spin_rate: Flat::zeros(),
            spin_decay_rad_s2,
        };
        if slip_m_s > STILL_M_S {
            let turn = slip / slip_m_s;
            piece.phase = Phase::Slide;
            piece.acceleration = -turn * cloth.slide_m_s2;
            piece.spin_rate =
                Flat::new(-turn.y, turn.x) * (2.5 * cloth.slide_m_s2 / cloth.radius_m);
            piece.until_s = from_s + 2.0 * slip_m_s / (7.0 * cloth.slide_m_s2);
        } else if speed_m_s > STILL_M_S {
            piece.phase = Phase::Roll;
            piece.start = start.rolling(cloth.radius_m);
            piece.acceleration = -start.velocity * (cloth.roll_m_s2 / speed_m_s);
            piece.spin_rate =
                Flat::new(-piece.acceleration.y, piece.acceleration.x) / cloth.radius_m;
            piece.until_s = from_s + speed_m_s / cloth.roll_m_s2;
        } else {
            piece.start.velocity = Flat::zeros();
            piece.start.spin = Spin::new(0.0, 0.0, start.spin.z);
            if start.spin.z != 0.0 {
                piece.phase = Phase::Spin;
                piece.until_s = from_s + start.spin.z.abs() / spin_decay_rad_s2;
            }
        }
        piece
    }

    /// The place at a time (bed frame, m); before the piece begins its first place.
    pub(super) fn place_at(&self, t_s: f64) -> Flat {
        let dt = self.span(t_s);
        self.start.place + self.start.velocity * dt + self.acceleration * (0.5 * dt * dt)
    }

    pub(super) fn velocity_at(&self, t_s: f64) -> Flat {
        self.start.velocity + self.acceleration * self.span(t_s)
    }

    pub(super) fn state_at(&self, t_s: f64) -> State {
        let dt = self.span(t_s);
        let decayed = (self.start.spin.z.abs() - self.spin_decay_rad_s2 * dt).max(0.0);
        let spin = Spin::new(
            self.start.spin.x + self.spin_rate.x * dt,
            self.start.spin.y + self.spin_rate.y * dt,
            decayed.copysign(self.start.spin.z),
        );
        State { place: self.place_at(t_s), velocity: self.velocity_at(t_s), spin }
    }

    /// The state in which the piece ends by itself, free of rounding where that is known.
    pub(super) fn end(&self, radius_m: f64) -> State {
        let mut state = self.state_at(self.until_s);
        match self.phase {
            Phase::Slide => state.rolling(radius_m),
            Phase::Roll => {
                state.velocity = Flat::zeros();
                state.spin = Spin::new(0.0, 0.0, state.spin.z);
                state
            }
            Phase::Spin => State::at_rest(state.place),
            Phase::Rest => self.start,
        }
    }

    pub(super) fn moves(&self) -> bool {
        matches!(self.phase, Phase::Slide | Phase::Roll)
    }

    fn span(&self, t_s: f64) -> f64 {
        if self.moves() || self.phase == Phase::Spin {
            (t_s.min(self.until_s) - self.from_s).max(0.0)
        } else {
            0.0
        }
    }
}
