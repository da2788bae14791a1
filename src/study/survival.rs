//! How far runs go: the survival curve.
//!
//! Input: for each attempt how far it was seen to go, and whether it ended there. Output: for each
//! ball at which an attempt ended the chance to pocket that ball and all before it, with a 95 %
//! interval for each ball by itself.
//!
//! Method: Kaplan & Meier, J. Am. Stat. Assoc. 53 (1958) 457. Variance: Greenwood (1926). Interval:
//! on the scale log(−log S) (Kalbfleisch & Prentice 1980), since it cannot leave 0..1 and keeps its
//! promise with few attempts, where the plain one, S ± z·s, does neither. Median: the first ball at
//! which S is 0.5 or less; its interval from where the interval's ends cross 0.5 (Brookmeyer &
//! Crowley, Biometrics 38 (1982) 29).
//!
//! Time is counted in balls: a run of r that ended by a miss ended at ball r + 1; one that was
//! stopped after r balls was seen up to ball r and not at risk at the next. Not modelled: attempts
//! that depend on one another (a good day). Where the curve reaches 0 no variance is left: there the
//! interval is from 0 to the upper end before.

use super::{
    estimate::Z,
    run::{Ending, Run},
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How far one thing was watched, and whether it ended then.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    pub until: u32,
    pub ended: bool,
}

impl Span {
    /// A run in balls.
    pub fn of(run: &Run) -> Self {
        match run.ending {
            Ending::Missed => Self { until: run.balls.saturating_add(1), ended: true },
            Ending::Stopped => Self { until: run.balls, ended: false },
        }
    }
}

/// The curve at one ball at which attempts ended; it stays so until the next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reached {
    /// The ball, counted from 1 through the attempt.
    pub ball: u32,
    /// Attempts that came to this ball.
    pub at_risk: u32,
    /// Attempts that ended at it.
    pub missed: u32,
    /// The chance to pocket this ball and all before it.
    pub chance: f64,
    /// One standard deviation of the chance, by Greenwood.
    pub sigma: f64,
    /// The 95 % interval at this ball.
    pub low: f64,
    pub high: f64,
}

/// A survival curve.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Survival {
    /// In the order of balls, one for each at which an attempt ended.
    pub reached: Vec<Reached>,
    /// The last ball that any attempt was seen to come to: the curve says nothing beyond.
    pub seen_to: u32,
}

/// The ball at which half of the attempts have ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Median {
    pub value: u32,
    pub low: u32,
    /// None where the record does not tell.
    pub high: Option<u32>,
}

impl Survival {
    /// The curve of some spans.
    pub fn of(spans: impl IntoIterator<Item = Span>) -> Self {
        let mut spans: Vec<Span> = spans.into_iter().collect();
        spans.sort_unstable_by_key(|span| span.until);
        let mut curve = Self { reached: Vec::new(), seen_to: 0 };
        let (mut chance, mut hazard_variance, mut high) = (1.0, 0.0, 1.0);
        let mut at_risk = u32::try_from(spans.len()).unwrap_or(u32::MAX);
        for same in spans.chunk_by(|a, b| a.until == b.until) {
            let ball = same[0].until;
            let missed = same.iter().filter(|span| span.ended).count() as u32;
            if missed > 0 {
                let (n, d) = (f64::from(at_risk), f64::from(missed));
                chance *= 1.0 - d / n;
                hazard_variance += d / (n * (n - d));
                let (low, above) = interval(chance, hazard_variance);
                high = above.unwrap_or(high);
                let sigma = if chance > 0.0 { chance * hazard_variance.sqrt() } else { 0.0 };
                curve.reached.push(Reached { ball, at_risk, missed, chance, sigma, low, high });
            }
            curve.seen_to = ball;
            at_risk -= same.len() as u32;
        }
        curve
    }

    /// The chance to pocket `balls` or more, with its interval; none beyond what was seen.
    pub fn chance_of(&self, balls: u32) -> Option<(f64, f64, f64)> {
        if balls > self.seen_to {
            return None;
        }
        let after = self.reached.partition_point(|reached| reached.ball <= balls);
        let at = after.checked_sub(1).and_then(|at| self.reached.get(at));
        Some(at.map_or((1.0, 1.0, 1.0), |at| (at.chance, at.low, at.high)))
    }

    /// The median of what the spans are counted in; none where fewer than half have ended.
    pub fn median(&self) -> Option<Median> {
        let first = |of: fn(&Reached) -> f64| {
            // Half, whatever the last bits of a product say.
            self.reached.iter().find(|at| of(at) <= 0.5 + 1e-12).map(|at| at.ball)
        };
        let value = first(|at| at.chance)?;
        Some(Median { value, low: first(|at| at.low).unwrap_or(value), high: first(|at| at.high) })
    }

    /// The median run: balls pocketed, not the ball that was missed.
    pub fn median_run(&self) -> Option<Median> {
        let pocketed = |ball: u32| ball.saturating_sub(1);
        self.median().map(|median| Median {
            value: pocketed(median.value),
            low: pocketed(median.low),
            high: median.high.map(pocketed),
        })
    }
}

/// The ends of the interval; no upper one where the curve is at 0.
fn interval(chance: f64, hazard_variance: f64) -> (f64, Option<f64>) {
    if chance <= 0.0 {
        return (0.0, None);
    }
    let reach = Z * hazard_variance.sqrt() / chance.ln();
    let middle = (-chance.ln()).ln();
    let end = |at: f64| (-at.exp()).exp();
    (end(middle - reach), Some(end(middle + reach)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_stopped_attempts_the_curve_is_the_share_that_came_so_far() {
        let runs = [0, 3, 3, 7, 12, 30].map(|balls| Run::of_balls(None, balls, Ending::Missed));
        let curve = Survival::of(runs.iter().map(Span::of));
        for balls in 1..=31 {
            let share = runs.iter().filter(|run| run.balls >= balls).count() as f64 / 6.0;
            assert!((curve.chance_of(balls).unwrap().0 - share).abs() < 1e-12, "{balls}");
        }
        assert_eq!(curve.chance_of(32), None);
        assert_eq!(curve.median_run().unwrap().value, 3);
    }

    #[test]
    fn a_stopped_attempt_is_not_at_risk_at_the_ball_it_never_played() {
        let stopped = Run::of_balls(None, 5, Ending::Stopped);
        let missed = Run::of_balls(None, 5, Ending::Missed);
        let curve = Survival::of([&stopped, &missed].map(Span::of));
        assert_eq!((curve.reached[0].ball, curve.reached[0].at_risk), (6, 1));
    }

    #[test]
    fn nothing_and_nothing_but_stopped_attempts_say_nothing() {
        assert_eq!(Survival::of([]).median(), None);
        let curve = Survival::of([Span { until: 40, ended: false }; 3]);
        assert_eq!((curve.reached.len(), curve.seen_to, curve.median()), (0, 40, None));
        assert_eq!(curve.chance_of(40), Some((1.0, 1.0, 1.0)));
    }
}
