//! From light to 8-bit pictures, the way `Film` does it, for many frames of one camera.
//!
//! What does not change from frame to frame is kept: the blurred light, and the developed picture
//! without its noise. Noise is a stored field, laid on at another place for each frame. The result
//! follows `Film::develop` to about a grey level, noise apart.

use super::view::{Area, V3};
use crate::staged::colour::encoded;
use crate::staged::looks::Film;
use crate::staged::random::Random;
use image::RgbImage;

/// What the camera's automatics and the lamps' mains do to a whole picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    /// Times the film's own exposure.
    pub gain: f64,
    /// Times the film's own balance of red, green, blue.
    pub balance: [f64; 3],
}

impl Exposure {
    pub const PLAIN: Self = Self { gain: 1.0, balance: [1.0; 3] };
}

/// A film that remembers.
#[derive(Debug)]
pub struct QuickFilm {
    film: Film,
    size: [usize; 2],
    weights: Vec<f32>,
    fall_off: Vec<f32>,
    blurred: Vec<V3>,
    /// Developed values of 8 bits with [`FINE`] steps each.
    clean: Vec<[u16; 3]>,
    /// The noise of each, in such steps for a unit of the noise field.
    grainy: Vec<[i16; 3]>,
    exposure: Option<Exposure>,
    tone: Vec<u16>,
    /// Noise by developed value, in steps for a unit of the noise field.
    grain: Vec<i16>,
    noise: Vec<[i8; 3]>,
    noise_size: [usize; 2],
}

const FINE: u16 = 128;
/// The tone table covers light up to here.
const TONE_TOP: f32 = 2.0;
const TONE_STEPS: usize = 1 << 15;
/// Steps of the noise field for one standard deviation.
const NOISE_UNIT: f32 = 32.0;
/// The noise field is larger than the picture by this much, so that it can be laid on elsewhere.
const NOISE_SPARE: usize = 61;

impl QuickFilm {
    pub fn new(film: &Film, size: [usize; 2]) -> Self {
        let [width, height] = size;
        let count = width * height;
        let reach = (3.0 * film.blur_px).ceil() as i32;
        let weight = |k: i32| (-0.5 * (f64::from(k) / film.blur_px.max(1e-9)).powi(2)).exp() as f32;
        let weights: Vec<f32> = (-reach..=reach).map(weight).collect();
        let total: f32 = weights.iter().sum();
        let half_diagonal = (width as f64).hypot(height as f64) / 2.0;
        let fall_off = (0..count)
            .map(|index| {
                let x = ((index % width) as f64 + 0.5 - width as f64 / 2.0) / half_diagonal;
                let y = ((index / width) as f64 + 0.5 - height as f64 / 2.0) / half_diagonal;
                (1.0 - film.vignette * (x * x + y * y)) as f32
            })
            .collect();
        let noise_size = [width + NOISE_SPARE, height + NOISE_SPARE];
        Self {
            size,
            weights: weights.iter().map(|w| w / total).collect(),
            fall_off,
            blurred: vec![V3::zeros(); count],
            clean: vec![[0; 3]; count],
            grainy: vec![[0; 3]; count],
            exposure: None,
            tone: tone_table(film),
            grain: grain_table(film),
            noise: noise_field(film, noise_size),
            noise_size,
            film: film.clone(),
        }
    }

    /// Takes in the light of an area that has changed.
    pub fn expose(&mut self, light: &[V3], area: Area) {
        let [width, height] = self.size;
        let reach = self.weights.len() / 2;
        let column = |x: usize, k: usize| (x + k).saturating_sub(reach).min(width - 1);
        let row = |y: usize, k: usize| (y + k).saturating_sub(reach).min(height - 1);
        let wide = area.x[1] - area.x[0];
        let rows = area.y[1] - area.y[0] + 2 * reach;
        let mut across = vec![V3::zeros(); wide * rows];
        for j in 0..rows {
            let line = row(area.y[0], j) * width;
            for i in 0..wide {
                let mut sum = V3::zeros();
                for (k, weight) in self.weights.iter().enumerate() {
                    sum += light[line + column(area.x[0] + i, k)] * *weight;
                }
                across[j * wide + i] = sum;
            }
        }
        for y in area.y[0]..area.y[1] {
            for i in 0..wide {
                let mut sum = V3::zeros();
                for (k, weight) in self.weights.iter().enumerate() {
                    sum += across[(y - area.y[0] + k) * wide + i] * *weight;
                }
                self.blurred[y * width + area.x[0] + i] = sum;
            }
        }
        if let Some(exposure) = self.exposure {
            self.develop(area, &exposure);
        }
    }

