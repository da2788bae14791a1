//! A player's aim error from shots that were made or missed.
//!
//! Input: shots with the interval of aims that pockets the ball, and whether it dropped. Output: the
//! aim error with its uncertainty. Method: the posterior on a grid of errors, evenly in their
//! logarithm: a normal prior about the level's error, [`PRIOR_WIDTH`] wide, times the chance of what
//! happened, by the fast formula of `direct`. Not modelled: shots that were meant to miss, errors
//! other than the aim's, which are held at the prior's. Degenerates: without shots it is the prior.

use super::advisor::Advisor;
use super::normal;
use super::player::Player;
use crate::motion::Placed;
use serde::Serialize;

/// One standard deviation of the prior, as a logarithm of the error.
const PRIOR_WIDTH: f64 = 0.8;
/// The grid, in logarithms about the prior.
const REACH: f64 = 2.5;
const STEPS: i32 = 500;
/// What happens against all odds, a slip: no single shot decides.
const SLIP: f64 = 0.003;

/// A direct shot that was tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// Half the interval of aims that pockets the ball, in radians.
    pub half_aim_rad: f64,
    /// What a tip placed wrong adds to the aim's error, in radians.
    pub throw_aim_rad: f64,
    pub made: bool,
}

/// An aim error with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FittedAim {
    /// The posterior's mean, of the logarithm, in radians.
    pub aim_rad: f64,
    /// Between these it lies in 95 of 100 cases.
    pub low_rad: f64,
    pub high_rad: f64,
}

/// The aim error of a player who was taken to be `prior`.
pub fn fit_aim(prior: &Player, shots: &[Tried]) -> FittedAim {
    let middle = prior.aim_rad.max(1e-6).ln();
    let at = |k: i32| middle + REACH * f64::from(k) / f64::from(STEPS);
    let log_posterior = |log_aim: f64| {
        let aim = log_aim.exp();
        let of_shot = |shot: &Tried| {
            let chance = normal::within(shot.half_aim_rad, aim.hypot(shot.throw_aim_rad));
            let chance = chance.clamp(SLIP, 1.0 - SLIP);
            if shot.made { chance.ln() } else { (1.0 - chance).ln() }
        };
        let off = (log_aim - middle) / PRIOR_WIDTH;
        shots.iter().map(of_shot).sum::<f64>() - 0.5 * off * off
    };
    let logs: Vec<f64> = (-STEPS..=STEPS).map(|k| log_posterior(at(k))).collect();
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|log| (log - most).exp()).collect();
    let total: f64 = weights.iter().sum();
    let mean =
        (-STEPS..=STEPS).zip(&weights).map(|(k, weight)| at(k) * weight).sum::<f64>() / total;
    let quantile = |share: f64| {
        let mut sum = 0.0;
        let passed = weights.iter().position(|weight| {
            sum += weight / total;
            sum >= share
        });
        let k = passed.unwrap_or(0);
        at(i32::try_from(k).unwrap_or(0) - STEPS).exp()
    };
    FittedAim { aim_rad: mean.exp(), low_rad: quantile(0.025), high_rad: quantile(0.975) }
}

impl Advisor<'_> {
    /// A shot of the record as the fit takes it; none where it was no direct pot that was on.
    pub fn tried(
        &mut self,
        balls: &[Placed],
        ball: usize,
        pocket: usize,
        made: bool,
    ) -> Option<Tried> {
        let directs = self.directs(balls);
        let direct = directs.iter().find(|d| d.ball == ball && d.pocket == pocket)?;
        let (half_aim_rad, throw_aim_rad) = (direct.half_aim_rad, direct.throw_aim_rad);
        Some(Tried { half_aim_rad, throw_aim_rad, made })
    }
}
