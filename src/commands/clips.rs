//! `stillcloth clips`: the shots of an attempt, cut out of its film by ffmpeg.

use super::record;
use jiff::Timestamp;
use std::{
    error::Error,
    ffi::OsString,
    fs,
    io::ErrorKind,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};
use stillcloth::{
    record::RecordReader,
    study::{Chapter, clips},
};

#[derive(clap::Args)]
pub struct Arguments {
    /// The film
    #[arg(value_name = "FILM")]
    film: PathBuf,

    /// When its first picture was taken, such as 2026-03-05T19:30:12Z
    #[arg(value_name = "FROM")]
    from: Timestamp,

    /// The attempt whose shots are cut out
    #[arg(long, value_name = "N")]
    attempt: u32,

    /// The folder for the clips; files that are there stay as they are
    #[arg(long, value_name = "DIR", default_value = "clips")]
    out: PathBuf,

    /// The data folder. A service may be running on it
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,

    /// The camera whose attempts are meant, where the data folder has several
    #[arg(long, value_name = "NAME")]
    camera: Option<String>,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let Arguments { film, from, attempt, out, .. } = arguments;
    let reader = RecordReader::open(&arguments.data)?;
    let known = record::studied(&reader, arguments.camera.as_deref())?;
    let attempt = known.story.attempt(*attempt).ok_or_else(|| {
        format!("there is no attempt {attempt}: `stillcloth export attempts` lists all there are")
    })?;
    let time_of = |rest| reader.time_of(rest).ok().flatten();
    let cuts = clips(attempt, from.as_millisecond(), time_of);
    if cuts.is_empty() {
        return Err(format!("no shot of attempt {} is later than {from}", attempt.id).into());
    }
    let film = film
        .canonicalize()
        .map_err(|error| format!("cannot read the film {}: {error}", film.display()))?;
    fs::create_dir_all(out)
        .map_err(|error| format!("cannot use the folder {}: {error}", out.display()))?;
    let out = out.canonicalize()?;
    for cut in &cuts {
        let file = out.join(format!("{}.mp4", cut.title));
        cut_out(&film, cut, &file)?;
        println!("{}", file.display());
    }
    Ok(())
}

/// A path as ffmpeg takes it: whole, and as a file whatever its name looks like.
fn as_file(path: &Path) -> OsString {
    let mut name = OsString::from("file:");
    name.push(path);
    name
}

fn cut_out(film: &Path, cut: &Chapter, file: &Path) -> Result<(), Box<dyn Error>> {
    if file.exists() {
        return Ok(());
    }
    let ms = |ms: i64| format!("{ms}ms");
    let done = Command::new("ffmpeg")
        .args(["-nostdin", "-hide_banner", "-loglevel", "error"])
        .args(["-protocol_whitelist", "file", "-ss", &ms(cut.from_ms)])
        .arg("-i")
        .arg(as_file(film))
        .args(["-t", &ms(cut.to_ms - cut.from_ms), "-movflags", "+faststart", "-n"])
        .arg(as_file(file))
        .stdin(Stdio::null())
        .output()
        .map_err(|error| match error.kind() {
            ErrorKind::NotFound => "there is no ffmpeg on this machine, which cuts the film: \
                                    install it (on Debian: apt install ffmpeg) and ask again"
                .to_string(),
            _ => format!("ffmpeg does not start: {error}"),
        })?;
    let said = String::from_utf8_lossy(&done.stderr);
    // Where the film is over before the shot, ffmpeg writes a file without a picture and says nothing.
    let written = fs::metadata(file).map_or(0, |found| found.len());
    if done.status.success() && written > 1024 {
        return Ok(());
    }
    // What is half written is no clip; where there is nothing, that is as well.
    let _ = fs::remove_file(file);
    let why = said.lines().last().unwrap_or("the film is over before that");
    let at = cut.from_ms / 1000;
    Err(format!("{} could not be cut out at {at} s of the film: {why}", cut.title).into())
}
