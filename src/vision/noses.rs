//! The cushion noses in a frame: points on them, to a fraction of a pixel.
//!
//! Input: a frame, a camera that is nearly right, the table. Output: sightings for the bundle, in
//! pixels. Method: at stations along each nose a profile is taken at right angles to it. A first
//! look takes the nose where the logarithmic brightness falls most steeply, from the lit top of
//! the cushion to what lies beneath. A close look (`profile`) fits what is there: the top, the
//! cushion's undercut face where the camera sees it, and the cloth in its shadow. Not modelled:
//! the roundness of the nose, some tenths of a millimetre.

use super::bundle::{Border, FixedCoordinate, Sighting};
use super::pixels::colour_at;
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
/// Least fall of logarithmic brightness to the pixel that counts as a nose.
const LEAST_FALL: f64 = 0.012;
/// Least change of logarithmic colour to the pixel that counts as a cushion's border.
const LEAST_BORDER: f64 = 0.03;

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
    survey(table, CLOSE_STATION_MM, |nose, along_mm| {
        let (at, sigma_px) = close_edge_at(frame, camera, nose, along_mm, (z_mm, reach_mm))?;
        Some(Sighting::new(at, nose.line, z_mm, SHARED_ERROR * sigma_px))
    })
}

/// The nose at one station by the fit of its profile, and the fit's standard deviation.
fn close_edge_at(
    frame: &RgbImage,
    camera: &Camera,
    nose: &Nose,
    along_mm: f64,
    (z_mm, reach_mm): (f64, f64),
) -> Option<(PixelPoint, f64)> {
    let across = Across::at(camera, nose, along_mm, (0.0, z_mm))?;
    let foot = camera.project(nose.place(along_mm, -UNDERCUT_MM).at_height(0.0))?;
    let reach_px = (reach_mm * across.px_per_mm).clamp(1.5, 12.0);
    let face_px = across.offset_px(foot);
    let expected = Expected { face_px, reach_px, px_per_mm: across.px_per_mm };
    let samples = across.samples(frame, expected.span(), profile::STEP_PX)?;
    let edge = profile::locate(&samples, &expected)?;
    Some((across.point(edge.offset_px, 0.0), edge.sigma_px))
}

/// A place on a nose where it is looked at again and again.
pub(super) struct Station {
    /// Where the camera has the nose.
    pub here: PixelPoint,
    /// Unit vector into the table, at right angles to the nose's picture.
    pub inward: [f64; 2],
    /// How far inward of that the nose is seen; none where it is not.
    pub offset_px: Option<f64>,
}

/// Looks closely at a few places of each nose.
pub(super) fn check(
    frame: &RgbImage,
    (camera, table): (&Camera, &TableSize),
    (spacing_mm, reach_mm): (f64, f64),
) -> Vec<Station> {
    let z_mm = table.nose_height_mm();
    let mut stations = Vec::new();
    for nose in Nose::all(table) {
        for along_mm in nose.stations(spacing_mm) {
            let Some(across) = Across::at(camera, &nose, along_mm, (0.0, z_mm)) else { continue };
            let seen = close_edge_at(frame, camera, &nose, along_mm, (z_mm, reach_mm));
            let offset_px = seen.map(|(at, _)| across.offset_px(at));
            stations.push(Station { here: across.here, inward: across.inward, offset_px });
        }
    }
    stations
}

/// Looks for the border between each cushion's cloth and the rail within `reach_mm` of
/// where it is expected: the steepest change of colour, whichever way it goes.
pub(super) fn look_borders(
    frame: &RgbImage,
    camera: &Camera,
    table: &TableSize,
    border: Border,
    reach_mm: f64,
) -> Seen {
    let z_mm = table.nose_height_mm();
    survey(table, CLOSE_STATION_MM, |nose, along_mm| {
        let lifted_mm = z_mm + border.above_mm;
        let across = Across::at(camera, nose, along_mm, (-border.behind_mm, lifted_mm))?;
        let reach_px = (reach_mm * across.px_per_mm).clamp(2.0, 24.0);
        let last = (reach_px / profile::STEP_PX).ceil() as i32 + profile::SLOPE_REACH;
        let samples = across.samples(frame, (-last, last), profile::STEP_PX)?;
        let change: Vec<f64> = profile::smoothed_slope(&samples)
            .iter()
            .map(|s| s.iter().map(|c| c * c).sum::<f64>().sqrt())
            .collect();
        let (offset, height) = peak(&change).filter(|(_, height)| *height > LEAST_BORDER)?;
        let offset_px = (offset - f64::from(last)) * profile::STEP_PX;
        let sigma_px = SHARED_ERROR * (0.2 + 0.01 / height);
        let at = across.point(offset_px, 0.0);
        Some(Sighting::behind(at, nose.line, z_mm, sigma_px))
    })
}

/// The highest inner peak of a curve, by a parabola: where, in samples, and how high.
fn peak(curve: &[f64]) -> Option<(f64, f64)> {
    let best = (1..curve.len().saturating_sub(1)).max_by(|a, b| curve[*a].total_cmp(&curve[*b]))?;
    let (before, here, after) = (curve[best - 1], curve[best], curve[best + 1]);
    let bend = before - 2.0 * here + after;
    (before <= here && after <= here && bend < 0.0)
        .then(|| (best as f64 + 0.5 * (before - after) / bend, here))
}

