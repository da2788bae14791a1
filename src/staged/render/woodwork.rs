//! Where a ray meets the table itself: bed, rails, walls of the pockets, skirt.
//!
//! The table is a rounded block from which the bed's trough and six round holes are cut. The
//! trough ends at the backs of the cushions; the cushions themselves are convex bodies elsewhere.

use super::solid::{CLEAR_MM, Point, Ray, Touch};
use crate::staged::build::Build;
use crate::table::{Pocket, TableSize};

/// A part of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wood {
    Bed,
    RailTop,
    /// The leather or metal around a hole, on the rail.
    Rim,
    /// The rail's face toward the bed, seen in the jaws.
    RailFace,
    Skirt,
    PocketWall,
    PocketFloor,
}

const POCKET_DEPTH_MM: f64 = 130.0;

/// Wider than any rim.
const FAR_FROM_HOLES_MM: f64 = 60.0;

/// The table without its cushions.
#[derive(Debug, Clone)]
pub struct Woodwork {
    length_mm: f64,
    width_mm: f64,
    trough_mm: f64,
    edge_mm: f64,
    corner_mm: f64,
    round_mm: f64,
    rim_mm: f64,
    pub top_mm: f64,
    skirt_mm: f64,
    holes: [Pocket; 6],
}

impl Woodwork {
    pub fn new(table: &TableSize, build: &Build) -> Self {
        Self {
            length_mm: table.length_mm,
            width_mm: table.width_mm,
            trough_mm: build.cushion_depth_mm,
            edge_mm: build.rail_edge_mm,
            corner_mm: build.rail_corner_mm,
            round_mm: build.rail_round_mm,
            rim_mm: build.rim_mm,
            top_mm: build.rail_top_mm(table),
            skirt_mm: build.skirt_mm,
            holes: build.pockets,
        }
    }

    /// Whether a place is inside the nose lines.
    pub fn in_play(&self, p: Point) -> bool {
        (0.0..=self.length_mm).contains(&p.x) && (0.0..=self.width_mm).contains(&p.y)
    }

    /// Whether a place of the rails belongs to a long one.
    pub fn beside_a_long_rail(&self, p: Point) -> bool {
        p.y < 0.0 || p.y > self.width_mm
    }

    fn in_trough(&self, p: Point) -> bool {
        let t = self.trough_mm;
        p.x > -t && p.x < self.length_mm + t && p.y > -t && p.y < self.width_mm + t
    }

    /// Distance inside the table's outline; negative outside.
    fn depth_in_outline(&self, p: Point) -> f64 {
        let half = [self.length_mm / 2.0 + self.edge_mm, self.width_mm / 2.0 + self.edge_mm];
        let qx = (p.x - self.length_mm / 2.0).abs() - half[0] + self.corner_mm;
        let qy = (p.y - self.width_mm / 2.0).abs() - half[1] + self.corner_mm;
        self.corner_mm - qx.max(0.0).hypot(qy.max(0.0)) - qx.max(qy).min(0.0)
    }

    /// Distance from the nearest hole, negative over it; exact only near holes.
    fn hole_gap(&self, p: Point) -> f64 {
        let mut nearest = FAR_FROM_HOLES_MM;
        for hole in &self.holes {
            let (dx, dy) = (p.x - hole.centre.x_mm, p.y - hole.centre.y_mm);
            let reach = hole.radius_mm + nearest;
            if dx * dx + dy * dy < reach * reach {
                nearest = (dx * dx + dy * dy).sqrt() - hole.radius_mm;
            }
        }
        nearest
    }

    /// The first touch from outside the wood.
    pub fn touch(&self, ray: &Ray) -> Option<(Touch, Wood)> {
        let rate = ray.along.z;
        let at_top = (self.top_mm - ray.from.z) / rate;
        let crossing = ray.at(at_top);
        if rate < 0.0 && at_top > CLEAR_MM {
            // From above: the top, or down into trough and holes, or past the table.
            let gap = self.hole_gap(crossing);
            let open = self.in_trough(crossing) || gap < 0.0;
            if open {
                return self.in_the_open(ray, at_top);
            }
            if self.depth_in_outline(crossing) > 0.0 {
                let part = if gap < self.rim_mm { Wood::Rim } else { Wood::RailTop };
                let normal = self.top_normal(crossing);
                return Some((Touch { distance_mm: at_top, normal }, part));
            }
            return self.outer_touch(ray);
        }
        if ray.from.z > self.top_mm {
            return None;
        }
        let low = ray.from.z;
        let over_bed = low >= 0.0 && self.in_trough(ray.from);
        if over_bed || (low > -POCKET_DEPTH_MM && self.hole_gap(ray.from) < 0.0) {
            // From the bed or a hole upward: free where it leaves through the open top.
            if rate > 0.0 && self.in_trough(crossing) && self.in_trough(ray.from) {
                return None;
            }
            return self.in_the_open(ray, 0.0);
        }
        self.outer_touch(ray)
    }

