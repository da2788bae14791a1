//! The six pockets in a frame, as anchors for a first camera.
//!
//! Input: a frame and a rough map of the table's bed. Output: for each pocket the place of its
//! centre and how clear it is. Method: a pocket is dark and its edge toward the bed is an arc of
//! known size with lit cloth outside, whatever the rails look like; the centre is where that arc
//! has the strongest step, searched first widely, then finely. Good to some millimetres: enough
//! to tell the noses from the shadows and borders beside them.

use super::pixels::{brightness, colour_at};
use super::start::PlaneMap;
use crate::camera::PixelPoint;
use crate::table::{Pocket, PocketKind, TablePoint, TableSize};
use image::RgbImage;

/// How far from its expected place a pocket is looked for.
const REACH_MM: f64 = 90.0;
/// Half of the arc that is looked at, from the direction toward the bed.
const HALF_ARC_RAD: f64 = 1.0;
/// Points on the arc.
const ARC_POINTS: usize = 13;
/// How far inside and outside the edge is sampled.
const STEP_MM: f64 = 9.0;

/// A pocket that was looked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct SeenPocket {
    pub pocket: Pocket,
    pub at: PixelPoint,
    /// Mean step of logarithmic brightness over the arc; near 1 and above for a clear pocket.
    pub step: f64,
}

/// Looks for all six.
pub(super) fn look(frame: &RgbImage, map: &PlaneMap, table: &TableSize) -> Vec<SeenPocket> {
    let middle = table.centre_spot();
    table
        .pockets()
        .into_iter()
        .filter_map(|pocket| {
            let bedward = match pocket.kind {
                PocketKind::Side => (middle.y_mm - pocket.centre.y_mm).signum() * 0.5,
                // Halfway between the two cushions' directions.
                PocketKind::Corner => {
                    let x = (middle.x_mm - pocket.centre.x_mm).signum();
                    let y = (middle.y_mm - pocket.centre.y_mm).signum();
                    y.atan2(x) / std::f64::consts::PI
                }
            } * std::f64::consts::PI;
            let mut best = (f64::MIN, pocket.centre);
            for (reach_mm, step_mm) in [(REACH_MM, 10.0), (10.0, 2.5)] {
                let from = best.1;
                let steps = (reach_mm / step_mm) as i32;
                for i in -steps..=steps {
                    for j in -steps..=steps {
                        let centre = TablePoint::new(
                            from.x_mm + f64::from(i) * step_mm,
                            from.y_mm + f64::from(j) * step_mm,
                        );
                        let step = arc_step(frame, map, (centre, pocket.radius_mm), bedward);
                        if let Some(step) = step.filter(|step| *step > best.0) {
                            best = (step, centre);
                        }
                    }
                }
            }
            let [x_px, y_px] = map.place(best.1)?;
            Some(SeenPocket { pocket, at: PixelPoint::new(x_px, y_px), step: best.0 })
        })
        .collect()
}

/// Mean step of logarithmic brightness across an arc, dark inside; darkness at the centre counts.
fn arc_step(
    frame: &RgbImage,
    map: &PlaneMap,
    (centre, radius_mm): (TablePoint, f64),
    bedward_rad: f64,
) -> Option<f64> {
    let light = |angle: f64, radius_mm: f64| {
        let (sin, cos) = angle.sin_cos();
        let at = TablePoint::new(centre.x_mm + radius_mm * cos, centre.y_mm + radius_mm * sin);
        let [x_px, y_px] = map.place(at)?;
        Some((brightness(colour_at(frame, PixelPoint::new(x_px, y_px))?) + 8.0).ln())
    };
    let mut sum = 0.0;
    for i in 0..ARC_POINTS {
        let part = 2.0 * i as f64 / (ARC_POINTS - 1) as f64 - 1.0;
        let angle = bedward_rad + part * HALF_ARC_RAD;
        let outside = light(angle, radius_mm + STEP_MM)?;
        let inside = light(angle, radius_mm - STEP_MM)?;
        sum += f64::from(outside - inside).clamp(-0.5, 1.5);
    }
    Some(sum / ARC_POINTS as f64)
}
