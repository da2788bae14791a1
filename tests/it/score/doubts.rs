//! What a reading can hide, one sentence each: asked about, or set right by what follows.

use super::tables::*;
use stillcloth::{
    layout::BallKind,
    score::{Cause, Correction, RestSeen, Step, Story, follow},
    table::{FootEnd, Rack, TablePoint, TableSize},
};

const NOTHING: [i64; 0] = [];
const ALL_BUT_ONE: Step = Step::Several { shots: 13, potted: 13, re_racks: 0, ended: None };

/// A run down to the closing layout, which is rest 3, and these rests after it.
fn closed(after: &[Lying]) -> Story {
    let mut table = vec![opening(), broken(14), closing()];
    table.extend_from_slice(after);
    follow(&rests(&table), &[Correction { rest: 3, says: Some(ALL_BUT_ONE) }])
}

/// So many balls about the foot, none of them where [`broken`] has one.
fn about_the_foot(balls: u8) -> Lying {
    let place = |n: u8| {
        let (row, column) = (f64::from(n % 5), f64::from(n / 5));
        TablePoint::new(1740.0 + 180.0 * column + 31.0 * row, 120.0 + 215.0 * row)
    };
    let objects = (0..balls).map(|n| (n + 1, place(n))).collect();
    Lying { cue: Some(TablePoint::new(420.0, 610.0)), objects }
}

#[test]
fn a_break_that_left_the_balls_about_the_foot_is_asked_about_at_the_next_stroke() {
    let over = [opening(), broken(5), moved(broken(5))];
    let broken_unseen = about_the_foot(14);
    let mut played = over.to_vec();
    played.extend([broken_unseen.clone(), without(broken_unseen, 1)]);
    let seen = rests(&played);
    let said = [Correction { rest: 2, says: Some(Step::Miss) }];
    assert_eq!(asked(&follow(&seen[..4], &said)), NOTHING, "they may be laid out to be racked");
    assert_eq!(asked(&follow(&seen, &said)), [5]);
}

#[test]
fn balls_that_rolled_behind_a_gap_at_a_closing_layout_came_from_a_break_wherever_they_lie() {
    // The cue ball lay in the rack's way and lies behind the head string now, as the rule has it.
    let in_rack = Rack::on(&TableSize::NINE_FOOT).places()[4];
    let closing = Lying { cue: Some(in_rack), ..closing() };
    let (lies, on) = (about_the_foot(14), without(about_the_foot(14), 1));
    let said = [Correction { rest: 3, says: Some(ALL_BUT_ONE) }];
    let read = |after: &[Lying], rolled, unseen_ms| {
        let mut seen = rests(&[&[opening(), broken(14), closing.clone()], after].concat());
        for rest in &mut seen[3..] {
            rest.layout.rolled = Some(rolled);
        }
        seen[3].unseen_ms = unseen_ms;
        let story = follow(&seen, &said);
        (runs(&story), asked(&story))
    };
    assert_eq!(read(std::slice::from_ref(&lies), true, 6_000), (vec![(14, None)], vec![4]));
    assert_eq!(read(&[lies.clone(), on], true, 6_000), (vec![(16, None)], vec![4, 5]));
    assert_eq!(read(&[lies], false, 300), (vec![(14, None)], vec![]), "laid out by hand");
}

#[test]
fn a_rack_that_stood_there_when_the_attempt_ended_begins_none() {
    let mut stands = re_racked();
    stands.objects.pop();
    let placed = with_cue(stands.clone(), 300.0, 400.0);
    let story = closed(&[re_racked(), no_cue(stands), placed, opening()]);
    assert_eq!(runs(&story), [(14, Some(Cause::Scratch)), (0, None)]);
    assert_eq!(story.attempts[1].began_rest, 7);
}

