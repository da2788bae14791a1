//! Whether balls rolled to rest, with nobody over the table.
//!
//! Input: frame by frame what changed from the one before, window by window, and in the end the frame that
//! shows the rest. Output: whether balls were seen to roll for a while, whether they did when sight of them
//! was lost, and how far the last of them still had to go, time after time. Method: windows that changed and
//! lie side by side are a spot; what rolls makes spots about as large as a ball with its shadow, from
//! frame to frame, and against the rest that it comes to, or comes from, there are no larger ones either,
//! while whoever reaches over the table makes larger ones. Now and then a hand looks like a ball, but not for several
//! frames on end. The last ball's way shows in frames that differ from the rest in two spots, the place that
//! it comes to and where it is. Not modelled: a ball that a hand rolls and lets go; balls that roll nowhere but along
//! the rails, which are told as none.

use super::glance::{CELL, Glance, Raster};
use super::likeness::{Changes, Known, WINDOW_CELLS};
use crate::table::TablePoint;
use std::collections::VecDeque;
use std::time::Duration;

/// A ball's spot is at most so many times its diameter long, and so many windows more; the same where it
/// rolls up to the place that it comes to, and both are one spot.
const LONGEST: [f64; 2] = [2.5, 3.0];
const LONGEST_TO_REST: [f64; 2] = [3.0, 4.0];
/// So many windows change at least where a ball moves from one frame to the next; fewer may be a
/// shadow's doing.
const LEAST_MOVED: usize = 3;
/// So many of the last frames that look like it are kept, so far apart.
const KEPT: usize = 16;
const APART: Duration = Duration::from_millis(150);
/// Balls rolled if so many of them on end have nobody over the table, over so long a time.
const LEAST_FRAMES: usize = 3;
const LEAST_TIME: Duration = Duration::from_millis(300);
/// Frames farther apart than this are not on end.
const ON_END: Duration = Duration::from_millis(600);

/// The middle of the spot where a ball has left, with its shadow, is no farther from its place.
const LEFT_MM: f64 = 50.0;

/// The place that a ball comes to shows there in frame after frame, to so much.
const STAYS_MM: f64 = 14.0;
/// A ball's way to its rest is straight to so much.
const ASIDE_MM: f64 = 14.0;
/// No window tells more of where a spot is than so many times what it may change.
const MOST_WEIGHT: f32 = 30.0;

/// How far a ball still had to roll.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RollingBall {
    /// The frame's time.
    pub at: Duration,
    pub left_mm: f64,
}

/// The last frames since the last rest in which what moved may have been balls.
#[derive(Default)]
pub(super) struct Rolling {
    frames: VecDeque<(Duration, Glance)>,
    /// Since when balls were seen to roll until nothing was seen for a while.
    lost: Option<Duration>,
}

impl Rolling {
    /// Looks at a frame and at what changed in it since the one before.
    pub fn look(&mut self, raster: &Raster, moved: &Changes, (at, glance): (Duration, &Glance)) {
        let too_soon = self.frames.back().is_some_and(|(last, _)| at < *last + APART);
        if too_soon || !balls_alone(raster, moved) {
            return;
        }
        if self.frames.len() == KEPT {
            self.frames.pop_front();
        }
        self.frames.push_back((at, glance.clone()));
    }

    /// Nothing is seen from here on for a while; `before` is the rest before, and `cue` where the cue ball
    /// lay then.
    pub fn lose_sight(&mut self, raster: &Raster, before: &Known, cue: TablePoint) {
        let mut seen = self.beside(raster, before);
        // Who leans in to aim moves about in small spots too, with the cue ball in its place.
        let has_left = |spots: &[Spot]| {
            let at = |spot: &Spot| spot.place(raster).map(|place| place.distance_mm(cue));
            spots.iter().filter_map(at).any(|off_mm| off_mm < LEFT_MM)
        };
        for (_, spots) in seen.iter_mut().filter(|(_, spots)| !has_left(spots)) {
            spots.clear();
        }
        self.lost = self.lost.or(rolled(raster, &seen));
        self.frames.clear();
    }

    /// Since when balls were seen to roll until sight of them was lost.
    pub fn lost(&self) -> Option<Duration> {
        self.lost
    }

    /// Whether balls were seen to roll to a rest that looks like this, and how the last of them did.
    pub fn led_to(&self, raster: &Raster, rest: &Known) -> (bool, Vec<RollingBall>) {
        let seen = self.beside(raster, rest);
        (rolled(raster, &seen).is_some(), rolling_out(raster, &seen))
    }

    /// The spots in which the frames differ from a rest.
    fn beside(&self, raster: &Raster, rest: &Known) -> Vec<(Duration, Vec<Spot>)> {
        let spots = |glance| spots(raster, &rest.changes(raster, glance));
        self.frames.iter().map(|(at, glance)| (*at, spots(glance))).collect()
    }
}

/// Since when balls rolled.
fn rolled(raster: &Raster, seen: &[(Duration, Vec<Spot>)]) -> Option<Duration> {
    let mut on_end: Vec<Duration> = Vec::new();
    for (at, spots) in seen {
        if !are_balls(raster, spots, LONGEST_TO_REST) {
            on_end.clear();
            continue;
        }
        if on_end.last().is_some_and(|last| *at > *last + ON_END) {
            on_end.clear();
        }
        on_end.push(*at);
        if on_end.len() >= LEAST_FRAMES && *at >= on_end[0] + LEAST_TIME {
            return Some(on_end[0]);
        }
    }
    None
}

