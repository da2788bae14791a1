//! The table's size from the balls on it.
//!
//! Input: frames and a camera fitted as if the table were a nine-foot one. Output: the size that is
//! built in quantity under which the balls come out as balls. Method: a picture of a table alone
//! has no scale, but its balls are all of one diameter; for each size the scene is scaled, the
//! balls are looked for with their true diameter and their outlines fitted with a free widening.
//! The cushions' width, which differs little among tables, is weaker evidence, and all there is on
//! an empty table.

use super::ball_fit::Widening;
use super::balls::BallFinder;
use super::bundle::Border;
use crate::camera::{Camera, Pose};
use crate::table::TableSize;
use image::RgbImage;

/// Standard deviations of the evidence: balls' radius and cushions' width, as parts.
const RADIUS_SIGMA: f64 = 0.016;
const CUSHION_SIGMA: f64 = 0.05;
/// What an outline usually shows of its radius, see `ball_fit`.
const USUAL_WIDENING: f64 = -0.032;
/// How much less often the rarer sizes are met, as a penalty beside squared deviations.
const RARE: f64 = 8.0;

/// A size and how sure it is.
pub(super) struct Inferred {
    pub table: TableSize,
    /// The camera scaled to that size.
    pub camera: Camera,
    /// Balls that told it.
    pub balls: usize,
}

/// The likeliest size, from a camera over a nine-foot table.
pub(super) fn infer(frames: &[RgbImage], camera: &Camera, border: Border) -> Inferred {
    let looks: Vec<Look> = TableSize::PRESETS
        .into_iter()
        .map(|table| Look::at(frames, &scaled(camera, &table), &table))
        .collect();
    let most = looks.iter().map(|look| look.support).fold(0.0, f64::max);
    let penalty = |look: &Look| {
        let scale = look.table.length_mm / TableSize::NINE_FOOT.length_mm;
        let cushion = border.behind_mm * scale / Border::ORDINARY.behind_mm - 1.0;
        let rare = match look.table {
            TableSize::EIGHT_FOOT_LARGE | TableSize::SEVEN_FOOT_SMALL => RARE,
            _ => 0.0,
        };
        let radius = look.radius_off.map_or(0.0, |off| (off / RADIUS_SIGMA).powi(2));
        // Under a wrong size few outlines fit at all, and what fits tells nothing.
        let unseen = if most > 0.0 { 60.0 * (1.0 - look.support / most) } else { 0.0 };
        (cushion / CUSHION_SIGMA).powi(2) + radius.min(40.0) + unseen + rare
    };
    let best = looks.iter().min_by(|a, b| penalty(a).total_cmp(&penalty(b)));
    let (table, balls) = best.map_or((TableSize::NINE_FOOT, 0), |look| (look.table, look.balls));
    Inferred { table, camera: scaled(camera, &table), balls }
}

/// A camera over a nine-foot table brought nearer, so that another table looks the same.
fn scaled(camera: &Camera, table: &TableSize) -> Camera {
    let scale = table.length_mm / TableSize::NINE_FOOT.length_mm;
    let translation_mm = camera.pose.translation_mm * scale;
    Camera { pose: Pose { translation_mm, ..camera.pose }, ..*camera }
}

/// What the balls look like under one size.
struct Look {
    table: TableSize,
    balls: usize,
    /// Sum over the balls of how much of their outlines is seen.
    support: f64,
    /// How much larger than usual their outlines are, as a part of the radius.
    radius_off: Option<f64>,
}

impl Look {
    fn at(frames: &[RgbImage], camera: &Camera, table: &TableSize) -> Self {
        let finder = BallFinder::new(camera, table);
        let mut widenings = Vec::new();
        let mut support = 0.0;
        for frame in frames {
            for ball in finder.find(frame, Widening::Free).iter().filter(|b| b.seen > 0.75) {
                support += ball.seen;
                widenings.push(ball.widening_px / ball.radius_px - USUAL_WIDENING);
            }
        }
        widenings.sort_by(f64::total_cmp);
        let radius_off = widenings.get(widenings.len() / 2).copied();
        Self { table: *table, balls: widenings.len(), support, radius_off }
    }
}
