//! The cushion noses in a frame: points on them, to a fraction of a pixel.
//!
//! Input: a frame, a camera that is nearly right, the table. Output: sightings for the bundle, in
//! pixels. Method: at stations along each nose a profile is taken at right angles to it. A first
//! look takes the nose where the logarithmic brightness falls most steeply, from the lit top of
//! the cushion to what lies beneath. A close look (`profile`) fits what is there: the top, the
//! cushion's undercut face where the camera sees it, and the cloth in its shadow. Not modelled:
//! the roundness of the nose, some tenths of a millimetre.

use super::bundle::{FixedCoordinate, Sighting};
use super::pixels::{brightness, colour_at};
use super::profile::{self, Expected};
use crate::camera::{Camera, PixelPoint};
use crate::table::{TablePoint, TableSize};
use image::RgbImage;

/// Distance between stations along a nose.
const STATION_MM: f64 = 14.0;
/// The same for the close look, where each station averages over 18 mm of the nose.
const CLOSE_STATION_MM: f64 = 24.0;
/// How far the foot of the cushion's face lies behind the nose.
const UNDERCUT_MM: f64 = 18.0;
/// Stations on one nose share most of their error (the shape of the cushion and its shadow), so
/// each tells less than its own scatter says.
const SHARED_ERROR: f64 = 3.5;
/// Noses end about this far from the corner points and the middles of the long rails.
const END_MM: f64 = 95.0;
/// Step of a profile, in pixels.
const STEP_PX: f64 = 0.4;
/// Spread of the smoothing before the slope is taken, in pixels.
const SMOOTH_PX: f64 = 1.1;
/// A longer profile comes of a camera that is far off.
const MOST_PROFILE_PX: f64 = 400.0;
/// Least fall of logarithmic brightness to the pixel that counts as a nose.
const LEAST_FALL: f32 = 0.010;

/// One of the six cushions' noses: a stretch of a straight line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Nose {
    pub line: FixedCoordinate,
    /// From and to along the line's own direction, in millimetres.
    pub from_mm: f64,
    pub to_mm: f64,
    /// Sign of the direction into the table.
    inward: f64,
}

impl Nose {
    /// The six noses of a table: y = 0 in two, x = L, y = W in two, x = 0.
    pub fn all(table: &TableSize) -> [Self; 6] {
        let (l, w) = (table.length_mm, table.width_mm);
        let nose = |line, from_mm: f64, to_mm: f64, inward| Self {
            line,
            from_mm: from_mm + END_MM,
            to_mm: to_mm - END_MM,
            inward,
        };
        [
            nose(FixedCoordinate::Y(0.0), 0.0, l / 2.0, 1.0),
            nose(FixedCoordinate::Y(0.0), l / 2.0, l, 1.0),
            nose(FixedCoordinate::X(l), 0.0, w, -1.0),
            nose(FixedCoordinate::Y(w), l / 2.0, l, -1.0),
            nose(FixedCoordinate::Y(w), 0.0, l / 2.0, -1.0),
            nose(FixedCoordinate::X(0.0), 0.0, w, 1.0),
        ]
    }

    /// The place `along_mm` on the line's direction and `inside_mm` from it into the table.
    pub fn place(&self, along_mm: f64, inside_mm: f64) -> TablePoint {
        match self.line {
            FixedCoordinate::X(x_mm) => TablePoint::new(x_mm + self.inward * inside_mm, along_mm),
            FixedCoordinate::Y(y_mm) => TablePoint::new(along_mm, y_mm + self.inward * inside_mm),
        }
    }

    /// Stations along the nose.
    pub fn stations(&self, spacing_mm: f64) -> impl Iterator<Item = f64> {
        let count = ((self.to_mm - self.from_mm) / spacing_mm).floor().max(1.0) as usize;
        let (from_mm, step_mm) = (self.from_mm, (self.to_mm - self.from_mm) / count as f64);
        (0..=count).map(move |i| from_mm + i as f64 * step_mm)
    }
}

/// What was seen of the noses.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    pub sightings: Vec<Sighting>,
    /// For each nose, the part of its stations where an edge was seen.
    pub coverage: [f64; 6],
}

