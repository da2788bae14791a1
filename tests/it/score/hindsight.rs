//! Rests read amiss that the next one sets right, one sentence each.

use super::tables::*;
use stillcloth::{
    layout::BallKind,
    score::{Cause, Correction, Follower, RestSeen, ScoreEvent, Step, Story, follow},
    table::TablePoint,
};

fn told(story: &Story) -> (Vec<(u32, Option<Cause>)>, Vec<i64>) {
    (runs(story), asked(story))
}

/// One ball is pocketed, one is hidden for a rest while nothing else moves, and one is pocketed again.
fn hidden() -> Vec<RestSeen> {
    let lying = broken(14);
    let mut hidden = lying.clone();
    hidden.objects.remove(4);
    let mut seen = rests(&[opening(), lying.clone(), hidden, without(lying, 1)]);
    seen[2].layout.rolled = Some(false);
    seen[3].layout.rolled = Some(true);
    seen
}

#[test]
fn a_ball_hidden_for_one_rest_and_there_again_behind_the_next_stroke_never_went() {
    assert_eq!(told(&follow(&hidden(), &[])), (vec![(2, None)], vec![]));
}

#[test]
fn a_ball_that_went_and_another_that_lies_there_later_is_not_the_same() {
    let mut seen = hidden();
    let back = seen[3].layout.balls.iter_mut().find(|ball| ball.number == Some(5)).unwrap();
    back.number = Some(15);
    assert_ne!(told(&follow(&seen, &[])), (vec![(2, None)], vec![]));
}

#[test]
fn what_hindsight_changes_is_told_behind_the_rest_and_before_its_own_shot() {
    let seen = hidden();
    let mut follower = Follower::new();
    let told: Vec<Vec<ScoreEvent>> = seen.iter().map(|rest| follower.take(rest, None)).collect();
    let asked = told[2].iter().any(|event| matches!(event, ScoreEvent::Question { .. }));
    assert!(asked, "nothing tells yet that the ball is hidden: {:?}", told[2]);
    let of_last: Vec<&ScoreEvent> = told[3].iter().collect();
    assert!(
        matches!(
            of_last[..],
            [
                ScoreEvent::Rest { run: Some(2), .. },
                ScoreEvent::Settled { rest: 3 },
                ScoreEvent::Shot { run: 2, .. }
            ]
        ),
        "{of_last:?}"
    );
}

#[test]
fn a_ball_read_as_the_cue_ball_that_lies_there_when_the_cue_ball_is_put_down_was_none() {
    let shot = no_cue(broken(14));
    let with = |x_mm: f64, y_mm: f64| with_cue(shot.clone(), x_mm, y_mm);
    let mut seen = rests(&[opening(), shot.clone(), with(300.0, 640.0), opening()]);
    for (rest, rolled) in seen.iter_mut().zip([false, true, false, false]) {
        rest.layout.rolled = Some(rolled);
    }
    let ball = &mut seen[1].layout.balls[6];
    (ball.kind, ball.number, ball.number_confidence) = (BallKind::Cue, Some(0), 0.75);
    let runs = vec![(0, Some(Cause::Scratch)), (0, None)];
    assert_eq!(told(&follow(&seen, &[])), (runs, vec![]));
    // A cue ball that is surely one was moved by hand, and a ball was put where it lay.
    seen[1].layout.balls[6].number_confidence = 0.999;
    assert_ne!(told(&follow(&seen, &[])).0[0], (0, Some(Cause::Scratch)));
}

/// A rest of a run at which a hand passes for so many balls while nothing moves, and behind it a stroke.
fn with_knuckles(balls: u8) -> Vec<RestSeen> {
    let lying = broken(13);
    let mut more = lying.clone();
    let place =
        |n: u8| TablePoint::new(2250.0 + 60.0 * f64::from(n % 2), 900.0 + 70.0 * f64::from(n));
    more.objects.extend((0..balls).map(|n| (1 + n, place(n))));
    let mut seen = rests(&[opening(), lying.clone(), more, without(lying, 1)]);
    for (rest, rolled) in seen.iter_mut().zip([false, true, false, true]) {
        rest.layout.rolled = Some(rolled);
    }
    seen
}

#[test]
fn balls_that_came_alone_and_are_all_gone_behind_the_next_stroke_were_a_hand() {
    assert_eq!(told(&follow(&with_knuckles(2), &[])), (vec![(3, None)], vec![]));
    // More than a hand makes are balls laid out.
    assert_ne!(told(&follow(&with_knuckles(4), &[])).0, [(3, None)]);
}

#[test]
fn a_doubtful_cue_ball_with_a_new_rack_right_behind_it_was_none() {
    let lies = no_cue(without(broken(14), 1));
    let mut seen = rests(&[opening(), broken(14), lies, opening()]);
    for (rest, rolled) in seen.iter_mut().zip([false, true, true, false]) {
        rest.layout.rolled = Some(rolled);
    }
    let mut read_with = |sure: f64| {
        let ball = &mut seen[2].layout.balls[6];
        (ball.kind, ball.number, ball.number_confidence) = (BallKind::Cue, Some(0), sure);
        runs(&follow(&seen, &[]))
    };
    assert_eq!(read_with(0.67), [(1, Some(Cause::Scratch)), (0, None)]);
    assert_eq!(read_with(0.995), [(3, Some(Cause::Stopped)), (0, None)]);
}