    /// The rail's upper edge is rounded: the normal leans out near it.
    fn top_normal(&self, p: Point) -> Point {
        let depth = self.depth_in_outline(p);
        if depth >= self.round_mm {
            return Point::z();
        }
        let step = 0.5;
        let slope = |d: Point| (self.depth_in_outline(p + d) - self.depth_in_outline(p - d)) / 2.0;
        let (gx, gy) = (slope(Point::x() * step) / step, slope(Point::y() * step) / step);
        let lean = 1.0 - depth / self.round_mm;
        Point::new(-gx * lean, -gy * lean, 1.0).normalize()
    }

    /// Inside trough and holes, from `start_mm` along the ray.
    fn in_the_open(&self, ray: &Ray, start_mm: f64) -> Option<(Touch, Wood)> {
        let mut best: Option<(Touch, Wood)> = None;
        let mut offer = |distance_mm: f64, normal: Point, part: Wood| {
            let nearer = best.is_none_or(|(touch, _)| distance_mm < touch.distance_mm);
            if distance_mm > CLEAR_MM.max(start_mm) && nearer {
                best = Some((Touch { distance_mm, normal }, part));
            }
        };
        if ray.along.z < 0.0 {
            let at_bed = -ray.from.z / ray.along.z;
            let p = ray.at(at_bed);
            if self.in_trough(p) && self.hole_gap(p) > 0.0 {
                offer(at_bed, Point::z(), Wood::Bed);
                if self.in_trough(ray.at(start_mm)) {
                    // The trough is convex: nothing lies in between.
                    return best;
                }
            }
        }
        for (axis, low, high) in [
            (0, -self.trough_mm, self.length_mm + self.trough_mm),
            (1, -self.trough_mm, self.width_mm + self.trough_mm),
        ] {
            let rate = ray.along[axis];
            if rate == 0.0 {
                continue;
            }
            let (wall, inward) = if rate < 0.0 { (low, 1.0) } else { (high, -1.0) };
            let distance = (wall - ray.from[axis]) / rate;
            let p = ray.at(distance);
            if (0.0..self.top_mm).contains(&p.z) && self.hole_gap(p) > 0.0 {
                let mut normal = Point::zeros();
                normal[axis] = inward;
                offer(distance, normal, Wood::RailFace);
            }
        }
        for hole in &self.holes {
            self.hole_touch(ray, hole, &mut offer);
        }
        best
    }

    /// The inside of a hole: its wall from below, and beside the trough also above the bed.
    fn hole_touch(&self, ray: &Ray, hole: &Pocket, offer: &mut impl FnMut(f64, Point, Wood)) {
        let centre = Point::new(hole.centre.x_mm, hole.centre.y_mm, 0.0);
        let from = ray.from - centre;
        let a = ray.along.x * ray.along.x + ray.along.y * ray.along.y;
        let b = from.x * ray.along.x + from.y * ray.along.y;
        let c = from.x * from.x + from.y * from.y - hole.radius_mm * hole.radius_mm;
        let inner = b * b - a * c;
        if a > 1e-12 && inner > 0.0 {
            let far = (-b + inner.sqrt()) / a;
            let p = ray.at(far);
            let wall =
                p.z > -POCKET_DEPTH_MM && (p.z < 0.0 || (p.z < self.top_mm && !self.in_trough(p)));
            if wall {
                let normal = Point::new(centre.x - p.x, centre.y - p.y, 0.0) / hole.radius_mm;
                offer(far, normal, Wood::PocketWall);
            }
        }
        if ray.along.z < 0.0 {
            let down = (-POCKET_DEPTH_MM - ray.from.z) / ray.along.z;
            let p = ray.at(down) - centre;
            if p.x.hypot(p.y) < hole.radius_mm {
                offer(down, Point::z(), Wood::PocketFloor);
            }
        }
    }

