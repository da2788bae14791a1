//! `stillcloth chapters`: a session's attempts as chapters of its film.

use super::{output, record};
use jiff::Timestamp;
use std::{error::Error, path::PathBuf};
use stillcloth::{
    record::RecordReader,
    study::{ChapterOf, chapters, ffmpeg_metadata, web_vtt},
};

#[derive(clap::Args)]
pub struct Arguments {
    /// When the film's first picture was taken, such as 2026-03-05T19:30:12Z
    #[arg(value_name = "FROM")]
    from: Timestamp,

    /// When its last one was
    #[arg(value_name = "TO")]
    to: Timestamp,

    /// The data folder. A service may be running on it
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,

    /// The camera whose attempts are meant, where the data folder has several
    #[arg(long, value_name = "NAME")]
    camera: Option<String>,

    /// A chapter for each attempt, or for each rack
    #[arg(long, value_enum, default_value = "attempts")]
    of: Of,

    /// For a browser, or for ffmpeg
    #[arg(long, value_enum, default_value = "webvtt")]
    format: Format,
}

#[derive(Clone, Copy, clap::ValueEnum)]
enum Of {
    Attempts,
    Racks,
}

#[derive(Clone, Copy, clap::ValueEnum)]
enum Format {
    Webvtt,
    Ffmpeg,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let Arguments { from, to, .. } = arguments;
    if from >= to {
        return Err(
            format!("a film from {from} to {to} has no time: give its first moment first").into()
        );
    }
    let reader = RecordReader::open(&arguments.data)?;
    let known = record::studied(&reader, arguments.camera.as_deref())?;
    let of = match arguments.of {
        Of::Attempts => ChapterOf::Attempts,
        Of::Racks => ChapterOf::Racks,
    };
    let film = (from.as_millisecond(), to.as_millisecond());
    let found = chapters(&known.story, film, of, |rest| reader.time_of(rest).ok().flatten());
    if found.is_empty() {
        return Err(
            format!("no attempt was on between {from} and {to}: see `stillcloth record`").into()
        );
    }
    let text = match arguments.format {
        Format::Webvtt => web_vtt(&found),
        Format::Ffmpeg => ffmpeg_metadata(&found),
    };
    Ok(output::write(&text)?)
}
