//! `stillcloth merge`: another record's history taken into this one.

use std::{error::Error, path::PathBuf};
use stillcloth::record::merge;

#[derive(clap::Args)]
pub struct Arguments {
    /// The other data folder. It is only read; a service may be running on it
    #[arg(value_name = "OTHER")]
    other: PathBuf,
    /// The data folder that takes all of it in; no service may be running on it
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    // The database alone is as good a name for its folder.
    let named = arguments.other.file_name().is_some_and(|name| name == "record.sqlite3");
    let folder = arguments.other.parent().filter(|_| named && arguments.other.is_file());
    let report = merge(&arguments.data, folder.unwrap_or(&arguments.other))?;
    println!(
        "{} rests were added with {} pictures, {} corrections and {} notes; {} rests were here already.",
        report.rests, report.pictures, report.corrections, report.notes, report.known
    );
    if report.contests + report.entries + report.hand_kept > 0 {
        println!(
            "{} contests, {} entries and {} hand-kept attempts were added.",
            report.contests, report.entries, report.hand_kept
        );
    }
    for (from, to) in &report.renamed {
        println!(
            "New rests of its camera {from} stand under {to}: they are not all later than what is here."
        );
    }
    match report.pictures_missing {
        0 => Ok(()),
        missing => Err(format!(
            "{missing} pictures are missing from {}: `stillcloth check` names them; all else was added",
            arguments.other.display()
        )
        .into()),
    }
}
