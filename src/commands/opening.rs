//! `stillcloth opening`: where to place the break ball and the cue ball for the opening break shot.

use super::{
    advise::{Who, seconds},
    follow::bar,
    frames, output, try_hit,
};
use serde::Serialize;
use std::error::Error;
use std::fmt::Write as _;
use std::io::IsTerminal;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use stillcloth::advice::{
    self, Player,
    break_shot::{BreakMap, Opening, map, openings},
};
use stillcloth::motion::Bed;
use stillcloth::table::{TableSize, pocket_name};

/// The search's seed: the same question gets the same answer, as far as time lets it.
const SEED: u64 = 1;
/// Part of the time in which places are compared; in the rest the best are moved and played through.
const COMPARED: f64 = 0.75;

#[derive(clap::Args)]
pub struct Arguments {
    /// The table's size: 9ft, 8ft, 7ft, or length x width between the noses in mm
    #[arg(long, value_name = "SIZE", default_value = "9ft")]
    table: TableSize,
    /// The player: beginner, club, expert, or a file with the errors as advise --json prints them
    #[arg(long, value_name = "LEVEL|FILE.json", default_value = "club")]
    player: Who,
    /// How many seconds to think at the most; all places take some twenty on two cores
    #[arg(long = "for", value_name = "SECONDS", default_value = "120", value_parser = seconds)]
    time: Duration,
    /// Parameters of the physics as JSON; what the file leaves out keeps its start value
    #[arg(long, value_name = "FILE")]
    physics: Option<PathBuf>,
    /// Print everything as JSON
    #[arg(long)]
    json: bool,
    /// A diagram of all places, the best numbered
    #[arg(long, value_name = "FILE.svg|.png")]
    diagram: Option<PathBuf>,
}

/// What `--json` prints.
#[derive(Serialize)]
struct Found<'a> {
    player: &'a Player,
    /// The best first.
    openings: &'a [Opening],
    map: &'a BreakMap,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    if let Some(path) = &arguments.diagram {
        frames::check_drawing(path)?;
    }
    let physics = try_hit::physics(arguments.physics.as_deref())?;
    let player = arguments.player.0;
    player.check()?;
    let bed = Bed::new(&arguments.table, &physics)?;
    let bar = bar(1, "of the places compared");
    let seen = |done: usize, all: usize| {
        bar.set_length(all as u64);
        bar.set_position(done as u64);
    };
    let now = Instant::now();
    let compared = now + arguments.time.mul_f64(COMPARED);
    let map = map(&bed, &player, SEED, Some(compared), &seen);
    bar.finish_and_clear();
    if std::io::stderr().is_terminal() {
        eprintln!("playing the best of them through");
    }
    let openings = openings(&bed, &player, &map, SEED, Some(now + arguments.time));
    if openings.is_empty() {
        return Err("no place was found in that time: give more with --for".into());
    }
    if let Some(path) = &arguments.diagram {
        frames::write_drawing(path, &map.svg())?;
    }
    let text = if arguments.json {
        let found = Found { player: &player, openings: &openings, map: &map };
        serde_json::to_string(&found)? + "\n"
    } else {
        told(&openings, &map)
    };
    Ok(output::write(&text)?)
}

fn told(openings: &[Opening], map: &BreakMap) -> String {
    let mut text = String::from("places in diamonds, the best first\n");
    // Writing to a string cannot fail.
    for (k, opening) in (1..).zip(openings) {
        let Opening { break_ball, cue_ball, advice } = opening;
        let _ = writeln!(
            text,
            "{k}  ball at {:.2}, {:.2} with the cue ball at {:.2}, {:.2}",
            break_ball.x, break_ball.y, cue_ball.x, cue_ball.y
        );
        let Some(best) = advice.recommended() else { continue };
        let figures = &best.figures;
        let _ = writeln!(
            text,
            "   into the {}: {}\n   made in {:.0}, a next shot in {:.0} of 100 hits, {:.1} loose balls, worth {:.1} balls",
            pocket_name(best.pocket),
            advice::hit_words(&best.hit),
            100.0 * figures.pocketed.mean,
            100.0 * figures.next_shot.mean,
            figures.loose_balls.mean,
            figures.worth_balls.mean,
        );
    }
    text.push_str("on the other side of the table they are the same, mirrored\n");
    if !map.whole {
        let _ = writeln!(
            text,
            "{} places were compared in that time, not all: --for gives more",
            map.places.len()
        );
    }
    text
}
