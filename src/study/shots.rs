//! The shots of a story with what their rests tell: made or missed, how they were aimed, after which
//! shot, how far into the session.
//!
//! A shot that stands for several is left out: nobody knows which of them pocketed. So is one whose
//! rests were missing. A session goes on for as long as no pause between attempts is longer than
//! [`PAUSE_MIN`]; a clock that was set back begins a new one.

use super::{
    run::{BALLS_A_RACK, utc_day},
    shot_log::{ShotKnown, ShotLog},
    shot_read::ShotRead,
};
use crate::score::{Attempt, Cause, Story, potted};
use jiff::{Timestamp, civil::Date};

/// A longer pause ends a session, in minutes.
pub const PAUSE_MIN: i64 = 30;
/// The cue ball's way from rest to rest beyond which a shot is a long one, in millimetres.
const LONG_MM: f64 = 800.0;

/// What went before a shot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum After {
    /// It is the first of the attempt.
    Nothing,
    /// A break shot.
    Break,
    /// The cue ball came to lie near where it was, or far from there.
    ShortWay,
    LongWay,
}

/// One shot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shot {
    /// The rest that it was played from, and the one that the balls came to.
    pub from_rest: i64,
    pub rest: i64,
    /// It pocketed nothing that counts.
    pub missed: bool,
    /// It opened the rack.
    pub is_break: bool,
    /// Balls that the rack had brought before it.
    pub place: u32,
    pub read: ShotRead,
    /// None where the shot before was not seen.
    pub after: Option<After>,
    /// How far into the session its attempt began, in minutes.
    pub session_min: u32,
    /// The day its attempt began, UTC.
    pub day: Option<Date>,
}

/// Sees each shot of a story in order.
pub fn each_shot(story: &Story, log: &ShotLog, mut see: impl FnMut(&Shot)) {
    let mut session: Option<(i64, i64)> = None;
    for attempt in &story.attempts {
        let began = attempt.began_unix_ms;
        let goes_on = session
            .filter(|(_, last)| (0..=PAUSE_MIN * 60_000).contains(&began.saturating_sub(*last)));
        let since = goes_on.map_or(began, |(since, _)| since);
        let session_min = (began.saturating_sub(since) / 60_000).clamp(0, i64::from(u32::MAX));
        let day = Timestamp::from_millisecond(began).ok().map(utc_day);
        of_attempt(attempt, log, |shot| {
            see(&Shot { session_min: session_min as u32, day, ..*shot });
        });
        let last = attempt.over.map_or(began, |over| over.at_unix_ms).max(began);
        session = Some((since, last));
    }
}

fn of_attempt(attempt: &Attempt, log: &ShotLog, mut see: impl FnMut(&Shot)) {
    let mut known = log.shots_from(attempt.began_rest).peekable();
    let mut before: Option<After> = attempt.start_seen.then_some(After::Nothing);
    for (place, taken) in attempt.shots_by_place() {
        while known.next_if(|shot| shot.rest < taken.rest).is_some() {}
        let found: Option<ShotKnown> = known.next_if(|shot| shot.rest == taken.rest);
        let is_break = place == 0;
        if let Some(found) = found.filter(|_| taken.shots == 1) {
            see(&Shot {
                from_rest: found.before,
                rest: found.rest,
                missed: taken.potted == 0,
                is_break,
                place: place.min(BALLS_A_RACK - 1),
                read: found.read,
                after: before,
                session_min: 0,
                day: None,
            });
        }
        let way = found.filter(|_| taken.shots == 1).and_then(|found| found.read.cue_way_mm);
        before = match way {
            _ if is_break && taken.shots == 1 => Some(After::Break),
            Some(way) if way > LONG_MM => Some(After::LongWay),
            Some(_) => Some(After::ShortWay),
            None => None,
        };
    }
}

/// What became of the shot from a rest: whether it pocketed, and the balls that the attempt brought
/// from there on. None where no shot was played from it, or it cannot be told.
pub fn came_of(story: &Story, rest: i64) -> Option<Outcome> {
    let at = story.attempts.partition_point(|attempt| attempt.began_rest <= rest);
    let attempt = story.attempts.get(at.checked_sub(1)?)?;
    if attempt.over.is_some_and(|over| over.rest <= rest) {
        return None;
    }
    let next = attempt.shots.partition_point(|shot| shot.rest <= rest);
    let shot = attempt.shots.get(next).filter(|shot| shot.shots == 1)?;
    // A break shot comes after the re-rack, which moves none of the balls that are left.
    let balls = potted(&attempt.shots[next..]);
    let ended = attempt.over.map(|over| over.cause).filter(|_| attempt.shots.len() == next + 1);
    Some(Outcome {
        attempt: attempt.id,
        rack: shot.rack,
        made: shot.potted > 0,
        balls,
        scratched: ended == Some(Cause::Scratch),
    })
}

/// What came of a position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outcome {
    pub attempt: u32,
    /// The rack that the shot was played in.
    pub rack: u32,
    pub made: bool,
    /// Balls of the attempt from there on.
    pub balls: u32,
    /// The cue ball went.
    pub scratched: bool,
}
