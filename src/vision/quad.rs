//! Four bowed sides around a region: from a mask of the cloth to points on its straight borders.
//!
//! Input: a mask on a reduced picture. Output: four corners in order around the region and, for
//! each side, the outline points that belong to it, in frame pixels. Method: the outline's convex
//! hull, the largest four-sided figure in it as a start, then each side refitted as a parabola
//! (a straight side through a distorting lens) with its outliers dropped; pockets bite the corners
//! and the middles of long sides away, so points near a side's ends do not count.

use super::region::{Reduced, Region};
use crate::camera::PixelPoint;

/// Four sides of a region.
#[derive(Debug, Clone)]
pub(super) struct Quad {
    /// Where neighbouring sides meet; side i runs from corner i to corner i + 1.
    pub corners: [PixelPoint; 4],
    /// Outline points of each side.
    pub sides: [Vec<PixelPoint>; 4],
    /// Part of the quad that the region fills, near 1 for a table's cloth.
    pub filled: f64,
}

/// Points this near a side's ends, as a part of its length, do not count for it.
const END_PART: f64 = 0.09;

/// The quad around a region; none where it has no four sides.
pub(super) fn around(reduced: &Reduced, region: &Region) -> Option<Quad> {
    let outline = outline_of(reduced, region);
    let hull = simplified(convex_hull(&outline), 24);
    let inscribed = largest_inscribed(&hull).and_then(|start| fitted(&outline, start));
    // Pockets bite the corners away, and what is left may have a larger figure askew in it.
    let (corners, sides) =
        inscribed.or_else(|| smallest_around(&hull).and_then(|start| fitted(&outline, start)))?;
    let scale = |p: PixelPoint| PixelPoint::new(p.x_px * reduced.step, p.y_px * reduced.step);
    let area = polygon_area(&corners).abs();
    Some(Quad {
        corners: corners.map(scale),
        sides: sides.map(|side| side.into_iter().map(scale).collect()),
        filled: region.area as f64 / area.max(1.0),
    })
}

/// The corners and the sides' points that a first guess leads to.
fn fitted(
    outline: &[PixelPoint],
    start: [PixelPoint; 4],
) -> Option<([PixelPoint; 4], [Vec<PixelPoint>; 4])> {
    let start = counter_clockwise(start);
    let side_px = start_length(&start);
    let mut corners = start;
    let mut sides: [Vec<PixelPoint>; 4] = Default::default();
    for part in [0.06, 0.03, 0.015, 0.01] {
        let reach_px = (part * side_px).max(1.5);
        let mut fits = [None; 4];
        for side in 0..4 {
            let (from, to) = (corners[side], corners[(side + 1) % 4]);
            // The chord's parabola starts flat; from the second round it has the fitted bow.
            let bow = sides[side].len() > 8;
            let old = if bow { fit_parabola(from, to, &sides[side]) } else { None };
            let near = points_near(outline, from, to, old.as_ref(), reach_px);
            let fit = fit_parabola(from, to, &near)?;
            sides[side] = near;
            fits[side] = Some(fit);
        }
        let fits = [fits[0]?, fits[1]?, fits[2]?, fits[3]?];
        let mut moved = corners;
        for (index, corner) in moved.iter_mut().enumerate() {
            *corner = meet(&fits[(index + 3) % 4], &fits[index], *corner)?;
        }
        corners = moved;
    }
    Some((corners, sides))
}

/// Four corners in the order in which the table's are seen from above: counter-clockwise to the eye,
/// since y runs down. A camera above the cloth cannot see them the other way round.
pub(super) fn counter_clockwise(mut corners: [PixelPoint; 4]) -> [PixelPoint; 4] {
    if polygon_area(&corners) > 0.0 {
        corners.reverse();
    }
    corners
}

/// The first and last mask pixel of each row and column, at the pixel's outer edge.
fn outline_of(reduced: &Reduced, region: &Region) -> Vec<PixelPoint> {
    let (w, h) = (reduced.width, reduced.height);
    let mut points = Vec::new();
    let inside = |x: usize, y: usize| region.mask[y * w + x];
    for y in 0..h {
        let first = (0..w).find(|x| inside(*x, y));
        let last = (0..w).rev().find(|x| inside(*x, y));
        if let (Some(first), Some(last)) = (first, last) {
            points.push(PixelPoint::new(first as f64, y as f64 + 0.5));
            points.push(PixelPoint::new(last as f64 + 1.0, y as f64 + 0.5));
        }
    }
    for x in 0..w {
        let first = (0..h).find(|y| inside(x, *y));
        let last = (0..h).rev().find(|y| inside(x, *y));
        if let (Some(first), Some(last)) = (first, last) {
            points.push(PixelPoint::new(x as f64 + 0.5, first as f64));
            points.push(PixelPoint::new(x as f64 + 0.5, last as f64 + 1.0));
        }
    }
    points
}

