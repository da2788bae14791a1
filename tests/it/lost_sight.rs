//! A camera that loses sight of the table: whether balls rolled just then.

use std::time::Duration;
use stillcloth::{
    camera::picture,
    layout::Layout,
    service::{Following, FrameReader, TableReader},
    staged::session::{SessionOptions, StagedSession},
    vision::CalibrateOptions,
};

/// The layouts of the rests in a part of a made-up session, in seconds of it.
fn layouts(seed: u64, [from_s, to_s]: [u64; 2]) -> Vec<Layout> {
    let mut session = StagedSession::new(seed, SessionOptions::quick()).unwrap();
    let mut reader = TableReader::keeping_nothing(CalibrateOptions::default());
    let mut layouts = Vec::new();
    while let Some(at) = session.next_time().filter(|at| *at < Duration::from_secs(to_s)) {
        if at < Duration::from_secs(from_s) {
            session.skip_frame();
            continue;
        }
        let frame = picture::decode(&session.next_frame().unwrap().as_jpeg().unwrap()).unwrap();
        let look = reader.watch(&frame, at).unwrap();
        layouts.extend(look.rest.map(|rest| rest.layout));
    }
    layouts
}

#[test]
fn balls_that_roll_into_a_gap_are_told_with_the_rest_behind_it() {
    // A stroke at 761.1 s, sight lost 1.6 s later, a second stroke's balls rolling when it is back.
    let rests = layouts(946, [756, 776]);
    let told: Vec<_> = rests.iter().map(|rest| (rest.rolled, rest.lost_rolling_ms)).collect();
    let [_, (rolled, Some(lost_rolling_ms))] = told[..] else { panic!("{told:?}") };
    assert_eq!(rolled, Some(true));
    assert!((13_000..14_600).contains(&lost_rolling_ms), "{lost_rolling_ms}");
}

#[test]
fn who_leans_in_to_aim_before_a_gap_rolls_no_balls() {
    let told: Vec<_> = layouts(960, [16, 26]).iter().map(|rest| rest.lost_rolling_ms).collect();
    assert_eq!(told, [None, None]);
}

#[test]
fn a_rack_that_stood_for_a_moment_before_a_gap_is_told_with_its_own_time() {
    // Racked again at 134.2 s; all fifteen racked from 139.2 s on, sight lost from 140.1 to 142.0 s, broken
    // at 143.9 s.
    let mut session = StagedSession::new(1006, SessionOptions::quick()).unwrap();
    let reader = TableReader::keeping_nothing(CalibrateOptions::default());
    let mut following = Following::new(Box::new(reader));
    let mut told = Vec::new();
    while let Some(at) = session.next_time().filter(|at| *at < Duration::from_secs(151)) {
        if at < Duration::from_secs(130) {
            session.skip_frame();
            continue;
        }
        let frame = picture::decode(&session.next_frame().unwrap().as_jpeg().unwrap()).unwrap();
        let followed = following.watch(&frame, at).unwrap();
        let rests = followed.told.into_iter().filter_map(|told| Some((told.at_s, told.layout?)));
        told.extend(rests.map(|(at_s, layout)| (at_s, layout.balls.len())));
    }
    let balls: Vec<usize> = told.iter().map(|rest| rest.1).collect();
    assert_eq!(balls, [2, 16, 16, 15]);
    assert!((139.5..140.2).contains(&told[2].0), "{told:?}");
}
