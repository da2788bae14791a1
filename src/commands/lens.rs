//! `stillcloth lens`: the lens from pictures of a printed board, for `calibrate --lens`.

use super::{frames, output};
use std::{error::Error, path::PathBuf};
use stillcloth::{
    camera::board::{Board, BoardKind, Paper},
    vision::lens_board::{LensReport, calibrate_lens},
};

#[derive(clap::Args)]
pub struct Arguments {
    /// Pictures from one camera of the board that `stillcloth board` writes: held flat, slanted in
    /// several ways, out to the corners of the picture
    #[arg(required = true, value_name = "FRAME")]
    frames: Vec<PathBuf>,
    /// chessboard or charuco, as it was printed
    #[arg(long, default_value = "charuco")]
    kind: BoardKind,
    /// a4 or a3, as it was printed
    #[arg(long, default_value = "a4")]
    paper: Paper,
    /// The lens file to write
    #[arg(long, value_name = "FILE.json")]
    out: PathBuf,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let mut pictures = Vec::new();
    for path in &arguments.frames {
        pictures.push(frames::open(path).map_err(|why| format!("{}: {why}", path.display()))?);
    }
    let board = Board::on(arguments.kind, arguments.paper);
    let (lens, report) = calibrate_lens(&pictures, &board)?;
    let out = &arguments.out;
    std::fs::write(out, serde_json::to_string_pretty(&lens)? + "\n")
        .map_err(|error| format!("cannot write the lens {}: {error}", out.display()))?;
    let mut text = format!(
        "lens        focal length {:.1} px (one sigma {:.1}), in {} of {} frames\n\
         fit         {:.2} px from where the corners should be (RMS)\n",
        lens.focal_px,
        report.focal_sigma_px,
        report.frames_given - report.left_out.len(),
        report.frames_given,
        report.reprojection_px,
    );
    text += &notes(&report, &arguments.frames);
    text += &format!("saved       {}\n", out.display());
    Ok(output::write(&text)?)
}

fn notes(report: &LensReport, frames: &[PathBuf]) -> String {
    let left_out = report.left_out.iter().filter_map(|(number, why)| {
        frames.get(*number).map(|path| format!("left out    {}: {why}\n", path.display()))
    });
    let weak = report.weak.iter().map(|weak| format!("weak        {weak}\n"));
    left_out.chain(weak).collect()
}