#[test]
fn a_rack_built_anew_while_the_cue_ball_is_lifted_may_be_another_attempts() {
    let mut anew = no_cue(re_racked());
    for (number, _) in &mut anew.objects {
        *number = 16 - *number;
    }
    anew.objects[14].1 = TablePoint::new(1960.0, 950.0);
    assert_eq!(asked(&closed(&[re_racked(), no_cue(re_racked()), anew])).last(), Some(&6));
}

#[test]
fn a_break_that_leaves_a_ball_where_the_last_one_lay_is_asked_about() {
    let mut after = broken(14);
    after.objects[7].1 = closing().objects[0].1;
    assert_eq!(asked(&closed(&[after])), [4]);
}

#[test]
fn strokes_at_balls_taken_as_laid_out_behind_a_closing_layout_are_asked_about() {
    // The cue ball lies where it lay: nothing can have been played, until it is.
    let mut laid = Lying { cue: closing().cue, ..broken(14) };
    laid.objects[0].1 = closing().objects[0].1;
    let story = closed(&[laid.clone(), without(laid, 1)]);
    assert_eq!(asked(&story), [5]);
}

#[test]
fn balls_laid_out_with_no_cue_ball_on_the_table_ask_nothing() {
    let rack = Rack::on(&TableSize::NINE_FOOT);
    let mut laid = no_cue(about_the_foot(12));
    for (ball, place) in laid.objects.iter_mut().zip(&rack.places()[3..6]) {
        ball.1 = TablePoint::new(place.x_mm + 18.0, place.y_mm);
    }
    let empty = Lying { cue: None, objects: Vec::new() };
    assert_eq!(asked(&story(&[opening(), broken(14), empty, laid, opening()])), NOTHING);
}

#[test]
fn a_reading_some_way_off_is_no_touched_ball() {
    let mut seen = rests(&[opening(), broken(14), with_cue(broken(14), 700.0, 90.0)]);
    for ball in seen.iter_mut().flat_map(|rest| &mut rest.layout.balls) {
        ball.sigma_mm = 3.0;
    }
    let object = |ball: &&mut stillcloth::layout::Ball| ball.kind == BallKind::Object;
    seen[2].layout.balls.iter_mut().find(object).unwrap().x += 25.0 / 317.5;
    assert_eq!(asked(&follow(&seen, &[])), [3], "the cue ball may have been moved by hand");
}

/// These rests as a camera on the other side sees them, which does not know the foot.
fn turn(rests: &mut [RestSeen]) {
    for rest in rests {
        rest.layout.foot = FootEnd::Open;
        for ball in &mut rest.layout.balls {
            (ball.x, ball.y) = (8.0 - ball.x, 4.0 - ball.y);
        }
    }
}

#[test]
fn a_foot_that_becomes_known_or_is_lost_in_mid_attempt_moves_no_ball() {
    let shot = without(broken(9), 1);
    let table = [broken(9), shot.clone(), shot.clone(), without(shot, 1)];
    let said = [Correction { rest: 2, says: Some(Step::AttemptOn { run: 7, ended: None }) }];
    for open in [0..2, 2..4] {
        let mut seen = rests(&table);
        turn(&mut seen[open]);
        let story = follow(&seen, &said);
        assert_eq!((runs(&story), asked(&story)), (vec![(8, None)], vec![]));
    }
}

#[test]
fn a_cue_ball_back_where_it_lay_makes_a_scratch_doubtful_and_an_answer_undoes_it() {
    let mut nudged = no_cue(broken(14));
    nudged.objects[3].1.x_mm += 40.0;
    let back = Lying { cue: broken(14).cue, ..nudged.clone() };
    let on = without(back.clone(), 1);
    let seen = rests(&[opening(), broken(14), nudged, back, on]);
    let asked_about = follow(&seen, &[]);
    assert_eq!(
        (runs(&asked_about), asked(&asked_about)),
        (vec![(1, Some(Cause::Scratch))], vec![3])
    );
    let by_hand = asked_about.questions[0].answers[1].step.clone();
    assert_eq!(by_hand, Step::ByHand);
    let undone = follow(&seen, &[Correction { rest: 3, says: Some(by_hand) }]);
    assert_eq!((runs(&undone), asked(&undone)), (vec![(2, None)], vec![]));
}

