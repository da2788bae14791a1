//! Closed forms of a ball's motion and of two balls' contact.

use super::given::*;
use crate::motion::{Bed, EventKind, Hit, Phase, Physics};
use std::f64::consts::PI;

/// A pocket-free stretch: along the middle of the table toward the foot.
fn lone(height: f64, speed_m_s: f64) -> crate::motion::Shot {
    shoot(&bed(), &[placed(CUE, 400.0, 700.0)], Hit { height, ..Hit::centre(0.0, speed_m_s) })
}

#[test]
fn a_centre_hit_slides_then_rolls_at_five_sevenths() {
    let physics = Physics::default();
    let grip = physics.sliding_friction * physics.gravity_m_s2;
    for v in [0.3, 1.0, 2.0, 2.8] {
        let shot = lone(0.0, v);
        let rolls = &shot.events[1];
        assert_eq!(rolls.kind, EventKind::Change { into: Phase::Roll });
        let change = after(rolls, CUE);
        let slid_m = (change.place.x_mm - 400.0) / 1000.0;
        assert!((slid_m / (12.0 * v * v / (49.0 * grip)) - 1.0).abs() < 1e-9);
        assert!((speed(change.velocity_after_m_s) / (5.0 / 7.0 * v) - 1.0).abs() < 1e-9);
        assert!((rolls.t_s / (2.0 * v / (7.0 * grip)) - 1.0).abs() < 1e-9);
    }
}

#[test]
fn a_ball_hit_at_seven_fifths_of_its_radius_rolls_at_once() {
    // Two fifths of the radius above the middle: 0.8 of what the tip holds.
    let shot = lone(0.8, 1.0);
    let rolled_out = 1.0 / (2.0 * 0.010 * 9.81);
    let before_cushion = shot.events.iter().find(|e| e.t_s > 0.0).unwrap();
    assert_eq!(before_cushion.kind, EventKind::Cushion, "{rolled_out} m would roll it out");
    let slow = lone(0.8, 0.5);
    let rest = &slow.events[1];
    assert_eq!(rest.kind, EventKind::Change { into: Phase::Rest });
    let rolled_m = (after(rest, CUE).place.x_mm - 400.0) / 1000.0;
    assert!((rolled_m / (0.25 / (2.0 * 0.010 * 9.81)) - 1.0).abs() < 1e-9);
    assert!((rest.t_s / (0.5 / (0.010 * 9.81)) - 1.0).abs() < 1e-9);
}

#[test]
fn follow_gains_and_draw_comes_back() {
    let final_roll = |height: f64| {
        let shot = lone(height, 1.0);
        let roll = shot.events.iter().find(|e| e.kind == EventKind::Change { into: Phase::Roll });
        after(roll.unwrap(), CUE).velocity_after_m_s[0]
    };
    // v_roll = 5/7 v + 2/7 ω R, with ω R = 5/2 · height/2 · v.
    for height in [-1.0, -0.8, -0.3, 0.3, 1.0] {
        let expected = 5.0 / 7.0 + 2.0 / 7.0 * 2.5 * 0.5 * height;
        assert!((final_roll(height) - expected).abs() < 1e-9, "{height}");
    }
}

#[test]
fn side_spin_dies_at_its_rate_and_does_not_bend_a_level_hit() {
    let shot = lone_with_side(1.0);
    let tip = after(&shot.events[0], CUE).spin_after_rad_s[2];
    // Right side turns it counter-clockwise as seen from above.
    assert!((tip - 2.5 * 0.5 / RADIUS_M).abs() < 1e-9);
    let roll = after(&shot.events[1], CUE);
    assert!((roll.place.y_mm - 700.0).abs() < 1e-9);
    assert!((roll.spin_after_rad_s[2] - (tip - 10.0 * shot.events[1].t_s)).abs() < 1e-9);
}

fn lone_with_side(side: f64) -> crate::motion::Shot {
    shoot(&bed(), &[placed(CUE, 400.0, 700.0)], Hit { side, ..Hit::centre(0.0, 1.0) })
}

#[test]
fn an_elevated_hit_with_side_swerves_to_that_side() {
    for (side, sign) in [(0.8, -1.0), (-0.8, 1.0)] {
        let hit = Hit { side, elevation_rad: 0.5, ..Hit::centre(0.0, 1.5) };
        let shot = shoot(&bed(), &[placed(CUE, 400.0, 700.0)], hit);
        let roll = after(&shot.events[1], CUE);
        assert!(sign * (roll.place.y_mm - 700.0) > 1.0, "{:?}", roll.place);
        // Its way bends: the slide's parabola ends at another direction than it began.
        assert!(sign * roll.velocity_after_m_s[1] > 0.01);
    }
}

/// The cue ball's first contact with ball 1 at a cut angle, the hit from the left.
fn cut(bed: &Bed, cut_rad: f64, hit: Hit, gap_mm: f64) -> crate::motion::Shot {
    let (x, y) = (1500.0, 635.0);
    // Ghost ball: the object ball leaves at the cut angle.
    let ghost = (x - 57.15 * cut_rad.cos(), y - 57.15 * cut_rad.sin());
    shoot(bed, &[placed(CUE, ghost.0 - gap_mm, ghost.1), placed(1, x, y)], hit)
}

