//! The outline of a ball in the picture.
//!
//! A ball of radius R whose centre lies d from the camera's centre is touched by a cone of rays
//! with half angle asin(R/d) around the ray to its centre. Each ray of the cone goes through the
//! lens by itself, so the outline is exact under any distortion. Not modelled: a rolling shutter.
//! It degenerates where the camera is inside the ball or the cone reaches behind the camera:
//! then there is no outline.

use super::{Camera, PixelPoint};
use crate::table::TablePoint;
use nalgebra::Vector3;
use std::f64::consts::TAU;

impl Camera {
    /// `count` points around the outline of a ball lying on the cloth, at equal angles about the
    /// ray to its centre; empty where the whole ball is not in front of the camera.
    pub fn ball_outline(
        &self,
        centre: TablePoint,
        radius_mm: f64,
        count: usize,
    ) -> Vec<PixelPoint> {
        let middle = self.pose.camera_from_table(centre.at_height(radius_mm));
        let distance_mm = middle.norm();
        let sin = radius_mm / distance_mm;
        if !(0.0..1.0).contains(&sin) {
            return Vec::new();
        }
        let cos = (1.0 - sin * sin).sqrt();
        let axis = middle / distance_mm;
        // Any direction that is not the axis serves to span the cone; in a picture x is one.
        let across = axis.cross(&Vector3::x());
        let across = if across.norm() > 1e-6 { across } else { axis.cross(&Vector3::y()) };
        let across = across.normalize();
        let other = axis.cross(&across);
        let rays = (0..count).map(|i| {
            let (s, c) = (i as f64 / count as f64 * TAU).sin_cos();
            cos * axis + sin * (c * across + s * other)
        });
        let points: Vec<_> = rays
            .filter(|ray| ray.z > 1e-6)
            .map(|ray| self.lens.picture_from_normal([ray.x / ray.z, ray.y / ray.z]))
            .collect();
        if points.len() == count { points } else { Vec::new() }
    }
}

#[cfg(test)]
mod tests {
    use crate::camera::{Camera, Lens, PixelPoint, Pose};
    use crate::table::{SpacePoint, TablePoint};
    use nalgebra::Vector3;
    use proptest::prelude::*;

    fn camera(x_mm: f64, z_mm: f64, lean: f64, k1: f64) -> Camera {
        let position = SpacePoint { x_mm, y_mm: 500.0, z_mm };
        let pose = Pose::looking(position, [0.1, lean, -1.0], [0.0, 1.0, 0.2]);
        let lens = Lens { k1, k2: 0.004, ..Lens::pinhole(1920, 1080, 1400.0) };
        Camera { lens, pose }
    }

    /// The ray through a picture point, in the table frame.
    fn ray(camera: &Camera, point: PixelPoint) -> Vector3<f64> {
        let [x, y] = camera.lens.normal_from_picture(point).unwrap();
        (camera.pose.rotation.inverse() * Vector3::new(x, y, 1.0)).normalize()
    }

    proptest! {
        #[test]
        fn every_ray_touches_the_ball(
            x in 600.0..1900.0_f64,
            y in 200.0..1000.0_f64,
            z_mm in 1800.0..3500.0_f64,
            lean in -0.3..0.3_f64,
            k1 in -0.08..0.03_f64,
        ) {
            let camera = camera(1270.0, z_mm, lean, k1);
            let radius_mm = 28.575;
            let from = camera.pose.position();
            let from = Vector3::new(from.x_mm, from.y_mm, from.z_mm);
            let centre = Vector3::new(x, y, radius_mm);
            let outline = camera.ball_outline(TablePoint::new(x, y), radius_mm, 48);
            prop_assert_eq!(outline.len(), 48);
            for point in &outline {
                let missed_mm = (centre - from).cross(&ray(&camera, *point)).norm();
                prop_assert!((missed_mm - radius_mm).abs() < 1e-6, "{} mm", missed_mm);
            }
            // It runs around the centre's picture, and its points are spread all around.
            let middle = camera.project(SpacePoint { x_mm: x, y_mm: y, z_mm: radius_mm }).unwrap();
            let angle = |p: &PixelPoint| (p.y_px - middle.y_px).atan2(p.x_px - middle.x_px);
            let mut angles: Vec<f64> = outline.iter().map(angle).collect();
            angles.sort_by(f64::total_cmp);
            for pair in angles.windows(2) {
                prop_assert!(pair[1] - pair[0] < 0.3, "a gap in the outline");
            }
        }
    }

    #[test]
    fn straight_below_it_is_a_circle_of_the_known_size() {
        let position = SpacePoint { x_mm: 700.0, y_mm: 500.0, z_mm: 2028.575 };
        let pose = Pose::looking(position, [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]);
        let camera = Camera { lens: Lens::pinhole(1000, 800, 1000.0), pose };
        let outline = camera.ball_outline(TablePoint::new(700.0, 500.0), 28.575, 12);
        // tan(asin(R/d)), not R/d.
        let wanted_px = 1000.0 * (28.575_f64 / 2000.0).asin().tan();
        for point in outline {
            let radius_px = point.distance_px(PixelPoint::new(500.0, 400.0));
            assert!((radius_px - wanted_px).abs() < 1e-9);
        }
    }

    #[test]
    fn no_outline_where_the_ball_is_not_in_front() {
        let camera = camera(1270.0, 2500.0, 0.0, 0.0);
        assert!(camera.ball_outline(TablePoint::new(1270.0, 500.0), 4000.0, 16).is_empty());
        let up = Camera {
            pose: Pose::looking(camera.pose.position(), [0.0, 0.0, 1.0], [0.0, 1.0, 0.0]),
            ..camera
        };
        assert!(up.ball_outline(TablePoint::new(1270.0, 500.0), 28.0, 16).is_empty());
    }
}
