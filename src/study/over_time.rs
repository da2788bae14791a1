//! Runs over time: by week, or by month for a long record.
//!
//! Days are those of the attempts; runs without a day are left out. A stopped run counts as it
//! stands.

use super::run::Run;
use jiff::{ToSpan, civil::Date};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A record over more days than this is told by months.
const WEEKS_UP_TO_DAYS: i32 = 140;

/// The runs of a week or a month in which there were any.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Period {
    /// Its first day: a Monday, or the first of a month.
    #[schemars(with = "String")]
    pub from: Date,
    pub attempts: u32,
    pub mean: f64,
    pub median: f64,
    pub highest: u32,
}

/// The weeks or months of the runs, in order.
pub fn periods(runs: &[Run]) -> Vec<Period> {
    let days = || runs.iter().filter_map(|run| run.day);
    let (Some(first), Some(last)) = (days().min(), days().max()) else { return Vec::new() };
    let by_month = (last - first).get_days() > WEEKS_UP_TO_DAYS;
    let mut of: BTreeMap<Date, Vec<u32>> = BTreeMap::new();
    for run in runs {
        if let Some(day) = run.day {
            let from = if by_month { day.first_of_month() } else { monday(day) };
            of.entry(from).or_default().push(run.balls);
        }
    }
    of.into_iter().map(|(from, balls)| period(from, balls)).collect()
}

fn monday(day: Date) -> Date {
    let since = day.weekday().to_monday_zero_offset();
    day.checked_sub(i64::from(since).days()).unwrap_or(day)
}

fn period(from: Date, mut balls: Vec<u32>) -> Period {
    balls.sort_unstable();
    let sum: f64 = balls.iter().copied().map(f64::from).sum();
    let attempts = balls.len() as u32;
    Period {
        from,
        attempts,
        mean: sum / f64::from(attempts.max(1)),
        median: median(&balls),
        highest: balls.last().copied().unwrap_or(0),
    }
}

/// Of numbers in order; 0 of none.
pub(super) fn median(sorted: &[u32]) -> f64 {
    let at = |k: usize| sorted.get(k).copied().map_or(0.0, f64::from);
    let half = sorted.len() / 2;
    if sorted.len() % 2 == 1 { at(half) } else { f64::midpoint(at(half.wrapping_sub(1)), at(half)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::Ending;
    use jiff::civil::date;

    fn run(day: Date, balls: u32) -> Run {
        Run::of_balls(Some(day), balls, Ending::Missed)
    }

    #[test]
    fn a_short_record_is_told_by_weeks_and_a_long_one_by_months() {
        let mut runs =
            vec![run(date(2026, 3, 1), 4), run(date(2026, 3, 2), 9), run(date(2026, 3, 8), 12)];
        let weeks = periods(&runs);
        let from = |periods: &[Period]| periods.iter().map(|p| p.from).collect::<Vec<_>>();
        assert_eq!(from(&weeks), [date(2026, 2, 23), date(2026, 3, 2)]);
        assert_eq!((weeks[1].mean, weeks[1].median, weeks[1].highest), (10.5, 10.5, 12));
        runs.push(run(date(2025, 3, 31), 2));
        assert_eq!(from(&periods(&runs)), [date(2025, 3, 1), date(2026, 3, 1)]);
    }

    #[test]
    fn runs_without_a_day_are_in_no_week() {
        assert!(periods(&[Run::of_balls(None, 3, Ending::Missed)]).is_empty());
    }
}
