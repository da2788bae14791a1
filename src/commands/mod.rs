//! What the user can ask for on the command line, one file for each command.
//!
//! A new command is a new file, a line here, a variant and an arm.

mod board;
mod calibrate;
mod check;
mod frames;
mod measure;
mod output;
mod read;
mod serve;
mod stage;
mod teach;

pub use output::is_unread;
use std::error::Error;

#[derive(clap::Subcommand)]
pub enum Command {
    /// Find the table in frames of one camera and keep where the camera stands.
    Calibrate(calibrate::Arguments),
    /// Read the layout in each frame, printed as a line of JSON.
    Read(read::Arguments),
    /// Learn the look of a ball set laid out in number order along a rail.
    Teach(teach::Arguments),
    /// Take frames in, keep their layouts and pass them on.
    Serve(serve::Arguments),
    /// Read the whole record back and report whatever was lost or changed.
    Check(check::Arguments),
    /// Make up frames with exact labels, for measuring and tests.
    Stage(stage::Arguments),
    /// Show how well labelled frames are read, beside OpenCV's circle transform.
    Measure(measure::Arguments),
    /// Write a printable board for calibrating a lens.
    Board(board::Arguments),
}

impl Command {
    pub fn run(self) -> Result<(), Box<dyn Error>> {
        match self {
            Self::Calibrate(arguments) => calibrate::run(&arguments),
            Self::Read(arguments) => read::run(&arguments),
            Self::Teach(arguments) => teach::run(&arguments),
            Self::Serve(arguments) => serve::run(arguments),
            Self::Check(arguments) => check::run(&arguments),
            Self::Stage(arguments) => stage::run(&arguments),
            Self::Measure(arguments) => measure::run(&arguments),
            Self::Board(arguments) => board::run(&arguments),
        }
    }
}
