//! A glance: the bed of one frame, thinned out, for comparing frames cheaply.
//!
//! Input: an upright RGB frame of a calibrated camera. Output: brightness on a coarse raster of
//! the picture (some 600 samples along the bed), on the bed alone. Method: one pixel in so many is
//! taken in either direction, red, green and blue weighed 1:2:1; which samples lie on the bed is
//! worked out once for a camera, a stretch to each row, since a bed's picture is convex (to the
//! lens's bow). Nothing outside the noses is looked at: who stands beside the table is not seen.

use crate::camera::{Camera, PixelPoint, TableFromPicture};
use crate::table::{TablePoint, TableSize};
use image::RgbImage;

/// About so many samples lie along the bed's length.
const ALONG: f64 = 600.0;
/// Samples to a side of a cell, the smallest part of the raster that is told apart.
pub(super) const CELL: usize = 4;
/// What lies in a pocket or as near as this to its edge is not looked at: darkness is where a
/// camera's noise is worst, and of a ball that hangs there enough is seen beside it.
const POCKET_EDGE_MM: f64 = 20.0;
/// A pixel's weighed sum at full white.
pub(super) const WHITE: i32 = 1020;
/// A bed whose middle sample is darker than this tells nothing.
const DARK: i16 = (WHITE / 24) as i16;

/// Where the samples lie in frames of one camera.
pub(super) struct Raster {
    /// Pixels from one sample to the next.
    step: usize,
    /// The first sample's pixel.
    left: usize,
    top: usize,
    pub columns: usize,
    /// For each row the stretch of its samples that lies on the bed.
    pub stretches: Vec<(usize, usize)>,
    /// For each cell, row by row, whether it lies in a pocket.
    pub blind: Vec<bool>,
    /// For each cell whether all of it lies on the bed.
    whole: Vec<bool>,
    /// A ball's diameter, in cells.
    pub ball_cells: f64,
    table_from_picture: TableFromPicture,
    /// The height of the balls' centres.
    z_mm: f64,
}

/// A frame's samples, row by row; those off the bed are zero.
#[derive(Clone, PartialEq)]
pub(super) struct Glance {
    pub samples: Vec<i16>,
}

