//! Least squares for a camera over a table: lens, pose and distortion from points seen on the
//! table's straight lines.
//!
//! Input: picture points in pixels, each said to lie on a line parallel to a table axis at a known
//! height (a cushion nose, the border of the cloth). Output: the camera that puts them there.
//! Method: each point's ray is met with the line's plane; the offset from the line, turned into
//! pixels by the local scale, is the residual. Straight lines that look bowed tell the distortion
//! (plumb-line principle, D. C. Brown 1971). Levenberg–Marquardt on rotation, translation, focal
//! length, k1 and k2, with Gaussian priors on the last three: for a view straight down the focal
//! length and the height trade off, and a prior is all that holds them. Robust by re-weighting
//! (Tukey's biweight). Not modelled: principal point off the middle (to first order a tilt).

use crate::camera::{Camera, Lens, PixelPoint, Pose};
use crate::table::{TablePoint, TableSize};
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn, OMatrix, SMatrix, SVector, U11, UnitQuaternion, Vector3};

/// Number of unknowns: three of rotation, three of translation, focal length, k1, k2, and how far
/// the cushions' cloth ends behind and above the noses.
const UNKNOWNS: usize = 11;
/// Which of them the focal length's logarithm is.
pub(super) const FOCAL: usize = 6;
/// Spread among tables of where a cushion's cloth ends.
const BEHIND_SIGMA_MM: f64 = 5.0;
const ABOVE_SIGMA_MM: f64 = 4.0;

/// Which table coordinate a line holds fixed, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum FixedCoordinate {
    X(f64),
    Y(f64),
}

/// Where the cushions' cloth ends at the rails, from the nose.
#[derive(Debug, Clone, Copy)]
pub(super) struct Border {
    pub behind_mm: f64,
    pub above_mm: f64,
}

impl Border {
    /// That of a common cushion.
    pub const ORDINARY: Self = Self { behind_mm: 49.0, above_mm: 5.0 };
}

/// A picture point seen on a straight line of the table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sighting {
    pub at: PixelPoint,
    pub line: FixedCoordinate,
    /// Height of the line above the cloth.
    pub z_mm: f64,
    /// Standard deviation of the sighting across the line, in pixels.
    pub sigma_px: f64,
    /// Robust weight of the last round, 0 to 1.
    pub weight: f64,
    /// Local scale across the line in the last round.
    px_per_mm: f64,
    /// Whether the point lies on the cushion's border behind the line, not on the line itself.
    behind: bool,
}

impl Sighting {
    pub fn new(at: PixelPoint, line: FixedCoordinate, z_mm: f64, sigma_px: f64) -> Self {
        Self { at, line, z_mm, sigma_px, weight: 1.0, px_per_mm: 0.0, behind: false }
    }

    /// On the border of the cushion behind a nose.
    pub fn behind(at: PixelPoint, nose: FixedCoordinate, z_mm: f64, sigma_px: f64) -> Self {
        Self { behind: true, ..Self::new(at, nose, z_mm, sigma_px) }
    }

    /// Height of what was sighted above the cloth.
    fn height_mm(&self, border: Border) -> f64 {
        if self.behind { self.z_mm + border.above_mm } else { self.z_mm }
    }

    /// Signed distance of a table point from the line.
    fn offset_mm(&self, on_table: TablePoint, border: Border) -> f64 {
        // Lines at zero have the table on their far side, the others on their near side.
        let outward = |at_mm: f64| if at_mm > 0.0 { 1.0 } else { -1.0 };
        let behind_mm = if self.behind { border.behind_mm } else { 0.0 };
        match self.line {
            FixedCoordinate::X(x_mm) => on_table.x_mm - x_mm - outward(x_mm) * behind_mm,
            FixedCoordinate::Y(y_mm) => on_table.y_mm - y_mm - outward(y_mm) * behind_mm,
        }
    }
}

