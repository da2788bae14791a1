//! `stillcloth export`: the record for other programs.

use super::output::to_file;
use std::{
    error::Error,
    io::{self, BufWriter},
    path::PathBuf,
};
use stillcloth::record::{ExportError, ExportFormat, ExportOf, RecordReader};

#[derive(clap::Args)]
pub struct Arguments {
    /// What to write out: each rest with its layout, each shot with what its rests tell of it, each
    /// attempt with its run, what was corrected, what was noted, or all that was announced.
    #[arg(value_enum, default_value = "rests")]
    what: What,

    /// The data folder. A service may be running on it.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,

    /// JSON Lines, a table for a spreadsheet (of rests: a row for each ball), or Parquet for a notebook
    /// (of rests, shots and attempts).
    #[arg(long, value_enum, default_value = "jsonl")]
    format: Format,

    /// The file to write; standard output where it is not given.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

#[derive(Clone, Copy, clap::ValueEnum)]
enum What {
    Rests,
    Shots,
    Attempts,
    Corrections,
    Notes,
    Events,
}

#[derive(Clone, Copy, clap::ValueEnum)]
enum Format {
    Jsonl,
    Csv,
    Parquet,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let what = match arguments.what {
        What::Rests => ExportOf::Rests,
        What::Shots => ExportOf::Shots,
        What::Attempts => ExportOf::Attempts,
        What::Corrections => ExportOf::Corrections,
        What::Notes => ExportOf::Notes,
        What::Events => ExportOf::Events,
    };
    let format = match arguments.format {
        Format::Jsonl => ExportFormat::JsonLines,
        Format::Csv => ExportFormat::Csv,
        Format::Parquet => ExportFormat::Parquet,
    };
    let record = RecordReader::open(&arguments.data)?;
    match &arguments.out {
        Some(path) => to_file(path, |file| record.export(what, format, file)),
        None => record.export(what, format, BufWriter::new(io::stdout())).map_err(plain),
    }
}

/// That nobody reads any more has to be known by its own kind of error.
fn plain(error: ExportError) -> Box<dyn Error> {
    match error {
        ExportError::Write(error) => error.into(),
        other => other.into(),
    }
}
