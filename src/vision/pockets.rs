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
/// A pocket stands out from the bed by at least this much, as the mean step over its arc.
const LEAST_STEP: f64 = 0.2;
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
    /// Whether it stands out from the bed.
    pub clear: bool,
}

/// Looks for all six.
pub(super) fn look(frame: &RgbImage, map: &PlaneMap, table: &TableSize) -> Vec<SeenPocket> {
    let place = |at: TablePoint| map.place(at);
    table
        .pockets()
        .into_iter()
        .filter_map(|pocket| {
            let (step, wide) = clearest(frame, &place, table, (&pocket, REACH_MM, 10.0));
            let near = Pocket { centre: wide, ..pocket };
            let (finer, fine) = clearest(frame, &place, table, (&near, 10.0, 2.5));
            let step = step.max(finer);
            // One that does not stand out is left where it was expected.
            let clear = step > LEAST_STEP;
            let [x_px, y_px] = map.place(if clear { fine } else { pocket.centre })?;
            Some(SeenPocket { pocket, at: PixelPoint::new(x_px, y_px), step, clear })
        })
        .collect()
}

/// Whether a pocket stands out where it should be, to about a centimetre.
pub(super) fn is_at(
    frame: &RgbImage,
    place: &dyn Fn(TablePoint) -> Option<[f64; 2]>,
    table: &TableSize,
    pocket: &Pocket,
) -> bool {
    clearest(frame, place, table, (pocket, 12.0, 4.0)).0 > LEAST_STEP
}

/// The clearest centre within reach of a pocket's, and its step.
fn clearest(
    frame: &RgbImage,
    place: &dyn Fn(TablePoint) -> Option<[f64; 2]>,
    table: &TableSize,
    (pocket, reach_mm, step_mm): (&Pocket, f64, f64),
) -> (f64, TablePoint) {
    let middle = table.centre_spot();
    let bedward_rad = match pocket.kind {
        PocketKind::Side => {
            (middle.y_mm - pocket.centre.y_mm).signum() * std::f64::consts::FRAC_PI_2
        }
        // Halfway between the two cushions' directions.
        PocketKind::Corner => (middle.y_mm - pocket.centre.y_mm)
            .signum()
            .atan2((middle.x_mm - pocket.centre.x_mm).signum()),
    };
    let mut best = (f64::MIN, pocket.centre);
    let steps = (reach_mm / step_mm) as i32;
    for i in -steps..=steps {
        for j in -steps..=steps {
            let centre = TablePoint::new(
                pocket.centre.x_mm + f64::from(i) * step_mm,
                pocket.centre.y_mm + f64::from(j) * step_mm,
            );
            let step = arc_step(frame, place, (centre, pocket.radius_mm), bedward_rad);
            if let Some(step) = step.filter(|step| *step > best.0) {
                best = (step, centre);
            }
        }
    }
    best
}

/// Mean step of logarithmic brightness across an arc, dark inside; darkness at the centre counts.
fn arc_step(
    frame: &RgbImage,
    place: &dyn Fn(TablePoint) -> Option<[f64; 2]>,
    (centre, radius_mm): (TablePoint, f64),
    bedward_rad: f64,
) -> Option<f64> {
    let light = |angle: f64, radius_mm: f64| {
        let (sin, cos) = angle.sin_cos();
        let at = TablePoint::new(centre.x_mm + radius_mm * cos, centre.y_mm + radius_mm * sin);
        let [x_px, y_px] = place(at)?;
        Some((brightness(colour_at(frame, PixelPoint::new(x_px, y_px))?) + 4.0).ln())
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