#[test]
fn a_ball_of_no_name_that_is_struck_where_the_cue_ball_went_was_the_cue_ball() {
    let (lies, on) = (without(broken(14), 1), without(broken(14), 2));
    let mut seen = rests(&[opening(), broken(14), lies, with_cue(on, 400.0, 900.0)]);
    for (rest, rolled) in seen.iter_mut().zip([false, true, true, true]) {
        rest.layout.rolled = Some(rolled);
    }
    let cue = seen[2].layout.balls.iter_mut().find(|ball| ball.kind == BallKind::Cue).unwrap();
    (cue.kind, cue.number, cue.number_confidence) = (BallKind::Object, Some(15), 0.45);
    assert_eq!(told(&follow(&seen, &[])), (vec![(3, None)], vec![3]));
    // A new rack behind it: the cue ball was gone.
    let mut racked = rests(&[opening()]).remove(0);
    (racked.id, racked.at_unix_ms) = (4, seen[3].at_unix_ms);
    seen[3] = racked;
    assert_eq!(runs(&follow(&seen, &[])), [(1, Some(Cause::Scratch)), (0, None)]);
}

#[test]
fn what_left_open_whether_an_attempt_was_over_is_read_so_where_a_new_rack_follows() {
    let mut seen = rests(&[opening(), broken(14), without(broken(14), 1), opening()]);
    (seen[2].unseen_ms, seen[2].layout.rolled) = (10_000, Some(true));
    let over = follow(&seen[..3], &[]);
    assert_eq!(told(&over), (vec![(2, None)], vec![3]));
    let answered = told(&follow(&seen, &[]));
    assert_eq!(answered, (vec![(2, Some(Cause::Miss)), (0, None)], vec![3]));
    // In a gap that hides a miss less likely it was stopped.
    seen[2].unseen_ms = 5_000;
    assert_eq!(told(&follow(&seen, &[])).0, [(2, Some(Cause::Stopped)), (0, None)]);
}

#[test]
fn a_doubtful_cue_ball_at_a_closing_layout_is_not_doubted_for_the_rack_that_is_due() {
    let placed = with_cue(re_racked(), 400.0, 700.0);
    let mut seen = rests(&[opening(), broken(14), closing(), placed]);
    for (rest, rolled) in seen.iter_mut().zip([false, true, true, false]) {
        rest.layout.rolled = Some(rolled);
    }
    let cue = seen[2].layout.balls.iter_mut().find(|ball| ball.kind == BallKind::Cue).unwrap();
    cue.number_confidence = 0.85;
    let story = follow(&seen, &[]);
    assert!(story.attempts[0].over.is_none_or(|over| over.cause != Cause::Scratch), "{story:?}");
}

#[test]
fn a_doubtful_cue_ball_with_the_table_cleared_right_behind_it_was_none() {
    let lies = no_cue(without(broken(14), 1));
    let mut left = lies.clone();
    left.objects.truncate(3);
    let mut seen = rests(&[opening(), broken(14), lies, left, opening()]);
    // A hand rolls one of them into a pocket.
    for (rest, rolled) in seen.iter_mut().zip([false, true, true, true, false]) {
        rest.layout.rolled = Some(rolled);
    }
    let mut read_with = |sure: f64| {
        let ball = &mut seen[2].layout.balls[6];
        (ball.kind, ball.number, ball.number_confidence) = (BallKind::Cue, Some(0), sure);
        runs(&follow(&seen, &[]))[0]
    };
    assert_eq!(read_with(0.67), (1, Some(Cause::Scratch)));
    assert_eq!(read_with(0.995), (3, Some(Cause::Stopped)));
}

#[test]
fn a_doubtful_cue_ball_that_is_put_away_with_the_last_balls_was_none() {
    let left = without(broken(5), 1);
    let away = no_cue(without(left.clone(), 2));
    let read_with = |sure: f64, rolled: bool| {
        let mut seen =
            rests(&[opening(), broken(14), broken(5), no_cue(left.clone()), away.clone()]);
        for (rest, rolled) in seen.iter_mut().zip([false, true, true, true, rolled]) {
            rest.layout.rolled = Some(rolled);
        }
        let ball = &mut seen[3].layout.balls[3];
        (ball.kind, ball.number, ball.number_confidence) = (BallKind::Cue, Some(0), sure);
        let nine_pocketed = Step::Several { shots: 9, potted: 9, re_racks: 0, ended: None };
        runs(&follow(&seen, &[Correction { rest: 3, says: Some(nine_pocketed) }]))[0]
    };
    assert_eq!(read_with(0.88, false), (10, Some(Cause::Scratch)), "hands that roll nothing");
    assert_eq!(read_with(0.88, true).0, 12, "a stroke that pocketed it");
    assert_eq!(read_with(0.995, false).0, 12);
}

#[test]
fn a_doubtful_cue_ball_alone_on_the_table_that_lies_elsewhere_beside_the_next_rack_was_none() {
    let lies = no_cue(closing());
    let read_with = |sure: f64, next: &Lying| {
        let mut seen = rests(&[opening(), broken(14), broken(3), lies.clone(), next.clone()]);
        for (rest, rolled) in seen.iter_mut().zip([false, true, true, true, false]) {
            rest.layout.rolled = Some(rolled);
        }
        let ball = &mut seen[3].layout.balls[0];
        (ball.kind, ball.number, ball.number_confidence) = (BallKind::Cue, Some(0), sure);
        let eleven_pocketed = Step::Several { shots: 11, potted: 11, re_racks: 0, ended: None };
        runs(&follow(&seen, &[Correction { rest: 3, says: Some(eleven_pocketed) }]))
    };
    assert_eq!(read_with(0.65, &fifteen()), [(12, Some(Cause::Scratch)), (0, None)]);
    let in_place = Lying { cue: Some(closing().objects[0].1), ..fifteen() };
    assert_eq!(read_with(0.65, &in_place)[0], (15, None), "where the cue ball stays for the rack");
    assert_eq!(read_with(0.995, &fifteen())[0].0, 15);
}
