//! The profile across a cushion's nose, explained as edges.
//!
//! Input: logarithmic colours sampled at right angles to a nose, from the top of the cushion into
//! the table, in steps of a fixed part of a pixel about where the nose is expected. Output: where
//! the nose is, in pixels from there, and its standard deviation. Method: the profile's slope is
//! explained by up to three blurred edges whose distances from each other are known: where the
//! top begins to round into the nose, the nose itself, and the end of the cushion's undercut face
//! where the view shows it. Each edge's height is a free colour with a Gaussian prior (linear
//! Bayesian regression); the place with the greatest evidence wins, refined by a parabola, and
//! the evidence's curvature gives sigma. Only slopes near the edges are explained, so the slow
//! recovery of the shadow on the bed does not pull.

use nalgebra::{DMatrix, DVector, SMatrix, SVector};

/// Distance between samples, in pixels.
pub(super) const STEP_PX: f64 = 0.4;
/// Smoothing before the slope is taken, one standard deviation in pixels.
const SMOOTH_PX: f64 = 0.6;
/// How many samples at each end have no slope.
pub(super) const SLOPE_REACH: i32 = 5;
/// An edge's width in the slope: the lens's blur and the smoothing together.
const WIDTH_PX: f64 = 1.0;
/// How far behind the nose the top begins to round.
const ROUND_MM: f64 = 4.0;
/// A face narrower than this is not told apart from the nose.
const LEAST_FACE_PX: f64 = 0.7;
/// The profile reaches this far beyond the outermost edges.
const MARGIN_PX: f64 = 3.5;
/// Noise of the slope after averaging along the nose, per pixel.
const NOISE: f64 = 0.005;
/// Least gain in log evidence over no nose at all.
const LEAST_GAIN: f64 = 8.0;

/// What is known of the profile beforehand.
#[derive(Debug, Clone, Copy)]
pub(super) struct Expected {
    /// From the nose to the end of the visible face in pixels; negative where it is hidden.
    pub face_px: f64,
    /// How far from the expected place the nose is looked for, in pixels.
    pub reach_px: f64,
    pub px_per_mm: f64,
}

/// A nose found in a profile.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub offset_px: f64,
    pub sigma_px: f64,
}

/// An edge's distance from the nose, and the prior of its height: mean and spread of the change
/// of logarithmic colour from outside to inside.
struct Part {
    from_nose_px: f64,
    mean: f64,
    spread: f64,
    /// Whether the brightness rises or falls here, going in; the other way it is no such edge.
    rises: bool,
}

impl Expected {
    /// First and last sample, in steps from the expected nose.
    pub fn span(&self) -> (i32, i32) {
        let before_px = self.reach_px + ROUND_MM * self.px_per_mm + MARGIN_PX;
        let after_px = self.reach_px + self.face_px.max(0.0) + MARGIN_PX;
        (-((before_px / STEP_PX).ceil() as i32), (after_px / STEP_PX).ceil() as i32)
    }

    fn parts(&self) -> Vec<Part> {
        let round = Part {
            from_nose_px: -ROUND_MM * self.px_per_mm,
            mean: 0.02,
            spread: 0.05,
            rises: true,
        };
        let falling =
            |from_nose_px, mean, spread| Part { from_nose_px, mean, spread, rises: false };
        if self.face_px > LEAST_FACE_PX {
            vec![round, falling(0.0, -0.08, 0.25), falling(self.face_px, -0.2, 0.25)]
        } else {
            let from_nose_px = self.face_px.max(0.0) / 2.0;
            vec![round, falling(from_nose_px, -0.25, 0.3)]
        }
    }
}

