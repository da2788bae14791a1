//! Points on and above the table, one type for each frame of reference.

use super::TableSize;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A place on the table in the table frame, seen from above; its height is said by the context.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TablePoint {
    pub x_mm: f64,
    pub y_mm: f64,
}

impl TablePoint {
    pub const fn new(x_mm: f64, y_mm: f64) -> Self {
        Self { x_mm, y_mm }
    }

    /// Distance to another point, in millimetres.
    pub fn distance_mm(self, other: Self) -> f64 {
        // Not `hypot`: no distance here comes near the bounds that it guards, at several times the cost.
        ((self.x_mm - other.x_mm).powi(2) + (self.y_mm - other.y_mm).powi(2)).sqrt()
    }

    /// The direction to another point: from x toward y, in radians.
    pub fn direction_to(self, other: Self) -> f64 {
        (other.y_mm - self.y_mm).atan2(other.x_mm - self.x_mm)
    }

    /// The point `by_mm` from here in a direction.
    pub fn moved(self, direction_rad: f64, by_mm: f64) -> Self {
        let (sin, cos) = direction_rad.sin_cos();
        Self::new(self.x_mm + by_mm * cos, self.y_mm + by_mm * sin)
    }

    /// The nearest point of the straight way between two points.
    pub fn nearest_on_way(self, from: Self, to: Self) -> Self {
        let (dx, dy) = (to.x_mm - from.x_mm, to.y_mm - from.y_mm);
        let along = (self.x_mm - from.x_mm) * dx + (self.y_mm - from.y_mm) * dy;
        let along = (along / (dx * dx + dy * dy).max(1e-9)).clamp(0.0, 1.0);
        Self::new(from.x_mm + along * dx, from.y_mm + along * dy)
    }

    /// Distance from the straight way between two points, in millimetres.
    pub fn distance_to_way_mm(self, from: Self, to: Self) -> f64 {
        self.distance_mm(self.nearest_on_way(from, to))
    }

    /// The same point lifted to `z_mm` above the cloth.
    pub const fn at_height(self, z_mm: f64) -> SpacePoint {
        SpacePoint { x_mm: self.x_mm, y_mm: self.y_mm, z_mm }
    }

    /// The same place after the table is turned by 180°: head and foot swapped.
    pub fn turned(self, table: &TableSize) -> Self {
        Self::new(table.length_mm - self.x_mm, table.width_mm - self.y_mm)
    }
}

/// A point in space in the table frame; `z_mm` is the height above the cloth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpacePoint {
    pub x_mm: f64,
    pub y_mm: f64,
    pub z_mm: f64,
}

/// A place in layout coordinates: diamonds, x in 0..8 from head to foot, y in 0..4 across.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DiamondPoint {
    pub x: f64,
    pub y: f64,
}

impl DiamondPoint {
    /// From millimetres on a given table.
    pub fn from_table(point: TablePoint, table: &TableSize) -> Self {
        Self { x: point.x_mm * 8.0 / table.length_mm, y: point.y_mm * 4.0 / table.width_mm }
    }

    /// To millimetres on a given table.
    pub fn on_table(self, table: &TableSize) -> TablePoint {
        TablePoint::new(self.x * table.length_mm / 8.0, self.y * table.width_mm / 4.0)
    }
}
