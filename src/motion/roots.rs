//! When a polynomial in time first falls to zero: the one question every event asks.
//!
//! Input: coefficients c0 + c1 t + … + c4 t⁴ of a gap (metres, seconds), scaled so that c0 is the
//! gap and c1 its rate, and a horizon. Output: the first time in 0..=horizon at which the gap falls
//! from open to closed. Method: written in Bernstein's basis over the horizon a polynomial has no more
//! roots there than its coefficients change sign (Descartes' rule; R. T. Farouki, "The Bernstein polynomial
//! basis: a centennial retrospective", 2012): no change is no fall, one is exactly one, and most gaps are
//! told by that. Otherwise: between the roots of its derivative a polynomial is monotonic, so each root is
//! alone in a bracket; the derivative's own roots are found the same way, down to the quadratic formula.
//! Newton's steps guarded by bisection close on a root that is alone. No root can be missed or met twice,
//! and a double root (a graze) either closes or does not.
//!
//! A gap that is closed to begin with (|c0| within [`TOUCH_M`]) is known to be a contact: its root
//! at zero is divided out rather than found again. Degenerates: coefficients that are not numbers
//! have no root.

/// Gaps up to this are contacts: far above rounding (1e-16 m), far below what is allowed to
/// overlap (1e-9 m).
pub(super) const TOUCH_M: f64 = 1e-11;
/// A rate below this is none, m/s.
const STILL_M_S: f64 = 1e-12;
/// A second derivative's half below this presses nothing, m/s².
const PRESS_M_S2: f64 = 1e-13;
const MOST_STEPS: usize = 80;
/// Coefficients come from a few sums of a few terms: their rounding is below this part of the largest.
const ROUNDING: f64 = 16.0 * f64::EPSILON;

/// The first time in 0..=horizon at which the gap falls to zero.
pub(super) fn first_fall(c: [f64; 5], horizon_s: f64) -> Option<f64> {
    let [gap, rate, bend, c3, c4] = c;
    if gap > TOUCH_M {
        return fall(&c, horizon_s);
    }
    if rate < -STILL_M_S {
        return Some(0.0);
    }
    if rate > STILL_M_S {
        return fall(&[rate, bend, c3, c4], horizon_s);
    }
    if bend < -PRESS_M_S2 {
        return Some(0.0);
    }
    if bend > PRESS_M_S2 { fall(&[bend, c3, c4], horizon_s) } else { None }
}

/// The first fall of a polynomial that is positive at zero.
fn fall<const N: usize>(c: &[f64; N], horizon_s: f64) -> Option<f64> {
    match falls(c, horizon_s) {
        Falls::Never => return None,
        Falls::Once { about } => return Some(closed_in(c, (0.0, horizon_s), about)),
        Falls::Unclear => {}
    }
    let mut low = 0.0;
    let turns = turns(c, horizon_s);
    for turn in turns.iter().copied().chain([horizon_s]) {
        if value(c, turn) <= 0.0 {
            return Some(closed_in(c, (low, turn), 0.5 * (low + turn)));
        }
        low = turn;
    }
    None
}

/// How often a polynomial that is positive at zero falls to zero in 0..=horizon.
enum Falls {
    Never,
    /// Once, near a time.
    Once {
        about: f64,
    },
    Unclear,
}

