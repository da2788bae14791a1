//! What is told to practise costs the most, and help is told from luck.

use super::*;
use crate::{
    random::Random,
    study::made_up::{MadeUp, Meant},
};
use jiff::civil::date;

const DAY_MS: i64 = 86_400_000;
/// 1 March 2026.
const BEGAN_MS: i64 = 1_772_323_200_000;

/// A player who misses thin cuts with one chance and others with another; thin cuts with a third one
/// from the thirtieth day on.
fn played(seed: u64, thin: f64, others: f64, later: f64) -> MadeUp {
    let mut random = Random::new(seed);
    let mut made_up = MadeUp::default();
    for day in 0..60 {
        for attempt in 0..4 {
            let mut shots = Vec::new();
            loop {
                let is_thin = random.chance(0.3);
                let now = if day < 30 { thin } else { later };
                let made = !random.chance(if is_thin { now } else { others });
                let side = random.pick([-1.0, 1.0]);
                shots.push(Meant { cut_deg: side * if is_thin { 66.0 } else { 20.0 }, made });
                if !made {
                    break;
                }
            }
            made_up.play(BEGAN_MS + day * DAY_MS + attempt * 600_000, &shots);
        }
    }
    made_up
}

#[test]
fn what_costs_the_most_comes_first_with_its_reason_and_layouts() {
    let made_up = played(1, 0.3, 0.06, 0.3);
    let plan = Plan::of(&made_up.story, &made_up.log, None);
    let first = &plan.things[0];
    assert_eq!(first.practice, Practice::ThinCuts);
    assert!(first.costs.low > 0.0 && first.costs.value < plan.misses as f64);
    // Each of its layouts is one from which such a shot was missed.
    assert_eq!(first.rests.len(), LAYOUTS);
    for rest in &first.rests {
        let shot = made_up.log.shot(rest + 1).unwrap();
        assert_eq!(shot.before, *rest);
        assert!(shot.read.aim.unwrap().cut_deg.abs() > 60.0);
        let taken = made_up.story.attempts.iter().flat_map(|attempt| &attempt.shots);
        assert!(taken.into_iter().any(|taken| taken.rest == rest + 1 && taken.potted == 0));
    }
    assert!(first.rests.is_sorted_by(|a, b| a > b));
    let words = first.in_words(None).join(" ");
    assert!(words.starts_with("Cuts over 60°: ") && words.contains("all other shots"), "{words}");
}

#[test]
fn practice_that_helped_is_found_and_luck_is_not_called_help() {
    let day = date(2026, 3, 31);
    let change = |later: f64, seed: u64| {
        let made_up = played(seed, 0.35, 0.06, later);
        let plan = Plan::of(&made_up.story, &made_up.log, Some(day));
        let thin = plan.things.iter().find(|thing| thing.practice == Practice::ThinCuts);
        thin.and_then(|thing| Some((thing.change?, thing.in_words(plan.since)[1].clone())))
    };
    let (helped, words) = change(0.10, 3).unwrap();
    assert!(helped.high < 0.0 && words.contains("it has become better"), "{helped:?} {words}");
    let told: Vec<_> = (0..60).filter_map(|seed| change(0.35, seed)).collect();
    let wrong = told.iter().filter(|(change, _)| !change.covers(0.0)).count();
    assert!(told.len() >= 55 && wrong <= 8, "{wrong} of {}", told.len());
}

#[test]
fn a_player_without_a_weakness_is_told_of_luck() {
    let surely = (0..40)
        .filter(|seed| {
            let made_up = played(*seed, 0.1, 0.1, 0.1);
            let plan = Plan::of(&made_up.story, &made_up.log, None);
            plan.things.iter().any(|thing| thing.costs.low > 0.0)
        })
        .count();
    // The largest of several differences is looked at, so that it is more than one in twenty.
    assert!(surely <= 14, "{surely} of 40");
}

#[test]
fn a_record_with_little_in_it_says_so() {
    for attempts in [0, 1, 5] {
        let mut made_up = MadeUp::default();
        for attempt in 0..attempts {
            made_up.play(attempt * DAY_MS, &[Meant { cut_deg: 66.0, made: false }]);
        }
        let plan = Plan::of(&made_up.story, &made_up.log, Some(date(2026, 1, 1)));
        assert_eq!((plan.things.len(), plan.misses), (0, attempts as u64));
        assert!(plan.in_words()[0].contains("do not tell yet"), "{:?}", plan.in_words());
    }
}
