//! What one simulated hit gave.
//!
//! Input: a played shot of the balls before a break. Output: [`Outcome`]. Places in the table frame,
//! mm, on the planning side.

use super::closing::{BREAK_BALL, CUE, Closing};
use super::next_shot::{OPEN_CHANCE, Ways};
use crate::motion::{self, Event, EventKind, Shot};
use crate::table::{Rack, TablePoint};

/// What came of a hit. What is said of the balls left holds only where the run goes on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Outcome {
    /// The break ball dropped where it was meant to.
    pub made: bool,
    pub scratched: bool,
    /// The chance of the best next shot; 0 where the run is over.
    pub next: f64,
    pub loose: usize,
    /// Racked balls that lie outside the triangle, or dropped.
    pub left_rack: usize,
    /// How far the racked balls that stayed on the table moved, on average.
    pub moved_mm: f64,
    /// Racked balls that dropped with the break ball.
    pub extra: usize,
    pub cue_end: Option<TablePoint>,
    pub met_rack: bool,
    /// How far the cue ball came to lie along its way into the rack, from where it met it; negative
    /// for a cue ball thrown back. None where it met no racked ball, or dropped.
    pub beyond_mm: Option<f64>,
}

impl Outcome {
    /// A made break ball without a scratch.
    pub fn goes_on(&self) -> bool {
        self.made && !self.scratched
    }

    pub fn open(&self) -> bool {
        self.next >= OPEN_CHANCE
    }

    pub fn of(closing: &Closing, rack: &Rack, ways: &Ways, pocket: usize, shot: &Shot) -> Self {
        let end = |index: usize| match shot.rest[index].outcome {
            motion::Outcome::Lies(place) => Ok(place),
            motion::Outcome::Dropped { pocket, .. } => Err(pocket),
        };
        let cue_end = end(CUE).ok();
        let made = end(BREAK_BALL) == Err(pocket);
        let met = meets_rack(shot);
        let mut outcome = Self {
            made,
            scratched: cue_end.is_none(),
            next: 0.0,
            loose: 0,
            left_rack: 0,
            moved_mm: 0.0,
            extra: 0,
            cue_end,
            met_rack: met.is_some(),
            beyond_mm: met.zip(cue_end).and_then(|(met, end)| beyond(&shot.events[met], end)),
        };
        if !outcome.goes_on() {
            return outcome;
        }
        let mut left = Vec::with_capacity(14);
        let mut moved_mm = 0.0;
        for (index, ball) in closing.balls.iter().enumerate().skip(2) {
            match end(index) {
                Ok(place) => {
                    moved_mm += place.distance_mm(ball.place);
                    outcome.left_rack += usize::from(!rack.holds_part_of(place));
                    left.push(place);
                }
                Err(_) => {
                    outcome.left_rack += 1;
                    outcome.extra += 1;
                }
            }
        }
        outcome.moved_mm = moved_mm / left.len().max(1) as f64;
        outcome.loose = ways.loose(&left);
        if let Some(cue) = cue_end {
            outcome.next = ways.best_chance(cue, &left);
        }
        outcome
    }
}

/// The first contact of the cue ball with racked balls: by index of its event.
pub(super) fn meets_rack(shot: &Shot) -> Option<usize> {
    shot.events.iter().position(|event| {
        event.kind == EventKind::Balls
            && event.balls.iter().any(|change| change.ball == CUE)
            && event.balls.iter().any(|change| change.ball > BREAK_BALL)
    })
}

fn beyond(event: &Event, end: TablePoint) -> Option<f64> {
    let cue = event.balls.iter().find(|change| change.ball == CUE)?;
    let [vx, vy] = cue.velocity_before_m_s;
    let speed = vx.hypot(vy);
    let (dx, dy) = (end.x_mm - cue.place.x_mm, end.y_mm - cue.place.y_mm);
    (speed > 0.0).then(|| (dx * vx + dy * vy) / speed)
}
