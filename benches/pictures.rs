//! What it costs to turn a picture file into a frame: 1080p as JPEG, as a camera sends it, and the
//! same frame as PNG and WebP.

#![allow(clippy::panic, reason = "a bench that cannot go on has failed")]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use image::{ImageFormat, RgbImage};
use std::{hint::black_box, io::Cursor};
use stillcloth::camera::picture::decode;

const FRAME: &[u8] = include_bytes!("../testdata/frames/club-071000.jpg");

fn encoded(frame: &RgbImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    frame.write_to(&mut bytes, format).unwrap_or_else(|error| panic!("{format:?}: {error}"));
    bytes.into_inner()
}

fn pictures(criterion: &mut Criterion) {
    let frame = decode(FRAME).unwrap_or_else(|error| panic!("{error}"));
    let mut group = criterion.benchmark_group("decode 1080p");
    group.throughput(Throughput::Elements(u64::from(frame.width()) * u64::from(frame.height())));
    let files = [
        ("JPEG", FRAME.to_vec()),
        ("PNG", encoded(&frame, ImageFormat::Png)),
        ("WebP", encoded(&frame, ImageFormat::WebP)),
    ];
    for (name, file) in &files {
        group.bench_function(*name, |bencher| bencher.iter(|| decode(black_box(file)).is_ok()));
    }
    group.finish();
}

criterion_group!(benches, pictures);
criterion_main!(benches);