/// Fits each nose's profile within `reach_mm` of where the camera has it.
pub(super) fn look_closely(
    frame: &RgbImage,
    camera: &Camera,
    table: &TableSize,
    reach_mm: f64,
) -> Seen {
    let z_mm = table.nose_height_mm();
    let mut sightings = Vec::new();
    let mut coverage = [0.0; 6];
    for (nose, covered) in Nose::all(table).iter().zip(&mut coverage) {
        let (mut stations, mut seen) = (0.0, 0.0);
        for along_mm in nose.stations(CLOSE_STATION_MM) {
            stations += 1.0;
            if let Some((at, sigma_px)) =
                close_edge_at(frame, camera, nose, along_mm, (z_mm, reach_mm))
            {
                sightings.push(Sighting::new(at, nose.line, z_mm, sigma_px));
                seen += 1.0;
            }
        }
        *covered = seen / f64::max(stations, 1.0);
    }
    Seen { sightings, coverage }
}

/// The nose at one station by the fit of its profile, and the fit's standard deviation.
fn close_edge_at(
    frame: &RgbImage,
    camera: &Camera,
    nose: &Nose,
    along_mm: f64,
    (z_mm, reach_mm): (f64, f64),
) -> Option<(PixelPoint, f64)> {
    let here = camera.project(nose.place(along_mm, 0.0).at_height(z_mm))?;
    let inside = camera.project(nose.place(along_mm, 10.0).at_height(z_mm))?;
    let foot = camera.project(nose.place(along_mm, -UNDERCUT_MM).at_height(0.0))?;
    let aside = camera.project(nose.place(along_mm + 1.0, 0.0).at_height(z_mm))?;
    let (dx, dy) = (inside.x_px - here.x_px, inside.y_px - here.y_px);
    let (ax, ay) = (aside.x_px - here.x_px, aside.y_px - here.y_px);
    // At right angles to the nose's picture, into the table.
    let along_px = ax.hypot(ay);
    let (mut ux, mut uy) = (-ay / along_px, ax / along_px);
    if ux * dx + uy * dy < 0.0 {
        (ux, uy) = (-ux, -uy);
    }
    let px_per_mm = (ux * dx + uy * dy) / 10.0;
    let face_px = ux * (foot.x_px - here.x_px) + uy * (foot.y_px - here.y_px);
    let reach_px = (reach_mm * px_per_mm).clamp(1.5, 12.0);
    let expected = Expected { face_px, reach_px, px_per_mm };
    let (first, last) = expected.span();
    let mut samples = Vec::with_capacity((last - first) as usize + 1);
    for i in first..=last {
        let offset_px = i as f64 * profile::STEP_PX;
        let mut sum = [0.0; 3];
        for shift_mm in [-9.0, -6.0, -3.0, 0.0, 3.0, 6.0, 9.0] {
            let at = PixelPoint::new(
                here.x_px + ux * offset_px + shift_mm * ax,
                here.y_px + uy * offset_px + shift_mm * ay,
            );
            let colour = colour_at(frame, at)?;
            for (total, value) in sum.iter_mut().zip(colour) {
                *total += (value + 6.0).ln();
            }
        }
        samples.push(sum.map(|total| f64::from(total) / 7.0));
    }
    let edge = profile::locate(&samples, &expected)?;
    let at = PixelPoint::new(here.x_px + ux * edge.offset_px, here.y_px + uy * edge.offset_px);
    Some((at, SHARED_ERROR * edge.sigma_px))
}

/// Looks for each nose within `reach_mm` of where the camera has it.
pub(super) fn look(frame: &RgbImage, camera: &Camera, table: &TableSize, reach_mm: f64) -> Seen {
    let z_mm = table.nose_height_mm();
    let mut sightings = Vec::new();
    let mut coverage = [0.0; 6];
    for (nose, covered) in Nose::all(table).iter().zip(&mut coverage) {
        let (mut stations, mut seen) = (0.0, 0.0);
        for along_mm in nose.stations(STATION_MM) {
            stations += 1.0;
            if let Some((at, fall)) = edge_at(frame, camera, nose, along_mm, (z_mm, reach_mm)) {
                // A fall of 0.1 to the pixel is clear; a faint one is spread by noise.
                let sigma_px = 0.25 + 0.012 / f64::from(fall);
                sightings.push(Sighting::new(at, nose.line, z_mm, sigma_px));
                seen += 1.0;
            }
        }
        *covered = seen / f64::max(stations, 1.0);
    }
    Seen { sightings, coverage }
}

