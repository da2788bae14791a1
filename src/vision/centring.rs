//! A ball's centre by trained networks, where edges alone mislead.
//!
//! Input: a frame, a camera, proposed centres. Output: for each the centre in the table frame, its
//! covariance and how sure it is that a ball lies there. Method: around each proposal a patch is
//! cut in which the expected outline is a circle of fixed size (`patch`), so that geometry has done
//! its part; a network says how far off the true centre is, in radii, and how sure it is. A small
//! one looks at every proposal at half the size: most are no ball, and the others it brings nearer.
//! A larger one looks once more at what is likely a ball, in all four quarter turns, and the mean
//! is taken: its errors have little to do with which way is up, so they shrink. Trained on made pictures of widely varied
//! light, cloth and ball sets, see models/centring/README.md. Not modelled: anything farther off
//! than half a radius.

use super::net::{Net, NetError};
use super::patch::{self, OutlineMap};
use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use image::RgbImage;
use nalgebra::{Matrix2, Vector2};

/// Side of the larger network's patch in pixels, and of the small one's.
const SIDE_PX: usize = 40;
const SPOTTING_SIDE_PX: usize = 20;
/// How many radii a patch reaches.
const REACH_RADII: f64 = 20.0 / 11.0;
/// Quarter turns in which the larger network looks at a patch.
const TURNS: usize = 4;
/// The first look is this sure of a ball before the second takes the trouble.
const LIKELY: f64 = 0.3;
/// A step is held to this, in radii.
const MOST_STEP_RADII: f64 = 0.6;

/// A ball's centre as the network sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Centred {
    pub centre: TablePoint,
    pub covariance_mm2: Matrix2<f64>,
    /// How sure it is that a ball's centre lies here, 0 to 1.
    pub ball: f64,
}

/// The networks, ready to run.
pub(super) struct Centring {
    spotting: Net,
    centring: Net,
}

impl Centring {
    pub fn new() -> Result<Self, NetError> {
        static SPOTTING: &[u8] = include_bytes!("../../models/ball_spotting.onnx");
        static CENTRING: &[u8] = include_bytes!("../../models/ball_centring.onnx");
        Ok(Self {
            spotting: Net::read("ball_spotting", SPOTTING, SPOTTING_SIDE_PX)?,
            centring: Net::read("ball_centring", CENTRING, SIDE_PX)?,
        })
    }

    /// Refines each proposal; none where it lies outside the picture.
    pub fn refine(
        &self,
        frame: &RgbImage,
        scene: (&Camera, &TableSize),
        proposals: &[TablePoint],
    ) -> Result<Vec<Option<Centred>>, NetError> {
        let spotted = look(&self.spotting, frame, scene, (proposals, 1))?;
        let likely = |seen: &Option<Centred>| seen.filter(|seen| seen.ball > LIKELY);
        let nearer: Vec<TablePoint> =
            spotted.iter().filter_map(likely).map(|seen| seen.centre).collect();
        let mut centred = look(&self.centring, frame, scene, (&nearer, TURNS))?.into_iter();
        // What is no ball at first sight stays what it was.
        let refined = |seen: Option<Centred>| match likely(&seen) {
            Some(_) => centred.next().flatten(),
            None => seen,
        };
        Ok(spotted.into_iter().map(refined).collect())
    }
}

/// What a network says of some places, each looked at in so many quarter turns; none where one
/// lies outside the picture.
fn look(
    net: &Net,
    frame: &RgbImage,
    (camera, table): (&Camera, &TableSize),
    (places, turns): (&[TablePoint], usize),
) -> Result<Vec<Option<Centred>>, NetError> {
    let maps: Vec<Option<OutlineMap>> =
        places.iter().map(|at| OutlineMap::of(camera, table, *at)).collect();
    let mut patches = Vec::new();
    for map in maps.iter().flatten() {
        let mut patch = patch::cut(frame, map, net.side(), REACH_RADII);
        for _ in 1..turns {
            let turned = quarter_turned(&patch, net.side());
            patches.append(&mut patch);
            patch = turned;
        }
        patches.append(&mut patch);
    }
    let rows = net.rows(patches)?;
    let mut rows = rows.chunks_exact(turns);
    Ok(places
        .iter()
        .zip(&maps)
        .map(|(at, map)| {
            let map = map.as_ref()?;
            placed(camera, table, (*at, map), &Reading::mean(rows.next()?)?)
        })
        .collect())
}

/// What a network says of a patch, lengths in radii.
struct Reading {
    step: Vector2<f64>,
    covariance: Matrix2<f64>,
    logit: f64,
}

impl Reading {
    /// From a row of a network's output: dx, dy, log scale of x, log scale of y given x, pull of
    /// x on y, logit of a ball.
    fn of(row: &[f32]) -> Option<Self> {
        let [dx, dy, log_x, log_y, pull, logit] = row.first_chunk::<6>()?.map(f64::from);
        let (scale_x, scale_y) = (log_x.clamp(-7.0, 3.0).exp(), log_y.clamp(-7.0, 3.0).exp());
        let factor = Matrix2::new(scale_x, 0.0, pull * scale_y, scale_y);
        Some(Self { step: Vector2::new(dx, dy), covariance: factor * factor.transpose(), logit })
    }

    /// The mean of the rows of a patch, each row's patch one quarter turn further.
    fn mean(rows: &[Vec<f32>]) -> Option<Self> {
        let back = Matrix2::new(0.0, -1.0, 1.0, 0.0);
        let (mut turn, share) = (Matrix2::identity(), 1.0 / rows.len() as f64);
        let (mut step, mut covariance, mut logit) = (Vector2::zeros(), Matrix2::zeros(), 0.0);
        for row in rows {
            let reading = Self::of(row)?;
            step += turn * reading.step * share;
            covariance += turn * reading.covariance * turn.transpose() * share;
            logit += reading.logit * share;
            turn = back * turn;
        }
        Some(Self { step, covariance, logit })
    }
}

