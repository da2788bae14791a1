//! `stillcloth chapters`: a session's attempts as chapters of its film.

use super::{output, record};
use jiff::Timestamp;
use std::{error::Error, path::PathBuf};
use stillcloth::study::{chapters, ffmpeg_metadata, web_vtt};

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

    /// For a browser, or for ffmpeg
    #[arg(long, value_enum, default_value = "webvtt")]
    format: Format,
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
    let known = record::studied(&arguments.data, arguments.camera.as_deref())?;
    let found = chapters(&known.story, (from.as_millisecond(), to.as_millisecond()));
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
