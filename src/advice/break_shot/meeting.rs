//! Where and how squarely the cue ball meets the rack after the break ball, from the path without
//! errors.
//!
//! Input: the shot as it was meant, played out. Output: [`Meeting`] in the layout's coordinates.
//! Degenerates: none where the cue ball meets no racked ball.

use super::closing::{BREAK_BALL, CUE, Closing, RACK_FROM};
use super::outcome::meets_rack;
use crate::advice::window::turn;
use crate::motion::{Change, EventKind, Shot};
use crate::table::{DiamondPoint, TablePoint};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// What the cue ball's spin does to it as it meets a ball.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Spin {
    Follow,
    Stun,
    Draw,
}

/// The first contact of the cue ball with the rack.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Meeting {
    /// Number of the ball it meets, where it is known.
    pub ball: Option<u8>,
    /// Which place of the rack that ball lies in: row 2 to 5 from the empty apex.
    pub row: usize,
    /// And which of its row, from 1 at small y.
    pub place_in_row: usize,
    /// Whether it touches a second ball of the rack at the same time.
    pub two_at_once: bool,
    /// The cue ball's centre at the contact, in diamonds.
    pub at: DiamondPoint,
    /// The centre of the ball it meets, in diamonds.
    pub ball_at: DiamondPoint,
    /// Angle between the cue ball's way and the line of centres: 0 is a full hit, 90 a graze.
    pub off_centre_deg: f64,
    /// Angle between the cue ball's way and the square to the side of the rack it comes to.
    pub off_square_deg: f64,
    /// The cue ball's speed there, m/s.
    pub speed_m_s: f64,
    /// Its spin along its way: 1 rolls, 0 slides, below 0 is draw.
    pub roll: f64,
    /// Cushions it met before.
    pub cushions: usize,
}

impl Meeting {
    pub(super) fn of(closing: &Closing, shot: &Shot) -> Option<Self> {
        let index = meets_rack(shot)?;
        let event = &shot.events[index];
        let cue = event.balls.iter().find(|change| change.ball == CUE)?;
        let diameter_mm = closing.table.ball_diameter_mm;
        let mut touched: Vec<&Change> = event
            .balls
            .iter()
            .filter(|change| change.ball >= RACK_FROM)
            .filter(|change| change.place.distance_mm(cue.place) < diameter_mm + 0.1)
            .collect();
        let [vx, vy] = cue.velocity_before_m_s;
        let way_rad = vy.atan2(vx);
        let off = |change: &&Change| turn(way_rad, cue.place.direction_to(change.place)).abs();
        touched.sort_by(|a, b| off(a).total_cmp(&off(b)));
        let ball = *touched.first()?;
        let rack_index = closing.side.rack_place(ball.ball - RACK_FROM + 1);
        let row = (1..5).rev().find(|row| rack_index >= row * (row + 1) / 2)?;
        let cushions = |event: &&crate::motion::Event| {
            event.kind == EventKind::Cushion && event.balls.iter().any(|c| c.ball == CUE)
        };
        Some(Self {
            ball: closing.number(ball.ball),
            row: row + 1,
            place_in_row: rack_index - row * (row + 1) / 2 + 1,
            two_at_once: touched.len() > 1,
            at: closing.in_layout(cue.place),
            ball_at: closing.in_layout(ball.place),
            off_centre_deg: off(&ball).to_degrees(),
            off_square_deg: off_square_rad(closing, cue.place, way_rad).to_degrees(),
            speed_m_s: vx.hypot(vy),
            roll: roll(cue, diameter_mm),
            cushions: shot.events[..index].iter().filter(cushions).count(),
        })
    }
}

/// Spin along a ball's way, per that of a rolling ball.
fn roll(change: &Change, diameter_mm: f64) -> f64 {
    let [vx, vy] = change.velocity_before_m_s;
    let [wx, wy, _] = change.spin_before_rad_s;
    let square = vx * vx + vy * vy;
    if square > 0.0 { 0.5 * diameter_mm / 1000.0 * (wy * vx - wx * vy) / square } else { 0.0 }
}

/// What the cue ball's spin is as it meets the break ball.
pub(super) fn spin_at_break_ball(shot: &Shot, diameter_mm: f64) -> Spin {
    let meets = shot.events.iter().find(|event| {
        event.kind == EventKind::Balls && event.balls.iter().any(|c| c.ball == BREAK_BALL)
    });
    let cue = meets.and_then(|event| event.balls.iter().find(|change| change.ball == CUE));
    match cue.map_or(0.0, |cue| roll(cue, diameter_mm)) {
        roll if roll > 0.25 => Spin::Follow,
        roll if roll < -0.25 => Spin::Draw,
        _ => Spin::Stun,
    }
}

/// Off the square to the nearest of the rack's three sides.
fn off_square_rad(closing: &Closing, cue: TablePoint, way_rad: f64) -> f64 {
    let racked = &closing.balls[RACK_FROM..];
    let count = racked.len() as f64;
    let middle = TablePoint::new(
        racked.iter().map(|ball| ball.place.x_mm).sum::<f64>() / count,
        racked.iter().map(|ball| ball.place.y_mm).sum::<f64>() / count,
    );
    let from_rad = middle.direction_to(cue);
    // The back looks to the foot, the two sides 120° to its left and right.
    let squares = [0.0, 2.0 * PI / 3.0, -2.0 * PI / 3.0];
    let off = |square: &f64| turn(*square, from_rad).abs();
    let square = squares.into_iter().min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(0.0);
    turn(square + PI, way_rad).abs()
}
