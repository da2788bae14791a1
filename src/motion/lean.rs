//! Contacts that would bounce for ever: a ball that is pressed against another or a cushion.
//!
//! A ball with follow that stands against a frozen ball, or with its spin into a cushion, bounces
//! in ever smaller hops, without end in finite time. Two rules end that. Below [`LEAN_M_S`] of
//! approach the part of the slip that presses is taken away: in truth it spins itself out on the
//! spot. And where balls press for another reason they part with a least speed, which grows while
//! they keep meeting; its energy is taken from their spin and from their rubbing past each other.
//! What still creeps together after that goes on with one speed.
//!
//! Input and output: states in the bed frame. Energy never grows by more than 1e-12 J/kg.

use super::Flat;
use super::piece::{Cloth, Piece, State};

/// Approaches slower than this may be leaning.
pub(super) const LEAN_M_S: f64 = 1e-3;
/// Least speed of parting of balls that press, and the most it grows to.
const LEAST_M_S: f64 = 1e-4;
const MOST_M_S: f64 = 2e-2;
/// Speed of parting that is granted without payment: worth less than 1e-12 J/kg.
const GRANTED_M_S: f64 = 1e-6;

/// Takes away the slip that presses a ball toward `toward` (a unit vector), where that costs spin
/// rather than gives it.
pub(super) fn stop_pressing(ball: &mut State, toward: Flat, radius_m: f64) {
    // Friction acts against the slip: a slip away from the cushion presses into it.
    let pressing = -ball.slip(radius_m).dot(&toward);
    if pressing <= 0.0 {
        return;
    }
    let mut stopped = *ball;
    let change = toward * (pressing / radius_m);
    // The slip's spin part is (−ω_y, ω_x) R.
    stopped.spin.y -= change.x;
    stopped.spin.x += change.y;
    if stopped.spin_energy(radius_m) <= ball.spin_energy(radius_m) {
        *ball = stopped;
    }
}

/// Ends a last creep of two touching balls toward each other, too slow for anything to part them:
/// they would meet at this very moment for ever. `line` is as in [`part_pressed`].
pub(super) fn stop_creeping(line: Flat, first: &mut State, second: &mut State) {
    let closing = (first.velocity - second.velocity).dot(&line);
    if closing > 0.0 && closing < LEAN_M_S {
        first.velocity -= line * (0.5 * closing);
        second.velocity += line * (0.5 * closing);
    }
}

/// Lets two balls part that touch, hardly move on each other and are pressed together.
/// `line` is the unit vector from the first to the second, `again` how often they met just before.
pub(super) fn part_pressed(
    line: Flat,
    first: &mut State,
    second: &mut State,
    cloth: &Cloth,
    again: u32,
) {
    let parting = |a: &State, b: &State| (b.velocity - a.velocity).dot(&line);
    let least = (LEAST_M_S * f64::from(again + 1)).min(MOST_M_S);
    if parting(first, second) >= least {
        return;
    }
    stop_pressing(first, line, cloth.radius_m);
    stop_pressing(second, -line, cloth.radius_m);
    let pull = |state: &State| Piece::new(*state, 0.0, cloth).acceleration.dot(&line);
    if pull(first) - pull(second) <= 0.0 {
        return;
    }
    let radius_m = cloth.radius_m;
    let left = Flat::new(-line.y, line.x);
    let across = (first.velocity - second.velocity).dot(&left);
    let budget =
        first.spin_energy(radius_m) + second.spin_energy(radius_m) + 0.25 * across * across;
    // Parting at s costs a quarter of s²: no more than a quarter of what there is.
    let speed = least.min(budget.sqrt()).max(GRANTED_M_S);
    let now = parting(first, second);
    if speed <= now {
        return;
    }
    let keep = (1.0 - 0.25 * (speed * speed - now * now) / budget.max(GRANTED_M_S.powi(2))).sqrt();
    let change = line * (0.5 * (now - speed)) + left * (0.5 * (keep - 1.0) * across);
    first.velocity += change;
    second.velocity -= change;
    first.spin *= keep;
    second.spin *= keep;
}
