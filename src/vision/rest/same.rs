//! Whether two readings show one layout.
//!
//! Input: two layouts of one camera. Output: yes or no. Method: each ball must have a partner where
//! it was, to the errors of reading; the errors of one camera at one place are much alike from
//! frame to frame, so a few millimetres are a move. Numbers say less than places, since balls do
//! not change places exactly by themselves: one number read otherwise is a misreading, two read
//! otherwise and surely are balls exchanged by hand. Knows nothing of pictures.

use crate::layout::{Ball, Layout};
use crate::table::{DiamondPoint, TableSize};

/// A ball that is this far from where it was has moved, whatever the sigmas.
const MOVED_MM: f64 = 3.0;
const SURELY_MOVED_MM: f64 = 8.0;
/// Standard deviations of both readings together that pass for an error.
const ERRORS: f64 = 2.0;
/// A number read this surely is one.
const SURE: f64 = 0.9;
/// So many numbers surely changed are an exchange.
const EXCHANGED: usize = 2;

/// Whether two readings of one still table agree: every ball in its place with its number.
pub(super) fn agree(a: &Layout, b: &Layout) -> bool {
    partners(a, b, MOVED_MM).is_some_and(|pairs| pairs.iter().all(|(a, b)| a.number == b.number))
}

/// Whether a layout is still the one that was announced.
pub(super) fn same(announced: &Layout, now: &Layout, camera_moved: bool) -> bool {
    let least_mm = if camera_moved { SURELY_MOVED_MM } else { MOVED_MM };
    partners(announced, now, least_mm).is_some_and(|pairs| {
        let sure = |ball: &Ball| ball.number_confidence >= SURE;
        let exchanged =
            pairs.iter().filter(|(a, b)| a.number != b.number && sure(a) && sure(b)).count();
        exchanged < EXCHANGED
    })
}

/// Each ball of one layout with the ball of the other in its place; none where one has none.
fn partners<'a>(a: &'a Layout, b: &'a Layout, least_mm: f64) -> Option<Vec<(&'a Ball, &'a Ball)>> {
    if a.balls.len() != b.balls.len() {
        return None;
    }
    let mut free: Vec<&Ball> = b.balls.iter().collect();
    a.balls
        .iter()
        .map(|ball| {
            let (at, off_mm) = free
                .iter()
                .map(|other| distance_mm(ball, other, &a.table))
                .enumerate()
                .min_by(|x, y| x.1.total_cmp(&y.1))?;
            let errors_mm = ERRORS * ball.sigma_mm.hypot(free[at].sigma_mm);
            (off_mm < errors_mm.clamp(least_mm, SURELY_MOVED_MM))
                .then(|| (ball, free.swap_remove(at)))
        })
        .collect()
}

fn distance_mm(a: &Ball, b: &Ball, table: &TableSize) -> f64 {
    let place = |ball: &Ball| DiamondPoint { x: ball.x, y: ball.y }.on_table(table);
    place(a).distance_mm(place(b))
}