#[test]
fn a_ball_gone_with_the_cue_ball_is_asked_about_unless_balls_were_seen_to_roll() {
    let lies = no_cue(Lying { objects: broken(13).objects, ..broken(14) });
    let asked_where = |rolled| {
        let mut seen = rests(&[opening(), broken(14), lies.clone()]);
        seen[2].layout.rolled = rolled;
        let story = follow(&seen, &[]);
        assert_eq!(runs(&story), [(1, Some(Cause::Scratch))]);
        asked(&story).len()
    };
    assert_eq!([None, Some(false), Some(true)].map(asked_where), [1, 1, 0]);
}

#[test]
fn what_was_seen_to_roll_last_leaves_open_what_a_gap_before_it_holds() {
    let lies = no_cue(Lying { objects: broken(13).objects, ..broken(14) });
    let mut seen = rests(&[opening(), broken(14), lies]);
    (seen[2].layout.rolled, seen[2].unseen_ms) = (Some(true), 6_000);
    assert_eq!(asked(&follow(&seen, &[])), [3]);
}

#[test]
fn a_scratch_with_a_ball_that_is_played_on_from_is_asked_about() {
    let shot = without(broken(14), 1);
    let played = [opening(), broken(14), no_cue(moved(shot.clone())), moved(shot.clone())];
    assert_eq!(asked(&story(&played)), NOTHING, "the player has put the cue ball down");
    let mut on = played.to_vec();
    on.push(without(moved(shot), 1));
    let story = story(&on);
    assert_eq!((runs(&story), asked(&story)), (vec![(1, Some(Cause::Scratch))], vec![3]));
}

/// The rest with this id shows the cue ball as an object ball, and perhaps another as the cue ball.
fn misname(seen: &mut [RestSeen], id: usize, swap: bool) {
    let balls = &mut seen[id - 1].layout.balls;
    if swap {
        (balls[2].kind, balls[2].number) = (BallKind::Cue, Some(0));
    }
    let cue = balls.last_mut().unwrap();
    (cue.kind, cue.number) = (BallKind::Object, None);
}

#[test]
fn a_cue_ball_read_as_another_ball_for_one_rest_is_still_the_cue_ball() {
    for swap in [false, true] {
        let table = [opening(), broken(14), broken(14), without(broken(14), 1)];
        let mut seen = rests(&table);
        misname(&mut seen, 3, swap);
        let story = follow(&seen, &[]);
        assert_eq!((runs(&story), asked(&story)), (vec![(2, None)], vec![]), "swap {swap}");
    }
}

#[test]
fn a_rack_that_lacks_a_ball_for_one_rest_is_the_same_rack() {
    let mut lacking = re_racked();
    lacking.objects.remove(6);
    let story = closed(&[re_racked(), lacking.clone(), re_racked(), broken(14)]);
    assert_eq!((runs(&story), asked(&story)), (vec![(15, None)], vec![]));
    let story = closed(&[re_racked(), lacking, broken(14)]);
    assert_eq!((runs(&story), asked(&story)), (vec![(15, None)], vec![]));
}

#[test]
fn a_rack_that_lacks_a_ball_in_the_middle_of_an_attempt_means_stopped() {
    let mut lacking = opening();
    lacking.objects.remove(6);
    let story = story(&[opening(), broken(14), without(broken(14), 1), lacking, opening()]);
    assert_eq!(runs(&story), [(2, Some(Cause::Stopped)), (0, None)]);
    assert_eq!(asked(&story), NOTHING);
}

