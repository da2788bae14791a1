//! What the score says of single happenings, one sentence each.

use super::{player::Habits, sessions::session, tables::*};
use proptest::prelude::*;
use stillcloth::{
    layout::BallKind,
    score::{
        Cause, Correction, Follower, RestSeen, ScoreEvent, Step, Story, changes, follow, potted,
    },
    table::{FootEnd, TablePoint},
};

fn steps(table: &[Lying]) -> Vec<Step> {
    let mut follower = Follower::new();
    let mut steps = Vec::new();
    for rest in rests(table) {
        match follower.take(&rest, None).into_iter().next() {
            Some(ScoreEvent::Rest { step, .. }) => steps.push(step),
            other => panic!("the rest comes first, not {other:?}"),
        }
    }
    steps
}

#[test]
fn an_opening_rack_begins_an_attempt_and_pocketed_balls_count() {
    let story = story(&[opening(), broken(14), without(broken(14), 1)]);
    assert_eq!(runs(&story), [(2, None)]);
    assert!(story.questions.is_empty() && story.attempts[0].sure);
}

#[test]
fn a_full_rack_of_fifteen_begins_one_too() {
    assert_eq!(runs(&story(&[fifteen(), broken(15)])), [(0, Some(Cause::Miss))]);
}

#[test]
fn the_same_layout_seen_twice_is_no_step() {
    assert_eq!(steps(&[opening(), opening()]), [Step::OpeningRack, Step::Same]);
}

#[test]
fn a_shot_that_pockets_nothing_is_a_miss_and_ends_the_attempt() {
    let played = [opening(), broken(14), moved(broken(14)), without(moved(broken(14)), 1)];
    let story = story(&played);
    assert_eq!(runs(&story), [(1, Some(Cause::Miss))], "practice afterwards does not count");
    assert!(story.questions.is_empty());
}

#[test]
fn what_is_practised_is_no_attempt_however_it_lies() {
    let shots = [broken(14), without(broken(14), 1), moved(without(broken(14), 1))];
    let practised = [vec![opening()], shots.to_vec(), vec![opening()], shots.to_vec()].concat();
    let table =
        [vec![opening(), broken(14)], practised.clone(), vec![opening(), broken(14)]].concat();
    let rests = rests(&table);
    let words: Vec<Correction> = rests[2..2 + practised.len()]
        .iter()
        .map(|rest| Correction { rest: rest.id, says: Some(Step::Practice) })
        .collect();
    let story = follow(&rests, &words);
    assert_eq!(runs(&story), [(1, Some(Cause::Stopped)), (1, None)]);
    assert!(story.questions.is_empty(), "{:?}", story.questions);
    assert_eq!(follow(&rests, &[]).attempts.len(), 4, "told nothing, it counts them");
}

#[test]
fn balls_pocketed_with_the_cue_ball_do_not_count() {
    let scratched = no_cue(without(moved(broken(14)), 1));
    assert_eq!(runs(&story(&[opening(), broken(14), scratched])), [(1, Some(Cause::Scratch))]);
}

#[test]
fn who_puts_the_cue_ball_down_again_has_not_cleared_the_table() {
    let scratched = no_cue(without(broken(14), 1));
    let put_down = with_cue(scratched.clone(), 300.0, 300.0);
    let asked = |later: &[Lying]| {
        let played = [&[opening(), broken(14), scratched.clone()], later].concat();
        let story = story(&played);
        assert_eq!(runs(&story)[0], (1, Some(Cause::Scratch)));
        (story.questions.len(), story.attempts[0].sure)
    };
    assert_eq!(asked(&[]), (1, false));
    assert_eq!(asked(std::slice::from_ref(&put_down)), (0, true));
    assert_eq!(asked(&[opening()]), (1, false));
    assert_eq!(asked(&[without(scratched.clone(), 3), put_down]).0, 1, "some went first");
}

#[test]
fn a_cue_ball_that_may_be_another_white_one_is_asked_about() {
    let two_gone = without(with_cue(broken(14), 500.0, 300.0), 1);
    let mut rests = rests(&[opening(), two_gone]);
    let read = |rests: &[RestSeen]| follow(rests, &[]).questions;
    assert!(read(&rests).is_empty());
    for sure in [0.91, 0.7] {
        let cue = rests[1].layout.balls.iter_mut().find(|ball| ball.kind == BallKind::Cue).unwrap();
        cue.number_confidence = sure;
        let questions = read(&rests);
        let answers: Vec<&Step> = questions[0].answers.iter().map(|answer| &answer.step).collect();
        assert_eq!(answers[..2], [&Step::Shot { potted: 2 }, &Step::Scratch], "{sure}");
    }
}

