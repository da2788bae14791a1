//! A played hit: its events, where the balls come to rest, and their motion for drawing.

use super::bed::Bed;
use super::piece::{Phase, Piece, State};
use crate::layout::{
    Ball, Layout,
    diagram::{Way, WayEnd},
};
use crate::table::{DiamondPoint, TablePoint};
use serde::Serialize;

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum EventKind {
    /// The tip meets the cue ball.
    Tip,
    /// Two balls, or more at once, meet.
    Balls,
    /// A ball meets a cushion.
    Cushion,
    /// A ball meets a jaw of a pocket, numbered as [`TableSize::pockets`](crate::table::TableSize).
    Jaw { pocket: usize },
    /// A ball drops into a pocket.
    Pocket { pocket: usize },
    /// A ball ceases to slide, to roll or to spin.
    Change { into: Phase },
}

/// A ball in an event: what the event did to it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Change {
    /// The ball's id.
    pub ball: usize,
    /// Its centre in the table frame.
    pub place: TablePoint,
    /// Along x and y, m/s.
    pub velocity_before_m_s: [f64; 2],
    pub velocity_after_m_s: [f64; 2],
    /// About x, y and z, rad/s.
    pub spin_before_rad_s: [f64; 3],
    pub spin_after_rad_s: [f64; 3],
}

impl Change {
    pub(super) fn new(bed: &Bed, ball: usize, before: &State, after: &State) -> Self {
        Self {
            ball,
            place: bed.to_table(before.place),
            velocity_before_m_s: before.velocity.into(),
            velocity_after_m_s: after.velocity.into(),
            spin_before_rad_s: before.spin.into(),
            spin_after_rad_s: after.spin.into(),
        }
    }
}

/// One event.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Event {
    /// Seconds from the tip's contact.
    pub t_s: f64,
    #[serde(flatten)]
    pub kind: EventKind,
    /// The balls it changed.
    pub balls: Vec<Change>,
}

/// How a ball ended.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// It lies on the table, here.
    Lies(TablePoint),
    /// It dropped into the pocket of this number.
    Dropped { pocket: usize, t_s: f64 },
}

/// A ball's end.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rest {
    pub ball: usize,
    #[serde(flatten)]
    pub outcome: Outcome,
}

/// The motion of one ball, piece by piece, from the hit to its end.
#[derive(Debug, Clone)]
pub struct Motion {
    pub ball: usize,
    pub pieces: Vec<Piece>,
    /// When it dropped; infinite for a ball that stays.
    pub gone_s: f64,
}

/// A hit played to rest.
#[derive(Debug, Clone)]
pub struct Shot {
    pub events: Vec<Event>,
    /// In the order in which the balls were given.
    pub rest: Vec<Rest>,
    pub motions: Vec<Motion>,
    /// When the last ball lies still or has dropped.
    pub duration_s: f64,
    /// Whether [`MOST_EVENTS`](super::MOST_EVENTS) were reached and the balls stopped as they were.
    pub cut_short: bool,
    pub(super) middle_m: [f64; 2],
}

impl Motion {
    /// The piece under way at a time.
    fn piece_at(&self, t_s: f64) -> Option<&Piece> {
        let after = self.pieces.partition_point(|piece| piece.from_s <= t_s);
        self.pieces.get(after.saturating_sub(1))
    }
}

impl Shot {
    /// Where each ball is at a time, in the order in which they were given; none once it dropped.
    pub fn places_at(&self, t_s: f64) -> Vec<(usize, Option<TablePoint>)> {
        let place = |motion: &Motion| {
            let there = motion.piece_at(t_s).filter(|_| t_s < motion.gone_s);
            (motion.ball, there.map(|piece| self.on_table(piece, t_s)))
        };
        self.motions.iter().map(place).collect()
    }