#[test]
fn two_balls_more_with_nothing_else_moved_may_be_none() {
    let shot = without(broken(12), 1);
    let mut more = shot.clone();
    more.objects
        .extend([(14, TablePoint::new(2300.0, 640.0)), (15, TablePoint::new(2380.0, 700.0))]);
    let story = story(&[opening(), broken(12), shot, more]);
    assert!(asked(&story).contains(&4), "{:?}", story.questions);
}

#[test]
fn a_rack_built_anew_where_the_last_ball_was_just_pocketed_is_a_new_attempts() {
    // Behind the re-rack the last ball goes and the rack stands; then all fifteen stand there anew.
    let loose = closing().objects[0];
    let mut stands = with_cue(re_racked(), 1500.0, 1000.0);
    stands.objects.retain(|(number, at)| *number != loose.0 || *at != loose.1);
    let mut anew = opening();
    let numbers: Vec<u8> = anew.objects.iter().map(|(number, _)| *number).collect();
    for (at, (number, _)) in anew.objects.iter_mut().enumerate() {
        *number = numbers[(at + 4) % numbers.len()];
    }
    let played = [opening(), broken(14), closing(), re_racked(), stands, anew];
    let said = [Correction { rest: 3, says: Some(ALL_BUT_ONE) }];
    let story = follow(&rests(&played), &said);
    assert_eq!(runs(&story), [(15, Some(Cause::Stopped)), (0, None)]);
}

#[test]
fn a_rack_built_anew_behind_a_gap_may_be_another_attempts() {
    let mut anew = opening();
    for (number, _) in &mut anew.objects {
        *number = 16 - *number;
    }
    anew.objects[14].1 = TablePoint::new(1960.0, 950.0);
    let asked = |unseen_ms| {
        let mut seen = rests(&[opening(), with_cue(anew.clone(), 900.0, 400.0)]);
        seen[1].unseen_ms = unseen_ms;
        follow(&seen, &[]).questions.len()
    };
    assert_eq!([0, 6_000].map(asked), [0, 1]);
}

#[test]
fn a_miss_behind_two_balls_at_once_may_show_one_of_them_again() {
    let two = without(broken(14), 2);
    let mut miss = moved(two.clone());
    let mut seen = rests(&[opening(), broken(14), two.clone(), miss.clone()]);
    assert_eq!(asked(&follow(&seen, &[])), NOTHING, "every number is one of those that were left");
    for ball in &mut seen[3].layout.balls {
        ball.number = None;
    }
    assert_eq!(asked(&follow(&seen, &[])), [4]);
    // So may a scratch, which leaves the two in doubt.
    miss.cue = None;
    assert_eq!(asked(&story(&[opening(), broken(14), two, miss])), [3]);
}

#[test]
fn a_table_found_empty_after_a_long_absence_is_asked_about() {
    let empty = Lying { cue: None, objects: Vec::new() };
    let mut seen = rests(&[opening(), broken(14), empty]);
    (seen[2].unseen_ms, seen[2].at_unix_ms) = (3_600_000, 3_700_000);
    let story = follow(&seen, &[]);
    assert_eq!((story.attempts.len(), asked(&story)), (1, vec![3]));
}

#[test]
fn balls_laid_out_while_nobody_watched_are_asked_about() {
    let mut laid = broken(5);
    laid.objects.extend(about_the_foot(6).objects);
    let mut seen = rests(&[opening(), broken(5), laid]);
    (seen[2].unseen_ms, seen[2].at_unix_ms) = (2_000_000, 2_100_000);
    let nine = Step::Several { shots: 10, potted: 10, re_racks: 0, ended: None };
    assert_eq!(asked(&follow(&seen, &[Correction { rest: 2, says: Some(nine) }])), [3]);
}

#[test]
fn a_rack_found_after_a_long_absence_may_be_a_later_one_of_an_unseen_attempt() {
    let mut seen = rests(&[opening(), broken(14), moved(broken(14)), opening()]);
    (seen[3].unseen_ms, seen[3].at_unix_ms) = (1_600_000, 1_700_000);
    assert_eq!(asked(&follow(&seen, &[])), [4]);
}