/// What is believed of the lens before anything is seen.
#[derive(Debug, Clone, Copy)]
pub(super) struct LensPrior {
    /// Focal length as a part of the longer picture side, and the spread of its logarithm.
    pub focal_part: f64,
    pub focal_log_sigma: f64,
    /// The radial terms and their spreads.
    pub k1: f64,
    pub k1_sigma: f64,
    pub k2: f64,
    pub k2_sigma: f64,
}

impl LensPrior {
    /// Focal length 0.5 to 1.3 picture sides, mild distortion.
    pub const ORDINARY: Self = Self {
        focal_part: 0.78,
        focal_log_sigma: 0.17,
        k1: 0.0,
        k1_sigma: 0.15,
        k2: 0.0,
        k2_sigma: 0.03,
    };
    /// For the first rounds, when a wrong edge must not be taken for a wrong lens.
    pub const FIRM: Self = Self { focal_log_sigma: 0.08, k2_sigma: 0.001, ..Self::ORDINARY };

    /// The likeliest lens of pictures of a width and height, without distortion.
    pub fn likeliest(&self, (width_px, height_px): (u32, u32)) -> Lens {
        let longer = f64::from(width_px.max(height_px));
        Lens::pinhole(width_px, height_px, longer * self.focal_part)
    }

    /// For a lens that is known: only the pose is left open.
    pub fn known(lens: &Lens) -> Self {
        let longer = f64::from(lens.width_px.max(lens.height_px));
        Self {
            focal_part: lens.focal_px / longer,
            focal_log_sigma: 1e-5,
            k1: lens.k1,
            k1_sigma: 1e-5,
            k2: lens.k2,
            k2_sigma: 1e-5,
        }
    }
}

/// A camera solved from sightings.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    pub camera: Camera,
    pub border: Border,
    /// Robust root mean square of the residuals that kept a weight, in pixels.
    pub rms_px: f64,
    /// Covariance of the unknowns (rotation increment, translation, ln f, k1, k2, border).
    pub covariance: SMatrix<f64, UNKNOWNS, UNKNOWNS>,
}

/// Solves the camera, starting from a guess; the sightings' weights are updated in place.
///
/// `tukey_px` bounds what still counts as the line's own point in the last rounds. None where the
/// solution runs away (the guess was no table).
pub(super) fn solve(
    guess: &Camera,
    sightings: &mut [Sighting],
    prior: &LensPrior,
    tukey_px: f64,
) -> Option<Solved> {
    let mut camera = *guess;
    let mut border = Border::ORDINARY;
    for round in 0..4 {
        // Wide at first: the guess may be far off on one side.
        let reach_px = tukey_px * if round == 0 { 3.0 } else { 1.0 };
        reweigh(&camera, border, sightings, reach_px);
        let problem = Problem::new((camera, border), sightings, *prior);
        let (solved, report) = LevenbergMarquardt::new().with_patience(30).minimize(problem);
        if !report.termination.was_successful() && !report.objective_function.is_finite() {
            return None;
        }
        camera = solved.camera();
        border = solved.border(&solved.step);
        if !(camera.lens.focal_px.is_finite() && camera.pose.translation_mm.norm() < 1e5) {
            return None;
        }
    }
    reweigh(&camera, border, sightings, tukey_px);
    let problem = Problem::new((camera, border), sightings, *prior);
    let residuals = problem.residuals()?;
    let jacobian = problem.jacobian()?;
    let normal = jacobian.tr_mul(&jacobian);
    let normal = SMatrix::<f64, UNKNOWNS, UNKNOWNS>::from_iterator(normal.iter().copied());
    let seen = sightings.len();
    let (mut square_sum, mut weight_sum) = (0.0, 0.0);
    for (sighting, residual) in sightings.iter().zip(residuals.iter().take(seen)) {
        square_sum += (residual * sighting.sigma_px).powi(2);
        weight_sum += sighting.weight;
    }
    let rms_px = (square_sum / weight_sum.max(1.0)).sqrt();
    Some(Solved { camera, border, rms_px, covariance: normal.try_inverse()? })
}