/// The way of the last ball that rolled, oldest first: of the last frames those that differ from the rest
/// in two spots, of which one stays, the place that it came to.
fn rolling_out(raster: &Raster, seen: &[(Duration, Vec<Spot>)]) -> Vec<RollingBall> {
    let pairs = seen.iter().filter_map(|(at, spots)| match &spots[..] {
        [a, b] if are_balls(raster, spots, LONGEST) => {
            Some((*at, [a.place(raster)?, b.place(raster)?]))
        }
        _ => None,
    });
    let mut pairs: Vec<(Duration, [TablePoint; 2])> = pairs.collect();
    pairs.reverse();
    let Some((_, newest)) = pairs.first() else { return Vec::new() };
    let of_pair = |pair: &[TablePoint; 2], end: TablePoint| {
        let nearer = usize::from(pair[1].distance_mm(end) < pair[0].distance_mm(end));
        (pair[nearer], pair[1 - nearer])
    };
    let stays = |end: &TablePoint| {
        let near = |(_, pair): &&(Duration, [TablePoint; 2])| {
            of_pair(pair, *end).0.distance_mm(*end) < STAYS_MM
        };
        pairs.iter().take_while(near).count()
    };
    let Some(end) = newest.iter().copied().max_by_key(stays) else { return Vec::new() };
    let mut way: Vec<RollingBall> = Vec::new();
    let mut toward: Option<f64> = None;
    for (at, pair) in pairs.iter().take(stays(&end)) {
        let (end, ball) = of_pair(pair, end);
        let left_mm = ball.distance_mm(end);
        let direction = end.direction_to(ball);
        let last = way.last();
        let on_end = last.is_none_or(|last| last.at <= *at + ON_END && last.left_mm < left_mm);
        let aside = toward.map_or(0.0, |toward| ((direction - toward).sin() * left_mm).abs());
        if !on_end || aside > ASIDE_MM {
            break;
        }
        toward.get_or_insert(direction);
        way.push(RollingBall { at: *at, left_mm });
    }
    way.reverse();
    way
}

/// Whether all that changed is spots as balls make them, and one of them lies clear of the rails.
fn balls_alone(raster: &Raster, changes: &Changes) -> bool {
    are_balls(raster, &spots(raster, changes), LONGEST)
}

/// Whether something that changed is larger than a ball that moves.
pub(super) fn larger_than_balls(raster: &Raster, changes: &Changes) -> bool {
    let longest = longest(raster, LONGEST);
    spots(raster, changes).iter().any(|spot| spot.longest as f64 > longest)
}

fn longest(raster: &Raster, [per_ball, more]: [f64; 2]) -> f64 {
    per_ball * raster.ball_cells + more
}

fn are_balls(raster: &Raster, spots: &[Spot], at_most: [f64; 2]) -> bool {
    let longest = longest(raster, at_most);
    let is_clear = |spot: &Spot| !spot.at_edge && spot.longest >= LEAST_MOVED;
    spots.iter().all(|spot| spot.longest as f64 <= longest) && spots.iter().any(is_clear)
}

/// Windows that changed and lie side by side.
struct Spot {
    /// Windows along its longer side.
    longest: usize,
    /// Whether it reaches over the bed's edge.
    at_edge: bool,
    /// Its middle, each window weighed by how much it changed, in samples from the first column and row.
    middle: [f64; 2],
}

impl Spot {
    /// The ball's place whose spot it is.
    fn place(&self, raster: &Raster) -> Option<TablePoint> {
        raster.ball_at(self.middle[0], self.middle[1])
    }
}

fn spots(raster: &Raster, changes: &Changes) -> Vec<Spot> {
    let columns = changes.columns;
    let mut open: Vec<bool> = changes.windows.iter().map(|change| *change >= 1.0).collect();
    let mut spots = Vec::new();
    for first in 0..open.len() {
        if !std::mem::take(&mut open[first]) {
            continue;
        }
        let mut windows = vec![(first % columns, first / columns)];
        let mut next = 0;
        while let Some(&(column, row)) = windows.get(next) {
            next += 1;
            for y in row.saturating_sub(1)..=row + 1 {
                for x in column.saturating_sub(1)..(column + 2).min(columns) {
                    if open.get_mut(y * columns + x).is_some_and(std::mem::take) {
                        windows.push((x, y));
                    }
                }
            }
        }
        let extent = |of: fn(&(usize, usize)) -> usize| {
            let (least, most) = windows
                .iter()
                .map(of)
                .fold((usize::MAX, 0), |(least, most), at| (least.min(at), most.max(at)));
            most + 1 - least
        };
        let longest = extent(|window| window.0).max(extent(|window| window.1));
        let at_edge = windows.iter().any(|window| raster.reaches_out(*window, WINDOW_CELLS));
        let mut sums = [0.0; 3];
        for (column, row) in &windows {
            let weight = f64::from(changes.windows[row * columns + column].min(MOST_WEIGHT));
            let middle =
                |cell: usize| (cell * CELL) as f64 + (WINDOW_CELLS * CELL - 1) as f64 / 2.0;
            sums[0] += weight;
            sums[1] += weight * middle(*column);
            sums[2] += weight * middle(*row);
        }
        let middle = [sums[1] / sums[0], sums[2] / sums[0]];
        spots.push(Spot { longest, at_edge, middle });
    }
    spots
}
