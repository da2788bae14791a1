//! Sessions equal themselves, and their truth holds together.

use super::*;
use crate::table::{TablePoint, TableSize};

fn session(seed: u64, upsets: Upsets) -> StagedSession {
    let options = SessionOptions { attempts: 3, width_px: 160, upsets, ..SessionOptions::quick() };
    StagedSession::new(seed, options).expect("the usual physics")
}

#[test]
fn the_same_seed_plays_and_shows_the_same_session() {
    let (mut first, mut second) = (session(4, Upsets::USUAL), session(4, Upsets::USUAL));
    let text = |s: &StagedSession| serde_json::to_string(s.truth()).expect("plain numbers");
    assert_eq!(text(&first), text(&second));
    assert_ne!(text(&first), text(&session(5, Upsets::USUAL)));
    for _ in 0..25 {
        let (a, b) = (first.next_frame().expect("a frame"), second.next_frame().expect("a frame"));
        assert_eq!(a.at, b.at);
        assert_eq!(a.picture, b.picture);
    }
}

#[test]
fn runs_are_what_was_pocketed() {
    for seed in 0..25 {
        let truth = session(seed, Upsets::NONE).truth().clone();
        for attempt in &truth.attempts {
            let own = truth.shots.iter().filter(|shot| shot.attempt == attempt.attempt);
            let points: usize = own
                .filter(|shot| !shot.pocketed.contains(&0))
                .map(|shot| shot.pocketed.len())
                .sum();
            assert_eq!(attempt.run, points, "{seed}: {attempt:?}");
            let last = truth.shots.iter().rfind(|shot| shot.attempt == attempt.attempt);
            match attempt.cause {
                Cause::Miss => assert!(last.is_some_and(|shot| shot.pocketed.is_empty())),
                Cause::Scratch => assert!(last.is_some_and(|shot| shot.pocketed.contains(&0))),
                Cause::Stop => assert!(last.is_none_or(|shot| !shot.pocketed.is_empty())),
            }
        }
    }
}

#[test]
fn each_rest_follows_from_the_one_before() {
    for seed in 0..25 {
        let truth = session(seed, Upsets::NONE).truth().clone();
        for pair in truth.rests.windows(2) {
            let [before, after] = pair else { continue };
            assert!(before.still_to_s <= after.still_from_s && after.from_s <= after.to_s);
            let numbers = |rest: &RestTruth| -> Vec<u8> {
                rest.balls.iter().map(|ball| ball.number).collect()
            };
            let shot = truth.shots.iter().find(|shot| shot.rest_after == after.rest);
            if let Some(shot) = shot {
                let mut left = numbers(before);
                left.retain(|number| !shot.pocketed.contains(number));
                assert_eq!(left, numbers(after), "{seed}: rest {}", after.rest);
            } else {
                assert!(after.by_hand || after.rest == 0, "{seed}: rest {}", after.rest);
            }
            if after.note == "re-rack" {
                assert_eq!(numbers(after), (0..16).collect::<Vec<u8>>(), "{seed}");
                assert!(numbers(before).len() <= 2, "{seed}");
            }
        }
    }
}

#[test]
fn balls_lie_where_balls_can_lie() {
    for seed in 0..25 {
        let session = session(seed, Upsets::NONE);
        let table: TableSize = session.scene().table;
        for rest in &session.truth().rests {
            for (k, ball) in rest.balls.iter().enumerate() {
                let place = TablePoint::new(ball.x_mm, ball.y_mm);
                for other in &rest.balls[..k] {
                    let gap = place.distance_mm(TablePoint::new(other.x_mm, other.y_mm));
                    assert!(gap > table.ball_diameter_mm - 0.01, "{seed} {}: {gap}", rest.note);
                }
                let hole = |p: &crate::table::Pocket| p.centre.distance_mm(place) < p.radius_mm;
                assert!(!table.pockets().iter().any(hole), "{seed}: {} in a hole", ball.number);
            }
        }
    }
}

#[test]
fn quiet_sessions_show_every_rest_and_swallowed_ones_are_said() {
    for seed in 0..8 {
        let quiet = session(seed, Upsets::NONE).truth().clone();
        assert!(quiet.rests.iter().all(|rest| rest.visible), "{seed}");
        assert!(quiet.shots.iter().all(|shot| !shot.questionable), "{seed}");
        let upsets = Upsets { rest_swallowed_chance: 1.0, ..Upsets::NONE };
        let truth = session(seed, upsets).truth().clone();
        for shot in &truth.shots {
            let seen = |rest: usize| truth.rests.get(rest).is_some_and(|rest| rest.visible);
            let sure = seen(shot.rest_after) && seen(shot.rest_after - 1);
            assert_eq!(shot.questionable, !sure);
        }
        let followed = truth.shots.windows(2).any(|p| p[1].rest_after == p[0].rest_after + 1);
        assert_eq!(followed, truth.rests.iter().any(|rest| !rest.visible), "{seed}");
    }
}

#[test]
fn many_sessions_bring_everything_about() {
    let (mut causes, mut reracks, mut longest, mut two, mut hand) = ([0; 3], 0, 0, 0, 0);
    let (mut with_pot, mut special) = (0, 0);
    for seed in 100..160 {
        let truth = session(seed, Upsets::USUAL).truth().clone();
        for attempt in &truth.attempts {
            causes[attempt.cause as usize] += 1;
            reracks += attempt.reracks;
            longest = longest.max(attempt.run);
        }
        for shot in &truth.shots {
            let scratch = shot.pocketed.contains(&0);
            two += usize::from(!scratch && shot.pocketed.len() > 1);
            with_pot += usize::from(scratch && shot.pocketed.len() > 1);
        }
        hand += truth.rests.iter().filter(|rest| rest.note == "moved by hand").count();
        for pair in truth.rests.windows(2) {
            if let [closing, racked] = pair
                && racked.note == "re-rack"
            {
                // Somebody had to move the last ball or the cue ball out of the rack's way.
                let moved = closing.balls.iter().any(|ball| {
                    racked.balls.iter().any(|b| {
                        b.number == ball.number
                            && (b.x_mm - ball.x_mm).hypot(b.y_mm - ball.y_mm) > 1.0
                    })
                });
                special += usize::from(moved);
            }
        }
    }
    assert!(causes.iter().all(|count| *count > 10), "{causes:?}");
    assert!(reracks > 20 && longest > 25 && two > 10, "{reracks} {longest} {two}");
    assert!(with_pot > 5 && special > 3 && hand > 1, "{with_pot} {special} {hand}");
}
