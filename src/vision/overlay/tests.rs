//! What is drawn has to lie where the camera sees it, bent as the lens bends it.

use super::*;
use crate::camera::{CalibrationReport, Camera, Lens, Pose};
use crate::layout::Layout;
use crate::table::{DiamondPoint, SpacePoint, TableSize};
use crate::vision::Rejected;
use image::Rgb;

const CLOTH: Rgb<u8> = Rgb([20, 90, 60]);

fn calibration(k1: f64) -> Calibration {
    let table = TableSize::NINE_FOOT;
    let position = SpacePoint { x_mm: 1300.0, y_mm: 500.0, z_mm: 2500.0 };
    let pose = Pose::looking(position, [0.0, 0.06, -1.0], [0.02, 1.0, 0.0]);
    let camera = Camera { lens: Lens { k1, ..Lens::pinhole(1280, 720, 1000.0) }, pose };
    let nose = |point: TablePoint| camera.project(point.at_height(table.nose_height_mm())).unwrap();
    Calibration {
        table,
        table_given: true,
        foot: FootEnd::Seen,
        camera,
        nose_corners_px: table.corners().map(nose),
        report: CalibrationReport {
            frames: 1,
            reprojection_px: 0.3,
            height_mm: 2500.0,
            tilt_deg: 3.4,
            focal_px: 1000.0,
            worst_corner_mm_per_px: 2.6,
            sigma_mm: 0.2,
            weak: vec![],
        },
    }
}

fn reading(table: TableSize) -> Reading {
    let ball = |number: u8, place: DiamondPoint| Ball {
        kind: if number == 0 { BallKind::Cue } else { BallKind::Object },
        number: Some(number),
        x: place.x,
        y: place.y,
        sigma_mm: 0.3,
        confidence: 1.0,
        number_confidence: 0.9,
    };
    let balls =
        vec![ball(0, DiamondPoint { x: 2.4, y: 1.3 }), ball(12, DiamondPoint { x: 7.3, y: 3.4 })];
    let layout = Layout::of(table, FootEnd::Seen, balls);
    let rejected = Rejected { at: TablePoint::new(1500.0, 900.0), why: "flat".into() };
    Reading { layout, rejected: vec![rejected] }
}

fn frame() -> RgbImage {
    RgbImage::from_pixel(1280, 720, CLOTH)
}

/// How near the colour at a place comes to a paint's, as the largest difference of a channel.
fn off(picture: &RgbImage, at: PixelPoint, paint: Paint) -> u8 {
    let Rgb(seen) = *picture.get_pixel(at.x_px as u32, at.y_px as u32);
    seen.iter().zip(paint.rgb).map(|(a, b)| a.abs_diff(b)).max().unwrap()
}

#[test]
fn noses_lie_where_a_bending_lens_sees_them() {
    for k1 in [0.0, -0.12] {
        let calibration = calibration(k1);
        let picture = draw(&frame(), &calibration, None);
        let z_mm = calibration.table.nose_height_mm();
        for step in 1..40 {
            let x_mm = f64::from(step) * 2540.0 / 40.0;
            // The mouths of the side pocket and of the far corner.
            if (x_mm - 1270.0).abs() < 80.0 || x_mm > 2440.0 {
                continue;
            }
            // The near nose; along its first diamond the axis covers it.
            let paint = if x_mm < 330.0 { AXIS } else { NOSE };
            let at = TablePoint::new(x_mm, 0.0).at_height(z_mm);
            let seen = calibration.camera.project(at).unwrap();
            let off = off(&picture, seen, paint);
            assert!(off < 110, "k1 {k1}: {off} off the line at {x_mm} mm, {seen:?}");
        }
    }
}

#[test]
fn the_bend_of_the_lens_is_more_than_the_width_of_a_line() {
    let calibration = calibration(-0.12);
    let [a, b, ..] = calibration.nose_corners_px;
    let z_mm = calibration.table.nose_height_mm();
    let middle = TablePoint::new(900.0, 0.0).at_height(z_mm);
    let seen = calibration.camera.project(middle).unwrap();
    let straight_y_px = a.y_px + (b.y_px - a.y_px) * (seen.x_px - a.x_px) / (b.x_px - a.x_px);
    let bend_px = (seen.y_px - straight_y_px).abs();
    assert!(bend_px > 4.0, "{bend_px}: the test above would not tell");
}

#[test]
fn balls_are_ringed_and_rejects_crossed() {
    let calibration = calibration(-0.05);
    let reading = reading(calibration.table);
    let picture = draw(&frame(), &calibration, Some(&reading));
    let camera = &calibration.camera;
    for ball in &reading.layout.balls {
        let centre = reading.layout.centre_of(ball);
        let outline = camera.ball_outline(centre, calibration.table.ball_radius_mm(), 40);
        for point in outline {
            let off = off(&picture, point, OUTLINE);
            assert!(off < 150, "{off} off the outline at {point:?}");
        }
        // Halfway between middle and outline nothing covers the ball.
        let [first, ..] = camera.ball_outline(centre, 0.6 * 28.575, 8)[..] else { panic!() };
        assert_eq!(*picture.get_pixel(first.x_px as u32, first.y_px as u32), CLOTH);
    }
    let at = camera.project(reading.rejected[0].at.at_height(0.0)).unwrap();
    assert!(off(&picture, at, REJECTED) < 40);
}

#[test]
fn a_crowd_of_rejects_leaves_the_balls_in_sight() {
    let calibration = calibration(0.0);
    let mut crowded = reading(calibration.table);
    let one = crowded.rejected[0].clone();
    let ball = crowded.layout.centre_of(&crowded.layout.balls[0]);
    crowded.rejected = (0..300)
        .map(|i| {
            let at = TablePoint::new(ball.x_mm + f64::from(i % 20), ball.y_mm + f64::from(i / 20));
            Rejected { at, ..one.clone() }
        })
        .collect();
    let picture = draw(&frame(), &calibration, Some(&crowded));
    let outline = calibration.camera.ball_outline(ball, calibration.table.ball_radius_mm(), 40);
    for point in outline {
        assert!(off(&picture, point, OUTLINE) < 150, "hidden at {point:?}");
    }
}

#[test]
fn what_is_not_drawn_on_stays_as_it_was() {
    let calibration = calibration(0.0);
    let mut frame = frame();
    for (x, y, pixel) in frame.enumerate_pixels_mut() {
        *pixel = Rgb([(x % 251) as u8, (y % 241) as u8, 77]);
    }
    let picture = draw(&frame, &calibration, None);
    let same = frame.pixels().zip(picture.pixels()).filter(|(a, b)| a == b).count();
    assert!(same > 1280 * 720 * 9 / 10, "{same} pixels kept");
    assert_ne!(frame, picture);
}

#[test]
fn the_smallest_frames_do_no_harm() {
    let calibration = calibration(-0.1);
    let reading = reading(calibration.table);
    for (width, height) in [(0, 0), (1, 1), (3, 900)] {
        let picture = draw(&RgbImage::new(width, height), &calibration, Some(&reading));
        assert_eq!(picture.dimensions(), (width, height));
    }
}
