//! `stillcloth teach`: learns the look of a ball set laid out in number order along a rail.

use super::{frames, output};
use std::error::Error;
use std::path::{Path, PathBuf};
use stillcloth::camera::Calibration;
use stillcloth::service::{CameraName, ball_set_beside, save_ball_set};
use stillcloth::vision::{self, BallLook, CalibrateOptions, LaidOut, Reader, set_in_a_row};

#[derive(clap::Args)]
pub struct Arguments {
    /// Pictures of the whole table from one camera, with the whole set in a row along a rail: the
    /// cue ball, a gap, then 1 to 15. Turn the balls between pictures
    #[arg(required = true, value_name = "FRAME")]
    frames: Vec<PathBuf>,
    /// The camera's calibration; without one the frames are calibrated from themselves
    #[arg(long, value_name = "FILE")]
    calibration: Option<PathBuf>,
    /// A camera of the service, whose calibration is taken and which reads by this look from its
    /// next start on
    #[arg(long, value_name = "NAME", conflicts_with = "calibration")]
    camera: Option<CameraName>,
    /// Where the service keeps its calibrations
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    /// The file to write [default: beside the calibration, or the first frame's name in
    /// data/calibrations/, with the ending .balls.json]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let kept = |name: &CameraName| arguments.data.join("calibrations").join(format!("{name}.json"));
    let stored = arguments.calibration.clone().or(arguments.camera.as_ref().map(kept));
    let mut pictures = Vec::new();
    for path in &arguments.frames {
        pictures.push(frames::open(path).map_err(|why| of_frame(path, why))?);
    }
    let calibration = match &stored {
        Some(path) => Calibration::load(path)?,
        None => vision::calibrate(&pictures, &CalibrateOptions::default())?,
    };
    let reader = Reader::new(calibration)?;
    let mut rows = Vec::new();
    for (path, frame) in arguments.frames.iter().zip(&pictures) {
        rows.push(set_in_a_row(&reader, frame).map_err(|why| of_frame(path, why))?);
    }
    let laid: Vec<LaidOut> = pictures
        .iter()
        .zip(&rows)
        .map(|(frame, row)| LaidOut { frame, balls: row.as_slice() })
        .collect();
    let calibration = reader.calibration();
    let look = BallLook::learn(&calibration.camera, &calibration.table, &laid)?;
    let out = arguments.out.clone().unwrap_or_else(|| {
        let first = arguments.frames.first().map(|frame| CameraName::from_path(frame));
        ball_set_beside(&stored.unwrap_or_else(|| kept(&first.unwrap_or_default())))
    });
    save_ball_set(&look, &out)?;
    let plural = if rows.len() == 1 { "" } else { "s" };
    let text = format!(
        "taught      {} balls from {} frame{plural}; {:.0} % of them were named so before\n\
         saved       {}\n",
        look.balls(),
        rows.len(),
        100.0 * look.read_rightly(),
        out.display()
    );
    Ok(output::write(&text)?)
}

fn of_frame(path: &Path, why: impl std::fmt::Display) -> String {
    format!("{}: {why}", path.display())
}
