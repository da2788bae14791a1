//! `stillcloth advise`: what a layout is worth and how to play it.

use super::{frames, output, try_hit};
use std::error::Error;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::str::FromStr;
use std::time::Duration;
use stillcloth::advice::{self, Advice, Asked, Bound, Level, Player};
use stillcloth::layout::Layout;
use stillcloth::table::pocket_name;

/// The search's seed: the same question gets the same answer.
const SEED: u64 = 1;

#[derive(clap::Args)]
pub struct Arguments {
    /// The layout, as `stillcloth read` prints it
    #[arg(value_name = "LAYOUT.json")]
    layout: PathBuf,
    /// The player: beginner, club, expert, or a file with the errors as --json prints them
    #[arg(long, value_name = "LEVEL|FILE.json", default_value = "club")]
    player: Who,
    /// How many seconds to think
    #[arg(long = "for", value_name = "SECONDS", default_value = "2", value_parser = seconds)]
    time: Duration,
    /// Parameters of the physics as JSON; what the file leaves out keeps its start value
    #[arg(long, value_name = "FILE")]
    physics: Option<PathBuf>,
    /// Print everything as JSON
    #[arg(long)]
    json: bool,
    /// A diagram of the layout with the first shot of the best pattern, or the break shot
    #[arg(long, value_name = "FILE.svg|.png")]
    diagram: Option<PathBuf>,
}

/// A player by level, or by the errors in a file.
#[derive(Clone)]
pub(super) struct Who(pub Player);

impl FromStr for Who {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if let Ok(level) = text.parse::<Level>() {
            return Ok(Self(level.prior()));
        }
        if text.contains(['.', '/']) {
            return try_hit::from_file(text.as_ref(), "set of a player's errors").map(Self);
        }
        Err(text.parse::<Level>().map_or_else(|error| error.to_string(), |_| String::new()))
    }
}

pub(super) fn seconds(text: &str) -> Result<Duration, String> {
    let bare = text.trim().trim_end_matches('s');
    let seconds = bare.parse::<f64>().ok().filter(|seconds| (0.0..=3600.0).contains(seconds));
    seconds.map(Duration::from_secs_f64).ok_or_else(|| "give 0 to 3600 seconds, such as 2s".into())
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    if let Some(path) = &arguments.diagram {
        frames::check_drawing(path)?;
    }
    let layout: Layout = try_hit::from_file(&arguments.layout, "layout")?;
    let physics = try_hit::physics(arguments.physics.as_deref())?;
    let bound = Bound::within(arguments.time);
    let asked = Asked { player: arguments.player.0, seed: SEED, bound };
    let advice = advice::advise(&layout, &physics, &asked)?;
    if let Some(path) = &arguments.diagram {
        frames::write_drawing(path, &advice.svg(&layout, &physics, 0))?;
    }
    let text = if arguments.json { serde_json::to_string(&advice)? + "\n" } else { told(&advice) };
    Ok(output::write(&text)?)
}

fn told(advice: &Advice) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    for sentence in &advice.said {
        let _ = writeln!(text, "{sentence}");
    }
    shots(&mut text, advice);
    for (k, pattern) in advice.patterns.iter().enumerate() {
        let _ = writeln!(text, "\npattern {}: {:.1} balls expected", k + 1, pattern.expected);
        for step in &pattern.steps {
            let _ = writeln!(
                text,
                "  {:8} {:18} {:3.0} %  {}",
                try_hit::name(step.ball),
                pocket_name(step.pocket),
                100.0 * step.probability,
                advice::hit_words(&step.hit),
            );
        }
        if let Some(ball) = pattern.break_ball {
            let _ = writeln!(text, "  then {} for the break shot", try_hit::name(ball));
        }
    }
    if let Some(break_shot) = &advice.break_shot {
        text.push_str("\nbreak shot            next shot  loose balls  pocketed  scratch\n");
        for choice in &break_shot.choices {
            let figures = &choice.figures;
            let _ = writeln!(
                text,
                "  {:30} {:3.0} %  {:9.1}  {:6.0} %  {:5.0} %",
                advice::hit_words(&choice.hit),
                100.0 * figures.next_shot.mean,
                figures.loose_balls.mean,
                100.0 * figures.pocketed.mean,
                100.0 * figures.scratch.mean,
            );
        }
    }
    text
}

fn shots(text: &mut String, advice: &Advice) {
    text.push_str("\nshots that are on:\n");
    for shot in &advice.shots {
        let _ = writeln!(
            text,
            "  {:8} {:18} {:22} {:3.0} %  cut {:2.0}°, tolerance ±{:.2}°, scratch {:.0} %",
            try_hit::name(shot.ball),
            pocket_name(shot.pocket),
            advice::way_words(shot.way),
            100.0 * shot.probability,
            shot.cut_deg,
            shot.tolerance_deg,
            100.0 * shot.scratch,
        );
    }
    if advice.shots.is_empty() {
        text.push_str("  none\n");
    }
}
