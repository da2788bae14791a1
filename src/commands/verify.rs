//! `stillcloth verify`: an entry of a contest, checked.

use std::{error::Error, fs::File, io::BufReader, path::PathBuf};
use stillcloth::{
    contest::{MOST_BYTES, PublicKey, Report, Verdict, verify},
    record::picture_fault,
};

#[derive(clap::Args)]
pub struct Arguments {
    /// The entry's file
    #[arg(value_name = "ENTRY")]
    entry: PathBuf,
    /// The player's key, where it is known: an entry signed with another one is refused
    #[arg(long, value_name = "KEY")]
    key: Option<PublicKey>,
    /// The folder of the entry's pictures, each of which has to be the one that was signed
    #[arg(long, value_name = "DIR")]
    pictures: Option<PathBuf>,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let path = arguments.entry.display();
    let named = |error: std::io::Error| format!("cannot read {path}: {error}");
    let file = File::open(&arguments.entry).map_err(named)?;
    let bytes = file.metadata().map_err(named)?.len();
    if bytes > MOST_BYTES {
        return Err(format!(
            "{path} has {} MiB, and an entry at most {} MiB: this is none",
            bytes >> 20,
            MOST_BYTES >> 20
        )
        .into());
    }
    let report = verify(BufReader::new(file), arguments.key.as_ref(), |sha256, format| {
        picture_fault(arguments.pictures.as_ref()?, sha256, format)
    })
    .map_err(named)?;
    tell(&report);
    match report.verdict() {
        Verdict::Verified => Ok(()),
        Verdict::ToLookAt => {
            Err("not verified: whole and signed, with places that somebody has to look at".into())
        }
        Verdict::Refused => Err("refused: the entry does not bear out what it claims".into()),
    }
}

fn tell(report: &Report) {
    if let Some(player) = &report.player {
        let age = report.age_years.map_or(String::new(), |age| format!(", {age} years"));
        println!("{player}{age}, {} records", report.records);
    }
    if let Some(key) = &report.key {
        println!("key: {key}");
    }
    if let Some(film) = &report.film {
        println!("film: {film}");
    }
    for finding in &report.findings {
        println!("{finding}");
    }
    if report.more > 0 {
        println!("and {} more", report.more);
    }
    if let Some(attempt) = &report.attempt {
        let ended = attempt.over.map_or("not over", |over| over.cause.words());
        println!("a run of {} follows from the records: {ended}", attempt.run);
    }
    if report.verdict() == Verdict::Verified {
        println!("Verified. That the rests were played so, pictures and film alone can show.");
    }
}
