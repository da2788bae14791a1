//! Shots counted from rests: the layout set up, then something else, then set up again.
//!
//! A shot is what changes a layout that was set up, unless it can only have been a hand: the cue
//! ball did not move, or nothing but the cue ball did, or balls were added. Not modelled: a shot
//! that hits no ball, which is taken for a cue ball moved by hand; balls taken away so quickly that
//! the table was never at rest after the shot; a hand that takes the cue ball and moves others,
//! which is taken for a scratch. So each shot can be left out again.

use super::{
    guide::{Guide, lying},
    pairing::{Lying, pair},
    scatter::Scatter,
};
use crate::{
    layout::{BallKind, Layout},
    table::TablePoint,
};

/// A ball that was hit goes farther than this; a reading errs less, in millimetres.
const MOVED_MM: f64 = 10.0;

/// What a shot came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// Object balls went, and the cue ball stayed on the table.
    Made,
    Missed,
    /// The cue ball went.
    Scratched,
}

/// A shot from the wanted layout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shot {
    /// The rest that it led to.
    pub rest: i64,
    pub ending: Ending,
    /// Object balls that went.
    pub potted: usize,
    /// Where the cue ball came to rest, in the wanted layout's table frame.
    pub cue: Option<TablePoint>,
    /// Whether it counts: the user has not left it out.
    pub counts: bool,
}

/// How many shots came to what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    pub made: usize,
    pub missed: usize,
    pub scratched: usize,
}

/// 97.5 % of a normal distribution lie below so many standard deviations.
const Z: f64 = 1.959_964;

impl Tally {
    pub const fn shots(&self) -> usize {
        self.made + self.missed + self.scratched
    }

    /// Between which chances of making it the player's own lies, with 95 % confidence; none without
    /// a shot. The score interval (Wilson, J. Am. Stat. Assoc. 22 (1927) 209).
    pub fn chance(&self) -> Option<(f64, f64)> {
        let n = self.shots() as f64;
        if n == 0.0 {
            return None;
        }
        let part = self.made as f64 / n;
        let middle = part + Z * Z / (2.0 * n);
        let reach = Z * (part * (1.0 - part) / n + Z * Z / (4.0 * n * n)).sqrt();
        let whole = 1.0 + Z * Z / n;
        Some((((middle - reach) / whole).max(0.0), ((middle + reach) / whole).min(1.0)))
    }
}

/// A layout that is set up and played from, rest by rest.
#[derive(Debug, Clone)]
pub struct Practice {
    wanted: Layout,
    left_out: Vec<i64>,
    guide: Option<Guide>,
    /// The balls when the layout was last set up, as long as nothing came after it.
    ready: Option<Vec<Lying>>,
    shots: Vec<Shot>,
}

impl Practice {
    /// Begins; shots that led to rests in `left_out` do not count.
    pub const fn new(wanted: Layout, left_out: Vec<i64>) -> Self {
        Self { wanted, left_out, guide: None, ready: None, shots: Vec::new() }
    }

    /// Follows the next rest. One with something over the cloth tells nothing.
    pub fn take(&mut self, rest: i64, seen: &Layout) {
        if seen.obstructed {
            return;
        }
        let guide = Guide::of(&self.wanted, seen);
        let now = lying(seen, guide.turned);
        if guide.is_done() {
            self.ready = Some(now);
        } else if let Some(before) = self.ready.take() {
            // After a shot nothing tells the turn but the layout before: the picture has not turned.
            let turned = self.guide.as_ref().is_some_and(|before| before.turned);
            let now = lying(seen, turned);
            let counts = !self.left_out.contains(&rest);
            let shot = judge(&before, &now);
            self.shots.extend(shot.map(|(ending, potted)| Shot {
                rest,
                ending,
                potted,
                cue: cue_of(&now),
                counts,
            }));
        }
        self.guide = Some(guide);
    }

    /// The table as it was last seen; none before the first rest.
    pub const fn guide(&self) -> Option<&Guide> {
        self.guide.as_ref()
    }

    /// Whether the layout is set up and waits for the shot.
    pub const fn is_ready(&self) -> bool {
        self.ready.is_some()
    }

    /// All shots, oldest first.
    pub fn shots(&self) -> &[Shot] {
        &self.shots
    }

    fn counted(&self) -> impl Iterator<Item = &Shot> {
        self.shots.iter().filter(|shot| shot.counts)
    }

    pub fn tally(&self) -> Tally {
        let of = |ending| self.counted().filter(|shot| shot.ending == ending).count();
        Tally {
            made: of(Ending::Made),
            missed: of(Ending::Missed),
            scratched: of(Ending::Scratched),
        }
    }

    /// Where the cue ball came to rest after the shots that were made.
    pub fn scatter(&self) -> Scatter {
        let made = self.counted().filter(|shot| shot.ending == Ending::Made);
        Scatter::of(made.filter_map(|shot| shot.cue).collect())
    }
}

fn cue_of(balls: &[Lying]) -> Option<TablePoint> {
    balls.iter().find(|ball| ball.kind == BallKind::Cue).map(|ball| ball.at)
}

/// What a shot came to, and how many object balls went; none where it was a hand.
fn judge(before: &[Lying], after: &[Lying]) -> Option<(Ending, usize)> {
    let objects = |balls: &[Lying]| -> Vec<Lying> {
        balls.iter().filter(|ball| ball.kind == BallKind::Object).copied().collect()
    };
    let (were, are) = (objects(before), objects(after));
    let potted = were.len().checked_sub(are.len())?;
    let (partners, _) = pair(&were, &are);
    let moved = were.iter().zip(partners).any(|(was, partner)| {
        partner.is_some_and(|partner| was.at.distance_mm(are[partner].at) > MOVED_MM)
    });
    let touched = moved || potted > 0;
    let ending = match (cue_of(before)?, cue_of(after)) {
        (_, None) => Ending::Scratched,
        (was, Some(is)) if was.distance_mm(is) <= MOVED_MM => return None,
        _ if potted > 0 => Ending::Made,
        _ => Ending::Missed,
    };
    touched.then_some((ending, potted))
}
