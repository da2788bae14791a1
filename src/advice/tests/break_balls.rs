//! Break balls and nudges: what lies well is told so, and a nudge does what it says.

use super::*;
use crate::advice::{Bound, BreakBalls, outcome};
use crate::random::Random;

fn break_balls(balls: &[Placed]) -> BreakBalls {
    let bed = bed();
    advisor(&bed, Level::Club).break_balls(balls, &Bound::default())
}

#[test]
fn a_ball_beside_the_rack_lies_well_and_one_at_the_head_is_none() {
    let found = break_balls(&balls(&[(1270.0, 500.0), (2010.0, 860.0), (500.0, 300.0)]));
    assert_eq!(found.candidates.iter().map(|found| found.ball).collect::<Vec<_>>(), [1]);
    assert!(found.candidates[0].lies_well && found.nudge.is_none(), "{found:?}");
}

/// Balls strewn over all but the foot end.
fn far_from_the_rack(seed: u64) -> Vec<Placed> {
    let mut random = Random::new(seed);
    let mut places: Vec<(f64, f64)> = Vec::new();
    while places.len() <= 4 {
        let at = (random.between(80.0, 1500.0), random.between(80.0, 1190.0));
        if places.iter().all(|p| (p.0 - at.0).hypot(p.1 - at.1) > 80.0) {
            places.push(at);
        }
    }
    balls(&places)
}

#[test]
fn a_nudge_brings_its_ball_where_it_says() {
    let bed = bed();
    let balls = far_from_the_rack(22);
    let found = break_balls(&balls);
    assert!(found.candidates.iter().all(|candidate| !candidate.lies_well), "{found:?}");
    let nudge = found.nudge.unwrap();
    assert!(nudge.next_shot_then.mean > nudge.next_shot_now.mean);
    let to = nudge.to.on_table(bed.table());
    let mut random = Random::new(99);
    let (mut hits, mut off_mm, mut made) = (0.0, 0.0, 0.0);
    for _ in 0..100 {
        let hit = Level::Club.prior().played(&nudge.hit, &mut random);
        let (played, _) = outcome::play(&bed, &balls, &hit).unwrap();
        hits += 1.0;
        let moved = played.after.iter().find(|ball| ball.id == nudge.moved);
        if let Some(moved) =
            moved.filter(|_| !played.scratch && played.has_dropped(nudge.ball, nudge.pocket))
        {
            made += 1.0;
            off_mm += moved.place.distance_mm(to);
        }
    }
    let told = nudge.probability;
    assert!((made / hits - told.mean).abs() < 2.0 * told.plus_minus + 0.05, "{made} {told:?}");
    assert!(off_mm / made < 1.4 * nudge.within_mm, "{} {nudge:?}", off_mm / made);
}
