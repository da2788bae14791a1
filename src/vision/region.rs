//! Regions of a frame that could be the cloth: the first, coarse look for a table.
//!
//! Input: an upright RGB frame. Output: candidate masks on a picture reduced to some 480 pixels on
//! its longer side. Method: the cloth is a large region of one colour under uneven light, so
//! regions are grown in two independent ways: where the logarithmic colour gradient is low
//! (survives any light that changes smoothly) and where the chromaticity is near one of the
//! frame's commonest (survives weak edges). Each candidate is only a proposal: what is a table is
//! decided by fitting one. Not modelled: anything about what a table looks like.

use image::RgbImage;

/// Longer side of the reduced picture, in pixels.
const REDUCED_SIDE_PX: u32 = 480;
/// A region under this part of the picture is no table that could be read.
const LEAST_PART: f64 = 0.05;
/// Gradient bounds (logarithmic colour per reduced pixel) tried for growing.
const GRADIENT_BOUNDS: [f32; 3] = [0.03, 0.055, 0.09];
/// Chromaticity reach tried around a common colour, in logarithmic ratios.
const CHROMA_REACHES: [f32; 2] = [0.09, 0.17];
/// How many of the commonest chromaticities are tried.
const COMMON_CHROMAS: usize = 4;

/// A frame reduced in size, as linear-ish logarithms of its channels.
pub(super) struct Reduced {
    pub width: usize,
    pub height: usize,
    /// Frame pixels to one reduced pixel.
    pub step: f64,
    log_rgb: Vec<[f32; 3]>,
}

/// Whether the grain of a dim picture is left in it. It parts a cloth in two where light is low;
/// smoothed away, so is the faint edge of a cushion.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Grain {
    Kept,
    Smoothed,
}

/// A candidate for the cloth: a mask over the reduced picture, holes filled.
pub(super) struct Region {
    pub mask: Vec<bool>,
    pub area: usize,
}

impl Reduced {
    /// Averages blocks of the frame's pixels.
    pub fn of(frame: &RgbImage, grain: Grain) -> Self {
        let step = frame.width().max(frame.height()).div_ceil(REDUCED_SIDE_PX).max(1) as usize;
        let (width, height) = (frame.width() as usize / step, frame.height() as usize / step);
        let stride = frame.width() as usize * 3;
        let raw = frame.as_raw();
        let mut log_rgb = Vec::with_capacity(width * height);
        for y in 0..height {
            for x in 0..width {
                let mut sum = [0_u32; 3];
                for row in 0..step {
                    let start = (y * step + row) * stride + x * step * 3;
                    for pixel in raw[start..start + step * 3].chunks_exact(3) {
                        for (total, value) in sum.iter_mut().zip(pixel) {
                            *total += u32::from(*value);
                        }
                    }
                }
                let scale = 1.0 / (step * step) as f32;
                log_rgb.push(sum.map(|total| (total as f32 * scale + 10.0).ln()));
            }
        }
        let mut reduced = Self { width, height, step: step as f64, log_rgb };
        if grain == Grain::Smoothed {
            reduced.smooth();
        }
        reduced
    }

    /// Each pixel's logarithmic brightness.
    pub fn light(&self) -> Vec<f32> {
        self.log_rgb.iter().map(|colour| colour.iter().sum::<f32>() / 3.0).collect()
    }

    /// Takes the mean over each pixel's neighbours; the outermost pixels stay.
    fn smooth(&mut self) {
        let (w, h) = (self.width, self.height);
        let grainy = self.log_rgb.clone();
        for y in 1..h.saturating_sub(1) {
            for x in 1..w.saturating_sub(1) {
                let around = [y - 1, y, y + 1].map(|y| &grainy[y * w + x - 1..=y * w + x + 1]);
                self.log_rgb[y * w + x] = [0, 1, 2].map(|channel| {
                    around.iter().copied().flatten().map(|pixel| pixel[channel]).sum::<f32>() / 9.0
                });
            }
        }
    }

    /// All candidates, largest first within each way of growing.
    pub fn regions(&self) -> Vec<Region> {
        let mut regions = Vec::new();
        let gradient = self.gradient();
        for bound in GRADIENT_BOUNDS {
            let smooth: Vec<bool> = gradient.iter().map(|g| *g < bound).collect();
            self.collect_large(&smooth, &mut regions);
        }
        for centre in self.common_chromas() {
            for reach in CHROMA_REACHES {
                let near: Vec<bool> = self
                    .log_rgb
                    .iter()
                    .map(|c| {
                        let [u, v] = chroma(c);
                        (u - centre[0]).hypot(v - centre[1]) < reach
                    })
                    .collect();
                self.collect_large(&near, &mut regions);
            }
        }
        regions
    }

    fn gradient(&self) -> Vec<f32> {
        let (w, h) = (self.width, self.height);
        let mut gradient = vec![f32::INFINITY; w * h];
        for y in 1..h.saturating_sub(1) {
            for x in 1..w.saturating_sub(1) {
                let at = y * w + x;
                let mut sum = 0.0;
                for channel in 0..3 {
                    let dx = self.log_rgb[at + 1][channel] - self.log_rgb[at - 1][channel];
                    let dy = self.log_rgb[at + w][channel] - self.log_rgb[at - w][channel];
                    sum += dx * dx + dy * dy;
                }
                gradient[at] = 0.5 * sum.sqrt();
            }
        }
        gradient
    }

