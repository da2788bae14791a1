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

/// Where the picture shrinks its samples are means of some that lie no farther apart, in the frame's
/// pixels: each is bilinear, so that nothing between them is left out.
const MOST_APART_PX: f64 = 1.6;
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
    let shrinks = largest * reach_radii * 2.0 / size as f64;
    let parts =
        (shrinks / MOST_APART_PX).ceil().max(if shrinks > 1.0 { 2.0 } else { 1.0 }) as usize;
    let mut patch = vec![0.0; 3 * size * size];
    let step = (map.matrix * (2.0 * reach_radii / (size * parts) as f64)).cast::<f32>();
    let corner = (1.0 - (size * parts) as f32) / 2.0;
    // From here on in places between the centres of the frame's pixels.
    let middle = Vector2::new(map.middle.x_px - 0.5, map.middle.y_px - 0.5).cast::<f32>();
    let start = middle + step * Vector2::new(corner, corner);
    let last = (size * parts - 1) as f32;
    let ends = [(0.0, 0.0), (last, 0.0), (0.0, last), (last, last)];
    let corners = ends.map(|(x, y)| start + step * Vector2::new(x, y));
    let Some(window) = Window::around(frame, &corners) else { return patch };
    let scale = 1.0 / (255 * parts * parts) as f32;
    let (red, rest) = patch.split_at_mut(size * size);
    let (green, blue) = rest.split_at_mut(size * size);
    for (pixel, ((red, green), blue)) in red.iter_mut().zip(green).zip(blue).enumerate() {
        let (row, column) = (pixel / size * parts, pixel % size * parts);
        let mut sum = [0.0_f32; 4];
        for y in row..row + parts {
            for x in column..column + parts {
                let (x, y) = (x as f32, y as f32);
                let colour = window.at(
                    start.x + step.m11 * x + step.m12 * y,
                    start.y + step.m21 * x + step.m22 * y,
                );
                for channel in 0..4 {
                    sum[channel] += colour[channel];
                }
            }
        }
        (*red, *green, *blue) = (sum[0] * scale, sum[1] * scale, sum[2] * scale);
    }
    patch
}

/// The part of a frame that a patch is cut from, for bilinear samples; the frame's edge goes on
/// outward. Each pixel is turned into numbers once, four to a pixel so that they are worked on
/// together: a patch takes many thousand samples.
struct Window {
    pixels: Vec<[f32; 4]>,
    width: usize,
    height: usize,
    /// The frame's place of the first pixel's centre, with the frame's first pixel's at 0, 0.
    first: [f32; 2],
    /// The last place with a pixel to its right and below.
    last: [f32; 2],
}

impl Window {
    /// The pixels around some places; none for a frame under two pixels wide or high.
    fn around(frame: &RgbImage, places: &[Vector2<f32>]) -> Option<Self> {
        let (width, height) = (frame.width() as usize, frame.height() as usize);
        let range = |of: fn(&Vector2<f32>) -> f32, size: usize| {
            let inner = size.checked_sub(2)?;
            let least = places.iter().map(of).fold(f32::INFINITY, f32::min);
            let most = places.iter().map(of).fold(f32::NEG_INFINITY, f32::max);
            // A float that is no number or out of range becomes the nearest whole one.
            let (low, high) = ((least as usize).min(inner), (most.max(0.0) as usize).min(inner));
            Some((low, high + 2))
        };
        let (left, right) = range(|place| place.x, width)?;
        let (top, bottom) = range(|place| place.y, height)?;
        let raw = frame.as_raw();
        let mut pixels = Vec::with_capacity((right - left) * (bottom - top));
        for row in top..bottom {
            let line = raw.get(3 * (row * width + left)..3 * (row * width + right))?;
            pixels.extend(line.chunks_exact(3).map(|pixel| match pixel {
                [red, green, blue] => [f32::from(*red), f32::from(*green), f32::from(*blue), 0.0],
                _ => [0.0; 4],
            }));
        }
        let last = [right - left - 1, bottom - top - 1].map(|side| side as f32);
        let (width, height) = (right - left, bottom - top);
        Some(Self { pixels, width, height, first: [left as f32, top as f32], last })
    }

