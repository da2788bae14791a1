//! The six cushion noses: where the straight edges of the playing surface begin and end.

use super::{TablePoint, TableSize};

/// Between the nose tips of a corner pocket (114–127 mm in the specifications).
const CORNER_MOUTH_MM: f64 = 120.5;
/// Between the nose tips of a side pocket (124–135 mm in the specifications).
const SIDE_MOUTH_MM: f64 = 129.5;

impl TableSize {
    /// The noses from tip to tip, for mouths in the middle of the specified widths: the two at
    /// y = 0, the two at y = W, the ones at x = 0 and x = L, each toward larger x or y.
    pub fn noses(&self) -> [[TablePoint; 2]; 6] {
        let (l, w) = (self.length_mm, self.width_mm);
        // A corner mouth runs from nose to nose at 45°.
        let corner_mm = CORNER_MOUTH_MM / 2.0_f64.sqrt();
        let side_mm = SIDE_MOUTH_MM / 2.0;
        let along = |y, from, to| [TablePoint::new(from, y), TablePoint::new(to, y)];
        let across = |x| [TablePoint::new(x, corner_mm), TablePoint::new(x, w - corner_mm)];
        [
            along(0.0, corner_mm, l / 2.0 - side_mm),
            along(0.0, l / 2.0 + side_mm, l - corner_mm),
            along(w, corner_mm, l / 2.0 - side_mm),
            along(w, l / 2.0 + side_mm, l - corner_mm),
            across(0.0),
            across(l),
        ]
    }
}
