//! `stillcloth enter`: an attempt as a signed entry of a contest.

use super::output::to_file;
use std::{error::Error, io::Write, path::PathBuf};
use stillcloth::{
    contest::{Entrant, EntryRecord, Verdict, verify, write_entry},
    record::{AttemptRests, RecordReader, Rest, Studied, player_key},
    score::Step,
};

#[derive(clap::Args)]
pub struct Arguments {
    /// The attempt's number, as the pages show it
    #[arg(value_name = "ATTEMPT")]
    attempt: u32,
    /// Your name as it is to stand on the list
    #[arg(long, value_name = "NAME")]
    player: String,
    /// Your age at the attempt in whole years, where the contest asks for it
    #[arg(long, value_name = "YEARS")]
    age: Option<u8>,
    /// Where a film of the attempt is to be seen
    #[arg(long, value_name = "URL")]
    film: Option<String>,
    /// The data folder. A service may be running on it
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    /// The camera whose attempt is meant, where the data folder has several
    #[arg(long, value_name = "NAME")]
    camera: Option<String>,
    /// The file to write [default: attempt-ATTEMPT.entry.jsonl]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Copy the rests' pictures to this folder, to be sent beside the entry
    #[arg(long, value_name = "DIR")]
    pictures: Option<PathBuf>,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let record = RecordReader::open(&arguments.data)?;
    let Studied { camera, .. } = super::record::studied(&record, arguments.camera.as_deref())?;
    let number = arguments.attempt;
    let attempt = record
        .attempt(&camera, number)?
        .ok_or_else(|| format!("the record has no attempt {number}: see /attempts"))?;
    let signer = player_key(&arguments.data)?;
    let entrant = Entrant {
        player: arguments.player.trim().into(),
        age_years: arguments.age,
        film: arguments.film.clone(),
    };
    let mut entry = Vec::new();
    write_entry(&entrant, &records(&attempt), &signer, &mut entry)?;
    // What the organiser will be told, the player is told first.
    let report = verify(entry.as_slice(), Some(&signer.public()), |_, _| None)?;
    for finding in &report.findings {
        println!("{finding}");
    }
    let verdict = report.verdict();
    if verdict == Verdict::Refused {
        return Err("this attempt would be refused, and no entry was written: see above".into());
    }
    let out = arguments
        .out
        .clone()
        .unwrap_or_else(|| PathBuf::from(format!("attempt-{number}.entry.jsonl")));
    to_file(&out, |file| file.write_all(&entry))?;
    let run = report.attempt.map_or(0, |followed| followed.run);
    println!("{}: a run of {run} in {} records", out.display(), report.records);
    if run != attempt.attempt.run {
        println!(
            "Your own pages say {}: from this attempt's records alone {run} follows.",
            attempt.attempt.run
        );
    }
    if verdict == Verdict::ToLookAt {
        println!("The organiser will be told of the places above, to look at.");
    }
    println!("Your key, which the organiser may ask for: {}", signer.public());
    if let Some(folder) = &arguments.pictures {
        let rests: Vec<&Rest> = attempt.rests.iter().map(|(rest, _)| rest).collect();
        let missing = record.copy_pictures_beside(&rests, folder)?;
        println!("{} pictures are in {}", rests.len() - missing, folder.display());
        if missing > 0 {
            println!("{missing} pictures are not kept any more, and will be missed there.");
        }
    }
    Ok(())
}

fn records(attempt: &AttemptRests) -> Vec<EntryRecord> {
    let record = |(rest, said): &(Rest, Option<Step>)| EntryRecord {
        at_unix_ms: rest.at.as_millisecond(),
        unseen_ms: rest.unseen_ms,
        layout: rest.layout.clone(),
        said: said.clone(),
        picture_sha256: rest.picture_sha256.clone(),
        picture_format: rest.format,
    };
    attempt.rests.iter().map(record).collect()
}
