//! The English of the pages that more than one of them needs: times, counts, steps and endings.

use crate::{
    layout::{Ball, BallKind, Layout},
    score::{Attempt, Cause, Step},
    service::{CameraStatus, Health},
};
use jiff::Timestamp;

/// So many of something.
pub(super) fn count(count: usize, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

/// A ball's name in a list.
pub(super) fn ball_name(ball: &Ball) -> String {
    match (ball.kind, ball.number) {
        (BallKind::Cue, _) => "Cue ball".into(),
        (BallKind::Object, Some(number)) => number.to_string(),
        (BallKind::Object, None) => "Not read".into(),
    }
}

/// The balls of a layout.
pub(super) fn in_words(layout: &Layout) -> String {
    let objects = count(layout.object_balls().count(), "object ball", "object balls");
    if layout.cue_ball().is_some() {
        format!("cue ball and {objects}")
    } else {
        format!("{objects}, no cue ball")
    }
}

pub(super) fn percent(part: f64) -> String {
    format!("{:.0} %", 100.0 * part)
}

/// A time of day; the script turns it into the reader's own zone.
pub(super) fn clock(at: Timestamp) -> String {
    at.strftime("%H:%M:%S UTC").to_string()
}

/// A day with its time; the script turns it into the reader's own zone.
pub(super) fn day(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M UTC").to_string()
}

/// A moment that the score tells in milliseconds since 1970.
pub(super) fn moment(unix_ms: i64) -> Timestamp {
    Timestamp::from_millisecond(unix_ms).unwrap_or_default()
}

/// An age as the script writes it too.
pub(super) fn age(seconds: u64) -> String {
    format!("{} ago", duration(seconds))
}

pub(super) fn duration(seconds: u64) -> String {
    match seconds {
        0..120 => format!("{seconds} s"),
        120..7200 => format!("{} min", seconds / 60),
        7200..172_800 => format!("{} h", seconds / 3600),
        _ => format!("{} days", seconds / 86_400),
    }
}

/// What ended an attempt.
pub(super) const fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Miss => "Miss",
        Cause::Scratch => "Scratch",
        Cause::Foul => "Ball off the table",
        Cause::Stopped => "Stopped",
        Cause::Unseen => "Ended unseen",
    }
}

/// How an attempt stands or ended.
pub(super) fn ending(attempt: &Attempt) -> &'static str {
    attempt.over.map_or("Going on", |over| cause(over.cause))
}

/// A step as the user said it.
pub(super) fn said(step: &Step) -> String {
    match step {
        Step::Same => "nothing happened".into(),
        Step::SettingUp => "balls were being set up".into(),
        Step::OpeningRack => "a new attempt begins".into(),
        Step::ReRack => "racked again, the run goes on".into(),
        Step::Shot { potted } => format!("{potted} pocketed"),
        Step::Miss => "a miss".into(),
        Step::Scratch => "a scratch".into(),
        Step::BallOffTable => "a ball left the table".into(),
        Step::CameBack { balls, .. } => {
            format!("{} came back", count(*balls as usize, "ball", "balls"))
        }
        Step::ByHand => "moved by hand".into(),
        Step::Several { shots, potted, .. } => {
            format!("{potted} pocketed in {}", count(*shots as usize, "shot", "shots"))
        }
        Step::AttemptOn { run, .. } => format!("an attempt is on, its run is {run}"),
        Step::Stopped => "the player stopped".into(),
        Step::Practice => "a shot was practised".into(),
        Step::NoRest => "the table was not at rest".into(),
    }
}

pub(super) const fn health(health: Health) -> &'static str {
    match health {
        Health::Starting => "Starting",
        Health::Live => "Live",
        Health::Stale => "Stale",
        Health::Lost => "Lost",
        Health::Ended => "Ended",
    }
}

/// How old a camera's last frame is.
pub(super) fn last_frame(camera: &CameraStatus) -> String {
    camera.last_frame_age_ms.map_or_else(
        || "No frame yet.".into(),
        |age_ms| format!("Last frame {}.", age(age_ms / 1000)),
    )
}
