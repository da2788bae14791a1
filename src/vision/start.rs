//! From the pictures of a rectangle's corners to a first camera.
//!
//! Input: the picture of a rectangle's corners and its size. Output: the plane's homography, or a
//! camera without distortion. Method: direct linear transformation; for the camera, the columns of
//! the homography made orthonormal (Z. Zhang, "A flexible new technique for camera calibration",
//! 2000, §3.1). Only a start for `bundle`.

use crate::camera::{Camera, Lens, PixelPoint, Pose};
use crate::table::{TablePoint, TableSize};
use nalgebra::{Matrix3, Rotation3, SMatrix, SVector, UnitQuaternion, Vector3};

/// A plane of the table as a flat picture shows it: metres from the table's middle to any plane
/// coordinates.
#[derive(Debug, Clone, Copy)]
pub(super) struct PlaneMap {
    middle: TablePoint,
    matrix: Matrix3<f64>,
}

impl PlaneMap {
    /// The map that takes four table points to four places.
    pub fn new(table: &TableSize, pairs: &[(TablePoint, [f64; 2]); 4]) -> Option<Self> {
        let middle = table.centre_spot();
        let mut matrix = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        for (i, (point, [u, v])) in pairs.iter().enumerate() {
            // Metres from the middle keep the system well scaled.
            let (x, y) = ((point.x_mm - middle.x_mm) / 1e3, (point.y_mm - middle.y_mm) / 1e3);
            let along = SVector::<f64, 8>::from([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y]);
            let across = SVector::<f64, 8>::from([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y]);
            matrix.set_row(2 * i, &along.transpose());
            matrix.set_row(2 * i + 1, &across.transpose());
            right[2 * i] = *u;
            right[2 * i + 1] = *v;
        }
        let h = matrix.lu().solve(&right)?;
        let matrix = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
        Some(Self { middle, matrix })
    }

    /// The place of a table point; none beyond the horizon.
    pub fn place(&self, point: TablePoint) -> Option<[f64; 2]> {
        let (x, y) = (point.x_mm - self.middle.x_mm, point.y_mm - self.middle.y_mm);
        let p = self.matrix * Vector3::new(x / 1e3, y / 1e3, 1.0);
        (p.z > 1e-6).then(|| [p.x / p.z, p.y / p.z])
    }
}

/// A camera that sees the corners of the noses, in the order of [`TableSize::corners`], about where they
/// are; none as with [`camera_from_points`].
pub(super) fn camera_from_corners(
    table: &TableSize,
    corners_px: [PixelPoint; 4],
    lens: Lens,
) -> Option<Camera> {
    let ([p, q, r, s], [a, b, c, d]) = (table.corners(), corners_px);
    let pairs = [(p, a), (q, b), (r, c), (s, d)];
    camera_from_points(table, &pairs, table.nose_height_mm(), lens)
}

/// A camera that sees four points on the plane `z_mm` about where they are; none where it would
/// have to look from below.
pub(super) fn camera_from_points(
    table: &TableSize,
    pairs: &[(TablePoint, PixelPoint); 4],
    z_mm: f64,
    lens: Lens,
) -> Option<Camera> {
    let mut normal = [(TablePoint::new(0.0, 0.0), [0.0; 2]); 4];
    for (normal, (point, pixel)) in normal.iter_mut().zip(pairs) {
        *normal = (*point, lens.normal_from_picture(*pixel)?);
    }
    let map = PlaneMap::new(table, &normal)?;
    let [first, second, third] = [0, 1, 2].map(|i| map.matrix.column(i).into_owned());
    let scale = 2.0 / (first.norm() + second.norm());
    let (r1, r2, middle_m) = (first * scale, second * scale, third * scale);
    let svd = Matrix3::from_columns(&[r1, r2, r1.cross(&r2)]).svd(true, true);
    let rotation = Rotation3::from_matrix_unchecked(svd.u? * svd.v_t?);
    let rotation = UnitQuaternion::from_rotation_matrix(&rotation);
    let lift = rotation * Vector3::new(map.middle.x_mm, map.middle.y_mm, z_mm);
    let pose = Pose { rotation, translation_mm: middle_m * 1e3 - lift };
    (pose.position().z_mm > 300.0).then_some(Camera { lens, pose })
}
