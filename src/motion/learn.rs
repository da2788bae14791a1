//! A table's own values, from what was seen on it.
//!
//! Rolling resistance from how far a ball that rolls out still has to go, at some times; cushion
//! restitution from how far a ball rolls before and after it meets a cushion squarely. Pure functions.

use super::bed::Bed;
use super::cushion::Cushion;
use super::piece::State;
use super::{Flat, Physics};
use thiserror::Error;

/// How far a ball still had to roll at a time, before it lay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeftToRoll {
    pub t_s: f64,
    pub left_m: f64,
}

/// Why nothing could be learned.
#[derive(Debug, Error, PartialEq)]
pub enum LearnError {
    #[error("{count} places of a roll are too few: give four or more, at different times")]
    TooFew { count: usize },
    #[error("the ball does not slow down as a rolling one does: it came out at {value}")]
    NotRolling { value: f64 },
    #[error(
        "a ball that rolls at {in_m_s} m/s into a cushion and at {out_m_s} m/s away from it cannot be: give the speeds of a square bank without side spin"
    )]
    NoBank { in_m_s: f64, out_m_s: f64 },
}

/// The rolling resistance and its standard error, from a ball that rolls straight to its rest and meets
/// nothing on the way; places are off by the same everywhere.
///
/// What is left to roll is s = μᵣ g (T − t)² / 2, so that √s falls evenly with the time: least squares
/// of √s over t, each weighed by s since an error of s counts for less in a large √s.
///
/// # Errors
/// [`LearnError`] for fewer than four places, or a ball that does not slow down.
pub fn rolling_resistance(
    seen: &[LeftToRoll],
    gravity_m_s2: f64,
) -> Result<(f64, f64), LearnError> {
    let count = seen.len();
    if count < 4 {
        return Err(LearnError::TooFew { count });
    }
    let (mut weights, mut times, mut roots) = (0.0, 0.0, 0.0);
    for LeftToRoll { t_s, left_m } in seen {
        weights += left_m;
        times += left_m * t_s;
        roots += left_m * left_m.sqrt();
    }
    let (middle_s, middle) = (times / weights, roots / weights);
    let (mut spread, mut product) = (0.0, 0.0);
    for LeftToRoll { t_s, left_m } in seen {
        spread += left_m * (t_s - middle_s).powi(2);
        product += left_m * (t_s - middle_s) * left_m.sqrt();
    }
    let slope = product / spread;
    let misses = seen.iter().map(|LeftToRoll { t_s, left_m }| {
        left_m * (left_m.sqrt() - middle - slope * (t_s - middle_s)).powi(2)
    });
    let variance = misses.sum::<f64>() / (count - 2) as f64 / spread;
    let value = 2.0 * slope * slope / gravity_m_s2;
    if value.is_finite() && slope < 0.0 {
        Ok((value, 4.0 * slope.abs() * variance.max(0.0).sqrt() / gravity_m_s2))
    } else {
        Err(LearnError::NotRolling { value })
    }
}

/// The cushion restitution with which a ball that rolls squarely into a cushion at `in_m_s` rolls
/// away from it at `out_m_s` once it has ceased to slide.
///
/// # Errors
/// [`LearnError::NoBank`] where no restitution from 0.1 to 1 does that.
pub fn cushion_restitution(bed: &Bed, in_m_s: f64, out_m_s: f64) -> Result<f64, LearnError> {
    let refused = LearnError::NoBank { in_m_s, out_m_s };
    let rolls_away = |restitution: f64| {
        let physics = Physics { cushion_restitution: restitution, ..*bed.physics() };
        rolling_after_bank(bed, &physics, in_m_s)
    };
    let (mut low, mut high) = (0.1, 1.0);
    let inside = rolls_away(low) <= out_m_s && out_m_s <= rolls_away(high);
    if !(in_m_s > 0.0 && inside) {
        return Err(refused);
    }
    // The speed away rises with the restitution.
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if rolls_away(middle) < out_m_s {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(0.5 * (low + high))
}

/// How fast a ball rolls in the end that rolled squarely into a cushion.
fn rolling_after_bank(bed: &Bed, physics: &Physics, in_m_s: f64) -> f64 {
    let radius_m = bed.cloth.radius_m;
    let inward = Flat::new(0.0, -1.0);
    let velocity = Flat::new(0.0, in_m_s);
    let spin = super::Spin::new(-in_m_s / radius_m, 0.0, 0.0);
    let mut ball = State { place: Flat::zeros(), velocity, spin };
    Cushion::of(physics, radius_m).meet(inward, &mut ball);
    // Sliding takes two sevenths of the slip from the velocity (Coriolis 1835).
    (ball.velocity - ball.slip(radius_m) * (2.0 / 7.0)).dot(&inward)
}