/// Standard deviation of the focal length, as a part of it.
pub(super) fn focal_sigma(solved: &Solved) -> f64 {
    solved.covariance[(FOCAL, FOCAL)].max(0.0).sqrt()
}

/// Root mean square, over the table, of what the camera's errors do to a ball's place; one standard
/// deviation in each direction, in millimetres.
pub(super) fn place_sigma_mm(solved: &Solved, table: &TableSize) -> f64 {
    let Some(factor) = solved.covariance.cholesky() else { return f64::INFINITY };
    let z_mm = table.ball_radius_mm();
    let (mut square, mut count) = (0.0, 0.0);
    for (i, j) in (0..5).flat_map(|i| (0..3).map(move |j| (f64::from(i), f64::from(j)))) {
        let x_mm = (0.04 + 0.23 * i) * table.length_mm;
        let place = TablePoint::new(x_mm, (0.08 + 0.42 * j) * table.width_mm);
        let Some(pixel) = solved.camera.project(place.at_height(z_mm)) else { continue };
        count += 1.0;
        for column in factor.l().column_iter() {
            let moved = stepped(&solved.camera, &column.into_owned());
            if let Some(seen) = moved.table_from_picture(pixel, z_mm) {
                square += seen.distance_mm(place).powi(2) / 2.0;
            }
        }
    }
    // What a slanting view does to the noses' pictures is shared by all sightings of a rail.
    let tilt = solved.camera.pose.tilt_rad().sin();
    let middle = solved.camera.mm_per_px(table.centre_spot(), z_mm).unwrap_or(f64::INFINITY);
    let shared_mm = middle * (0.1 + 2.0 * tilt * tilt);
    (square / f64::max(count, 1.0)).sqrt().hypot(shared_mm)
}

/// Weighs each sighting by its offset from its line under a camera, and notes the local scale.
fn reweigh(camera: &Camera, border: Border, sightings: &mut [Sighting], reach_px: f64) {
    for sighting in sightings {
        let z_mm = sighting.height_mm(border);
        let seen = camera.table_from_picture(sighting.at, z_mm);
        let scale = seen.and_then(|on_table| px_per_mm(camera, sighting, on_table, z_mm));
        let (Some(on_table), Some(px_per_mm)) = (seen, scale) else {
            sighting.weight = 0.0;
            continue;
        };
        sighting.px_per_mm = px_per_mm;
        let part = sighting.offset_mm(on_table, border).abs() * px_per_mm / reach_px;
        sighting.weight = if part < 1.0 { (1.0 - part * part).powi(2) } else { 0.0 };
    }
}

/// How many pixels, at right angles to the line's picture, a millimetre across the line makes.
fn px_per_mm(camera: &Camera, sighting: &Sighting, on_table: TablePoint, z_mm: f64) -> Option<f64> {
    let (dx, dy) = match sighting.line {
        FixedCoordinate::X(_) => (1.0, 0.0),
        FixedCoordinate::Y(_) => (0.0, 1.0),
    };
    let across = TablePoint::new(on_table.x_mm + dx, on_table.y_mm + dy);
    let along = TablePoint::new(on_table.x_mm + dy, on_table.y_mm + dx);
    let across = camera.project(across.at_height(z_mm))?;
    let along = camera.project(along.at_height(z_mm))?;
    let (sx, sy) = (across.x_px - sighting.at.x_px, across.y_px - sighting.at.y_px);
    let (ax, ay) = (along.x_px - sighting.at.x_px, along.y_px - sighting.at.y_px);
    Some((sx * ay - sy * ax).abs() / ax.hypot(ay).max(1e-12))
}

