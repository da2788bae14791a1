//! One attempt on paper: every rack's closing layout with its times and the score, how it ended, and
//! under what conditions it was played.
//!
//! In: an attempt of the score, the rests that it names, the conditions. Out: SVG drawings, as one
//! long sheet or cut into pages; PNG and PDF are made of them by `layout::diagram`. On `score`,
//! `layout` and `table`: knows no storage, no clock and no HTTP. Times are UTC and say so.

mod drawing;
mod page;

pub use drawing::{UNITS_PER_MM, long, pages};

use crate::{
    layout::Layout,
    score::{Attempt, Cause, RackPlayed, RestSeen, potted},
    table::TableSize,
};

/// One rack as it is told.
#[derive(Debug, Clone, PartialEq)]
pub struct RackTold {
    /// From 1.
    pub number: u32,
    /// Balls that it brought, and the run after it.
    pub balls: u32,
    pub run: u32,
    /// When it was racked and when its last rest was, in milliseconds since 1970; none where that
    /// was not seen.
    pub began_unix_ms: Option<i64>,
    pub ended_unix_ms: Option<i64>,
    /// The layout just before the next rack; none where it was not seen, and for the last rack.
    pub closing: Option<Layout>,
}

/// All that stands on the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct RunSheet {
    pub camera: String,
    pub attempt: u32,
    pub run: u32,
    pub shots: usize,
    /// The longest run of the record, this one included.
    pub high_run: u32,
    pub start_seen: bool,
    /// Whether a question about it is still open.
    pub sure: bool,
    pub began_unix_ms: i64,
    pub ended_unix_ms: Option<i64>,
    /// How it ended; none while it goes on.
    pub cause: Option<Cause>,
    pub table: Option<TableSize>,
    /// For whom the program gave advice at each rest; none where it gave none unasked.
    pub advice: Option<String>,
    pub racks: Vec<RackTold>,
    /// The layouts before and after the last shot.
    pub last_shot: [Option<Layout>; 2],
}

/// What the record has beside the attempt itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conditions {
    pub camera: String,
    pub high_run: u32,
    pub advice: Option<String>,
}

/// The rests that a sheet tells of: racks, closing layouts, the last shot.
pub fn rests_of(attempt: &Attempt) -> Vec<i64> {
    let racks = attempt.racks.iter().flat_map(|rack| [rack.racked_rest, rack.closing_rest]);
    let mut rests: Vec<i64> = racks.flatten().chain([attempt.began_rest]).collect();
    rests.extend(last_shot(attempt).into_iter().flatten());
    rests.sort_unstable();
    rests.dedup();
    rests
}

/// The rests before and after the last shot; none where no shot ended the attempt.
fn last_shot(attempt: &Attempt) -> [Option<i64>; 2] {
    let ended = |over: &crate::score::Over| {
        matches!(over.cause, Cause::Miss | Cause::Scratch | Cause::Foul).then_some(over.rest)
    };
    let Some(after) = attempt.over.as_ref().and_then(ended) else { return [None; 2] };
    let shots = attempt.shots.iter().map(|shot| shot.rest);
    let racked = attempt.racks.iter().filter_map(|rack| rack.racked_rest);
    let before = shots.chain(racked).chain([attempt.began_rest]).filter(|rest| *rest < after);
    [before.max(), Some(after)]
}

impl RunSheet {
    /// Of an attempt, with those of [`rests_of`] it that are on record.
    pub fn of(attempt: &Attempt, rests: &[RestSeen], conditions: Conditions) -> Self {
        let find = |id: Option<i64>| rests.iter().find(|rest| Some(rest.id) == id);
        let layout = |id: Option<i64>| find(id).map(|rest| rest.layout.clone());
        let mut run = 0;
        let racks = attempt.racks.iter().map(|rack| {
            let shots = attempt.shots.iter().filter(|shot| shot.rack == rack.number);
            let balls = potted(shots);
            run += balls;
            let RackPlayed { number, racked_rest, closing_rest } = *rack;
            let last = number == attempt.racks.last().map_or(0, |last| last.number);
            let over = attempt.over.filter(|_| last).map(|over| over.at_unix_ms);
            RackTold {
                number,
                balls,
                run,
                began_unix_ms: find(racked_rest).map(|rest| rest.at_unix_ms),
                ended_unix_ms: find(closing_rest).map(|rest| rest.at_unix_ms).or(over),
                closing: layout(closing_rest),
            }
        });
        let racks = racks.collect();
        Self {
            camera: conditions.camera,
            attempt: attempt.id,
            run: attempt.run,
            shots: attempt.shots.len(),
            high_run: conditions.high_run,
            start_seen: attempt.start_seen,
            sure: attempt.sure,
            began_unix_ms: attempt.began_unix_ms,
            ended_unix_ms: attempt.over.map(|over| over.at_unix_ms),
            cause: attempt.over.map(|over| over.cause),
            table: rests.last().map(|rest| rest.layout.table),
            advice: conditions.advice,
            racks,
            last_shot: last_shot(attempt).map(layout),
        }
    }

    /// What the sheet is called.
    pub fn title(&self) -> String {
        format!("Attempt {}, run {}", self.attempt, self.run)
    }
}

#[cfg(test)]
mod tests;
