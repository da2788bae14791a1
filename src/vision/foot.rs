//! Which end of the table is the foot.
//!
//! A table looks the same turned by half. The user may say which end is the foot; else a rack at
//! one end tells, or a foot spot that is seen at one end alone. Otherwise it stays open.

use super::ball_fit::Widening;
use super::balls::BallFinder;
use super::calibrate::FootChoice;
use super::pixels::{brightness, mean_colour};
use crate::camera::{Camera, PixelPoint, Pose};
use crate::table::{FootEnd, Rack, TablePoint, TableSize};
use image::RgbImage;
use nalgebra::{UnitQuaternion, Vector3};

/// A ball this near to a rack's place counts for it.
const RACKED_MM: f64 = 8.0;
/// Balls of a rack that tell its end.
const ENOUGH_RACKED: usize = 8;
/// A spot's contrast to the cloth around it, in logarithmic brightness.
const CLEAR_SPOT: f32 = 0.25;

/// The camera turned so that x runs toward the foot, and how that is known.
pub(super) fn settle(
    frames: &[RgbImage],
    camera: &Camera,
    table: &TableSize,
    choice: FootChoice,
) -> (Camera, FootEnd) {
    let wrong_way = match choice {
        FootChoice::FromFrame => match frames.iter().find_map(|f| seen(f, camera, table)) {
            Some(at_length) => !at_length,
            None => return (*camera, FootEnd::Open),
        },
        FootChoice::Left => is_before(camera, table, |p| p.x_px) == Some(false),
        FootChoice::Right => is_before(camera, table, |p| p.x_px) == Some(true),
        FootChoice::Top => is_before(camera, table, |p| p.y_px) == Some(false),
        FootChoice::Bottom => is_before(camera, table, |p| p.y_px) == Some(true),
    };
    let known = if choice == FootChoice::FromFrame { FootEnd::Seen } else { FootEnd::Given };
    (if wrong_way { turned(camera, table) } else { *camera }, known)
}

/// Whether the end at x = L lies before the other one in the picture, by a coordinate.
fn is_before(
    camera: &Camera,
    table: &TableSize,
    coordinate: impl Fn(PixelPoint) -> f64,
) -> Option<bool> {
    let end =
        |x_mm: f64| camera.project(TablePoint::new(x_mm, table.width_mm / 2.0).at_height(0.0));
    Some(coordinate(end(table.length_mm)?) < coordinate(end(0.0)?))
}

/// Whether the foot is seen at x = L; none where nothing tells.
fn seen(frame: &RgbImage, camera: &Camera, table: &TableSize) -> Option<bool> {
    let balls = BallFinder::new(camera, table).find(frame, Widening::Usual);
    let racked = |turned: bool| {
        let rack = Rack::on(table);
        let places = rack.places().iter().filter(|place| {
            let place = if turned { place.turned(table) } else { **place };
            balls.iter().any(|ball| ball.centre.distance_mm(place) < RACKED_MM)
        });
        places.count()
    };
    let (here, there) = (racked(false), racked(true));
    if here.max(there) >= ENOUGH_RACKED {
        return Some(here > there);
    }
    let spots = [table.foot_spot(), table.foot_spot().turned(table)];
    let bare = |at: TablePoint| {
        balls.iter().all(|ball| ball.centre.distance_mm(at) > 1.5 * table.ball_diameter_mm)
    };
    let [here, there] = spots.map(|at| bare(at).then(|| contrast(frame, camera, at)).flatten());
    match (here?, there?) {
        (here, there) if here > CLEAR_SPOT && there < CLEAR_SPOT / 3.0 => Some(true),
        (here, there) if there > CLEAR_SPOT && here < CLEAR_SPOT / 3.0 => Some(false),
        _ => None,
    }
}

/// How much a spot stands out from the cloth around, darker or lighter.
fn contrast(frame: &RgbImage, camera: &Camera, spot: TablePoint) -> Option<f32> {
    let ring = |radius_mm: f64, count: i32| {
        let points = (0..count).filter_map(|k| {
            let (sin, cos) = (f64::from(k) / f64::from(count) * std::f64::consts::TAU).sin_cos();
            let at = TablePoint::new(spot.x_mm + radius_mm * cos, spot.y_mm + radius_mm * sin);
            camera.project(at.at_height(0.0))
        });
        mean_colour(frame, points).map(|colour| (brightness(colour) + 8.0).ln())
    };
    let around = ring(45.0, 16)?;
    // The spot may be a few millimetres off its place.
    let strongest = [0.0, 4.0, 8.0].into_iter().filter_map(|r| Some((ring(r, 6)? - around).abs()));
    Some(strongest.fold(0.0, f32::max))
}

/// The same camera with the table turned by half: x and y run the other way.
pub(super) fn turned(camera: &Camera, table: &TableSize) -> Camera {
    let half = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), std::f64::consts::PI);
    let corner = Vector3::new(table.length_mm, table.width_mm, 0.0);
    let Pose { rotation, translation_mm } = camera.pose;
    let translation_mm = translation_mm + rotation * corner;
    Camera { pose: Pose { rotation: rotation * half, translation_mm }, ..*camera }
}
