//! `stillcloth measure`: how well labelled frames are read, beside OpenCV's circle transform, how
//! well made-up sessions are scored, and what advice is worth.

mod advice;
mod circles;
mod compare;
mod figures;
mod labelled;
mod odds;
mod rests;
mod scores;
mod sessions;
mod transform;
mod trial;

use figures::Figures;
use labelled::Labelled;
use serde::Serialize;
use std::collections::BTreeSet;
use std::error::Error;
use std::path::{Path, PathBuf};
use stillcloth::advice::Level;
use trial::Trial;

#[derive(clap::Args)]
pub struct Arguments {
    /// A folder of labelled frames, with the folders in it; `stillcloth stage` makes some
    #[arg(required_unless_present_any = ["sessions", "advice"])]
    dir: Option<PathBuf>,
    /// Play and film N made-up sessions of eight attempts instead, and follow them
    #[arg(long, value_name = "N", conflicts_with_all = ["dir", "given_size", "one_calibration", "worst"])]
    sessions: Option<u64>,
    /// Play N attempts by the advice and N by the likeliest pot instead, and N break shots
    #[arg(long, value_name = "N", conflicts_with_all = ["dir", "sessions", "given_size", "one_calibration", "worst"])]
    advice: Option<u64>,
    /// Of which player: beginner, club or expert; all three where it is not given
    #[arg(long, value_name = "LEVEL", requires = "advice")]
    level: Option<Level>,
    /// Seed of the first session or of the attempts; the others follow
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Tell each frame's calibration the true size of the table
    #[arg(long)]
    given_size: bool,
    /// Only with one calibration for all the frames of a camera
    #[arg(long)]
    one_calibration: bool,
    /// List the N balls that are furthest off, and all that went wrong
    #[arg(long, value_name = "N")]
    worst: Option<usize>,
    /// Everything as one JSON document, frame by frame
    #[arg(long)]
    json: bool,
}

/// One way of calibrating, and what came of it.
#[derive(Serialize)]
struct Measured {
    how: &'static str,
    rows: Vec<Figures>,
    frames: Vec<Trial>,
}

const ALONE: &str = "each frame calibrated from itself alone";
const TOGETHER: &str = "one calibration for each camera, from up to 8 of its frames";

const NOTES: &str = "\
A refused frame counts: all its balls are missed, and nothing about it is right. Balls are paired \
with true ones within 25 mm on the true table, up to its turn by 180°. Numbers right: of the object \
balls found. Sigma: 86 % within 2 sigma is ideal. HoughCircles knows the balls' radii to 12 %, finds \
a ball within 3 px, and circles off the cloth are not counted as false; its time is that of the \
median filter and the transform on a grey frame, ours that of reading a decoded frame with a known \
calibration, both on one thread in turn; the median of the frames' ratios.";

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    opencv::core::set_num_threads(1)?;
    if let Some(count) = arguments.sessions {
        return sessions::run(arguments.seed, count, arguments.json);
    }
    if let Some(count) = arguments.advice {
        return advice::run((arguments.seed, count), arguments.level, arguments.json);
    }
    let dir = arguments.dir.as_deref().unwrap_or(Path::new("."));
    let frames = labelled::walk(dir)?;
    let mut measured = Vec::new();
    if !arguments.one_calibration {
        let mut progress = Progress::new(ALONE, frames.len());
        let mut trials = Vec::new();
        for frame in &frames {
            let trial = trial::alone(frame, arguments.given_size)?;
            progress.show(&trial);
            trials.push(trial);
        }
        measured.push(Measured { how: ALONE, rows: figures::rows(&trials), frames: trials });
    }
    let cameras = cameras(&frames);
    // Where no camera has several frames the second table would repeat the first.
    if arguments.one_calibration || cameras.iter().any(|frames| frames.len() > 1) {
        let mut progress = Progress::new(TOGETHER, frames.len());
        let mut trials = Vec::new();
        for frames in &cameras {
            let shown = |trial: &Trial| progress.show(trial);
            trials.extend(trial::together(frames, arguments.given_size, shown)?);
        }
        measured.push(Measured { how: TOGETHER, rows: figures::rows(&trials), frames: trials });
    }
    print(arguments, &measured)
}

/// The frames of each camera, cameras in the order of their first frames.
fn cameras(frames: &[Labelled]) -> Vec<Vec<&Labelled>> {
    let mut cameras: Vec<Vec<&Labelled>> = Vec::new();
    for frame in frames {
        let same = |other: &&mut Vec<&Labelled>| {
            let label = &other[0].label;
            label.camera == frame.label.camera && label.table == frame.label.table
        };
        match cameras.iter_mut().find(same) {
            Some(camera) => camera.push(frame),
            None => cameras.push(vec![frame]),
        }
    }
    cameras
}

fn print(arguments: &Arguments, measured: &[Measured]) -> Result<(), Box<dyn Error>> {
    let mut text = String::new();
    if arguments.json {
        text = serde_json::to_string_pretty(measured)? + "\n";
    } else {
        let size = if arguments.given_size { "size given" } else { "size not given" };
        for Measured { how, rows, frames } in measured {
            text += &format!("{how}, {size}:\n\n{}\n", figures::tables(rows, arguments.given_size));
            let refused: BTreeSet<_> = frames
                .iter()
                .filter_map(|trial| Some(format!("{}: {}", trial.frame, trial.refused.as_ref()?)))
                .collect();
            for refusal in refused {
                text += &format!("refused {refusal}\n");
            }
            if let Some(worst) = arguments.worst {
                text += &odds::list(frames, worst);
            }
            text.push('\n');
        }
        text += &format!("{NOTES}\n");
    }
    Ok(super::output::write(&text)?)
}

/// What is told on the way, on stderr.
struct Progress {
    of: usize,
    done: usize,
}

impl Progress {
    fn new(how: &str, of: usize) -> Self {
        eprintln!("{of} frames, {how}");
        Self { of, done: 0 }
    }

    fn show(&mut self, trial: &Trial) {
        self.done += 1;
        let came = match &trial.read {
            None => "refused".into(),
            Some(read) => format!(
                "{} of {} balls, {} false",
                read.found.len(),
                trial.balls,
                read.false_balls.len()
            ),
        };
        eprintln!("{}/{} {}: {came}", self.done, self.of, trial.frame);
    }
}
