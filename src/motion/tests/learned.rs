//! A table's own values come back from what is seen on it.

use super::given::*;
use crate::motion::{
    Bed, EventKind, Hit, LearnError, LeftToRoll, Phase, Physics, cushion_restitution,
    rolling_resistance,
};
use proptest::prelude::*;

proptest! {
    #[test]
    fn the_cloths_speed_comes_back_from_a_roll(resistance in 0.004..0.02_f64, v in 0.2..0.5_f64) {
        let physics = Physics { rolling_resistance: resistance, ..Physics::default() };
        let bed = Bed::new(&TABLE, &physics).unwrap();
        let roll = Hit { height: 0.8, ..Hit::centre(0.0, v) };
        let shot = shoot(&bed, &[placed(CUE, 200.0, 600.0)], roll);
        prop_assume!(shot.events.len() == 2);
        let x_mm = |t_s: f64| shot.places_at(t_s)[0].1.unwrap().x_mm;
        let seen: Vec<LeftToRoll> = (0..20)
            .map(|i| {
                let t_s = shot.duration_s * f64::from(i) / 20.0;
                LeftToRoll { t_s, left_m: (x_mm(shot.duration_s) - x_mm(t_s)) / 1000.0 }
            })
            .collect();
        let (found, error) = rolling_resistance(&seen, 9.81).unwrap();
        prop_assert!((found / resistance - 1.0).abs() < 1e-6, "{found} for {resistance}");
        prop_assert!(error < 1e-6);
    }

    #[test]
    fn a_cushion_comes_back_from_a_bank(restitution in 0.4..0.98_f64, v in 0.5..1.5_f64) {
        let physics = Physics { cushion_restitution: restitution, ..Physics::default() };
        let own = Bed::new(&TABLE, &physics).unwrap();
        let roll = Hit { height: 0.8, ..Hit::centre(std::f64::consts::FRAC_PI_2, v) };
        let shot = shoot(&own, &[placed(CUE, 900.0, 900.0)], roll);
        let speed_at = |kind: EventKind| {
            let (_, change) = of_ball(&shot, CUE).find(|(e, _)| e.kind == kind).unwrap();
            speed(change.velocity_before_m_s)
        };
        let into = speed_at(EventKind::Cushion);
        let away = speed_at(EventKind::Change { into: Phase::Roll });
        // Read off with the start values, which know nothing of this cushion.
        let found = cushion_restitution(&bed(), into, away).unwrap();
        prop_assert!((found / restitution - 1.0).abs() < 1e-6, "{found} for {restitution}");
    }
}

#[test]
fn noise_shows_in_the_standard_error() {
    let seen: Vec<LeftToRoll> = (0..20)
        .map(|i| {
            let to_come_s = 3.0 - f64::from(i) * 0.1;
            // Two millimetres to and fro.
            let noise = 0.002 * f64::from(i % 3 - 1);
            let left_m = 0.5 * 0.01 * 9.81 * to_come_s * to_come_s + noise;
            LeftToRoll { t_s: -to_come_s, left_m }
        })
        .collect();
    let (found, error) = rolling_resistance(&seen, 9.81).unwrap();
    assert!(error > 1e-6 && (found - 0.01).abs() < 3.0 * error, "{found} ± {error}");
}

#[test]
fn what_is_no_roll_and_no_bank_is_refused() {
    let at = |t_s: f64, left_m: f64| LeftToRoll { t_s, left_m };
    let few = [at(0.0, 0.0), at(1.0, 1.0), at(2.0, 1.5)];
    assert!(matches!(rolling_resistance(&few, 9.81), Err(LearnError::TooFew { count: 3 })));
    let at_once = [at(1.0, 0.0), at(1.0, 1.0), at(1.0, 1.5), at(1.0, 1.6)];
    assert!(rolling_resistance(&at_once, 9.81).is_err());
    let faster = [at(0.0, 0.0), at(1.0, 1.0), at(2.0, 3.0), at(3.0, 6.0)];
    assert!(matches!(rolling_resistance(&faster, 9.81), Err(LearnError::NotRolling { .. })));
    for (into, away) in [(1.0, 1.2), (1.0, -0.1), (0.0, 0.0), (f64::NAN, 1.0), (-1.0, 0.5)] {
        assert!(cushion_restitution(&bed(), into, away).is_err(), "{into} {away}");
    }
}
