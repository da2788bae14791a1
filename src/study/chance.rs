//! The chance that one attempt reaches a number of balls, also beyond the longest run so far.
//!
//! Input: break shots and other balls, faced and missed; the goal in balls. Output: the chance with
//! its 95 % interval, and the attempts that it takes.
//!
//! Model: a break shot is missed with the chance p, any other ball with the chance q, each by itself;
//! a goal of N balls takes a break shot for every fourteen begun and N less those of the others, so
//! S = (1 − p)^B (1 − q)^(N − B). Runs as seen, stopped ones too, are then two binomial counts.
//!
//! Prior: ∝ p^−½ q^−½ / (p + 13 q), on the scale of ln p/(1 − p) and ln q/(1 − q): Jeffreys' for how
//! misses share out between the two, and none for how many there are in a rack. A record ends each
//! attempt by its first miss, so the number of misses is given and the balls are what chance brings;
//! with Jeffreys' prior for both the interval would lie too low with ten attempts. Where nothing was
//! missed, that prior has no end, and Jeffreys' is taken. Posterior on a grid of p × q.
//!
//! Not modelled: good and bad days, balls later in an attempt being missed more or less often
//! (`steady.rs` tests that), places of the rack that differ among themselves. Held to made-up records
//! in `tests/it/study.rs`.

use super::{
    estimate::{Cumulative, Estimate, Weighted, spread_out},
    hazard::Tally,
    run::BALLS_A_RACK,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Points of the grid for either chance.
const STEPS: u32 = 81;
/// "A tenth fewer misses."
const TENTH_FEWER: f64 = 0.9;

/// The chance to reach a goal, attempt by attempt.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Chance {
    /// Of one attempt.
    pub of_an_attempt: Estimate,
    /// Attempts after which it is as likely reached as not.
    pub attempts_for_even: Estimate,
    /// Attempts after which it is reached with a chance of nine in ten.
    pub attempts_for_nine_in_ten: Estimate,
    /// The chance of one attempt with a tenth fewer misses at break shots, or at the other balls.
    pub with_better_breaks: f64,
    pub with_better_others: f64,
    /// How likely it is that break shots are missed more often than other balls.
    pub breaks_are_weaker: f64,
}

impl Chance {
    /// None where no ball was ever faced.
    pub fn of(break_shots: Tally, others: Tally, balls: u32) -> Option<Self> {
        let grid = Grid::of(break_shots, others)?;
        let odds = Odds(grid.ln_chances(balls, 1.0, 1.0));
        let better = |breaks, others| grid.ln_chances(balls, breaks, others).quantile(0.5).exp();
        Some(Self {
            of_an_attempt: odds.of_an_attempt(),
            attempts_for_even: odds.attempts_for(0.5),
            attempts_for_nine_in_ten: odds.attempts_for(0.9),
            with_better_breaks: better(TENTH_FEWER, 1.0),
            with_better_others: better(1.0, TENTH_FEWER),
            breaks_are_weaker: grid.breaks_are_weaker(),
        })
    }
}

/// What is known of the chance of one attempt: ln S, by points with their weights.
#[derive(Debug, Clone)]
pub struct Odds(pub(super) Weighted);

impl Odds {
    /// Of the first `balls` balls; none where no ball was ever faced.
    pub fn of(break_shots: Tally, others: Tally, balls: u32) -> Option<Self> {
        Some(Self(Grid::of(break_shots, others)?.ln_chances(balls, 1.0, 1.0)))
    }

    /// The chance of one attempt.
    pub fn of_an_attempt(&self) -> Estimate {
        self.0.estimate().growing(f64::exp)
    }

    /// Attempts after which the goal is reached with a chance; a goal that is sure takes one.
    pub fn attempts_for(&self, chance: f64) -> Estimate {
        self.0.estimate().falling(|ln| ((-chance).ln_1p() / ln_none(ln)).max(1.0))
    }
}

/// ln(1 − s) from ln s, so that nothing is lost of a chance near 0.
pub(super) fn ln_none(ln_chance: f64) -> f64 {
    (-ln_chance.exp()).ln_1p().min(-f64::MIN_POSITIVE)
}

/// Break shots and other balls among the first `balls`.
fn shared_out(balls: u32) -> (f64, f64) {
    let breaks = balls.div_ceil(BALLS_A_RACK);
    (f64::from(breaks), f64::from(balls - breaks))
}

/// The posterior of both chances of a miss: at each logit of that of a break shot, that of the other.
struct Grid {
    breaks: Vec<(f64, Cumulative)>,
}

fn logistic(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

/// ln(1 + e^x)
fn softplus(x: f64) -> f64 {
    x.max(0.0) + (-x.abs()).exp().ln_1p()
}

/// A chance of a miss by its own counts alone: logits, evenly apart, and weights.
fn posterior(tally: Tally) -> Vec<(f64, f64)> {
    let (missed, made) = tally.counts();
    let (a, b) = (missed + 0.5, made + 0.5);
    let scale = (1.0 / a + 1.0 / b).sqrt();
    spread_out((a / b).ln(), scale, STEPS, |u| a * u - (a + b) * softplus(u))
}

impl Grid {
    fn of(break_shots: Tally, others: Tally) -> Option<Self> {
        if break_shots.faced + others.faced == 0 {
            return None;
        }
        let nothing_missed = break_shots.missed + others.missed == 0;
        let others = posterior(others);
        let (from, step) = (others[0].0, others[1].0 - others[0].0);
        let row = |(logit, by_counts): (f64, f64)| {
            let own = others.iter().map(|(other, other_by_counts)| {
                let misses = logistic(logit) + f64::from(BALLS_A_RACK - 1) * logistic(*other);
                let prior = if nothing_missed { 1.0 } else { 1.0 / misses };
                by_counts * other_by_counts * prior
            });
            (logit, Cumulative::of(from, step, &own.collect::<Vec<_>>()))
        };
        Some(Self { breaks: posterior(break_shots).into_iter().map(row).collect() })
    }

    /// ln S, with the chances of a miss made smaller by two factors.
    fn ln_chances(&self, balls: u32, breaks: f64, others: f64) -> Weighted {
        let (break_shots, other_balls) = shared_out(balls);
        let made = |logit: f64| break_shots * (-breaks * logistic(logit)).ln_1p();
        let rows: Vec<(f64, &Cumulative)> =
            self.breaks.iter().map(|(logit, row)| (made(*logit), row)).collect();
        if other_balls == 0.0 {
            return Weighted::new(rows.into_iter().map(|(made, row)| (made, row.all)).collect());
        }
        // The weight of all chances with ln S below a value: row by row those with the other chance of
        // a miss above what is left for it.
        let weight_below = |ln_chance: f64| -> f64 {
            let of = |(breaks_made, row): &(f64, &Cumulative)| {
                let ln_each = (ln_chance - breaks_made) / other_balls;
                let missed = (-ln_each.exp_m1() / others).clamp(0.0, 1.0);
                row.all - row.below((missed / (1.0 - missed)).ln())
            };
            rows.iter().map(of).sum()
        };
        Weighted::falling_to(weight_below, self.weight())
    }

    fn weight(&self) -> f64 {
        self.breaks.iter().map(|(_, row)| row.all).sum()
    }

    fn breaks_are_weaker(&self) -> f64 {
        self.breaks.iter().map(|(logit, row)| row.below(*logit)).sum::<f64>() / self.weight()
    }
}
