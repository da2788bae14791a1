//! What cannot be is refused in words that name the ball or the field; what a reading may get wrong
//! by a little is put right.

use super::given::*;
use crate::layout::{Ball, BallKind, Layout};
use crate::motion::{
    Bed, Hit, HitError, Physics, Placed, PlayError, StartError, UNREAD_FROM, play,
};
use crate::table::{FootEnd, TablePoint};
use proptest::prelude::*;

fn refusal(balls: &[Placed]) -> String {
    play(&bed(), balls, CUE, &Hit::centre(0.0, 1.0)).unwrap_err().to_string()
}

#[test]
fn balls_that_cannot_lie_so_are_named() {
    let cue = placed(CUE, 700.0, 600.0);
    let cases = [
        (vec![placed(3, 700.0, 600.0)], "no cue ball"),
        (vec![], "no cue ball"),
        (vec![cue, placed(4, 720.0, 610.0)], "the cue ball and ball 4 overlap by 34.8 mm"),
        (vec![cue, placed(4, 700.0, 600.0)], "overlap by 57.1 mm"),
        (vec![cue, placed(9, 2600.0, 600.0)], "ball 9 lies at 2600.0, 600.0 mm"),
        (vec![cue, placed(9, 900.0, 10.0)], "ball 9 lies at 900.0, 10.0 mm"),
        (vec![cue, placed(9, f64::NAN, 10.0)], "ball 9 lies at NaN"),
        (vec![cue, placed(9, 900.0, f64::INFINITY)], "not on the table"),
        (vec![cue, placed(12, 2545.0, -5.0)], "ball 12 lies in a pocket"),
        (
            vec![cue, placed(2, 900.0, 300.0), placed(2, 900.0, 900.0)],
            "ball 2 lies on the table twice",
        ),
        ((0..17).map(|i| placed(i, 100.0 + 100.0 * i as f64, 300.0)).collect(), "17 balls"),
    ];
    for (balls, words) in cases {
        let said = refusal(&balls);
        assert!(said.contains(words), "'{words}' is missing in: {said}");
    }
}

#[test]
fn hits_that_cannot_be_are_named() {
    let good = Hit::centre(0.0, 1.0);
    let cases = [
        (Hit { speed_m_s: 0.0, ..good }, "speed"),
        (Hit { speed_m_s: f64::NAN, ..good }, "speed"),
        (Hit { speed_m_s: 1e9, ..good }, "speed"),
        (Hit { aim_rad: f64::INFINITY, ..good }, "aim"),
        (Hit { height: 1.5, ..good }, "height"),
        (Hit { side: -1.01, ..good }, "side"),
        (Hit { elevation_rad: 1.5, ..good }, "elevation"),
        (Hit { elevation_rad: -0.1, ..good }, "elevation"),
        (Hit { height: 0.9, side: 0.9, ..good }, "miscue"),
    ];
    for (hit, word) in cases {
        let refused = play(&bed(), &[placed(CUE, 700.0, 600.0)], CUE, &hit).unwrap_err();
        assert!(matches!(
            refused,
            PlayError::Hit(HitError::OutOfRange { .. } | HitError::Miscue { .. })
        ));
        assert!(refused.to_string().contains(word), "{refused}");
    }
}

#[test]
fn absurd_physics_is_refused_by_field() {
    let json = serde_json::to_value(Physics::default()).unwrap();
    for (field, _) in json.as_object().unwrap() {
        for value in [-1.0, 1e9] {
            let mut changed = json.clone();
            changed[field] = value.into();
            let physics: Physics = serde_json::from_value(changed).unwrap();
            let refused = Bed::new(&TABLE, &physics).unwrap_err();
            assert_eq!(refused.field, field);
            assert!(refused.to_string().contains(field.as_str()));
        }
    }
    let nan = Physics { sliding_friction: f64::NAN, ..Physics::default() };
    assert!(Bed::new(&TABLE, &nan).is_err());
}

