//! Where to aim so that the break ball drops, found with the motion itself.
//!
//! Input: two balls and a pocket, a speed and a place of the tip. Output: the aim (rad) with which
//! the break ball leaves toward the middle of the directions that drop. Method: the pocket's window
//! is bisected with a lone ball (jaws included); the aim follows by the secant rule on the break
//! ball's direction in a shot of the two balls alone, so that throw and swerve are allowed for.
//! Not modelled: the window's change with the ball's speed. Degenerates: no aim for cuts over
//! [`MOST_CUT_RAD`], or where the contact cannot be reached.

use super::closing::{BREAK_BALL, CUE};
use crate::motion::{self, Bed, EventKind, Hit, Outcome, Placed, Shot};
use crate::table::TablePoint;
use std::f64::consts::{PI, TAU};

/// Cuts beyond this are no shot.
const MOST_CUT_RAD: f64 = 80.0 * PI / 180.0;
/// The speed at which a window is measured, m/s: a break ball struck at a middling speed.
const WINDOW_SPEED_M_S: f64 = 2.5;
/// Half of the fan in which a window's first direction is sought, and of its steps.
const FAN_RAD: f64 = 0.06;
const FAN_STEPS: i32 = 6;
const BISECTIONS: usize = 12;
const SECANT_STEPS: usize = 8;
/// The direction is right to this: a hundredth of any window.
const AIMED_WITHIN_RAD: f64 = 1e-4;

/// A pocket that the break ball can reach, with the directions (from x toward y) that drop there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    pub pocket: usize,
    pub middle_rad: f64,
    pub half_rad: f64,
}

/// A speed and a place of the tip: a hit without its aim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stroke {
    pub speed_m_s: f64,
    pub height: f64,
    pub side: f64,
}

impl Stroke {
    pub fn at(self, aim_rad: f64) -> Hit {
        let Self { speed_m_s, height, side } = self;
        Hit { aim_rad, speed_m_s, height, side, elevation_rad: 0.0 }
    }
}

/// An angle brought to −π..π.
pub(super) fn turned(angle_rad: f64) -> f64 {
    angle_rad - TAU * (angle_rad / TAU).round()
}

pub(super) fn direction(from: TablePoint, to: TablePoint) -> f64 {
    (to.y_mm - from.y_mm).atan2(to.x_mm - from.x_mm)
}

/// The windows of a ball among others that do not move: pockets it cannot reach are left out.
pub(super) fn windows(bed: &Bed, ball: TablePoint, others: &[Placed]) -> Vec<Window> {
    (0..bed.table().pockets().len())
        .filter_map(|pocket| window(bed, ball, others, pocket))
        .collect()
}

fn window(bed: &Bed, ball: TablePoint, others: &[Placed], pocket: usize) -> Option<Window> {
    let alone = [Placed { id: BREAK_BALL, place: ball }];
    let drops = |aim_rad: f64| {
        let hit = Hit::centre(aim_rad, WINDOW_SPEED_M_S);
        let Ok(shot) = motion::play(bed, &alone, BREAK_BALL, &hit) else { return false };
        let direct = shot.events.iter().all(|event| !matches!(event.kind, EventKind::Cushion));
        direct && matches!(shot.rest[0].outcome, Outcome::Dropped { pocket: p, .. } if p == pocket)
    };
    let mouth = bed.table().pockets()[pocket].centre;
    let toward_rad = direction(ball, mouth);
    let fan = |step: i32| toward_rad + FAN_RAD * f64::from(step) / f64::from(FAN_STEPS);
    let inside_rad = (0..=FAN_STEPS)
        .flat_map(|step| [fan(step), fan(-step)])
        .find(|aim_rad| drops(*aim_rad))?;
    let edge = |sign: f64| {
        let (mut inner, mut outer) = (0.0, 0.5);
        for _ in 0..BISECTIONS {
            let middle = 0.5 * (inner + outer);
            if drops(inside_rad + sign * middle) {
                inner = middle;
            } else {
                outer = middle;
            }
        }
        inside_rad + sign * inner
    };
    let (low, high) = (edge(-1.0), edge(1.0));
    let found = Window { pocket, middle_rad: 0.5 * (low + high), half_rad: 0.5 * (high - low) };
    let way_mm = ball.distance_mm(mouth);
    let end = TablePoint::new(
        ball.x_mm + way_mm * found.middle_rad.cos(),
        ball.y_mm + way_mm * found.middle_rad.sin(),
    );
    let diameter_mm = bed.table().ball_diameter_mm;
    let free = others.iter().all(|other| from_way_mm(other.place, ball, end) > diameter_mm);
    free.then_some(found)
}