#[test]
fn three_balls_gone_at_the_break_are_doubted_sooner() {
    let three_gone = without(with_cue(broken(14), 500.0, 300.0), 2);
    let mut rests = rests(&[opening(), three_gone]);
    let asked = |rests: &mut [RestSeen], sure: f64| {
        let cue = rests[1].layout.balls.iter_mut().find(|ball| ball.kind == BallKind::Cue).unwrap();
        cue.number_confidence = sure;
        let questions = follow(&*rests, &[]).questions;
        questions.iter().flat_map(|asked| &asked.answers).any(|answer| answer.step == Step::Scratch)
    };
    assert!(asked(&mut rests, 0.985));
    assert!(!asked(&mut rests, 0.9995));
}

#[test]
fn two_balls_in_one_shot_count_two() {
    let after = without(with_cue(broken(14), 500.0, 300.0), 2);
    assert_eq!(runs(&story(&[opening(), broken(14), after])), [(3, None)]);
}

#[test]
fn a_ball_nudged_by_hand_changes_nothing() {
    let mut nudged = broken(14);
    nudged.objects[3].1.x_mm += 30.0;
    let story = story(&[opening(), broken(14), nudged]);
    assert_eq!(runs(&story), [(1, None)]);
    assert!(story.questions.is_empty());
}

#[test]
fn a_ball_taken_and_put_back_is_asked_about_until_it_is_back() {
    let table = [opening(), broken(14), without(broken(14), 1)];
    // The cue ball of the last one lies where it lay.
    let taken = Lying { cue: table[1].cue, ..table[2].clone() };
    let asked = story(&[table[0].clone(), table[1].clone(), taken.clone()]);
    assert_eq!((asked.questions.len(), runs(&asked)), (1, vec![(1, None)]));
    let back = story(&[table[0].clone(), table[1].clone(), taken, table[1].clone()]);
    assert_eq!((back.questions.len(), runs(&back)), (0, vec![(1, None)]));
}

#[test]
fn the_run_goes_on_over_a_re_rack_and_the_closing_layout_is_kept() {
    // Thirteen balls at once are many rests missed: the user says so.
    let step = Step::Several { shots: 13, potted: 13, re_racks: 0, ended: None };
    let said = [Correction { rest: 3, says: Some(step) }];
    let story = follow(&rests(&[opening(), broken(14), closing(), re_racked(), broken(14)]), &said);
    let attempt = &story.attempts[0];
    assert_eq!((attempt.run, attempt.racks.len(), story.questions.len()), (15, 2, 0));
    assert_eq!(attempt.racks[0].closing_rest, Some(3));
    assert_eq!(attempt.racks[1].racked_rest, Some(4));
}

#[test]
fn the_last_ball_pocketed_with_the_fourteenth_means_that_all_fifteen_are_racked() {
    let two = without(broken(14), 12);
    let none = with_cue(without(broken(14), 14), 700.0, 500.0);
    let mut follower = Follower::new();
    let mut events = Vec::new();
    let racked = Lying { cue: none.cue, ..fifteen() };
    for rest in rests(&[opening(), two, none, racked]) {
        let said = (rest.id == 2).then_some(Step::Several {
            shots: 13,
            potted: 13,
            re_racks: 0,
            ended: None,
        });
        events.extend(follower.take(&rest, said.as_ref()));
    }
    let placing = events.iter().find_map(|event| match event {
        ScoreEvent::Placing { words, .. } => Some(words.as_str()),
        _ => None,
    });
    assert_eq!(placing, Some("Rack all fifteen. The cue ball stays."));
    assert_eq!(runs(follower.story()), [(15, None)]);
    assert_eq!(follower.story().attempts[0].racks.len(), 2);
    assert!(follower.story().questions.is_empty());
}

#[test]
fn a_ball_on_the_foot_spot_again_had_left_the_table_and_is_asked_about() {
    let shot = without(with_cue(broken(14), 500.0, 300.0), 1);
    let mut back = shot.clone();
    back.objects.push((15, TablePoint::new(1905.0, 635.0)));
    let story = story(&[opening(), broken(14), shot, back]);
    assert_eq!(runs(&story), [(1, Some(Cause::Foul))]);
    assert_eq!(story.questions.len(), 1);
    assert!(story.questions[0].answers.len() <= 3 && !story.attempts[0].sure);
}

