//! What the user can ask for on the command line, one file for each command.
//!
//! A new command is a new file, a line here, a variant and an arm.

mod advise;
mod backup;
mod board;
mod calibrate;
mod chapters;
mod check;
mod clips;
mod enter;
mod export;
mod follow;
mod frames;
mod import;
mod lens;
mod measure;
mod merge;
mod opening;
mod output;
mod read;
mod record;
mod serve;
mod stage;
mod teach;
mod try_hit;
mod verify;

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
    /// Follow a film: its rests, and the score of each attempt.
    Follow(follow::Arguments),
    /// Read the whole record back and report whatever was lost or changed.
    Check(check::Arguments),
    /// Write the record out as JSON Lines or CSV, while the service runs or not.
    Export(export::Arguments),
    /// Show what the player's own record says: how far runs go, what ends them, how likely a goal is.
    Record(record::Arguments),
    /// Write a session's attempts as chapters of its film.
    Chapters(chapters::Arguments),
    /// Cut the shots of an attempt out of its film; needs ffmpeg.
    Clips(clips::Arguments),
    /// Write an attempt as a signed entry of a contest.
    Enter(enter::Arguments),
    /// Check an entry of a contest: whole, unchanged, and the run follows from its records.
    Verify(verify::Arguments),
    /// Bring in attempts that were kept by hand, or a series of photographs.
    Import(import::Arguments),
    /// Take another data folder's whole record in: nothing is doubled, and nothing of either lost.
    Merge(merge::Arguments),
    /// Copy the data folder, while the service runs or not.
    Backup(backup::Arguments),
    /// Make up frames with exact labels, for measuring and tests.
    Stage(stage::Arguments),
    /// Show how well labelled frames are read, beside OpenCV's circle transform.
    Measure(measure::Arguments),
    /// Play one hit from a layout and tell what happens and where the balls come to rest.
    Try(try_hit::Arguments),
    /// Show the shots that are on from a layout, and an order to play them in.
    Advise(advise::Arguments),
    /// Show where to place the ball and the cue ball for the opening break shot.
    Opening(opening::Arguments),
    /// Write a printable board for calibrating a lens.
    Board(board::Arguments),
    /// Find the lens from pictures of a printed board.
    Lens(lens::Arguments),
}

impl Command {
    pub fn run(self) -> Result<(), Box<dyn Error>> {
        match self {
            Self::Calibrate(arguments) => calibrate::run(&arguments),
            Self::Read(arguments) => read::run(&arguments),
            Self::Teach(arguments) => teach::run(&arguments),
            Self::Serve(arguments) => serve::run(arguments),
            Self::Follow(arguments) => follow::run(&arguments),
            Self::Check(arguments) => check::run(&arguments),
            Self::Export(arguments) => export::run(&arguments),
            Self::Record(arguments) => record::run(&arguments),
            Self::Chapters(arguments) => chapters::run(&arguments),
            Self::Clips(arguments) => clips::run(&arguments),
            Self::Enter(arguments) => enter::run(&arguments),
            Self::Verify(arguments) => verify::run(&arguments),
            Self::Import(arguments) => import::run(&arguments),
            Self::Merge(arguments) => merge::run(&arguments),
            Self::Backup(arguments) => backup::run(&arguments),
            Self::Stage(arguments) => stage::run(&arguments),
            Self::Measure(arguments) => measure::run(&arguments),
            Self::Try(arguments) => try_hit::run(&arguments),
            Self::Advise(arguments) => advise::run(&arguments),
            Self::Opening(arguments) => opening::run(&arguments),
            Self::Board(arguments) => board::run(&arguments),
            Self::Lens(arguments) => lens::run(&arguments),
        }
    }
}
