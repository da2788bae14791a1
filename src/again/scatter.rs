//! Where the cue ball ends, shot after shot: the places, and an ellipse that most further ones
//! will lie in.
//!
//! Method: of n places with mean m and covariance S, taken as normally distributed, a further one
//! lies with probability p in (x − m)ᵀ S⁻¹ (x − m) ≤ 2 (n² − 1) / (n (n − 2)) · F, where F is the
//! p-quantile of the F distribution with 2 and n − 2 degrees of freedom (Hotelling, Ann. Math. Stat.
//! 2 (1931) 360): the fewer the places, the wider. For two dimensions the quantile is
//! (n − 2) / 2 · ((1 − p)^(−2 / (n − 2)) − 1). Not modelled: rails, which cut a scatter off.

use crate::table::TablePoint;

/// The part of further shots that end inside the ellipse.
pub const INSIDE: f64 = 0.9;

/// With fewer places there is no ellipse: it would be as large as the table.
pub const LEAST_PLACES: usize = 5;

/// An ellipse on the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    pub middle: TablePoint,
    /// Half its length and half its breadth, in millimetres.
    pub half_mm: [f64; 2],
    /// The direction of its length, from x toward y, in radians.
    pub turned_rad: f64,
}

/// Places and their ellipse.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    pub places: Vec<TablePoint>,
    /// None where there are too few places.
    pub ellipse: Option<Ellipse>,
}

impl Scatter {
    pub fn of(places: Vec<TablePoint>) -> Self {
        let ellipse = (places.len() >= LEAST_PLACES).then(|| around(&places));
        Self { places, ellipse }
    }
}

fn around(places: &[TablePoint]) -> Ellipse {
    let n = places.len() as f64;
    let mean = |of: fn(&TablePoint) -> f64| places.iter().map(of).sum::<f64>() / n;
    let middle = TablePoint::new(mean(|place| place.x_mm), mean(|place| place.y_mm));
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for place in places {
        let (x, y) = (place.x_mm - middle.x_mm, place.y_mm - middle.y_mm);
        xx += x * x / (n - 1.0);
        xy += x * y / (n - 1.0);
        yy += y * y / (n - 1.0);
    }
    // The eigenvalues of the covariance, the larger first.
    let (half, apart) = ((xx + yy) / 2.0, ((xx - yy) / 2.0).hypot(xy));
    let free = n - 2.0;
    let quantile = free / 2.0 * ((1.0 - INSIDE).powf(-2.0 / free) - 1.0);
    let reach = (2.0 * (n * n - 1.0) / (n * free) * quantile).sqrt();
    let half_mm = [half + apart, half - apart].map(|value| reach * value.max(0.0).sqrt());
    Ellipse { middle, half_mm, turned_rad: 0.5 * (2.0 * xy).atan2(xx - yy) }
}
