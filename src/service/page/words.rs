//! What more than one of the pages tells, in words: times, balls, steps and endings.

use super::messages::say;
use crate::{
    layout::{Ball, BallKind, Layout},
    score::{Attempt, Cause, Step},
    service::{CameraStatus, Health},
    study,
};
use jiff::Timestamp;
use maud::{Markup, html};

/// A ball's name in a list.
pub(super) fn ball_name(ball: &Ball) -> String {
    match (ball.kind, ball.number) {
        (BallKind::Cue, _) => say!("ball-cue"),
        (BallKind::Object, Some(number)) => number.to_string(),
        (BallKind::Object, None) => say!("ball-not-read"),
    }
}

/// The balls of a layout.
pub(super) fn in_words(layout: &Layout) -> String {
    let balls = layout.object_balls().count();
    if layout.cue_ball().is_some() {
        say!("layout-with-cue-ball", balls = balls)
    } else {
        say!("layout-without-cue-ball", balls = balls)
    }
}

pub(super) fn percent(part: f64) -> String {
    format!("{:.0} %", 100.0 * part)
}

/// An interval of chances, as the study writes each.
pub(super) fn range(low: f64, high: f64) -> String {
    say!("range", from = study::percent(low), to = study::percent(high))
}

/// The heads of a table of figures.
pub(super) fn heads(names: [String; 5]) -> Markup {
    html! { thead { tr { @for name in names { th { (name) } } } } }
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
    say!("age", duration = duration(seconds))
}

pub(super) fn duration(seconds: u64) -> String {
    match seconds {
        0..120 => say!("duration-seconds", seconds = seconds),
        120..7200 => say!("duration-minutes", minutes = seconds / 60),
        7200..172_800 => say!("duration-hours", hours = seconds / 3600),
        _ => say!("duration-days", days = seconds / 86_400),
    }
}

/// What ended an attempt.
pub(super) fn cause(cause: Cause) -> String {
    match cause {
        Cause::Miss => say!("cause-miss"),
        Cause::Scratch => say!("cause-scratch"),
        Cause::Foul => say!("cause-ball-off-table"),
        Cause::Stopped => say!("cause-stopped"),
        Cause::Unseen => say!("cause-unseen"),
    }
}

/// How an attempt stands or ended.
pub(super) fn ending(attempt: &Attempt) -> String {
    attempt.over.map_or_else(|| say!("going-on"), |over| cause(over.cause))
}

/// A step as the user said it.
pub(super) fn said(step: &Step) -> String {
    match step {
        Step::Same => say!("said-same"),
        Step::SettingUp => say!("said-setting-up"),
        Step::OpeningRack => say!("said-opening-rack"),
        Step::ReRack => say!("said-re-rack"),
        Step::Shot { potted } => say!("said-shot", potted = *potted),
        Step::Miss => say!("said-miss"),
        Step::Scratch => say!("said-scratch"),
        Step::BallOffTable => say!("said-ball-off-table"),
        Step::CameBack { balls, .. } => say!("said-came-back", balls = *balls),
        Step::ByHand => say!("said-by-hand"),
        Step::Several { shots, potted, .. } => {
            say!("said-several", potted = *potted, shots = *shots)
        }
        Step::AttemptOn { run, .. } => say!("said-attempt-on", run = *run),
        Step::Stopped => say!("said-stopped"),
        Step::Practice => say!("said-practice"),
        Step::NoRest => say!("said-no-rest"),
    }
}

pub(super) fn health(health: Health) -> String {
    match health {
        Health::Starting => say!("health-starting"),
        Health::Live => say!("health-live"),
        Health::Stale => say!("health-stale"),
        Health::Lost => say!("health-lost"),
        Health::Ended => say!("health-ended"),
    }
}

/// How old a camera's last frame is.
pub(super) fn last_frame(camera: &CameraStatus) -> String {
    camera
        .last_frame_age_ms
        .map_or_else(|| say!("no-frame-yet"), |age_ms| say!("last-frame", age = age(age_ms / 1000)))
}
