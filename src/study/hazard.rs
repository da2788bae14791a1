//! What ends runs, by place in the rack: misses among the balls faced.
//!
//! Input: runs. Output: for the break shot, for the other balls, for each place and each rack of the
//! attempt how many balls were faced and missed, and the chance of a miss with its 95 % interval.
//!
//! Method. A rate by itself: the Beta(m + ½, n − m + ½) posterior of Jeffreys' prior, ends at 0 and 1
//! where nothing or everything was missed (Brown, Cai & DasGupta, Stat. Sci. 16 (2001) 101). The
//! places after the break shot also pooled, since each has few misses: their chances are taken as
//! drawn from one Beta(μκ, (1 − μ)κ); how they differ, κ, and their mean μ are weighed by the
//! marginal likelihood of all counts (beta-binomial; Skellam, J. R. Stat. Soc. B 10 (1948) 257) on a
//! grid, and what is told of a place is averaged over it, so that not knowing κ is part of the
//! interval. Prior: flat in ln κ over the grid, Jeffreys' in μ. The break shot stays outside: it is a
//! shot of another kind. Not modelled: neighbouring places resembling each other.

use super::{
    estimate::{Cumulative, Estimate, LEVEL, spread_out},
    run::{PLACES, Run},
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Balls faced and missed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Tally {
    pub faced: u64,
    pub missed: u64,
}

impl Tally {
    pub(super) fn add(&mut self, missed: bool) {
        self.faced += 1;
        self.missed += u64::from(missed);
    }

    pub(super) fn with(self, other: Self) -> Self {
        Self { faced: self.faced + other.faced, missed: self.missed + other.missed }
    }

    /// Misses and balls pocketed.
    pub(super) fn counts(self) -> (f64, f64) {
        // Whole numbers of balls are exact in f64.
        (self.missed as f64, self.faced.saturating_sub(self.missed) as f64)
    }
}

/// Balls faced and missed, and the chance of a miss by these alone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Rate {
    #[serde(flatten)]
    pub tally: Tally,
    /// Missed by faced, with Jeffreys' interval.
    pub chance: Estimate,
}

/// One place of the rack.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlaceRate {
    /// 1 is the break shot, 14 the last ball before the next rack.
    pub place: u32,
    pub alone: Rate,
    /// The chance of a miss with what the other places say; none for the break shot.
    pub pooled: Option<Estimate>,
}

/// Misses by place and by rack.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Hazards {
    pub break_shot: Rate,
    pub others: Rate,
    pub places: Vec<PlaceRate>,
    /// Each rack of the attempt, the opening one first.
    pub racks: Vec<Rate>,
}

/// Counts by place and by rack, nothing reckoned from them yet.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Tallies {
    pub places: [Tally; PLACES],
    pub racks: Vec<Tally>,
}

impl Tallies {
    pub fn of(runs: &[Run]) -> Self {
        let mut tallies = Self::default();
        for run in runs {
            if tallies.racks.len() < run.racks().len() {
                tallies.racks.resize(run.racks().len(), Tally::default());
            }
            run.each_ball(|rack, place, missed| {
                tallies.places[place].add(missed);
                tallies.racks[rack].add(missed);
            });
        }
        while tallies.racks.last().is_some_and(|rack| rack.faced == 0) {
            tallies.racks.pop();
        }
        tallies
    }

    pub fn break_shot(&self) -> Tally {
        self.places[0]
    }

    pub fn others(&self) -> Tally {
        self.places[1..].iter().copied().fold(Tally::default(), Tally::with)
    }
}

impl Hazards {
    pub fn of(tallies: &Tallies) -> Self {
        let pool = Pool::of(&tallies.places[1..]);
        let places = tallies.places.iter().zip(1_u32..).map(|(tally, place)| PlaceRate {
            place,
            alone: Rate::of(*tally),
            pooled: (place > 1).then(|| pool.rate_of(*tally)),
        });
        Self {
            break_shot: Rate::of(tallies.break_shot()),
            others: Rate::of(tallies.others()),
            places: places.collect(),
            racks: tallies.racks.iter().copied().map(Rate::of).collect(),
        }
    }
}

impl Rate {
    /// Of balls by themselves.
    pub(super) fn of(tally: Tally) -> Self {
        let (missed, made) = tally.counts();
        if tally.faced == 0 {
            return Self { tally, chance: Estimate { value: 0.0, low: 0.0, high: 1.0 } };
        }
        let value = missed / (missed + made);
        let (low, high) = ends(&[(missed + 0.5, made + 0.5, 0.0)]);
        let chance = Estimate {
            value,
            low: if tally.missed == 0 { 0.0 } else { low },
            high: if tally.missed == tally.faced { 1.0 } else { high },
        };
        Self { tally, chance }
    }

    /// By how much its chance is above another's, with the interval of both together: Newcombe, Stat.
    /// Med. 17 (1998) 873, method 10, from the intervals of each.
    pub(super) fn above(&self, other: &Self) -> Estimate {
        let (one, other) = (self.chance, other.chance);
        let value = one.value - other.value;
        let (down, up) = (one.value - one.low, other.high - other.value);
        let (one_up, other_down) = (one.high - one.value, other.value - other.low);
        Estimate { value, low: value - down.hypot(up), high: value + one_up.hypot(other_down) }
    }
}

/// Points at which a chance is weighed.
const POINTS: u32 = 241;

