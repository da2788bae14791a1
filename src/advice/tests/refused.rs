//! What cannot be is refused in words that name the ball, the field or the measure.

use super::*;
use crate::advice::{Asked, Bound, advise};

const FINE: [(f64, f64); 3] = [(600.0, 600.0), (1900.0, 900.0), (2000.0, 300.0)];

fn refusal(layout: &Layout, physics: &Physics, player: Player) -> String {
    let asked = Asked { player, seed: 1, bound: Bound::of_positions(1) };
    advise(layout, physics, &asked).unwrap_err().to_string()
}

fn refused(layout: &Layout) -> String {
    refusal(layout, &Physics::default(), Level::Club.prior())
}

#[test]
fn layouts_that_cannot_be_are_refused_by_ball() {
    let changed = |change: &dyn Fn(&mut Layout)| {
        let mut layout = layout(&FINE);
        change(&mut layout);
        refused(&layout)
    };
    let seventeen: Vec<(f64, f64)> =
        (0..17).map(|i| (100.0 + 100.0 * f64::from(i), 300.0)).collect();
    let cases = [
        (
            changed(&|l| (l.balls[2].x, l.balls[2].y) = (l.balls[1].x - 0.1, l.balls[1].y)),
            "ball 1 and ball 2 overlap by",
        ),
        (
            changed(&|l| (l.balls[0].x, l.balls[0].y) = (l.balls[1].x, l.balls[1].y + 0.05)),
            "the cue ball and ball 1 overlap by",
        ),
        (changed(&|l| l.balls[1].x = 8.4), "ball 1 lies at"),
        (changed(&|l| l.balls[1].y = -3.0), "not on the table"),
        (changed(&|l| l.balls[2].y = f64::NAN), "ball 2 lies at"),
        (changed(&|l| l.balls[0].x = f64::INFINITY), "the cue ball lies at"),
        (changed(&|l| l.balls[2].number = Some(1)), "ball 1 lies on the table twice"),
        (changed(&|l| l.balls[2].kind = BallKind::Cue), "the cue ball lies on the table twice"),
        (changed(&|l| l.balls.truncate(0)), "no cue ball"),
        (changed(&|l| l.balls[0].kind = BallKind::Object), "no cue ball"),
        (refused(&layout(&seventeen)), "17 balls"),
        (changed(&|l| l.table.length_mm = 0.0), "0 × 1270 mm"),
        (changed(&|l| l.table.width_mm = f64::NAN), "NaN"),
        (changed(&|l| l.table.ball_diameter_mm = 0.0), "balls of 0 mm"),
    ];
    for (said, words) in cases {
        assert!(said.contains(words), "'{words}' is missing in: {said}");
    }
}

#[test]
fn physics_and_players_that_cannot_be_are_refused_by_field() {
    let layout = layout(&FINE);
    let physics = Physics { rolling_resistance: 9.0, ..Physics::default() };
    assert!(refusal(&layout, &physics, Level::Club.prior()).contains("rolling_resistance of 9"));
    let physics = Physics { gravity_m_s2: f64::NAN, ..Physics::default() };
    assert!(refusal(&layout, &physics, Level::Club.prior()).contains("gravity_m_s2"));
    for (player, field) in [
        (Player { aim_rad: -0.1, ..Player::FLAWLESS }, "aim_rad"),
        (Player { speed: f64::NAN, ..Player::FLAWLESS }, "speed"),
        (Player { tip: 7.0, ..Player::FLAWLESS }, "tip"),
        (Player { elevation_rad: f64::INFINITY, ..Player::FLAWLESS }, "elevation_rad"),
    ] {
        assert!(refusal(&layout, &Physics::default(), player).contains(field), "{field}");
    }
}

#[test]
fn a_layout_without_a_shot_gets_an_answer_all_the_same() {
    let alone = layout(&FINE[..1]);
    let asked = Asked { player: Level::Club.prior(), seed: 1, bound: Bound::of_positions(5) };
    let advice = advise(&alone, &Physics::default(), &asked).unwrap();
    assert!(advice.shots.is_empty() && advice.patterns.is_empty() && !advice.said.is_empty());
}
