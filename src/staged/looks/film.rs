//! From light to an 8-bit picture: blur, vignetting, exposure, white balance, noise, tone curve.
//!
//! Blur and noise act on linear light, as in a sensor; the tone curve is the sRGB code with a
//! soft shoulder. Not modelled: demosaicing, chromatic aberration, rolling shutter. JPEG is left
//! to whoever stores the picture.

use super::{Cloth, Lighting};
use crate::staged::colour::{Colour, encoded, lamp_colour, luminance};
use crate::staged::random::Random;
use crate::table::TableSize;
use image::{Rgb, RgbImage};

/// How a camera turns light into a picture.
#[derive(Debug, Clone)]
pub struct Film {
    pub exposure: f64,
    /// Gains of red, green, blue.
    pub balance: Colour,
    pub saturation: f64,
    /// Loss of light in the corners, 0 to 1.
    pub vignette: f64,
    /// Standard deviation of the blur of lens and defocus.
    pub blur_px: f64,
    /// Noise variance at no light, and its growth with light.
    pub read_noise: f64,
    pub shot_noise: f64,
    /// Light from which highlights are pressed together.
    pub shoulder: f64,
    /// Stray light in the lens, laid over everything.
    pub veil: f64,
    pub seed: u64,
}

impl Film {
    /// A random camera, its white balance mostly following the light's colour.
    pub fn random(
        random: &mut Random,
        lighting: &Lighting,
        cloth: &Cloth,
        table: &TableSize,
    ) -> Self {
        let follow = random.between(0.55, 1.05);
        let cast = lamp_colour(random.between(5600.0, 7600.0));
        let white = lighting.white();
        let white = white / luminance(white);
        let balance = white.map(|w| w.powf(-follow)).component_mul(&cast);
        // Automatic exposure lifts a dark cloth and holds a pale one back, in part.
        let cloth_luminance = luminance(cloth.colour).max(0.01);
        let wanted = random.between(0.75, 1.35) * (0.2 / cloth_luminance).powf(0.25);
        // Nobody hangs a camera that burns out every white ball near the window.
        let burnt_out = random.between(1.0, 1.6) / lighting.brightest(table);
        let grainy = random.unit().powi(2);
        Self {
            exposure: wanted.min(burnt_out),
            balance: balance / luminance(balance),
            saturation: random.between(0.82, 1.05),
            vignette: random.between(0.0, 0.5) * random.unit(),
            blur_px: random.between(0.35, 0.95),
            read_noise: random.between(0.0004, 0.0015) + 0.002 * grainy,
            shot_noise: 4e-6 + 8e-5 * grainy,
            shoulder: random.between(0.55, 0.85),
            veil: random.between(0.002, 0.02),
            seed: random.bits(),
        }
    }

    /// A faultless camera, for tests: no blur, no noise.
    pub fn clean() -> Self {
        Self {
            exposure: 0.8,
            balance: Colour::repeat(1.0),
            saturation: 1.0,
            vignette: 0.0,
            blur_px: 0.0,
            read_noise: 0.0,
            shot_noise: 0.0,
            shoulder: 0.8,
            veil: 0.0,
            seed: 0,
        }
    }

    /// Develops light, row by row from the top, into a picture.
    pub fn develop(&self, light: &[Colour], width_px: u32, height_px: u32) -> RgbImage {
        let size = [width_px as usize, height_px as usize];
        let blurred = blurred(light, size, self.blur_px);
        let noise = self.noise_field(size);
        let half_diagonal = f64::from(width_px).hypot(f64::from(height_px)) / 2.0;
        let middle = [f64::from(width_px) / 2.0, f64::from(height_px) / 2.0];
        RgbImage::from_fn(width_px, height_px, |i, j| {
            let index = j as usize * size[0] + i as usize;
            let seen = blurred.get(index).copied().unwrap_or_default();
            let grain = noise.get(index).copied().unwrap_or_default();
            let x = (f64::from(i) + 0.5 - middle[0]) / half_diagonal;
            let y = (f64::from(j) + 0.5 - middle[1]) / half_diagonal;
            let fall_off = 1.0 - self.vignette * (x * x + y * y);
            let exposed = seen.component_mul(&self.balance) * (self.exposure * fall_off);
            let noisy = exposed.zip_map(&grain, |v, n| {
                v + self.veil + n * (self.read_noise.powi(2) + self.shot_noise * v.max(0.0)).sqrt()
            });
            let grey = luminance(noisy);
            let vivid = noisy.map(|v| grey + (v - grey) * self.saturation);
            Rgb([vivid.x, vivid.y, vivid.z].map(|v| eight_bit(encoded(self.pressed(v)))))
        })
    }