/// The ends of the 95 % interval of a chance that has one of some Beta distributions: a, b, and the
/// logarithm of the weight of p^a (1 − p)^b on the scale of ln p/(1 − p).
fn ends(mixture: &[(f64, f64, f64)]) -> (f64, f64) {
    let ln_density = |logit: f64| {
        let (ln_p, ln_rest) = (-(-logit).exp().ln_1p(), -logit.exp().ln_1p());
        let of = |(a, b, ln): &(f64, f64, f64)| ln + a * ln_p + b * ln_rest;
        match mixture {
            [one] => of(one),
            many => many.iter().map(|one| of(one).exp()).sum::<f64>().ln(),
        }
    };
    let (a, b) = mixture.iter().fold((0.0, 0.0), |(a, b), one| (a + one.0, b + one.1));
    let count = mixture.len() as f64;
    let (top, sigma) = ((a / b).ln(), (count / a + count / b).sqrt().min(0.5));
    // Where little was missed, the tail toward 0 is very long: points lie ever farther apart.
    let logit = |t: f64| top + sigma * t.sinh();
    let points = spread_out(0.0, 0.5, POINTS, |t| ln_density(logit(t)) + t.cosh().ln());
    let own: Vec<f64> = points.iter().map(|(_, weight)| *weight).collect();
    let all = Cumulative::of(points[0].0, points[1].0 - points[0].0, &own);
    let at = |share| 1.0 / (1.0 + (-logit(all.quantile(share))).exp());
    let tail = (1.0 - LEVEL) / 2.0;
    (at(tail), at(1.0 - tail))
}

/// The logarithm of the beta function.
fn ln_beta(a: f64, b: f64) -> f64 {
    libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b)
}

/// Points of the grid for μ: closer to each other than the narrowest Beta is wide.
const MEANS: u32 = 73;
/// Steps of the grid for κ (even, for Simpson's rule) and its ends: from places that have little to do
/// with one another to places that are all alike.
const LIKENESS_STEPS: u32 = 40;
const LIKENESS: (f64, f64) = (5.0, 1000.0);
/// Points of the grid with less weight than this, of all, are left out.
const NEGLIGIBLE: f64 = 1e-9;

/// What the places have in common: Beta distributions that their chances may be drawn from.
struct Pool {
    /// a, b and the weight, of 1.
    points: Vec<(f64, f64, f64)>,
}

impl Pool {
    fn of(places: &[Tally]) -> Self {
        let (missed, made) = places.iter().copied().fold(Tally::default(), Tally::with).counts();
        let centre = ((missed + 0.5) / (made + 0.5)).ln();
        let by_counts = 1.0 / (missed + 0.5) + 1.0 / (made + 0.5);
        let mut points = Vec::new();
        for step in 0..=LIKENESS_STEPS {
            let ends = step == 0 || step == LIKENESS_STEPS;
            let simpson: f64 = if ends { 1.0 } else { f64::from(2 + 2 * (step % 2)) };
            let along = f64::from(step) / f64::from(LIKENESS_STEPS);
            let kappa = LIKENESS.0 * (LIKENESS.1 / LIKENESS.0).powf(along);
            let at = |logit: f64| {
                // Each by itself: near 1 nothing would be left of 1 − μ.
                (kappa / (1.0 + (-logit).exp()), kappa / (1.0 + logit.exp()))
            };
            let ln_weight = |logit: f64| {
                let (a, b) = at(logit);
                // Jeffreys' prior of μ, on the scale of its logit.
                ln_marginal(places, a, b) + 0.5 * (a * b / (kappa * kappa)).ln()
            };
            let means = spread_out(centre, by_counts.sqrt(), MEANS, ln_weight);
            let apart = means[1].0 - means[0].0;
            for (logit, _) in means {
                let (a, b) = at(logit);
                points.push((a, b, ln_weight(logit) + (simpson * apart).ln()));
            }
        }
        let best = points.iter().map(|point| point.2).fold(f64::NEG_INFINITY, f64::max);
        for point in &mut points {
            point.2 = (point.2 - best).exp();
        }
        let all: f64 = points.iter().map(|point| point.2).sum();
        points.retain(|point| point.2 > NEGLIGIBLE * all);
        for point in &mut points {
            point.2 /= all;
        }
        Self { points }
    }

    fn rate_of(&self, tally: Tally) -> Estimate {
        let (missed, made) = tally.counts();
        // What a place's own counts say of the grid is in the weights already.
        let posterior: Vec<(f64, f64, f64)> = self
            .points
            .iter()
            .map(|(a, b, weight)| (a + missed, b + made, weight.ln()))
            .map(|(a, b, ln)| (a, b, ln - ln_beta(a, b)))
            .collect();
        let weighted = posterior.iter().zip(&self.points);
        let value = weighted.map(|((a, b, _), (.., weight))| weight * a / (a + b)).sum();
        let (low, high) = ends(&posterior);
        Estimate { value, low, high }
    }
}

/// The logarithm of the chance of all counts together, if the places' chances are from Beta(a, b);
/// less what does not depend on a and b.
fn ln_marginal(places: &[Tally], a: f64, b: f64) -> f64 {
    let own = ln_beta(a, b);
    let of = |tally: &Tally| {
        let (missed, made) = tally.counts();
        ln_beta(a + missed, b + made) - own
    };
    places.iter().map(of).sum()
}