/// Tells it by the signs of its coefficients in Bernstein's basis; one that rounding could turn is none.
fn falls<const N: usize>(c: &[f64; N], horizon_s: f64) -> Falls {
    let (mut scaled, mut power, mut largest) = (*c, 1.0, 0.0_f64);
    for k in &mut scaled {
        *k *= power;
        power *= horizon_s;
        largest = largest.max(k.abs());
    }
    let mut control = scaled;
    match (control.as_mut_slice(), scaled.as_slice()) {
        ([_, to @ ..], &[a, b, c]) => to.copy_from_slice(&[a + b / 2.0, a + b + c]),
        ([_, to @ ..], &[a, b, c, d]) => {
            to.copy_from_slice(&[a + b / 3.0, a + (2.0 * b + c) / 3.0, a + b + c + d]);
        }
        ([_, to @ ..], &[a, b, c, d, e]) => to.copy_from_slice(&[
            a + b / 4.0,
            a + b / 2.0 + c / 6.0,
            a + 0.75 * b + 0.5 * c + 0.25 * d,
            a + b + c + d + e,
        ]),
        _ => return Falls::Unclear,
    }
    let sure = ROUNDING * largest;
    let mut falls_at = None;
    for (k, pair) in control.windows(2).enumerate() {
        let (here, next) = (pair[0], pair[1]);
        // Not a number is not sure either.
        if !(here.abs() > sure && next.abs() > sure) {
            return Falls::Unclear;
        }
        match (here > 0.0, next > 0.0) {
            (true, false) if falls_at.is_none() => falls_at = Some(k as f64 + here / (here - next)),
            (true, true) | (false, false) => {}
            _ => return Falls::Unclear,
        }
    }
    match falls_at {
        None => Falls::Never,
        Some(at) => Falls::Once { about: at / (N - 1) as f64 * horizon_s },
    }
}

/// A few numbers in rising order.
struct Few {
    at: [f64; 3],
    count: usize,
}

impl Few {
    const fn none() -> Self {
        Self { at: [0.0; 3], count: 0 }
    }

    fn push(&mut self, value: f64) {
        if self.count < self.at.len() {
            self.at[self.count] = value;
            self.count += 1;
        }
    }

    fn iter(&self) -> std::slice::Iter<'_, f64> {
        self.at[..self.count].iter()
    }
}

/// Where the polynomial turns, inside 0..horizon.
fn turns(c: &[f64], horizon_s: f64) -> Few {
    match *c {
        [_, b, a] => {
            let mut few = Few::none();
            let at = -b / (2.0 * a);
            if at > 0.0 && at < horizon_s {
                few.push(at);
            }
            few
        }
        [_, c1, c2, c3] => quadratic(c1, 2.0 * c2, 3.0 * c3, horizon_s),
        [_, c1, c2, c3, c4] => cubic([c1, 2.0 * c2, 3.0 * c3, 4.0 * c4], horizon_s),
        _ => Few::none(),
    }
}

/// The roots of c + b t + a t² inside 0..horizon, in rising order.
fn quadratic(c: f64, b: f64, a: f64, horizon_s: f64) -> Few {
    let mut few = Few::none();
    let square = b * b - 4.0 * a * c;
    if square < 0.0 {
        return few;
    }
    // The sum without cancellation gives one root, the product the other.
    let q = -0.5 * (b + square.sqrt().copysign(b));
    let (one, other) = (q / a, c / q);
    let (first, second) = if one < other { (one, other) } else { (other, one) };
    for root in [first, second] {
        if root > 0.0 && root < horizon_s {
            few.push(root);
        }
    }
    few
}

/// The roots of a cubic at which it changes sign, inside 0..horizon, in rising order.
fn cubic(c: [f64; 4], horizon_s: f64) -> Few {
    let mut few = Few::none();
    let turns = quadratic(c[1], 2.0 * c[2], 3.0 * c[3], horizon_s);
    let (mut low, mut at_low) = (0.0, c[0]);
    for turn in turns.iter().copied().chain([horizon_s]) {
        let here = value(&c, turn);
        if at_low > 0.0 && here <= 0.0 {
            few.push(closed_in(&c, (low, turn), 0.5 * (low + turn)));
        } else if at_low < 0.0 && here >= 0.0 {
            few.push(closed_in(&c.map(|k| -k), (low, turn), 0.5 * (low + turn)));
        }
        (low, at_low) = (turn, here);
    }
    few
}

fn value(c: &[f64], t: f64) -> f64 {
    c.iter().rev().fold(0.0, |sum, k| sum * t + k)
}