/// Twice-signed turn of the way a → b → c.
fn turn(a: PixelPoint, b: PixelPoint, c: PixelPoint) -> f64 {
    (b.x_px - a.x_px) * (c.y_px - a.y_px) - (b.y_px - a.y_px) * (c.x_px - a.x_px)
}

fn convex_hull(points: &[PixelPoint]) -> Vec<PixelPoint> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.x_px.total_cmp(&b.x_px).then(a.y_px.total_cmp(&b.y_px)));
    let mut hull: Vec<PixelPoint> = Vec::new();
    for pass in 0..2 {
        let floor = hull.len();
        let mut add = |point: PixelPoint| {
            while hull.len() >= floor + 2
                && turn(hull[hull.len() - 2], hull[hull.len() - 1], point) <= 0.0
            {
                hull.pop();
            }
            hull.push(point);
        };
        if pass == 0 {
            sorted.iter().copied().for_each(&mut add);
        } else {
            sorted.iter().rev().copied().for_each(&mut add);
        }
        hull.pop();
    }
    hull
}

/// The hull with its least telling corners dropped until few are left.
fn simplified(mut hull: Vec<PixelPoint>, keep: usize) -> Vec<PixelPoint> {
    while hull.len() > keep {
        let n = hull.len();
        let least = (0..n).min_by(|i, j| {
            let cut = |i: usize| turn(hull[(i + n - 1) % n], hull[i], hull[(i + 1) % n]).abs();
            cut(*i).total_cmp(&cut(*j))
        });
        let Some(least) = least else { break };
        hull.remove(least);
    }
    hull
}

/// Every choice of four of some things in a row, in their order.
fn fours(n: usize) -> impl Iterator<Item = [usize; 4]> {
    (0..n).flat_map(move |a| {
        (a + 1..n)
            .flat_map(move |b| (b + 1..n).flat_map(move |c| (c + 1..n).map(move |d| [a, b, c, d])))
    })
}

fn largest_inscribed(hull: &[PixelPoint]) -> Option<[PixelPoint; 4]> {
    fours(hull.len())
        .map(|four| four.map(|i| hull[i]))
        .map(|corners| (polygon_area(&corners).abs(), corners))
        .min_by(|a, b| b.0.total_cmp(&a.0))
        .map(|(_, corners)| corners)
}

/// The smallest four-sided figure around a hull, each side along one of the hull's.
fn smallest_around(hull: &[PixelPoint]) -> Option<[PixelPoint; 4]> {
    let n = hull.len();
    if n < 4 {
        return None;
    }
    let around = |sides: [usize; 4]| -> Option<[PixelPoint; 4]> {
        let mut corners = [PixelPoint::new(0.0, 0.0); 4];
        for (index, corner) in corners.iter_mut().enumerate() {
            let [a, b] =
                [sides[index], sides[(index + 1) % 4]].map(|i| (hull[i], hull[(i + 1) % n]));
            *corner = crossing(a, b)?;
        }
        Some(corners)
    };
    let hull_area =
        0.5 * (1..n - 1).map(|i| turn(hull[0], hull[i], hull[i + 1])).sum::<f64>().abs();
    fours(n)
        .filter_map(around)
        .map(|corners| (polygon_area(&corners).abs(), corners))
        .filter(|(area, _)| *area >= hull_area)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, corners)| corners)
}

/// Where two sides of a hull meet when they are made longer, one after the other around it; none where
/// they part.
fn crossing(
    (a, b): (PixelPoint, PixelPoint),
    (c, d): (PixelPoint, PixelPoint),
) -> Option<PixelPoint> {
    let (rx, ry) = (b.x_px - a.x_px, b.y_px - a.y_px);
    let (sx, sy) = (d.x_px - c.x_px, d.y_px - c.y_px);
    let cross = rx * sy - ry * sx;
    let part = ((c.x_px - a.x_px) * sy - (c.y_px - a.y_px) * sx) / cross;
    // The hull runs one way round: the next side turns the same way and lies ahead.
    (cross > 1e-9 && part >= 1.0 - 1e-9)
        .then(|| PixelPoint::new(a.x_px + part * rx, a.y_px + part * ry))
}

fn polygon_area(corners: &[PixelPoint; 4]) -> f64 {
    (0..4)
        .map(|i| {
            let (a, b) = (corners[i], corners[(i + 1) % 4]);
            0.5 * (a.x_px * b.y_px - b.x_px * a.y_px)
        })
        .sum()
}

fn start_length(corners: &[PixelPoint; 4]) -> f64 {
    (0..4).map(|i| corners[i].distance_px(corners[(i + 1) % 4])).sum::<f64>() / 4.0
}

/// A side as offset from its chord: offset = a + b·t + c·t², t from 0 to 1 along the chord.
#[derive(Debug, Clone, Copy)]
struct Parabola {
    from: PixelPoint,
    to: PixelPoint,
    coefficients: [f64; 3],
}

