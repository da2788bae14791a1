//! The picture around a ball, with the geometry taken out.
//!
//! Input: a frame, a camera, a place on the table. Output: a small square picture in which the
//! outline that a ball at this place would have is a circle of a fixed size. Method: the outline,
//! the contour of the cone from the camera's centre that touches the sphere, is fitted by an affine
//! map of the unit circle; the picture is resampled through that map, averaging where it shrinks.

use super::pixels::colour_at;
use crate::camera::{Camera, PixelPoint};
use crate::table::{TablePoint, TableSize};
use image::RgbImage;
use nalgebra::{Matrix2, Vector2};

/// Points of the outline that the map is fitted to.
const OUTLINE_POINTS: usize = 16;

/// How a ball's outline lies in the picture: middle + matrix · (unit circle).
#[derive(Debug, Clone, Copy)]
pub(super) struct OutlineMap {
    pub middle: PixelPoint,
    /// Radii to pixels, symmetric: the patch keeps the picture's right and down.
    pub matrix: Matrix2<f64>,
}

impl OutlineMap {
    /// The map of a ball's outline; none where it is not wholly before the camera.
    pub fn of(camera: &Camera, table: &TableSize, place: TablePoint) -> Option<Self> {
        let points = camera.ball_outline(place, table.ball_radius_mm(), OUTLINE_POINTS);
        if points.len() < OUTLINE_POINTS {
            return None;
        }
        let count = points.len() as f64;
        let sum = points.iter().fold(Vector2::zeros(), |sum, p| sum + Vector2::new(p.x_px, p.y_px));
        let middle = sum / count;
        // The points' scatter is half the square of the map, whatever their phase.
        let scatter = points.iter().fold(Matrix2::zeros(), |sum, p| {
            let from_middle = Vector2::new(p.x_px, p.y_px) - middle;
            sum + from_middle * from_middle.transpose()
        }) * (2.0 / count);
        // The symmetric root of a 2 × 2 matrix, in closed form.
        let root_det = scatter.determinant().max(1e-12).sqrt();
        let matrix =
            (scatter + Matrix2::identity() * root_det) / (scatter.trace() + 2.0 * root_det).sqrt();
        Some(Self { middle: PixelPoint::new(middle.x, middle.y), matrix })
    }
}

/// A square patch of `size` pixels to a side that reaches `reach_radii` from the middle, its
/// channels one after another, values 0 to 1. Beyond the frame its edge goes on.
pub(super) fn cut(frame: &RgbImage, map: &OutlineMap, size: usize, reach_radii: f64) -> Vec<f32> {
    let largest = map.matrix.symmetric_eigenvalues().max();
    let parts = (largest * reach_radii * 2.0 / size as f64).ceil().max(1.0) as usize;
    let (right, below) = (f64::from(frame.width()) - 1.5, f64::from(frame.height()) - 1.5);
    let mut patch = vec![0.0; 3 * size * size];
    let fine = (size * parts) as f64;
    let place = |index: usize| ((index as f64 + 0.5) / fine * 2.0 - 1.0) * reach_radii;
    for y in 0..size * parts {
        for x in 0..size * parts {
            let offset = map.matrix * Vector2::new(place(x), place(y));
            let at = PixelPoint::new(
                (map.middle.x_px + offset.x).clamp(0.5, right),
                (map.middle.y_px + offset.y).clamp(0.5, below),
            );
            let Some(colour) = colour_at(frame, at) else { continue };
            let pixel = (y / parts) * size + x / parts;
            for (channel, value) in colour.iter().enumerate() {
                patch[channel * size * size + pixel] += value;
            }
        }
    }
    let scale = 1.0 / (255.0 * (parts * parts) as f32);
    patch.iter_mut().for_each(|value| *value *= scale);
    patch
}
