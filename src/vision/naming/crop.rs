//! The patch that the network looks at: one ball, its outline brought to a circle of fixed size.
//!
//! Input: a frame, camera, table and a ball's centre in the table frame. Output: `SIDE` × `SIDE`
//! colours as `vision::patch` cuts them; the outline lies at 1/`MARGIN` of the half side. None where
//! the ball is not in front of the camera or its centre not in the picture.

use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use crate::vision::patch::{self, OutlineMap};
use image::RgbImage;

/// Pixels along a patch's side.
pub(super) const SIDE: usize = 32;
/// Half side of a patch in radii of the outline.
pub(super) const MARGIN: f64 = 1.25;

/// The patch of a ball.
pub(super) fn patch(
    frame: &RgbImage,
    camera: &Camera,
    table: &TableSize,
    centre: TablePoint,
) -> Option<Vec<f32>> {
    let map = OutlineMap::of(camera, table, centre)?;
    let inside = |at_px: f64, size: u32| (0.0..f64::from(size)).contains(&at_px);
    let shown = inside(map.middle.x_px, frame.width()) && inside(map.middle.y_px, frame.height());
    shown.then(|| patch::cut(frame, &map, SIDE, MARGIN))
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
