//! Lens and pose held to their properties, and to OpenCV's `projectPoints`.

use super::{Camera, Lens, PixelPoint, Pose};
use crate::table::{SpacePoint, TablePoint};
use nalgebra::{UnitQuaternion, Vector3};
use proptest::prelude::*;
use serde::Deserialize;
use std::f64::consts::TAU;

#[derive(Deserialize)]
struct Vectors {
    points_mm: Vec<[f64; 3]>,
    cameras: Vec<Vector>,
}

#[derive(Deserialize)]
struct Vector {
    name: String,
    focal_px: f64,
    centre_opencv_px: [f64; 2],
    k1: f64,
    k2: f64,
    rotation_rodrigues: [f64; 3],
    translation_mm: [f64; 3],
    pictures_opencv_px: Vec<[f64; 2]>,
}

/// OpenCV counts from the first pixel's centre, we from its corner.
fn ours([x_px, y_px]: [f64; 2]) -> PixelPoint {
    PixelPoint::new(x_px + 0.5, y_px + 0.5)
}

#[test]
fn pictures_are_opencvs_half_a_pixel_on() {
    let text = include_str!("../../testdata/projection/vectors.json");
    let vectors: Vectors = serde_json::from_str(text).unwrap();
    assert_eq!((vectors.points_mm.len(), vectors.cameras.len()), (36, 5));
    for theirs in &vectors.cameras {
        let camera = Camera {
            lens: Lens {
                focal_px: theirs.focal_px,
                centre_px: ours(theirs.centre_opencv_px),
                k1: theirs.k1,
                k2: theirs.k2,
                ..Lens::pinhole(1920, 1080, 1.0)
            },
            pose: Pose {
                rotation: UnitQuaternion::from_scaled_axis(Vector3::from(
                    theirs.rotation_rodrigues,
                )),
                translation_mm: Vector3::from(theirs.translation_mm),
            },
        };
        assert_eq!(theirs.pictures_opencv_px.len(), 36);
        for ([x_mm, y_mm, z_mm], wanted) in
            vectors.points_mm.iter().copied().zip(&theirs.pictures_opencv_px)
        {
            let seen = camera.project(SpacePoint { x_mm, y_mm, z_mm }).unwrap();
            let off_px = seen.distance_px(ours(*wanted));
            assert!(off_px < 1e-9, "{}: {off_px} px off at {x_mm}, {y_mm}, {z_mm}", theirs.name);
        }
    }
}

#[test]
fn the_picture_of_the_axis_is_the_pictures_middle() {
    let lens = Lens::pinhole(4, 2, 10.0);
    assert_eq!(lens.picture_from_normal([0.0, 0.0]), PixelPoint::new(2.0, 1.0));
}

/// Lenses of ordinary cameras, wide ones included.
fn any_lens() -> impl Strategy<Value = Lens> {
    (600.0..2500.0_f64, -0.2..0.1_f64, -0.02..0.05_f64, 900.0..1020.0_f64, 500.0..580.0_f64)
        .prop_map(|(focal_px, k1, k2, x_px, y_px)| Lens {
            width_px: 1920,
            height_px: 1080,
            focal_px,
            centre_px: PixelPoint::new(x_px, y_px),
            k1,
            k2,
        })
}

fn any_camera() -> impl Strategy<Value = Camera> {
    let place = (-500.0..3000.0_f64, -500.0..1800.0_f64, 1500.0..4000.0_f64);
    let aim = (800.0..1700.0_f64, 300.0..900.0_f64);
    (any_lens(), place, aim, 0.0..TAU).prop_map(|(lens, place, aim, turn)| {
        let (x_mm, y_mm, z_mm) = place;
        let forward = [aim.0 - x_mm, aim.1 - y_mm, -z_mm];
        let pose =
            Pose::looking(SpacePoint { x_mm, y_mm, z_mm }, forward, [turn.cos(), turn.sin(), 0.05]);
        Camera { lens, pose }
    })
}

/// Radius in normalised coordinates at which the distortion turns back, or a wide lens's border.
fn fold(lens: &Lens) -> f64 {
    let slope = |r: f64| 1.0 + r * r * (3.0 * lens.k1 + 5.0 * r * r * lens.k2);
    (1..200).map(|i| f64::from(i) * 0.01).find(|r| slope(*r) < 0.1).unwrap_or(2.0)
}