    pub(in crate::staged) fn pressed(&self, light: f64) -> f64 {
        let (s, room) = (self.shoulder, 1.0 - self.shoulder);
        if light <= s { light.max(0.0) } else { s + room * (1.0 - (-(light - s) / room).exp()) }
    }

    /// Unit noise, a little smeared over neighbours as a camera's own processing does.
    pub(in crate::staged) fn noise_field(&self, size: [usize; 2]) -> Vec<Colour> {
        if self.read_noise == 0.0 && self.shot_noise == 0.0 {
            return vec![Colour::zeros(); size[0] * size[1]];
        }
        let mut random = Random::stream(self.seed, 0x006e_6f69_7365);
        let raw: Vec<Colour> = (0..size[0] * size[1])
            .map(|_| {
                // Sums of uniforms are normal enough and cheap.
                let mut draw = || {
                    let bits = random.bits();
                    let part = |shift: u32| ((bits >> shift) & 0xffff) as f64 / 65_536.0;
                    (part(0) + part(16) + part(32) + part(48) - 2.0) * 3.0_f64.sqrt()
                };
                let grey = draw();
                Colour::new(draw(), draw(), draw()) * 0.6 + Colour::repeat(grey * 0.8)
            })
            .collect();
        blurred(&raw, size, 0.5).into_iter().map(|n| n * 1.6).collect()
    }
}

fn eight_bit(value: f64) -> u8 {
    (value * 255.0).round().clamp(0.0, 255.0) as u8
}

/// Gaussian blur, one direction after the other; the border repeats.
fn blurred(light: &[Colour], size: [usize; 2], sigma_px: f64) -> Vec<Colour> {
    if sigma_px <= 0.0 {
        return light.to_vec();
    }
    let reach = (3.0 * sigma_px).ceil() as usize;
    let weights: Vec<f64> =
        (0..=reach).map(|k| (-0.5 * (k as f64 / sigma_px).powi(2)).exp()).collect();
    let total: f64 = 2.0 * weights.iter().sum::<f64>() - 1.0;
    let weights: Vec<f64> = weights.iter().map(|w| w / total).collect();
    let [width, height] = size;
    let rows = one_way(light, &weights, [width, height], [1, width]);
    one_way(&rows, &weights, [height, width], [width, 1])
}

/// Blurs lines of `count[0]` values `stride[0]` apart; there are `count[1]`, `stride[1]` apart.
fn one_way(
    light: &[Colour],
    weights: &[f64],
    count: [usize; 2],
    stride: [usize; 2],
) -> Vec<Colour> {
    let mut out = vec![Colour::zeros(); light.len()];
    for line in 0..count[1] {
        let start = line * stride[1];
        let value = |k: usize| light.get(start + k.min(count[0] - 1) * stride[0]).copied();
        for k in 0..count[0] {
            let mut sum = Colour::zeros();
            for (step, weight) in weights.iter().enumerate() {
                let after = value(k + step).unwrap_or_default();
                sum += after * *weight;
                if step > 0 {
                    sum += value(k.saturating_sub(step)).unwrap_or_default() * *weight;
                }
            }
            if let Some(slot) = out.get_mut(start + k * stride[0]) {
                *slot = sum;
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blur_keeps_light_and_place() {
        let size = [21, 15];
        let mut light = vec![Colour::zeros(); 21 * 15];
        light[7 * 21 + 10] = Colour::repeat(1.0);
        let out = blurred(&light, size, 0.9);
        let total: f64 = out.iter().map(|c| c.x).sum();
        let x: f64 = out.iter().enumerate().map(|(k, c)| c.x * (k % 21) as f64).sum();
        let y: f64 = out.iter().enumerate().map(|(k, c)| c.x * (k / 21) as f64).sum();
        assert!((total - 1.0).abs() < 1e-9 && (x - 10.0).abs() < 1e-9 && (y - 7.0).abs() < 1e-9);
    }

    #[test]
    fn noise_has_the_asked_for_size() {
        let mut film = Film::clean();
        film.read_noise = 0.01;
        film.seed = 5;
        let light = vec![Colour::repeat(0.25); 200 * 200];
        let picture = film.develop(&light, 200, 200);
        let values: Vec<f64> = picture.pixels().map(|p| f64::from(p.0[1])).collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64;
        // At light 0.2 the sRGB code rises by about 0.94 · 255 per unit of light.
        assert!((1.6..3.0).contains(&variance.sqrt()), "{}", variance.sqrt());
    }
}
