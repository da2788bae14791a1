//! Light stored on a flat grid and blended between its points.

use crate::staged::colour::Colour;

/// Irradiance at the points of a grid on a level plane.
#[derive(Debug, Clone)]
pub struct Lightmap {
    origin: [f64; 2],
    step_mm: f64,
    count: [usize; 2],
    values: Vec<Colour>,
}

impl Lightmap {
    /// Asks `light` at every grid point of a rectangle.
    pub fn new(
        low: [f64; 2],
        high: [f64; 2],
        step_mm: f64,
        mut light: impl FnMut(f64, f64) -> Colour,
    ) -> Self {
        let points = |k: usize| ((high[k] - low[k]) / step_mm).ceil().max(1.0) as usize + 1;
        let count = [points(0), points(1)];
        let mut values = Vec::with_capacity(count[0] * count[1]);
        for j in 0..count[1] {
            for i in 0..count[0] {
                values.push(light(low[0] + i as f64 * step_mm, low[1] + j as f64 * step_mm));
            }
        }
        Self { origin: low, step_mm, count, values }
    }

    /// The light at a place; outside the grid that of its border.
    pub fn at(&self, x_mm: f64, y_mm: f64) -> Colour {
        let split = |v: f64, k: usize| {
            let last = self.count[k] - 1;
            let scaled = ((v - self.origin[k]) / self.step_mm).clamp(0.0, last as f64);
            let whole = (scaled as usize).min(last.saturating_sub(1));
            (whole, scaled - whole as f64)
        };
        let ((i, u), (j, v)) = (split(x_mm, 0), split(y_mm, 1));
        let value = |i: usize, j: usize| {
            let index = j.min(self.count[1] - 1) * self.count[0] + i.min(self.count[0] - 1);
            self.values.get(index).copied().unwrap_or_default()
        };
        let row = |j| value(i, j) * (1.0 - u) + value(i + 1, j) * u;
        row(j) * (1.0 - v) + row(j + 1) * v
    }

    /// The same grid, each point averaged with its neighbours (weights 1, 2, 1 each way).
    pub fn smoothed(&self) -> Self {
        let [nx, ny] = self.count;
        let value = |i: usize, j: usize| {
            self.values.get(j.min(ny - 1) * nx + i.min(nx - 1)).copied().unwrap_or_default()
        };
        let blend = |a: Colour, b: Colour, c: Colour| (a + b * 2.0 + c) / 4.0;
        let mut values = Vec::with_capacity(self.values.len());
        for j in 0..ny {
            for i in 0..nx {
                let row = |j| blend(value(i.saturating_sub(1), j), value(i, j), value(i + 1, j));
                values.push(blend(row(j.saturating_sub(1)), row(j), row(j + 1)));
            }
        }
        Self { values, ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_of_light_is_kept_exactly() {
        let plane = |x: f64, y: f64| Colour::repeat(2.0 + 0.3 * x - 0.1 * y);
        let map = Lightmap::new([-3.0, 1.0], [20.0, 15.0], 2.0, plane);
        for (x, y) in [(-3.0, 1.0), (4.4, 7.3), (19.9, 14.9)] {
            assert!((map.at(x, y) - plane(x, y)).norm() < 1e-9);
        }
        let smooth = map.smoothed();
        assert!((smooth.at(5.0, 7.0) - plane(5.0, 7.0)).norm() < 1e-9);
        assert!((map.at(-50.0, 1.0) - plane(-3.0, 1.0)).norm() < 1e-9);
    }
}