#[test]
fn a_file_may_set_some_parameters_and_none_that_is_not_there() {
    let some: Physics = serde_json::from_str(r#"{"ball_restitution": 0.9}"#).unwrap();
    assert_eq!(some, Physics { ball_restitution: 0.9, ..Physics::default() });
    assert!(serde_json::from_str::<Physics>(r#"{"ball_restitutoin": 0.9}"#).is_err());
}

#[test]
fn small_overlaps_of_a_reading_are_put_right_evenly() {
    // A pair read half a millimetre too near, and a ball read into the cushion.
    let balls = [
        placed(CUE, 400.0, 900.0),
        placed(1, 1000.0, 600.0),
        placed(2, 1056.65, 600.0),
        placed(3, 1500.0, 26.9),
    ];
    let shot = shoot(&bed(), &balls, Hit::centre(std::f64::consts::PI, 0.1));
    let place = |ball| lies(&shot, ball).unwrap();
    assert!((place(1).x_mm - 999.75).abs() < 1e-6 && (place(2).x_mm - 1056.9).abs() < 1e-6);
    let reach_mm = 57.15 / 2.0 * (1.0 - 0.27_f64 * 0.27).sqrt();
    assert!((place(3).y_mm - reach_mm).abs() < 1e-6 && (place(3).x_mm - 1500.0).abs() < 1e-6);
}

fn ball(kind: BallKind, number: Option<u8>, x: f64, y: f64) -> Ball {
    Ball { kind, number, x, y, sigma_mm: 0.3, confidence: 1.0, number_confidence: 0.9 }
}

#[test]
fn a_layout_gives_its_balls_names_and_gets_them_back() {
    let balls = vec![
        ball(BallKind::Object, None, 2.0, 1.0),
        ball(BallKind::Cue, Some(0), 4.0, 2.0),
        ball(BallKind::Object, Some(7), 6.0, 2.0),
    ];
    let mut layout = Layout::of(TABLE, FootEnd::Given, balls);
    let placed = Placed::all_of(&layout).unwrap();
    assert_eq!(placed.iter().map(|p| p.id).collect::<Vec<_>>(), [UNREAD_FROM, 0, 7]);
    let shot = shoot(&bed(), &placed, Hit::centre(0.0, 1.0));
    let after = shot.layout_after(&layout);
    assert_eq!(after.balls[0], layout.balls[0]);
    assert!(after.balls[2].x != 6.0 && after.balls[2].number == Some(7));
    layout.balls.remove(1);
    assert_eq!(Placed::all_of(&layout), Err(StartError::NoCueBall));
}

#[test]
fn a_pot_is_pocketed_and_gone_from_the_layout() {
    let balls =
        vec![ball(BallKind::Cue, Some(0), 5.0, 1.0), ball(BallKind::Object, Some(9), 7.0, 3.0)];
    let layout = Layout::of(TABLE, FootEnd::Given, balls);
    let shot = shoot(
        &bed(),
        &Placed::all_of(&layout).unwrap(),
        // Drawn, so that the cue ball does not follow into the pocket.
        Hit { height: -0.8, ..Hit::centre(std::f64::consts::FRAC_PI_4, 2.0) },
    );
    assert_eq!(lies(&shot, 9), None);
    assert_eq!(shot.layout_after(&layout).balls.len(), 1);
    let (_, gone) = shot.places_at(shot.duration_s)[1];
    assert_eq!(gone, None);
    let way = shot.path(9, 0.5);
    let foot_corner = TablePoint::new(2540.0, 1270.0);
    assert!(way.last().unwrap().distance_mm(foot_corner) < 60.0, "{way:?}");
}

proptest! {
    #![proptest_config(cases(500))]

    /// Whatever numbers come in, an answer comes out.
    #[test]
    fn no_number_makes_it_stumble(
        balls in proptest::collection::vec((0..20_usize, any::<f64>(), any::<f64>()), 0..18),
        numbers in proptest::array::uniform5(any::<f64>()),
    ) {
        let mut balls: Vec<Placed> =
            balls.into_iter().map(|(id, x, y)| placed(id, x, y)).collect();
        balls.push(placed(CUE, 700.0, 600.0));
        let [aim_rad, speed_m_s, height, side, elevation_rad] = numbers;
        let _ = play(&bed(), &balls, CUE, &Hit { aim_rad, speed_m_s, height, side, elevation_rad });
        let _ = play(&bed(), &balls, CUE, &Hit::centre(0.3, 3.0));
    }

    /// Readings that are off by a little are played from, whatever overlaps.
    #[test]
    fn a_rack_read_with_errors_can_be_broken(
        off in proptest::collection::vec((-0.5..0.5_f64, -0.5..0.5_f64), 16),
        aim_rad in -0.05..0.05_f64,
    ) {
        let balls: Vec<Placed> = racked(placed(CUE, 600.0, 635.0))
            .iter()
            .zip(off)
            .map(|(ball, (x, y))| placed(ball.id, ball.place.x_mm + x, ball.place.y_mm + y))
            .collect();
        super::wild::hold(&shoot(&bed(), &balls, Hit::centre(aim_rad, 6.0)))?;
    }
}
