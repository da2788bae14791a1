//! The table's size from the balls on it.
//!
//! Input: frames and a camera fitted as if the table were a nine-foot one. Output: the size that is
//! built in quantity under which the balls come out as balls. Method: a picture of a table alone
//! has no scale, but its balls are all of one diameter; for each size the scene is scaled, the
//! balls are looked for with their true diameter and their outlines fitted with a free widening.
//! The cushions' width, which differs little among tables, is weaker evidence, and all there is on
//! an empty table. Where balls are racked, how large the rack is against the table is the best
//! evidence of all.

use super::ball_fit::Widening;
use super::balls::BallFinder;
use super::bundle::Border;
use super::read::Reader;
use crate::camera::{Calibration, Camera, Pose};
use crate::table::{Rack, TablePoint, TableSize};
use image::RgbImage;

/// Standard deviations of the evidence: balls' radius and cushions' width, as parts.
const RADIUS_SIGMA: f64 = 0.016;
const CUSHION_SIGMA: f64 = 0.05;
/// What an outline usually shows of its radius, see `ball_fit`.
const USUAL_WIDENING: f64 = -0.032;
/// So many balls of a rack are seen where one is.
const LEAST_RACKED: usize = 12;
/// A racked ball lies within this part of a diameter of its place, and all of them, the rack's own
/// place and size set right, within this one (root mean square).
const NEXT_TO: f64 = 0.7;
const RACK_RMS: f64 = 0.12;
/// A rack under the right size is as large as it should be, to this part.
const RACK_OFF: f64 = 0.02;
/// How much less often the rarer sizes are met, as a penalty beside squared deviations.
const RARE: f64 = 8.0;

/// A size and how sure it is.
pub(super) struct Inferred {
    pub table: TableSize,
    /// Balls that told it.
    pub balls: usize,
}

/// The likeliest size, from a camera over a nine-foot table.
pub(super) fn infer(frames: &[RgbImage], camera: &Camera, border: Border) -> Inferred {
    let looks: Vec<Look> = TableSize::PRESETS
        .into_iter()
        .map(|table| Look::at(frames, &scaled(camera, &TableSize::NINE_FOOT, &table), &table))
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
    Inferred { table, balls }
}

/// The size under which the balls racked in some frames touch, and how many they are; none where no
/// rack is seen. The calibration may be for any size.
pub(super) fn by_the_rack(
    frames: &[RgbImage],
    calibration: &Calibration,
) -> Option<(TableSize, usize)> {
    let reader = Reader::new(calibration.clone()).ok()?;
    let places: Vec<Vec<TablePoint>> =
        frames.iter().filter_map(|frame| reader.places(frame).ok()).collect();
    let off = |table: &TableSize| {
        let scale = table.length_mm / calibration.table.length_mm;
        let seen = places.iter().filter_map(|places| RackSeen::among(places, scale, table));
        let (mut balls, mut off) = (0, 0.0);
        for rack in seen {
            balls += rack.balls;
            off += rack.balls as f64 * rack.larger.ln();
        }
        (balls > 0).then(|| ((off / balls as f64).abs(), balls))
    };
    TableSize::PRESETS
        .into_iter()
        .filter_map(|table| off(&table).map(|(off, balls)| (off, table, balls)))
        .filter(|(off, ..)| *off < RACK_OFF)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, table, balls)| (table, balls))
}

/// A place of the rack and the ball next to it, both as x and y in millimetres.
type Pair = ([f64; 2], [f64; 2]);

/// A rack that was seen.
struct RackSeen {
    balls: usize,
    /// How many times as large as fifteen balls of the true diameter it is.
    larger: f64,
}

impl RackSeen {
    /// Looks for a rack at either end among places on a table that are to be scaled first.
    fn among(places: &[TablePoint], scale: f64, table: &TableSize) -> Option<Self> {
        let racked = Rack::on(table);
        let scaled: Vec<TablePoint> =
            places.iter().map(|p| TablePoint::new(scale * p.x_mm, scale * p.y_mm)).collect();
        [false, true]
            .into_iter()
            .filter_map(|turned| {
                let end = racked.places().map(|p| if turned { p.turned(table) } else { p });
                Self::at(&end, &scaled, table.ball_diameter_mm)
            })
            .max_by_key(|rack| rack.balls)
    }

    /// Pairs the rack's places with the balls next to them, and fits place and scale.
    fn at(rack: &[TablePoint], balls: &[TablePoint], diameter_mm: f64) -> Option<Self> {
        let nearest = |place: &TablePoint| {
            let near = |ball: &&TablePoint| ball.distance_mm(*place) < NEXT_TO * diameter_mm;
            let ball = balls.iter().filter(near);
            let ball = ball.min_by(|a, b| a.distance_mm(*place).total_cmp(&b.distance_mm(*place)));
            ball.map(|ball| ([place.x_mm, place.y_mm], [ball.x_mm, ball.y_mm]))
        };
        let pairs: Vec<Pair> = rack.iter().filter_map(nearest).collect();
        if pairs.len() < LEAST_RACKED {
            return None;
        }
        let count = pairs.len() as f64;
        let mean = |of: &dyn Fn(&Pair) -> f64| pairs.iter().map(of).sum::<f64>() / count;
        let (mut both, mut own, mut ball) = (0.0, 0.0, 0.0);
        for axis in 0..2 {
            let (p0, q0) = (mean(&|pair| pair.0[axis]), mean(&|pair| pair.1[axis]));
            for (p, q) in &pairs {
                both += (p[axis] - p0) * (q[axis] - q0);
                own += (p[axis] - p0).powi(2);
                ball += (q[axis] - q0).powi(2);
            }
        }
        let larger = both / own;
        let rms_mm = ((ball - larger * both) / count).max(0.0).sqrt();
        (rms_mm < RACK_RMS * diameter_mm).then_some(Self { balls: pairs.len(), larger })
    }
}

/// A camera over one table brought nearer or farther, so that another looks the same.
pub(super) fn scaled(camera: &Camera, from: &TableSize, table: &TableSize) -> Camera {
    let scale = table.length_mm / from.length_mm;
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
