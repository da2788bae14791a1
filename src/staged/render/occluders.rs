//! Which solids may stand between a place on the table and a lamp.
//!
//! The space just over the table is cut into columns; for each, every solid that could shade some
//! point of it from some lamp is listed. The test is generous: for bounding balls of column (c),
//! solid (s) and lamp piece (l), the solid must reach the hull of column and lamp. Most columns
//! list nothing, and there shadows need no rays at all.

use super::solid::{Point, Sphere};

/// A solid of the world, by its place in the world's lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Occluder {
    Ball(usize),
    Cushion(usize),
    Block(usize),
    Limb(usize),
    Woodwork,
}

/// The columns over a rectangle of the table frame.
#[derive(Debug, Clone)]
pub struct Columns {
    origin: [f64; 2],
    size_mm: f64,
    count: [usize; 2],
    lists: Vec<Vec<Occluder>>,
}

/// The space columns are made of.
#[derive(Debug, Clone, Copy)]
pub struct Region {
    pub low: Point,
    pub high: Point,
    pub column_mm: f64,
}

impl Columns {
    /// Lists the solids for every column; each solid comes with balls that cover it.
    pub fn new(region: &Region, lamps: &[Sphere], solids: &[(Occluder, Vec<Sphere>)]) -> Self {
        let span = region.high - region.low;
        let size_mm = region.column_mm;
        let cells = |length: f64| (length / size_mm).ceil().max(1.0) as usize;
        let count = [cells(span.x), cells(span.y)];
        let half = Point::new(size_mm / 2.0, size_mm / 2.0, span.z / 2.0);
        let mut lists = Vec::with_capacity(count[0] * count[1]);
        for j in 0..count[1] {
            for i in 0..count[0] {
                let middle = Point::new(
                    region.low.x + (i as f64 + 0.5) * size_mm,
                    region.low.y + (j as f64 + 0.5) * size_mm,
                    region.low.z + span.z / 2.0,
                );
                let column = Sphere { centre: middle, radius_mm: half.norm() };
                let shades = |cover: &[Sphere]| {
                    lamps.iter().any(|lamp| cover.iter().any(|s| reaches(&column, lamp, s)))
                };
                let list =
                    solids.iter().filter(|(_, cover)| shades(cover)).map(|(o, _)| *o).collect();
                lists.push(list);
            }
        }
        Self { origin: [region.low.x, region.low.y], size_mm, count, lists }
    }

    /// What may shade a place; none outside the region.
    pub fn at(&self, place: Point) -> Option<&[Occluder]> {
        let index = |v: f64, origin: f64, count: usize| {
            let k = (v - origin) / self.size_mm;
            (k >= 0.0 && k < count as f64).then_some(k as usize)
        };
        let i = index(place.x, self.origin[0], self.count[0])?;
        let j = index(place.y, self.origin[1], self.count[1])?;
        self.lists.get(j * self.count[0] + i).map(Vec::as_slice)
    }
}

/// Whether a ball reaches into the hull of two others.
fn reaches(from: &Sphere, to: &Sphere, ball: &Sphere) -> bool {
    let way = to.centre - from.centre;
    let away = ball.centre - from.centre;
    let part = (away.dot(&way) / way.norm_squared()).clamp(0.0, 1.0);
    // The hull widens along the way; the nearest part lies at most one ball further on.
    let width = from.radius_mm + (to.radius_mm - from.radius_mm).max(0.0) * part;
    let spare = 0.2 * ball.radius_mm;
    (away - way * part).norm() <= width + ball.radius_mm + spare
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::staged::random::Random;
    use crate::staged::render::solid::Ray;

    #[test]
    fn no_shadow_is_missed() {
        let mut random = Random::new(8);
        let lamp = Sphere { centre: Point::new(300.0, 100.0, 900.0), radius_mm: 220.0 };
        let balls: Vec<Sphere> = (0..6)
            .map(|_| {
                let at = [random.between(50.0, 950.0), random.between(50.0, 450.0)];
                Sphere { centre: Point::new(at[0], at[1], 28.5), radius_mm: 28.5 }
            })
            .collect();
        let solids: Vec<_> =
            balls.iter().enumerate().map(|(k, b)| (Occluder::Ball(k), vec![*b])).collect();
        let region =
            Region { low: Point::zeros(), high: Point::new(1000.0, 500.0, 60.0), column_mm: 25.0 };
        let columns = Columns::new(&region, &[lamp], &solids);
        let (mut shaded, mut empty) = (0, 0);
        for _ in 0..40_000 {
            let mut draw = |high| random.between(0.0, high);
            let from = Point::new(draw(1000.0), draw(500.0), draw(60.0));
            let out = Point::new(draw(2.0) - 1.0, draw(2.0) - 1.0, draw(2.0) - 1.0);
            let to = lamp.centre + out.normalize() * draw(lamp.radius_mm);
            let ray = Ray { from, along: (to - from).normalize() };
            let list = columns.at(from).expect("inside the region");
            empty += usize::from(list.is_empty());
            for (k, ball) in balls.iter().enumerate() {
                if ball.touch(&ray).is_some() {
                    shaded += 1;
                    assert!(list.contains(&Occluder::Ball(k)));
                }
            }
        }
        assert!(shaded > 100 && empty > 10_000, "{shaded} {empty}");
    }
}