/// The steepest fall across a nose at one station, and how steep.
fn edge_at(
    frame: &RgbImage,
    camera: &Camera,
    nose: &Nose,
    along_mm: f64,
    (z_mm, reach_mm): (f64, f64),
) -> Option<(PixelPoint, f32)> {
    let outer = camera.project(nose.place(along_mm, -reach_mm).at_height(z_mm))?;
    let inner = camera.project(nose.place(along_mm, reach_mm).at_height(z_mm))?;
    let aside = camera.project(nose.place(along_mm + 4.0, -reach_mm).at_height(z_mm))?;
    let length_px = outer.distance_px(inner);
    if !(1.0..=MOST_PROFILE_PX).contains(&length_px) {
        return None;
    }
    let margin = (3.0 * SMOOTH_PX / STEP_PX).ceil() as i64;
    let half = ((length_px / 2.0) / STEP_PX).ceil() as i64;
    let count = half + margin;
    let middle = PixelPoint::new((outer.x_px + inner.x_px) / 2.0, (outer.y_px + inner.y_px) / 2.0);
    let (ux, uy) = ((inner.x_px - outer.x_px) / length_px, (inner.y_px - outer.y_px) / length_px);
    let (ax, ay) = (aside.x_px - outer.x_px, aside.y_px - outer.y_px);
    let mut profile = Vec::with_capacity(2 * count as usize + 1);
    for i in -count..=count {
        let offset_px = i as f64 * STEP_PX;
        let (x, y) = (middle.x_px + ux * offset_px, middle.y_px + uy * offset_px);
        let mut sum = 0.0;
        for shift in [-1.0, 0.0, 1.0] {
            let at = PixelPoint::new(x + shift * ax, y + shift * ay);
            sum += (brightness(colour_at(frame, at)?) + 6.0).ln();
        }
        profile.push(sum / 3.0);
    }
    let slope = smoothed_slope(&profile);
    let inside = margin as usize..profile.len() - margin as usize;
    let (best, fall) = inside
        .clone()
        .map(|i| (i, -slope[i]))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, fall)| *fall > LEAST_FALL)?;
    if best == inside.start || best + 1 == inside.end {
        return None;
    }
    let (before, after) = (-slope[best - 1], -slope[best + 1]);
    let curve = before - 2.0 * fall + after;
    let shift = if curve < 0.0 { 0.5 * (before - after) / curve } else { 0.0 };
    let offset_px = (best as f64 - count as f64 + f64::from(shift)) * STEP_PX;
    Some((PixelPoint::new(middle.x_px + ux * offset_px, middle.y_px + uy * offset_px), fall))
}

/// Slope to the pixel, of a profile smoothed by a Gaussian.
fn smoothed_slope(profile: &[f32]) -> Vec<f32> {
    let sigma = (SMOOTH_PX / STEP_PX) as f32;
    let reach = (3.0 * sigma).ceil() as usize;
    let mut kernel: Vec<f32> = (0..=2 * reach)
        .map(|i| {
            let t = i as f32 - reach as f32;
            t * (-0.5 * t * t / (sigma * sigma)).exp()
        })
        .collect();
    let norm: f32 =
        kernel.iter().enumerate().map(|(i, k)| k * (i as f32 - reach as f32)).sum::<f32>();
    kernel.iter_mut().for_each(|k| *k /= norm * STEP_PX as f32);
    let mut slope = vec![0.0; profile.len()];
    for i in reach..profile.len().saturating_sub(reach) {
        slope[i] = kernel.iter().zip(&profile[i - reach..]).map(|(k, p)| k * p).sum();
    }
    slope
}