    /// When the last ball has stopped changing its place, or has dropped; one may turn on there
    /// until `duration_s`.
    pub fn settled_s(&self) -> f64 {
        let settled = |motion: &Motion| {
            if motion.gone_s.is_finite() {
                return motion.gone_s;
            }
            let moving = motion.pieces.iter().rposition(Piece::moves);
            moving.and_then(|at| motion.pieces.get(at + 1)).map_or(0.0, |piece| piece.from_s)
        };
        self.motions.iter().map(settled).fold(0.0, f64::max)
    }

    /// A ball's way as points of the table frame, none farther off it than `within_mm`: corners
    /// where it meets something, bends in chords. A ball that does not move has one point.
    pub fn path(&self, ball: usize, within_mm: f64) -> Vec<TablePoint> {
        let mut points = Vec::new();
        let Some(motion) = self.motions.iter().find(|motion| motion.ball == ball) else {
            return points;
        };
        for (i, piece) in motion.pieces.iter().enumerate() {
            let end_s = motion.pieces.get(i + 1).map_or(motion.gone_s, |next| next.from_s);
            let end_s = end_s.min(piece.until_s);
            if points.is_empty() {
                points.push(self.on_table(piece, piece.from_s));
            }
            if !piece.moves() {
                continue;
            }
            let chords = chords(piece, end_s, within_mm / 1000.0);
            let along = |k: u32| f64::from(k) / f64::from(chords);
            let times = (1..=chords).map(|k| piece.from_s + along(k) * (end_s - piece.from_s));
            points.extend(times.map(|t_s| self.on_table(piece, t_s)));
        }
        points
    }

    /// The layout after the shot: pocketed balls are gone, the others lie where they came to rest.
    /// Only for a shot from that layout's own balls ([`Placed::all_of`](super::Placed::all_of)).
    pub fn layout_after(&self, layout: &Layout) -> Layout {
        let mut after = layout.clone();
        let ends = layout.balls.iter().enumerate().filter_map(|(index, ball)| {
            let id = super::Placed::id_in_layout(index, ball);
            match self.rest.iter().find(|rest| rest.ball == id)?.outcome {
                // Rounding is no motion: what did not move keeps its coordinates.
                Outcome::Lies(place) if place.distance_mm(layout.centre_of(ball)) < 1e-6 => {
                    Some(ball.clone())
                }
                Outcome::Lies(place) => {
                    let place = DiamondPoint::from_table(place, &layout.table);
                    Some(Ball { x: place.x, y: place.y, ..ball.clone() })
                }
                Outcome::Dropped { .. } => None,
            }
        });
        after.balls = ends.collect();
        after
    }

    /// The ways of a layout's balls for a diagram, none drawn farther off than `within_mm`. Only for
    /// a shot from that layout's own balls.
    pub fn ways(&self, layout: &Layout, within_mm: f64) -> Vec<Way> {
        let way = |(index, ball): (usize, &Ball)| {
            let id = super::Placed::id_in_layout(index, ball);
            let end = self.rest.iter().find(|rest| rest.ball == id);
            let end = match end.map(|rest| rest.outcome) {
                Some(Outcome::Dropped { .. }) => WayEnd::Drops,
                _ => WayEnd::Rests,
            };
            Way { ball: index, points: self.path(id, within_mm), end }
        };
        layout.balls.iter().enumerate().map(way).collect()
    }

    fn on_table(&self, piece: &Piece, t_s: f64) -> TablePoint {
        let place = piece.place_at(t_s);
        TablePoint::new(
            (place.x + self.middle_m[0]) * 1000.0,
            (place.y + self.middle_m[1]) * 1000.0,
        )
    }
}

/// Into how many chords a piece is cut so that none lies farther than `within_m` from the way.
fn chords(piece: &Piece, end_s: f64, within_m: f64) -> u32 {
    if piece.phase != Phase::Slide {
        return 1;
    }
    // A parabola over a time t bows by a t² / 8 at most.
    let lasts_s = (end_s - piece.from_s).max(0.0);
    let bow_m = piece.acceleration.norm() * lasts_s * lasts_s / 8.0;
    (bow_m / within_m.max(1e-6)).sqrt().ceil().clamp(1.0, 200.0) as u32
}
