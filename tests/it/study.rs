//! What a record says, held to other programs' figures of the same data, to a published example, and
//! to made-up players whose truth is known.

use jiff::{
    ToSpan,
    civil::{Date, date},
};
use serde_json::Value;
use std::{fs, path::Path};
use stillcloth::{
    random::Random,
    study::{
        BALLS_A_RACK, Ending, Estimate, Hazards, Odds, Pace, RECENT, Run, Span, Survival, Tallies,
        Tally, Trend,
    },
};

/// `testdata/study/reference.json`; the script beside it made it.
fn reference() -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/study/reference.json");
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn same(ours: f64, theirs: f64, what: &str) {
    assert!((ours - theirs).abs() < 1e-6 * theirs.abs().max(1.0), "{what}: {ours}, not {theirs}");
}

fn same_estimate(ours: Estimate, theirs: &Value, what: &str) {
    for (ours, theirs) in [ours.value, ours.low, ours.high].into_iter().zip(numbers(theirs)) {
        same(ours, theirs, what);
    }
}

fn spans(case: &Value) -> Vec<Span> {
    let span = |pair: &Value| Span {
        until: pair[0].as_u64().unwrap() as u32,
        ended: pair[1].as_u64().unwrap() == 1,
    };
    case["spans"].as_array().unwrap().iter().map(span).collect()
}

#[test]
fn survival_curves_are_those_of_the_reference() {
    let reference = reference();
    for case in ["remission", "runs", "few_runs"] {
        let case = &reference[case];
        let curve = Survival::of(spans(case));
        let rows = case["rows"].as_array().unwrap();
        assert_eq!(curve.reached.len(), rows.len());
        for (ours, theirs) in curve.reached.iter().zip(rows) {
            let whole = [ours.ball, ours.at_risk, ours.missed].map(u64::from);
            let names = ["ball", "at_risk", "missed"];
            assert_eq!(whole, names.map(|name| theirs[name].as_u64().unwrap()));
            same(ours.chance, theirs["chance"].as_f64().unwrap(), "chance");
            for (ours, name) in [(ours.sigma, "sigma"), (ours.low, "low"), (ours.high, "high")] {
                // The reference has no figure where the curve reaches 0.
                if let Some(theirs) = theirs[name].as_f64() {
                    same(ours, theirs, name);
                }
            }
        }
        let median = curve.median().unwrap();
        let ours = [Some(median.value), Some(median.low), median.high];
        let theirs = case["median"].as_array().unwrap().iter().map(Value::as_u64);
        assert!(ours.iter().map(|ball| ball.map(u64::from)).eq(theirs), "{ours:?}");
    }
}

#[test]
fn the_remission_times_give_the_printed_curve() {
    let reference = reference();
    let case = &reference["remission"];
    let curve = Survival::of(spans(case));
    for (ours, printed) in curve.reached.iter().zip(case["printed"].as_array().unwrap()) {
        let printed = numbers(printed);
        assert_eq!(f64::from(ours.ball), printed[0]);
        assert!((ours.chance - printed[1]).abs() <= 5.01e-4, "{ours:?}");
        assert!((ours.sigma - printed[2]).abs() <= 5.01e-5, "{ours:?}");
    }
    assert_eq!(curve.median().unwrap().value, 23);
}

fn tally(pair: &Value) -> Tally {
    Tally { missed: pair[0].as_u64().unwrap(), faced: pair[1].as_u64().unwrap() }
}

#[test]
fn rates_alone_and_pooled_are_those_of_the_reference() {
    let reference = reference();
    for case in reference["rates"].as_array().unwrap() {
        let mut tallies = Tallies::default();
        tallies.places[0] = Tally {
            missed: case["missed"].as_u64().unwrap(),
            faced: case["faced"].as_u64().unwrap(),
        };
        same_estimate(Hazards::of(&tallies).break_shot.chance, &case["rate"], "a rate alone");
    }
    for case in reference["places"].as_array().unwrap() {
        let mut tallies = Tallies::default();
        for (place, pair) in case["tallies"].as_array().unwrap().iter().enumerate() {
            tallies.places[place + 1] = tally(pair);
        }
        let hazards = Hazards::of(&tallies);
        for (ours, theirs) in hazards.places[1..].iter().zip(case["pooled"].as_array().unwrap()) {
            same_estimate(ours.pooled.unwrap(), theirs, "a pooled rate");
        }
    }
}

#[test]
fn trends_are_those_of_the_reference() {
    let reference = reference();
    for case in reference["trends"].as_array().unwrap() {
        let balls = numbers(&case["runs"]);
        let runs: Vec<Run> =
            balls.iter().map(|balls| Run::of_balls(None, *balls as u32, Ending::Missed)).collect();
        let trend = Trend::of(&runs).unwrap();
        assert_eq!(trend.score, case["score"].as_i64().unwrap());
        same(trend.z, case["z"].as_f64().unwrap(), "z");
        same(trend.by_luck, case["by_luck"].as_f64().unwrap(), "by luck");
        same(trend.tau, case["tau"].as_f64().unwrap(), "tau");
        same_estimate(trend.balls_in_100_attempts, &case["slope_in_100"], "slope");
    }
}

#[test]
fn chances_of_a_goal_are_those_of_a_fine_integration() {
    let reference = reference();
    for case in reference["chances"].as_array().unwrap() {
        let balls = case["balls"].as_u64().unwrap() as u32;
        let ours = Odds::of(tally(&case["breaks"]), tally(&case["others"]), balls).unwrap();
        let ours = ours.of_an_attempt();
        let theirs = numbers(&case["chance"]);
        for (ours, theirs) in [ours.value, ours.low, ours.high].into_iter().zip(theirs) {
            let off = (ours.ln() - theirs.ln()) / theirs.ln().abs().max(1.0);
            assert!(off.abs() < 0.002, "{case}: {ours}, not {theirs}");
        }
    }
}

