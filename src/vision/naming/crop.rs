//! The patch that the network looks at: one ball, its outline brought to a circle of fixed size.
//!
//! Input: a frame, camera, table and a ball's centre in the table frame. Output: `SIDE` × `SIDE`
//! colours, sRGB in 0..1, as three planes (red, green, blue) in rows from the top; the outline lies
//! at 1/`MARGIN` of the half side. Method: the affine map that fits best the outline's points, made
//! symmetric so that the patch is stretched but not turned; each patch pixel is the mean of as many
//! bilinear samples as frame pixels go into it along the longer axis, so that shrinking averages
//! areas. Beyond the frame its border colours go on. None where the ball is not in front of the
//! camera or its centre not in the picture.

use crate::camera::{Camera, PixelPoint};
use crate::table::{TablePoint, TableSize};
use crate::vision::pixels::colour_at;
use image::RgbImage;
use nalgebra::{Matrix2, Vector2};
use std::f64::consts::TAU;

/// Pixels along a patch's side.
pub(super) const SIDE: usize = 32;
/// Half side of a patch in radii of the outline.
pub(super) const MARGIN: f64 = 1.25;
/// Values of a patch: three planes.
pub(super) const VALUES: usize = 3 * SIDE * SIDE;
/// Points of the outline that the map is fitted to.
const POINTS: usize = 16;
/// Most samples along one side of a patch pixel: a ball 400 px wide.
const MOST_PARTS: f64 = 16.0;

/// The outline as the image of the unit circle: middle and symmetric stretch, in pixels.
#[derive(Debug, Clone, Copy)]
struct Outline {
    middle: Vector2<f64>,
    stretch: Matrix2<f64>,
}

/// The patch of a ball.
pub(super) fn patch(
    frame: &RgbImage,
    camera: &Camera,
    table: &TableSize,
    centre: TablePoint,
) -> Option<Vec<f32>> {
    let outline = outline(camera, table, centre)?;
    let (w, h) = (f64::from(frame.width()), f64::from(frame.height()));
    let inside = |at: f64, size: f64| (0.0..size).contains(&at);
    if !(inside(outline.middle.x, w) && inside(outline.middle.y, h)) {
        return None;
    }
    Some(sample(frame, &outline))
}

fn outline(camera: &Camera, table: &TableSize, centre: TablePoint) -> Option<Outline> {
    let points = camera.ball_outline(centre, table.ball_radius_mm(), POINTS);
    if points.len() != POINTS {
        return None;
    }
    // Points at equal angles: the least-squares map of the circle onto them is their first
    // Fourier terms.
    let mut middle = Vector2::zeros();
    let mut map = Matrix2::zeros();
    for (i, point) in points.iter().enumerate() {
        let at = Vector2::new(point.x_px, point.y_px);
        let (sin, cos) = (i as f64 / POINTS as f64 * TAU).sin_cos();
        middle += at / POINTS as f64;
        map += at * Vector2::new(cos, sin).transpose() * (2.0 / POINTS as f64);
    }
    // The square root of map · mapᵀ is the map without its turn.
    let square = map * map.transpose();
    let root = square.determinant().max(0.0).sqrt();
    let divisor = (square.trace() + 2.0 * root).sqrt();
    let stretch = (square + Matrix2::identity() * root) / divisor;
    stretch
        .iter()
        .chain(&middle)
        .all(|value| value.is_finite())
        .then_some(Outline { middle, stretch })
}

fn sample(frame: &RgbImage, outline: &Outline) -> Vec<f32> {
    let longest = outline.stretch.symmetric_eigenvalues().max();
    let px_per_step = longest * MARGIN * 2.0 / SIDE as f64;
    let parts = px_per_step.ceil().clamp(1.0, MOST_PARTS) as usize;
    let fine = SIDE * parts;
    let share = 1.0 / (255.0 * (parts * parts) as f32);
    let mut patch = vec![0.0; VALUES];
    let place = |i: usize| ((i as f64 + 0.5) / fine as f64 * 2.0 - 1.0) * MARGIN;
    for row in 0..fine {
        for column in 0..fine {
            let at = outline.middle + outline.stretch * Vector2::new(place(column), place(row));
            let colour = nearest_colour(frame, at);
            let pixel = row / parts * SIDE + column / parts;
            for (plane, value) in colour.into_iter().enumerate() {
                if let Some(sum) = patch.get_mut(plane * SIDE * SIDE + pixel) {
                    *sum += value * share;
                }
            }
        }
    }
    patch
}