impl Raster {
    /// The raster for a camera over a table.
    pub fn new(camera: &Camera, table: &TableSize) -> Self {
        let (w, h) = (camera.lens.width_px as usize, camera.lens.height_px as usize);
        let z_mm = table.ball_radius_mm();
        let corners: Vec<PixelPoint> = outline(camera, table, z_mm);
        let range = |of: fn(&PixelPoint) -> f64, most: usize| {
            let (low, high) = corners
                .iter()
                .map(of)
                .fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(v), high.max(v)));
            let clamp = |v: f64| (v.max(0.0) as usize).min(most);
            (clamp(low.floor()), clamp(high.ceil()))
        };
        let ((left, right), (top, bottom)) = (range(|p| p.x_px, w), range(|p| p.y_px, h));
        let longest = (right - left).max(bottom - top);
        let step = ((longest as f64 / ALONG).round() as usize).max(1);
        let (columns, rows) = ((right - left).div_ceil(step), (bottom - top).div_ceil(step));
        let table_from_picture = camera.table_from_pictures();
        let place = |column: usize, row: usize, z_mm: f64| {
            let x_px = (left + column * step) as f64 + 0.5;
            let y_px = (top + row * step) as f64 + 0.5;
            table_from_picture.at(PixelPoint::new(x_px, y_px), z_mm)
        };
        let on_bed = |column: usize, row: usize| {
            place(column, row, z_mm).is_some_and(|place| {
                (0.0..table.length_mm).contains(&place.x_mm)
                    && (0.0..table.width_mm).contains(&place.y_mm)
            })
        };
        let stretches: Vec<(usize, usize)> = (0..rows)
            .map(|row| {
                let first = (0..columns).find(|column| on_bed(*column, row));
                let last = (0..columns).rev().find(|column| on_bed(*column, row));
                first.zip(last).map_or((0, 0), |(first, last)| (first, last + 1))
            })
            .collect();
        let in_pocket = |column: usize, row: usize| {
            place(column + CELL / 2, row + CELL / 2, 0.0)
                .is_some_and(|place| table.beyond_rim_mm(place) < POCKET_EDGE_MM)
        };
        let blind = cells(rows, columns).map(|(column, row)| in_pocket(column, row)).collect();
        let on_row = |row: usize, column: usize| {
            stretches.get(row).is_some_and(|(from, to)| (*from..*to).contains(&column))
        };
        let is_whole = |column: usize, row: usize| {
            (row..row + CELL).all(|row| on_row(row, column) && on_row(row, column + CELL - 1))
        };
        let whole = cells(rows, columns).map(|(column, row)| is_whole(column, row)).collect();
        let longest = (longest / step / CELL) as f64;
        let ball_cells = table.ball_diameter_mm / table.length_mm * longest;
        Self {
            step,
            left,
            top,
            columns,
            stretches,
            blind,
            whole,
            ball_cells,
            table_from_picture,
            z_mm,
        }
    }

    /// The place of a ball whose centre is seen so many samples from the first column and row.
    pub fn ball_at(&self, column: f64, row: f64) -> Option<TablePoint> {
        let x_px = self.left as f64 + column * self.step as f64 + 0.5;
        let y_px = self.top as f64 + row * self.step as f64 + 0.5;
        self.table_from_picture.at(PixelPoint::new(x_px, y_px), self.z_mm)
    }

    /// Whether a window of so many cells to a side, at this column and row, reaches over the bed's edge.
    pub fn reaches_out(&self, (column, row): (usize, usize), side: usize) -> bool {
        let columns = self.columns.div_ceil(CELL);
        let whole = |row: usize| {
            let from = row * columns + column;
            self.whole.get(from..from + side).is_some_and(|cells| cells.iter().all(|whole| *whole))
        };
        !(row..row + side).all(whole)
    }

    pub fn rows(&self) -> usize {
        self.stretches.len()
    }

    /// Takes a frame's samples; the frame is of the camera's size.
    pub fn glance(&self, frame: &RgbImage) -> Glance {
        let (raw, width) = (frame.as_raw(), frame.width() as usize);
        let mut samples = vec![0_i16; self.columns * self.rows()];
        for (row, (&(from, to), line)) in
            self.stretches.iter().zip(samples.chunks_exact_mut(self.columns.max(1))).enumerate()
        {
            let start = ((self.top + row * self.step) * width + self.left + from * self.step) * 3;
            let Some(pixels) = raw.get(start..) else { continue };
            let stretch = line.get_mut(from..to).unwrap_or_default();
            for (sample, pixel) in stretch.iter_mut().zip(pixels.chunks(3 * self.step)) {
                if let [r, g, b, ..] = pixel {
                    *sample = i16::from(*r) + 2 * i16::from(*g) + i16::from(*b);
                }
            }
        }
        Glance { samples }
    }

    /// Whether too little light falls on the bed to see anything on it.
    pub fn is_dark(&self, glance: &Glance) -> bool {
        let mut some: Vec<i16> = self
            .stretches
            .iter()
            .zip(glance.samples.chunks_exact(self.columns.max(1)))
            .step_by(7)
            .flat_map(|(&(from, to), line)| {
                line.get(from..to).unwrap_or_default().iter().copied().step_by(7)
            })
            .collect();
        let middle = some.len() / 2;
        some.is_empty() || *some.select_nth_unstable(middle).1 < DARK
    }
}

/// The first sample of each cell, row by row.
fn cells(rows: usize, columns: usize) -> impl Iterator<Item = (usize, usize)> {
    let row = move |row| (0..columns).step_by(CELL).map(move |column| (column, row));
    (0..rows).step_by(CELL).flat_map(row)
}

/// Points around the bed at a height, close enough together for a bowed picture.
fn outline(camera: &Camera, table: &TableSize, z_mm: f64) -> Vec<PixelPoint> {
    let corners = table.corners();
    (0..4)
        .flat_map(|i| {
            let (a, b) = (corners[i], corners[(i + 1) % 4]);
            (0..8).filter_map(move |k| {
                let part = f64::from(k) / 8.0;
                let x_mm = a.x_mm + part * (b.x_mm - a.x_mm);
                let y_mm = a.y_mm + part * (b.y_mm - a.y_mm);
                camera.project(TablePoint::new(x_mm, y_mm).at_height(z_mm))
            })
        })
        .collect()
}
