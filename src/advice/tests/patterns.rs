//! Patterns: an order to the break ball whose every hit does what it says.

use super::*;
use crate::advice::{Bound, Pattern, outcome};

/// Five open balls of which one lies beside the rack.
fn five() -> Vec<Placed> {
    balls(&[
        (1270.0, 500.0),
        (2010.0, 860.0),
        (500.0, 300.0),
        (1600.0, 1100.0),
        (2300.0, 200.0),
        (900.0, 900.0),
    ])
}

const QUICK: Bound = Bound::of_positions(60);

fn best(level: Level, balls: &[Placed]) -> Pattern {
    let bed = bed();
    advisor(&bed, level).patterns(balls, &QUICK).patterns.remove(0)
}

#[test]
fn every_step_pockets_its_ball_as_meant_and_the_next_begins_there() {
    let bed = bed();
    let pattern = best(Level::Club, &five());
    assert_eq!(pattern.steps.len(), 4, "{pattern:#?}");
    for (k, step) in pattern.steps.iter().enumerate() {
        let (played, _) = outcome::play(&bed, &step.before, &step.hit).unwrap();
        assert!(played.has_dropped(step.ball, step.pocket) && !played.scratch);
        if let Some(next) = pattern.steps.get(k + 1) {
            assert_eq!(played.after, next.before);
        }
        assert!(step.probability > 0.3, "{step:#?}");
    }
    assert_eq!(pattern.key_ball, Some(pattern.steps[3].ball));
}

#[test]
fn the_ball_beside_the_rack_is_kept_for_the_break() {
    assert_eq!(best(Level::Club, &five()).break_ball, Some(1));
}

#[test]
fn a_better_player_may_expect_more() {
    let expected = Level::ALL.map(|level| best(level, &five()).expected);
    assert!(expected[0] < expected[1] && expected[1] < expected[2], "{expected:?}");
}

#[test]
fn the_same_question_has_the_same_answer() {
    let orders = [0, 1].map(|_| {
        let steps = best(Level::Club, &five()).steps;
        steps.iter().map(|step| (step.ball, step.hit)).collect::<Vec<_>>()
    });
    assert_eq!(orders[0], orders[1]);
}

#[test]
fn a_mirrored_layout_has_the_mirrored_pattern() {
    let bed = bed();
    let mut advisor = Advisor::new(&bed, Player::FLAWLESS, 5).unwrap();
    let mut order = |balls: &[Placed]| {
        let pattern = advisor.patterns(balls, &QUICK).patterns.remove(0);
        pattern.steps.iter().map(|step| (step.ball, step.hit)).collect::<Vec<_>>()
    };
    let (here, there) = (order(&five()), order(&mirrored(&five())));
    for ((ball, hit), (twin, mirror)) in here.into_iter().zip(there) {
        assert_eq!(ball, twin);
        assert!((hit.aim_rad + mirror.aim_rad).abs() < 1e-4 && hit.side == -mirror.side);
    }
}

#[test]
fn a_search_ends_at_its_bound() {
    let bed = bed();
    let found = advisor(&bed, Level::Club).patterns(&five(), &Bound::of_positions(7));
    assert!(found.positions <= 7 && !found.patterns.is_empty() && !found.exhausted);
    // However short the time, there is a first shot.
    let found = advisor(&bed, Level::Club).patterns(&five(), &Bound::of_positions(0));
    assert!(found.patterns.iter().all(|pattern| pattern.steps.len() == 1));
    assert!(!found.patterns.is_empty());
}
