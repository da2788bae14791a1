//! Tables, balls and hits for the tests, and what is read off a shot.

use crate::motion::{Bed, Change, Event, EventKind, Hit, Outcome, Physics, Placed, Shot, play};
use crate::table::{Rack, TablePoint, TableSize};
use proptest::prelude::*;

pub const TABLE: TableSize = TableSize::NINE_FOOT;
pub const RADIUS_M: f64 = 57.15e-3 / 2.0;
pub const CUE: usize = 0;

/// How many cases of a property are drawn: `few`, or as many as `PROPTEST_CASES` asks for.
pub fn cases(few: u32) -> ProptestConfig {
    let asked = std::env::var("PROPTEST_CASES").ok().and_then(|text| text.parse().ok());
    ProptestConfig::with_cases(asked.unwrap_or(few))
}

pub fn bed() -> Bed {
    Bed::new(&TABLE, &Physics::default()).unwrap()
}

/// Balls that lose nothing and do not rub.
pub fn ideal() -> Bed {
    let physics = Physics { ball_restitution: 1.0, ball_friction: 0.0, ..Physics::default() };
    Bed::new(&TABLE, &physics).unwrap()
}

pub fn placed(id: usize, x_mm: f64, y_mm: f64) -> Placed {
    Placed { id, place: TablePoint::new(exact(x_mm), exact(y_mm)) }
}

/// A number of millimetres whose distance from either rail is exact too: a place and its mirror
/// image are then equally far from the middle to the last bit, as a break's many contacts demand.
pub fn exact(mm: f64) -> f64 {
    const STEPS: f64 = (1_u64 << 30) as f64;
    (mm * STEPS).round() / STEPS
}

/// Fifteen in the rack and the cue ball.
pub fn racked(cue: Placed) -> Vec<Placed> {
    let rack = Rack::on(&TABLE);
    let balls = rack.places().iter().zip(1..).map(|(place, id)| Placed { id, place: *place });
    std::iter::once(cue).chain(balls).collect()
}

pub fn shoot(bed: &Bed, balls: &[Placed], hit: Hit) -> Shot {
    play(bed, balls, CUE, &hit).unwrap()
}

/// The events in which a ball takes part.
pub fn of_ball(shot: &Shot, ball: usize) -> impl Iterator<Item = (&Event, &Change)> {
    shot.events.iter().filter_map(move |event| {
        event.balls.iter().find(|change| change.ball == ball).map(|change| (event, change))
    })
}

pub fn first_meeting(shot: &Shot) -> &Event {
    shot.events.iter().find(|event| event.kind == EventKind::Balls).unwrap()
}

pub fn after(event: &Event, ball: usize) -> &Change {
    event.balls.iter().find(|change| change.ball == ball).unwrap()
}

pub fn speed([x, y]: [f64; 2]) -> f64 {
    x.hypot(y)
}

pub fn lies(shot: &Shot, ball: usize) -> Option<TablePoint> {
    match shot.rest.iter().find(|rest| rest.ball == ball).unwrap().outcome {
        Outcome::Lies(place) => Some(place),
        Outcome::Dropped { .. } => None,
    }
}

/// Kinetic energy per mass after and before a change.
pub fn energies(change: &Change) -> (f64, f64) {
    let of = |[x, y]: [f64; 2], spin: [f64; 3]| {
        let turn: f64 = spin.iter().map(|w| w * w).sum();
        0.5 * (x * x + y * y) + 0.2 * RADIUS_M * RADIUS_M * turn
    };
    (
        of(change.velocity_before_m_s, change.spin_before_rad_s),
        of(change.velocity_after_m_s, change.spin_after_rad_s),
    )
}

pub fn any_hit() -> impl Strategy<Value = Hit> {
    (0.0..std::f64::consts::TAU, 0.05..12.0_f64, 0.0..1.0_f64, 0.0..std::f64::consts::TAU, 0.0..0.6)
        .prop_map(|(aim_rad, speed_m_s, out, around, elevation_rad): (f64, f64, f64, f64, f64)| {
            let (height, side) = (out * around.sin(), out * around.cos());
            Hit { aim_rad, speed_m_s, height, side, elevation_rad }
        })
}

/// Balls anywhere on the bed, none overlapping; some of them frozen to others.
pub fn any_balls(most: usize) -> impl Strategy<Value = Vec<Placed>> {
    let one = (0.0..1.0_f64, 0.0..1.0_f64, any::<bool>(), 0.0..std::f64::consts::TAU);
    proptest::collection::vec(one, 1..=most).prop_map(|drawn| {
        let mut balls: Vec<Placed> = Vec::new();
        for (x, y, frozen, around) in drawn {
            let free = TablePoint::new(30.0 + x * 2480.0, 30.0 + y * 1210.0);
            let place = match balls.last() {
                Some(last) if frozen => TablePoint::new(
                    last.place.x_mm + 57.15 * around.cos(),
                    last.place.y_mm + 57.15 * around.sin(),
                ),
                _ => free,
            };
            let on_bed =
                (30.0..2510.0).contains(&place.x_mm) && (30.0..1240.0).contains(&place.y_mm);
            let clear = |other: &Placed| other.place.distance_mm(place) > 57.1499;
            let dropped = |p: &crate::table::Pocket| p.centre.distance_mm(place) < p.radius_mm;
            if on_bed && balls.iter().all(clear) && !TABLE.pockets().iter().any(dropped) {
                balls.push(placed(balls.len(), place.x_mm, place.y_mm));
            }
        }
        if balls.is_empty() {
            balls.push(placed(0, 700.0, 600.0));
        }
        balls
    })
}
