//! `stillcloth read`: a line of JSON with the layout of each frame.

use super::frames::{self, TableArguments};
use super::output;
use image::RgbImage;
use serde::Serialize;
use std::collections::BTreeSet;
use std::error::Error;
use std::path::{Path, PathBuf};
use stillcloth::camera::Calibration;
use stillcloth::layout::{Layout, diagram};
use stillcloth::service::load_ball_set;
use stillcloth::vision::{self, BallLook, Reader, Reading, overlay};

/// Width of a diagram as PNG: readable on a phone and in print.
const DIAGRAM_WIDTH_PX: u32 = 1600;

#[derive(clap::Args)]
pub struct Arguments {
    /// Pictures of the whole table
    #[arg(required = true, value_name = "FRAME")]
    frames: Vec<PathBuf>,
    /// The camera's calibration, as `stillcloth calibrate` writes it; without one each frame is
    /// calibrated from itself
    #[arg(long, value_name = "FILE", conflicts_with_all = ["table", "foot"])]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    table: TableArguments,
    /// The balls' own look, as `stillcloth teach` writes it
    #[arg(long, value_name = "FILE")]
    ball_set: Option<PathBuf>,
    /// A diagram of the layout; of several frames, each one's name is put before the ending
    #[arg(long, value_name = "FILE.svg|.png")]
    diagram: Option<PathBuf>,
    /// The frame with what was seen drawn over it; of several frames, as with the diagram
    #[arg(long, value_name = "FILE.png")]
    overlay: Option<PathBuf>,
}

/// A line of the output.
#[derive(Serialize)]
struct Line<'a> {
    #[serde(flatten)]
    layout: &'a Layout,
    /// The frame as the user named it.
    frame: String,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    arguments.check()?;
    let look = arguments.ball_set.as_deref().map(load_ball_set).transpose()?;
    let reader = match &arguments.calibration {
        Some(path) => Some(taught(Calibration::load(path)?, look.as_ref())?),
        None => None,
    };
    let mut failed = 0;
    for path in &arguments.frames {
        match arguments.read(path, reader.as_ref(), look.as_ref()) {
            Err(why) if output::is_unread(why.as_ref()) => return Err(why),
            Err(why) => {
                failed += 1;
                eprintln!("stillcloth: {}: {why}", path.display());
            }
            Ok(()) => {}
        }
    }
    match failed {
        0 => Ok(()),
        _ => Err(format!("{failed} of {} frames failed", arguments.frames.len()).into()),
    }
}

/// A reader that knows the balls' look where one was given.
fn taught(calibration: Calibration, look: Option<&BallLook>) -> Result<Reader, Box<dyn Error>> {
    let mut reader = Reader::new(calibration)?;
    if let Some(look) = look {
        reader.teach(look.clone())?;
    }
    Ok(reader)
}

impl Arguments {
    /// What cannot go well is said before any frame is read.
    fn check(&self) -> Result<(), String> {
        let picture = |path: &Path| frames::ends_in(path, "png");
        let drawing = |path: &Path| picture(path) || frames::ends_in(path, "svg");
        if let Some(path) = self.diagram.as_ref().filter(|path| !drawing(path)) {
            return Err(format!("a diagram is .svg or .png, {} is neither", path.display()));
        }
        if let Some(path) = self.overlay.as_ref().filter(|path| !picture(path)) {
            return Err(format!("an overlay is .png, {} is not", path.display()));
        }
        let mut stems = BTreeSet::new();
        let twice = self.frames.iter().find(|path| !stems.insert(path.file_stem()));
        let draws = self.diagram.is_some() || self.overlay.is_some();
        match twice.filter(|_| draws) {
            Some(path) => Err(format!(
                "two frames are called {}: their drawings would overwrite each other, draw them \
                 one at a time",
                path.file_stem().unwrap_or_default().display()
            )),
            None => Ok(()),
        }
    }

    /// One frame from its file to its line and drawings.
    fn read(
        &self,
        path: &Path,
        reader: Option<&Reader>,
        look: Option<&BallLook>,
    ) -> Result<(), Box<dyn Error>> {
        let picture = frames::open(path)?;
        let own;
        let reader = match reader {
            Some(reader) => reader,
            None => {
                let options = self.table.options();
                let calibration = vision::calibrate(std::slice::from_ref(&picture), &options)?;
                own = taught(calibration, look)?;
                &own
            }
        };
        let reading = reader.read(&picture)?;
        let frame = path.to_string_lossy().into_owned();
        let line = serde_json::to_string(&Line { layout: &reading.layout, frame })?;
        output::write(&(line + "\n"))?;
        self.draw(path, &picture, reader.calibration(), &reading)
    }

    fn draw(
        &self,
        path: &Path,
        frame: &RgbImage,
        calibration: &Calibration,
        reading: &Reading,
    ) -> Result<(), Box<dyn Error>> {
        if let Some(out) = &self.diagram {
            let out = self.own_name(out, path);
            let drawn = if frames::ends_in(&out, "svg") {
                diagram::svg(&reading.layout).into_bytes()
            } else {
                diagram::png(&reading.layout, DIAGRAM_WIDTH_PX)?
            };
            std::fs::write(&out, drawn)
                .map_err(|error| format!("cannot write {}: {error}", out.display()))?;
        }
        if let Some(out) = &self.overlay {
            let drawn = overlay::draw(frame, calibration, Some(reading));
            frames::save(&drawn, &self.own_name(out, path))?;
        }
        Ok(())
    }

    /// The file for one frame's drawing: the one that was named, or one of several beside it.
    fn own_name(&self, out: &Path, frame: &Path) -> PathBuf {
        if self.frames.len() == 1 {
            return out.to_path_buf();
        }
        let part = |name: Option<&std::ffi::OsStr>| {
            name.unwrap_or_default().to_string_lossy().into_owned()
        };
        let (stem, ending) = (part(out.file_stem()), part(out.extension()));
        out.with_file_name(format!("{stem}-{}.{ending}", part(frame.file_stem())))
    }
}
