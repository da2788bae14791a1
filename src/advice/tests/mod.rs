//! Advice held to the physics that it comes from.

mod fit;
mod patterns;
mod shots;

use super::{Advisor, Level, Player};
use crate::motion::{Bed, Physics, Placed};
use crate::table::{TablePoint, TableSize};

fn bed() -> Bed {
    Bed::new(&TableSize::NINE_FOOT, &Physics::default()).unwrap()
}

/// Balls at places in millimetres, the cue ball first.
fn balls(places: &[(f64, f64)]) -> Vec<Placed> {
    let placed = |(id, (x, y)): (usize, &(f64, f64))| Placed { id, place: TablePoint::new(*x, *y) };
    places.iter().enumerate().map(placed).collect()
}

fn advisor(bed: &Bed, level: Level) -> Advisor<'_> {
    Advisor::new(bed, level.prior(), 5).unwrap()
}

/// The same balls after the table is mirrored about its long axis.
fn mirrored(balls: &[Placed]) -> Vec<Placed> {
    let mirror = |ball: &Placed| Placed {
        place: TablePoint::new(ball.place.x_mm, 1270.0 - ball.place.y_mm),
        ..*ball
    };
    balls.iter().map(mirror).collect()
}
