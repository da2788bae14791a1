//! The noise between two glances of one table, by brightness.
//!
//! Input: two glances and what the light did between them. Output: the variance of a sample that was so
//! bright and is so bright now. Method: how far most samples are from what they were, bright and dark ones
//! by themselves, and a power of the brightness between the two.

use super::glance::{CELL, Glance, Raster, WHITE};
use super::light::{Gains, PEDESTAL};

/// Least noise of a sample, one standard deviation: that of rounding to eight bits and of gentle
/// compression.
const LEAST_NOISE: f32 = WHITE as f32 / 200.0;
/// A darker sample is noisier, since a camera lifts dark tones: the noise of the dark ones is taken by
/// itself where so many are dark, and is at most so many times that of the others.
const DARK: i16 = (WHITE / 6) as i16;
const LEAST_DARK: usize = 120;
const MOST_DARK: f32 = 8.0;
/// What holds between dark and other samples holds down to this part of the dark ones' brightness.
const FARTHEST_DARK: f32 = 0.5;
/// What a bed without a sample is taken for.
const NO_NOISE: Measured = Measured { brightness: WHITE as f32, noise: LEAST_NOISE };

/// The noise between two glances: a sample's variance by its brightness, 0 to [`WHITE`].
pub(super) struct Noise {
    variances: Vec<f32>,
}

impl Noise {
    /// A camera's tone curve spreads the darker tones by a power of the brightness, and their noise
    /// with them: between the brightness of the dark samples and that of the others so does this.
    fn between(dark: Measured, bright: Measured) -> Self {
        let apart = (bright.brightness / dark.brightness).max(1.0).ln();
        let power = if apart > 0.0 { (dark.noise / bright.noise).ln() / apart } else { 0.0 };
        let variance = |brightness: i32| {
            let darkest = FARTHEST_DARK * dark.brightness;
            let brightness = (brightness as f32).clamp(darkest, bright.brightness.max(darkest));
            (bright.noise * (bright.brightness / brightness).powf(power)).powi(2)
        };
        Self { variances: (0..=WHITE).map(variance).collect() }
    }

    /// Of a sample that was so bright and is so bright now.
    pub fn variance(&self, was: i16, is: i16) -> f32 {
        self.variances[(was.min(is).max(0) as usize).min(self.variances.len() - 1)]
    }
}

/// What the noise of some samples is, one standard deviation, and how bright they are.
#[derive(Debug, Clone, Copy)]
struct Measured {
    brightness: f32,
    noise: f32,
}

/// The noise between two glances, from the bed's own differences.
pub(super) fn noise(raster: &Raster, gains: &Gains, earlier: &Glance, later: &Glance) -> Noise {
    let mut bright = Differences::new(raster.columns * raster.rows() / 12);
    let mut dark = Differences::new(0);
    for row in 1..raster.rows() {
        let (from, to) = raster.stretches[row];
        let line = row * raster.columns;
        for column in from..to {
            let (was, is) = (earlier.samples[line + column], later.samples[line + column]);
            let is_dark = was.min(is) < DARK;
            if !is_dark && (row % 5 != 1 || (column - from) % 3 != 0) {
                continue;
            }
            let brightness = f32::from(was.min(is));
            let was = gains.at(column / CELL, row / CELL) * (f32::from(was) + PEDESTAL);
            let size = (f32::from(is) + PEDESTAL - was).abs();
            if is_dark { &mut dark } else { &mut bright }.add(size, brightness);
        }
    }
    let many_are_dark = dark.sizes.len() >= LEAST_DARK;
    let dark = dark.measured();
    let bright = bright.measured().or(dark).unwrap_or(NO_NOISE);
    let bright = Measured { noise: bright.noise.max(LEAST_NOISE), ..bright };
    let dark = dark.filter(|_| many_are_dark).map_or(bright, |dark| Measured {
        noise: dark.noise.clamp(bright.noise, MOST_DARK * bright.noise),
        ..dark
    });
    Noise::between(dark, bright)
}

/// How far samples are from what they were.
struct Differences {
    sizes: Vec<f32>,
    brightness: f32,
}

impl Differences {
    fn new(about: usize) -> Self {
        Self { sizes: Vec::with_capacity(about), brightness: 0.0 }
    }

    fn add(&mut self, size: f32, brightness: f32) {
        self.sizes.push(size);
        self.brightness += brightness;
    }

    fn measured(mut self) -> Option<Measured> {
        let brightness = (self.brightness / self.sizes.len() as f32).max(1.0);
        spread(&mut self.sizes).map(|noise| Measured { brightness, noise })
    }
}

/// One standard deviation of normal errors of these sizes. Many are nought in a compressed film, so
/// that their middle tells too little: it is taken farther out.
fn spread(sizes: &mut [f32]) -> Option<f32> {
    let at = sizes.len() * 4 / 5;
    (at < sizes.len()).then(|| *sizes.select_nth_unstable_by(at, f32::total_cmp).1 / FOUR_FIFTHS)
}

/// Four fifths of normal errors are smaller than this many standard deviations.
const FOUR_FIFTHS: f32 = 1.2816;
