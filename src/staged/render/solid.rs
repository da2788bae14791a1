//! Where a ray meets a solid: sphere, convex body, round cone. Closed forms, no meshes.
//!
//! All solids are met from outside only: a ray that starts inside one leaves it unseen. Lengths
//! in millimetres, directions of unit length.

use nalgebra::Vector3;

/// A point or direction in the table frame, in millimetres.
pub type Point = Vector3<f64>;

/// A half-line; `along` has unit length.
#[derive(Debug, Clone, Copy)]
pub struct Ray {
    pub from: Point,
    pub along: Point,
}

impl Ray {
    pub fn at(&self, distance_mm: f64) -> Point {
        self.from + self.along * distance_mm
    }
}

/// Distance along a ray and the outward normal there.
#[derive(Debug, Clone, Copy)]
pub struct Touch {
    pub distance_mm: f64,
    pub normal: Point,
}

/// Rays start this far off the surface they leave.
pub const CLEAR_MM: f64 = 1e-4;

/// A ball.
#[derive(Debug, Clone, Copy)]
pub struct Sphere {
    pub centre: Point,
    pub radius_mm: f64,
}

impl Sphere {
    /// Whether the ray's line comes into the ball, ahead of its start or around it.
    pub fn reached_by(&self, ray: &Ray) -> bool {
        let to_centre = self.centre - ray.from;
        let along = to_centre.dot(&ray.along);
        let reach2 = self.radius_mm * self.radius_mm;
        let distance2 = to_centre.norm_squared();
        distance2 - along * along <= reach2 && (along > 0.0 || distance2 <= reach2)
    }

    pub fn touch(&self, ray: &Ray) -> Option<Touch> {
        let to_centre = self.centre - ray.from;
        let along = to_centre.dot(&ray.along);
        let gap2 = to_centre.norm_squared() - self.radius_mm * self.radius_mm;
        // Outside and looking away, or inside.
        if along <= 0.0 || gap2 < 0.0 {
            return None;
        }
        let half2 = along * along - gap2;
        if half2 < 0.0 {
            return None;
        }
        let distance_mm = along - half2.sqrt();
        (distance_mm > CLEAR_MM).then(|| Touch {
            distance_mm,
            normal: (ray.at(distance_mm) - self.centre) / self.radius_mm,
        })
    }
}

/// The points behind all of some planes: `normal · p <= offset` for each.
#[derive(Debug, Clone)]
pub struct Convex {
    pub planes: Vec<(Point, f64)>,
    pub bound: Sphere,
}

impl Convex {
    /// A box turned about the vertical: middle, half sizes, and the turn of its x axis.
    pub fn block(middle: Point, half: Point, turn_rad: f64) -> Self {
        let x = Point::new(turn_rad.cos(), turn_rad.sin(), 0.0);
        let y = Point::new(-x.y, x.x, 0.0);
        let planes = [(x, half.x), (y, half.y), (Point::z(), half.z)]
            .into_iter()
            .flat_map(|(axis, size)| {
                let offset = axis.dot(&middle);
                [(axis, offset + size), (-axis, size - offset)]
            })
            .collect();
        Self { planes, bound: Sphere { centre: middle, radius_mm: half.norm() } }
    }

    /// The touch, and which plane was met.
    pub fn touch(&self, ray: &Ray) -> Option<(Touch, usize)> {
        if !self.bound.reached_by(ray) {
            return None;
        }
        let (mut enter, mut leave, mut face) = (CLEAR_MM, f64::INFINITY, None);
        for (index, (normal, offset)) in self.planes.iter().enumerate() {
            let rate = normal.dot(&ray.along);
            let gap = offset - normal.dot(&ray.from);
            if rate.abs() < 1e-12 {
                if gap < 0.0 {
                    return None;
                }
            } else if rate < 0.0 {
                let distance = gap / rate;
                if distance > enter {
                    (enter, face) = (distance, Some(index));
                }
            } else {
                leave = leave.min(gap / rate);
            }
            if leave <= enter {
                return None;
            }
        }
        let face = face?;
        let (normal, _) = *self.planes.get(face)?;
        Some((Touch { distance_mm: enter, normal }, face))
    }
}

/// The hull of two balls: a limb, a cue.
#[derive(Debug, Clone, Copy)]
pub struct RoundCone {
    pub ends: [Sphere; 2],
    bound: Sphere,
}

impl RoundCone {
    pub fn new(from: Point, from_radius_mm: f64, to: Point, to_radius_mm: f64) -> Self {
        let sphere = |centre, radius_mm| Sphere { centre, radius_mm };
        let widest = from_radius_mm.max(to_radius_mm);
        Self {
            ends: [sphere(from, from_radius_mm), sphere(to, to_radius_mm)],
            bound: sphere((from + to) / 2.0, (from - to).norm() / 2.0 + widest),
        }
    }