/// A ball pocketed while the table was not watched for so long, down to few, and these rests after
/// it; each rest so many milliseconds after the one before.
fn watched_badly(unseen_ms: u64, every_ms: i64, after: &[Lying]) -> Story {
    let mut table = vec![opening(), broken(14), without(moved(broken(14)), 1)];
    table.extend_from_slice(after);
    let mut seen = rests(&table);
    for (rest, number) in seen.iter_mut().zip(0_i64..) {
        rest.at_unix_ms = every_ms * number;
    }
    seen[2].unseen_ms = unseen_ms;
    follow(&seen, &[Correction { rest: 4, says: Some(ALL_BUT_ONE_MORE) }])
}

const ALL_BUT_ONE_MORE: Step = Step::Several { shots: 12, potted: 12, re_racks: 0, ended: None };

#[test]
fn a_gap_too_short_for_a_shot_asks_nothing() {
    assert_eq!(asked(&watched_badly(9_000, 20_000, &[])), [3]);
    assert_eq!(asked(&watched_badly(2_400, 20_000, &[])), NOTHING, "shorter than any rest");
    assert_eq!(asked(&watched_badly(4_400, 4_500, &[])), NOTHING, "no time for two shots");
}

#[test]
fn racking_fourteen_beside_the_last_ball_tells_that_the_run_went_on() {
    let racked = watched_badly(9_000, 20_000, &[closing(), re_racked()]);
    assert_eq!((asked(&racked), runs(&racked)), (vec![], vec![(14, None)]));
    let anew = watched_badly(9_000, 20_000, &[closing(), opening()]);
    assert!(asked(&anew).contains(&3), "another rack tells nothing: {:?}", asked(&anew));
}

#[test]
fn balls_all_moved_in_less_time_than_racking_takes_are_the_same_ones() {
    let mut seen = rests(&[opening(), broken(14), about_the_foot(13)]);
    for (rest, number) in seen.iter_mut().zip(0_i64..) {
        rest.at_unix_ms = 9_000 * number;
    }
    let story = follow(&seen, &[]);
    assert_eq!((asked(&story), runs(&story)), (vec![], vec![(2, None)]));
}

/// All fourteen elsewhere behind a short gap, under other numbers, each of them so sure.
fn all_elsewhere(numbers: [u8; 14], sure: f64) -> Story {
    let mut table = [opening(), broken(14), with_cue(broken(14), 330.0, 1180.0)];
    for ((number, at), other) in table[2].objects.iter_mut().zip(numbers) {
        *number = other;
        *at = TablePoint::new(at.x_mm + 60.0, at.y_mm + 70.0);
    }
    let mut seen = rests(&table);
    for (rest, number) in seen.iter_mut().zip(0_i64..) {
        rest.at_unix_ms = 16_000 * number;
        rest.layout.balls.iter_mut().for_each(|ball| ball.number_confidence = sure);
    }
    seen[2].unseen_ms = 5_300;
    follow(&seen, &[])
}

#[test]
fn a_ball_that_is_back_and_another_that_went_tell_of_a_rack_that_no_rest_showed() {
    const OTHERS: [u8; 14] = [1, 2, 3, 4, 5, 6, 7, 8, 15, 10, 11, 12, 13, 14];
    const THE_SAME: [u8; 14] = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14];
    let others = all_elsewhere(OTHERS, 0.998);
    assert_eq!(runs(&others), [(1, Some(Cause::Unseen)), (1, None)]);
    assert_eq!(asked(&others), [3]);
    let the_same = all_elsewhere(THE_SAME, 0.998);
    assert_eq!(runs(&the_same)[0], (1, Some(Cause::Miss)), "nothing but a miss");
    let unsure = all_elsewhere(OTHERS, 0.85);
    assert_eq!(runs(&unsure)[0], (1, Some(Cause::Miss)), "a number that is misread now and then");
}

