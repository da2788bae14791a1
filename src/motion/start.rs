//! The balls before a hit: checked, and moved apart where a reading lets them overlap a little.
//!
//! Input: places in the table frame. Output: places in the bed frame, no two balls and no ball and
//! cushion overlapping. Method: what overlaps is pushed apart evenly, all pairs at once and again
//! until nothing does; moves are whole steps of a grid, so that their sum has no order. Degenerates:
//! overlaps of more than [`MOST_OVERLAP_MM`] are no reading error and refused.

use super::bed::Bed;
use super::roots::TOUCH_M;
use super::{Flat, GRID};
use crate::layout::{Ball, BallKind, Layout};
use crate::table::TablePoint;
use thiserror::Error;

/// Fifteen object balls and the cue ball.
pub const MOST_BALLS: usize = 16;
/// What readings may overlap, in millimetres.
const MOST_OVERLAP_MM: f64 = 3.0;
const MOST_ROUNDS: usize = 5000;
/// Balls pushed apart come to lie this far from each other.
const FREE_M: f64 = 2e-12;

/// Where the ids of balls without a number begin.
pub const UNREAD_FROM: usize = 16;

/// A ball at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// The caller's name for the ball. [`Placed::all_of`] gives 0 to the cue ball, an object ball's
    /// number, and [`UNREAD_FROM`] plus its index in the layout to one whose number is not known.
    pub id: usize,
    /// Its centre in the table frame.
    pub place: TablePoint,
}

/// Why balls cannot be played from.
#[derive(Debug, Error, PartialEq)]
pub enum StartError {
    #[error("there is no cue ball: a hit needs one")]
    NoCueBall,
    #[error("{count} balls cannot be: at most fifteen object balls and the cue ball")]
    TooMany { count: usize },
    #[error("{name} lies on the table twice")]
    Twice { name: String },
    #[error("{name} lies at {x_mm:.1}, {y_mm:.1} mm, which is not on the table")]
    Outside { name: String, x_mm: f64, y_mm: f64 },
    #[error("{name} lies in a pocket, at {x_mm:.1}, {y_mm:.1} mm: leave it out")]
    InPocket { name: String, x_mm: f64, y_mm: f64 },
    #[error("{name} and {other} overlap by {overlap_mm:.1} mm: move one")]
    Overlap { name: String, other: String, overlap_mm: f64 },
    #[error("{name} has no room among its neighbours: it overlaps by {overlap_mm:.4} mm")]
    NoRoom { name: String, overlap_mm: f64 },
}

fn name(ball: &Placed) -> String {
    ball_name(ball.id)
}

/// What a ball is called, by the id that [`Placed::all_of`] gives it.
pub fn ball_name(id: usize) -> String {
    match id {
        0 => "the cue ball".into(),
        id if id < UNREAD_FROM => format!("ball {id}"),
        id => format!("the unread ball in place {} of the layout", id - UNREAD_FROM + 1),
    }
}

impl Placed {
    /// The balls of a layout.
    ///
    /// # Errors
    /// [`StartError::NoCueBall`] where a hit would have none.
    pub fn all_of(layout: &Layout) -> Result<Vec<Self>, StartError> {
        layout.cue_ball().ok_or(StartError::NoCueBall)?;
        let placed = layout.balls.iter().enumerate().map(|(index, ball)| Self {
            id: Self::id_in_layout(index, ball),
            place: layout.centre_of(ball),
        });
        Ok(placed.collect())
    }

    /// The id that [`all_of`](Self::all_of) gives a ball of a layout.
    pub fn id_in_layout(index: usize, ball: &Ball) -> usize {
        match (ball.kind, ball.number) {
            (BallKind::Cue, _) => 0,
            (BallKind::Object, Some(number)) if number > 0 => usize::from(number),
            _ => UNREAD_FROM + index,
        }
    }
}

/// Balls checked as [`play`](super::play) checks them, and moved apart where they overlap a little.
///
/// # Errors
/// [`StartError`] names the ball that cannot be.
pub fn apart(bed: &Bed, balls: &[Placed]) -> Result<Vec<Placed>, StartError> {
    let free = places(bed, balls)?.into_iter().zip(balls);
    let moved = free.map(|(place, ball)| {
        let place = bed.to_table(place);
        // Rounding is no motion: what did not move keeps its coordinates.
        if place.distance_mm(ball.place) < 1e-6 { *ball } else { Placed { place, ..*ball } }
    });
    Ok(moved.collect())
}

