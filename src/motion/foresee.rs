//! When something next happens to a ball, or between two.
//!
//! Input: pieces of motion (bed frame) and the time from which to look. Output: the time of the
//! next event, infinite where there is none. Method: gaps are polynomials of the time, of degree
//! two to an edge and four to a point, a rim or another ball; cheap bounds on how far the motion
//! reaches rule most of them out before any root is sought.

use super::Flat;
use super::bed::Bed;
use super::piece::Piece;
use super::roots::first_fall;

/// What happens to a ball alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Next {
    /// It meets an edge of the bed, by index.
    Edge(usize),
    /// It meets the tip of a nose, by index.
    Tip(usize),
    /// It passes a pocket's rim.
    Drop(usize),
    /// Its piece of motion ends.
    Change,
}

/// A motion as seen from now on: place, velocity, acceleration, and how long it lasts.
struct Course {
    place: Flat,
    velocity: Flat,
    acceleration: Flat,
    lasts_s: f64,
}

impl Course {
    fn from(piece: &Piece, now_s: f64) -> Self {
        Self {
            place: piece.place_at(now_s),
            velocity: piece.velocity_at(now_s),
            acceleration: piece.acceleration,
            lasts_s: (piece.until_s - now_s).max(0.0),
        }
    }

    /// Least and greatest of one coordinate over the course's time.
    fn range(&self, axis: usize) -> (f64, f64) {
        range(self.place[axis], self.velocity[axis], 0.5 * self.acceleration[axis], self.lasts_s)
    }

    /// The gap to a point, less a radius, as a polynomial of time.
    fn gap_to(&self, point: Flat, radius_m: f64) -> [f64; 5] {
        round_gap(self.place - point, self.velocity, self.acceleration * 0.5, radius_m)
    }
}

/// Least and greatest of p + v t + h t² over 0..=t.
fn range(p: f64, v: f64, h: f64, t: f64) -> (f64, f64) {
    let end = p + (v + h * t) * t;
    let (mut low, mut high) = (p.min(end), p.max(end));
    let turn = -0.5 * v / h;
    if turn > 0.0 && turn < t {
        let at = p + 0.5 * v * turn;
        low = low.min(at);
        high = high.max(at);
    }
    (low, high)
}

/// (|r + v t + h t²|² − R²) / 2R: near contact the gap itself.
fn round_gap(r: Flat, v: Flat, h: Flat, radius_m: f64) -> [f64; 5] {
    let scale = 0.5 / radius_m;
    [
        (r.norm_squared() - radius_m * radius_m) * scale,
        2.0 * r.dot(&v) * scale,
        (v.norm_squared() + 2.0 * r.dot(&h)) * scale,
        2.0 * v.dot(&h) * scale,
        h.norm_squared() * scale,
    ]
}

/// What next happens to a ball alone, and when.
pub(super) fn alone(bed: &Bed, piece: &Piece, now_s: f64) -> (f64, Next) {
    let mut best = (piece.until_s, Next::Change);
    if !piece.moves() {
        return best;
    }
    let mut course = Course::from(piece, now_s);
    let (x, y) = (course.range(0), course.range(1));
    let free = bed.free_m;
    if x.0 > -free.x && x.1 < free.x && y.0 > -free.y && y.1 < free.y {
        return best;
    }
    let mut found = |course: &mut Course, wait_s: Option<f64>, next: Next| {
        if let Some(wait_s) = wait_s
            && now_s + wait_s <= best.0
        {
            best = (now_s + wait_s, next);
            course.lasts_s = wait_s;
        }
    };
    let reach = bed.reach_m;
    for (i, edge) in bed.edges.iter().enumerate() {
        let rate = edge.inward.dot(&course.velocity);
        let bend = 0.5 * edge.inward.dot(&course.acceleration);
        let height = edge.height_of(course.place) - reach;
        if range(height, rate, bend, course.lasts_s).0 > 0.0 || height < -2.0 * reach {
            continue;
        }
        let wait_s = first_fall([height, rate, bend, 0.0, 0.0], course.lasts_s);
        let beside = |wait_s: &f64| {
            let at = course.place
                + course.velocity * *wait_s
                + course.acceleration * (0.5 * wait_s * wait_s);
            (-1e-9..=edge.length_m + 1e-9).contains(&edge.along_of(at))
        };
        let wait_s = wait_s.filter(beside);
        found(&mut course, wait_s, Next::Edge(i));
    }
    let near = |point: Flat, radius_m: f64| {
        point.x > x.0 - radius_m
            && point.x < x.1 + radius_m
            && point.y > y.0 - radius_m
            && point.y < y.1 + radius_m
    };
    for (i, tip) in bed.tips.iter().enumerate().filter(|(_, tip)| near(tip.at, reach)) {
        let wait_s = first_fall(course.gap_to(tip.at, reach), course.lasts_s);
        found(&mut course, wait_s, Next::Tip(i));
    }
    for (i, hole) in bed.holes.iter().enumerate().filter(|(_, h)| near(h.centre, h.radius_m)) {
        let wait_s = first_fall(course.gap_to(hole.centre, hole.radius_m), course.lasts_s);
        found(&mut course, wait_s, Next::Drop(i));
    }
    best
}

/// When two balls of a diameter meet, looking no further than `until_s`.
pub(super) fn meeting(a: &Piece, b: &Piece, diameter_m: f64, now_s: f64, until_s: f64) -> f64 {
    if !a.moves() && !b.moves() {
        return f64::INFINITY;
    }
    let lasts_s = until_s - now_s;
    let r = b.place_at(now_s) - a.place_at(now_s);
    let h = (b.acceleration - a.acceleration) * 0.5;
    let v = b.velocity_at(now_s) - a.velocity_at(now_s);
    for axis in 0..2 {
        let (low, high) = range(r[axis], v[axis], h[axis], lasts_s);
        if low > diameter_m || high < -diameter_m {
            return f64::INFINITY;
        }
    }
    // Across the first direction the motion only bends.
    let aside = r.x * v.y - r.y * v.x;
    let bend = (h.x * v.y - h.y * v.x).abs() * lasts_s * lasts_s;
    let speed = v.norm();
    if aside.abs() - bend > diameter_m * speed * (1.0 + 1e-9) + 1e-15 {
        return f64::INFINITY;
    }
    let wait_s = first_fall(round_gap(r, v, h, diameter_m), lasts_s);
    wait_s.map_or(f64::INFINITY, |wait_s| now_s + wait_s)
}
