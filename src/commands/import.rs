//! `stillcloth import`: what the player kept by hand, and series of photographs.

use super::{
    follow::summary,
    frames::TableArguments,
    record::{list, studied},
};
use jiff::Timestamp;
use std::{
    error::Error,
    path::{Path, PathBuf},
};
use stillcloth::{
    record::{HandKept, Record, RecordReader, Retention, take_hand_kept},
    service::{CameraName, PhotoFate, PhotoSeries, PhotoTimes, TableReader},
    study::read_scores,
};

/// A list's name has no more letters.
const LONGEST_NAME: usize = 80;

#[derive(clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(clap::Subcommand)]
enum What {
    /// Attempts from a list that you kept by hand: they count in every figure, marked as hand-kept.
    /// Bring a list again when it has grown: what was in it before is not doubled.
    Scores(Scores),
    /// A folder of photographs, one of each rest, as an attempt of a camera of its own.
    Photos(Photos),
}

#[derive(clap::Args)]
struct Scores {
    /// The list: a line for each attempt, with its run and, where known, its day and how it ended (miss
    /// or stopped)
    #[arg(value_name = "FILE.csv")]
    file: PathBuf,
    /// What the list is called in the record [default: the file's name]
    #[arg(long, value_name = "NAME")]
    list: Option<String>,
    /// The camera whose attempts they count with; with those of any where it is not given
    #[arg(long, value_name = "NAME")]
    camera: Option<CameraName>,
    /// The data folder; no service may be running on it
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
}

#[derive(clap::Args)]
struct Photos {
    /// The folder. The order is that of the times that the photographs tell, else that of their names
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// The name of the camera that the rests are to stand under [default: the folder's name]
    #[arg(long, value_name = "NAME")]
    camera: Option<CameraName>,
    /// The camera's calibration, as `stillcloth calibrate` writes it; without one the table is found in
    /// the first photograph that shows it
    #[arg(long, value_name = "FILE", conflicts_with_all = ["table", "foot"])]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    table: TableArguments,
    /// The data folder; no service may be running on it
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    match &arguments.what {
        What::Scores(scores) => import_scores(scores),
        What::Photos(photos) => import_photos(photos),
    }
}

fn import_scores(arguments: &Scores) -> Result<(), Box<dyn Error>> {
    let attempts: Vec<HandKept> =
        read_scores(&list(&arguments.file)?)?.iter().map(HandKept::from).collect();
    let of_file = || arguments.file.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let name: String =
        arguments.list.clone().unwrap_or_else(of_file).chars().take(LONGEST_NAME).collect();
    let camera = arguments.camera.as_ref().map_or("", CameraName::as_str);
    let taken = take_hand_kept(&arguments.data, (&name, camera), &attempts, Timestamp::now())?;
    if let Some(other) = &taken.same_as {
        println!("The record has all of it already, as the list {other}: nothing was added.");
        return Ok(());
    }
    println!("{} attempts were added as hand-kept, under the list {name}.", taken.added);
    if taken.known > 0 {
        println!("{} of the list were there already.", taken.known);
    }
    Ok(())
}

fn import_photos(arguments: &Photos) -> Result<(), Box<dyn Error>> {
    let series = PhotoSeries::of(&arguments.folder)?;
    let camera =
        arguments.camera.clone().unwrap_or_else(|| CameraName::from_path(&arguments.folder));
    let record = Record::open(&arguments.data, Retention::default())?;
    let mut reader = TableReader::new(&arguments.data, &camera, arguments.table.options());
    if let Some(calibration) = &arguments.calibration {
        reader = reader.beginning_with(calibration.clone());
    }
    match series.times {
        PhotoTimes::Told => {}
        PhotoTimes::ToldWithoutOffset => {
            println!("The photographs tell no time zone: their clock is taken for UTC.");
        }
        PhotoTimes::MadeUp => println!(
            "Not every photograph tells its time: the order is that of the names, ten seconds apart."
        ),
    }
    let (mut kept, mut known, mut skipped) = (0, 0, 0);
    let tell = |path: &Path, fate| {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        match fate {
            PhotoFate::Kept { rest, balls } => {
                kept += 1;
                println!("{name}: rest {rest}, {balls} balls");
            }
            PhotoFate::Known => known += 1,
            PhotoFate::NoPicture(error) => {
                skipped += 1;
                println!("{name}: left out: {error}");
            }
            PhotoFate::NoTable(error) => {
                skipped += 1;
                println!("{name}: left out: {error}");
            }
        }
    };
    series.bring(&record, &mut reader, &camera, tell)?;
    drop(record);
    println!("{kept} rests were added under camera {camera}, {known} were there already.");
    if kept + known == 0 {
        return Err("no photograph of the folder shows a table: nothing was added".into());
    }
    if skipped > 0 {
        println!("{skipped} photographs were left out.");
    }
    let reader = RecordReader::open(&arguments.data)?;
    for attempt in &studied(&reader, Some(camera.as_str()))?.story.attempts {
        print!("{}", summary(attempt));
    }
    Ok(())
}
