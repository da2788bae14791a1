//! `stillcloth board`: writes a printable board for calibrating a lens.

use clap::Args;
use std::path::PathBuf;
use stillcloth::camera::board::{self, Board, BoardError, BoardKind, Paper};
use thiserror::Error;

/// Write a printable board for calibrating a lens.
#[derive(Debug, Args)]
pub struct BoardArgs {
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

/// Why no board was written.
#[derive(Debug, Error)]
pub enum BoardCommandError {
    #[error(transparent)]
    Board(#[from] BoardError),
    #[error("cannot write the board {path}: {source}")]
    Unwritable { path: PathBuf, source: std::io::Error },
}

/// Runs the command.
///
/// # Errors
/// Where the board cannot be made or written.
pub fn run(args: &BoardArgs) -> Result<(), BoardCommandError> {
    let page = board::svg(&Board::on(args.kind, args.paper))?;
    std::fs::write(&args.out, page)
        .map_err(|source| BoardCommandError::Unwritable { path: args.out.clone(), source })
}
