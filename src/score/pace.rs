//! How long the player takes from a rest to the next, and how well a time fits one stroke or several.
//!
//! In: the times of shots that are beyond doubt, watched from rest to rest. Out: how many times likelier a
//! time is with one stroke more. Method: a shot takes a time whose logarithm is normal, with the mean and
//! spread of those learned; of several shots the mean and variance add up (Fenton and Wilkinson's
//! approximation of a sum). Who plays evenly tells much by it, who dawdles little. Some times are pauses,
//! which tell nothing. Not modelled: that a hard shot takes longer than an easy one.

use std::f64::consts::TAU;

/// Fewer shots tell no pace.
const TELLS_FROM: f64 = 8.0;
/// What was learned so many shots ago counts for little: players tire, or another one plays.
const FORGETS_AFTER: f64 = 60.0;
/// The spread of the logarithm to begin with, and how many shots that counts for.
const SPREAD: f64 = 0.6;
const SPREAD_COUNTS: f64 = 3.0;
/// A longer time tells no more.
const LONGEST_MS: f64 = 3_600_000.0;
/// Part of the times in which the player did something else besides, whose median is so many times a shot's,
/// with a spread of their own.
const PAUSES: f64 = 0.05;
const PAUSE_TAKES: f64 = 2.0;
const PAUSE_SPREAD: f64 = 0.8;
/// What hands do at a table that is being played takes so many times a shot's time, with the spread of pauses.
const HANDS_TAKE: f64 = 0.4;

/// What was learned: the logarithms of times in milliseconds.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Pace {
    shots: f64,
    mean: f64,
    /// The sum of the squares of what is off the mean.
    squares: f64,
}

impl Pace {
    /// Takes in the time of a shot.
    pub fn learn(&mut self, shot_ms: f64) {
        let log = shot_ms.clamp(1.0, LONGEST_MS).ln();
        let keeps = FORGETS_AFTER / (FORGETS_AFTER + 1.0);
        self.shots = self.shots * keeps + 1.0;
        self.squares *= keeps;
        let off = log - self.mean;
        self.mean += off / self.shots;
        self.squares += off * (log - self.mean);
    }

    /// How many times likelier it is that so long a time holds so many strokes than one less; 1 where that is
    /// not known.
    pub fn favours(&self, strokes: u32, ms: f64) -> f64 {
        if self.shots < TELLS_FROM {
            return 1.0;
        }
        self.density(strokes, ms) / self.density(strokes.saturating_sub(1), ms)
    }

    /// How likely the logarithm of a time is with so many strokes in it; with none it is for hands.
    fn density(&self, strokes: u32, ms: f64) -> f64 {
        let variance =
            (SPREAD_COUNTS * SPREAD * SPREAD + self.squares) / (SPREAD_COUNTS + self.shots);
        let log = ms.clamp(1.0, LONGEST_MS).ln();
        if strokes == 0 {
            return normal(log - (self.mean + HANDS_TAKE.ln()), PAUSE_SPREAD);
        }
        let strokes = f64::from(strokes);
        // Of one shot, whose relative variance is that of a log-normal distribution.
        let mean = self.mean + variance / 2.0;
        let of_all = (variance.exp_m1() / strokes).ln_1p();
        let played = normal(log - (mean + strokes.ln() - of_all / 2.0), of_all.sqrt());
        let paused = normal(log - (self.mean + PAUSE_TAKES.ln()), PAUSE_SPREAD);
        (1.0 - PAUSES) * played + PAUSES * paused
    }
}

/// The density of a normal distribution about 0.
fn normal(off: f64, sigma: f64) -> f64 {
    (-(off / sigma).powi(2) / 2.0).exp() / (sigma * TAU.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn learned(times_s: &[f64]) -> Pace {
        let mut pace = Pace::default();
        for seconds in times_s {
            pace.learn(1000.0 * seconds);
        }
        pace
    }

    #[test]
    fn an_even_pace_tells_one_stroke_from_two_and_an_uneven_one_hardly() {
        let even = learned(&[20.0, 22.0, 19.0, 25.0, 21.0, 18.0, 23.0, 20.0, 24.0, 19.0]);
        assert!(even.favours(2, 20_000.0) < 0.1);
        assert!(even.favours(2, 42_000.0) > 4.0);
        assert!(even.favours(3, 42_000.0) < 0.5);
        let uneven = learned(&[10.0, 45.0, 15.0, 80.0, 20.0, 12.0, 60.0, 9.0, 30.0, 25.0]);
        assert!((0.5..2.0).contains(&uneven.favours(2, 42_000.0)));
    }

    #[test]
    fn few_shots_tell_nothing_and_pauses_little() {
        assert!((learned(&[20.0; 7]).favours(2, 40_000.0) - 1.0).abs() < 1e-12);
        let even = learned(&[20.0; 30]);
        let paused = even.favours(2, 600_000.0);
        assert!((0.9..1.1).contains(&paused), "{paused}");
        for ms in [0.0, f64::MAX] {
            let favours = [1, 2, 3].map(|strokes| even.favours(strokes, ms));
            assert!(favours.iter().all(|favour| favour.is_finite()), "{favours:?} at {ms}");
        }
    }

    #[test]
    fn a_new_pace_replaces_the_old_one() {
        let mut pace = learned(&[20.0; 40]);
        for _ in 0..200 {
            pace.learn(40_000.0);
        }
        assert!(pace.favours(2, 40_000.0) < 0.2);
    }
}
