//! The baseline: OpenCV's circle transform (HoughCircles) on the same frames.
//!
//! It is helped: the radii that a ball can have anywhere on the table are known from the true
//! camera, and circles off the cloth are not held against it.

use super::compare::pair;
use super::labelled::Label;
use opencv::core::{Vec3f, Vector};
use serde::Serialize;
use stillcloth::camera::PixelPoint;
use stillcloth::table::TablePoint;

/// A circle this far from a ball's centre still finds it.
const REACH_PX: f64 = 3.0;
/// Radii are searched this much beyond what the balls have.
const MORE_RADIUS: f64 = 0.12;

/// What the circle transform made of a frame.
#[derive(Debug, Clone, Serialize)]
pub struct Circles {
    pub errors_px: Vec<f64>,
    pub false_circles: usize,
}

impl Circles {
    /// Of a frame that cannot be decoded.
    pub fn none() -> Self {
        Self { errors_px: Vec::new(), false_circles: 0 }
    }
}

/// The radii of balls anywhere on the table, in pixels.
pub fn radii_px(label: &Label) -> (f64, f64) {
    let (camera, table) = (label.camera(), &label.table);
    let radius_mm = table.ball_radius_mm();
    let mut places: Vec<TablePoint> = table.corners().into();
    places.push(table.centre_spot());
    let radii = places.iter().map(|place| {
        let depth_mm = camera.pose.camera_from_table(place.at_height(radius_mm)).z;
        camera.lens.focal_px * radius_mm / depth_mm
    });
    let (least, most) = radii.fold((f64::MAX, 0.0), |(least, most): (f64, f64), radius| {
        (least.min(radius), most.max(radius))
    });
    (least * (1.0 - MORE_RADIUS), most * (1.0 + MORE_RADIUS))
}

/// Holds circles against the truth.
pub fn compare(label: &Label, circles: &Vector<Vec3f>) -> Circles {
    let corners = label.nose_corners();
    // OpenCV counts pixels from the first one's centre.
    let centres: Vec<PixelPoint> = circles
        .iter()
        .map(|circle| PixelPoint::new(f64::from(circle[0]) + 0.5, f64::from(circle[1]) + 0.5))
        .filter(|centre| inside(&corners, *centre))
        .collect();
    let truth: Vec<PixelPoint> =
        label.balls.iter().map(|ball| PixelPoint::new(ball.px[0], ball.px[1])).collect();
    let pairs = pair(&truth, &centres, |a, b| a.distance_px(*b), REACH_PX);
    let errors_px = pairs.iter().map(|(i, j)| truth[*i].distance_px(centres[*j])).collect();
    Circles { errors_px, false_circles: centres.len() - pairs.len() }
}

/// Whether a point lies inside a convex quadrilateral.
fn inside(corners: &[PixelPoint; 4], point: PixelPoint) -> bool {
    let side = |i: usize| {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        let across = (b.x_px - a.x_px) * (point.y_px - a.y_px);
        across - (b.y_px - a.y_px) * (point.x_px - a.x_px) > 0.0
    };
    (1..4).all(|i| side(i) == side(0))
}
