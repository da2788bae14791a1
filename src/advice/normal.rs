//! The normal distribution's integral.
//!
//! Method: Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 7.1.26, to 1.5e-7.

/// The chance that an error of one standard deviation `sigma` about zero stays within ± `half`.
pub(super) fn within(half: f64, sigma: f64) -> f64 {
    if half <= 0.0 {
        return 0.0;
    }
    erf(half / (sigma.max(1e-12) * std::f64::consts::SQRT_2))
}

fn erf(x: f64) -> f64 {
    const P: f64 = 0.327_591_1;
    const A: [f64; 5] =
        [0.254_829_592, -0.284_496_736, 1.421_413_741, -1.453_152_027, 1.061_405_429];
    let t = 1.0 / (1.0 + P * x.abs());
    let sum = A.iter().rev().fold(0.0, |sum, a| (sum + a) * t);
    (1.0 - sum * (-x * x).exp()).copysign(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shares_are_those_of_the_tables() {
        assert!((within(2.0, 1.0) - 0.954_499_7).abs() < 1e-6);
        assert!((within(1.0, 1.0) - 0.682_689_5).abs() < 1e-6);
        assert_eq!(within(-1.0, 1.0), 0.0);
    }
}
