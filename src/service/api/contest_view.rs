//! Contests as clients see them.

use super::published::one_or_none;
use crate::{
    contest::{Counts, Entered, EntryState, Finding, Place, Rank, Rules, Verdict, standings},
    record::Contest,
    table::TableSize,
};
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};

/// A contest without its entries.
#[derive(Debug, Serialize, ToSchema)]
pub struct ContestHead {
    id: i64,
    /// When it was opened, UTC.
    #[schema(value_type = String, format = DateTime)]
    opened_at: Timestamp,
    name: String,
    /// `longest_run`, or `run_against_age`: how many balls the run is above the player's age in years.
    #[schema(value_type = String)]
    counts: Counts,
    /// Attempts count that began on one of these days, UTC, both included.
    #[schema(value_type = String, format = Date)]
    from: Date,
    #[schema(value_type = String, format = Date)]
    to: Date,
    /// Attempts count at a table of this length and width; at any where it is null.
    #[schema(schema_with = maybe_table)]
    table: Option<TableSize>,
}

fn maybe_table() -> RefOr<Schema> {
    one_or_none("TableSize")
}

/// All contests.
#[derive(Debug, Serialize, ToSchema)]
pub struct ContestList {
    /// Oldest first.
    pub(super) contests: Vec<ContestHead>,
}

/// A contest with the standings and all its entries.
#[derive(Debug, Serialize, ToSchema)]
pub struct ContestView {
    #[serde(flatten)]
    contest: ContestHead,
    /// Best first: each player's best entry that counts.
    standings: Vec<RankView>,
    /// In the order in which they came.
    entries: Vec<EntryView>,
}

/// A place.
#[derive(Debug, Serialize, ToSchema)]
pub struct RankView {
    /// From 1; who has the same result has the same place.
    place: u32,
    tied: bool,
    player: String,
    /// The run, or how many balls it is above the player's age.
    result: i64,
    /// The entry's id.
    entry: i64,
}

/// An entry.
#[derive(Debug, Serialize, ToSchema)]
pub struct EntryView {
    /// Grows by one with each entry, over all contests.
    id: i64,
    /// When it was taken in, UTC.
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    player: String,
    /// At the attempt, in whole years.
    age_years: Option<u8>,
    run: u32,
    /// The day on which the attempt began, UTC.
    #[schema(value_type = String, format = Date)]
    day: Date,
    film: Option<String>,
    /// `verified`, `to_look_at` (signed and whole, with findings), or `unverified`: made by hand.
    checked: &'static str,
    /// What somebody has to look at.
    findings: Vec<FindingView>,
    /// The player's public key; none for an entry made by hand.
    key: Option<String>,
    /// `counts`, `withdrawn` (by the player) or `removed` (by the organiser).
    #[schema(value_type = String)]
    state: EntryState,
    /// Why it does not count.
    reason: String,
}

/// Something in an entry that somebody has to look at.
#[derive(Debug, Serialize, ToSchema)]
pub struct FindingView {
    /// The record's number; none where it is about the head or the seal.
    record: Option<u32>,
    text: String,
}

impl From<&Contest> for ContestHead {
    fn from(contest: &Contest) -> Self {
        let Rules { name, counts, from, to, table } = contest.rules.clone();
        Self { id: contest.id, opened_at: contest.at, name, counts, from, to, table }
    }
}

impl From<&Rank<'_>> for RankView {
    fn from(rank: &Rank<'_>) -> Self {
        Self {
            place: rank.place,
            tied: rank.tied,
            player: rank.entry.facts.player.clone(),
            result: rank.result,
            entry: rank.entry.id,
        }
    }
}

/// How far an entry was checked, for programs.
pub(super) fn checked(entry: &Entered) -> &'static str {
    match entry.facts.verdict() {
        Some(Verdict::Verified) => "verified",
        Some(Verdict::ToLookAt | Verdict::Refused) => "to_look_at",
        None => "unverified",
    }
}

impl From<Entered> for EntryView {
    fn from(entry: Entered) -> Self {
        let checked = checked(&entry);
        let Entered { id, at, facts, state, reason } = entry;
        let (key, findings) =
            facts.signed.map_or((None, Vec::new()), |it| (Some(it.key), it.findings));
        Self {
            id,
            at,
            player: facts.player,
            age_years: facts.age_years,
            run: facts.run,
            day: facts.day,
            film: facts.film,
            checked,
            findings: findings.into_iter().map(FindingView::from).collect(),
            key,
            state,
            reason,
        }
    }
}

impl From<Finding> for FindingView {
    fn from(finding: Finding) -> Self {
        let record = match finding.place {
            Place::Record(number) => Some(number),
            Place::Head | Place::Seal => None,
        };
        Self { record, text: finding.text }
    }
}

impl ContestView {
    pub(super) fn of(contest: &Contest, entries: Vec<Entered>) -> Self {
        let standings = standings(&contest.rules, &entries).iter().map(RankView::from).collect();
        let entries = entries.into_iter().map(EntryView::from).collect();
        Self { contest: contest.into(), standings, entries }
    }
}
