//! `stillcloth board`: writes a printable board for calibrating a lens.

use std::error::Error;
use std::path::PathBuf;
use stillcloth::camera::board::{self, Board, BoardKind, Paper};

#[derive(clap::Args)]
pub struct Arguments {
    /// chessboard, or charuco, which is found with part of it out of the frame
    #[arg(long, default_value = "charuco")]
    kind: BoardKind,
    /// a4 or a3
    #[arg(long, default_value = "a4")]
    paper: Paper,
    /// The SVG file to write
    #[arg(long, value_name = "FILE.svg")]
    out: PathBuf,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let page = board::svg(&Board::on(arguments.kind, arguments.paper))?;
    let out = &arguments.out;
    std::fs::write(out, page)
        .map_err(|error| format!("cannot write the board {}: {error}", out.display()))?;
    println!("{}: print at 100 %, both bars on the page then measure 100 mm", out.display());
    Ok(())
}
