//! A figure with the interval that the record leaves for it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How often an interval is to hold the truth.
pub const LEVEL: f64 = 0.95;

/// The standard normal's 97.5 % point, which belongs to [`LEVEL`].
pub(super) const Z: f64 = 1.959_963_984_540_054;

/// A figure with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Estimate {
    pub value: f64,
    pub low: f64,
    pub high: f64,
}

impl Estimate {
    /// The same through a function that grows.
    pub fn growing(self, f: impl Fn(f64) -> f64) -> Self {
        Self { value: f(self.value), low: f(self.low), high: f(self.high) }
    }

    /// The same through a function that falls.
    pub fn falling(self, f: impl Fn(f64) -> f64) -> Self {
        Self { value: f(self.value), low: f(self.high), high: f(self.low) }
    }

    /// Whether the interval holds a value.
    pub fn covers(self, truth: f64) -> bool {
        (self.low..=self.high).contains(&truth)
    }
}

/// Values with their weights, in order: a distribution known by points.
#[derive(Debug, Clone)]
pub(super) struct Weighted {
    values: Vec<f64>,
    /// Weight up to and with half of each value's own, of 1.
    below: Vec<f64>,
}

impl Weighted {
    /// From values and weights in any order; a weight need not be scaled.
    pub(super) fn new(mut points: Vec<(f64, f64)>) -> Self {
        points.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let all: f64 = points.iter().map(|(_, weight)| weight).sum();
        let mut sum = 0.0;
        let below = points.iter().map(|(_, weight)| {
            sum += weight;
            (sum - weight / 2.0) / all
        });
        Self {
            below: below.collect(),
            values: points.into_iter().map(|(value, _)| value).collect(),
        }
    }

    /// Of values below 0, from the weight below each value and the weight of all.
    pub(super) fn falling_to(weight_below: impl Fn(f64) -> f64, all: f64) -> Self {
        // On the scale of ln −x, where the ends are found by doubling and then halving.
        let share = |ln: f64| weight_below(-ln.exp()) / all;
        let end = |mut beyond: f64, within: &dyn Fn(f64) -> bool, step: f64| {
            while within(beyond) && beyond.abs() < FARTHEST {
                beyond += step;
            }
            let mut inside = beyond - step;
            for _ in 0..HALVINGS {
                let middle = f64::midpoint(inside, beyond);
                *(if within(middle) { &mut inside } else { &mut beyond }) = middle;
            }
            beyond
        };
        let small = end(0.0, &|ln| share(ln) < 1.0 - UNTOLD, -4.0);
        let large = end(0.0, &|ln| share(ln) > UNTOLD, 4.0);
        let at = |k: u32| large + (small - large) * f64::from(k) / f64::from(TABLE - 1);
        let values = (0..TABLE).map(|k| -at(k).exp()).collect();
        let below = (0..TABLE).map(|k| share(at(k))).collect();
        Self { values, below }
    }

    /// The value that a share of the weight lies below.
    pub(super) fn quantile(&self, share: f64) -> f64 {
        let after = self.below.partition_point(|below| *below < share);
        let (Some(low), Some(high)) =
            (self.values.get(after.wrapping_sub(1)), self.values.get(after))
        else {
            let end = if after == 0 { self.values.first() } else { self.values.last() };
            return end.copied().unwrap_or(f64::NAN);
        };
        let (from, to) = (self.below[after - 1], self.below[after]);
        low + (high - low) * (share - from) / (to - from).max(f64::MIN_POSITIVE)
    }

    /// Median and 95 % interval.
    pub(super) fn estimate(&self) -> Estimate {
        let tail = (1.0 - LEVEL) / 2.0;
        Estimate {
            value: self.quantile(0.5),
            low: self.quantile(tail),
            high: self.quantile(1.0 - tail),
        }
    }

    /// So many values, each as likely as the others, that stand for all.
    pub(super) fn thinned(&self, count: u32) -> Vec<f64> {
        (0..count).map(|k| self.quantile((f64::from(k) + 0.5) / f64::from(count))).collect()
    }
}

/// Points of a tabulated distribution, and the share of it that is left out at either end.
const TABLE: u32 = 161;
const UNTOLD: f64 = 1e-4;
/// Steps of halving to an end of the table, and the farthest end.
const HALVINGS: u32 = 7;
const FARTHEST: f64 = 700.0;

