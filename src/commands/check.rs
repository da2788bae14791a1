//! `stillcloth check`: reads the whole record back.

use std::{error::Error, path::PathBuf};
use stillcloth::record::RecordReader;

#[derive(clap::Args)]
pub struct Arguments {
    /// The data folder.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let report = RecordReader::open(&arguments.data)?.check()?;
    for problem in &report.problems {
        println!("{problem}");
    }
    println!("{} rests, {} problems", report.rests, report.problems.len());
    if report.problems.is_empty() { Ok(()) } else { Err("the record is damaged".into()) }
}
