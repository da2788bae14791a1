//! What every pixel of a fixed camera looks at: its ray, and the spot of the empty table there.

use crate::camera::{Camera, PixelPoint};
use crate::staged::render::ray_through;
use crate::staged::render::world::World;
use crate::staged::scene::Scene;
use crate::table::SpacePoint;
use nalgebra::Vector3;

/// Millimetres of the table frame, directions, or light: single precision is enough for a film.
pub type V3 = Vector3<f32>;

/// The spot of the empty table that a pixel's middle shows.
#[derive(Debug, Clone, Copy)]
pub struct Spot {
    pub at: V3,
    pub normal: V3,
}

/// A rectangle of pixels; the upper bounds stand outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Area {
    pub x: [usize; 2],
    pub y: [usize; 2],
}

impl Area {
    pub fn meets(&self, other: &Self) -> bool {
        let apart = |a: [usize; 2], b: [usize; 2]| a[1] <= b[0] || b[1] <= a[0];
        !apart(self.x, other.x) && !apart(self.y, other.y)
    }

    /// What both cover; may be empty.
    pub fn common(&self, other: &Self) -> Self {
        let both = |a: [usize; 2], b: [usize; 2]| [a[0].max(b[0]), a[1].min(b[1])];
        Self { x: both(self.x, other.x), y: both(self.y, other.y) }
    }

    /// The smallest rectangle around both.
    pub fn hull(&self, other: &Self) -> Self {
        let hull = |a: [usize; 2], b: [usize; 2]| [a[0].min(b[0]), a[1].max(b[1])];
        Self { x: hull(self.x, other.x), y: hull(self.y, other.y) }
    }
}

/// A camera's pixels.
#[derive(Debug)]
pub struct View {
    pub width: usize,
    pub height: usize,
    pub eye: V3,
    camera: Camera,
    rays: Vec<V3>,
    spots: Vec<Option<Spot>>,
}

impl View {
    /// Looks once along the middle of every pixel of a scene without balls.
    pub fn of(empty: &Scene) -> Self {
        let lens = empty.camera.lens;
        let (width, height) = (lens.width_px as usize, lens.height_px as usize);
        let world = World::new(empty);
        let (mut rays, mut spots) = (Vec::new(), Vec::new());
        for row in 0..height {
            for column in 0..width {
                let at = PixelPoint::new(column as f64 + 0.5, row as f64 + 0.5);
                let ray = ray_through(&empty.camera, at);
                let met = ray.and_then(|ray| world.meet(&ray));
                rays.push(ray.map_or_else(V3::z, |ray| ray.along.cast::<f32>()));
                spots.push(met.map(|m| Spot { at: m.point.cast(), normal: m.normal.cast() }));
            }
        }
        let eye = empty.camera.pose.position();
        let eye = Vector3::new(eye.x_mm, eye.y_mm, eye.z_mm).cast();
        Self { width, height, eye, camera: empty.camera, rays, spots }
    }

    pub fn whole(&self) -> Area {
        Area { x: [0, self.width], y: [0, self.height] }
    }

    pub fn spot(&self, x: usize, y: usize) -> Option<Spot> {
        self.spots.get(y * self.width + x).copied().flatten()
    }

    /// Direction of the ray through a place within a pixel, `dx` and `dy` from its middle.
    pub fn ray(&self, x: usize, y: usize, dx: f32, dy: f32) -> V3 {
        let ray = |x: usize, y: usize| self.rays.get(y * self.width + x).copied();
        let here = ray(x, y).unwrap_or_else(V3::z);
        let step = |to: Option<V3>, back: Option<V3>| match (to, back) {
            (Some(to), _) => to - here,
            (None, Some(back)) => here - back,
            (None, None) => V3::zeros(),
        };
        let right = if x + 1 < self.width { ray(x + 1, y) } else { None };
        let left = if x > 0 { ray(x - 1, y) } else { None };
        let below = ray(x, y + 1);
        let above = if y > 0 { ray(x, y - 1) } else { None };
        (here + step(right, left) * dx + step(below, above) * dy).normalize()
    }

    /// The pixels that a ball-shaped thing may touch; none where it is out of the picture.
    pub fn around(&self, centre: V3, radius_mm: f32) -> Option<Area> {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let reach = f64::from(radius_mm) * 1.1;
        for (axis, sign) in (0..3).flat_map(|axis| [(axis, -1.0), (axis, 1.0)]) {
            let mut p = centre.cast::<f64>();
            p[axis] += sign * reach;
            let seen = self.camera.project(SpacePoint { x_mm: p.x, y_mm: p.y, z_mm: p.z })?;
            for (k, v) in [seen.x_px, seen.y_px].into_iter().enumerate() {
                low[k] = low[k].min(v - 1.5);
                high[k] = high[k].max(v + 1.5);
            }
        }
        let span = |k: usize, size: usize| {
            let clamped = |v: f64| v.clamp(0.0, size as f64) as usize;
            [clamped(low[k].floor()), clamped(high[k].ceil())]
        };
        let area = Area { x: span(0, self.width), y: span(1, self.height) };
        (area.x[0] < area.x[1] && area.y[0] < area.y[1]).then_some(area)
    }
}