#[test]
fn stun_leaves_at_a_right_angle() {
    for degrees in [5.0, 15.0, 30.0, 45.0, 60.0, 80.0_f64] {
        let shot = cut(&ideal(), degrees.to_radians(), Hit::centre(0.0, 2.0), 1e-4);
        let meeting = first_meeting(&shot);
        let ([ax, ay], [bx, by]) =
            (after(meeting, CUE).velocity_after_m_s, after(meeting, 1).velocity_after_m_s);
        let cos = (ax * bx + ay * by) / (ax.hypot(ay) * bx.hypot(by));
        assert!(cos.abs() < 1e-3, "{degrees}°: {cos}");
        assert!((by.atan2(bx) - degrees.to_radians()).abs() < 1e-4, "{degrees}°");
    }
}

#[test]
fn a_rolling_cue_ball_turns_by_the_natural_angle() {
    for degrees in [10.0, 20.0, 30.0, 45.0, 60.0_f64] {
        let cut_rad = degrees.to_radians();
        let roll = Hit { height: 0.8, ..Hit::centre(0.0, 1.0) };
        let shot = cut(&ideal(), cut_rad, roll, 100.0);
        let meeting_s = first_meeting(&shot).t_s;
        let rolls = of_ball(&shot, CUE)
            .find(|(e, _)| e.t_s > meeting_s && e.kind == EventKind::Change { into: Phase::Roll });
        let [x, y] = rolls.unwrap().1.velocity_after_m_s;
        let expected = (cut_rad.sin() * cut_rad.cos() / (cut_rad.sin().powi(2) + 0.4)).atan();
        assert!(((-y).atan2(x) / expected - 1.0).abs() < 1e-3, "{degrees}°: {}", (-y).atan2(x));
    }
    let half: f64 = 30.0_f64.to_radians();
    let turn = (half.sin() * half.cos() / (half.sin().powi(2) + 0.4)).atan();
    assert!((turn * 180.0 / PI - 33.7).abs() < 0.05);
}

#[test]
fn a_full_hit_passes_on_what_restitution_leaves() {
    let shot = cut(&bed(), 0.0, Hit::centre(0.0, 2.0), 1e-4);
    let meeting = first_meeting(&shot);
    let arrives = speed(after(meeting, CUE).velocity_before_m_s);
    assert!((after(meeting, 1).velocity_after_m_s[0] / arrives - 0.97).abs() < 1e-9);
    assert!((after(meeting, CUE).velocity_after_m_s[0] / arrives - 0.03).abs() < 1e-9);
}

#[test]
fn friction_throws_the_object_ball_and_side_undoes_it() {
    let half = 30.0_f64.to_radians();
    let direction = |side: f64| {
        let shot = cut(&bed(), half, Hit { side, ..Hit::centre(0.0, 2.0) }, 1e-4);
        let [x, y] = after(first_meeting(&shot), 1).velocity_after_m_s;
        y.atan2(x)
    };
    // Thrown along with the cue ball's surface: the cut comes out thinner in angle. Where the
    // surfaces slide throughout, by atan μ (Wallace & Schroeder 1988).
    let thrown = half - direction(0.0);
    assert!((thrown - 0.06_f64.atan()).abs() < 1e-4, "{thrown}");
    // Outside side turns its surface along with the object ball's.
    let gearing = (direction(0.4) - half).abs();
    assert!(gearing < 0.01, "{gearing}");
}

#[test]
fn a_square_bank_comes_back_with_the_cushions_restitution() {
    // A stun at the cushion: hit so close to it that hardly any roll comes about.
    let y_mm = 1270.0 - 27.6;
    let balls = [placed(CUE, 900.0, y_mm - 1.0)];
    let shot = shoot(&bed(), &balls, Hit::centre(PI / 2.0, 2.0));
    let (_, bank) = of_ball(&shot, CUE).find(|(e, _)| e.kind == EventKind::Cushion).unwrap();
    let ratio = -bank.velocity_after_m_s[1] / bank.velocity_before_m_s[1];
    // The nose stands above the middle: friction on the slope adds or takes a few percent.
    assert!((ratio - 0.85).abs() < 0.08, "{ratio}");
    let flat = Physics { cushion_friction: 0.0, ..Physics::default() };
    let shot = shoot(&Bed::new(&TABLE, &flat).unwrap(), &balls, Hit::centre(PI / 2.0, 2.0));
    let (_, bank) = of_ball(&shot, CUE).find(|(e, _)| e.kind == EventKind::Cushion).unwrap();
    let ratio = -bank.velocity_after_m_s[1] / bank.velocity_before_m_s[1];
    assert!((ratio - 0.85).abs() < 1e-9, "{ratio}");
}

#[test]
fn running_side_lengthens_a_bank_and_check_side_shortens_it() {
    let along = |side: f64| {
        let hit = Hit { side, ..Hit::centre(PI / 4.0, 2.0) };
        let shot = shoot(&bed(), &[placed(CUE, 600.0, 900.0)], hit);
        let (_, bank) = of_ball(&shot, CUE).find(|(e, _)| e.kind == EventKind::Cushion).unwrap();
        let [x, y] = bank.velocity_after_m_s;
        x / -y
    };
    // Check side only turns the friction that slides already; running side takes it away.
    assert!(along(0.8) > along(0.0) + 0.2 && along(-0.8) < along(0.0));
}