/// The root between a positive and a non-positive value, looked for from a time between them.
fn closed_in<const N: usize>(c: &[f64; N], (mut low, mut high): (f64, f64), mut t: f64) -> f64 {
    for _ in 0..MOST_STEPS {
        let (mut p, mut slope) = (0.0, 0.0);
        for k in c.iter().rev() {
            slope = slope * t + p;
            p = p * t + k;
        }
        if p > 0.0 {
            low = t;
        } else {
            high = t;
        }
        let newton = t - p / slope;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if (next - t).abs() <= 2.0 * f64::EPSILON * next || high - low <= f64::EPSILON * high {
            return next;
        }
        t = next;
    }
    t
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// (t − a)(t − b)(t − c)(t − d), and its sign turned.
    fn quartic(roots: [f64; 4], sign: f64) -> [f64; 5] {
        let mut c = [sign, 0.0, 0.0, 0.0, 0.0];
        for (n, root) in roots.into_iter().enumerate() {
            for k in (0..=n + 1).rev() {
                c[k] = if k > 0 { c[k - 1] } else { 0.0 } - root * c[k];
            }
        }
        c
    }

    proptest! {
        #[test]
        fn the_first_fall_is_the_one_a_fine_search_sees(
            roots in proptest::array::uniform4(-2.0..4.0_f64),
            sign in prop_oneof![Just(1.0), Just(-1.0)],
        ) {
            let c = quartic(roots, sign);
            prop_assume!(c[0] > 1e-3);
            let mut sorted = roots;
            sorted.sort_by(f64::total_cmp);
            prop_assume!(sorted.windows(2).all(|pair| pair[1] - pair[0] > 1e-3));
            // Positive at zero, so the first root beyond it is a fall.
            let expected = sorted.into_iter().find(|root| *root > 0.0);
            let found = first_fall(c, 10.0);
            match (expected, found) {
                (Some(a), Some(b)) => {
                    // Where roots lie close together, rounding of the coefficients moves them.
                    let others = roots.into_iter().filter(|root| *root != a);
                    let slope: f64 = others.map(|root| (a - root).abs()).product();
                    prop_assert!((a - b).abs() < 1e-9_f64.max(1e-12 / slope), "{} {}", a, b);
                }
                (None, None) => {}
                _ => prop_assert!(false, "{:?} {:?}", expected, found),
            }
        }

        #[test]
        fn a_contact_is_not_met_again(
            rate in 1e-6..5.0_f64,
            rest in proptest::array::uniform3(-3.0..3.0_f64),
        ) {
            let c = [0.0, rate, rest[0], rest[1], rest[2]];
            if let Some(t) = first_fall(c, 5.0) {
                prop_assert!(t > 0.0);
                prop_assert!(value(&c, t).abs() < 1e-9 * (1.0 + t.powi(4)));
                prop_assert!(value(&c, 0.5 * t) > 0.0);
            }
        }
    }

    #[test]
    fn closed_and_closing_is_now() {
        assert_eq!(first_fall([0.0, -1.0, 9.0, 0.0, 0.0], 1.0), Some(0.0));
        assert_eq!(first_fall([-1e-12, 0.0, -1.0, 0.0, 0.0], 1.0), Some(0.0));
        assert_eq!(first_fall([0.0; 5], 1.0), None);
        assert_eq!(first_fall([0.0, 0.0, 1.0, 0.0, 0.0], 1.0), None);
    }

    #[test]
    fn lower_degrees_and_no_numbers() {
        let straight = first_fall([1.0, -2.0, 0.0, 0.0, 0.0], 1.0);
        assert!((straight.unwrap() - 0.5).abs() < 1e-15);
        assert_eq!(first_fall([1.0, -2.0, 0.0, 0.0, 0.0], 0.4), None);
        let bent = first_fall([1.0, 0.0, -4.0, 0.0, 0.0], 1.0);
        assert!((bent.unwrap() - 0.5).abs() < 1e-15);
        assert_eq!(first_fall([f64::NAN; 5], 1.0), None);
    }
}
