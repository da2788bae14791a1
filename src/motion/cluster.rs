//! Contacts of many balls at once: a frozen rack, a row, a ball that meets two.
//!
//! Input: balls of which each touches another to within [`NEAR_M`], as states and contacts. Output:
//! their velocities and spins once no contact is under load any more; places stay.
//!
//! Method: contacts are not taken one after the other, since the result would hang on their order,
//! but side by side in the time that a contact lasts (some 0.3 ms). Each is a spring by Hertz (1882),
//! force ∝ compression^(3/2), that gives back e² of its work when it opens, so that two balls alone
//! part with exactly e times their approach (the bi-stiffness contact of Liu, Zhao & Brogliato,
//! Proc. R. Soc. A 464 (2008) 3193). Rubbing surfaces exchange Coulomb's friction as in `contact`.
//! Leapfrog steps; gaps that are open to begin with have to close first. A row of frozen balls so
//! passes the hit on to its end, and a ball that meets two of them at once is thrown back evenly.
//!
//! Order: each step's impulses are rounded to a grid and summed as whole numbers, which has no
//! order; so the result is the same to the last bit however the balls are numbered or mirrored.
//! Momentum is kept exactly, energy never grows.
//!
//! Not modelled: the way the balls move meanwhile (some tenths of a millimetre), cushions at the
//! same time: rubber is a hundred times softer, so that a ball frozen to a rail meets it after the
//! balls have parted. Degenerates: contacts that are still under load after [`MOST_STEPS`] are let
//! go; if they still close, they meet again.

use super::contact::{Balls, Rubbing, turn_by};
use super::piece::State;
use super::{Flat, Spin};

/// Gaps up to this belong to one contact: smaller than what a contact compresses, and than what
/// can be read or racked.
pub(super) const NEAR_M: f64 = 2e-5;

/// Compression of two balls that meet at 1 m/s, in metres: Hertz with phenolic resin (5.8 GPa,
/// Poisson's ratio 0.34), 57 mm and 0.165 kg. It grows as speed^0.8. Only open gaps need it.
const COMPRESSION_M: f64 = 1.3e-4;

/// A contact lasts 2.94 × its compression / its speed (Hertz); a step is this part of it.
const STEP: f64 = 2.94 / 40.0;
const MOST_STEPS: usize = 4000;

/// Impulses are whole multiples of this part of the greatest speed of approach.
const QUANTA: f64 = (1_u64 << 48) as f64;

/// Two balls of a cluster that touch or nearly so.
#[derive(Debug, Clone, Copy)]
pub(super) struct Touch {
    pub first: usize,
    pub second: usize,
    /// Unit vector from the first to the second.
    pub line: Flat,
    pub gap_m: f64,
}

/// Change of a ball's velocity and of its spin times the radius, in quanta.
type Sum = [i64; 5];

/// A contact while it lasts.
struct Spring {
    touch: Touch,
    /// In units of the compression at the greatest speed of approach.
    compression: f64,
}

/// Lets a cluster's balls part. `touches` name balls by their index in `states`.
pub(super) fn part(touches: &[Touch], states: &mut [State], balls: &Balls) {
    let closing = |touch: &Touch, states: &[State]| {
        (states[touch.first].velocity - states[touch.second].velocity).dot(&touch.line)
    };
    let fastest = touches.iter().map(|touch| closing(touch, states)).fold(0.0, f64::max);
    if fastest <= 0.0 {
        return;
    }
    let energy_before = energy(states, balls.radius_m);
    let compression_m = COMPRESSION_M * fastest.powf(0.8);
    let mut springs: Vec<Spring> = touches
        .iter()
        .map(|touch| {
            let gap = touch.gap_m.max(0.0) / compression_m;
            // Compressions stand half a step before the speeds (leapfrog).
            let lag = 0.5 * STEP * closing(touch, states) / fastest;
            Spring { touch: *touch, compression: -gap - lag }
        })
        .collect();
    // In units of the fastest approach: v = 1, compression 1, so that k = 5/8 per ball's mass.
    let mut bodies: Vec<(Flat, Spin)> = states
        .iter()
        .map(|state| (state.velocity / fastest, state.spin * (balls.radius_m / fastest)))
        .collect();
    let mut sums = vec![[0_i64; 5]; states.len()];
    for _ in 0..MOST_STEPS {
        if !step(&mut springs, &mut bodies, &mut sums, balls) {
            break;
        }
    }
    for (state, (velocity, turn)) in states.iter_mut().zip(bodies) {
        state.velocity = velocity * fastest;
        state.spin = turn * (fastest / balls.radius_m);
    }
    hold_energy(states, balls.radius_m, energy_before);
}

