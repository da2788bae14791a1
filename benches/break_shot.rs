//! What it costs to advise on a break shot: the whole search, for each level of player.

#![allow(clippy::panic, reason = "a bench that cannot go on has failed")]

use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use stillcloth::advice::{Bound, Level, break_shot};
use stillcloth::layout::{Ball, BallKind, Layout};
use stillcloth::motion::{Bed, Physics};
use stillcloth::table::{FootEnd, TableSize};

fn ball(kind: BallKind, number: u8, (x, y): (f64, f64)) -> Ball {
    Ball {
        kind,
        number: Some(number),
        x,
        y,
        sigma_mm: 0.5,
        confidence: 1.0,
        number_confidence: 1.0,
    }
}

/// A break ball beside the rack, cut into the foot corner.
fn closing() -> Layout {
    let balls = vec![ball(BallKind::Cue, 0, (4.9, 2.5)), ball(BallKind::Object, 7, (6.25, 2.65))];
    Layout::of(TableSize::NINE_FOOT, FootEnd::Given, balls)
}

fn break_shots(criterion: &mut Criterion) {
    let bed = Bed::new(&TableSize::NINE_FOOT, &Physics::default())
        .unwrap_or_else(|error| panic!("{error}"));
    let layout = closing();
    let mut group = criterion.benchmark_group("break-shot advice");
    group.sample_size(10);
    for level in Level::ALL {
        let player = level.prior();
        group.bench_function(level.name(), |bencher| {
            bencher.iter(|| {
                break_shot::advise(&bed, &player, black_box(&layout), 1, &Bound::default())
            });
        });
    }
    group.finish();
}

criterion_group!(benches, break_shots);
criterion_main!(benches);