/// A line across a nose in the picture.
struct Across {
    here: PixelPoint,
    /// Unit vector into the table, at right angles to the nose's picture.
    inward: [f64; 2],
    /// The nose's own direction, for a millimetre.
    along: [f64; 2],
    px_per_mm: f64,
}

impl Across {
    /// Across the line `inside_mm` from the nose, at a height.
    fn at(
        camera: &Camera,
        nose: &Nose,
        along_mm: f64,
        (inside_mm, z_mm): (f64, f64),
    ) -> Option<Self> {
        let here = camera.project(nose.place(along_mm, inside_mm).at_height(z_mm))?;
        let inside = camera.project(nose.place(along_mm, inside_mm + 10.0).at_height(z_mm))?;
        let aside = camera.project(nose.place(along_mm + 1.0, inside_mm).at_height(z_mm))?;
        let (dx, dy) = (inside.x_px - here.x_px, inside.y_px - here.y_px);
        let along = [aside.x_px - here.x_px, aside.y_px - here.y_px];
        let along_px = along[0].hypot(along[1]);
        let [mut ux, mut uy] = [-along[1] / along_px, along[0] / along_px];
        if ux * dx + uy * dy < 0.0 {
            (ux, uy) = (-ux, -uy);
        }
        let px_per_mm = (ux * dx + uy * dy) / 10.0;
        (0.02..20.0).contains(&px_per_mm).then_some(Self {
            here,
            inward: [ux, uy],
            along,
            px_per_mm,
        })
    }

    fn point(&self, offset_px: f64, along_mm: f64) -> PixelPoint {
        PixelPoint::new(
            self.here.x_px + self.inward[0] * offset_px + self.along[0] * along_mm,
            self.here.y_px + self.inward[1] * offset_px + self.along[1] * along_mm,
        )
    }

    fn offset_px(&self, point: PixelPoint) -> f64 {
        self.inward[0] * (point.x_px - self.here.x_px)
            + self.inward[1] * (point.y_px - self.here.y_px)
    }

    /// Logarithmic colours from one step to another, averaged along the nose.
    fn samples(
        &self,
        frame: &RgbImage,
        (first, last): (i32, i32),
        step_px: f64,
    ) -> Option<Vec<[f64; 3]>> {
        const AVERAGED_MM: [f64; 7] = [-9.0, -6.0, -3.0, 0.0, 3.0, 6.0, 9.0];
        (first..=last)
            .map(|i| {
                let mut sum = [0.0; 3];
                for along_mm in AVERAGED_MM {
                    let colour = colour_at(frame, self.point(f64::from(i) * step_px, along_mm))?;
                    for (total, value) in sum.iter_mut().zip(colour) {
                        *total += (value + 6.0).ln();
                    }
                }
                Some(sum.map(|total| f64::from(total) / AVERAGED_MM.len() as f64))
            })
            .collect()
    }
}

/// Goes along every nose, station by station, and gathers what is seen.
fn survey(
    table: &TableSize,
    spacing_mm: f64,
    mut see: impl FnMut(&Nose, f64) -> Option<Sighting>,
) -> Seen {
    let mut sightings = Vec::new();
    let mut coverage = [0.0; 6];
    for (nose, covered) in Nose::all(table).iter().zip(&mut coverage) {
        let (mut stations, mut seen) = (0.0, 0.0);
        for along_mm in nose.stations(spacing_mm) {
            stations += 1.0;
            if let Some(sighting) = see(nose, along_mm) {
                sightings.push(sighting);
                seen += 1.0;
            }
        }
        *covered = seen / f64::max(stations, 1.0);
    }
    Seen { sightings, coverage }
}

/// Looks for each nose within `reach_mm` of where the camera has it: the steepest fall.
pub(super) fn look(frame: &RgbImage, camera: &Camera, table: &TableSize, reach_mm: f64) -> Seen {
    let z_mm = table.nose_height_mm();
    survey(table, STATION_MM, |nose, along_mm| {
        let across = Across::at(camera, nose, along_mm, (0.0, z_mm))?;
        let reach_px = (reach_mm * across.px_per_mm).clamp(2.0, 40.0);
        let last = (reach_px / profile::STEP_PX).ceil() as i32 + profile::SLOPE_REACH;
        let samples = across.samples(frame, (-last, last), profile::STEP_PX)?;
        let fall: Vec<f64> = profile::smoothed_slope(&samples)
            .iter()
            .map(|s| -s.iter().sum::<f64>() / 3.0)
            .collect();
        let (offset, height) = peak(&fall).filter(|(_, height)| *height > LEAST_FALL)?;
        let offset_px = (offset - f64::from(last)) * profile::STEP_PX;
        // The steepest fall may be the end of the cushion's face, some millimetres inside.
        let sigma_px = 2.0 + 0.05 / height;
        Some(Sighting::new(across.point(offset_px, 0.0), nose.line, z_mm, sigma_px))
    })
}