/// One step of all contacts together; false once none is under load.
fn step(
    springs: &mut [Spring],
    bodies: &mut [(Flat, Spin)],
    sums: &mut [Sum],
    balls: &Balls,
) -> bool {
    let mut under_load = false;
    for spring in springs.iter_mut() {
        let Touch { first, second, line, .. } = spring.touch;
        let ((v, w), (other_v, other_w)) = (bodies[first], bodies[second]);
        let apart = v - other_v;
        let closing = apart.dot(&line);
        spring.compression += STEP * closing;
        if spring.compression <= 0.0 {
            continue;
        }
        under_load = true;
        let give_back = if closing < 0.0 { balls.restitution * balls.restitution } else { 1.0 };
        let push = STEP * 0.625 * give_back * spring.compression * spring.compression.sqrt();
        let rubbing = Rubbing::of(line, apart, w + other_w);
        // Contacts of one ball rub side by side: each stops half of its share at most.
        let (level, upright) = rubbing.friction(balls.friction * push, 0.5);
        let left = Flat::new(-line.y, line.x);
        let impulse = (left * level - line * push) * QUANTA;
        let turned = turn_by(line, level, upright) * QUANTA;
        let [x, y] = [impulse.x as i64, impulse.y as i64];
        let spin = [turned.x as i64, turned.y as i64, turned.z as i64];
        add(&mut sums[first], [x, y], spin);
        add(&mut sums[second], [-x, -y], spin);
    }
    for ((velocity, turn), sum) in bodies.iter_mut().zip(sums.iter_mut()) {
        let [x, y, a, b, c] = sum.map(|quanta| quanta as f64 / QUANTA);
        *velocity += Flat::new(x, y);
        *turn += Spin::new(a, b, c);
        *sum = [0; 5];
    }
    under_load
}

fn add(sum: &mut Sum, [x, y]: [i64; 2], [a, b, c]: [i64; 3]) {
    for (part, more) in sum.iter_mut().zip([x, y, a, b, c]) {
        *part += more;
    }
}

/// A sum that does not hang on the order of its parts.
fn exact_sum(parts: impl Iterator<Item = f64>) -> f64 {
    parts.map(|part| (part * QUANTA) as i128).sum::<i128>() as f64 / QUANTA
}

/// Kinetic energy per kilogram, whatever the order of the balls.
fn energy(states: &[State], radius_m: f64) -> f64 {
    exact_sum(states.iter().map(|state| state.energy(radius_m)))
}

/// Steps of finite length may leave a trace of energy too much where nothing is lost in a contact:
/// it is taken from the balls' motion about their common middle, so that momentum stays.
fn hold_energy(states: &mut [State], radius_m: f64, before: f64) {
    let excess = energy(states, radius_m) - before;
    if excess <= 0.0 {
        return;
    }
    let count = states.len() as f64;
    let mean = |axis: usize| exact_sum(states.iter().map(|state| state.velocity[axis])) / count;
    let middle = Flat::new(mean(0), mean(1));
    let about = |state: &State| (state.velocity - middle).norm_squared();
    let inner = 0.5 * exact_sum(states.iter().map(about));
    if inner <= excess {
        return;
    }
    let keep = (1.0 - excess / inner).sqrt();
    for state in states {
        state.velocity = middle + (state.velocity - middle) * keep;
    }
}