/// Finds the nose; `samples` are those of [`Expected::span`]. None where no edge stands out.
pub(super) fn locate(samples: &[[f64; 3]], expected: &Expected) -> Option<Edge> {
    let slope = smoothed_slope(samples);
    let parts = expected.parts();
    let trials = (expected.reach_px / STEP_PX).floor() as i32;
    let gains: Vec<f64> = (-trials..=trials)
        .map(|trial| {
            let offset_px = f64::from(trial) * STEP_PX;
            gain(&slope, expected.span().0, &parts, offset_px).unwrap_or(f64::MIN)
        })
        .collect();
    let best = (1..gains.len().saturating_sub(1))
        .max_by(|a, b| gains[*a].total_cmp(&gains[*b]))
        .filter(|best| gains[*best] > LEAST_GAIN)?;
    let (before, here, after) = (gains[best - 1], gains[best], gains[best + 1]);
    let curve = (2.0 * here - before - after) / (STEP_PX * STEP_PX);
    if before > here || after > here || curve.is_nan() || curve <= 0.0 {
        return None;
    }
    let shift_px = 0.5 * (after - before) / (curve * STEP_PX);
    let offset_px = (best as f64 - f64::from(trials)) * STEP_PX + shift_px;
    // Log evidence falls by half at one sigma; the floor is what lens and model leave.
    Some(Edge { offset_px, sigma_px: (1.0 / curve).sqrt().hypot(0.1) })
}

/// Log evidence, over that of a flat profile, for the parts with the nose at an offset. An edge
/// that would have to go the wrong way is left out.
fn gain(slope: &[[f64; 3]], first: i32, parts: &[Part], offset_px: f64) -> Option<f64> {
    let mut kept: Vec<&Part> = parts.iter().collect();
    loop {
        let (gain, heights) = gain_of(slope, first, &kept, offset_px)?;
        let wrong = kept.iter().zip(&heights).position(|(part, h)| (*h > 0.0) != part.rises);
        match wrong {
            None => return Some(gain),
            Some(_) if kept.len() == 1 => return None,
            Some(wrong) => kept.remove(wrong),
        };
    }
}

/// The evidence with all the given parts, and their heights in brightness.
fn gain_of(
    slope: &[[f64; 3]],
    first: i32,
    parts: &[&Part],
    offset_px: f64,
) -> Option<(f64, Vec<f64>)> {
    let count = parts.len();
    let mut shapes = DMatrix::zeros(slope.len(), count);
    for i in 0..slope.len() {
        let at_px = (f64::from(first) + i as f64) * STEP_PX - offset_px;
        for (column, part) in parts.iter().enumerate() {
            let t = (at_px - part.from_nose_px) / WIDTH_PX;
            shapes[(i, column)] = (-0.5 * t * t).exp() / (WIDTH_PX * 2.506_628);
        }
    }
    // Samples closer than the smoothing are not independent; each counts for its share.
    let precision = STEP_PX / (NOISE * NOISE * 2.0);
    let mut normal = shapes.tr_mul(&shapes) * precision;
    for (column, part) in parts.iter().enumerate() {
        normal[(column, column)] += part.spread.powi(-2);
    }
    let factor = normal.cholesky()?;
    let prior = DVector::from_iterator(count, parts.iter().map(|p| p.mean / p.spread.powi(2)));
    let flat: f64 = parts.iter().map(|part| (part.mean / part.spread).powi(2)).sum();
    let (mut gain, mut heights) = (0.0, vec![0.0; count]);
    for channel in 0..3 {
        let seen = DVector::from_iterator(slope.len(), slope.iter().map(|s| s[channel]));
        let right = shapes.tr_mul(&seen) * precision + &prior;
        let solved = factor.solve(&right);
        gain += 0.5 * (solved.dot(&right) - flat);
        for (height, part) in heights.iter_mut().zip(&solved) {
            *height += part / 3.0;
        }
    }
    Some((gain, heights))
}

/// Slope to the pixel of the samples, smoothed by a Gaussian; its ends are zero.
pub(super) fn smoothed_slope(samples: &[[f64; 3]]) -> Vec<[f64; 3]> {
    const REACH: usize = SLOPE_REACH as usize;
    let sigma = SMOOTH_PX / STEP_PX;
    let kernel: SVector<f64, { 2 * REACH + 1 }> = SVector::from_fn(|i, _| {
        let t = i as f64 - REACH as f64;
        t * (-0.5 * t * t / (sigma * sigma)).exp()
    });
    let norm: f64 =
        kernel.iter().enumerate().map(|(i, k)| k * (i as f64 - REACH as f64)).sum::<f64>()
            * STEP_PX;
    let mut slope = vec![[0.0; 3]; samples.len()];
    for (i, window) in samples.windows(2 * REACH + 1).enumerate() {
        let window = SMatrix::<f64, 3, { 2 * REACH + 1 }>::from_fn(|c, k| window[k][c]);
        slope[i + REACH] = (window * kernel / norm).into();
    }
    slope
}
