//! What it costs to calibrate from a frame, to read one, and to look at one more of a table at
//! rest, beside OpenCV's circle transform on the same frames.
//!
//! The two times that are compared are taken in turn on one thread, so that whatever else the
//! machine does meets both; the ratio is printed at the end.

#![allow(clippy::panic, clippy::expect_used, reason = "a bench that cannot go on has failed")]
#![allow(clippy::print_stderr, reason = "the ratio is for a person to read")]

#[path = "../src/commands/measure/transform.rs"]
mod transform;

use criterion::{Criterion, criterion_group, criterion_main};
use image::RgbImage;
use std::hint::black_box;
use std::time::{Duration, Instant};
use stillcloth::camera::{Calibration, picture::decode};
use stillcloth::vision::{self, CalibrateOptions, Reader, RestWatch, TableState};
use transform::Baseline;

const FRAMES: [&[u8]; 3] = [
    include_bytes!("../testdata/frames/club-071000.jpg"),
    include_bytes!("../testdata/frames/club-071003.jpg"),
    include_bytes!("../testdata/frames/club-071005.jpg"),
];

/// How often each frame is read and transformed in turn.
const ROUNDS: usize = 9;

/// A frame with what is known of it before the clock starts.
struct Ready {
    frame: RgbImage,
    reader: Reader,
    baseline: Baseline,
}

fn ready(bytes: &[u8]) -> Ready {
    let frame = decode(bytes).unwrap_or_else(|error| panic!("{error}"));
    let calibration = vision::calibrate(std::slice::from_ref(&frame), &CalibrateOptions::default())
        .unwrap_or_else(|error| panic!("{error}"));
    let baseline = Baseline::new(&frame, radii_px(&calibration)).expect("OpenCV works");
    let reader = Reader::new(calibration).unwrap_or_else(|error| panic!("{error}"));
    Ready { frame, reader, baseline }
}

/// The radii that balls have in the picture, and an eighth more.
fn radii_px(calibration: &Calibration) -> (f64, f64) {
    let Calibration { camera, table, .. } = calibration;
    let radius_mm = table.ball_radius_mm();
    let radii = table.corners().map(|corner| {
        let depth_mm = camera.pose.camera_from_table(corner.at_height(radius_mm)).z;
        camera.lens.focal_px * radius_mm / depth_mm
    });
    let (least, most) = radii
        .iter()
        .fold((f64::MAX, 0.0_f64), |(least, most), radius| (least.min(*radius), most.max(*radius)));
    (0.88 * least, 1.12 * most)
}

fn seeing(criterion: &mut Criterion) {
    opencv::core::set_num_threads(1).expect("OpenCV works");
    let ready = FRAMES.map(ready);
    let mut group = criterion.benchmark_group("1080p frame");
    group.sample_size(10);
    let Ready { frame, reader, baseline } = &ready[0];
    group.bench_function("calibrate", |bencher| {
        bencher.iter(|| {
            let frames = std::slice::from_ref(black_box(frame));
            vision::calibrate(frames, &CalibrateOptions::default()).is_ok()
        });
    });
    group.bench_function("read", |bencher| {
        bencher.iter(|| reader.read(black_box(frame)).is_ok());
    });
    group.bench_function("HoughCircles", |bencher| {
        bencher.iter(|| baseline.find().is_ok());
    });
    group.bench_function("look at a table at rest", |bencher| {
        let frames = [0, 1].map(|salt| grainy(frame, salt));
        let (mut watch, mut tenths) = (at_rest(frame, &ready[0].reader), 100);
        bencher.iter(|| {
            tenths += 1;
            let at = Duration::from_millis(100 * tenths);
            watch.look(black_box(&frames[tenths as usize % 2]), at).is_ok()
        });
    });
    group.finish();
    let mut ratios: Vec<f64> = ready.iter().flat_map(in_turn).collect();
    ratios.sort_by(f64::total_cmp);
    eprintln!(
        "reading takes {:.2} times as long as HoughCircles (median of {}, from {:.2} to {:.2})",
        ratios[ratios.len() / 2],
        ratios.len(),
        ratios[0],
        ratios[ratios.len() - 1]
    );
}

/// A watch that knows the table of a frame to be at rest.
fn at_rest(frame: &RgbImage, reader: &Reader) -> RestWatch {
    let reader = Reader::new(reader.calibration().clone()).expect("the network is sound");
    let mut watch = RestWatch::new(reader);
    let looks = (1..10).map(|tenths| {
        let look = watch.look(&grainy(frame, tenths), Duration::from_millis(100 * tenths));
        look.expect("the frame fits").state
    });
    assert_eq!(looks.last(), Some(TableState::Resting), "the table is at rest");
    watch
}

/// A frame with a camera's noise, another for each number.
fn grainy(frame: &RgbImage, number: u64) -> RgbImage {
    let mut state = number.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    let mut noisy = frame.clone();
    for value in noisy.iter_mut() {
        state = state.wrapping_mul(0x5851_f42d_4c95_7f2d).wrapping_add(0x1405_7b7e_f767_814f);
        *value = value.saturating_add((state >> 62) as u8).saturating_sub(1);
    }
    noisy
}

/// Reading's time over the circle transform's, round by round.
fn in_turn(ready: &Ready) -> Vec<f64> {
    let mut ratios = Vec::new();
    for _ in 0..ROUNDS {
        let start = Instant::now();
        black_box(ready.reader.read(&ready.frame).is_ok());
        let read_s = start.elapsed().as_secs_f64();
        let (circles, transformed) = ready.baseline.find().expect("OpenCV works");
        black_box(circles);
        ratios.push(read_s / transformed.as_secs_f64());
    }
    ratios
}

criterion_group!(benches, seeing);
criterion_main!(benches);
