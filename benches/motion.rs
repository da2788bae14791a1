//! What it costs to play a hit: a break shot, and a plain pot with eight balls on the table; and
//! beside it a plain integrator in fixed steps, small enough to end at the same places.

#![allow(clippy::panic, reason = "a bench that cannot go on has failed")]
#![allow(clippy::print_stderr, reason = "the ratio is for a person to read")]

#[path = "../src/motion/tests/stepped.rs"]
mod stepped;

use criterion::{Criterion, criterion_group, criterion_main};
use nalgebra::Vector3;
use std::hint::black_box;
use std::time::Instant;
use stillcloth::motion::{Bed, Hit, Outcome, Physics, Placed, Shot, play};
use stillcloth::table::{Rack, TablePoint, TableSize};

const TABLE: TableSize = TableSize::NINE_FOOT;

fn placed(id: usize, x_mm: f64, y_mm: f64) -> Placed {
    Placed { id, place: TablePoint::new(x_mm, y_mm) }
}

/// Fourteen racked, the break ball beside them, the cue ball for a cut into the upper corner that
/// runs into the rack.
fn break_shot() -> (Vec<Placed>, Hit) {
    let rack = Rack::on(&TABLE);
    let racked = rack.continuing().iter().zip(2..).map(|(place, id)| Placed { id, place: *place });
    let (cue, ball) = (placed(0, 1560.0, 640.0), placed(1, 1990.0, 830.0));
    let balls = [cue, ball].into_iter().chain(racked).collect();
    let to_corner = (1270.0_f64 - 830.0).atan2(2540.0 - 1990.0);
    let ghost = (1990.0 - 57.15 * to_corner.cos(), 830.0 - 57.15 * to_corner.sin());
    let aim_rad = (ghost.1 - 640.0).atan2(ghost.0 - 1560.0);
    (balls, Hit { height: -0.2, ..Hit::centre(aim_rad, 7.0) })
}

/// The opening: fifteen racked and hit hard on the head ball.
fn opening() -> (Vec<Placed>, Hit) {
    let rack = Rack::on(&TABLE);
    let racked = rack.places().iter().zip(1..).map(|(place, id)| Placed { id, place: *place });
    let balls = std::iter::once(placed(0, 600.0, 600.0)).chain(racked).collect();
    (balls, Hit::centre(35.0_f64.atan2(1305.0), 9.0))
}

/// A pot of ball 1 into the far corner past six others.
fn pot() -> (Vec<Placed>, Hit) {
    let others = [
        (700.0, 300.0),
        (1100.0, 1000.0),
        (400.0, 1100.0),
        (1500.0, 200.0),
        (900.0, 640.0),
        (2200.0, 300.0),
    ];
    let mut balls = vec![placed(0, 1300.0, 700.0), placed(1, 2000.0, 900.0)];
    balls.extend(others.iter().zip(2..).map(|((x, y), id)| placed(id, *x, *y)));
    let to_corner = (1270.0_f64 - 900.0).atan2(2540.0 - 2000.0);
    let ghost = (2000.0 - 57.15 * to_corner.cos(), 900.0 - 57.15 * to_corner.sin());
    let aim_rad = (ghost.1 - 700.0).atan2(ghost.0 - 1300.0);
    (balls, Hit { height: 0.3, ..Hit::centre(aim_rad, 2.0) })
}

fn shot(bed: &Bed, (balls, hit): &(Vec<Placed>, Hit)) -> Shot {
    play(bed, balls, 0, hit).unwrap_or_else(|error| panic!("{error}"))
}

fn motion(criterion: &mut Criterion) {
    let bed = Bed::new(&TABLE, &Physics::default()).unwrap_or_else(|error| panic!("{error}"));
    let made = shot(&bed, &pot());
    assert!(matches!(made.rest[1].outcome, Outcome::Dropped { .. }), "the pot is no pot");
    let mut group = criterion.benchmark_group("one hit to rest");
    for (name, case) in
        [("break shot", break_shot()), ("opening break", opening()), ("pot of eight balls", pot())]
    {
        let name = format!("{name}, {} events", shot(&bed, &case).events.len());
        group.bench_function(name, |bencher| bencher.iter(|| shot(&bed, black_box(&case))));
    }
    group.finish();
    against_steps(&bed);
}

/// A carom off two cushions among eight balls, none of which drops.
fn carom() -> (Vec<Placed>, Hit) {
    let (mut balls, _) = pot();
    balls[0] = placed(0, 600.0, 500.0);
    (balls, Hit { side: 0.4, ..Hit::centre(0.9, 1.5) })
}

/// Plays the carom by events and in fixed steps: how far apart it ends, and the times' ratio.
fn against_steps(bed: &Bed) {
    let case = carom();
    let rounds = 500;
    let start = Instant::now();
    for _ in 0..rounds {
        black_box(shot(bed, black_box(&case)));
    }
    let events_s = start.elapsed().as_secs_f64() / f64::from(rounds);
    let by_events = shot(bed, &case);
    for step_s in [1e-4, 1e-5, 1e-6] {
        let start = Instant::now();
        let ends = in_steps(bed, &case.0, &by_events, step_s);
        let ratio = start.elapsed().as_secs_f64() / events_s;
        let apart_mm = by_events.rest.iter().zip(&ends).map(|(rest, end)| match rest.outcome {
            Outcome::Lies(place) => place.distance_mm(*end),
            Outcome::Dropped { .. } => f64::INFINITY,
        });
        let apart_mm = apart_mm.fold(0.0, f64::max);
        eprintln!("steps of {step_s} s: {ratio:.0} times as long as events, {apart_mm:.3} mm off");
    }
}

/// Where the balls end by the plain integrator, started as the tip left the cue ball.
fn in_steps(bed: &Bed, balls: &[Placed], shot: &Shot, step_s: f64) -> Vec<TablePoint> {
    let physics = bed.physics();
    let half_m = [TABLE.length_mm / 2000.0, TABLE.width_mm / 2000.0];
    let setup = stepped::Setup {
        half_m,
        radius_m: TABLE.ball_radius_mm() / 1000.0,
        gravity: physics.gravity_m_s2,
        sliding: physics.sliding_friction,
        rolling: physics.rolling_resistance,
        spin_decay: physics.spin_decay_rad_s2,
        ball: (physics.ball_restitution, physics.ball_friction),
        cushion: (physics.cushion_restitution, physics.cushion_friction),
        rise: 2.0 * physics.nose_height_per_diameter - 1.0,
    };
    let at_rest = |ball: &Placed| stepped::Ball {
        place: Vector3::new(
            ball.place.x_mm / 1000.0 - half_m[0],
            ball.place.y_mm / 1000.0 - half_m[1],
            0.0,
        ),
        velocity: Vector3::zeros(),
        spin: Vector3::zeros(),
    };
    let mut running: Vec<stepped::Ball> = balls.iter().map(at_rest).collect();
    let struck = &shot.events[0].balls[0];
    let [x, y] = struck.velocity_after_m_s;
    running[0].velocity = Vector3::new(x, y, 0.0);
    running[0].spin = struck.spin_after_rad_s.into();
    stepped::run(&setup, &mut running, step_s);
    let end = |ball: &stepped::Ball| {
        TablePoint::new(1000.0 * (ball.place.x + half_m[0]), 1000.0 * (ball.place.y + half_m[1]))
    };
    running.iter().map(end).collect()
}

criterion_group!(benches, motion);
criterion_main!(benches);
