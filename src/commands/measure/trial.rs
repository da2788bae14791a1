//! Trying the program on labelled frames: calibrating, reading, and the baseline beside it.
//!
//! Times are taken on one thread, reading and circle transform in turn, so that whatever else
//! the machine does meets both.

use super::circles::{self, Circles};
use super::compare::{self, Comparison};
use super::labelled::{Label, Labelled};
use super::transform::Baseline;
use crate::commands::frames;
use image::RgbImage;
use serde::Serialize;
use std::time::Instant;
use stillcloth::camera::Calibration;
use stillcloth::vision::{self, CalibrateOptions, Reader};

/// How often each of the two is timed on a frame.
const ROUNDS: usize = 3;
/// Most frames of one camera that are calibrated from together.
const MOST_TOGETHER: usize = 8;

/// What came of one frame, read or refused.
#[derive(Serialize)]
pub struct Trial {
    pub frame: String,
    #[serde(skip)]
    pub group: String,
    pub balls: usize,
    /// Why it was refused.
    pub refused: Option<String>,
    #[serde(flatten)]
    pub read: Option<Comparison>,
    /// Time to calibrate from this frame alone; none where its calibration is shared.
    pub calibrate_s: Option<f64>,
    pub circles: Circles,
    /// Time to read the frame as a multiple of the circle transform's.
    pub times_circles: Option<f64>,
}

/// Tries one frame by itself.
pub fn alone(labelled: &Labelled, given_size: bool) -> Result<Trial, String> {
    with(labelled, |frame| calibrate(std::slice::from_ref(frame), &labelled.label, given_size))
}

/// Tries frames of one camera with one calibration, made from them together.
pub fn together(
    frames: &[&Labelled],
    given_size: bool,
    mut done: impl FnMut(&Trial),
) -> Result<Vec<Trial>, String> {
    let pictures: Vec<RgbImage> = frames
        .iter()
        .take(MOST_TOGETHER)
        .filter_map(|labelled| frames::open(&labelled.picture).ok())
        .collect();
    let Some(first) = frames.first() else { return Ok(Vec::new()) };
    let shared = calibrate(&pictures, &first.label, given_size);
    drop(pictures);
    let mut trials = Vec::new();
    for labelled in frames {
        let mut trial = with(labelled, |_| shared.clone())?;
        trial.calibrate_s = None;
        done(&trial);
        trials.push(trial);
    }
    Ok(trials)
}

fn calibrate(frames: &[RgbImage], label: &Label, given_size: bool) -> Result<Calibration, String> {
    let table = given_size.then_some(label.table);
    let options = CalibrateOptions { table, ..CalibrateOptions::default() };
    vision::calibrate(frames, &options).map_err(|error| error.to_string())
}

/// Reads a frame with whatever calibration it is to have, and runs the baseline. A frame that is
/// refused is a result; only a failing baseline is an error.
fn with(
    labelled: &Labelled,
    calibration: impl FnOnce(&RgbImage) -> Result<Calibration, String>,
) -> Result<Trial, String> {
    let label = &labelled.label;
    let mut trial = Trial {
        frame: labelled.name.clone(),
        group: labelled.group.clone(),
        balls: label.balls.len(),
        refused: None,
        read: None,
        calibrate_s: None,
        circles: Circles::none(),
        times_circles: None,
    };
    let frame = match frames::open(&labelled.picture) {
        Ok(frame) => frame,
        Err(why) => return Ok(Trial { refused: Some(why), ..trial }),
    };
    let failed = |error| format!("HoughCircles failed on {}: {error}", labelled.name);
    let baseline = Baseline::new(&frame, circles::radii_px(label)).map_err(failed)?;
    trial.circles = circles::compare(label, &baseline.find().map_err(failed)?.0);
    let start = Instant::now();
    let calibration = calibration(&frame);
    trial.calibrate_s = Some(start.elapsed().as_secs_f64());
    let read = calibration.and_then(|calibration| {
        let reader = Reader::new(calibration).map_err(|error| error.to_string())?;
        let reading = reader.read(&frame).map_err(|error| error.to_string())?;
        Ok((reader, reading))
    });
    match read {
        Err(why) => trial.refused = Some(why),
        Ok((reader, reading)) => {
            trial.read = Some(compare::compare(label, reader.calibration(), &reading));
            trial.times_circles = Some(race(&reader, &frame, &baseline).map_err(failed)?);
        }
    }
    Ok(trial)
}

/// The median of reading's time over the circle transform's.
fn race(reader: &Reader, frame: &RgbImage, baseline: &Baseline) -> opencv::Result<f64> {
    let mut ratios = Vec::new();
    for _ in 0..ROUNDS {
        let start = Instant::now();
        let reading = reader.read(frame);
        let read_s = start.elapsed().as_secs_f64();
        drop(reading);
        ratios.push(read_s / baseline.find()?.1.as_secs_f64());
    }
    Ok(median(&mut ratios).unwrap_or(f64::NAN))
}

/// The middle value; none of none.
pub fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let upper = values.get(values.len() / 2)?;
    let lower = values.get((values.len() - 1) / 2)?;
    Some(f64::midpoint(*lower, *upper))
}
