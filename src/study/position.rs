//! How alike two positions are.
//!
//! Input: places of balls in diamonds. Output: a distance in diamonds for each ball, 0 where both are
//! the same. A position and its mirror image along the table are the same shot, so the nearer of the
//! two counts; object balls are alike, whatever their numbers.
//!
//! Method: the OSPA metric (Schuhmacher, Vo & Vo, IEEE Trans. Signal Process. 56 (2008) 3447) of first
//! order: object balls are paired so that the sum of their ways is least, no way longer than
//! [`FARTHEST`]; a ball without a partner costs as much. The cue ball has the cue ball as its partner.
//! The sum is shared out over all balls. Not modelled: that a finger's breadth matters more where a way
//! is narrow.

use crate::{assignment::cheapest, layout::Layout, table::DiamondPoint};

/// Balls farther apart than this, in diamonds, have nothing to do with one another.
pub const FARTHEST: f64 = 2.0;
/// From one long rail to the other, in diamonds.
const ACROSS: f64 = 4.0;

/// Where the balls lie.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Position {
    pub cue: Option<DiamondPoint>,
    pub objects: Vec<DiamondPoint>,
}

impl Position {
    pub fn of(layout: &Layout) -> Self {
        Self {
            cue: layout.cue_ball().map(crate::layout::Ball::place),
            objects: layout.object_balls().map(crate::layout::Ball::place).collect(),
        }
    }

    /// The mirror image, long rail for long rail.
    pub fn mirrored(&self) -> Self {
        let mirror = |at: &DiamondPoint| DiamondPoint { x: at.x, y: ACROSS - at.y };
        Self {
            cue: self.cue.as_ref().map(mirror),
            objects: self.objects.iter().map(mirror).collect(),
        }
    }

    /// How far it is from another position or its mirror image, in diamonds for each ball: 0 to
    /// [`FARTHEST`].
    pub fn distance(&self, other: &Self) -> f64 {
        self.distance_as_it_lies(other).min(self.distance_as_it_lies(&other.mirrored()))
    }

    fn distance_as_it_lies(&self, other: &Self) -> f64 {
        let (few, many) = if self.objects.len() <= other.objects.len() {
            (&self.objects, &other.objects)
        } else {
            (&other.objects, &self.objects)
        };
        let cost: Vec<Vec<f64>> =
            few.iter().map(|one| many.iter().map(|other| way(*one, *other)).collect()).collect();
        let partners = cheapest(&cost, many.len());
        let paired: f64 = cost.iter().zip(&partners).filter_map(|(row, at)| row.get(*at)).sum();
        let alone = (many.len() - few.len()) as f64 * FARTHEST;
        let (cue, cue_balls) = match (self.cue, other.cue) {
            (Some(one), Some(other)) => (way(one, other), 1),
            (None, None) => (0.0, 0),
            _ => (FARTHEST, 1),
        };
        (paired + alone + cue) / (many.len() + cue_balls).max(1) as f64
    }
}

fn way(one: DiamondPoint, other: DiamondPoint) -> f64 {
    (one.x - other.x).hypot(one.y - other.y).min(FARTHEST)
}

/// The nearest positions to one by a full comparison, nearest first, each by its number in the list.
#[cfg(test)]
pub(super) fn nearest(to: &Position, among: &[Position], count: usize) -> Vec<(usize, f64)> {
    let mut found: Vec<(usize, f64)> =
        among.iter().enumerate().map(|(at, position)| (at, to.distance(position))).collect();
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    found.truncate(count);
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Random;

    fn position(random: &mut Random, objects: usize) -> Position {
        let mut at = || DiamondPoint { x: random.between(0.1, 7.9), y: random.between(0.1, 3.9) };
        Position { cue: Some(at()), objects: (0..objects).map(|_| at()).collect() }
    }

    #[test]
    fn a_position_is_its_mirror_image_whatever_the_order_of_its_balls() {
        let mut random = Random::new(4);
        for objects in [0, 1, 5, 15] {
            let one = position(&mut random, objects);
            let mut other = one.mirrored();
            random.shuffle(&mut other.objects);
            assert!(one.distance(&other) < 1e-12);
        }
    }

    #[test]
    fn it_is_a_distance() {
        let mut random = Random::new(9);
        for _ in 0..300 {
            let [a, b, c] = [2, 4, 3].map(|objects| position(&mut random, objects));
            let (ab, bc, ac) = (a.distance(&b), b.distance(&c), a.distance(&c));
            assert!((ab - b.distance(&a)).abs() < 1e-12 && ab > 0.0 && ab <= FARTHEST);
            assert!(ac <= ab + bc + 1e-12, "{ac} {ab} {bc}");
        }
    }

    #[test]
    fn pairing_beats_the_order_of_the_balls() {
        let at = |x| DiamondPoint { x, y: 2.0 };
        let one = Position { cue: None, objects: vec![at(1.0), at(1.5), at(6.0)] };
        let other = Position { cue: None, objects: vec![at(6.1), at(1.1), at(1.6)] };
        assert!((one.distance(&other) - 0.1).abs() < 1e-12);
    }

    #[test]
    fn the_nearest_come_first() {
        let mut random = Random::new(2);
        let to = position(&mut random, 1);
        let mut among: Vec<Position> = (0..50).map(|_| position(&mut random, 1)).collect();
        among[17] = to.mirrored();
        let found = nearest(&to, &among, 5);
        assert_eq!((found.len(), found[0].0), (5, 17));
        assert!(found.windows(2).all(|pair| pair[0].1 <= pair[1].1));
    }
}
