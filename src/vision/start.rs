//! From four corners of a rectangle to a first camera.
//!
//! Input: the picture of a rectangle's corners, its size, a focal length. Output: a camera without
//! distortion. Method: the plane's homography by direct linear transformation, its columns made
//! orthonormal (Z. Zhang, "A flexible new technique for camera calibration", 2000, §3.1). Only a
//! start for `bundle`.

use crate::camera::{Camera, Lens, PixelPoint, Pose};
use crate::table::{TablePoint, TableSize};
use nalgebra::{Matrix3, Rotation3, SMatrix, SVector, UnitQuaternion, Vector3};

/// A camera that sees the corners of a table's nose rectangle, widened by `border_mm` and lifted
/// to `z_mm`, about where they are; none where it would have to look from below.
pub(super) fn camera_from_corners(
    corners_px: &[PixelPoint; 4],
    table: &TableSize,
    (border_mm, z_mm): (f64, f64),
    lens: Lens,
) -> Option<Camera> {
    let middle = TablePoint::new(table.length_mm / 2.0, table.width_mm / 2.0);
    let mut matrix = SMatrix::<f64, 8, 8>::zeros();
    let mut right = SVector::<f64, 8>::zeros();
    for (i, (corner, pixel)) in table.corners().iter().zip(corners_px).enumerate() {
        // Metres from the middle keep the system well scaled.
        let x = (corner.x_mm - middle.x_mm + border_mm.copysign(corner.x_mm - middle.x_mm)) / 1e3;
        let y = (corner.y_mm - middle.y_mm + border_mm.copysign(corner.y_mm - middle.y_mm)) / 1e3;
        let [u, v] = lens.normal_from_picture(*pixel)?;
        let rows = [[x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y], [
            0.0,
            0.0,
            0.0,
            x,
            y,
            1.0,
            -v * x,
            -v * y,
        ]];
        for (k, row) in rows.iter().enumerate() {
            matrix.set_row(2 * i + k, &SVector::<f64, 8>::from_row_slice(row).transpose());
        }
        right[2 * i] = u;
        right[2 * i + 1] = v;
    }
    let h = matrix.lu().solve(&right)?;
    let (first, second) = (Vector3::new(h[0], h[3], h[6]), Vector3::new(h[1], h[4], h[7]));
    let third = Vector3::new(h[2], h[5], 1.0);
    let scale = 2.0 / (first.norm() + second.norm());
    let (r1, r2, middle_m) = (first * scale, second * scale, third * scale);
    let svd = Matrix3::from_columns(&[r1, r2, r1.cross(&r2)]).svd(true, true);
    let rotation = Rotation3::from_matrix_unchecked(svd.u? * svd.v_t?);
    if rotation.matrix().determinant() < 0.0 {
        return None;
    }
    let rotation = UnitQuaternion::from_rotation_matrix(&rotation);
    let lift = rotation * Vector3::new(middle.x_mm, middle.y_mm, z_mm);
    let pose = Pose { rotation, translation_mm: middle_m * 1e3 - lift };
    (pose.position().z_mm > 300.0).then_some(Camera { lens, pose })
}
