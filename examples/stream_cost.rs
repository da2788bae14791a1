//! What watching a stream costs without reading it: opens a source as `serve` does, drains it for a
//! while, decodes the ten frames a second that are offered, and prints the processor time of this
//! program for each second of the stream.
//!
//! `cargo run --release --example stream_cost -- SOURCE [SECONDS]`

#![allow(clippy::print_stdout, reason = "an example prints")]

use std::{error::Error, time::Duration, time::Instant};
use stillcloth::camera::{
    picture,
    source::{FrameSource, SourceFrame, StopSign, Terms, Thinning},
};

/// Processor time of all threads so far, in seconds.
fn processor_s() -> Result<f64, Box<dyn Error>> {
    let mut total_ns = 0_u64;
    for thread in std::fs::read_dir("/proc/self/task")? {
        let figures = std::fs::read_to_string(thread?.path().join("schedstat"))?;
        total_ns += figures.split(' ').next().unwrap_or_default().parse::<u64>()?;
    }
    Ok(total_ns as f64 / 1e9)
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let source = arguments.next().ok_or("name a source, as after serve --camera")?;
    let seconds: f64 = arguments.next().map_or(Ok(20.0), |text| text.parse())?;
    let FrameSource::Stream(source) = FrameSource::open(&source)? else {
        return Err("that is no stream".into());
    };
    let patience = Duration::from_secs(10);
    let terms = Terms { open_within: patience, read_within: patience, stop: StopSign::default() };
    let mut stream = source.open(&terms)?;
    let mut thinning = Thinning::default();
    let (begun, before_s) = (Instant::now(), processor_s()?);
    let (mut frames, mut offered, mut last) = (0, 0, Duration::ZERO);
    while let Some(grabbed) = stream.grab()? {
        frames += 1;
        last = grabbed.at.unwrap_or_else(|| begun.elapsed());
        if thinning.wants(last) {
            offered += 1;
            if let SourceFrame::File(bytes) = stream.retrieve()? {
                picture::decode(&bytes)?;
            }
        }
        if last.as_secs_f64() >= seconds {
            break;
        }
    }
    let (cost_s, stream_s) = (processor_s()? - before_s, last.as_secs_f64());
    println!("{frames} frames in {stream_s:.1} s, {offered} offered and decoded");
    println!("{:.1} % of one core", 100.0 * cost_s / stream_s);
    Ok(())
}
