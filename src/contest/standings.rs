//! Who stands where: ties share a place, each player counts once with the best entry.
//!
//! A player is known by name here, whatever key signed: names on one list are the organiser's to
//! settle. An entry that was withdrawn or removed stays in the list and counts for nothing.

use super::{
    finding::{Finding, Verdict},
    rules::{Counts, Rules},
    verify::Report,
};
use jiff::{Timestamp, civil::Date, tz::Offset};
use serde::{Deserialize, Serialize};

/// What a list tells of an entry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Facts {
    pub player: String,
    /// At the attempt, in whole years.
    pub age_years: Option<u8>,
    pub run: u32,
    /// The day on which the attempt began, UTC.
    pub day: Date,
    pub film: Option<String>,
    /// None for an entry made by hand, which nothing was checked of.
    pub signed: Option<Signed>,
}

/// What a signed entry has beyond that.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signed {
    pub key: String,
    pub records: u32,
    /// The attempt's own hashes, whoever signs it and whatever the head says.
    pub first_sha256: String,
    pub chain_sha256: String,
    /// What somebody has to look at.
    pub findings: Vec<Finding>,
}

impl Facts {
    /// What a report amounts to; none where the entry was refused.
    pub fn of(report: &Report) -> Option<Self> {
        if report.verdict() == Verdict::Refused {
            return None;
        }
        let attempt = report.attempt.as_ref()?;
        let began = Timestamp::from_millisecond(attempt.began_unix_ms).ok()?;
        Some(Self {
            player: report.player.clone()?,
            age_years: report.age_years,
            run: attempt.run,
            day: Offset::UTC.to_datetime(began).date(),
            film: report.film.clone(),
            signed: Some(Signed {
                key: report.key.clone()?,
                records: report.records,
                first_sha256: report.first_sha256.clone()?,
                chain_sha256: report.chain_sha256.clone()?,
                findings: report.findings.clone(),
            }),
        })
    }

    /// What the places are given by; none where it cannot be reckoned.
    pub fn result(&self, counts: Counts) -> Option<i64> {
        let run = i64::from(self.run);
        match counts {
            Counts::LongestRun => Some(run),
            Counts::RunAgainstAge => Some(run - i64::from(self.age_years?)),
        }
    }

    /// What there is to be said of how far an entry was checked; none for one made by hand.
    pub fn verdict(&self) -> Option<Verdict> {
        self.signed.as_ref().map(|signed| Verdict::of(&signed.findings))
    }

    /// What tells players apart: the name, however its letters and spaces are written.
    pub(super) fn known_as(&self) -> String {
        self.player.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
    }
}

/// Whether an entry counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EntryState {
    Counts,
    /// By the player's wish.
    Withdrawn,
    /// By the organiser.
    Removed,
}

/// An entry of a contest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entered {
    pub id: i64,
    pub at: Timestamp,
    pub facts: Facts,
    pub state: EntryState,
    /// Why it does not count; empty where nothing was said.
    pub reason: String,
}

/// A place on the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rank<'a> {
    /// From 1.
    pub place: u32,
    /// Others have the same place.
    pub tied: bool,
    pub result: i64,
    pub entry: &'a Entered,
}

/// The list, best first; of players with one result the earlier entry first.
pub fn standings<'a>(rules: &Rules, entries: &'a [Entered]) -> Vec<Rank<'a>> {
    let mut counting: Vec<(i64, &Entered)> = entries
        .iter()
        .filter(|entry| entry.state == EntryState::Counts)
        .filter_map(|entry| Some((entry.facts.result(rules.counts)?, entry)))
        .collect();
    counting.sort_by_key(|(result, entry)| (std::cmp::Reverse(*result), entry.id));
    let mut players: Vec<String> = Vec::new();
    counting.retain(|(_, entry)| {
        let player = entry.facts.known_as();
        let first = !players.contains(&player);
        players.extend(first.then_some(player));
        first
    });
    let better = |than: i64| counting.iter().filter(|(result, _)| *result > than).count();
    let alike = |to: i64| counting.iter().filter(|(result, _)| *result == to).count();
    counting
        .iter()
        .map(|&(result, entry)| Rank {
            place: better(result) as u32 + 1,
            tied: alike(result) > 1,
            result,
            entry,
        })
        .collect()
}