/// How far below its top, in ln, a density is followed.
const DEPTH: f64 = 18.0;

/// Points with weights that stand for a density whose logarithm has one top and falls to both sides:
/// evenly spaced over all of it that counts.
pub(super) fn spread_out(
    top: f64,
    scale: f64,
    count: u32,
    ln_density: impl Fn(f64) -> f64,
) -> Vec<(f64, f64)> {
    let peak = ln_density(top);
    let reach = |step: f64| {
        let mut far = step;
        while ln_density(top + far) > peak - DEPTH && far.abs() < 1e6 {
            far *= 1.25;
        }
        top + far
    };
    let (from, to) = (reach(-scale), reach(scale));
    let at = |k: u32| from + (to - from) * f64::from(k) / f64::from(count.max(2) - 1);
    (0..count).map(|k| (at(k), (ln_density(at(k)) - peak).exp())).collect()
}

/// The weight below each value of a density that is known at evenly spaced points.
///
/// Method: trapezoids with Euler and Maclaurin's first correction at the points, Hermite's cubic between
/// them; a straight line would be off by a hundredth of a sigma.
#[derive(Debug, Clone)]
pub(super) struct Cumulative {
    from: f64,
    step: f64,
    /// At each point the weight up to it, with half of its own, and its own.
    below: Vec<(f64, f64)>,
    pub(super) all: f64,
}

impl Cumulative {
    pub(super) fn of(from: f64, step: f64, own: &[f64]) -> Self {
        let at = |k: usize| own.get(k).copied().unwrap_or(0.0);
        let mut all = 0.0;
        let below = own.iter().enumerate().map(|(k, own)| {
            all += own;
            let near = at(k + 1) - at(k.wrapping_sub(1));
            let slope = (8.0 * near - (at(k + 2) - at(k.wrapping_sub(2)))) / 12.0;
            (all - own / 2.0 - slope / 12.0, *own)
        });
        let below = below.collect();
        Self { from, step, below, all }
    }

    /// The weight below a value.
    pub(super) fn below(&self, value: f64) -> f64 {
        let at = (value - self.from) / self.step;
        if at.is_nan() || at <= 0.0 {
            return 0.0;
        }
        self.within(at as usize, at.fract()).unwrap_or(self.all)
    }

    /// The weight at a part of the way from one point to the next.
    fn within(&self, point: usize, part: f64) -> Option<f64> {
        let ((low, slope_low), (high, slope_high)) =
            (self.below.get(point)?, self.below.get(point + 1)?);
        let (rise, rest) = (part * part * (3.0 - 2.0 * part), 1.0 - part);
        let slopes = slope_low * part * rest * rest - slope_high * part * part * rest;
        Some(low + (high - low) * rise + slopes)
    }

    /// The value that a share of the weight lies below.
    pub(super) fn quantile(&self, share: f64) -> f64 {
        let wanted = share * self.all;
        let point = self.below.partition_point(|(below, _)| *below < wanted).saturating_sub(1);
        let (mut low, mut high) = (0.0, 1.0);
        while high - low > 1e-9 {
            let middle = f64::midpoint(low, high);
            let below = self.within(point, middle).is_some_and(|below| below < wanted);
            *(if below { &mut low } else { &mut high }) = middle;
        }
        self.from + self.step * (point as f64 + low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_normal_density_at_a_few_points_has_the_normal_quantiles() {
        let own: Vec<f64> =
            (0..81).map(|k| (-0.5 * (f64::from(k) * 0.2 - 8.0).powi(2)).exp()).collect();
        let normal = Cumulative::of(-8.0, 0.2, &own);
        assert!((normal.quantile(0.975) - Z).abs() < 3e-5, "{}", normal.quantile(0.975));
        assert!((normal.below(-Z) / normal.all - 0.025).abs() < 1e-6);
        assert_eq!((normal.below(-9.0), normal.below(9.0)), (0.0, normal.all));
    }

    #[test]
    fn quantiles_of_points_are_those_of_their_distribution() {
        let uniform = Weighted::new((0..1000).map(|k| (f64::from(k) + 0.5, 2.0)).collect());
        assert!((uniform.quantile(0.25) - 250.0).abs() < 1e-9);
        assert_eq!(uniform.quantile(0.0), 0.5);
        assert_eq!(uniform.quantile(1.0), 999.5);
        assert!(Weighted::new(Vec::new()).quantile(0.5).is_nan());
    }
}