    /// The colour at a place of the frame.
    #[inline]
    fn at(&self, x: f32, y: f32) -> [f32; 4] {
        let x = (x - self.first[0]).clamp(0.0, self.last[0]);
        let y = (y - self.first[1]).clamp(0.0, self.last[1]);
        // Turned into whole numbers of 32 bits, which a processor does at once.
        let left = (x as i32 as usize).min(self.width - 2);
        let top = (y as i32 as usize).min(self.height - 2);
        let (fx, fy) = (x - left as f32, y - top as f32);
        let at = top * self.width + left;
        let (Some([a, b]), Some([d, e])) = (
            self.pixels.get(at..).and_then(<[_]>::first_chunk::<2>),
            self.pixels.get(at + self.width..).and_then(<[_]>::first_chunk::<2>),
        ) else {
            return [0.0; 4];
        };
        let mut colour = [0.0; 4];
        for c in 0..4 {
            let (above, below) = (a[c] + fx * (b[c] - a[c]), d[c] + fx * (e[c] - d[c]));
            colour[c] = above + fy * (below - above);
        }
        colour
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::{Lens, Pose};
    use crate::table::SpacePoint;
    use image::Rgb;

    const SIZE: usize = 32;
    const REACH: f64 = 1.25;

    fn camera(lean: f64) -> Camera {
        let position = SpacePoint { x_mm: 1270.0, y_mm: 635.0 - lean * 2500.0, z_mm: 2500.0 };
        let pose = Pose::looking(position, [0.0, lean, -1.0], [0.0, 1.0, 0.1]);
        Camera { lens: Lens { k1: -0.05, ..Lens::pinhole(1280, 720, 1000.0) }, pose }
    }

    fn patch(frame: &RgbImage, camera: &Camera, centre: TablePoint) -> Vec<f32> {
        cut(frame, &OutlineMap::of(camera, &TableSize::NINE_FOOT, centre).unwrap(), SIZE, REACH)
    }

    /// A black frame with a white ball, each pixel by the share of its area inside the outline.
    fn frame_of_a_ball(camera: &Camera, centre: TablePoint) -> RgbImage {
        let points = camera.ball_outline(centre, TableSize::NINE_FOOT.ball_radius_mm(), 90);
        let side = |a: PixelPoint, b: PixelPoint, x: f64, y: f64| {
            (b.x_px - a.x_px) * (y - a.y_px) - (b.y_px - a.y_px) * (x - a.x_px)
        };
        let way = side(points[0], points[30], points[60].x_px, points[60].y_px);
        let inside = |x: f64, y: f64| {
            let next = points.iter().cycle().skip(1);
            points.iter().zip(next).all(|(a, b)| side(*a, *b, x, y) * way >= 0.0)
        };
        RgbImage::from_fn(1280, 720, |x, y| {
            let part = |i: u32| f64::from(i) / 4.0 + 0.125;
            let places = (0..16).map(|i| (f64::from(x) + part(i % 4), f64::from(y) + part(i / 4)));
            let lit = places.filter(|(x, y)| inside(*x, *y)).count();
            Rgb([(lit * 255 / 16) as u8; 3])
        })
    }

    #[test]
    fn the_outline_comes_out_as_a_circle_in_the_middle() {
        for (lean, x_mm, y_mm) in [(0.0, 1000.0, 700.0), (0.6, 1800.0, 300.0)] {
            let camera = camera(lean);
            let centre = TablePoint::new(x_mm, y_mm);
            let patch = patch(&frame_of_a_ball(&camera, centre), &camera, centre);
            let plane = &patch[..SIZE * SIZE];
            let sum: f32 = plane.iter().sum();
            let middle = |place: fn(usize) -> usize| {
                let weighed = plane.iter().enumerate().map(|(i, v)| v * (place(i) as f32 + 0.5));
                weighed.sum::<f32>() / sum
            };
            // A twentieth of a patch pixel; a slip of half a frame pixel would be some half one.
            let (x, y) = (middle(|i| i % SIZE), middle(|i| i / SIZE));
            assert!((x - 16.0).abs() < 0.05 && (y - 16.0).abs() < 0.05, "middle at {x}, {y}");
            let radius = (sum / std::f32::consts::PI).sqrt();
            assert!((radius - 16.0 / 1.25).abs() < 0.1, "radius {radius}");
        }
    }

    #[test]
    fn the_patch_is_not_turned_against_the_picture() {
        let frame = RgbImage::from_fn(1280, 720, |x, y| Rgb([(x / 6) as u8, (y / 3) as u8, 7]));
        let patch = patch(&frame, &camera(0.0), TablePoint::new(1000.0, 700.0));
        let at =
            |plane: usize, row: usize, column: usize| patch[(plane * SIZE + row) * SIZE + column];
        assert!(at(0, 16, 31) > at(0, 16, 0) && at(1, 31, 16) > at(1, 0, 16));
        assert!((at(0, 0, 16) - at(0, 31, 16)).abs() < 0.01);
        assert!((at(1, 16, 0) - at(1, 16, 31)).abs() < 0.01);
        assert!((at(2, 0, 0) - 7.0 / 255.0).abs() < 1e-5);
    }

    #[test]
    fn no_outline_gives_no_map_and_a_frame_of_one_pixel_a_black_patch() {
        let camera = camera(0.0);
        let nowhere = TablePoint::new(f64::NAN, 0.0);
        assert!(OutlineMap::of(&camera, &TableSize::NINE_FOOT, nowhere).is_none());
        let black = patch(&RgbImage::new(1, 1), &camera, TablePoint::new(1270.0, 635.0));
        assert!(black.iter().all(|value| *value == 0.0));
    }
}
