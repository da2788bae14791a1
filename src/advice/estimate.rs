//! Means over simulated hits, told with what they may be off by.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Standard errors to a 95 % interval.
const SIGMAS: f64 = 1.96;

/// A mean over simulated hits with half of its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Estimate {
    pub mean: f64,
    /// Half of the 95 % interval.
    pub plus_minus: f64,
}

impl Estimate {
    /// The mean of values and its interval.
    pub fn of(values: impl Iterator<Item = f64>) -> Self {
        Sum::of(values).estimate()
    }

    /// The share of the hits in which something happened.
    pub fn share(happened: impl Iterator<Item = bool>) -> Self {
        Sum::of(happened.map(|yes| f64::from(u8::from(yes)))).chance()
    }

    /// Whether it is above nothing by more than its interval.
    pub fn is_sure(&self) -> bool {
        self.mean > self.plus_minus
    }
}

/// A sum with its square.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sum {
    count: f64,
    sum: f64,
    square: f64,
}

impl Sum {
    pub fn of(values: impl Iterator<Item = f64>) -> Self {
        let mut sum = Self::default();
        values.for_each(|value| sum.add(value));
        sum
    }

    fn add(&mut self, value: f64) {
        self.count += 1.0;
        self.sum += value;
        self.square += value * value;
    }

    pub fn mean(&self) -> f64 {
        self.sum / self.count.max(1.0)
    }

    pub fn estimate(&self) -> Estimate {
        let mean = self.mean();
        let spread = (self.square / self.count.max(1.0) - mean * mean).max(0.0);
        Estimate { mean, plus_minus: SIGMAS * (spread / (self.count - 1.0).max(1.0)).sqrt() }
    }

    /// A chance's interval is that of Agresti & Coull (1998): none in a hundred is not never.
    pub fn chance(&self) -> Estimate {
        let count = self.count + SIGMAS * SIGMAS;
        let middle = (self.sum + 0.5 * SIGMAS * SIGMAS) / count;
        let plus_minus = SIGMAS * (middle * (1.0 - middle) / count).sqrt();
        Estimate { mean: self.mean(), plus_minus }
    }
}
