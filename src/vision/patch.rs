//! The picture around a ball, with the geometry taken out.
//!
//! Input: a frame, a camera, a place on the table. Output: a small square picture in which the
//! outline that a ball at this place would have is a circle of a fixed size. Method: the outline,
//! the contour of the cone from the camera's centre that touches the sphere, is fitted by an affine
//! map of the unit circle; the picture is resampled through that map, averaging where it shrinks.

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
    let mut patch = vec![0.0; 3 * size * size];
    let Some(sampler) = Sampler::new(frame) else { return patch };
    let step = (map.matrix * (2.0 * reach_radii / (size * parts) as f64)).cast::<f32>();
    let corner = (1.0 - (size * parts) as f32) / 2.0;
    // From here on in places between the centres of the frame's pixels.
    let middle = Vector2::new(map.middle.x_px - 0.5, map.middle.y_px - 0.5).cast::<f32>();
    let start = middle + step * Vector2::new(corner, corner);
    let scale = 1.0 / (255 * parts * parts) as f32;
    let (red, rest) = patch.split_at_mut(size * size);
    let (green, blue) = rest.split_at_mut(size * size);
    for (pixel, ((red, green), blue)) in red.iter_mut().zip(green).zip(blue).enumerate() {
        let (row, column) = (pixel / size * parts, pixel % size * parts);
        let mut sum = [0.0_f32; 3];
        for y in row..row + parts {
            for x in column..column + parts {
                let (x, y) = (x as f32, y as f32);
                let colour = sampler.at(
                    start.x + step.m11 * x + step.m12 * y,
                    start.y + step.m21 * x + step.m22 * y,
                );
                sum = [0, 1, 2].map(|channel| sum[channel] + colour[channel]);
            }
        }
        [*red, *green, *blue] = sum.map(|value| value * scale);
    }
    patch
}

/// Bilinear samples of a frame, its edge continued outward: patches take many thousand.
struct Sampler<'a> {
    raw: &'a [u8],
    width: usize,
    last: [f32; 2],
    /// The last column with one to its right, and the last row with one below.
    inner: [usize; 2],
}

impl<'a> Sampler<'a> {
    /// None for a frame under two pixels wide or high.
    fn new(frame: &'a RgbImage) -> Option<Self> {
        let (width, height) = (frame.width() as usize, frame.height() as usize);
        let inner = [width.checked_sub(2)?, height.checked_sub(2)?];
        Some(Self { raw: frame.as_raw(), width, last: inner.map(|i| (i + 1) as f32), inner })
    }

    /// The colour at a place; the first pixel's centre is at 0, 0.
    #[inline]
    fn at(&self, x: f32, y: f32) -> [f32; 3] {
        let (x, y) = (x.clamp(0.0, self.last[0]), y.clamp(0.0, self.last[1]));
        let (left, top) = ((x as usize).min(self.inner[0]), (y as usize).min(self.inner[1]));
        let (fx, fy) = (x - left as f32, y - top as f32);
        let at = 3 * (top * self.width + left);
        let row = |at: usize| self.raw.get(at..)?.first_chunk::<6>();
        let (Some(upper), Some(lower)) = (row(at), row(at + 3 * self.width)) else {
            return [0.0; 3];
        };
        [0, 1, 2].map(|c| {
            let [a, b, d, e] = [upper[c], upper[c + 3], lower[c], lower[c + 3]].map(f32::from);
            let (above, below) = (a + fx * (b - a), d + fx * (e - d));
            above + fy * (below - above)
        })
    }
}
