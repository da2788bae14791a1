//! Advice held to the physics that it comes from.

mod break_balls;
mod fit;
mod patterns;
mod refused;
mod schema;
mod shots;
mod trouble;

use super::{Advisor, Level, Player};
use crate::layout::{Ball, BallKind, Layout};
use crate::motion::{Bed, Physics, Placed};
use crate::table::{DiamondPoint, FootEnd, TablePoint, TableSize};

fn bed() -> Bed {
    Bed::new(&TableSize::NINE_FOOT, &Physics::default()).unwrap()
}

/// Balls at places in millimetres, the cue ball first.
fn balls(places: &[(f64, f64)]) -> Vec<Placed> {
    let placed = |(id, (x, y)): (usize, &(f64, f64))| Placed { id, place: TablePoint::new(*x, *y) };
    places.iter().enumerate().map(placed).collect()
}

/// The same as a layout of a nine-foot table whose foot is known.
fn layout(places: &[(f64, f64)]) -> Layout {
    let ball = |(number, (x, y)): (u8, &(f64, f64))| {
        let at = DiamondPoint::from_table(TablePoint::new(*x, *y), &TableSize::NINE_FOOT);
        Ball {
            kind: if number == 0 { BallKind::Cue } else { BallKind::Object },
            number: Some(number),
            x: at.x,
            y: at.y,
            sigma_mm: 0.3,
            confidence: 1.0,
            number_confidence: 1.0,
        }
    };
    Layout::of(TableSize::NINE_FOOT, FootEnd::Given, (0..).zip(places).map(ball).collect())
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
