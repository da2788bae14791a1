//! The centre of a ball, from its outline.
//!
//! Input: a frame, a calibration, a place good to some millimetres. Output: the centre in the
//! table frame with its covariance, and how much of the outline was seen. Method: with camera,
//! radius and height known a ball has two unknowns; its outline is the contour of the cone from
//! the camera's centre that touches the sphere. At rays across that contour the steepest change of
//! colour is located to a fraction of a pixel, and Gauss–Newton moves the centre (and a common
//! widening, which takes up blur) until contour and edges agree, with Tukey weights so that a
//! touching neighbour, the highlight and the shadow drop out. Not modelled: how the lens blurs.

use super::pixels::colour_at;
use crate::camera::{Camera, PixelPoint};
use crate::table::{SpacePoint, TablePoint, TableSize};
use image::RgbImage;
use nalgebra::{Matrix2, Matrix3, Vector2, Vector3};

/// Rays across the contour.
const RAYS: usize = 48;
/// Step along a ray, in pixels.
const STEP_PX: f64 = 0.5;
/// Samples to either side of the contour.
const HALF: usize = 9;
/// Least change of colour (8-bit units to the pixel, over the three channels) that is an edge.
const LEAST_EDGE: f32 = 5.0;
/// The contour may be seen wider or narrower by blur, one standard deviation in pixels.
const WIDENING_SIGMA_PX: f64 = 0.35;
/// Standard deviation of one ray's edge, in pixels, before the scatter is known.
const EDGE_SIGMA_PX: f64 = 0.3;

/// A ball's outline fitted to a frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct BallFit {
    pub centre: TablePoint,
    /// Covariance of the centre in mm², from the scatter of the edges.
    pub covariance_mm2: Matrix2<f64>,
    /// How much wider than the model the outline is seen, in pixels.
    pub widening_px: f64,
    /// Mean radius of the outline in the picture, in pixels.
    pub radius_px: f64,
    /// Part of the rays with an edge on the outline.
    pub seen: f64,
    /// Root mean square distance of those edges from the outline, in pixels.
    pub rms_px: f64,
}

/// The contour of a sphere as the camera sees it.
struct Contour {
    points: [PixelPoint; RAYS],
    /// Outward unit normals.
    normals: [[f64; 2]; RAYS],
    /// Pixels to a millimetre of the centre's movement in x and y.
    jacobian: Matrix2<f64>,
    radius_px: f64,
}

/// Fits a ball near a place; none where it runs away or lies outside the picture.
pub(super) fn fit(
    frame: &RgbImage,
    camera: &Camera,
    table: &TableSize,
    near: TablePoint,
) -> Option<BallFit> {
    let mut centre = near;
    let mut widening_px = 0.0;
    let mut last = None;
    for (round, reach_px) in [4.0, 3.0, 2.0, 1.5, 1.5].into_iter().enumerate() {
        let contour = contour(camera, table, centre)?;
        let reach_px = f64::min(reach_px, 0.3 * contour.radius_px);
        let edges = edges(frame, &contour, (widening_px, reach_px));
        let tukey_px = if round < 2 { reach_px } else { 1.2 };
        let step = step(&contour, &edges, widening_px, tukey_px)?;
        centre = TablePoint::new(centre.x_mm + step.move_mm.x, centre.y_mm + step.move_mm.y);
        widening_px = step.widening_px;
        if centre.distance_mm(near) > 0.5 * table.ball_diameter_mm {
            return None;
        }
        last = Some(BallFit {
            centre,
            covariance_mm2: step.covariance_mm2,
            widening_px,
            radius_px: contour.radius_px,
            seen: step.seen,
            rms_px: step.rms_px,
        });
    }
    last
}

fn contour(camera: &Camera, table: &TableSize, centre: TablePoint) -> Option<Contour> {
    let radius_mm = table.ball_radius_mm();
    let eye = camera.pose.position();
    let at = Vector3::new(centre.x_mm, centre.y_mm, radius_mm);
    let from_eye = at - Vector3::new(eye.x_mm, eye.y_mm, eye.z_mm);
    let distance2 = from_eye.norm_squared();
    if distance2 < 4.0 * radius_mm * radius_mm {
        return None;
    }
    // The touching points form a circle nearer to the eye than the centre.
    let circle = at - from_eye * (radius_mm * radius_mm / distance2);
    let circle_mm = radius_mm * (1.0 - radius_mm * radius_mm / distance2).sqrt();
    let sight = from_eye / distance2.sqrt();
    let first = sight.cross(&Vector3::x()).normalize();
    let second = sight.cross(&first);
    let project = |p: Vector3<f64>| camera.project(SpacePoint { x_mm: p.x, y_mm: p.y, z_mm: p.z });
    let mut points = [PixelPoint::new(0.0, 0.0); RAYS];
    for (ray, point) in points.iter_mut().enumerate() {
        let (sin, cos) = (ray as f64 / RAYS as f64 * std::f64::consts::TAU).sin_cos();
        *point = project(circle + circle_mm * (cos * first + sin * second))?;
    }
    let middle = project(at)?;
    let east = project(at + Vector3::new(1.0, 0.0, 0.0))?;
    let north = project(at + Vector3::new(0.0, 1.0, 0.0))?;
    let jacobian = Matrix2::new(
        east.x_px - middle.x_px,
        north.x_px - middle.x_px,
        east.y_px - middle.y_px,
        north.y_px - middle.y_px,
    );
    let mut normals = [[0.0; 2]; RAYS];
    let mut radius_px = 0.0;
    for (ray, normal) in normals.iter_mut().enumerate() {
        let before = points[(ray + RAYS - 1) % RAYS];
        let after = points[(ray + 1) % RAYS];
        let (tx, ty) = (after.x_px - before.x_px, after.y_px - before.y_px);
        let length = tx.hypot(ty).max(1e-9);
        let outward = (points[ray].x_px - middle.x_px) * ty - (points[ray].y_px - middle.y_px) * tx;
        let sign = if outward > 0.0 { 1.0 } else { -1.0 };
        *normal = [sign * ty / length, -sign * tx / length];
        radius_px += points[ray].distance_px(middle) / RAYS as f64;
    }
    Some(Contour { points, normals, jacobian, radius_px })
}

