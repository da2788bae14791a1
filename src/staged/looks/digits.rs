//! The numbers on the balls: strokes of our own drawing.
//!
//! A digit is one or two broken lines in a box 1 wide and 1.6 high, y upward.

const DIGITS: [&[&[[f64; 2]]]; 10] = [
    &[&[[0.5, 0.0], [0.1, 0.4], [0.1, 1.2], [0.5, 1.6], [0.9, 1.2], [0.9, 0.4], [0.5, 0.0]]],
    &[&[[0.2, 1.25], [0.55, 1.6], [0.55, 0.0]]],
    &[&[[0.1, 1.2], [0.5, 1.6], [0.9, 1.2], [0.1, 0.0], [0.95, 0.0]]],
    &[&[[0.1, 1.6], [0.85, 1.6], [0.45, 0.95], [0.9, 0.5], [0.5, 0.0], [0.1, 0.2]]],
    &[&[[0.7, 0.0], [0.7, 1.6], [0.05, 0.5], [0.95, 0.5]]],
    &[&[[0.85, 1.6], [0.2, 1.6], [0.15, 0.95], [0.6, 1.0], [0.9, 0.5], [0.5, 0.0], [0.1, 0.2]]],
    &[&[[0.8, 1.55], [0.2, 0.8], [0.1, 0.4], [0.5, 0.0], [0.9, 0.4], [0.5, 0.85], [0.2, 0.7]]],
    &[&[[0.1, 1.6], [0.9, 1.6], [0.4, 0.0]]],
    &[
        &[[0.5, 0.85], [0.15, 1.2], [0.5, 1.6], [0.85, 1.2], [0.5, 0.85]],
        &[[0.5, 0.85], [0.1, 0.4], [0.5, 0.0], [0.9, 0.4], [0.5, 0.85]],
    ],
    &[&[[0.2, 0.05], [0.8, 0.8], [0.9, 1.2], [0.5, 1.6], [0.1, 1.2], [0.5, 0.75], [0.8, 0.9]]],
];

/// A bar under 6 and 9, which would else be read upside down.
const UNDERLINE: &[[f64; 2]] = &[[0.1, -0.35], [0.9, -0.35]];

/// Whether ink covers a place of the number's disc; x and y run from −1 to 1 across it.
pub fn inked(number: u8, x: f64, y: f64) -> bool {
    if x.abs() > 1.0 || y.abs() > 1.0 {
        return false;
    }
    let half_stroke = 0.14;
    let over = |digit: u8, x: f64, y: f64| {
        let strokes = DIGITS.get(usize::from(digit)).copied().unwrap_or(&[]);
        let barred = digit == 6 || digit == 9;
        strokes
            .iter()
            .chain(std::iter::once(&UNDERLINE).filter(|_| barred && number < 10))
            .any(|line| line.windows(2).any(|pair| near(pair, x, y, half_stroke)))
    };
    if number < 10 {
        let scale = 0.72;
        over(number, x / scale + 0.5, y / scale + 0.8)
    } else {
        let scale = 0.6;
        let (x, y) = (x / scale, y / scale + 0.8);
        over(number / 10, x + 1.02, y) || over(number % 10, x - 0.02, y)
    }
}

fn near(pair: &[[f64; 2]], x: f64, y: f64, reach: f64) -> bool {
    let [a, b] = pair else { return false };
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let t = (((x - a[0]) * dx + (y - a[1]) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
    (x - a[0] - t * dx).hypot(y - a[1] - t * dy) < reach
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(number: u8) -> Vec<bool> {
        let at = |k: i32| f64::from(k) / 20.0 - 1.0;
        (0..41).flat_map(|j| (0..41).map(move |i| inked(number, at(i), at(j)))).collect()
    }

    #[test]
    fn every_number_differs_from_every_other() {
        for a in 1..16 {
            for b in 1..a {
                let differ = drawn(a).iter().zip(drawn(b)).filter(|(p, q)| **p != *q).count();
                assert!(differ > 40, "{a} and {b} differ in {differ} places");
            }
        }
    }

    #[test]
    fn ink_stays_on_the_disc() {
        for number in 1..16 {
            for k in 0..360 {
                let (sin, cos) = f64::from(k).to_radians().sin_cos();
                assert!(!inked(number, cos, sin), "{number} reaches the rim");
            }
        }
    }
}