#[test]
fn a_break_shot_that_brings_the_cue_ball_back_to_where_it_lay_is_asked_about() {
    let cue = opening().cue.unwrap();
    let asked_at = |[dx, dy]: [f64; 2]| {
        let back = with_cue(broken(14), cue.x_mm + dx, cue.y_mm + dy);
        let mut seen = rests(&[opening(), back]);
        seen[1].layout.rolled = Some(true);
        asked(&follow(&seen, &[]))
    };
    assert_eq!(asked_at([-3.0, 0.0]), [2], "within the errors of reading");
    assert_eq!(asked_at([-6.0, -8.0]), NOTHING, "it has moved");
}

#[test]
fn a_table_cleared_behind_a_gap_that_holds_a_shot_is_asked_about() {
    let left = without(broken(14), 13);
    let asked_behind = |unseen_ms| {
        let mut seen = rests(&[opening(), broken(14), left.clone()]);
        seen[2].unseen_ms = unseen_ms;
        let story = follow(&seen, &[]);
        assert_eq!(story.attempts.len(), 1);
        asked(&story)
    };
    assert_eq!(asked_behind(200), NOTHING, "the player stopped");
    assert_eq!(asked_behind(3_500), [3]);
}

#[test]
fn a_rack_that_lacks_the_last_ball_behind_a_gap_may_have_been_played_at() {
    let played = no_last(with_cue(re_racked(), 2400.0, 200.0));
    let mut seen = rests(&[opening(), broken(14), closing(), played]);
    seen[3].unseen_ms = 5_200;
    let story = follow(&seen, &[Correction { rest: 3, says: Some(ALL_BUT_ONE) }]);
    assert_eq!(asked(&story), [4]);
}

/// The same rack without the ball beside it.
fn no_last(mut lying: Lying) -> Lying {
    lying.objects.truncate(14);
    lying
}

#[test]
fn a_ball_that_may_be_a_shadow_makes_a_miss_doubtful() {
    let mut shadow = without(broken(14), 1);
    shadow.objects.push((7, TablePoint::new(2200.0, 1100.0)));
    let asked_with = |sure: f64| {
        let mut seen = rests(&[opening(), broken(14), shadow.clone()]);
        let is_new = |number: Option<u8>| number == Some(7);
        let balls = &mut seen[2].layout.balls;
        balls.iter_mut().rfind(|ball| is_new(ball.number)).unwrap().confidence = sure;
        asked(&follow(&seen, &[]))
    };
    assert_eq!([0.9, 0.995].map(asked_with), [vec![3], vec![]]);
}

#[test]
fn balls_that_roll_before_a_gap_and_behind_it_for_longer_than_one_stroke_were_two_strokes() {
    let mut seen = rests(&[opening(), broken(14), without(broken(14), 1)]);
    (seen[2].unseen_ms, seen[2].layout.rolled) = (9_000, Some(true));
    let mut read = |lost_rolling_ms| {
        seen[2].layout.lost_rolling_ms = lost_rolling_ms;
        runs(&follow(&seen, &[]))
    };
    assert_eq!(read(None), [(2, None)]);
    assert_eq!(read(Some(6_000)), [(2, None)]);
    assert_eq!(read(Some(13_000)), [(2, Some(Cause::Miss))]);
    assert_eq!(read(Some(u64::MAX)), [(2, Some(Cause::Miss))]);
}

#[test]
fn balls_that_roll_before_a_gap_with_a_new_rack_behind_it_were_a_stroke() {
    let mut seen = rests(&[opening(), broken(14), opening()]);
    (seen[2].unseen_ms, seen[2].layout.rolled) = (3_500, Some(false));
    assert_eq!(runs(&follow(&seen, &[])), [(1, Some(Cause::Stopped)), (0, None)]);
    seen[2].layout.lost_rolling_ms = Some(9_000);
    assert_eq!(runs(&follow(&seen, &[])), [(1, Some(Cause::Unseen)), (0, None)]);
}

