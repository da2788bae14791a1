//! What counts in a contest, and whether an attempt is one that does.

use super::{
    replay::is_same_table,
    standings::Facts,
    verify::{unfit_age, unfit_film, unfit_name},
};
use crate::table::TableSize;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// What the places are given by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Counts {
    /// The longest run.
    LongestRun,
    /// How many balls the run is above the player's age in years.
    RunAgainstAge,
}

/// A contest as its organiser opened it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    pub name: String,
    pub counts: Counts,
    /// Attempts that began on one of these days (UTC), both included.
    pub from: Date,
    pub to: Date,
    /// Only attempts at a table of this size; any where none is given.
    pub table: Option<TableSize>,
}

/// Why there is no such contest.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum RulesError {
    #[error("{why}: give the contest a name of 1 to 80 plain characters")]
    Name { why: String },
    #[error("the contest ends on {to}, before it begins on {from}: change one of the two")]
    Days { from: Date, to: Date },
}

/// Why an attempt does not count in a contest.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum Unfit {
    #[error("the attempt is of {day}, and this contest is for {from} to {to}")]
    Day { day: Date, from: Date, to: Date },
    #[error("the attempt's table is {length_mm} mm long, and this contest is for {wanted_mm} mm")]
    Table { length_mm: i64, wanted_mm: i64 },
    #[error(
        "in this contest the run counts against the player's age: the entry has to tell it, in whole years"
    )]
    NoAge,
    #[error("{0}")]
    Words(String),
}

impl Rules {
    /// # Errors
    /// Where there can be no such contest.
    pub fn check(&self) -> Result<(), RulesError> {
        if unfit_name(&self.name).is_some() {
            return Err(RulesError::Name { why: format!("{:?} is no name", self.name) });
        }
        if self.to < self.from {
            return Err(RulesError::Days { from: self.from, to: self.to });
        }
        Ok(())
    }

    /// Why an entry does not count here; nothing where it does. `table` is that of the attempt, where
    /// it is known.
    pub fn unfit(&self, facts: &Facts, table: Option<&TableSize>) -> Vec<Unfit> {
        let words = unfit_name(&facts.player)
            .into_iter()
            .chain(facts.age_years.and_then(unfit_age))
            .chain(facts.film.as_deref().and_then(unfit_film))
            .map(Unfit::Words);
        let day = (facts.day < self.from || self.to < facts.day).then_some(Unfit::Day {
            day: facts.day,
            from: self.from,
            to: self.to,
        });
        let other =
            table.zip(self.table.as_ref()).filter(|(is, wanted)| !is_same_table(is, wanted));
        let table = other.map(|(is, wanted)| Unfit::Table {
            length_mm: is.length_mm.round() as i64,
            wanted_mm: wanted.length_mm.round() as i64,
        });
        let age = (self.counts == Counts::RunAgainstAge && facts.age_years.is_none())
            .then_some(Unfit::NoAge);
        words.chain(day).chain(table).chain(age).collect()
    }
}
