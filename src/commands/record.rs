//! `stillcloth record`: what a player's own record says.

use super::output;
use jiff::{Timestamp, civil::Date};
use std::{
    error::Error,
    fmt::Write as _,
    fs,
    path::{Path, PathBuf},
};
use stillcloth::{
    record::{HandKept, RecordReader, Studied},
    score::Story,
    study::{
        Estimate, Goal, Median, Misses, Period, Plan, Progress, Rate, Record, ShotLog, in_words,
        percent, read_scores, rounded, utc_day,
    },
};

/// A list of scores has no more bytes than this: a million attempts.
const LARGEST_LIST: u64 = 32 << 20;
/// The survival curve is told at these balls, as far as runs went.
const TOLD_AT: [u32; 18] = [1, 2, 4, 7, 10, 14, 21, 28, 35, 42, 56, 70, 84, 98, 126, 154, 196, 280];
/// Racks that are told one by one.
const RACKS_TOLD: usize = 8;

#[derive(clap::Args)]
pub struct Arguments {
    /// The data folder. A service may be running on it
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,

    /// The camera whose attempts are meant, where the data folder has several
    #[arg(long, value_name = "NAME", conflicts_with = "scores")]
    camera: Option<String>,

    /// A list of runs kept by hand, in place of a data folder: a line for each attempt, with its run
    /// and, where known, its day and how it ended (miss or stopped)
    #[arg(long, value_name = "FILE", conflicts_with = "data")]
    scores: Option<PathBuf>,

    /// A goal: so many balls
    #[arg(long, value_name = "N", conflicts_with = "born")]
    goal: Option<u32>,

    /// The last day for the goal
    #[arg(long, value_name = "YEAR-MM-DD", requires = "goal")]
    by: Option<Date>,

    /// A goal: as many balls as the player is years old on the next birthday, by that day
    #[arg(long, value_name = "YEAR-MM-DD")]
    born: Option<Date>,

    /// The day you began to practise what is told to: misses before and since are compared
    #[arg(long, value_name = "YEAR-MM-DD", conflicts_with = "scores")]
    since: Option<Date>,

    /// Print everything as JSON
    #[arg(long)]
    json: bool,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let today = utc_day(Timestamp::now());
    let goal = match (arguments.goal, arguments.born) {
        (Some(balls), _) => Some(Goal::balls(balls, arguments.by, today)?),
        (None, Some(born)) => Some(Goal::age(born, today)?),
        (None, None) => None,
    };
    let record = match &arguments.scores {
        Some(path) => Record::of_runs(read_scores(&list(path)?)?),
        None => {
            let reader = RecordReader::open(&arguments.data)?;
            let Studied { camera, story, log } = studied(&reader, arguments.camera.as_deref())?;
            let hand_kept = reader.hand_kept(&camera)?;
            Record::of_study(&story, &log, arguments.since)
                .with_hand_kept(hand_kept.iter().map(HandKept::run))
        }
    };
    let progress = Progress::of(&record, goal, today);
    let text = if arguments.json {
        serde_json::to_string_pretty(&progress)? + "\n"
    } else {
        told(&progress)
    };
    Ok(output::write(&text)?)
}

pub(super) fn list(path: &Path) -> Result<String, Box<dyn Error>> {
    let named = |error: std::io::Error| format!("cannot read {}: {error}", path.display());
    let bytes = fs::metadata(path).map_err(named)?.len();
    if bytes > LARGEST_LIST {
        let most = LARGEST_LIST >> 20;
        return Err(
            format!("{} is larger than {most} MiB: is it a list of runs?", path.display()).into()
        );
    }
    let text = fs::read(path).map_err(named)?;
    // What spreadsheets write in older encodings differs in words alone.
    Ok(String::from_utf8_lossy(&text).into_owned())
}

/// The one camera that is meant, with its score and shots.
pub(super) fn studied(
    reader: &RecordReader,
    camera: Option<&str>,
) -> Result<Studied, Box<dyn Error>> {
    let mut known = reader.stories()?;
    if let Some(camera) = camera {
        known.retain(|one| one.camera == camera);
        let none = || format!("the record has no camera {camera}: see `stillcloth check`").into();
        return known.pop().ok_or_else(none);
    }
    // A camera that never saw an attempt is nobody's table.
    known.retain(|one| !one.story.attempts.is_empty());
    if known.len() > 1 {
        let names: Vec<&str> = known.iter().map(|one| one.camera.as_str()).collect();
        let names = names.join(", ");
        return Err(format!(
            "several cameras saw attempts: name one of them with --camera: {names}"
        )
        .into());
    }
    let nobody =
        || Studied { camera: String::new(), story: Story::default(), log: ShotLog::default() };
    Ok(known.pop().unwrap_or_else(nobody))
}

/// All of it as text.
fn told(progress: &Progress) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = heading(&mut text, progress);
    for sentence in in_words(progress) {
        let _ = writeln!(text, "{sentence}");
    }
    let _ = how_far(&mut text, progress);
    let _ = misses(&mut text, progress);
    let _ = progress.misses.as_ref().map(|misses| by_kind(&mut text, misses));
    let _ = progress.plan.as_ref().map(|plan| to_practise(&mut text, plan));
    let _ = over_time(&mut text, &progress.over_time);
    text
}

