//! A table's own values, from what was seen on it.
//!
//! Rolling resistance from the times and places of a ball that rolls out; cushion restitution from
//! how far a ball rolls before and after it meets a cushion squarely. Pure functions.

use super::bed::Bed;
use super::cushion::Cushion;
use super::piece::State;
use super::{Flat, Physics};
use thiserror::Error;

/// How far a ball had rolled at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimedDistance {
    pub t_s: f64,
    pub rolled_m: f64,
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

/// The rolling resistance and its standard error, from a ball that rolls straight and meets nothing.
///
/// Least squares of s = s₀ + v t − μᵣ g t² / 2.
///
/// # Errors
/// [`LearnError`] for fewer than four places, or a ball that does not slow down.
pub fn rolling_resistance(
    seen: &[TimedDistance],
    gravity_m_s2: f64,
) -> Result<(f64, f64), LearnError> {
    let count = seen.len();
    let too_few = LearnError::TooFew { count };
    if count < 4 {
        return Err(too_few);
    }
    let n = count as f64;
    let middle_s = seen.iter().map(|s| s.t_s).sum::<f64>() / n;
    let columns = |s: &TimedDistance| {
        let t = s.t_s - middle_s;
        nalgebra::Vector3::new(1.0, t, t * t)
    };
    let mut square = nalgebra::Matrix3::zeros();
    let mut product = nalgebra::Vector3::zeros();
    for one in seen {
        let row = columns(one);
        square += row * row.transpose();
        product += row * one.rolled_m;
    }
    let Some(inverse) = square.try_inverse() else { return Err(too_few) };
    let fit = inverse * product;
    let misses = seen.iter().map(|s| (s.rolled_m - columns(s).dot(&fit)).powi(2)).sum::<f64>();
    let scale = 2.0 / gravity_m_s2;
    let (value, spread) = (-scale * fit[2], misses / (n - 3.0) * inverse[(2, 2)]);
    if value.is_finite() && value > 0.0 {
        Ok((value, scale * spread.max(0.0).sqrt()))
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