impl Parabola {
    fn offset(&self, t: f64) -> f64 {
        let [a, b, c] = self.coefficients;
        a + t * (b + t * c)
    }

    fn point(&self, t: f64) -> PixelPoint {
        let (dx, dy) = (self.to.x_px - self.from.x_px, self.to.y_px - self.from.y_px);
        let length = dx.hypot(dy).max(1e-9);
        let offset = self.offset(t);
        PixelPoint::new(
            self.from.x_px + t * dx - offset * dy / length,
            self.from.y_px + t * dy + offset * dx / length,
        )
    }
}

/// Part along the chord and offset from it.
fn along(from: PixelPoint, to: PixelPoint, point: PixelPoint) -> (f64, f64) {
    let (dx, dy) = (to.x_px - from.x_px, to.y_px - from.y_px);
    let length = dx.hypot(dy).max(1e-9);
    let (px, py) = (point.x_px - from.x_px, point.y_px - from.y_px);
    ((px * dx + py * dy) / (length * length), (py * dx - px * dy) / length)
}

fn points_near(
    outline: &[PixelPoint],
    from: PixelPoint,
    to: PixelPoint,
    old: Option<&Parabola>,
    reach_px: f64,
) -> Vec<PixelPoint> {
    outline
        .iter()
        .copied()
        .filter(|point| {
            let (t, offset) = along(from, to, *point);
            let expected = old.map_or(0.0, |parabola| parabola.offset(t));
            (END_PART..=1.0 - END_PART).contains(&t) && (offset - expected).abs() < reach_px
        })
        .collect()
}

/// Least squares; the bow is left out where the points do not span the side.
fn fit_parabola(from: PixelPoint, to: PixelPoint, points: &[PixelPoint]) -> Option<Parabola> {
    if points.len() < 8 {
        return None;
    }
    let terms = if coverage(from, to, points) > 0.5 { 3 } else { 2 };
    let mut matrix = nalgebra::DMatrix::zeros(points.len(), terms);
    let mut right = nalgebra::DVector::zeros(points.len());
    for (row, point) in points.iter().enumerate() {
        let (t, offset) = along(from, to, *point);
        for term in 0..terms {
            matrix[(row, term)] = t.powi(term as i32);
        }
        right[row] = offset;
    }
    let solution = matrix.svd(true, true).solve(&right, 1e-9).ok()?;
    let mut coefficients = [0.0; 3];
    coefficients[..terms].copy_from_slice(solution.as_slice());
    Some(Parabola { from, to, coefficients })
}

/// Part of a side's length that has points on it.
fn coverage(from: PixelPoint, to: PixelPoint, points: &[PixelPoint]) -> f64 {
    const CELLS: usize = 32;
    let mut seen = [false; CELLS];
    for point in points {
        let t = along(from, to, *point).0;
        let cell = ((t * CELLS as f64).max(0.0) as usize).min(CELLS - 1);
        seen[cell] = true;
    }
    let counted = seen.iter().filter(|cell| **cell).count() as f64;
    (counted / (CELLS as f64 * (1.0 - 2.0 * END_PART))).min(1.0)
}

/// Where the end of one side meets the start of the next.
fn meet(before: &Parabola, after: &Parabola, near: PixelPoint) -> Option<PixelPoint> {
    // Tangents near the corner, intersected; twice, since the sides are bowed.
    let mut corner = near;
    for _ in 0..4 {
        let t = along(before.from, before.to, corner).0;
        let u = along(after.from, after.to, corner).0;
        let (a, b) = (before.point(t - 0.01), before.point(t + 0.01));
        let (c, d) = (after.point(u - 0.01), after.point(u + 0.01));
        let (rx, ry) = (b.x_px - a.x_px, b.y_px - a.y_px);
        let (sx, sy) = (d.x_px - c.x_px, d.y_px - c.y_px);
        let cross = rx * sy - ry * sx;
        if cross.abs() < 1e-9 {
            return None;
        }
        let part = ((c.x_px - a.x_px) * sy - (c.y_px - a.y_px) * sx) / cross;
        corner = PixelPoint::new(a.x_px + part * rx, a.y_px + part * ry);
        if !(corner.x_px.is_finite() && corner.y_px.is_finite()) {
            return None;
        }
    }
    Some(corner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rectangle_whose_corners_are_bitten_away_is_the_smallest_figure_around_what_is_left() {
        let left = [(10, 0), (90, 0), (100, 8), (100, 42), (92, 50), (8, 50), (0, 44), (0, 6)];
        let hull = convex_hull(&left.map(|(x, y)| PixelPoint::new(f64::from(x), f64::from(y))));
        let corners = smallest_around(&hull).unwrap();
        for (x, y) in [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0)] {
            let near = |corner: &PixelPoint| corner.distance_px(PixelPoint::new(x, y)) < 1e-6;
            assert!(corners.iter().any(near), "({x}, {y}) in {corners:?}");
        }
    }
}