#[test]
fn a_doubtful_cue_ball_that_is_struck_from_its_place_was_it() {
    let two_gone = without(with_cue(broken(14), 500.0, 300.0), 2);
    let on = without(two_gone.clone(), 1);
    let asked_behind = |next: Lying| {
        let mut seen = rests(&[opening(), broken(14), two_gone.clone(), next]);
        let cue = seen[2].layout.balls.iter_mut().find(|ball| ball.kind == BallKind::Cue).unwrap();
        cue.number_confidence = 0.91;
        assert_eq!(asked(&follow(&seen[..3], &[])), [3]);
        asked(&follow(&seen, &[]))
    };
    assert_eq!(asked_behind(on.clone()), NOTHING);
    // A ball lies there still.
    let mut there = on;
    there.objects[0].1 = two_gone.cue.unwrap();
    assert_eq!(asked_behind(there), [3]);
}

#[test]
fn a_doubtful_cue_ball_that_fourteen_are_racked_beside_was_it() {
    let mut two_left = Lying { cue: Some(TablePoint::new(700.0, 300.0)), ..closing() };
    two_left
        .objects
        .extend([(3, TablePoint::new(300.0, 300.0)), (4, TablePoint::new(600.0, 900.0))]);
    let mut seen = rests(&[opening(), broken(14), two_left, closing(), re_racked()]);
    let cue = seen[3].layout.balls.iter_mut().find(|ball| ball.kind == BallKind::Cue).unwrap();
    cue.number_confidence = 0.91;
    let all_but_three = Step::Several { shots: 11, potted: 11, re_racks: 0, ended: None };
    let said = [Correction { rest: 3, says: Some(all_but_three) }];
    assert_eq!(asked(&follow(&seen[..4], &said)), [4]);
    assert_eq!(asked(&follow(&seen, &said)), NOTHING);
}

#[test]
fn a_doubtful_ball_in_a_rack_asks_nothing() {
    let mut seen = rests(&[opening(), broken(14), opening()]);
    seen[2].layout.balls[5].confidence = 0.95;
    let story = follow(&seen, &[]);
    assert_eq!((runs(&story), asked(&story)), (vec![(1, Some(Cause::Stopped)), (0, None)], vec![]));
}

#[test]
fn a_cue_ball_a_little_off_its_place_behind_balls_that_rolled_was_struck() {
    let before = with_cue(broken(14), 2234.0, 388.0);
    let one_gone = |cue: [f64; 2]| {
        let mut after = before.clone();
        after.objects.pop();
        let mut seen = rests(&[opening(), before.clone(), with_cue(after, cue[0], cue[1])]);
        seen[2].layout.rolled = Some(true);
        runs(&follow(&seen, &[]))
    };
    // The readings of all balls differ by 2 mm here.
    assert_eq!(one_gone([2229.0, 395.0]), [(2, None)]);
    assert_eq!(one_gone([2234.0, 388.0]), [(1, None)]);
}

#[test]
fn a_rack_behind_a_gap_that_holds_the_rest_before_it_may_follow_an_attempt_that_ended_in_it() {
    let asked_behind = |unseen_ms: u64| {
        let mut seen = rests(&[opening(), broken(14), opening()]);
        for (rest, number) in seen.iter_mut().zip(0_i64..) {
            rest.at_unix_ms = 12_500 * number;
        }
        seen[2].unseen_ms = unseen_ms;
        asked(&follow(&seen, &[]))
    };
    assert_eq!(
        asked_behind(2_000),
        [3],
        "hands are at the balls a second and a half behind a scratch"
    );
    assert_eq!(asked_behind(1_000), NOTHING);
}
