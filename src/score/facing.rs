//! Which way round layouts are to be read: a layout whose foot is open may show the table turned.
//!
//! In: layouts, one after the other. Out: whether this one is to be turned, and whether all that is
//! kept of the ones before is. Method: a rack tells the foot for sure; where it becomes known or is
//! lost between two rests, the balls that lie still tell. Nothing that lies still, or a layout that
//! looks the same both ways round, degenerates to "as before".

use super::{change::Change, change::CueBall, seen::Seen};
use crate::{layout::Layout, table::FootEnd};

/// How layouts are read.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Facing {
    /// Layouts whose foot is open show the table the other way round.
    turned: bool,
    /// The foot was open at the rest before.
    open: bool,
}

/// A layout, the right way round.
pub(super) struct Faced {
    pub seen: Seen,
    /// What was read before lies the wrong way round.
    pub turn_before: bool,
}

impl Facing {
    /// Reads a layout that follows on `before`.
    pub fn read(&mut self, layout: &Layout, before: Option<&Seen>) -> Faced {
        let was_open = std::mem::replace(&mut self.open, layout.foot == FootEnd::Open);
        if !self.open {
            let seen = Seen::of(layout, false);
            let turn_before = was_open && fits_turned(&seen, before);
            self.turned ^= turn_before;
            return Faced { seen, turn_before };
        }
        let shown = Seen::racked_when_turned(layout);
        if was_open {
            let turned = shown.unwrap_or(self.turned);
            let turn_before = turned != self.turned;
            self.turned = turned;
            return Faced { seen: Seen::of(layout, turned), turn_before };
        }
        self.turned = shown
            .unwrap_or_else(|| self.turned ^ fits_turned(&Seen::of(layout, self.turned), before));
        Faced { seen: Seen::of(layout, self.turned), turn_before: false }
    }
}

/// Whether more balls lie where they lay before if one of the two is turned.
fn fits_turned(now: &Seen, before: Option<&Seen>) -> bool {
    let Some(before) = before else { return false };
    let stayed = |now: &Seen| {
        let change = Change::between(before, now);
        change.still.len() + usize::from(change.cue == CueBall::Still)
    };
    let mut turned = now.clone();
    turned.turn();
    stayed(&turned) > stayed(now)
}