/// Places in the bed frame, checked and apart.
pub(super) fn places(bed: &Bed, balls: &[Placed]) -> Result<Vec<Flat>, StartError> {
    if balls.len() > MOST_BALLS {
        return Err(StartError::TooMany { count: balls.len() });
    }
    for (i, ball) in balls.iter().enumerate() {
        if balls[..i].iter().any(|other| other.id == ball.id) {
            return Err(StartError::Twice { name: name(ball) });
        }
        on_table(bed, ball)?;
    }
    let mut places: Vec<Flat> = balls.iter().map(|ball| bed.flat_from_table(ball.place)).collect();
    for (i, a) in balls.iter().enumerate() {
        for (b, place) in balls[..i].iter().zip(&places) {
            let overlap_mm = 1000.0 * (2.0 * bed.cloth.radius_m - (places[i] - place).norm());
            if overlap_mm > MOST_OVERLAP_MM {
                return Err(StartError::Overlap { name: name(b), other: name(a), overlap_mm });
            }
        }
    }
    for _ in 0..MOST_ROUNDS {
        if !spread(bed, &mut places) {
            return Ok(places);
        }
    }
    let worst = (0..places.len())
        .map(|i| (overlap_of(bed, &places, i), i))
        .fold((0.0, 0), |worst, this| if this.0 > worst.0 { this } else { worst });
    Err(StartError::NoRoom { name: name(&balls[worst.1]), overlap_mm: worst.0 * 1000.0 })
}

fn on_table(bed: &Bed, ball: &Placed) -> Result<(), StartError> {
    let TablePoint { x_mm, y_mm } = ball.place;
    let outside = || StartError::Outside { name: name(ball), x_mm, y_mm };
    let table = bed.table();
    let on_rails =
        (0.0..=table.length_mm).contains(&x_mm) && (0.0..=table.width_mm).contains(&y_mm);
    let in_mouth = |radii: f64| {
        table.pockets().iter().any(|p| p.centre.distance_mm(ball.place) < radii * p.radius_mm)
    };
    if !on_rails && !in_mouth(2.0) {
        return Err(outside());
    }
    let place = bed.flat_from_table(ball.place);
    if bed.holes.iter().any(|hole| (place - hole.centre).norm() < hole.radius_m) {
        return Err(StartError::InPocket { name: name(ball), x_mm, y_mm });
    }
    let too_far = |edge: &super::bed::Edge| {
        let height = edge.height_of(place);
        (0.0..=edge.length_m).contains(&edge.along_of(place))
            && height < bed.reach_m - MOST_OVERLAP_MM / 1000.0
            && height > -0.2
    };
    if bed.edges.iter().any(too_far) { Err(outside()) } else { Ok(()) }
}

/// A move in steps of the grid.
fn steps(by: f64) -> i64 {
    (by / GRID).round() as i64
}

/// Pushes apart what overlaps, once; whether anything did.
fn spread(bed: &Bed, places: &mut [Flat]) -> bool {
    let mut moves = vec![[0_i64; 2]; places.len()];
    let mut any = false;
    for i in 0..places.len() {
        for j in 0..i {
            let line = places[i] - places[j];
            let distance = line.norm();
            let overlap = 2.0 * bed.cloth.radius_m - distance;
            if overlap <= TOUCH_M {
                continue;
            }
            any = true;
            let push = line * ((0.5 * overlap + FREE_M) / distance.max(1e-9));
            for axis in 0..2 {
                let by = steps(push[axis]);
                moves[i][axis] += by;
                moves[j][axis] -= by;
            }
        }
        for push in out_of_cushions(bed, places[i]) {
            any = true;
            for axis in 0..2 {
                moves[i][axis] += steps(push[axis]);
            }
        }
    }
    for (place, by) in places.iter_mut().zip(moves) {
        *place += Flat::new(by[0] as f64, by[1] as f64) * GRID;
    }
    any
}

/// The pushes that bring a ball out of the cushions it overlaps.
fn out_of_cushions(bed: &Bed, place: Flat) -> impl Iterator<Item = Flat> + '_ {
    let edges = bed.edges.iter().filter_map(move |edge| {
        let overlap = bed.reach_m - edge.height_of(place);
        let beside = (0.0..=edge.length_m).contains(&edge.along_of(place));
        (beside && overlap > TOUCH_M && overlap < 2.0 * bed.reach_m)
            .then(|| edge.inward * (overlap + FREE_M))
    });
    let tips = bed.tips.iter().filter_map(move |tip| {
        let line = place - tip.at;
        let distance = line.norm();
        let overlap = bed.reach_m - distance;
        (overlap > TOUCH_M && distance > 1e-6).then(|| line * ((overlap + FREE_M) / distance))
    });
    edges.chain(tips)
}

/// The greatest overlap of one ball, in metres.
fn overlap_of(bed: &Bed, places: &[Flat], i: usize) -> f64 {
    let others = places.iter().enumerate().filter(|(j, _)| *j != i);
    let balls = others.map(|(_, place)| 2.0 * bed.cloth.radius_m - (places[i] - place).norm());
    balls.chain(out_of_cushions(bed, places[i]).map(|push| push.norm())).fold(0.0, f64::max)
}
