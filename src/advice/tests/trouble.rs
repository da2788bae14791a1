//! Trouble: what is told to be shut cannot be potted, what is told to open it does.

use super::*;
use crate::advice::{Bound, Trouble, outcome};
use crate::random::Random;

/// Ball 1 in a ring of six, and two balls that lie free.
pub(super) const CLUSTERED: [(f64, f64); 10] = [
    (1400.0, 900.0),
    (1905.0, 635.0),
    (1962.3, 635.0),
    (1847.7, 635.0),
    (1933.7, 684.7),
    (1876.3, 684.7),
    (1933.7, 585.3),
    (1876.3, 585.3),
    (2300.0, 1050.0),
    (500.0, 300.0),
];

fn trouble(places: &[(f64, f64)]) -> Trouble {
    let bed = bed();
    let balls = balls(places);
    advisor(&bed, Level::Club).trouble(&balls, None, &Bound::default())
}

#[test]
fn a_ball_in_a_ring_of_others_is_shut_and_the_ring_a_cluster() {
    let found = trouble(&CLUSTERED);
    println!("{found:#?}");
    assert!(found.closed.iter().any(|closed| closed.ball == 1), "{found:#?}");
    assert_eq!(found.clusters.len(), 1);
    assert_eq!(found.clusters[0].balls, [1, 2, 3, 4, 5, 6, 7]);
    for free in [8, 9] {
        assert!(found.closed.iter().all(|closed| closed.ball != free), "{free}");
    }
}

#[test]
fn the_ball_in_the_way_is_named() {
    // Ball 1 tight on the rail has the near corner alone, and ball 2 lies before that.
    let found = trouble(&[(1400.0, 900.0), (2350.0, 30.0), (2450.0, 42.0), (700.0, 700.0)]);
    println!("{found:#?}");
    let shut = found.closed.iter().find(|closed| closed.ball == 1).unwrap();
    assert_eq!(shut.blockers, [2]);
}

#[test]
fn a_pair_in_line_with_a_pocket_is_dead_and_one_out_of_line_is_not() {
    let corner = TablePoint::new(2540.0, 1270.0);
    let last = TablePoint::new(2200.0, 1000.0);
    let pair = |off_rad: f64| {
        let before = last.moved(corner.direction_to(last) + off_rad, 57.15);
        trouble(&[(1400.0, 700.0), (before.x_mm, before.y_mm), (last.x_mm, last.y_mm)]).dead
    };
    let dead = pair(0.0);
    assert!(dead.iter().any(|d| (d.ball, d.pocket, d.first) == (2, 2, 1)), "{dead:?}");
    assert_eq!(pair(0.35), []);
}

#[test]
fn a_break_out_does_what_is_told_of_it() {
    let bed = bed();
    let balls = balls(&CLUSTERED);
    let mut advisor = advisor(&bed, Level::Club);
    let found = advisor.trouble(&balls, None, &Bound::default());
    let best = found.break_outs.first().unwrap();
    println!("{best:#?} {:#?}", found.timing);
    // As meant it meets the cluster where it says.
    let (played, shot) = outcome::play(&bed, &balls, &best.hit).unwrap();
    assert!(played.has_dropped(best.ball, best.pocket) && !played.scratch);
    let at = best.at.on_table(bed.table());
    let meets = shot.events.iter().any(|event| {
        let of = |id| event.balls.iter().find(|change| change.ball == id);
        of(0).is_some_and(|cue| cue.place.distance_mm(at) < 0.1) && of(best.meets).is_some()
    });
    assert!(meets && best.cluster.contains(&best.meets));
    // With errors it goes on, and frees balls, as often as told.
    let before = &found.clusters[0].closed;
    let mut random = Random::new(77);
    let (mut made, mut freed, mut hits) = (0.0, 0.0, 0.0);
    for _ in 0..150 {
        let hit = Level::Club.prior().played(&best.hit, &mut random);
        let (played, _) = outcome::play(&bed, &balls, &hit).unwrap();
        hits += 1.0;
        if !played.scratch && played.has_dropped(best.ball, best.pocket) {
            made += 1.0;
            let lying: Vec<Placed> = outcome::objects(&played.after).copied().collect();
            let closed = advisor.closed(&lying);
            freed += before.iter().filter(|id| !closed.contains(id)).count() as f64;
        }
    }
    let off = |told: crate::advice::Estimate, is: f64| {
        assert!((told.mean - is).abs() < 2.0 * told.plus_minus + 0.05, "{told:?} {is}");
    };
    off(best.probability, made / hits);
    off(best.freed, freed / made);
}
