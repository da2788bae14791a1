//! What an export writes: lines of JSON and rows of tables, one type for each.

use crate::{
    layout::{BallKind, Layout},
    record::NoteAbout,
    score::{Attempt, Cause, RackPlayed, ShotTaken, Story, potted},
    study::{ShotKnown, ShotLog},
    table::pocket_name,
};
use jiff::Timestamp;
use serde::Serialize;
use serde_json::Value;

/// A rest, as a line.
#[derive(Serialize)]
pub struct RestLine<'a> {
    pub rest: i64,
    pub at: Timestamp,
    pub camera: &'a str,
    /// As they stand after it, with all corrections.
    pub attempt: Option<u32>,
    pub run: Option<u32>,
    pub unseen_ms: u64,
    pub frame_sha256: &'a str,
    /// In a line, which ends in it, as it is kept.
    #[serde(skip)]
    pub layout: &'a Layout,
}

/// A ball at a rest, as a row. Places are in diamonds.
#[derive(Serialize)]
pub struct BallRow<'a> {
    pub rest: i64,
    pub at: Timestamp,
    pub camera: &'a str,
    pub attempt: Option<u32>,
    pub run: Option<u32>,
    pub kind: BallKind,
    pub number: Option<u8>,
    pub x: f64,
    pub y: f64,
    pub sigma_mm: f64,
    pub confidence: f64,
}

/// An attempt, as a row.
#[derive(Serialize)]
pub struct AttemptRow<'a> {
    pub camera: &'a str,
    pub attempt: u32,
    pub began: Option<Timestamp>,
    pub over: Option<Timestamp>,
    pub run: u32,
    pub cause: Option<Cause>,
    pub racks: usize,
    pub shots: usize,
    pub start_seen: bool,
    pub sure: bool,
    pub began_rest: i64,
    pub over_rest: Option<i64>,
}

/// An attempt, as a line: the row, and what it counts.
#[derive(Serialize)]
pub struct AttemptLine<'a> {
    #[serde(flatten)]
    pub attempt: AttemptRow<'a>,
    pub rack_list: &'a [RackPlayed],
    pub shot_list: &'a [ShotTaken],
}

/// A correction, as a line.
#[derive(Serialize)]
pub struct CorrectionLine<'a> {
    pub correction: i64,
    pub at: Timestamp,
    pub camera: &'a str,
    pub rest: i64,
    pub says: &'a Value,
}

/// A note, as a line.
#[derive(Serialize)]
pub struct NoteLine<'a> {
    pub note: i64,
    pub at: Timestamp,
    pub camera: &'a str,
    pub rest: i64,
    pub about: NoteAbout,
    /// Empty where it takes back what was written before.
    pub text: &'a str,
}

/// An event, as a line.
#[derive(Serialize)]
pub struct EventLine<'a> {
    pub id: i64,
    pub at: Timestamp,
    pub camera: &'a str,
    pub kind: &'a str,
    pub rest: Option<i64>,
    pub body: &'a Value,
}

impl<'a> AttemptRow<'a> {
    pub fn new(camera: &'a str, attempt: &Attempt) -> Self {
        Self {
            camera,
            attempt: attempt.id,
            began: Timestamp::from_millisecond(attempt.began_unix_ms).ok(),
            over: attempt.over.and_then(|over| Timestamp::from_millisecond(over.at_unix_ms).ok()),
            run: attempt.run,
            cause: attempt.over.map(|over| over.cause),
            racks: attempt.racks.len(),
            shots: attempt.shots.len(),
            start_seen: attempt.start_seen,
            sure: attempt.sure,
            began_rest: attempt.began_rest,
            over_rest: attempt.over.map(|over| over.rest),
        }
    }
}

/// A correction, a note or an event, as a row; what the user wrote, and what has parts of its own,
/// is JSON in a cell, so that no spreadsheet takes it for a formula.
#[derive(Serialize)]
pub struct SaidRow<'a> {
    pub id: i64,
    pub at: Timestamp,
    pub camera: &'a str,
    pub kind: &'a str,
    pub rest: Option<i64>,
    pub body: String,
}

/// A shot, as a line or a row. Lengths and angles are of the likeliest pot, to a centimetre and a degree.
#[derive(Serialize)]
pub struct ShotRow<'a> {
    pub camera: &'a str,
    pub attempt: u32,
    pub rack: u32,
    /// Within the attempt, from 1.
    pub shot: u32,
    /// When the balls had come to rest.
    pub at: Option<Timestamp>,
    pub rest_before: Option<i64>,
    pub rest: i64,
    /// More than 1 where rests between were missed.
    pub shots: u32,
    pub potted: u32,
    /// After it.
    pub run: u32,
    /// Balls that the rack had brought before it.
    pub place: u32,
    pub is_break: bool,
    /// How it ended the attempt, if it did.
    pub ended: Option<Cause>,
    pub pocket: Option<&'static str>,
    /// Above 0 where the ball is cut to the left.
    pub cut_deg: Option<f64>,
    pub to_ball_mm: Option<f64>,
    pub to_pocket_mm: Option<f64>,
    /// No other ball can have been meant.
    pub aim_sure: Option<bool>,
    /// From where the cue ball lay to where it came to lie.
    pub cue_way_mm: Option<f64>,
    /// The cue ball lay at a rail.
    pub at_rail: Option<bool>,
}

/// Sees the shots of a camera's story in order; the time of each is to be filled in.
pub fn each_shot<E>(
    camera: &str,
    (story, log): (&Story, &ShotLog),
    mut see: impl FnMut(ShotRow<'_>) -> Result<(), E>,
) -> Result<(), E> {
    for attempt in &story.attempts {
        // What was counted before the first shot that was seen.
        let seen: u32 = potted(&attempt.shots);
        let mut run = attempt.run.saturating_sub(seen);
        for (number, (place, taken)) in (1..).zip(attempt.shots_by_place()) {
            run += u32::from(taken.potted);
            let known: Option<ShotKnown> = log.shot(taken.rest).filter(|_| taken.shots == 1);
            let read = known.map(|known| known.read);
            let aim = read.and_then(|read| read.aim);
            see(ShotRow {
                camera,
                attempt: attempt.id,
                rack: taken.rack,
                shot: number,
                at: None,
                rest_before: known.map(|known| known.before),
                rest: taken.rest,
                shots: taken.shots.into(),
                potted: taken.potted.into(),
                run,
                place,
                is_break: place == 0,
                ended: attempt.over.filter(|over| over.rest == taken.rest).map(|over| over.cause),
                pocket: aim.map(|aim| pocket_name(aim.pocket)),
                cut_deg: aim.map(|aim| aim.cut_deg),
                to_ball_mm: aim.map(|aim| aim.to_ball_mm),
                to_pocket_mm: aim.map(|aim| aim.to_pocket_mm),
                aim_sure: aim.map(|aim| aim.sure),
                cue_way_mm: read.and_then(|read| read.cue_way_mm),
                at_rail: read.map(|read| read.at_rail),
            })?;
        }
    }
    Ok(())
}
