//! How balls move: one hit played from the tip to the last ball at rest.
//!
//! Event-driven: between events a ball slides, rolls, spins or rests, each in closed form
//! (`piece`), and the next event is the first root of a polynomial of degree four at most
//! (`roots`, `foresee`). Contacts are impulses: of two balls (`contact`), of any number that touch
//! at once (`cluster`), of ball and cushion (`cushion`), of tip and ball (`tip`).
//!
//! **Frame**: the *bed frame*, metres, origin at the table's centre, axes those of the table frame.
//! With the origin there a mirrored table is a change of signs, which costs no rounding: a mirrored
//! shot gives the mirrored result to the last bit. What comes in and goes out is in the table frame
//! ([`TablePoint`](crate::table::TablePoint), millimetres); speeds are m/s, spins rad/s about the
//! table's axes, right-handed (follow of a ball that runs toward the foot is +y, right side is +z).
//!
//! All balls weigh the same, so that mass cancels out: energy is per kilogram.
//!
//! Stands on `table` and `layout`. Must not know cameras, scores or advice; no clock, no
//! randomness: the same hit gives the same shot, bit for bit, in whatever order the balls are given.

mod bed;
mod cluster;
mod contact;
mod cushion;
mod foresee;
mod lean;
mod learn;
mod physics;
mod piece;
mod play;
mod roots;
mod shot;
mod start;
mod tip;

pub use bed::Bed;
pub use learn::{LearnError, LeftToRoll, cushion_restitution, rolling_resistance};
pub use physics::{Physics, PhysicsError};
pub use piece::{Phase, Piece};
pub use play::{MOST_EVENTS, play};
pub use shot::{Change, Event, EventKind, Motion, Outcome, Rest, Shot};
pub use start::{MOST_BALLS, Placed, StartError, UNREAD_FROM, apart, ball_name};
pub use tip::{Hit, HitError};

use nalgebra::{Vector2, Vector3};
use thiserror::Error;

/// A horizontal vector in the bed frame.
type Flat = Vector2<f64>;
/// A spin, rad/s about the table's axes.
type Spin = Vector3<f64>;

/// Why a hit could not be played.
#[derive(Debug, Error, PartialEq)]
pub enum PlayError {
    #[error(transparent)]
    Start(#[from] StartError),
    #[error(transparent)]
    Hit(#[from] HitError),
}

/// One step of the grid on which places, directions and sums are kept: about 1e-12.
///
/// What is only a matter of rounding (a place reckoned from the other rail, balls in another order)
/// falls on the same step, so that a break, which multiplies the smallest difference at each
/// contact, comes out the same.
const GRID: f64 = 1.0 / (1_u64 << 40) as f64;

/// A number on the grid.
fn on_grid(value: f64) -> f64 {
    (value / GRID).round() * GRID
}

#[cfg(test)]
mod tests;
