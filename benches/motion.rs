//! What it costs to play a hit: a break shot, and a plain pot with eight balls on the table.

#![allow(clippy::panic, reason = "a bench that cannot go on has failed")]

use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
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
}

criterion_group!(benches, motion);
criterion_main!(benches);
