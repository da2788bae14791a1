//! No layout and no hit makes it stumble: no overlap, no endless bouncing, no number that is none.

use super::given::*;
use crate::motion::{Hit, MOST_EVENTS, Placed, Shot};
use proptest::prelude::*;

/// The deepest overlap of two balls at any event, in millimetres.
fn deepest_mm(shot: &Shot) -> f64 {
    let mut deepest: f64 = 0.0;
    for event in &shot.events {
        let places = shot.places_at(event.t_s);
        for (i, (_, a)) in places.iter().enumerate() {
            for (_, b) in &places[..i] {
                if let (Some(a), Some(b)) = (a, b) {
                    deepest = deepest.max(57.15 - a.distance_mm(*b));
                }
            }
        }
    }
    deepest
}

pub fn hold(shot: &Shot) -> Result<(), TestCaseError> {
    prop_assert!(
        !shot.cut_short && shot.events.len() < MOST_EVENTS,
        "{} events",
        shot.events.len()
    );
    prop_assert!(shot.duration_s.is_finite());
    for rest in &shot.rest {
        if let Some(place) = lies(shot, rest.ball) {
            let inside =
                (-80.0..=2620.0).contains(&place.x_mm) && (-80.0..=1350.0).contains(&place.y_mm);
            prop_assert!(inside, "ball {} ended at {place:?}", rest.ball);
        }
    }
    let deepest = deepest_mm(shot);
    prop_assert!(deepest < 1e-6, "balls overlap by {deepest} mm");
    Ok(())
}

fn many(balls: &[Placed], hit: Hit) -> Result<(), TestCaseError> {
    hold(&shoot(&bed(), balls, hit))?;
    hold(&shoot(&ideal(), balls, hit))
}

proptest! {
    #![proptest_config(cases(400))]

    #[test]
    fn any_shot_comes_to_rest(balls in any_balls(16), hit in any_hit()) {
        many(&balls, hit)?;
    }

    #[test]
    fn any_break_comes_to_rest(y in 300.0..900.0_f64, off in -0.03..0.03_f64, hit in any_hit()) {
        let aim_rad = (635.0 - y).atan2(1305.0) + off;
        many(&racked(placed(CUE, 600.0, y)), Hit { aim_rad, ..hit })?;
    }
}