/// A player whose chances of a miss are known.
#[derive(Clone, Copy)]
struct Player {
    break_shot: f64,
    other: f64,
}

/// Part of the shots before which this player stops.
const STOPS: f64 = 0.002;

const STEADY: Player = Player { break_shot: 0.10, other: 0.10 };
const WEAK_BREAK: Player = Player { break_shot: 0.25, other: 0.10 };
const GOOD: Player = Player { break_shot: 0.04, other: 0.04 };
const GOOD_WEAK_BREAK: Player = Player { break_shot: 0.14, other: 0.04 };

impl Player {
    fn plays(self, day: Option<Date>, random: &mut Random) -> Run {
        let mut balls = 0;
        loop {
            if random.chance(STOPS) {
                return Run::of_balls(day, balls, Ending::Stopped);
            }
            let misses = if balls % BALLS_A_RACK == 0 { self.break_shot } else { self.other };
            if random.chance(misses) {
                return Run::of_balls(day, balls, Ending::Missed);
            }
            balls += 1;
        }
    }

    /// The true chance of one attempt.
    fn reaches(self, balls: u32) -> f64 {
        let breaks = balls.div_ceil(BALLS_A_RACK) as i32;
        (1.0 - self.break_shot).powi(breaks) * (1.0 - self.other).powi(balls as i32 - breaks)
    }
}

/// How often an interval has to hold the truth, of a thousand.
const HELD: std::ops::RangeInclusive<u32> = 930..=970;

#[test]
fn the_interval_of_a_goals_chance_holds_the_truth_as_often_as_it_says() {
    let players = [
        ("steady", STEADY, 60),
        ("weak break", WEAK_BREAK, 60),
        ("good", GOOD, 120),
        ("good, weak break", GOOD_WEAK_BREAK, 120),
    ];
    let mut random = Random::new(2026);
    let mut faults = Vec::new();
    for (name, player, balls) in players {
        for attempts in [10, 50, 300] {
            let truth = player.reaches(balls);
            let (mut held, mut high, mut beyond, mut width) = (0, 0, 0, 0.0);
            for _ in 0..1000 {
                let runs: Vec<Run> =
                    (0..attempts).map(|_| player.plays(None, &mut random)).collect();
                let tallies = Tallies::of(&runs);
                let odds = Odds::of(tallies.break_shot(), tallies.others(), balls).unwrap();
                let told = odds.of_an_attempt();
                held += u32::from(told.covers(truth));
                high += u32::from(told.high < truth);
                beyond += u32::from(runs.iter().all(|run| run.balls < balls));
                width += (told.high / told.low).ln() / 1000.0;
                let attempts = odds.attempts_for(0.5);
                assert!(attempts.covers(0.5_f64.ln() / (-truth).ln_1p()) == told.covers(truth));
            }
            let told = format!(
                "{name}, {attempts} attempts, {balls} balls (true chance {truth:.2e}, beyond the high \
                 run in {beyond}): held in {held} of 1000, below the truth in {high}, ends apart by \
                 a factor of {:.1}",
                width.exp()
            );
            println!("{told}");
            if !HELD.contains(&held) {
                faults.push(told);
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

/// A record of so many days up to today: on some days a session of some attempts.
fn sessions(player: Player, days: i64, today: Date, random: &mut Random) -> Vec<Run> {
    let mut runs = Vec::new();
    for ago in (0..days).rev() {
        if random.chance(SESSION_A_DAY) {
            let day = today.checked_sub(ago.days()).unwrap();
            let attempts = 1 + random.below(MOST_IN_A_SESSION);
            runs.extend((0..attempts).map(|_| player.plays(Some(day), random)));
        }
    }
    runs
}

const SESSION_A_DAY: f64 = 0.35;
/// From one on, each number as likely.
const MOST_IN_A_SESSION: usize = 9;

/// The true chance to reach it within so many days.
fn within(of_an_attempt: f64, days: u32) -> f64 {
    let none_in = |attempts: usize| (1.0 - of_an_attempt).powi(attempts as i32);
    let none = (1..=MOST_IN_A_SESSION).map(none_in).sum::<f64>() / MOST_IN_A_SESSION as f64;
    1.0 - (1.0 - SESSION_A_DAY * (1.0 - none)).powi(days as i32)
}

#[test]
fn the_interval_of_the_chance_by_a_day_holds_the_truth_as_often_as_it_says() {
    let mut random = Random::new(62);
    let today = date(2026, 6, 30);
    let mut faults = Vec::new();
    for (player, balls) in [(STEADY, 45), (WEAK_BREAK, 30), (GOOD_WEAK_BREAK, 90)] {
        for (days, ahead) in [(28, 60), (84, 60), (200, 150)] {
            let truth = within(player.reaches(balls), ahead);
            let (mut held, mut known) = (0, 0);
            for _ in 0..1000 {
                let runs = sessions(player, days, today, &mut random);
                let Some(pace) = Pace::of(runs.iter().filter_map(|run| run.day), today) else {
                    continue;
                };
                let tallies = Tallies::of(&runs[runs.len().saturating_sub(RECENT)..]);
                let odds = Odds::of(tallies.break_shot(), tallies.others(), balls).unwrap();
                known += 1;
                held += u32::from(pace.chance_within(&odds, ahead).covers(truth));
            }
            let told = format!(
                "{balls} balls in {ahead} days from {days} days (true {truth:.3}): held in {held} of \
                 {known}"
            );
            println!("{told}");
            if known < 990 || !HELD.contains(&held) {
                faults.push(told);
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}
