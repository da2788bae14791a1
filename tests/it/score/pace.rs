//! What the player's own pace tells of a gap, one sentence each.

use super::tables::*;
use stillcloth::score::{Cause, RestSeen, follow};

/// An attempt in which balls are pocketed one by one, each shot in so many seconds.
fn one_by_one(takes_s: &[i64]) -> (Vec<RestSeen>, Lying) {
    let mut tables = vec![opening(), broken(14)];
    for at in 0..takes_s.len() {
        let along = 200.0 + 150.0 * at as f64;
        tables.push(with_cue(without(tables[at + 1].clone(), 1), along, 130.0));
    }
    let mut seen = rests(&tables);
    for (at, seconds) in takes_s.iter().enumerate() {
        seen[at + 2].at_unix_ms = seen[at + 1].at_unix_ms + 1000 * seconds;
    }
    (seen, tables.pop().unwrap())
}

/// How an attempt played so goes on by a rest that comes so many seconds later, behind a gap: its run, how it
/// ended, and whether the rest is asked about.
fn behind_a_gap(
    takes_s: &[i64],
    lies: impl Fn(Lying) -> Lying,
    (took_s, gap_s): (i64, u64),
) -> (u32, Option<Cause>, bool) {
    let (mut seen, before) = one_by_one(takes_s);
    let last = seen.last().unwrap();
    let (id, at_unix_ms) = (last.id + 1, last.at_unix_ms + 1000 * took_s);
    let layout = rests(&[lies(before)]).pop().unwrap().layout;
    seen.push(RestSeen { id, at_unix_ms, unseen_ms: 1000 * gap_s, layout });
    let story = follow(&seen, &[]);
    let (run, over) = runs(&story)[0];
    (run - takes_s.len() as u32, over, asked(&story).contains(&id))
}

const EVEN: [i64; 11] = [20, 22, 19, 24, 21, 18, 23, 20, 21, 19, 22];
const UNEVEN: [i64; 11] = [9, 45, 14, 80, 21, 11, 60, 8, 30, 13, 52];

fn fewer(balls: usize) -> impl Fn(Lying) -> Lying {
    move |lying| with_cue(without(lying, balls), 640.0, 1000.0)
}

#[test]
fn who_plays_evenly_has_not_played_twice_in_the_time_of_one_shot() {
    assert_eq!(behind_a_gap(&EVEN, fewer(1), (20, 6)), (2, None, false));
    assert_eq!(
        behind_a_gap(&EVEN[..3], fewer(1), (20, 6)),
        (2, None, true),
        "a pace of three shots"
    );
}

#[test]
fn two_balls_in_the_time_of_two_shots_were_two_shots() {
    assert_eq!(behind_a_gap(&EVEN, fewer(2), (42, 6)), (3, None, false));
    assert_eq!(behind_a_gap(&UNEVEN, fewer(2), (42, 6)), (3, None, true));
}

#[test]
fn balls_moved_in_much_less_time_than_a_shot_takes_may_have_been_moved_by_hand() {
    let asked = |took_s| behind_a_gap(&EVEN, moved, (took_s, 4)).2;
    assert_eq!([asked(5), asked(20)], [true, false]);
}

#[test]
fn balls_that_went_one_by_one_behind_a_gap_leave_no_doubt_at_a_miss() {
    let (mut seen, before) = one_by_one(&EVEN[..10]);
    let last = seen.last().unwrap();
    let (id, at_unix_ms) = (last.id, last.at_unix_ms);
    let both = fewer(2)(before);
    let layouts = rests(&[both.clone(), moved(both)]).into_iter().map(|rest| rest.layout);
    let times = [(42_000, 6000), (62_000, 200)];
    seen.extend(layouts.zip(1..).zip(times).map(|((layout, n), (ms, unseen_ms))| RestSeen {
        id: id + n,
        at_unix_ms: at_unix_ms + ms,
        unseen_ms,
        layout,
    }));
    // The ball that moved could be any, as far as its number goes.
    let unnamed = &mut seen.last_mut().unwrap().layout.balls[0];
    (unnamed.number, unnamed.number_confidence) = (None, 0.0);
    let story = follow(&seen, &[]);
    assert_eq!((runs(&story), asked(&story)), (vec![(13, Some(Cause::Miss))], vec![]));
}

#[test]
fn what_is_told_again_before_a_gap_leaves_the_time_open() {
    let (mut seen, before) = one_by_one(&EVEN);
    let last = seen.last().unwrap().clone();
    seen.push(RestSeen { id: last.id + 1, at_unix_ms: last.at_unix_ms + 3000, ..last.clone() });
    let layout = rests(&[fewer(1)(before)]).pop().unwrap().layout;
    let at_unix_ms = last.at_unix_ms + 20_000;
    seen.push(RestSeen { id: last.id + 2, at_unix_ms, unseen_ms: 6000, layout });
    assert_eq!(asked(&follow(&seen, &[])), [last.id + 2]);
}
