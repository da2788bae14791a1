//! `stillcloth advise`: the shots that are on from a layout, and an order to play them in.

use super::{frames, output, try_hit};
use serde::Serialize;
use std::error::Error;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use stillcloth::advice::{Advisor, Bound, Kind, Level, Pattern, Patterns, ShotOn};
use stillcloth::layout::{Layout, diagram};
use stillcloth::motion::{self, Bed, Physics, Placed};

/// How far a drawn way may lie off the ball's, in millimetres.
const WAY_WITHIN_MM: f64 = 0.5;
/// The search's seed: the same question gets the same answer.
const SEED: u64 = 1;

#[derive(clap::Args)]
pub struct Arguments {
    /// The layout, as `stillcloth read` prints it
    #[arg(value_name = "LAYOUT.json")]
    layout: PathBuf,
    /// The player: beginner, club or expert
    #[arg(long, value_name = "LEVEL", default_value = "club")]
    player: Level,
    /// How many seconds to search for a pattern
    #[arg(long = "for", value_name = "SECONDS", default_value = "2", value_parser = seconds)]
    time: Duration,
    /// Print everything as JSON
    #[arg(long)]
    json: bool,
    /// A diagram of the layout with the balls' ways in the first shot of the best pattern
    #[arg(long, value_name = "FILE.svg")]
    diagram: Option<PathBuf>,
}

/// What `--json` prints.
#[derive(Serialize)]
struct Advised<'a> {
    player: Level,
    shots: &'a [ShotOn],
    #[serde(flatten)]
    patterns: &'a Patterns,
}

fn seconds(text: &str) -> Result<Duration, String> {
    let bare = text.trim().trim_end_matches('s');
    let seconds = bare.parse::<f64>().ok().filter(|seconds| (0.0..=3600.0).contains(seconds));
    seconds.map(Duration::from_secs_f64).ok_or_else(|| "give 0 to 3600 seconds, such as 2s".into())
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    if let Some(path) = arguments.diagram.as_ref().filter(|path| !frames::ends_in(path, "svg")) {
        return Err(format!("a diagram is .svg, {} is not", path.display()).into());
    }
    let layout: Layout = try_hit::from_file(&arguments.layout, "layout")?;
    let bed = Bed::new(&layout.table, &Physics::default())?;
    let mut advisor = Advisor::new(&bed, arguments.player.prior(), SEED)?;
    let balls = advisor.balls(&layout)?;
    let shots = advisor.shots(&balls);
    let until = Some(Instant::now() + arguments.time);
    let found = advisor.patterns(&balls, &Bound { until, positions: usize::MAX });
    if let Some(path) = &arguments.diagram {
        let drawn = drawn(&bed, &layout, &balls, found.patterns.first())?;
        std::fs::write(path, drawn)
            .map_err(|error| format!("cannot write {}: {error}", path.display()))?;
    }
    let text = if arguments.json {
        let advised = Advised { player: arguments.player, shots: &shots, patterns: &found };
        serde_json::to_string(&advised)? + "\n"
    } else {
        told(&shots, &found)
    };
    Ok(output::write(&text)?)
}

fn drawn(
    bed: &Bed,
    layout: &Layout,
    balls: &[Placed],
    pattern: Option<&Pattern>,
) -> Result<String, Box<dyn Error>> {
    let Some(step) = pattern.and_then(|pattern| pattern.steps.first()) else {
        return Ok(diagram::svg_with_ways(layout, &[]));
    };
    let shot = motion::play(bed, balls, 0, &step.hit)?;
    Ok(diagram::svg_with_ways(layout, &try_hit::ways(layout, &shot, WAY_WITHIN_MM)))
}

fn way(kind: Kind) -> String {
    match kind {
        Kind::Direct => "direct".into(),
        Kind::Bank { x, y } => format!("bank at {x:.1}, {y:.1}"),
        Kind::Combination { first } => format!("by {}", try_hit::name(first)),
        Kind::Kiss { off } => format!("off {}", try_hit::name(off)),
        Kind::Carom { first } => format!("by the cue ball off {}", try_hit::name(first)),
    }
}

fn told(shots: &[ShotOn], found: &Patterns) -> String {
    let mut text = String::from("shots that are on:\n");
    // Writing to a string cannot fail.
    for shot in shots {
        let _ = writeln!(
            text,
            "  {:8} {:18} {:22} {:3.0} %  cut {:2.0}°, tolerance ±{:.2}°, scratch {:.0} %",
            try_hit::name(shot.ball),
            try_hit::pocket_name(shot.pocket),
            way(shot.way),
            100.0 * shot.probability,
            shot.cut_deg,
            shot.tolerance_deg,
            100.0 * shot.scratch,
        );
    }
    if shots.is_empty() {
        text.push_str("  none\n");
    }
    for (k, pattern) in found.patterns.iter().enumerate() {
        let _ = writeln!(text, "pattern {}: {:.1} balls expected", k + 1, pattern.expected);
        for step in &pattern.steps {
            let _ = writeln!(
                text,
                "  {:8} {:18} {:3.0} %  aim {:.2}°, {:.2} m/s, height {:+.2}, side {:+.2}",
                try_hit::name(step.ball),
                try_hit::pocket_name(step.pocket),
                100.0 * step.probability,
                step.hit.aim_rad.to_degrees(),
                step.hit.speed_m_s,
                step.hit.height,
                step.hit.side,
            );
        }
        if let Some(ball) = pattern.break_ball {
            let _ = writeln!(text, "  then {} for the break shot", try_hit::name(ball));
        }
    }
    text
}
