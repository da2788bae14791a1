//! Where few balls lay at the rests of a camera, and which of those positions are nearest to one.
//!
//! With one to four object balls left a position comes again; with more of them none ever does. Each is
//! kept in 24 bytes, places in steps of 0.04 mm on a nine-foot table. The distance is that of
//! [`Position`]; only positions with as many object balls are compared. Method: a scan in which a lower
//! bound (the ways along the table alone, which a mirror image does not change: balls in order of x)
//! leaves out nearly all. It holds where no way is longer than [`FARTHEST`]; beyond a sum of that it is
//! cut, so that nothing nearer is ever left out.

use super::position::{FARTHEST, Position};
use crate::{layout::Layout, table::DiamondPoint};

/// Most object balls of a position that is kept.
pub const FEW: usize = 4;
/// A place's steps along the whole table, and across.
const STEPS: f64 = 65_535.0;
const ALONG: f64 = 8.0;

/// A position, packed: the cue ball's place and then those of the object balls in order of x.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Kept {
    rest: u32,
    at: [[u16; 2]; FEW + 1],
}

/// Positions by how many object balls they have.
#[derive(Debug, Clone, Default)]
pub struct Places {
    by_count: [Vec<Kept>; FEW],
}

fn packed(at: DiamondPoint) -> [u16; 2] {
    // A centre lies within the noses, or in a pocket's mouth just outside.
    [at.x, at.y].map(|along| (along / ALONG * STEPS).round().clamp(0.0, STEPS) as u16)
}

fn unpacked([x, y]: [u16; 2]) -> DiamondPoint {
    let [x, y] = [x, y].map(|steps| f64::from(steps) / STEPS * ALONG);
    DiamondPoint { x, y }
}

/// A position ready to be kept or compared; none with no cue ball or with too many object balls.
fn ready(rest: u32, position: &Position) -> Option<(usize, Kept)> {
    let count = position.objects.len();
    let mut at = [[0; 2]; FEW + 1];
    at[0] = packed(position.cue?);
    if !(1..=FEW).contains(&count) {
        return None;
    }
    for (place, ball) in at[1..].iter_mut().zip(&position.objects) {
        *place = packed(*ball);
    }
    at[1..=count].sort_unstable();
    Some((count, Kept { rest, at }))
}

impl Kept {
    fn position(&self, count: usize) -> Position {
        Position {
            cue: Some(unpacked(self.at[0])),
            objects: self.at[1..=count].iter().map(|at| unpacked(*at)).collect(),
        }
    }

    /// A sum of ways, in steps, that the sum to another position or its mirror image is not below.
    fn at_least(&self, other: &Self, count: usize) -> u32 {
        let along = |at: usize| u32::from(self.at[at][0].abs_diff(other.at[at][0]));
        (0..=count).map(along).sum()
    }
}

impl Places {
    /// Keeps the position of a rest if few enough balls lie there.
    pub fn take(&mut self, rest: u32, layout: &Layout) {
        if layout.balls.len() > FEW + 1 {
            return;
        }
        if let Some((count, kept)) = ready(rest, &Position::of(layout)) {
            self.by_count[count - 1].push(kept);
        }
    }

    /// The nearest positions to one that `wanted` lets pass, nearest first: the rest of each and its
    /// distance. None where the position has no cue ball, no object ball or more than [`FEW`].
    pub fn nearest(
        &self,
        to: &Position,
        count: usize,
        mut wanted: impl FnMut(i64) -> bool,
    ) -> Vec<(i64, f64)> {
        let Some((balls, to)) = ready(0, to) else { return Vec::new() };
        let exact = to.position(balls);
        let ways = (balls + 1) as f64;
        let steps_per_diamond = STEPS / ALONG;
        let mut found: Vec<(i64, f64)> = Vec::with_capacity(count + 1);
        // Beyond this sum of ways along the table a position cannot be among the nearest.
        let mut most = u32::MAX;
        for kept in &self.by_count[balls - 1] {
            if to.at_least(kept, balls) > most {
                continue;
            }
            let distance = exact.distance(&kept.position(balls));
            let full = found.len() == count;
            let farther = found.last().is_some_and(|(_, last)| distance >= *last);
            if count == 0 || (full && farther) || !wanted(i64::from(kept.rest)) {
                continue;
            }
            let at = found.partition_point(|(_, nearer)| *nearer <= distance);
            found.insert(at, (i64::from(kept.rest), distance));
            found.truncate(count);
            if found.len() == count {
                let sum = found.last().map_or(f64::INFINITY, |(_, last)| last * ways);
                // One step more for what packing rounds away. Above the cut nothing is known.
                let bound = (sum * steps_per_diamond).ceil() + ways;
                most = if sum < FARTHEST { bound as u32 } else { u32::MAX };
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        layout::{Ball, BallKind},
        random::Random,
        study::position::nearest,
        table::{FootEnd, TableSize},
    };

    fn layout(random: &mut Random, objects: usize) -> Layout {
        let mut ball = |kind| Ball {
            kind,
            number: None,
            x: random.between(0.1, 7.9),
            y: random.between(0.1, 3.9),
            sigma_mm: 0.5,
            confidence: 0.99,
            number_confidence: 0.0,
        };
        let mut balls = vec![ball(BallKind::Cue)];
        balls.extend((0..objects).map(|_| ball(BallKind::Object)));
        Layout::of(TableSize::NINE_FOOT, FootEnd::Given, balls)
    }

    #[test]
    fn the_nearest_are_those_of_a_full_comparison() {
        let mut random = Random::new(6);
        for objects in 1..=FEW {
            let layouts: Vec<Layout> = (0..400).map(|_| layout(&mut random, objects)).collect();
            let mut places = Places::default();
            for (id, layout) in (0..).zip(&layouts) {
                places.take(id, layout);
            }
            let among: Vec<Position> = layouts.iter().map(Position::of).collect();
            for _ in 0..10 {
                let to = Position::of(&layout(&mut random, objects));
                let full = nearest(&to, &among, 7);
                let found = places.nearest(&to, 7, |_| true);
                assert_eq!(found.len(), 7);
                for ((at, distance), (rest, kept)) in full.iter().zip(&found) {
                    assert!((distance - kept).abs() < 1e-4, "{at} {rest} {distance} {kept}");
                }
            }
        }
    }

    #[test]
    fn a_mirror_image_is_as_near_as_the_position_itself() {
        let mut random = Random::new(8);
        let one = layout(&mut random, 3);
        let mut mirrored = one.clone();
        mirrored.balls.iter_mut().for_each(|ball| ball.y = 4.0 - ball.y);
        mirrored.balls.swap(1, 3);
        let mut places = Places::default();
        for id in 0..50 {
            places.take(id, &layout(&mut random, 3));
        }
        places.take(99, &mirrored);
        let found = places.nearest(&Position::of(&one), 3, |_| true);
        assert_eq!(found[0].0, 99);
        assert!(found[0].1 < 1e-4 && found[1].1 > 0.01, "{found:?}");
        let others = places.nearest(&Position::of(&one), 3, |rest| rest != 99);
        assert_eq!(others[0].0, found[1].0);
    }

    #[test]
    fn what_is_not_kept_has_no_nearest() {
        let mut random = Random::new(3);
        let mut places = Places::default();
        for objects in [0, 5, 15] {
            places.take(1, &layout(&mut random, objects));
        }
        assert!(places.by_count.iter().all(Vec::is_empty));
        for objects in [0, 2, 5] {
            let to = Position::of(&layout(&mut random, objects));
            assert!(places.nearest(&to, 3, |_| true).is_empty());
        }
    }
}
