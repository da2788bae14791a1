//! One hit played, and what came of it for the player.
//!
//! Input: balls at rest of which id 0 is the cue ball, a hit. Output: which balls dropped, whether
//! the cue ball did, where the rest lie. Knows no rules but that a dropped cue ball ends the run.

use crate::motion::{self, Bed, Event, EventKind, Hit, Outcome, Placed, Shot};
use crate::table::TablePoint;

/// The id of the cue ball, as [`Placed::all_of`] gives it.
pub(super) const CUE: usize = 0;

/// What came of a hit.
#[derive(Debug, Clone)]
pub(super) struct Played {
    /// Object balls and their pockets, in the order in which they dropped.
    pub dropped: Vec<(usize, usize)>,
    /// Whether the cue ball dropped.
    pub scratch: bool,
    /// The balls that lie, in the order in which they were given.
    pub after: Vec<Placed>,
}

impl Played {
    pub fn has_dropped(&self, ball: usize, pocket: usize) -> bool {
        self.dropped.contains(&(ball, pocket))
    }

    /// Whether the wished ball dropped in its pocket and the cue ball lies.
    pub fn makes(&self, (ball, pocket): (usize, usize)) -> bool {
        !self.scratch && self.has_dropped(ball, pocket)
    }

    /// Whether the run goes on: an object ball dropped, and the cue ball lies.
    pub fn goes_on(&self) -> bool {
        !self.scratch && !self.dropped.is_empty()
    }

    /// Where the cue ball lies.
    pub fn cue(&self) -> Option<TablePoint> {
        self.after.iter().find(|ball| ball.id == CUE).map(|ball| ball.place)
    }
}

/// Plays a hit; none where it cannot be played or does not come to rest.
pub(super) fn play(bed: &Bed, balls: &[Placed], hit: &Hit) -> Option<(Played, Shot)> {
    let shot = motion::play(bed, balls, CUE, hit).ok().filter(|shot| !shot.cut_short)?;
    Some((of(&shot), shot))
}

/// What came of a shot.
pub(super) fn of(shot: &Shot) -> Played {
    let after = Vec::with_capacity(shot.rest.len());
    let mut played = Played { dropped: Vec::new(), scratch: false, after };
    let mut times = Vec::new();
    for rest in &shot.rest {
        match rest.outcome {
            Outcome::Lies(place) => played.after.push(Placed { id: rest.ball, place }),
            Outcome::Dropped { .. } if rest.ball == CUE => played.scratch = true,
            Outcome::Dropped { pocket, t_s } => times.push((t_s, rest.ball, pocket)),
        }
    }
    times.sort_by(|a, b| a.0.total_cmp(&b.0));
    played.dropped = times.into_iter().map(|(_, ball, pocket)| (ball, pocket)).collect();
    played
}

/// The first event in which balls meet the cue ball.
pub(super) fn first_meeting(shot: &Shot) -> Option<&Event> {
    let meets = |event: &&Event| {
        event.kind == EventKind::Balls && event.balls.iter().any(|change| change.ball == CUE)
    };
    shot.events.iter().find(meets)
}

/// The cue ball's place in an event.
pub(super) fn cue_in(event: Option<&Event>) -> Option<TablePoint> {
    event?.balls.iter().find(|change| change.ball == CUE).map(|change| change.place)
}

/// The place of the cue ball among balls.
pub(super) fn cue_of(balls: &[Placed]) -> Option<TablePoint> {
    balls.iter().find(|ball| ball.id == CUE).map(|ball| ball.place)
}

/// The object balls among balls.
pub(super) fn objects(balls: &[Placed]) -> impl Iterator<Item = &Placed> {
    balls.iter().filter(|ball| ball.id != CUE)
}