fn heading(text: &mut String, progress: &Progress) -> std::fmt::Result {
    let Some(high) = progress.high_run else {
        return writeln!(
            text,
            "No attempt on record yet. One begins when fifteen balls are racked."
        );
    };
    write!(text, "{} attempts, {} balls", progress.attempts, progress.balls)?;
    if let (Some(first), Some(last)) = (progress.first_day, progress.last_day) {
        write!(text, ", {first} to {last}")?;
    }
    if progress.hand_kept > 0 {
        write!(text, "; {} of them hand-kept", progress.hand_kept)?;
    }
    if progress.stopped > 0 {
        write!(text, "; {} stopped or not seen to end", progress.stopped)?;
    }
    write!(text, "\nHigh run {} in attempt {}", high.balls, high.attempt)?;
    if let Some(day) = high.day {
        write!(text, ", {day}")?;
    }
    if high.hand_kept {
        write!(text, ", hand-kept")?;
    }
    write!(text, "; mean {:.1}", progress.mean_run.unwrap_or(0.0))?;
    if let Some(Median { value, low, high }) = progress.median_run {
        let high = high.map_or("unknown".into(), |high| high.to_string());
        write!(text, ", median {value} ({low} to {high})")?;
    }
    writeln!(text, "\nWhere two figures stand in brackets, the truth is between them with 95 %.\n")
}

/// A chance with its interval, in two columns.
fn columns(estimate: Estimate) -> String {
    let Estimate { value, low, high } = estimate;
    format!("{:>8}   {}", percent(value), format_args!("{} to {}", percent(low), percent(high)))
}

fn how_far(text: &mut String, progress: &Progress) -> std::fmt::Result {
    let curve = &progress.survival;
    if curve.seen_to == 0 {
        return Ok(());
    }
    writeln!(text, "\nHow far runs go\n  balls   chance   95 %")?;
    let goal = progress.prospect.iter().map(|prospect| prospect.goal.balls);
    let mut at: Vec<u32> = TOLD_AT.into_iter().chain(goal).collect();
    at.sort_unstable();
    at.dedup();
    for balls in at {
        if let Some((value, low, high)) = curve.chance_of(balls) {
            writeln!(text, "  {balls:>5} {}", columns(Estimate { value, low, high }))?;
        }
    }
    Ok(())
}

fn misses(text: &mut String, progress: &Progress) -> std::fmt::Result {
    let hazards = &progress.hazards;
    if hazards.break_shot.tally.faced == 0 {
        return Ok(());
    }
    let row = |rate: &Rate| format!("{:>7} {:>7}", rate.tally.faced, rate.tally.missed);
    writeln!(text, "\nMisses               balls  missed   chance   95 %")?;
    let mut line = |name: &str, rate: &Rate, chance: Estimate| {
        writeln!(text, "  {name:16} {} {}", row(rate), columns(chance))
    };
    line("break shots", &hazards.break_shot, hazards.break_shot.chance)?;
    line("other balls", &hazards.others, hazards.others.chance)?;
    for place in &hazards.places {
        if let Some(pooled) = place.pooled {
            line(&format!("ball {} of a rack", place.place), &place.alone, pooled)?;
        }
    }
    for (rack, rate) in hazards.racks.iter().enumerate().take(RACKS_TOLD) {
        line(&format!("rack {}", rack + 1), rate, rate.chance)?;
    }
    writeln!(text, "  (balls of a rack: each with what the others say, since each has few misses)")
}

/// Misses by what the shots were.
fn by_kind(text: &mut String, misses: &Misses) -> std::fmt::Result {
    writeln!(text, "\n{}", misses.in_words())?;
    for table in &misses.tables {
        writeln!(text, "\n{:36}shots  missed   chance   95 %", table.by.heading())?;
        for of in &table.kinds {
            let tally = of.rate.tally;
            let chance = columns(of.rate.chance);
            writeln!(text, "  {:35}{:>4} {:>7} {chance}", of.kind, tally.faced, tally.missed)?;
        }
    }
    Ok(())
}

fn to_practise(text: &mut String, plan: &Plan) -> std::fmt::Result {
    writeln!(text, "\nWorth practising now")?;
    for sentence in plan.in_words() {
        writeln!(text, "  {sentence}")?;
    }
    for thing in &plan.things {
        let rests: Vec<String> = thing.rests.iter().map(ToString::to_string).collect();
        writeln!(text, "  {}, missed from rests {}", thing.practice.name(), rests.join(", "))?;
    }
    Ok(())
}

fn over_time(text: &mut String, periods: &[Period]) -> std::fmt::Result {
    if periods.is_empty() {
        return Ok(());
    }
    writeln!(text, "\nFrom         attempts    mean  median    high")?;
    for Period { from, attempts, mean, median, highest } in periods {
        let (mean, median) = (rounded(*mean), rounded(*median));
        writeln!(text, "{from}   {attempts:>8} {mean:>7} {median:>7} {highest:>7}")?;
    }
    Ok(())
}
