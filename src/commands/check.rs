//! `stillcloth check`: reads the whole record back.

use std::{error::Error, path::PathBuf};
use stillcloth::record::Record;

#[derive(clap::Args)]
pub struct Arguments {
    /// The data folder.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    if !arguments.data.is_dir() {
        return Err(format!("there is no data folder {}", arguments.data.display()).into());
    }
    let record = Record::open(&arguments.data)?;
    let runtime = tokio::runtime::Builder::new_current_thread().build()?;
    let report = runtime.block_on(record.check())?;
    for problem in &report.problems {
        println!("{problem}");
    }
    println!("{} rests, {} problems", report.rests, report.problems.len());
    if report.problems.is_empty() { Ok(()) } else { Err("the record is damaged".into()) }
}