    /// Peaks of the chromaticity histogram, each suppressing its surroundings.
    fn common_chromas(&self) -> Vec<[f32; 2]> {
        const BINS: usize = 96;
        const BIN: f32 = 0.05;
        let bin = |value: f32| ((value / BIN + BINS as f32 / 2.0).max(0.0) as usize).min(BINS - 1);
        let mut counts = vec![0.0_f32; BINS * BINS];
        for c in &self.log_rgb {
            let [u, v] = chroma(c);
            counts[bin(v) * BINS + bin(u)] += 1.0;
        }
        let mut peaks = Vec::new();
        for _ in 0..COMMON_CHROMAS {
            let mut best = (0.0, 1, 1);
            for y in 1..BINS - 1 {
                for x in 1..BINS - 1 {
                    let sum: f32 = (y - 1..=y + 1)
                        .flat_map(|yy| (x - 1..=x + 1).map(move |xx| yy * BINS + xx))
                        .map(|at| counts[at])
                        .sum();
                    if sum > best.0 {
                        best = (sum, x, y);
                    }
                }
            }
            let (sum, x, y) = best;
            if f64::from(sum) < LEAST_PART * self.log_rgb.len() as f64 {
                break;
            }
            let value = |index: usize| (index as f32 + 0.5 - BINS as f32 / 2.0) * BIN;
            peaks.push([value(x), value(y)]);
            for yy in y.saturating_sub(2)..(y + 3).min(BINS) {
                for xx in x.saturating_sub(2)..(x + 3).min(BINS) {
                    counts[yy * BINS + xx] = 0.0;
                }
            }
        }
        peaks
    }

    /// Connected parts of a mask that are large enough, opened against thin leaks, holes filled.
    fn collect_large(&self, mask: &[bool], regions: &mut Vec<Region>) {
        let least = (LEAST_PART * (self.width * self.height) as f64) as usize;
        let opened = self.grown(&self.shrunk(mask, 1), 1);
        let (labels, areas) = self.labelled(&opened);
        for (label, area) in areas.iter().enumerate().skip(1) {
            if *area < least {
                continue;
            }
            let part: Vec<bool> = labels.iter().map(|l| *l as usize == label).collect();
            // Once more against wider leaks; a shape that falls apart keeps its largest piece.
            let (labels, areas) = self.labelled(&self.shrunk(&part, 3));
            let Some((largest, _)) = areas.iter().enumerate().skip(1).max_by_key(|(_, a)| **a)
            else {
                continue;
            };
            let core: Vec<bool> = labels.iter().map(|l| *l as usize == largest).collect();
            let mut whole = self.grown(&core, 3);
            for (keep, part) in whole.iter_mut().zip(&part) {
                *keep &= *part;
            }
            let mask = self.filled(&whole);
            let area = mask.iter().filter(|m| **m).count();
            if area >= least {
                regions.push(Region { mask, area });
            }
        }
    }

    fn shrunk(&self, mask: &[bool], times: usize) -> Vec<bool> {
        self.eroded(mask, times, true)
    }

    fn grown(&self, mask: &[bool], times: usize) -> Vec<bool> {
        let inverse: Vec<bool> = mask.iter().map(|m| !m).collect();
        self.eroded(&inverse, times, true).iter().map(|m| !m).collect()
    }

    fn eroded(&self, mask: &[bool], times: usize, outside: bool) -> Vec<bool> {
        let (w, h) = (self.width, self.height);
        let mut current = mask.to_vec();
        for _ in 0..times {
            let previous = current.clone();
            for y in 0..h {
                for x in 0..w {
                    let at = y * w + x;
                    current[at] = previous[at]
                        && (if x > 0 { previous[at - 1] } else { outside })
                        && (if x + 1 < w { previous[at + 1] } else { outside })
                        && (if y > 0 { previous[at - w] } else { outside })
                        && (if y + 1 < h { previous[at + w] } else { outside });
                }
            }
        }
        current
    }

    fn labelled(&self, mask: &[bool]) -> (Vec<u32>, Vec<usize>) {
        label(mask, (self.width, self.height))
    }

    /// The mask with every part that the picture's border does not reach filled in.
    fn filled(&self, mask: &[bool]) -> Vec<bool> {
        let (w, h) = (self.width, self.height);
        let inverse: Vec<bool> = mask.iter().map(|m| !m).collect();
        let (labels, areas) = self.labelled(&inverse);
        let mut touches = vec![false; areas.len()];
        for y in 0..h {
            for x in 0..w {
                if x == 0 || y == 0 || x + 1 == w || y + 1 == h {
                    touches[labels[y * w + x] as usize] = true;
                }
            }
        }
        labels.iter().map(|label| *label == 0 || !touches[*label as usize]).collect()
    }
}

/// Chromaticity: logarithmic ratios of red and blue to green.
fn chroma(log_rgb: &[f32; 3]) -> [f32; 2] {
    [log_rgb[0] - log_rgb[1], log_rgb[2] - log_rgb[1]]
}

/// Labels 1.. of the 4-connected parts of a mask of w × h cells, and their areas (index 0 unused).
pub(super) fn label(mask: &[bool], (w, h): (usize, usize)) -> (Vec<u32>, Vec<usize>) {
    let mut labels = vec![0_u32; w * h];
    let mut areas = vec![0];
    let mut open = Vec::new();
    for start in 0..w * h {
        if !mask[start] || labels[start] != 0 {
            continue;
        }
        let label = areas.len() as u32;
        let mut area = 0;
        labels[start] = label;
        open.push(start);
        while let Some(at) = open.pop() {
            area += 1;
            let (x, y) = (at % w, at / w);
            let mut visit = |next: usize| {
                if mask[next] && labels[next] == 0 {
                    labels[next] = label;
                    open.push(next);
                }
            };
            if x > 0 {
                visit(at - 1);
            }
            if x + 1 < w {
                visit(at + 1);
            }
            if y > 0 {
                visit(at - w);
            }
            if y + 1 < h {
                visit(at + w);
            }
        }
        areas.push(area);
    }
    (labels, areas)
}
