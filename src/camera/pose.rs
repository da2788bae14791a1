//! Where a camera stands over the table, and the way between table points and pixels.

use super::{Lens, PixelPoint};
use crate::table::{SpacePoint, TablePoint};
use nalgebra::{Matrix3, Rotation3, UnitQuaternion, Vector3};
use serde::{Deserialize, Serialize};

/// A rigid motion: camera point = rotation · table point + translation (mm).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pose {
    /// Rotation of `camera_from_table`.
    pub rotation: UnitQuaternion<f64>,
    /// The table's origin in the camera frame, in millimetres.
    pub translation_mm: Vector3<f64>,
}

impl Pose {
    /// From the camera's place in the table frame and its viewing and upward directions.
    pub fn looking(position: SpacePoint, forward: [f64; 3], up: [f64; 3]) -> Self {
        let forward = Vector3::from(forward).normalize();
        let right = forward.cross(&Vector3::from(up)).normalize();
        let down = forward.cross(&right);
        let matrix =
            Matrix3::from_rows(&[right.transpose(), down.transpose(), forward.transpose()]);
        let rotation =
            UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(matrix));
        let position = Vector3::new(position.x_mm, position.y_mm, position.z_mm);
        Self { rotation, translation_mm: -(rotation * position) }
    }

    /// The camera's centre in the table frame.
    pub fn position(&self) -> SpacePoint {
        let c = -(self.rotation.inverse() * self.translation_mm);
        SpacePoint { x_mm: c.x, y_mm: c.y, z_mm: c.z }
    }

    /// A table-frame point in the camera frame, in millimetres.
    pub fn camera_from_table(&self, point: SpacePoint) -> Vector3<f64> {
        self.rotation * Vector3::new(point.x_mm, point.y_mm, point.z_mm) + self.translation_mm
    }

    /// Angle between the viewing direction and straight down.
    pub fn tilt_rad(&self) -> f64 {
        let forward = self.rotation.inverse() * Vector3::z();
        (-forward.z).clamp(-1.0, 1.0).acos()
    }
}

/// Lens and pose together.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Camera {
    pub lens: Lens,
    pub pose: Pose,
}

impl Camera {
    /// The picture of a point; none where it lies behind the camera.
    pub fn project(&self, point: SpacePoint) -> Option<PixelPoint> {
        let p = self.pose.camera_from_table(point);
        (p.z > 1.0).then(|| self.lens.picture_from_normal([p.x / p.z, p.y / p.z]))
    }

    /// Where the ray through a picture point meets the plane `z_mm` above the cloth; none where
    /// it does not come down to it. For many points use [`table_from_pictures`](Self::table_from_pictures).
    pub fn table_from_picture(&self, point: PixelPoint, z_mm: f64) -> Option<TablePoint> {
        self.table_from_pictures().at(point, z_mm)
    }

    /// The way from many picture points to the table, with what they share worked out once.
    pub fn table_from_pictures(&self) -> TableFromPicture {
        TableFromPicture {
            lens: self.lens,
            table_from_camera: self.pose.rotation.inverse().to_rotation_matrix(),
            from: self.pose.position(),
        }
    }

    /// Size of a pixel on the plane `z_mm` at a table point, in millimetres: the larger of the
    /// two directions.
    pub fn mm_per_px(&self, at: TablePoint, z_mm: f64) -> Option<f64> {
        let here = self.project(at.at_height(z_mm))?;
        let right = self.table_from_picture(PixelPoint::new(here.x_px + 1.0, here.y_px), z_mm)?;
        let below = self.table_from_picture(PixelPoint::new(here.x_px, here.y_px + 1.0), z_mm)?;
        Some(at.distance_mm(right).max(at.distance_mm(below)))
    }
}

/// The way from a camera's picture points to the table.
#[derive(Debug, Clone, Copy)]
pub struct TableFromPicture {
    lens: Lens,
    table_from_camera: Rotation3<f64>,
    from: SpacePoint,
}

impl TableFromPicture {
    /// Where the ray through a picture point meets the plane `z_mm` above the cloth; none where
    /// it does not come down to it.
    pub fn at(&self, point: PixelPoint, z_mm: f64) -> Option<TablePoint> {
        let [x, y] = self.lens.normal_from_picture(point)?;
        let ray = self.table_from_camera * Vector3::new(x, y, 1.0);
        let along = (z_mm - self.from.z_mm) / ray.z;
        (along > 0.0 && along.is_finite()).then(|| {
            TablePoint::new(self.from.x_mm + along * ray.x, self.from.y_mm + along * ray.y)
        })
    }
}
