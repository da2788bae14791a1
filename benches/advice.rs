//! What advice costs on one core: the first pattern and the shots that are on against the number of
//! balls, and the choice of the next hit.

#![allow(clippy::panic, reason = "a bench that cannot go on has failed")]

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::Duration;
use stillcloth::advice::{Advisor, Level};
use stillcloth::motion::{Bed, Physics, Placed};
use stillcloth::random::Random;
use stillcloth::table::{TablePoint, TableSize};

const COUNTS: [usize; 5] = [2, 3, 5, 8, 12];
/// The search's seed.
const SEED: u64 = 1;

/// So many object balls and the cue ball, strewn over the bed.
fn strewn(count: usize, seed: u64) -> Vec<Placed> {
    let mut random = Random::new(seed);
    let mut balls: Vec<Placed> = Vec::new();
    while balls.len() <= count {
        let place = TablePoint::new(random.between(80.0, 2460.0), random.between(80.0, 1190.0));
        if balls.iter().all(|ball| ball.place.distance_mm(place) > 80.0) {
            balls.push(Placed { id: balls.len(), place });
        }
    }
    balls
}

fn bed() -> Bed {
    Bed::new(&TableSize::NINE_FOOT, &Physics::default()).unwrap_or_else(|error| panic!("{error}"))
}

/// A fresh advisor each time: nothing is kept from one question to the next.
fn advisor(bed: &Bed) -> Advisor<'_> {
    Advisor::new(bed, Level::Club.prior(), SEED).unwrap_or_else(|error| panic!("{error}"))
}

/// Five layouts in turn, so that no single one decides.
fn of_layouts(
    criterion: &mut Criterion,
    name: &str,
    mut ask: impl FnMut(&mut Advisor<'_>, &[Placed]),
) {
    let bed = bed();
    let mut group = criterion.benchmark_group(name);
    group.sample_size(10).measurement_time(Duration::from_secs(8));
    for count in COUNTS {
        let layouts: Vec<Vec<Placed>> = (0..5).map(|seed| strewn(count, seed)).collect();
        let mut next = layouts.iter().cycle();
        group.bench_function(BenchmarkId::from_parameter(count), |bencher| {
            bencher.iter(|| {
                let balls = next.next().map_or(&[][..], Vec::as_slice);
                ask(&mut advisor(&bed), black_box(balls));
            });
        });
    }
    group.finish();
}

fn first_pattern(criterion: &mut Criterion) {
    of_layouts(criterion, "first pattern, by object balls", |advisor, balls| {
        black_box(advisor.first_patterns(balls));
    });
}

fn shots(criterion: &mut Criterion) {
    of_layouts(criterion, "shots that are on, by object balls", |advisor, balls| {
        black_box(advisor.shots(balls));
    });
}

fn next_hit(criterion: &mut Criterion) {
    of_layouts(criterion, "next hit, by object balls", |advisor, balls| {
        black_box(advisor.next_hit(balls));
    });
}

criterion_group!(benches, first_pattern, shots, next_hit);
criterion_main!(benches);
