//! How often the player attempts, and what that means for a date.
//!
//! Input: the days of the attempts, and today. Output: attempts a week with a 95 % interval, and the
//! chance to reach a goal within so many days.
//!
//! Method: the attempts of each of the last [`LOOKED_BACK`] days, days without any included; each day
//! to come is taken to be like one of those. Attempts come in bunches, so a day is what is counted:
//! the variance among days, not less than that of Poisson counts, says how well their mean is known
//! (a gamma distribution with Jeffreys' half count). With q the mean over those days of the chance
//! that a day's attempts bring the goal, and f the true mean by the one seen, the chance in d days is
//! 1 − (1 − q)^(d f). Not modelled: holidays, seasons, and practising more because the day is near.

use super::{
    chance::{Odds, ln_none},
    estimate::{Estimate, Weighted, spread_out},
};
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Days that the present rate is told from: twelve weeks.
pub const LOOKED_BACK: i32 = 84;
/// Fewer days than this and the record's first day counts too.
const FEWEST_DAYS: i32 = 7;
/// Points that stand for what is known of the chance, and of the rate.
const CHANCES: u32 = 61;
const RATES: u32 = 41;

/// How often the player attempts at present.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Pace {
    /// Days looked at, up to today.
    pub days: u32,
    /// Days with attempts among them.
    pub practised: u32,
    /// Attempts on them.
    pub attempts: u32,
    pub attempts_a_week: Estimate,
    /// The shape of the gamma distribution of the rate.
    #[serde(skip)]
    shape: f64,
    /// How many days had so many attempts.
    #[serde(skip)]
    days_by_attempts: Vec<(f64, f64)>,
}

impl Pace {
    /// None where there was no attempt in the days looked at.
    pub fn of(days: impl IntoIterator<Item = Date>, today: Date) -> Option<Self> {
        let mut attempts_on: BTreeMap<i32, u32> = BTreeMap::new();
        let mut first = 0;
        for day in days {
            let ago = (today - day).get_days();
            first = first.max(ago);
            if (0..LOOKED_BACK).contains(&ago) {
                *attempts_on.entry(ago).or_default() += 1;
            }
        }
        // A record begins on a day with attempts: to count that day would make the rate too high.
        let looked_at = if first >= LOOKED_BACK {
            LOOKED_BACK
        } else if first >= FEWEST_DAYS {
            first
        } else {
            first + 1
        };
        attempts_on.retain(|ago, _| *ago < looked_at);
        let attempts: u32 = attempts_on.values().sum();
        if attempts == 0 {
            return None;
        }
        let practised = attempts_on.len() as u32;
        let days = looked_at as u32;
        let count = f64::from(days);
        let mean = f64::from(attempts) / count;
        let squares: f64 = attempts_on.values().map(|of| f64::from(*of).powi(2)).sum();
        let variance = if days > 1 { (squares - count * mean * mean) / (count - 1.0) } else { 0.0 };
        let bunched = (variance / mean).max(f64::from(attempts) / f64::from(practised)).max(1.0);
        let shape = f64::from(attempts) / bunched + 0.5;
        let mut by_attempts: BTreeMap<u32, f64> = BTreeMap::new();
        by_attempts.insert(0, count - f64::from(practised));
        for of in attempts_on.values() {
            *by_attempts.entry(*of).or_default() += 1.0;
        }
        let days_by_attempts =
            by_attempts.into_iter().map(|(attempts, days)| (f64::from(attempts), days)).collect();
        let rates = Weighted::new(rates(shape)).estimate();
        let attempts_a_week = Estimate { value: 7.0 * mean, ..rates.growing(|f| 7.0 * mean * f) };
        Some(Self { days, practised, attempts, attempts_a_week, shape, days_by_attempts })
    }

    /// The chance to reach in `days` days what one attempt reaches with these odds.
    pub fn chance_within(&self, odds: &Odds, days: u32) -> Estimate {
        let all: f64 = self.days_by_attempts.iter().map(|(_, days)| days).sum();
        let rates = rates(self.shape);
        let mut points = Vec::new();
        for ln_chance in odds.0.thinned(CHANCES) {
            let none = ln_none(ln_chance);
            let on_a_day = |(attempts, days): &(f64, f64)| -days * (attempts * none).exp_m1();
            let q = self.days_by_attempts.iter().map(on_a_day).sum::<f64>() / all;
            let ln_none_a_day = (-q).ln_1p();
            points.extend(
                rates.iter().map(|(f, weight)| (-f * f64::from(days) * ln_none_a_day, *weight)),
            );
        }
        // Nothing is sure, whatever rounding makes of it.
        Weighted::new(points).estimate().growing(|x| (-(-x).exp_m1()).min(1.0 - f64::EPSILON))
    }
}

/// The true rate by the one seen, with weights.
fn rates(shape: f64) -> Vec<(f64, f64)> {
    let seen = shape - 0.5;
    let points = spread_out(0.0, 1.0 / shape.sqrt(), RATES, |u| shape * (u - u.exp()));
    points.into_iter().map(|(u, weight)| (u.exp() * shape / seen, weight)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::Tally;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    #[test]
    fn the_rate_is_that_of_the_last_twelve_weeks() {
        let today = day("2026-03-29");
        let often = (0..84).step_by(7).flat_map(|ago| {
            let day = today.checked_sub(jiff::Span::new().days(ago)).unwrap();
            [day; 5]
        });
        let long_ago = vec![day("2025-01-01"); 900];
        let pace = Pace::of(often.chain(long_ago), today).unwrap();
        assert_eq!((pace.days, pace.practised, pace.attempts), (84, 12, 60));
        assert_eq!(pace.attempts_a_week.value, 5.0);
        assert!(pace.attempts_a_week.covers(4.0) && !pace.attempts_a_week.covers(12.0));
    }

    #[test]
    fn one_day_of_practice_hardly_tells_a_rate() {
        let pace = Pace::of([day("2026-03-29"); 10], day("2026-03-29")).unwrap();
        let a_week = pace.attempts_a_week;
        assert!(a_week.high > 15.0 * a_week.low, "{a_week:?}");
    }

    #[test]
    fn days_to_come_and_days_long_gone_are_no_rate() {
        let today = day("2026-03-29");
        assert_eq!(Pace::of([day("2026-03-30"), day("2025-03-30")], today), None);
        assert_eq!(Pace::of([], today), None);
    }

    #[test]
    fn the_chance_by_a_date_is_that_of_its_attempts() {
        let today = day("2026-03-29");
        let daily = (0..84).map(|ago| today.checked_sub(jiff::Span::new().days(ago)).unwrap());
        let pace = Pace::of(daily, today).unwrap();
        let many = |faced, missed| Tally { faced, missed };
        let odds = Odds::of(many(100_000, 10_000), many(900_000, 90_000), 20).unwrap();
        let of_an_attempt = 0.9_f64.powi(20);
        let within = pace.chance_within(&odds, 10);
        let truth = 1.0 - (1.0 - of_an_attempt).powi(10);
        assert!((within.value - truth).abs() < 0.01, "{within:?} {truth}");
        assert_eq!(pace.chance_within(&odds, 0).high, 0.0);
    }
}
