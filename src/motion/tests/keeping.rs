//! What contacts keep: momentum and energy; and rows of frozen balls that pass a hit on.

use super::given::*;
use crate::motion::{EventKind, Hit, Shot};
use proptest::prelude::*;

/// Holds a shot to what physics keeps.
fn hold(shot: &Shot) -> Result<(), TestCaseError> {
    for event in &shot.events {
        let (mut momentum, mut gained) = ([0.0; 2], 0.0);
        for change in &event.balls {
            let (before, after) = energies(change);
            gained += after - before;
            let [before, after] = [change.velocity_before_m_s, change.velocity_after_m_s];
            for (sum, (after, before)) in momentum.iter_mut().zip(after.iter().zip(before)) {
                *sum += after - before;
            }
        }
        if event.kind == EventKind::Balls {
            prop_assert!(speed(momentum) < 1e-11, "{momentum:?} at {}", event.t_s);
        }
        if event.kind != EventKind::Tip {
            prop_assert!(gained < 1e-11, "{gained} J/kg from nothing at {event:?}");
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(400))]

    #[test]
    fn energy_never_grows_and_momentum_stays(balls in any_balls(16), hit in any_hit()) {
        hold(&shoot(&bed(), &balls, hit))?;
        hold(&shoot(&ideal(), &balls, hit))?;
    }

    #[test]
    fn so_it_is_with_a_break(y in 300.0..900.0_f64, off in -0.03..0.03_f64, v in 1.0..12.0_f64) {
        let aim_rad = (635.0 - y).atan2(1905.0 - 600.0) + off;
        let balls = racked(placed(CUE, 600.0, y));
        hold(&shoot(&bed(), &balls, Hit::centre(aim_rad, v)))?;
        hold(&shoot(&ideal(), &balls, Hit::centre(aim_rad, v)))?;
    }
}

/// A row of frozen balls along the table, the cue ball a hair before it.
fn row(bed: &crate::motion::Bed, count: usize) -> Vec<f64> {
    let mut balls = vec![placed(CUE, 700.0 - 57.15 - 0.1, 500.0)];
    balls.extend((0..count).map(|i| placed(i + 1, 700.0 + 57.15 * i as f64, 500.0)));
    let shot = shoot(bed, &balls, Hit::centre(0.0, 2.0));
    let meeting = first_meeting(&shot);
    let arrives = after(meeting, CUE).velocity_before_m_s[0];
    let speed_of = |ball: usize| {
        let change = meeting.balls.iter().find(|change| change.ball == ball);
        change.map_or(0.0, |change| change.velocity_after_m_s[0] / arrives)
    };
    (0..=count).map(speed_of).collect()
}

#[test]
fn a_frozen_row_passes_the_hit_on() {
    for count in 2..=6 {
        let speeds = row(&ideal(), count);
        let (last, others) = speeds.split_last().unwrap();
        assert!(*last > 0.9, "{speeds:?}");
        assert!(others.iter().all(|v| v.abs() < 0.15), "{speeds:?}");
    }
}

#[test]
fn two_balls_of_a_frozen_pair_take_the_hit_evenly() {
    // Between two frozen balls: both leave alike, the cue ball comes back.
    let half = 57.15 / 2.0;
    let x = 900.0 + 57.15 * 3.0_f64.sqrt() / 2.0;
    let balls = [placed(CUE, 899.9, 635.0), placed(1, x, 635.0 - half), placed(2, x, 635.0 + half)];
    let shot = shoot(&ideal(), &balls, Hit::centre(0.0, 2.0));
    let meeting = first_meeting(&shot);
    let (one, other) = (after(meeting, 1), after(meeting, 2));
    assert_eq!(one.velocity_after_m_s[0], other.velocity_after_m_s[0]);
    assert_eq!(one.velocity_after_m_s[1], -other.velocity_after_m_s[1]);
    // Without losses and friction momentum and energy leave one answer: 2√3/5 of v each, −1/5 back.
    let arrives = after(meeting, CUE).velocity_before_m_s[0];
    let back = after(meeting, CUE).velocity_after_m_s[0] / arrives;
    assert!((back + 0.2).abs() < 1e-3, "{back}");
}