/// Distance of a point from the way between two places, in millimetres.
pub(super) fn from_way_mm(point: TablePoint, from: TablePoint, to: TablePoint) -> f64 {
    let (dx, dy) = (to.x_mm - from.x_mm, to.y_mm - from.y_mm);
    let square = dx * dx + dy * dy;
    let along = ((point.x_mm - from.x_mm) * dx + (point.y_mm - from.y_mm) * dy) / square.max(1e-9);
    let along = along.clamp(0.0, 1.0);
    let (off_x, off_y) =
        (from.x_mm + along * dx - point.x_mm, from.y_mm + along * dy - point.y_mm);
    (off_x * off_x + off_y * off_y).sqrt()
}

/// The place of the cue ball as it meets a ball that is to leave in a direction.
pub(super) fn ghost(ball: TablePoint, leaves_rad: f64, diameter_mm: f64) -> TablePoint {
    let (sin, cos) = leaves_rad.sin_cos();
    TablePoint::new(ball.x_mm - diameter_mm * cos, ball.y_mm - diameter_mm * sin)
}

/// The hit that sends the break ball into a window's middle; none where there is none.
pub(super) fn solve(
    bed: &Bed,
    cue: TablePoint,
    ball: TablePoint,
    window: &Window,
    stroke: Stroke,
) -> Option<Hit> {
    let diameter_mm = bed.table().ball_diameter_mm;
    let ghost = ghost(ball, window.middle_rad, diameter_mm);
    let line_rad = direction(cue, ghost);
    let cut_rad = turned(window.middle_rad - line_rad);
    if cut_rad.abs() > MOST_CUT_RAD || cue.distance_mm(ghost) < 1.0 {
        return None;
    }
    let balls = [Placed { id: CUE, place: cue }, Placed { id: BREAK_BALL, place: ball }];
    let off = |aim_rad: f64| {
        let shot = motion::play(bed, &balls, CUE, &stroke.at(aim_rad)).ok()?;
        leaves(&shot).map(|leaves_rad| turned(leaves_rad - window.middle_rad))
    };
    // The break ball turns by about −d / (D cos φ) for each radian of aim.
    let slope = -cue.distance_mm(ghost) / (diameter_mm * cut_rad.cos());
    let (mut aim_rad, mut off_rad) = (line_rad, off(line_rad)?);
    let mut slope = slope - 1.0;
    for _ in 0..SECANT_STEPS {
        if off_rad.abs() < AIMED_WITHIN_RAD {
            return Some(stroke.at(aim_rad));
        }
        let next_rad = aim_rad - off_rad / slope;
        let next_off_rad = off(next_rad)?;
        if (next_rad - aim_rad).abs() > 1e-12 {
            let found = (next_off_rad - off_rad) / (next_rad - aim_rad);
            // Noise of the contact must not turn the slope about.
            slope = if found < 0.25 * slope { found } else { slope };
        }
        (aim_rad, off_rad) = (next_rad, next_off_rad);
    }
    None
}

/// The direction in which the break ball leaves its first contact with the cue ball.
fn leaves(shot: &Shot) -> Option<f64> {
    let event = shot.events.iter().find(|event| event.kind == EventKind::Balls)?;
    let ball = event.balls.iter().find(|change| change.ball == BREAK_BALL)?;
    let [x, y] = ball.velocity_after_m_s;
    (x.hypot(y) > 0.0).then(|| y.atan2(x))
}