    pub fn touch(&self, ray: &Ray) -> Option<Touch> {
        if !self.bound.reached_by(ray) {
            return None;
        }
        let [a, b] = &self.ends;
        [a.touch(ray), b.touch(ray), self.side_touch(ray)]
            .into_iter()
            .flatten()
            .min_by(|p, q| p.distance_mm.total_cmp(&q.distance_mm))
    }

    /// Meets the cone tangent to both balls. With h along the axis and ρ from it, its points
    /// have ρ cos α + h sin α = r_a, sin α = (r_a − r_b) / length, between the tangent circles.
    fn side_touch(&self, ray: &Ray) -> Option<Touch> {
        let [a, b] = &self.ends;
        let axis = b.centre - a.centre;
        let length = axis.norm();
        let sin = (a.radius_mm - b.radius_mm) / length;
        if length < 1e-9 || sin.abs() >= 1.0 {
            return None;
        }
        let (axis, cos2) = (axis / length, 1.0 - sin * sin);
        let from = ray.from - a.centre;
        let (h0, h1) = (from.dot(&axis), ray.along.dot(&axis));
        let (g0, g1) = (a.radius_mm - h0 * sin, -h1 * sin);
        let qa = cos2 * (1.0 - h1 * h1) - g1 * g1;
        let qb = cos2 * (from.dot(&ray.along) - h0 * h1) - g0 * g1;
        let qc = cos2 * (from.norm_squared() - h0 * h0) - g0 * g0;
        let inner = qb * qb - qa * qc;
        // Outside it: the nearer crossing is the entry.
        if qa.abs() < 1e-12 || inner < 0.0 || qc < 0.0 {
            return None;
        }
        let distance_mm = (-qb - inner.sqrt()) / qa;
        let h = h0 + h1 * distance_mm;
        let within = h >= a.radius_mm * sin && h <= length + b.radius_mm * sin;
        if distance_mm <= CLEAR_MM || !within || a.radius_mm < h * sin {
            return None;
        }
        let out = from + ray.along * distance_mm - axis * h;
        let normal = out.normalize() * cos2.sqrt() + axis * sin;
        Some(Touch { distance_mm, normal })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::staged::random::Random;

    fn random_ray(random: &mut Random) -> Ray {
        let mut axis = || random.between(-1.0, 1.0);
        let from = Point::new(axis(), axis(), axis()).normalize() * 100.0;
        let target = Point::new(axis(), axis(), axis()) * 20.0;
        Ray { from, along: (target - from).normalize() }
    }

    /// Distance from the hull of two balls, by minimising over the balls in between.
    fn gap_to_cone(cone: &RoundCone, p: Point) -> f64 {
        let [a, b] = &cone.ends;
        (0..=2000)
            .map(|k| {
                let t = f64::from(k) / 2000.0;
                let radius = a.radius_mm + (b.radius_mm - a.radius_mm) * t;
                (p - a.centre.lerp(&b.centre, t)).norm() - radius
            })
            .fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn a_round_cone_is_touched_on_its_surface_and_only_there() {
        let cone =
            RoundCone::new(Point::new(-12.0, 3.0, 1.0), 9.0, Point::new(14.0, -2.0, 5.0), 4.0);
        let mut random = Random::new(11);
        let mut touched = 0;
        for _ in 0..300 {
            let ray = random_ray(&mut random);
            let nearest = (0..400).map(|k| gap_to_cone(&cone, ray.at(f64::from(k) * 0.5)));
            let closest = nearest.fold(f64::INFINITY, f64::min);
            match cone.touch(&ray) {
                Some(touch) => {
                    touched += 1;
                    let gap = gap_to_cone(&cone, ray.at(touch.distance_mm));
                    assert!(gap.abs() < 1e-3, "{gap}");
                    let outside = gap_to_cone(&cone, ray.at(touch.distance_mm) + touch.normal);
                    assert!((outside - 1.0).abs() < 1e-3, "{outside}");
                }
                None => assert!(closest > -0.2, "missed a cone by {closest}"),
            }
        }
        assert!(touched > 50);
    }

    #[test]
    fn a_block_is_entered_through_the_face_it_is_seen_from() {
        let block = Convex::block(Point::new(0.0, 0.0, 5.0), Point::new(10.0, 4.0, 5.0), 0.3);
        let down = Ray { from: Point::new(0.5, 0.5, 50.0), along: -Point::z() };
        let (touch, _) = block.touch(&down).expect("straight above it");
        assert!((touch.distance_mm - 40.0).abs() < 1e-9);
        assert!((touch.normal - Point::z()).norm() < 1e-9);
        let past = Ray { from: Point::new(12.0, 0.0, 50.0), along: -Point::z() };
        assert!(block.touch(&past).is_none());
    }

    #[test]
    fn a_ray_leaving_a_ball_does_not_touch_it_again() {
        let ball = Sphere { centre: Point::zeros(), radius_mm: 28.0 };
        let up = Point::new(0.1, 0.2, 1.0).normalize();
        let leaving = Ray { from: up * 28.0001, along: up };
        assert!(ball.touch(&leaving).is_none());
    }
}
