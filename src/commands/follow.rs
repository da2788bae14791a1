//! `stillcloth follow`: a film's rests and score, as fast as it can be read.

use super::{frames::TableArguments, output};
use image::RgbImage;
use indicatif::{ProgressBar, ProgressStyle};
use std::{
    error::Error,
    path::{Path, PathBuf},
    time::Duration,
};
use stillcloth::{
    camera::{
        picture,
        source::{Film, Folder, SourceError, SourceFrame, Stream, Thinning},
    },
    score::{Attempt, ScoreEvent},
    service::{Followed, Following, ReaderError, TableReader, Told},
};

#[derive(clap::Args)]
pub struct Arguments {
    /// A video file, or a folder of pictures: a film's frames named frame-MILLISECONDS, or one
    /// picture of each rest
    #[arg(value_name = "VIDEO|FOLDER")]
    source: PathBuf,
    /// The camera's calibration, as `stillcloth calibrate` writes it; without one the table is
    /// found in the first frame that shows it
    #[arg(long, value_name = "FILE", conflicts_with_all = ["table", "foot"])]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    table: TableArguments,
    /// One event a line as JSON, instead of words
    #[arg(long)]
    json: bool,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let mut reader = TableReader::keeping_nothing(arguments.table.options());
    if let Some(calibration) = &arguments.calibration {
        reader = reader.beginning_with(calibration.clone());
    }
    let mut show = Show {
        following: Following::new(Box::new(reader)),
        json: arguments.json,
        frames: 0,
        seen: 0,
        why_unseen: None,
    };
    if arguments.source.is_dir() {
        folder(&arguments.source, &mut show)?;
    } else {
        film(&arguments.source, &mut show)?;
    }
    show.end(&arguments.source)
}