#[test]
fn a_gap_that_can_hide_a_miss_is_asked_about_and_an_answer_settles_it() {
    let mut seen = rests(&[opening(), broken(14), without(with_cue(broken(14), 500.0, 300.0), 1)]);
    seen[2].unseen_ms = 20_000;
    let asked = follow(&seen, &[]);
    assert_eq!(asked.questions.len(), 1);
    let miss = asked.questions[0].answers.iter().find(|a| a.text.contains("miss")).unwrap();
    let said = [Correction { rest: 3, says: Some(miss.step.clone()) }];
    let settled = follow(&seen, &said);
    assert_eq!(runs(&settled), [(2, Some(Cause::Miss))]);
    assert!(settled.questions.is_empty() && settled.attempts[0].sure);
    let told = changes(&asked, &settled);
    assert!(told.contains(&ScoreEvent::Settled { rest: 3 }), "{told:?}");
    assert!(told.iter().any(|e| matches!(e, ScoreEvent::Rescored { run: 2, .. })), "{told:?}");
}

#[test]
fn a_start_in_the_middle_of_an_attempt_is_said_to_be_unknown() {
    let story = story(&[broken(9), without(with_cue(broken(9), 500.0, 300.0), 1)]);
    assert_eq!(story.attempts.len(), 1);
    assert!(!story.attempts[0].start_seen && !story.attempts[0].sure);
    assert_eq!(story.questions.len(), 1);
}

#[test]
fn racking_anew_in_the_middle_means_stopped() {
    let story = story(&[opening(), broken(14), with_cue(opening(), 400.0, 400.0)]);
    assert_eq!(runs(&story), [(1, Some(Cause::Stopped)), (0, None)]);
    assert!(story.questions.is_empty());
}

#[test]
fn an_obstructed_layout_is_no_rest() {
    let mut seen = rests(&[opening(), broken(14), without(broken(14), 3)]);
    seen[2].layout.obstructed = true;
    assert_eq!(runs(&follow(&seen, &[])), [(1, None)]);
}

#[test]
fn a_layout_whose_foot_is_open_is_turned_by_the_rack_that_it_shows() {
    let mut seen = rests(&[opening(), broken(14), closing()]);
    for rest in &mut seen {
        rest.layout.foot = FootEnd::Open;
        for ball in &mut rest.layout.balls {
            (ball.x, ball.y) = (8.0 - ball.x, 4.0 - ball.y);
        }
    }
    assert_eq!(follow(&seen, &[]).attempts.len(), 1);
}

fn any_step() -> impl Strategy<Value = Option<Step>> {
    prop_oneof![
        Just(None),
        Just(Some(Step::Miss)),
        Just(Some(Step::Scratch)),
        Just(Some(Step::NoRest)),
        Just(Some(Step::SettingUp)),
        Just(Some(Step::OpeningRack)),
        Just(Some(Step::ReRack)),
        Just(Some(Step::Stopped)),
        Just(Some(Step::Practice)),
        (0..200_u32).prop_map(|potted| Some(Step::Shot { potted })),
        (0..99_u32, any::<u32>(), any::<u32>()).prop_map(|(shots, potted, re_racks)| Some(
            Step::Several { shots, potted, re_racks, ended: None }
        )),
        (any::<u32>()).prop_map(|run| Some(Step::AttemptOn { run, ended: None })),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn whatever_is_said_the_story_keeps_its_order_and_can_be_told_again(
        seed in 0..500_u64,
        said in proptest::collection::vec((1..120_i64, any_step()), 0..12),
    ) {
        let session = session(seed, Habits::ordinary(seed), 2);
        let corrections: Vec<Correction> =
            said.into_iter().map(|(rest, says)| Correction { rest, says }).collect();
        let story = follow(&session.rests, &corrections);
        let mut follower = Follower::new();
        for rest in &session.rests {
            let last = corrections.iter().rev().find(|c| c.rest == rest.id);
            let events = follower.take(rest, last.and_then(|c| c.says.as_ref()));
            if let Some(first) = events.first() {
                let is_rest = matches!(first, ScoreEvent::Rest { .. });
                prop_assert!(is_rest);
            }
        }
        prop_assert_eq!(follower.story(), &story);
        for (at, attempt) in story.attempts.iter().enumerate() {
            prop_assert_eq!(attempt.id as usize, at + 1);
            prop_assert!(attempt.over.is_some() || at + 1 == story.attempts.len());
            prop_assert!(attempt.shots.windows(2).all(|two| two[0].rest < two[1].rest));
            if attempt.start_seen && corrections.is_empty() {
                let counted = potted(&attempt.shots);
                prop_assert_eq!(attempt.run, counted);
            }
        }
        for question in &story.questions {
            prop_assert!((2..=3).contains(&question.answers.len()));
        }
        // Taking every word back gives the story that was told without any.
        let mut undone = corrections.clone();
        undone.extend(corrections.iter().map(|c| Correction { rest: c.rest, says: None }));
        prop_assert_eq!(follow(&session.rests, &undone), follow(&session.rests, &[]));
        let text = serde_json::to_string(&story).unwrap();
        prop_assert_eq!(serde_json::from_str::<Story>(&text).unwrap(), story);
    }
}