/// A patch turned by a quarter, its right side up.
fn quarter_turned(patch: &[f32], side: usize) -> Vec<f32> {
    let mut turned = Vec::with_capacity(patch.len());
    for plane in patch.chunks_exact(side * side) {
        for column in (0..side).rev() {
            turned.extend(plane.iter().skip(column).step_by(side));
        }
    }
    turned
}

/// A reading taken to the table.
fn placed(
    camera: &Camera,
    table: &TableSize,
    (place, map): (TablePoint, &OutlineMap),
    reading: &Reading,
) -> Option<Centred> {
    let mut step = reading.step;
    if step.norm() > MOST_STEP_RADII {
        step *= MOST_STEP_RADII / step.norm();
    }
    // Pixels to millimetres at the ball's height, by the camera's own slope there.
    let z_mm = table.ball_radius_mm();
    let here = camera.project(place.at_height(z_mm))?;
    let picture = |x_mm: f64, y_mm: f64| {
        let moved = TablePoint::new(place.x_mm + x_mm, place.y_mm + y_mm);
        let p = camera.project(moved.at_height(z_mm))?;
        Some(Vector2::new(p.x_px - here.x_px, p.y_px - here.y_px))
    };
    let px_from_mm = Matrix2::from_columns(&[picture(1.0, 0.0)?, picture(0.0, 1.0)?]);
    let mm_from_radii = px_from_mm.try_inverse()? * map.matrix;
    let moved = mm_from_radii * step;
    Some(Centred {
        centre: TablePoint::new(place.x_mm + moved.x, place.y_mm + moved.y),
        covariance_mm2: mm_from_radii * reading.covariance * mm_from_radii.transpose(),
        ball: 1.0 / (1.0 + (-reading.logit).exp()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_quarter_turns_come_back_and_one_puts_the_right_side_up() {
        let patch: Vec<f32> = (0..3 * SIDE_PX * SIDE_PX).map(|i| i as f32).collect();
        let once = quarter_turned(&patch, SIDE_PX);
        assert_eq!(once[0], patch[SIDE_PX - 1], "the upper right corner goes to the upper left");
        let again = (1..TURNS).fold(once, |patch, _| quarter_turned(&patch, SIDE_PX));
        assert_eq!(again, patch);
    }

    #[test]
    fn readings_of_turned_patches_agree_once_turned_back() {
        // The same step and spread as each quarter turn shows them: (x, y) becomes (y, −x).
        let (x, y) = (0.2_f32, -0.05_f32);
        let (wide, narrow) = (0.1_f32.ln(), 0.02_f32.ln());
        let row = |dx, dy, log_x, log_y| vec![dx, dy, log_x, log_y, 0.0, 3.0];
        let rows = [
            row(x, y, wide, narrow),
            row(y, -x, narrow, wide),
            row(-x, -y, wide, narrow),
            row(-y, x, narrow, wide),
        ];
        let mean = Reading::mean(&rows).unwrap();
        assert!((mean.step - Vector2::new(0.2, -0.05)).norm() < 1e-6);
        assert!((mean.covariance - Matrix2::new(0.01, 0.0, 0.0, 0.0004)).norm() < 1e-6);
    }

    #[test]
    fn the_networks_find_a_plain_ball_and_none_on_bare_cloth() {
        use crate::camera::{Lens, Pose};
        use crate::table::SpacePoint;
        use image::Rgb;

        let table = TableSize::new(2540.0, 1270.0, 57.15).unwrap();
        let eye = SpacePoint { x_mm: 1270.0, y_mm: 600.0, z_mm: 2600.0 };
        let pose = Pose::looking(eye, [0.02, 0.05, -1.0], [0.0, 1.0, 0.0]);
        let camera = Camera { lens: Lens::pinhole(1920, 1080, 1500.0), pose };
        let ball = TablePoint::new(1700.0, 400.0);
        let map = OutlineMap::of(&camera, &table, ball).unwrap();
        let radii_from_px = map.matrix.try_inverse().unwrap();
        let frame = RgbImage::from_fn(1920, 1080, |x, y| {
            let from_middle = Vector2::new(
                f64::from(x) + 0.5 - map.middle.x_px,
                f64::from(y) + 0.5 - map.middle.y_px,
            );
            let out = (radii_from_px * from_middle).norm();
            // A shaded ball with an edge one pixel soft, on even cloth.
            let on = ((1.0 - out) * 16.0 + 0.5).clamp(0.0, 1.0);
            let shade = 1.0 - 0.4 * out.min(1.0).powi(2);
            Rgb([(220.0, 40.0), (60.0, 110.0), (40.0, 70.0)]
                .map(|(ball, cloth)| (on * shade * ball + (1.0 - on) * cloth) as u8))
        });
        let near = TablePoint::new(ball.x_mm + 5.0, ball.y_mm - 4.0);
        let bare = TablePoint::new(800.0, 700.0);
        let networks = Centring::new().unwrap();
        let seen = networks.refine(&frame, (&camera, &table), &[near, bare]).unwrap();
        let (on_ball, on_cloth) = (seen[0].unwrap(), seen[1].unwrap());
        assert!(on_ball.centre.distance_mm(ball) < 1.0, "{:?}", on_ball.centre);
        assert!(on_ball.ball > 0.9, "{}", on_ball.ball);
        assert!(on_cloth.ball < 0.1, "{}", on_cloth.ball);
    }
}