/// The camera moved by a step of the unknowns.
fn stepped(base: &Camera, step: &SVector<f64, UNKNOWNS>) -> Camera {
    let turn = UnitQuaternion::from_scaled_axis(Vector3::new(step[0], step[1], step[2]));
    let zoom = step[FOCAL].clamp(-3.0, 3.0).exp();
    // The distance grows with the focal length, so that zooming alone keeps the table's size in
    // the picture and the two are nearly independent unknowns.
    let mut translation_mm = base.pose.translation_mm;
    translation_mm.z *= zoom;
    translation_mm += 1000.0 * Vector3::new(step[3], step[4], step[5]);
    let lens = Lens {
        focal_px: base.lens.focal_px * zoom,
        k1: base.lens.k1 + step[7],
        k2: base.lens.k2 + step[8],
        ..base.lens
    };
    Camera { lens, pose: Pose { rotation: turn * base.pose.rotation, translation_mm } }
}

struct Problem<'a> {
    base: Camera,
    base_border: Border,
    step: SVector<f64, UNKNOWNS>,
    sightings: &'a [Sighting],
    prior: LensPrior,
}

impl<'a> Problem<'a> {
    fn new(
        (base, base_border): (Camera, Border),
        sightings: &'a [Sighting],
        prior: LensPrior,
    ) -> Self {
        Self { base, base_border, step: SVector::zeros(), sightings, prior }
    }

    fn camera(&self) -> Camera {
        stepped(&self.base, &self.step)
    }

    fn border(&self, step: &SVector<f64, UNKNOWNS>) -> Border {
        Border {
            behind_mm: self.base_border.behind_mm + 100.0 * step[9],
            above_mm: self.base_border.above_mm + 100.0 * step[10],
        }
    }

    fn residuals_at(&self, step: &SVector<f64, UNKNOWNS>) -> DVector<f64> {
        let camera = stepped(&self.base, step);
        let lens = &camera.lens;
        let longer = f64::from(lens.width_px.max(lens.height_px));
        let from_picture = camera.table_from_pictures();
        let border = self.border(step);
        let seen = self.sightings.iter().map(|sighting| {
            if sighting.weight == 0.0 {
                return 0.0;
            }
            let offset_px = from_picture
                .at(sighting.at, sighting.height_mm(border))
                .map_or(1e3, |on_table| sighting.offset_mm(on_table, border) * sighting.px_per_mm);
            offset_px * sighting.weight.sqrt() / sighting.sigma_px
        });
        let prior = &self.prior;
        let held = [
            (lens.focal_px / (longer * prior.focal_part)).ln() / prior.focal_log_sigma,
            (lens.k1 - prior.k1) / prior.k1_sigma,
            (lens.k2 - prior.k2) / prior.k2_sigma,
            (border.behind_mm - Border::ORDINARY.behind_mm) / BEHIND_SIGMA_MM,
            (border.above_mm - Border::ORDINARY.above_mm) / ABOVE_SIGMA_MM,
        ];
        DVector::from_iterator(self.sightings.len() + held.len(), seen.chain(held))
    }
}

impl LeastSquaresProblem<f64, Dyn, U11> for Problem<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, U11>;
    type ParameterStorage = Owned<f64, U11>;

    fn set_params(&mut self, step: &SVector<f64, UNKNOWNS>) {
        self.step = *step;
    }

    fn params(&self) -> SVector<f64, UNKNOWNS> {
        self.step
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some(self.residuals_at(&self.step))
    }

    fn jacobian(&self) -> Option<OMatrix<f64, Dyn, U11>> {
        // Central differences: the unknowns are scaled so that one step length suits all.
        const STEP: f64 = 1e-6;
        let rows = self.sightings.len() + 5;
        let mut jacobian = DMatrix::zeros(rows, UNKNOWNS);
        for column in 0..UNKNOWNS {
            let (mut up, mut down) = (self.step, self.step);
            up[column] += STEP;
            down[column] -= STEP;
            let slope = (self.residuals_at(&up) - self.residuals_at(&down)) / (2.0 * STEP);
            jacobian.set_column(column, &slope);
        }
        Some(OMatrix::<f64, Dyn, U11>::from_iterator(rows, jacobian.iter().copied()))
    }
}
