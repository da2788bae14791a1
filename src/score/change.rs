//! What differs between two layouts: which balls lie where they lay, which went, which are new.
//!
//! Method: balls are at least a diameter apart and a reading is off by a few millimetres, so a
//! ball that did not move is the only one near its old place; nothing needs to be assigned. The
//! limit is six standard deviations of both readings, no less than 12 mm. Not modelled: which of
//! the moved balls is which. Readings much worse than their sigma degenerate to "all moved".

use super::{
    Cause,
    seen::{BallSeen, Seen},
};
use crate::{layout::Layout, table::TablePoint};

/// Two readings of a ball that did not move differ by less.
const STILL_SIGMAS: f64 = 6.0;
pub(super) const STILL_AT_LEAST_MM: f64 = 12.0;
const STILL_AT_MOST_MM: f64 = 25.0;

/// The cue ball, before and now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum CueBall {
    Still,
    Moved,
    Gone,
    /// It was not on the table and is now.
    Came,
    /// It was not on the table and is not.
    Absent,
}

/// The difference.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Change {
    pub cue: CueBall,
    /// Object balls that lie where they lay.
    pub still: Vec<BallSeen>,
    /// Object balls before that lie there no more: moved or gone.
    pub left: Vec<BallSeen>,
    /// Object balls now where none lay: moved or come.
    pub new: Vec<BallSeen>,
    /// There was no cue ball and there is one, where an object ball lay: none is anywhere else.
    pub same_places: bool,
}

/// What differs between two layouts of one camera, as others than the score need it. Places are in
/// the table frame of the layout that they stand in.
#[derive(Debug, Clone, PartialEq)]
pub struct Changed {
    /// The cue ball before and now, where it is on the table.
    pub cue: [Option<TablePoint>; 2],
    /// Whether the cue ball is gone, or lies elsewhere.
    pub cue_moved: bool,
    /// Object balls that lie where they lay.
    pub still: Vec<TablePoint>,
    /// Object balls before that lie there no more, each with its number where that is sure.
    pub left: Vec<(TablePoint, Option<u8>)>,
    /// Object balls that lie where none lay.
    pub new: usize,
    /// The numbers of the balls that went, where they are sure.
    pub numbers_gone: Vec<u8>,
}

impl Changed {
    pub fn between(before: &Layout, now: &Layout) -> Self {
        let before = Seen::of(before, false);
        let mut now = Seen::of(now, false);
        now.name_after(&before);
        let change = Change::between(&before, &now);
        Self {
            cue: [before.cue, now.cue].map(|cue| cue.map(|cue| cue.at)),
            cue_moved: matches!(change.cue, CueBall::Moved | CueBall::Gone),
            still: change.still.iter().map(|ball| ball.at).collect(),
            left: change.left.iter().map(|ball| (ball.at, ball.number)).collect(),
            new: change.new.len(),
            numbers_gone: change.numbers_gone(),
        }
    }
}

impl Change {
    pub fn between(before: &Seen, now: &Seen) -> Self {
        let cue = match (before.cue, now.cue) {
            (Some(a), Some(b)) if still(&a, &b) => CueBall::Still,
            (Some(_), Some(_)) => CueBall::Moved,
            (Some(_), None) => CueBall::Gone,
            (None, Some(_)) => CueBall::Came,
            (None, None) => CueBall::Absent,
        };
        let unlike = |of: &[BallSeen], others: &[BallSeen]| -> Vec<BallSeen> {
            of.iter().filter(|a| !others.iter().any(|b| still(a, b))).copied().collect()
        };
        let left = unlike(&before.objects, &now.objects);
        let new = unlike(&now.objects, &before.objects);
        let stayed = |ball: &&BallSeen| !left.contains(ball);
        let still = before.objects.iter().filter(stayed).copied().collect();
        let same_places = cue == CueBall::Came && {
            let (old, now) = (before.all(), now.all());
            old.len() == now.len() && unlike(&old, &now).is_empty()
        };
        Self { cue, still, left, new, same_places }
    }

    /// Object balls fewer than before; negative where there are more.
    pub fn gone(&self) -> i64 {
        i64::try_from(self.left.len()).unwrap_or(0) - i64::try_from(self.new.len()).unwrap_or(0)
    }

    /// Object balls that moved and stayed on the table, as far as counts tell.
    pub fn moved(&self) -> usize {
        self.left.len().min(self.new.len())
    }

    /// What the change counts as if it was a stroke of an attempt: how many it pocketed, and how
    /// the attempt ended if it did. None where it looks like no stroke.
    pub fn stroke(&self) -> Option<(u32, Option<Cause>)> {
        let touched = !self.left.is_empty();
        let gone = u32::try_from(self.gone()).ok()?;
        match self.cue {
            CueBall::Moved if (1..=3).contains(&gone) => Some((gone, None)),
            CueBall::Moved if gone == 0 && touched => Some((0, Some(Cause::Miss))),
            CueBall::Gone if gone <= 3 && touched => Some((0, Some(Cause::Scratch))),
            _ => None,
        }
    }

    pub fn nothing(&self) -> bool {
        matches!(self.cue, CueBall::Still | CueBall::Absent) && self.untouched()
    }

    /// Whether all object balls lie where they lay, and no other does.
    pub fn untouched(&self) -> bool {
        self.left.is_empty() && self.new.is_empty()
    }

    /// The numbers of the balls that went, where they are sure.
    pub fn numbers_gone(&self) -> Vec<u8> {
        let now: Vec<u8> = self.new.iter().filter_map(|ball| ball.number).collect();
        // A moved ball whose number cannot be read now may be any of those that left.
        if now.len() < self.new.len() {
            return Vec::new();
        }
        let left = self.left.iter().filter_map(|ball| ball.number);
        let mut numbers: Vec<u8> = left.filter(|number| !now.contains(number)).collect();
        if i64::try_from(numbers.len()).unwrap_or(i64::MAX) > self.gone() {
            return Vec::new();
        }
        numbers.sort_unstable();
        numbers
    }
}

/// Whether two readings can be of one ball that did not move.
pub(super) fn still(a: &BallSeen, b: &BallSeen) -> bool {
    // Pairs of balls are compared for every two rests of a record, and most are far apart.
    let (dx, dy) = (a.at.x_mm - b.at.x_mm, a.at.y_mm - b.at.y_mm);
    if dx.abs() >= STILL_AT_MOST_MM || dy.abs() >= STILL_AT_MOST_MM {
        return false;
    }
    let sigma_mm = (a.sigma_mm * a.sigma_mm + b.sigma_mm * b.sigma_mm).sqrt();
    let limit_mm = (STILL_SIGMAS * sigma_mm).clamp(STILL_AT_LEAST_MM, STILL_AT_MOST_MM);
    dx * dx + dy * dy < limit_mm * limit_mm
}
