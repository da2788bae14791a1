//! What it costs to tell all figures of the progress page, from a thousand attempts to a hundred
//! thousand of fifty balls.

#![allow(clippy::expect_used, reason = "a bench that cannot go on has failed")]

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use jiff::{ToSpan, civil::date};
use std::hint::black_box;
use stillcloth::{
    random::Random,
    study::{Ending, Goal, Progress, Record, Run},
};

fn record(attempts: u32) -> Record {
    let mut random = Random::new(3);
    let today = date(2026, 6, 30);
    let runs = (0..attempts).map(|attempt| {
        let ago = i64::from((attempts - 1 - attempt) / 15);
        // Of runs with a mean of fifty.
        let balls = (random.unit().max(1e-9).ln() / 0.98_f64.ln()) as u32;
        let ending = if random.chance(0.03) { Ending::Stopped } else { Ending::Missed };
        Run::of_balls(today.checked_sub(ago.days()).ok(), balls, ending)
    });
    Record::of_runs(runs.collect())
}

fn study(criterion: &mut Criterion) {
    let today = date(2026, 6, 30);
    let goal = Goal::balls(150, Some(date(2026, 12, 31)), today).expect("a goal");
    let mut group = criterion.benchmark_group("progress");
    group.sample_size(10);
    for attempts in [1000, 10_000, 100_000] {
        let record = record(attempts);
        group.bench_with_input(
            BenchmarkId::from_parameter(attempts),
            &record,
            |bencher, record| {
                bencher.iter(|| black_box(Progress::of(record, Some(goal), today)));
            },
        );
    }
    group.finish();
}

criterion_group!(benches, study);
criterion_main!(benches);