/// The frame's colour at a place, or at the nearest one inside it.
fn nearest_colour(frame: &RgbImage, at: Vector2<f64>) -> [f32; 3] {
    // Bilinear sampling needs a pixel to the right and below.
    let within = |at: f64, size: u32| at.clamp(0.5, (f64::from(size) - 0.501).max(0.5));
    let point = PixelPoint::new(within(at.x, frame.width()), within(at.y, frame.height()));
    colour_at(frame, point).unwrap_or([0.0; 3])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::{Lens, Pose};
    use crate::table::SpacePoint;
    use image::Rgb;

    fn camera(lean: f64) -> Camera {
        let position = SpacePoint { x_mm: 1270.0, y_mm: 635.0 - lean * 2500.0, z_mm: 2500.0 };
        let pose = Pose::looking(position, [0.0, lean, -1.0], [0.0, 1.0, 0.1]);
        Camera { lens: Lens { k1: -0.05, ..Lens::pinhole(1280, 720, 1000.0) }, pose }
    }

    fn table() -> TableSize {
        TableSize::NINE_FOOT
    }

    /// A frame that is white inside a ball's outline, with areas of pixels taken into account.
    fn frame_of_a_ball(camera: &Camera, centre: TablePoint) -> RgbImage {
        let points = camera.ball_outline(centre, table().ball_radius_mm(), 90);
        let inside = |x: f64, y: f64| {
            points.iter().zip(points.iter().cycle().skip(1)).all(|(a, b)| {
                let side = (b.x_px - a.x_px) * (y - a.y_px) - (b.y_px - a.y_px) * (x - a.x_px);
                let way = (points[30].x_px - points[0].x_px) * (points[60].y_px - points[0].y_px)
                    - (points[30].y_px - points[0].y_px) * (points[60].x_px - points[0].x_px);
                side * way >= 0.0
            })
        };
        RgbImage::from_fn(1280, 720, |x, y| {
            let places =
                (0..16).map(|i| (f64::from(i % 4) / 4.0 + 0.125, f64::from(i / 4) / 4.0 + 0.125));
            let lit =
                places.filter(|(dx, dy)| inside(f64::from(x) + dx, f64::from(y) + dy)).count();
            Rgb([(lit * 255 / 16) as u8; 3])
        })
    }

    #[test]
    fn the_outline_comes_out_as_a_circle_in_the_middle() {
        for (lean, at) in [(0.0, (1000.0, 700.0)), (0.6, (1800.0, 300.0))] {
            let camera = camera(lean);
            let centre = TablePoint::new(at.0, at.1);
            let patch =
                patch(&frame_of_a_ball(&camera, centre), &camera, &table(), centre).unwrap();
            let plane = &patch[..SIDE * SIDE];
            let sum: f32 = plane.iter().sum();
            let moment = |axis: &dyn Fn(usize) -> usize| {
                let of = |(i, v): (usize, &f32)| v * (axis(i) as f32 + 0.5);
                plane.iter().enumerate().map(of).sum::<f32>() / sum
            };
            // A twentieth of a patch pixel: a slip of half a frame pixel would be ten times that.
            let (x, y) = (moment(&|i| i % SIDE), moment(&|i| i / SIDE));
            assert!((x - 16.0).abs() < 0.05 && (y - 16.0).abs() < 0.05, "middle at {x}, {y}");
            let radius = (sum / std::f32::consts::PI).sqrt();
            assert!((radius - 12.8).abs() < 0.1, "radius {radius}");
        }
    }

    #[test]
    fn the_patch_is_not_turned_against_the_picture() {
        let camera = camera(0.0);
        let centre = TablePoint::new(1000.0, 700.0);
        let frame = RgbImage::from_fn(1280, 720, |x, y| Rgb([(x / 6) as u8, (y / 3) as u8, 7]));
        let patch = patch(&frame, &camera, &table(), centre).unwrap();
        let red = |row: usize, column: usize| patch[row * SIDE + column];
        let green = |row: usize, column: usize| patch[SIDE * SIDE + row * SIDE + column];
        assert!(red(16, 31) > red(16, 0) && green(31, 16) > green(0, 16));
        assert!(
            (red(0, 16) - red(31, 16)).abs() < 0.01 && (green(16, 0) - green(16, 31)).abs() < 0.01
        );
        assert!((patch[2 * SIDE * SIDE] - 7.0 / 255.0).abs() < 1e-5);
    }

    #[test]
    fn nothing_where_the_picture_does_not_show_the_ball() {
        let camera = camera(0.0);
        let frame = RgbImage::new(1280, 720);
        assert!(patch(&frame, &camera, &table(), TablePoint::new(90_000.0, 0.0)).is_none());
        assert!(patch(&frame, &camera, &table(), TablePoint::new(f64::NAN, 0.0)).is_none());
        let tiny = RgbImage::new(1, 1);
        assert!(patch(&tiny, &camera, &table(), TablePoint::new(1270.0, 635.0)).is_none());
    }
}