/// For each ray the edge's distance outward from the contour, and its weight by strength.
fn edges(
    frame: &RgbImage,
    contour: &Contour,
    (widening_px, reach_px): (f64, f64),
) -> [Option<(f64, f64)>; RAYS] {
    let mut edges = [None; RAYS];
    for (ray, edge) in edges.iter_mut().enumerate() {
        let (point, [nx, ny]) = (contour.points[ray], contour.normals[ray]);
        let mut samples = [[0.0_f32; 3]; 2 * HALF + 1];
        let mut whole = true;
        for (i, sample) in samples.iter_mut().enumerate() {
            let offset_px = (i as f64 - HALF as f64) * STEP_PX + widening_px;
            let at = PixelPoint::new(point.x_px + nx * offset_px, point.y_px + ny * offset_px);
            match colour_at(frame, at) {
                Some(colour) => *sample = colour,
                None => whole = false,
            }
        }
        if !whole {
            continue;
        }
        // Slope over two steps to either side: a pixel's width, smoothed.
        let mut slope = [0.0_f32; 2 * HALF + 1];
        for i in 2..samples.len() - 2 {
            slope[i] = (0..3)
                .map(|c| {
                    let near = samples[i + 1][c] - samples[i - 1][c];
                    let far = samples[i + 2][c] - samples[i - 2][c];
                    let change = 0.3 * near + 0.35 * far;
                    change * change
                })
                .sum::<f32>()
                .sqrt();
        }
        let reach = ((reach_px / STEP_PX) as usize).min(HALF - 3);
        let best = (HALF - reach..=HALF + reach)
            .filter(|i| slope[*i] >= slope[*i - 1] && slope[*i] >= slope[*i + 1])
            .max_by(|a, b| slope[*a].total_cmp(&slope[*b]));
        let Some(best) = best.filter(|best| slope[*best] > LEAST_EDGE) else { continue };
        let (before, here, after) = (slope[best - 1], slope[best], slope[best + 1]);
        let bend = before - 2.0 * here + after;
        let shift = if bend < 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
        let offset_px = (best as f64 - HALF as f64 + f64::from(shift)) * STEP_PX + widening_px;
        let weight = f64::from((here / 40.0).min(1.0));
        *edge = Some((offset_px, weight));
    }
    edges
}

struct Step {
    move_mm: Vector2<f64>,
    widening_px: f64,
    covariance_mm2: Matrix2<f64>,
    seen: f64,
    rms_px: f64,
}

/// One Gauss–Newton step from the edges; unknowns are the movement in mm and the widening in px.
fn step(
    contour: &Contour,
    edges: &[Option<(f64, f64)>; RAYS],
    widening_px: f64,
    tukey_px: f64,
) -> Option<Step> {
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    let precision = EDGE_SIGMA_PX.powi(-2);
    let (mut square, mut weight_sum, mut seen) = (0.0, 0.0, 0.0);
    for (ray, edge) in edges.iter().enumerate() {
        let Some((offset_px, strength)) = *edge else { continue };
        let part = (offset_px - widening_px) / tukey_px;
        if part.abs() >= 1.0 {
            continue;
        }
        let weight = strength * (1.0 - part * part).powi(2);
        let [nx, ny] = contour.normals[ray];
        let row = contour.jacobian.transpose() * Vector2::new(nx, ny);
        let row = Vector3::new(row.x, row.y, 1.0);
        normal += row * row.transpose() * (weight * precision);
        right += row * (offset_px * weight * precision);
        square += weight * (offset_px - widening_px).powi(2);
        weight_sum += weight;
        seen += 1.0;
    }
    if seen < 8.0 {
        return None;
    }
    normal[(2, 2)] += WIDENING_SIGMA_PX.powi(-2);
    let inverse = normal.try_inverse()?;
    let solved = inverse * right;
    let rms_px = (square / f64::max(weight_sum, 1e-9)).sqrt();
    // Neighbouring rays share pixels: about three make one independent edge.
    let scatter = 3.0 * (rms_px.max(0.05) / EDGE_SIGMA_PX).powi(2);
    Some(Step {
        move_mm: Vector2::new(solved.x, solved.y),
        widening_px: solved.z,
        covariance_mm2: inverse.fixed_view::<2, 2>(0, 0) * scatter,
        seen: seen / RAYS as f64,
        rms_px,
    })
}
