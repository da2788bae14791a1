//! `stillcloth try`: plays one hit from a layout.

use super::{frames, output};
use serde::Serialize;
use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use stillcloth::layout::{Layout, diagram};
use stillcloth::motion::{
    self, Bed, Change, Event, EventKind, Hit, Outcome, Phase, Physics, Placed, Rest, Shot,
};
use stillcloth::table::{DiamondPoint, TablePoint, TableSize, pocket_name};

/// How far a drawn way may lie off the ball's, in millimetres.
const WAY_WITHIN_MM: f64 = 0.5;

#[derive(clap::Args)]
pub struct Arguments {
    /// The layout, as `stillcloth read` prints it
    #[arg(value_name = "LAYOUT.json")]
    layout: PathBuf,
    /// Direction in which the cue ball leaves: 0 toward the foot, 90 toward the rail at y = 4
    #[arg(long, value_name = "DEG", allow_negative_numbers = true)]
    aim: f64,
    /// Speed with which the cue ball leaves the tip
    #[arg(long, value_name = "M_PER_S")]
    speed: f64,
    /// Where the tip meets the ball: 1 as high as it holds, -1 as low
    #[arg(long, default_value_t = 0.0, allow_negative_numbers = true)]
    height: f64,
    /// Side: 1 as far right as the tip holds, -1 left
    #[arg(long, default_value_t = 0.0, allow_negative_numbers = true)]
    side: f64,
    /// How far the cue's butt is raised
    #[arg(long, value_name = "DEG", default_value_t = 0.0)]
    elevation: f64,
    /// Parameters of the physics as JSON; what the file leaves out keeps its start value
    #[arg(long, value_name = "FILE")]
    physics: Option<PathBuf>,
    /// Print everything as JSON
    #[arg(long)]
    json: bool,
    /// A diagram of the layout with the balls' ways
    #[arg(long, value_name = "FILE.svg|.png")]
    diagram: Option<PathBuf>,
}

/// What `--json` prints.
#[derive(Serialize)]
struct Played<'a> {
    hit: Hit,
    physics: &'a Physics,
    duration_s: f64,
    /// Whether the balls were stopped before they came to rest.
    cut_short: bool,
    events: &'a [Event],
    rest: &'a [Rest],
    /// The layout at rest.
    layout: &'a Layout,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    if let Some(path) = &arguments.diagram {
        frames::check_drawing(path)?;
    }
    let layout: Layout = from_file(&arguments.layout, "layout")?;
    let physics = physics(arguments.physics.as_deref())?;
    let hit = Hit {
        aim_rad: arguments.aim.to_radians(),
        speed_m_s: arguments.speed,
        height: arguments.height,
        side: arguments.side,
        elevation_rad: arguments.elevation.to_radians(),
    };
    let bed = Bed::new(&layout.table, &physics)?;
    let shot = motion::play(&bed, &Placed::all_of(&layout)?, 0, &hit)?;
    let after = shot.layout_after(&layout);
    if let Some(path) = &arguments.diagram {
        let ways = shot.ways(&layout, WAY_WITHIN_MM);
        let plan = diagram::Plan { ways: &ways, ..diagram::Plan::default() };
        frames::write_drawing(path, &diagram::svg_with_plan(&layout, &plan))?;
    }
    let text = if arguments.json {
        let played = Played {
            hit,
            physics: &physics,
            duration_s: shot.duration_s,
            cut_short: shot.cut_short,
            events: &shot.events,
            rest: &shot.rest,
            layout: &after,
        };
        serde_json::to_string(&played)? + "\n"
    } else {
        told(&shot, &layout.table)
    };
    Ok(output::write(&text)?)
}

/// The parameters in a file, or those that are begun with.
pub(super) fn physics(file: Option<&Path>) -> Result<Physics, String> {
    file.map_or_else(|| Ok(Physics::default()), |path| from_file(path, "set of parameters"))
}

pub(super) fn from_file<T: serde::de::DeserializeOwned>(
    path: &Path,
    what: &str,
) -> Result<T, String> {
    let name = path.display();
    let text =
        std::fs::read_to_string(path).map_err(|error| format!("cannot read {name}: {error}"))?;
    serde_json::from_str(&text).map_err(|error| format!("{name} is no {what}: {error}"))
}

pub(super) fn name(ball: usize) -> String {
    match ball {
        0 => "cue ball".into(),
        number if number < motion::UNREAD_FROM => format!("ball {number}"),
        unread => format!("unread ball {}", unread - motion::UNREAD_FROM + 1),
    }
}

/// The shot in lines of text: its events, then where the balls lie.
fn told(shot: &Shot, table: &TableSize) -> String {
    let mut text = String::from(
        "seconds  event          ball            at (diamonds)   m/s, degrees before > after            spin before > after (follow, side: rad/s)\n",
    );
    for event in &shot.events {
        for change in &event.balls {
            line(&mut text, event, change, table);
        }
    }
    // Writing to a string cannot fail.
    let _ = writeln!(text, "at rest after {:.2} s", shot.duration_s);
    for rest in &shot.rest {
        let _ = match rest.outcome {
            Outcome::Lies(place) => {
                writeln!(text, "  {:15} lies at {}", name(rest.ball), at(place, table))
            }
            Outcome::Dropped { pocket, t_s } => writeln!(
                text,
                "  {:15} dropped into {} after {t_s:.2} s",
                name(rest.ball),
                pocket_name(pocket)
            ),
        };
    }
    if shot.cut_short {
        text.push_str("the shot had too many events and was stopped as it was\n");
    }
    text
}

fn line(text: &mut String, event: &Event, change: &Change, table: &TableSize) {
    let what = match event.kind {
        EventKind::Tip => "tip".into(),
        EventKind::Balls => "balls meet".into(),
        EventKind::Cushion => "cushion".into(),
        EventKind::Jaw { pocket } => format!("jaw of {}", pocket_name(pocket)),
        EventKind::Pocket { pocket } => format!("drops: {}", pocket_name(pocket)),
        EventKind::Change { into: Phase::Roll } => "rolls".into(),
        EventKind::Change { into: Phase::Slide } => "slides".into(),
        EventKind::Change { into: Phase::Spin } => "spins".into(),
        EventKind::Change { into: Phase::Rest } => "rests".into(),
    };
    let _ = writeln!(
        text,
        "{:7.3}  {what:13}  {:14}  {:13}  {:15} > {:15}  {} > {}",
        event.t_s,
        name(change.ball),
        at(change.place, table),
        velocity(change.velocity_before_m_s),
        velocity(change.velocity_after_m_s),
        spin(change.velocity_before_m_s, change.spin_before_rad_s),
        spin(change.velocity_after_m_s, change.spin_after_rad_s),
    );
}

fn at(place: TablePoint, table: &TableSize) -> String {
    let place = DiamondPoint::from_table(place, table);
    format!("{:.3}, {:.3}", place.x, place.y)
}

fn velocity([x, y]: [f64; 2]) -> String {
    let speed = x.hypot(y);
    if speed > 0.0 { format!("{speed:.3} at {:.1}", y.atan2(x).to_degrees()) } else { "0".into() }
}

/// Spin as the player sees it along the ball's way: follow or draw, and side.
fn spin([vx, vy]: [f64; 2], [x, y, z]: [f64; 3]) -> String {
    let speed = vx.hypot(vy);
    let follow = if speed > 0.0 { (y * vx - x * vy) / speed } else { x.hypot(y) };
    format!("{:.1}, {:.1}", follow + 0.0, z + 0.0)
}
