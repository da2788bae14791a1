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
/// Samples to either side that a slope takes in.
const SLOPE_REACH: usize = 2;
/// Weights of a change of brightness and of hue, squared.
const LIGHT_WEIGHT: f32 = 0.5;
const HUE_WEIGHT: f32 = 1.5;
/// Least change (8-bit colour to the pixel) that is an edge.
const LEAST_EDGE: f32 = 3.0;
/// An edge this strong counts half of the strongest.
const HALF_STRENGTH: f32 = 15.0;
/// How far a proposal may be off, as a part of the radius.
const REACH_PART: f64 = 0.4;
/// An outline is seen a little narrower than the sphere's, since the limb is dark and the lens
/// blurs: the usual widening as a part of the radius, and its standard deviation in pixels.
const WIDENING_PART: f64 = -0.032;
const WIDENING_SIGMA_PX: f64 = 0.2;
/// Standard deviation of one ray's edge, in pixels, before the scatter is known.
const EDGE_SIGMA_PX: f64 = 0.3;

/// How much is believed of the outline's widening beforehand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Widening {
    /// As balls usually show it: for the balls of a table whose size is known.
    Usual,
    /// Nearly nothing: to see how large the balls are.
    Free,
}

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
    widening: Widening,
) -> Option<BallFit> {
    let start = contour(camera, table, near)?;
    let reach_mm = REACH_PART * table.ball_radius_mm();
    let reach_px = 1.1 * REACH_PART * start.radius_px + 1.0;
    let (moved, _) = best_move(&Changes::along(frame, &start, reach_px), &start, reach_mm);
    let mut centre = TablePoint::new(near.x_mm + moved.x, near.y_mm + moved.y);
    let mut widening_px = WIDENING_PART * start.radius_px;
    let mut last = None;
    for reach_px in [2.0, 1.5, 1.2] {
        let contour = contour(camera, table, centre)?;
        let changes = Changes::along(frame, &contour, reach_px + 2.0);
        let edges: [Option<(f64, f64)>; RAYS] = std::array::from_fn(|ray| {
            let (offset_px, strength) = changes.peak(ray, widening_px, reach_px)?;
            Some((offset_px, f64::from(strength / (strength + HALF_STRENGTH))))
        });
        let spread_px = match widening {
            Widening::Usual => WIDENING_SIGMA_PX,
            Widening::Free => 10.0 * WIDENING_SIGMA_PX,
        };
        let step = step(&contour, &edges, (widening_px, spread_px), reach_px)?;
        centre = TablePoint::new(centre.x_mm + step.move_mm.x, centre.y_mm + step.move_mm.y);
        widening_px = step.widening_px;
        if centre.distance_mm(near) > 0.7 * table.ball_diameter_mm {
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

/// How much the colour changes along each ray, sampled about the contour.
struct Changes {
    /// For each ray, from inside to outside; none where the ray leaves the picture.
    rays: Vec<Option<Vec<f32>>>,
    /// Samples to either side of the contour.
    half: usize,
}

impl Changes {
    fn along(frame: &RgbImage, contour: &Contour, reach_px: f64) -> Self {
        let half = (reach_px / STEP_PX).ceil() as usize;
        let count = 2 * (half + SLOPE_REACH) + 1;
        let middle = (half + SLOPE_REACH) as f64;
        let rays = (0..RAYS)
            .map(|ray| {
                let (point, [nx, ny]) = (contour.points[ray], contour.normals[ray]);
                let samples: Vec<[f32; 3]> = (0..count)
                    .map(|i| {
                        let offset_px = (i as f64 - middle) * STEP_PX;
                        let x_px = point.x_px + nx * offset_px;
                        let y_px = point.y_px + ny * offset_px;
                        let colour = colour_at(frame, PixelPoint::new(x_px, y_px))?;
                        Some(colour)
                    })
                    .collect::<Option<_>>()?;
                Some((SLOPE_REACH..count - SLOPE_REACH).map(|i| change(&samples, i)).collect())
            })
            .collect();
        Self { rays, half }
    }

    /// The change at an offset from the contour, between samples.
    fn at(&self, ray: usize, offset_px: f64) -> f32 {
        let Some(Some(changes)) = self.rays.get(ray) else { return 0.0 };
        let place = offset_px / STEP_PX + self.half as f64;
        if !(0.0..(2 * self.half) as f64).contains(&place) {
            return 0.0;
        }
        let low = place as usize;
        let part = (place - low as f64) as f32;
        changes[low] + part * (changes[low + 1] - changes[low])
    }

    /// The strongest change within reach of an offset: where, to a fraction of a sample, and how
    /// strong.
    fn peak(&self, ray: usize, about_px: f64, reach_px: f64) -> Option<(f64, f32)> {
        let changes = self.rays.get(ray)?.as_ref()?;
        let place = about_px / STEP_PX + self.half as f64;
        let reach = reach_px / STEP_PX;
        let first = (place - reach).ceil().max(1.0) as usize;
        let last = ((place + reach).floor().max(0.0) as usize).min(2 * self.half - 1);
        let best = (first..=last)
            .filter(|i| changes[*i] >= changes[*i - 1] && changes[*i] >= changes[*i + 1])
            .max_by(|a, b| changes[*a].total_cmp(&changes[*b]))?;
        let (before, here, after) = (changes[best - 1], changes[best], changes[best + 1]);
        let bend = before - 2.0 * here + after;
        let shift = if bend < 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
        let offset_px = (best as f64 - self.half as f64 + f64::from(shift)) * STEP_PX;
        (here > LEAST_EDGE).then_some((offset_px, here))
    }
}

/// Change of colour to the pixel at a sample. A change toward another hue weighs more than one of
/// brightness alone, which a shadow's edge makes too.
fn change(samples: &[[f32; 3]], at: usize) -> f32 {
    let slope = [0, 1, 2].map(|c| {
        let near = samples[at + 1][c] - samples[at - 1][c];
        let far = samples[at + 2][c] - samples[at - 2][c];
        0.3 * near + 0.35 * far
    });
    let colour = samples[at];
    let dot = |a: [f32; 3], b: [f32; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let light = dot(slope, colour).powi(2) / dot(colour, colour).max(1.0);
    let hue = (dot(slope, slope) - light).max(0.0);
    (LIGHT_WEIGHT * light + HUE_WEIGHT * hue).sqrt()
}

/// The movement of the centre, in mm, for which the contour meets the most edges, each edge
/// counting nearly the same however strong, and how many it meets, 0 to 1.
fn best_move(changes: &Changes, contour: &Contour, reach_mm: f64) -> (Vector2<f64>, f64) {
    let mut best = (Vector2::zeros(), f64::MIN);
    for step_mm in [2.0, 0.7] {
        let from = best.0;
        let steps = if step_mm > 1.0 { (reach_mm / step_mm) as i32 } else { 3 };
        for i in -steps..=steps {
            for j in -steps..=steps {
                let moved = from + Vector2::new(f64::from(i), f64::from(j)) * step_mm;
                let moved_px = contour.jacobian * moved;
                let narrowed_px = WIDENING_PART * contour.radius_px;
                let met: f64 = (0..RAYS)
                    .map(|ray| {
                        let [nx, ny] = contour.normals[ray];
                        let strength =
                            changes.at(ray, nx * moved_px.x + ny * moved_px.y + narrowed_px);
                        f64::from(strength / (strength + HALF_STRENGTH))
                    })
                    .sum();
                if met > best.1 {
                    best = (moved, met);
                }
            }
        }
    }
    (best.0, best.1 / RAYS as f64)
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
    (widening_px, spread_px): (f64, f64),
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
    normal[(2, 2)] += spread_px.powi(-2);
    right[2] += WIDENING_PART * contour.radius_px * spread_px.powi(-2);
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
