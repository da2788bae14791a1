//! Shots that are not cut straight: banks, combinations, caroms and kisses, found by trying.
//!
//! Input: balls, one of them to be met first. Output: for each ball that drops the longest run of
//! aims that do it, its edges halved out. Method: the whole face of the first ball is swept with
//! level centre-ball hits of one speed, and each played in `motion`; how the ball came to drop is
//! read from the events. So throw, jaws and whatever lies in the way take part, and what is dead
//! shows as a wide run. Not modelled: other speeds and side. Degenerates: runs that are narrower
//! than a step of the sweep are missed; they are no shots for a player.

use super::outcome::{self, CUE};
use super::window::{edge, longest_run};
use crate::motion::{Bed, Change, Event, EventKind, Hit, Placed, Shot};
use crate::table::{DiamondPoint, TablePoint};
use schemars::JsonSchema;
use serde::Serialize;

/// Speed of the sweep, m/s: carries a ball over one cushion and the table's length.
const SPEED_M_S: f64 = 2.4;
/// A step of the sweep, in radians.
const STEP_RAD: f64 = 0.0012;
const STEPS: (f64, f64) = (30.0, 90.0);
/// Cushions nearer to the pocket than this many of its radii belong to its mouth.
const MOUTH_RADII: f64 = 2.5;

/// Balls within this gap take part in one meeting, in mm.
const TOUCH_MM: f64 = 0.1;

/// How a ball comes to drop.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Kind {
    /// Cut straight into the pocket.
    Direct,
    /// Off one cushion, met here (in diamonds).
    Bank { x: f64, y: f64 },
    /// Struck by another ball, which the cue ball meets.
    Combination { first: usize },
    /// Off another ball after the cue ball met it.
    Kiss { off: usize },
    /// By the cue ball, after that met another ball.
    Carom { first: usize },
}

impl Kind {
    /// The ball of a shot that the cue ball meets first.
    pub fn first(&self, ball: usize) -> usize {
        match self {
            Self::Combination { first } | Self::Carom { first } => *first,
            _ => ball,
        }
    }

    /// Whether two are the same way, wherever a cushion is met.
    fn is_like(&self, other: &Self) -> bool {
        matches!((self, other), (Self::Bank { .. }, Self::Bank { .. })) || self == other
    }
}

/// A run of aims that pocket a ball.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    pub ball: usize,
    pub pocket: usize,
    pub kind: Kind,
    pub hit: Hit,
    pub half_aim_rad: f64,
}

/// What drops how by one hit of the sweep.
type Drops = Vec<(usize, usize, Kind)>;

/// The indirect shots that meet `first` first.
pub(super) fn indirect(bed: &Bed, balls: &[Placed], cue: TablePoint, first: &Placed) -> Vec<Found> {
    let away = cue.distance_mm(first.place);
    let half_rad = 0.99 * (bed.table().ball_diameter_mm / away).min(1.0).asin();
    let middle = cue.direction_to(first.place);
    let steps = (2.0 * half_rad / STEP_RAD).clamp(STEPS.0, STEPS.1) as usize;
    let at = |k: usize| middle + half_rad * (2.0 * k as f64 / steps as f64 - 1.0);
    let drops = |aim_rad: f64| -> Drops {
        outcome::play(bed, balls, &Hit::centre(aim_rad, SPEED_M_S))
            .filter(|(played, _)| !played.scratch)
            .map_or_else(Vec::new, |(played, shot)| {
                let how = |&(ball, pocket): &(usize, usize)| {
                    Some((ball, pocket, how(bed, &shot, first.id, (ball, pocket))?))
                };
                played.dropped.iter().filter_map(how).collect()
            })
    };
    let fan: Vec<Drops> = (0..=steps).map(|k| drops(at(k))).collect();
    let mut ways: Drops = Vec::new();
    for way in fan.iter().flatten() {
        if !ways.iter().any(|known| is_like(known, way)) {
            ways.push(*way);
        }
    }
    let mut found = Vec::new();
    for way in ways.into_iter().filter(|(_, _, kind)| *kind != Kind::Direct) {
        let does = |drops: &Drops| drops.iter().any(|other| is_like(other, &way));
        let run: Vec<bool> = fan.iter().map(does).collect();
        let Some((from, to)) = longest_run(&run) else { continue };
        let low = if from == 0 { at(0) } else { edge(at(from), at(from - 1), |a| does(&drops(a))) };
        let high = if to == steps { at(to) } else { edge(at(to), at(to + 1), |a| does(&drops(a))) };
        let (ball, pocket, kind) = way;
        let hit = Hit::centre(0.5 * (low + high), SPEED_M_S);
        found.push(Found { ball, pocket, kind, hit, half_aim_rad: 0.5 * (high - low) });
    }
    found
}

fn is_like(one: &(usize, usize, Kind), other: &(usize, usize, Kind)) -> bool {
    one.0 == other.0 && one.1 == other.1 && one.2.is_like(&other.2)
}

/// How a ball came to drop; none for ways that nobody plays on purpose.
fn how(bed: &Bed, shot: &Shot, first: usize, (ball, pocket): (usize, usize)) -> Option<Kind> {
    let of_ball = |event: &&Event| event.balls.iter().any(|change| change.ball == ball);
    let touching_mm = bed.table().ball_diameter_mm + TOUCH_MM;
    let mut met = Vec::new();
    let mut cushions = Vec::new();
    for event in shot.events.iter().filter(of_ball) {
        let place = event.balls.iter().find(|change| change.ball == ball)?.place;
        match event.kind {
            EventKind::Balls => {
                // In a cluster only those that touch it.
                let touches = |other: &&Change| {
                    other.ball != ball && other.place.distance_mm(place) < touching_mm
                };
                met.extend(event.balls.iter().filter(touches).map(|change| change.ball));
            }
            EventKind::Cushion => cushions.push(place),
            _ => {}
        }
    }
    let mouth = bed.table().pockets()[pocket];
    cushions.retain(|place| place.distance_mm(mouth.centre) > MOUTH_RADII * mouth.radius_mm);
    let meeting = outcome::first_meeting(shot)?;
    if !meeting.balls.iter().any(|change| change.ball == first) {
        return None;
    }
    match (&met[..], &cushions[..]) {
        ([CUE], []) if first == ball => Some(Kind::Direct),
        ([CUE], [place]) if first == ball => {
            let DiamondPoint { x, y } = DiamondPoint::from_table(*place, bed.table());
            Some(Kind::Bank { x, y })
        }
        ([CUE], []) => Some(Kind::Carom { first }),
        ([other], []) if *other == first => Some(Kind::Combination { first }),
        ([CUE, off], []) if first == ball => Some(Kind::Kiss { off: *off }),
        _ => None,
    }
}