    /// Skirt and underside, from outside.
    fn outer_touch(&self, ray: &Ray) -> Option<(Touch, Wood)> {
        // The outline is convex: march to it along the ray by its distance.
        let (low, high) = (-self.skirt_mm, self.top_mm);
        let middle = Point::new(self.length_mm / 2.0, self.width_mm / 2.0, (low + high) / 2.0);
        let half = Point::new(
            self.length_mm / 2.0 + self.edge_mm,
            self.width_mm / 2.0 + self.edge_mm,
            (high - low) / 2.0,
        );
        let (enter, leave, axis) = slab(ray, middle, half)?;
        let mut distance = enter;
        for _ in 0..24 {
            let p = ray.at(distance);
            let gap = -self.depth_in_outline(p);
            if gap < 1e-3 {
                return Some((self.outer_normal(ray, distance, axis), Wood::Skirt));
            }
            distance += gap;
            if distance > leave {
                return None;
            }
        }
        Some((self.outer_normal(ray, distance, axis), Wood::Skirt))
    }

    fn outer_normal(&self, ray: &Ray, distance_mm: f64, axis: usize) -> Touch {
        let p = ray.at(distance_mm);
        let step = 0.2;
        let slope = |d: Point| self.depth_in_outline(p - d) - self.depth_in_outline(p + d);
        let flat = Point::new(slope(Point::x() * step), slope(Point::y() * step), 0.0);
        let normal = if axis == 2 && self.depth_in_outline(p) > 1e-2 {
            Point::z() * -ray.along.z.signum()
        } else {
            flat.try_normalize(1e-9).unwrap_or_else(Point::x)
        };
        Touch { distance_mm, normal }
    }
}

/// Entry, exit and the axis of the face entered; none where the ray misses or starts inside.
fn slab(ray: &Ray, middle: Point, half: Point) -> Option<(f64, f64, usize)> {
    let (mut enter, mut leave, mut axis) = (f64::NEG_INFINITY, f64::INFINITY, 0);
    for k in 0..3 {
        let to_middle = middle[k] - ray.from[k];
        if ray.along[k].abs() < 1e-12 {
            if to_middle.abs() > half[k] {
                return None;
            }
            continue;
        }
        let (a, b) = ((to_middle - half[k]) / ray.along[k], (to_middle + half[k]) / ray.along[k]);
        if a.min(b) > enter {
            (enter, axis) = (a.min(b), k);
        }
        leave = leave.min(a.max(b));
    }
    (enter < leave && enter > CLEAR_MM).then_some((enter, leave, axis))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::staged::random::Random;

    fn woodwork() -> Woodwork {
        let table = TableSize::NINE_FOOT;
        Woodwork::new(&table, &Build::random(&mut Random::new(2), &table))
    }

    fn straight_down(x: f64, y: f64) -> Ray {
        Ray { from: Point::new(x, y, 2000.0), along: -Point::z() }
    }

    #[test]
    fn from_above_each_part_is_met_at_its_height() {
        let wood = woodwork();
        let part =
            |x, y| wood.touch(&straight_down(x, y)).map(|(t, w)| (2000.0 - t.distance_mm, w));
        let (height, what) = part(700.0, 400.0).expect("the bed");
        assert!(height.abs() < 1e-9 && what == Wood::Bed);
        let (height, what) = part(700.0, -90.0).expect("the rail");
        assert!((height - wood.top_mm).abs() < 1e-9 && what == Wood::RailTop);
        let hole = wood.holes[0].centre;
        let (height, what) = part(hole.x_mm, hole.y_mm).expect("a hole");
        assert!((height + POCKET_DEPTH_MM).abs() < 1e-9 && what == Wood::PocketFloor);
        assert!(part(700.0, -400.0).is_none(), "beyond the table");
    }

    #[test]
    fn a_ray_up_from_the_bed_leaves_freely_and_a_flat_one_hits_a_rail() {
        let wood = woodwork();
        let from = Point::new(700.0, 400.0, 0.001);
        let up = Ray { from, along: Point::new(0.3, 0.1, 1.0).normalize() };
        assert!(wood.touch(&up).is_none());
        let flat = Ray { from, along: Point::new(0.0, -1.0, 0.01).normalize() };
        let (_, part) = wood.touch(&flat).expect("the rail's face");
        assert_eq!(part, Wood::RailFace);
    }

    #[test]
    fn light_from_above_does_not_reach_under_the_table() {
        let wood = woodwork();
        let from = Point::new(1200.0, 600.0, -700.0);
        assert!(wood.touch(&Ray { from, along: Point::z() }).is_some());
        let beside = Ray { from: Point::new(-900.0, 600.0, -700.0), along: Point::z() };
        assert!(wood.touch(&beside).is_none());
    }
}
