//! The aim that sends a ball into a wished direction, and how fast the cue ball must be for it.
//!
//! Input: cue ball and object ball, the direction, a hit whose aim is open. Output: the aim, throw
//! allowed for. Method: the two balls alone are played in `motion`; what the object ball's direction
//! is off by is taken from the direction that the next try is aimed for. Throw changes slowly with
//! the cut, so that two tries leave less than the aim's own grid matters. Degenerates: a cut that
//! the cue ball cannot reach has no aim.

use super::outcome::{self, CUE};
use super::window::{PACE_M_S, turn};
use crate::motion::{Bed, Hit, Placed};
use crate::table::TablePoint;

/// Off by less than this the aim is found, in radians: a tenth of a millimetre over the table.
const FOUND_RAD: f64 = 4e-5;
/// Part of the speed that two balls pass on along their middles.
const PASSED_ON: f64 = 0.97;

/// The aim at which the cue ball sends a ball into `direction_rad`, found in at most `tries`.
pub(super) fn aim_for(
    bed: &Bed,
    cue: TablePoint,
    ball: &Placed,
    direction_rad: f64,
    hit: &Hit,
    tries: usize,
) -> Option<f64> {
    let balls = [Placed { id: CUE, place: cue }, *ball];
    let diameter = bed.table().ball_diameter_mm;
    let aim = |wished: f64| cue.direction_to(ball.place.moved(wished, -diameter));
    let mut wished = direction_rad;
    for _ in 0..tries {
        let off = turn(direction_rad, sent(bed, &balls, &Hit { aim_rad: aim(wished), ..*hit })?);
        wished -= off;
        if off.abs() < FOUND_RAD {
            break;
        }
    }
    Some(aim(wished))
}

/// The direction in which the second of two balls leaves the first meeting.
fn sent(bed: &Bed, balls: &[Placed; 2], hit: &Hit) -> Option<f64> {
    let (_, shot) = outcome::play(bed, balls, hit)?;
    let meeting = outcome::first_meeting(&shot)?;
    let change = meeting.balls.iter().find(|change| change.ball == balls[1].id)?;
    let [x, y] = change.velocity_after_m_s;
    Some(y.atan2(x))
}

/// The least speed of the cue ball from which a ball still reaches its pocket at an ordinary pace.
pub(super) fn least_speed_m_s(
    bed: &Bed,
    to_meeting_mm: f64,
    to_pocket_mm: f64,
    cut_rad: f64,
) -> f64 {
    let physics = bed.physics();
    let slows_m_s2 = physics.rolling_resistance * physics.gravity_m_s2;
    let rolls = |at_end: f64, way_mm: f64| (at_end.powi(2) + 0.002 * slows_m_s2 * way_mm).sqrt();
    // A ball that is struck slides at first: what rolls in the end is five sevenths.
    let struck = 1.4 * rolls(PACE_M_S, to_pocket_mm);
    rolls(struck / (PASSED_ON * cut_rad.cos().max(0.15)), to_meeting_mm) * 1.1
}