proptest! {
    #[test]
    fn a_lens_goes_there_and_back(lens in any_lens(), x in -0.9..0.9_f64, y in -0.6..0.6_f64) {
        prop_assume!(x.hypot(y) < fold(&lens));
        let back = lens.normal_from_picture(lens.picture_from_normal([x, y]));
        let [bx, by] = back.expect("no way back inside the fold");
        prop_assert!((bx - x).hypot(by - y) < 1e-9, "{} {} came back as {} {}", x, y, bx, by);
    }

    #[test]
    fn a_way_back_is_a_way_there(lens in any_lens(), x in -200.0..2200.0_f64, y in -200.0..1300.0_f64) {
        let point = PixelPoint::new(x, y);
        if let Some(normal) = lens.normal_from_picture(point) {
            let off_px = lens.picture_from_normal(normal).distance_px(point);
            prop_assert!(off_px < 1e-6, "{} px", off_px);
        }
    }

    #[test]
    fn a_lens_keeps_directions_around_its_middle(lens in any_lens(), turn in 0.0..TAU, r in 0.01..0.5_f64) {
        let (sin, cos) = turn.sin_cos();
        let point = lens.picture_from_normal([r * cos, r * sin]);
        let (dx, dy) = (point.x_px - lens.centre_px.x_px, point.y_px - lens.centre_px.y_px);
        prop_assert!((dx * sin - dy * cos).abs() < 1e-9);
    }

    #[test]
    fn places_on_a_plane_go_there_and_back(
        camera in any_camera(),
        x_mm in 0.0..2540.0_f64,
        y_mm in 0.0..1270.0_f64,
        z_mm in 0.0..60.0_f64,
    ) {
        let place = TablePoint::new(x_mm, y_mm);
        let inside = camera.pose.camera_from_table(place.at_height(z_mm));
        prop_assume!((inside.x / inside.z).hypot(inside.y / inside.z) < fold(&camera.lens));
        let seen = camera.project(place.at_height(z_mm)).expect("not in front of the camera");
        let back = camera.table_from_picture(seen, z_mm).expect("no way back");
        prop_assert!(back.distance_mm(place) < 1e-6, "{} mm", back.distance_mm(place));
    }

    #[test]
    fn a_pose_gives_its_place_back(camera in any_camera()) {
        let place = camera.pose.position();
        let inside = camera.pose.camera_from_table(place);
        prop_assert!(inside.norm() < 1e-9, "{} mm from itself", inside.norm());
        // A rigid motion keeps distances.
        let [a, b] = [(100.0, 900.0), (2000.0, 50.0)].map(|(x, y)| TablePoint::new(x, y));
        let moved = camera.pose.camera_from_table(a.at_height(0.0))
            - camera.pose.camera_from_table(b.at_height(0.0));
        prop_assert!((moved.norm() - a.distance_mm(b)).abs() < 1e-8);
    }

    #[test]
    fn a_pose_looks_where_it_was_told(
        x_mm in -300.0..2800.0_f64,
        y_mm in -300.0..1500.0_f64,
        turn in 0.0..TAU,
    ) {
        let position = SpacePoint { x_mm, y_mm, z_mm: 2500.0 };
        let forward = [1270.0 - x_mm, 635.0 - y_mm, -2500.0];
        let up = [turn.cos(), turn.sin(), 0.0];
        let pose = Pose::looking(position, forward, up);
        let camera = Camera { lens: Lens::pinhole(1280, 720, 900.0), pose };
        let aimed = camera.project(SpacePoint { x_mm: 1270.0, y_mm: 635.0, z_mm: 0.0 }).unwrap();
        prop_assert!(aimed.distance_px(PixelPoint::new(640.0, 360.0)) < 1e-6);
        // What lies upward from there is drawn above it, and to the right of up is right.
        let above = SpacePoint { x_mm: 1270.0 + 50.0 * up[0], y_mm: 635.0 + 50.0 * up[1], z_mm: 0.0 };
        prop_assert!(camera.project(above).unwrap().y_px < aimed.y_px - 1.0);
        let level = f64::hypot(forward[0], forward[1]);
        let wanted = level.atan2(2500.0);
        prop_assert!((pose.tilt_rad() - wanted).abs() < 1e-9);
    }

    #[test]
    fn a_camera_above_never_mirrors(camera in any_camera()) {
        // Around the table as x turns to y, its picture runs against the clock with y down.
        let corner = |x, y| camera.pose.camera_from_table(SpacePoint { x_mm: x, y_mm: y, z_mm: 0.0 });
        let flat = [corner(1200.0, 600.0), corner(1300.0, 600.0), corner(1200.0, 700.0)]
            .map(|p| [p.x / p.z, p.y / p.z]);
        let [a, b, c] = flat;
        let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        prop_assert!(area < 0.0, "mirrored: {}", area);
    }

    #[test]
    fn a_pixel_measures_what_it_covers(camera in any_camera()) {
        let middle = TablePoint::new(1250.0, 620.0);
        let seen = camera.project(middle.at_height(28.575)).unwrap();
        let mm = camera.mm_per_px(middle, 28.575).unwrap();
        let aside = PixelPoint::new(seen.x_px - 0.5, seen.y_px);
        let moved = camera.table_from_picture(aside, 28.575).unwrap();
        prop_assert!(moved.distance_mm(middle) < 0.51 * mm, "{} mm of {}", moved.distance_mm(middle), mm);
        prop_assert!(mm > 0.3 && mm < 20.0, "{}", mm);
    }
}

#[test]
fn nothing_behind_the_camera_has_a_picture() {
    let position = SpacePoint { x_mm: 0.0, y_mm: 0.0, z_mm: 2000.0 };
    let pose = Pose::looking(position, [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]);
    let camera = Camera { lens: Lens::pinhole(100, 100, 80.0), pose };
    assert!(camera.project(SpacePoint { x_mm: 0.0, y_mm: 0.0, z_mm: 2100.0 }).is_none());
    assert!(camera.table_from_picture(PixelPoint::new(50.0, 50.0), 2100.0).is_none());
}

#[test]
fn past_the_fold_there_is_no_way_back() {
    let lens = Lens { k1: -0.3, ..Lens::pinhole(1000, 1000, 500.0) };
    // r·(1 − 0.3 r²) never exceeds 0.703, that is, 351 px.
    assert!(lens.normal_from_picture(PixelPoint::new(500.0 + 340.0, 500.0)).is_some());
    assert!(lens.normal_from_picture(PixelPoint::new(500.0 + 360.0, 500.0)).is_none());
}