    /// The picture: everything anew where the exposure has changed, then noise over it.
    pub fn picture(&mut self, exposure: Exposure, random: &mut Random) -> RgbImage {
        let [width, height] = self.size;
        if self.exposure != Some(exposure) {
            self.exposure = Some(exposure);
            self.develop(Area { x: [0, width], y: [0, height] }, &exposure);
        }
        let shift = [random.below(NOISE_SPARE), random.below(NOISE_SPARE)];
        let mut bytes = vec![0; width * height * 3];
        for (y, line) in bytes.chunks_exact_mut(3 * width).enumerate() {
            let from = (y + shift[1]) * self.noise_size[0] + shift[0];
            let here = y * width..(y + 1) * width;
            let noise = self.noise[from..from + width].as_flattened();
            let clean = self.clean[here.clone()].as_flattened();
            let grainy = self.grainy[here].as_flattened();
            for (((byte, value), grain), noise) in line.iter_mut().zip(clean).zip(grainy).zip(noise)
            {
                let noisy = i32::from(*value) + ((i32::from(*noise) * i32::from(*grain)) >> 5);
                *byte = ((noisy + i32::from(FINE) / 2) >> 7).clamp(0, 255) as u8;
            }
        }
        RgbImage::from_raw(self.size[0] as u32, self.size[1] as u32, bytes).unwrap_or_default()
    }

    fn develop(&mut self, area: Area, exposure: &Exposure) {
        let width = self.size[0];
        let film = &self.film;
        let gains = V3::new(
            (film.balance.x * exposure.balance[0]) as f32,
            (film.balance.y * exposure.balance[1]) as f32,
            (film.balance.z * exposure.balance[2]) as f32,
        ) * (film.exposure * exposure.gain) as f32;
        let veil = V3::repeat(film.veil as f32);
        let saturation = film.saturation as f32;
        for y in area.y[0]..area.y[1] {
            for index in y * width + area.x[0]..y * width + area.x[1] {
                let v = self.blurred[index].component_mul(&gains) * self.fall_off[index] + veil;
                let grey = 0.2126 * v.x + 0.7152 * v.y + 0.0722 * v.z;
                let vivid = v.map(|c| grey + (c - grey) * saturation);
                self.clean[index] = [vivid.x, vivid.y, vivid.z].map(|c| {
                    let step = (c.max(0.0) * (TONE_STEPS as f32 / TONE_TOP)) as usize;
                    self.tone[step.min(TONE_STEPS - 1)]
                });
                self.grainy[index] =
                    self.clean[index].map(|value| self.grain[usize::from(value / FINE).min(255)]);
            }
        }
    }
}

fn tone_table(film: &Film) -> Vec<u16> {
    (0..TONE_STEPS)
        .map(|step| {
            let light = (step as f64 + 0.5) * f64::from(TONE_TOP) / TONE_STEPS as f64;
            (encoded(film.pressed(light)) * 255.0 * f64::from(FINE)).round() as u16
        })
        .collect()
}

/// For each developed value the noise of its light, by the tone curve's slope there.
fn grain_table(film: &Film) -> Vec<i16> {
    let mut grain = vec![0; 256];
    let mut light: f64 = 0.0;
    while light < f64::from(TONE_TOP) {
        let value = encoded(film.pressed(light)) * 255.0;
        let slope = (encoded(film.pressed(light + 1e-4)) * 255.0 - value) / 1e-4;
        let sigma = (film.read_noise.powi(2) + film.shot_noise * light).sqrt();
        if let Some(slot) = grain.get_mut(value as usize) {
            *slot = (sigma * slope * f64::from(FINE)) as i16;
        }
        light += (light * 1e-3).max(2e-5);
    }
    grain
}

/// Unit noise as `Film` makes it, [`NOISE_UNIT`] steps a standard deviation.
fn noise_field(film: &Film, size: [usize; 2]) -> Vec<[i8; 3]> {
    if film.read_noise == 0.0 && film.shot_noise == 0.0 {
        return vec![[0; 3]; size[0] * size[1]];
    }
    let step = |v: f64| (v as f32 * NOISE_UNIT).round().clamp(-127.0, 127.0) as i8;
    film.noise_field(size).into_iter().map(|n| [step(n.x), step(n.y), step(n.z)]).collect()
}