/// A bar on the error output, drawn where that is a terminal.
pub(super) fn bar(length: u64, what: &str) -> ProgressBar {
    let style = format!("{{bar:30}} {{percent:>3}} % {what}, {{eta}} left");
    let bar = ProgressBar::new(length);
    match ProgressStyle::with_template(&style) {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}

fn film(path: &Path, show: &mut Show) -> Result<(), Box<dyn Error>> {
    let film = Film::at(path)?;
    let length = film.length()?.unwrap_or_default();
    let bar = bar(length.as_secs(), "of the film");
    let mut stream = film.begin()?;
    let mut thinning = Thinning::default();
    while let Some(grabbed) = stream.grab()? {
        let at = grabbed.at.unwrap_or_default();
        if !thinning.wants(at) {
            continue;
        }
        bar.set_position(at.as_secs());
        match stream.retrieve() {
            Ok(SourceFrame::Decoded(frame)) => show.watch(&frame, at, &bar)?,
            Ok(SourceFrame::File(bytes)) => show.watch(&picture::decode(&bytes)?, at, &bar)?,
            Err(SourceError::Undecodable { .. }) => {}
            Err(error) => return Err(error.into()),
        }
    }
    bar.finish_and_clear();
    Ok(())
}

fn folder(path: &Path, show: &mut Show) -> Result<(), Box<dyn Error>> {
    let mut folder = Folder::open(path)?;
    let bar = bar(folder.left() as u64, "of the pictures");
    let mut thinning = Thinning::default();
    for number in 0_u32.. {
        let time = folder.next_time();
        let Some(frame) = folder.next_frame()? else { break };
        bar.set_position(u64::from(number));
        if time.is_some_and(|at| !thinning.wants(at)) {
            continue;
        }
        let frame = match frame {
            SourceFrame::File(bytes) => picture::decode(&bytes)?,
            SourceFrame::Decoded(frame) => frame,
        };
        match time {
            Some(at) => show.watch(&frame, at, &bar)?,
            None => show.look(&frame, Duration::from_secs(u64::from(number)), &bar)?,
        }
    }
    bar.finish_and_clear();
    Ok(())
}

/// Prints what is found.
struct Show {
    following: Following,
    json: bool,
    frames: u32,
    /// Frames in which the table was found.
    seen: u32,
    /// Why it was not, last.
    why_unseen: Option<ReaderError>,
}

impl Show {
    fn watch(
        &mut self,
        frame: &RgbImage,
        at: Duration,
        bar: &ProgressBar,
    ) -> Result<(), Box<dyn Error>> {
        let followed = self.following.watch(frame, at);
        self.took(followed, at, bar)
    }

    fn look(
        &mut self,
        picture: &RgbImage,
        at: Duration,
        bar: &ProgressBar,
    ) -> Result<(), Box<dyn Error>> {
        let followed = self.following.look(picture, at);
        self.took(followed, at, bar)
    }

    fn took(
        &mut self,
        followed: Result<Followed, ReaderError>,
        at: Duration,
        bar: &ProgressBar,
    ) -> Result<(), Box<dyn Error>> {
        self.frames += 1;
        let followed = match followed {
            Ok(followed) => followed,
            Err(error @ (ReaderError::NoTable(_) | ReaderError::Unreadable(_))) => {
                self.why_unseen = Some(error);
                return Ok(());
            }
            Err(error) => return Err(error.into()),
        };
        self.seen += 1;
        if followed.recalibrated && !self.json {
            bar.suspend(|| {
                output::write(&format!("{}  The camera was moved.\n", clock(at.as_secs_f64())))
            })?;
        }
        for told in &followed.told {
            let line = if self.json { Some(serde_json::to_string(told)?) } else { words(told) };
            if let Some(line) = line {
                bar.suspend(|| output::write(&(line + "\n")))?;
            }
        }
        Ok(())
    }

    fn end(self, source: &Path) -> Result<(), Box<dyn Error>> {
        if self.seen == 0 {
            let why = self.why_unseen.map_or_else(
                || "there is no frame in it".into(),
                |error| format!("no table is seen in it: {error}"),
            );
            return Err(format!("{}: {why}", source.display()).into());
        }
        if self.json {
            return Ok(());
        }
        let story = self.following.story();
        for attempt in &story.attempts {
            output::write(&summary(attempt))?;
        }
        if !story.questions.is_empty() {
            output::write(&format!("{} questions are open.\n", story.questions.len()))?;
        }
        Ok(())
    }
}

/// Minutes and seconds of the film.
fn clock(at_s: f64) -> String {
    let tenths = (10.0 * at_s).round() as u64;
    format!("{:>3}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}

/// What was told, in words; none for what only programs want.
fn words(told: &Told) -> Option<String> {
    let said = match &told.event {
        ScoreEvent::AttemptBegan { attempt, start_seen: true, .. } => {
            format!("Attempt {attempt} begins.")
        }
        ScoreEvent::AttemptBegan { attempt, .. } => {
            format!("Attempt {attempt} was going on before the film began.")
        }
        // What ended the attempt is told by its end.
        ScoreEvent::Shot { potted: 0, .. } => return None,
        ScoreEvent::Shot { potted: 1, run, .. } => format!("Run {run}."),
        ScoreEvent::Shot { potted, run, .. } => format!("Run {run}: {potted} balls in one shot."),
        ScoreEvent::ReRack { rack, .. } => format!("Rack {rack}."),
        ScoreEvent::Placing { words, .. } => words.clone(),
        ScoreEvent::AttemptOver { attempt, run, cause, .. } => {
            format!("Attempt {attempt} is over with a run of {run}: {}.", cause.words())
        }
        ScoreEvent::Question { question } => {
            let answers: Vec<&str> =
                question.answers.iter().map(|answer| answer.text.as_str()).collect();
            format!("{} ({})", question.text, answers.join(" / "))
        }
        ScoreEvent::Rescored { attempt, run, .. } => format!("Attempt {attempt}: run {run}."),
        ScoreEvent::Rest { .. } | ScoreEvent::Settled { .. } | ScoreEvent::Withdrawn { .. } => {
            return None;
        }
    };
    Some(format!("{}  {said}", clock(told.at_s)))
}

pub(super) fn summary(attempt: &Attempt) -> String {
    let end = attempt.over.map_or("going on", |over| over.cause.words());
    let sure = if attempt.sure { "" } else { ", not for sure" };
    let racks = attempt.racks.len();
    format!(
        "Attempt {}: run {} in {racks} rack{}, {end}{sure}.\n",
        attempt.id,
        attempt.run,
        if racks == 1 { "" } else { "s" },
    )
}
