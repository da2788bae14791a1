//! The rack: fifteen places on a triangle, apex on the foot spot, rows away from the head.

use super::{TablePoint, TableSize};

/// The places of the balls in the triangle.
#[derive(Debug, Clone)]
pub struct Rack {
    places: [TablePoint; 15],
    ball_radius_mm: f64,
}

impl Rack {
    /// The rack of a table: place 0 is the apex on the foot spot, then row by row, each row from
    /// small y to large y.
    pub fn on(table: &TableSize) -> Self {
        let pitch_mm = table.ball_diameter_mm;
        let apex = table.foot_spot();
        let mut places = [apex; 15];
        let mut next = 0;
        for row in 0..5_u8 {
            for column in 0..=row {
                let (row_f, column_f) = (f64::from(row), f64::from(column));
                places[next] = TablePoint::new(
                    apex.x_mm + row_f * pitch_mm * 3.0_f64.sqrt() / 2.0,
                    apex.y_mm + (column_f - row_f / 2.0) * pitch_mm,
                );
                next += 1;
            }
        }
        Self { places, ball_radius_mm: table.ball_radius_mm() }
    }

    /// All fifteen places.
    pub fn places(&self) -> &[TablePoint; 15] {
        &self.places
    }

    /// The fourteen places of the continuing rack: the apex stays empty.
    pub fn continuing(&self) -> &[TablePoint] {
        &self.places[1..]
    }

    /// Whether a ball here has some part inside the triangle's inner outline.
    pub fn holds_part_of(&self, ball: TablePoint) -> bool {
        let [apex, .., last] = self.places;
        let first_of_last_row = self.places[10];
        // The inner outline runs one ball radius outside the triangle of the outer centres, and
        // the ball reaches in with its own radius.
        let reach_mm = 2.0 * self.ball_radius_mm;
        distance_to_triangle_mm(ball, [apex, first_of_last_row, last]) < reach_mm
    }
}

/// Zero inside.
fn distance_to_triangle_mm(point: TablePoint, corners: [TablePoint; 3]) -> f64 {
    let side = |a: TablePoint, b: TablePoint| {
        (b.x_mm - a.x_mm) * (point.y_mm - a.y_mm) - (b.y_mm - a.y_mm) * (point.x_mm - a.x_mm)
    };
    let [a, b, c] = corners;
    let sides = [side(a, b), side(b, c), side(c, a)];
    if sides.iter().all(|s| *s >= 0.0) || sides.iter().all(|s| *s <= 0.0) {
        return 0.0;
    }
    [(a, b), (b, c), (c, a)]
        .into_iter()
        .map(|(from, to)| point.distance_to_way_mm(from, to))
        .fold(f64::INFINITY, f64::min)
}
