//! What the player is after: so many balls, or as many as they are years old, by a day.
//!
//! Days are civil days. Someone born on 29 February has the birthday on 28 February in years without
//! a 29th, so that the days left are never told too many.

use jiff::civil::{Date, date};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Nobody's goal is longer.
pub const MOST_BALLS: u32 = 10_000;
/// Nobody is older.
const OLDEST: i16 = 130;

/// A goal, whole: how many balls and by when.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Goal {
    #[schemars(range(min = 1, max = 10_000))]
    pub balls: u32,
    /// Whether the balls are the player's age at the next birthday.
    pub is_age: bool,
    /// The last day, and how many days are left to it from today; none if the goal has no date.
    pub by: Option<Deadline>,
}

/// The last day for a goal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Deadline {
    #[schemars(with = "String")]
    pub day: Date,
    pub days_left: u32,
}

/// Why there is no such goal.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum GoalError {
    #[error("a goal is 1 to {MOST_BALLS} balls, {balls} is not")]
    Balls { balls: u32 },
    #[error("the goal's day, {day}, is over: today is {today}. Give a later one")]
    Over { day: Date, today: Date },
    #[error("a player born on {born} is not born yet, or more than {OLDEST} years old, on {today}")]
    Born { born: Date, today: Date },
}

impl Deadline {
    fn from_today(day: Date, today: Date) -> Option<Self> {
        let days_left = u32::try_from((day - today).get_days()).ok()?;
        Some(Self { day, days_left })
    }
}

impl Goal {
    /// So many balls, by a day or at any time.
    ///
    /// # Errors
    /// For a number that is nobody's goal, or a day that is over.
    pub fn balls(balls: u32, by: Option<Date>, today: Date) -> Result<Self, GoalError> {
        if !(1..=MOST_BALLS).contains(&balls) {
            return Err(GoalError::Balls { balls });
        }
        let deadline = |day| Deadline::from_today(day, today).ok_or(GoalError::Over { day, today });
        Ok(Self { balls, is_age: false, by: by.map(deadline).transpose()? })
    }

    /// As many balls as the player will be years old on the next birthday after today, by that day.
    ///
    /// # Errors
    /// Where nobody alive was born then.
    pub fn age(born: Date, today: Date) -> Result<Self, GoalError> {
        let refused = GoalError::Born { born, today };
        if born > today || today.year() - born.year() > OLDEST {
            return Err(refused);
        }
        let next = [today.year(), today.year() + 1]
            .into_iter()
            .filter_map(|year| birthday(born, year))
            .find(|day| *day > today);
        let Some(by) = next.and_then(|day| Deadline::from_today(day, today)) else {
            return Err(refused);
        };
        let balls = u32::try_from(by.day.year() - born.year()).map_err(|_| refused)?;
        Ok(Self { balls: balls.max(1), is_age: true, by: Some(by) })
    }
}

fn birthday(born: Date, year: i16) -> Option<Date> {
    let in_that_year = Date::new(year, born.month(), born.day()).ok();
    in_that_year.or_else(|| (born.month() == 2).then(|| date(year, 2, 28)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn age(born: Date, today: Date) -> (u32, String, u32) {
        let goal = Goal::age(born, today).unwrap();
        let by = goal.by.unwrap();
        (goal.balls, by.day.to_string(), by.days_left)
    }

    #[test]
    fn the_age_is_that_of_the_next_birthday() {
        let born = date(1962, 4, 18);
        assert_eq!(age(born, date(2026, 4, 17)), (64, "2026-04-18".into(), 1));
        // On the birthday itself the next one is a year away.
        assert_eq!(age(born, date(2026, 4, 18)), (65, "2027-04-18".into(), 365));
        assert_eq!(age(born, date(2026, 12, 31)), (65, "2027-04-18".into(), 108));
    }

    #[test]
    fn who_was_born_on_a_leap_day_has_the_birthday_on_the_28th_otherwise() {
        let born = date(1964, 2, 29);
        assert_eq!(age(born, date(2026, 2, 27)), (62, "2026-02-28".into(), 1));
        assert_eq!(age(born, date(2026, 2, 28)), (63, "2027-02-28".into(), 365));
        assert_eq!(age(born, date(2027, 3, 1)), (64, "2028-02-29".into(), 365));
        assert_eq!(age(born, date(2028, 2, 28)), (64, "2028-02-29".into(), 1));
    }

    #[test]
    fn nobody_is_born_tomorrow_or_in_another_age() {
        let today = date(2026, 4, 18);
        assert!(Goal::age(date(2026, 4, 19), today).is_err());
        assert!(Goal::age(date(1862, 4, 18), today).is_err());
        assert_eq!(age(today, today).0, 1);
    }

    #[test]
    fn a_number_has_any_date_that_is_not_over() {
        let today = date(2026, 4, 18);
        let by = |day| Goal::balls(50, Some(day), today);
        assert_eq!(by(date(2026, 4, 28)).unwrap().by.unwrap().days_left, 10);
        assert_eq!(by(today).unwrap().by.unwrap().days_left, 0);
        let over = by(date(2026, 4, 17)).unwrap_err().to_string();
        assert!(over.contains("2026-04-17"), "{over}");
        assert!(Goal::balls(0, None, today).is_err());
    }
}
