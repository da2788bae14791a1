//! `stillcloth backup`: a copy of the data folder, made while the service runs.

use std::{error::Error, path::PathBuf};
use stillcloth::record::RecordReader;

#[derive(clap::Args)]
pub struct Arguments {
    /// The folder to copy to: a new one, or that of an earlier backup, which is brought up to
    /// date. A service can be started on it as it is.
    #[arg(value_name = "TARGET")]
    target: PathBuf,

    /// The data folder. A service may be running on it.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let report = RecordReader::open(&arguments.data)?.backup(&arguments.target)?;
    println!(
        "{} rests are in {}, {} pictures were copied",
        report.rests,
        arguments.target.display(),
        report.pictures_copied
    );
    match report.pictures_missing {
        0 => Ok(()),
        missing => Err(format!(
            "{missing} pictures are missing from {}: `stillcloth check` names them",
            arguments.data.display()
        )
        .into()),
    }
}
