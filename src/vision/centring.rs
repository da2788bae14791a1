//! A ball's centre by a trained network, where edges alone mislead.
//!
//! Input: a frame, a camera, proposed centres. Output: for each the centre in the table frame, its
//! covariance and how sure it is that a ball lies there. Method: around each proposal a patch is
//! cut in which the expected outline is a circle of fixed size (`patch`), so that geometry has done
//! its part; the network says how far off the true centre is, in radii, and how sure it is, and a
//! second pass looks again from there. Trained on made pictures of widely varied light, cloth and
//! ball sets, see models/README.md. Not modelled: anything farther off than half a radius.

use super::net::{Net, NetError};
use super::patch::{self, OutlineMap};
use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use image::RgbImage;
use nalgebra::{Matrix2, Vector2};

/// Side of the patch in pixels, and how many radii it reaches.
const SIDE_PX: usize = 40;
const REACH_RADII: f64 = 20.0 / 11.0;
/// The network's errors have the tails of Student's t with four degrees of freedom: 86 % lie
/// within two of these times its scale.
const SPREAD: f64 = 1.29;
/// A step of the first pass is held to this, in radii.
const MOST_STEP_RADII: f64 = 0.6;

/// A ball's centre as the network sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Centred {
    pub centre: TablePoint,
    pub covariance_mm2: Matrix2<f64>,
    /// How sure it is that a ball's centre lies here, 0 to 1.
    pub ball: f64,
}

/// The network, ready to run.
pub(super) struct Centring {
    net: Net,
}

impl Centring {
    pub fn new() -> Result<Self, NetError> {
        static ONNX: &[u8] = include_bytes!("../../models/ball_centring.onnx");
        Ok(Self { net: Net::read("ball_centring", ONNX, SIDE_PX)? })
    }

    /// Refines each proposal; none where it lies outside the picture.
    pub fn refine(
        &self,
        frame: &RgbImage,
        (camera, table): (&Camera, &TableSize),
        proposals: &[TablePoint],
    ) -> Result<Vec<Option<Centred>>, NetError> {
        let first = self.pass(frame, (camera, table), proposals)?;
        let nearer: Vec<TablePoint> = first
            .iter()
            .zip(proposals)
            .map(|(centred, proposal)| centred.map_or(*proposal, |centred| centred.centre))
            .collect();
        let second = self.pass(frame, (camera, table), &nearer)?;
        Ok(first.into_iter().zip(second).map(|(first, second)| first.and(second)).collect())
    }

    fn pass(
        &self,
        frame: &RgbImage,
        (camera, table): (&Camera, &TableSize),
        places: &[TablePoint],
    ) -> Result<Vec<Option<Centred>>, NetError> {
        let maps: Vec<Option<OutlineMap>> =
            places.iter().map(|place| OutlineMap::of(camera, table, *place)).collect();
        let mut patches = Vec::with_capacity(places.len() * 3 * SIDE_PX * SIDE_PX);
        for map in maps.iter().flatten() {
            patches.extend(patch::cut(frame, map, SIDE_PX, REACH_RADII));
        }
        let mut rows = self.net.rows(patches)?.into_iter();
        Ok(places
            .iter()
            .zip(&maps)
            .map(|(place, map)| {
                let map = map.as_ref()?;
                centred(camera, table, (*place, map), &rows.next()?)
            })
            .collect())
    }
}

/// What a row of the network's output says: dx, dy, log scale of x, log scale of y given x, pull of
/// x on y, logit of a ball.
fn centred(
    camera: &Camera,
    table: &TableSize,
    (place, map): (TablePoint, &OutlineMap),
    row: &[f32],
) -> Option<Centred> {
    let [dx, dy, log_x, log_y, pull, logit] = *row.first_chunk::<6>()?;
    let mut step = Vector2::new(f64::from(dx), f64::from(dy));
    if step.norm() > MOST_STEP_RADII {
        step *= MOST_STEP_RADII / step.norm();
    }
    let (scale_x, scale_y) =
        (f64::from(log_x.clamp(-7.0, 3.0)).exp(), f64::from(log_y.clamp(-7.0, 3.0)).exp());
    let factor = Matrix2::new(scale_x, 0.0, f64::from(pull) * scale_y, scale_y) * SPREAD;
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
    let spread = mm_from_radii * factor;
    Some(Centred {
        centre: TablePoint::new(place.x_mm + moved.x, place.y_mm + moved.y),
        covariance_mm2: spread * spread.transpose(),
        ball: 1.0 / (1.0 + f64::from(-logit).exp()),
    })
}
