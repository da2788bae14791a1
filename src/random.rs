//! Random numbers from a seed: the same seed gives the same numbers on every machine.
//!
//! Generator: splitmix64 (Steele, Lea & Flood, "Fast splittable pseudorandom number generators",
//! OOPSLA 2014). Not for secrets. Knows nothing of tables or pictures.

/// A small seeded generator.
#[derive(Debug, Clone)]
pub struct Random {
    state: u64,
}

const GOLDEN_GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

impl Random {
    pub const fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    /// A generator for one purpose or one pixel: independent of how much this one was used.
    pub fn stream(seed: u64, purpose: u64) -> Self {
        let mut random = Self::new(seed ^ purpose.wrapping_mul(0xd134_2543_de82_ef95));
        random.bits();
        random
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(GOLDEN_GAMMA);
        mixed(self.state)
    }

    /// Uniform in [0, 1).
    pub fn unit(&mut self) -> f64 {
        unit_from(self.bits())
    }

    /// Uniform between two bounds.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// True with the given probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// A whole number in 0..`count`; 0 for a count of 0.
    pub fn below(&mut self, count: usize) -> usize {
        ((self.unit() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// One of several things, each as likely.
    pub fn pick<T: Copy, const N: usize>(&mut self, choices: [T; N]) -> T {
        const { assert!(N > 0) };
        choices[self.below(N)]
    }

    /// Standard normal (Box & Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// A random order.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }
}

/// A fixed random value in [0, 1) for a grid cell: noise that sticks to a surface.
pub fn cell_noise(seed: u64, i: i64, j: i64) -> f64 {
    let key = (i as u64).wrapping_mul(0x8da6_b343_0000_9e35)
        ^ (j as u64).wrapping_mul(0xd816_3841_7f4a_7c15)
        ^ seed;
    unit_from(mixed(key.wrapping_add(GOLDEN_GAMMA)))
}

/// Smooth noise in [0, 1): cell values at whole coordinates, blended in between.
pub fn smooth_noise(seed: u64, x: f64, y: f64) -> f64 {
    let (xf, yf) = (x.floor(), y.floor());
    let (i, j) = (xf as i64, yf as i64);
    let ease = |t: f64| t * t * (3.0 - 2.0 * t);
    let (u, v) = (ease(x - xf), ease(y - yf));
    let row = |j| cell_noise(seed, i, j) * (1.0 - u) + cell_noise(seed, i + 1, j) * u;
    row(j) * (1.0 - v) + row(j + 1) * v
}

const fn mixed(state: u64) -> u64 {
    let mut z = state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

fn unit_from(bits: u64) -> f64 {
    (bits >> 11) as f64 / (1_u64 << 53) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn follows_the_published_sequence() {
        // First outputs of splitmix64 from state 1234567, as published with the generator.
        let mut random = Random::new(1_234_567);
        assert_eq!(random.bits(), 6_457_827_717_110_365_317);
        assert_eq!(random.bits(), 3_203_168_211_198_807_973);
    }

    #[test]
    fn normal_has_mean_zero_and_variance_one() {
        let mut random = Random::new(3);
        let draws: Vec<f64> = (0..20_000).map(|_| random.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let variance = draws.iter().map(|d| d * d).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.03 && (variance - 1.0).abs() < 0.05, "{mean} {variance}");
    }

    #[test]
    fn smooth_noise_is_continuous() {
        for k in 0..200 {
            let x = f64::from(k) * 0.37 - 30.0;
            let step = (smooth_noise(5, x, 2.2) - smooth_noise(5, x + 1e-6, 2.2)).abs();
            assert!(step < 1e-4);
        }
    }
}
