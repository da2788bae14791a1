//! The figures of a goal in plain words, for the command line and the page.

use super::{Chance, Estimate, LateBalls, Pace, Progress, Prospect, Trend, estimate::LEVEL};

/// Beyond this an "about so many" says no more than "very many".
const MANY: f64 = 1e6;
/// Chances of one attempt whose ends differ by more than this factor are hardly known.
const HARDLY_KNOWN: f64 = 10.0;
/// A trend or a difference that luck brings less often than this is told as one.
const BY_LUCK: f64 = 1.0 - LEVEL;
/// Late balls beyond so many standard deviations are told of.
const UNSTEADY: f64 = 2.0;

/// A number with the digits that mean something: `7.3`, `42`, `1,400`, `more than a million`.
pub fn rounded(value: f64) -> String {
    if !value.is_finite() || value > MANY {
        return "more than a million".into();
    }
    if value < 9.95 {
        return format!("{value:.1}");
    }
    let step = 10_f64.powf((value.log10().floor() - 1.0).max(0.0));
    let whole = ((value / step).round() * step) as u64;
    if whole < 1000 { whole.to_string() } else { format!("{},{:03}", whole / 1000, whole % 1000) }
}

/// A chance: `62 %`, `3.4 %`, `0.02 %`.
pub fn percent(chance: f64) -> String {
    let hundredths = 100.0 * chance;
    match hundredths {
        _ if hundredths > 99.9 && chance < 1.0 => "over 99.9 %".into(),
        _ if hundredths >= 99.45 && chance < 1.0 => format!("{hundredths:.1} %"),
        _ if hundredths >= 9.95 || chance <= 0.0 => format!("{hundredths:.0} %"),
        _ if hundredths >= 0.095 => format!("{hundredths:.1} %"),
        _ if hundredths >= 0.0095 => format!("{hundredths:.2} %"),
        _ => "under 0.01 %".into(),
    }
}

/// A chance of one attempt: `1 in 38`, or in percent where it is high.
pub fn one_in(chance: f64) -> String {
    if chance > 0.2 { percent(chance) } else { format!("1 in {}", rounded(1.0 / chance)) }
}

fn between(estimate: Estimate, say: impl Fn(f64) -> String) -> String {
    format!("{} ({} to {})", say(estimate.value), say(estimate.low), say(estimate.high))
}

fn count(number: u32, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

/// What the record says of the goal and of its own weight, sentence by sentence; the first is about
/// the goal.
pub fn in_words(progress: &Progress) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(prospect) = &progress.prospect {
        said.push(goal(prospect));
        match &prospect.chance {
            Some(chance) => {
                said.extend(odds(prospect, chance));
                said.extend(by_the_day(prospect));
                said.push(what_helps(chance));
            }
            None => said.push("There is no ball on record yet to tell a chance from.".into()),
        }
    }
    said.extend(progress.late_balls.and_then(steadiness));
    said.extend(progress.trend.as_ref().map(trend));
    if progress.left_out > 0 {
        let left = count(progress.left_out, "attempt is", "attempts are");
        said.push(format!("{left} left out: the start was not seen."));
    }
    said
}

fn goal(prospect: &Prospect) -> String {
    let balls = count(prospect.goal.balls, "ball", "balls");
    let whose = if prospect.goal.is_age { ", your age at the next birthday" } else { "" };
    let by = prospect.goal.by.map_or_else(String::new, |by| {
        format!(", by {}: {} left", by.day, count(by.days_left, "day", "days"))
    });
    let reached = match prospect.reached {
        0 => "not reached yet".into(),
        n => format!("reached in {}", count(n, "attempt", "attempts")),
    };
    format!("Goal: {balls}{whose}{by}; {reached}.")
}

fn odds(prospect: &Prospect, chance: &Chance) -> Vec<String> {
    let each = chance.of_an_attempt;
    let mut said = vec![
        format!("The chance of one attempt is {}.", between(each, one_in)),
        format!(
            "It takes {} attempts to reach it as likely as not, and {} for nine chances in ten.",
            between(chance.attempts_for_even, rounded),
            between(chance.attempts_for_nine_in_ten, rounded),
        ),
    ];
    if each.high > HARDLY_KNOWN * each.low {
        let from = count(prospect.from_attempts, "attempt says", "attempts say");
        said.push(format!(
            "That is hardly known yet: {from} little about a run of {}. Anything from {} to {} fits \
             them.",
            prospect.goal.balls,
            one_in(each.low),
            one_in(each.high),
        ));
    }
    said
}

fn by_the_day(prospect: &Prospect) -> Option<String> {
    let by = prospect.goal.by?;
    let Some(pace) = &prospect.pace else {
        return Some(
            "No attempt in the last twelve weeks: at that pace it will not be reached.".into(),
        );
    };
    let chance = prospect.chance_by_the_day?;
    Some(format!(
        "At the present pace, {} attempts a week, the chance by {} is {}.",
        a_week(pace),
        by.day,
        between(chance, percent),
    ))
}

fn a_week(pace: &Pace) -> String {
    between(pace.attempts_a_week, rounded)
}

fn what_helps(chance: &Chance) -> String {
    format!(
        "With a tenth fewer misses at break shots it would be {}, at the other balls {}.",
        one_in(chance.with_better_breaks),
        one_in(chance.with_better_others),
    )
}

fn steadiness(late: LateBalls) -> Option<String> {
    let (often, chance) = match late.z {
        z if z < -UNSTEADY => ("less", "higher"),
        z if z > UNSTEADY => ("more", "lower"),
        _ => return None,
    };
    Some(format!(
        "From ball {} on you miss {often} often than before ({} misses where {} were to be expected), \
         so the chance of a long run is probably {chance} than told.",
        late.from_ball,
        late.missed,
        rounded(late.expected),
    ))
}

fn trend(trend: &Trend) -> String {
    let slope = trend.balls_in_100_attempts;
    if trend.by_luck >= BY_LUCK {
        return "The record shows no trend: runs growing or shrinking by so much is often luck."
            .into();
    }
    format!(
        "Runs have been {}: {:+.1} balls in 100 attempts ({:+.1} to {:+.1}).",
        if slope.value >= 0.0 { "growing" } else { "shrinking" },
        slope.value,
        slope.low,
        slope.high,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_the_digits_that_mean_something() {
        let told =
            [0.0, 7.31, 9.96, 42.4, 137.0, 1432.0, 23_456.0, 3e6, f64::INFINITY].map(rounded);
        let expected = [
            "0.0",
            "7.3",
            "10",
            "42",
            "140",
            "1,400",
            "23,000",
            "more than a million",
            "more than a million",
        ];
        assert_eq!(told, expected);
    }

    #[test]
    fn chances_are_never_told_surer_than_they_are() {
        let told = [1.0, 0.9995, 0.996, 0.62, 0.034, 0.0002, 1e-9, 0.0].map(percent);
        let expected =
            ["100 %", "over 99.9 %", "99.6 %", "62 %", "3.4 %", "0.02 %", "under 0.01 %", "0 %"];
        assert_eq!(told, expected);
        assert_eq!(
            [0.5, 0.0263, 1e-9].map(one_in),
            ["50 %", "1 in 38", "1 in more than a million"]
        );
    }
}
