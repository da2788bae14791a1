//! People, cues, racks and chalk over a table that is drawn already: their look and their shadow.
//!
//! A shadow is worked out on a grid of pixels and blended in between: cues are thin, so the grid
//! grows coarse only where much is shaded. Not modelled: mirror images of people.

use super::light::{Light, Way, hidden_by_ball, hidden_by_limb};
use super::view::{Area, V3, View};
use crate::staged::colour::Colour;
use crate::staged::extras::{Block, Limb};
use crate::staged::render::solid::{Convex, Ray, RoundCone};
use std::f32::consts::PI;

/// A thing that comes and goes.
#[derive(Debug, Clone, Copy)]
pub enum Prop {
    Limb(Limb),
    Block(Block),
}

#[derive(Debug)]
enum Solid {
    Limb(RoundCone),
    Block(Convex),
}

/// A prop ready to be drawn.
#[derive(Debug)]
struct Body {
    solid: Solid,
    colour: V3,
    /// Its hull, for shadows: two balls.
    ends: [(V3, f32); 2],
    area: Option<Area>,
}

/// All props of a moment.
#[derive(Debug)]
pub struct Company<'a> {
    view: &'a View,
    light: &'a Light,
    bodies: Vec<Body>,
}

impl<'a> Company<'a> {
    pub fn new(view: &'a View, light: &'a Light, props: &[Prop]) -> Self {
        Self { view, light, bodies: props.iter().map(|prop| body(view, prop)).collect() }
    }

    /// The pixels that show one of the props.
    pub fn seen(&self) -> Option<Area> {
        self.bodies.iter().filter_map(|b| b.area).reduce(|a, b| a.hull(&b))
    }

    /// The pixels that may lie in a shadow of them.
    pub fn shaded(&self) -> Option<Area> {
        let mut area: Option<Area> = None;
        for (centre, radius) in self.bodies.iter().flat_map(|b| b.ends) {
            for piece in &self.light.coarse {
                let dark = match piece.shadow_on_bed(centre, radius) {
                    Some((at, wide)) if wide < 1500.0 => self.view.around(at, wide),
                    _ => Some(self.view.whole()),
                };
                area = join(area, dark);
            }
            // The dark right around a thing.
            let low = V3::new(centre.x, centre.y, 0.0);
            area = join(area, self.view.around(low, 2.5 * radius + 40.0));
        }
        area
    }

    /// Multiplies the light within an area by what the props leave of it.
    pub fn shade(&self, area: Area, light: &mut [V3]) {
        let cells = ((area.x[1] - area.x[0]) * (area.y[1] - area.y[0])) as f32;
        let step = ((cells / MOST_POINTS).sqrt().ceil() as usize).max(2);
        let points = |span: [usize; 2]| (span[1] - span[0]).div_ceil(step) + 1;
        let (columns, rows) = (points(area.x), points(area.y));
        let mut left = Vec::with_capacity(columns * rows);
        for j in 0..rows {
            for i in 0..columns {
                let x = (area.x[0] + i * step).min(self.view.width - 1);
                let y = (area.y[0] + j * step).min(self.view.height - 1);
                left.push(self.left_at(x, y));
            }
        }
        let value = |i: usize, j: usize| left.get(j * columns + i).copied().unwrap_or(1.0);
        for y in area.y[0]..area.y[1] {
            let (j, v) = split(y - area.y[0], step);
            for x in area.x[0]..area.x[1] {
                let (i, u) = split(x - area.x[0], step);
                let row = |j: usize| value(i, j) * (1.0 - u) + value(i + 1, j) * u;
                let part = row(j) * (1.0 - v) + row(j + 1) * v;
                if let Some(pixel) = light.get_mut(y * self.view.width + x) {
                    *pixel *= part;
                }
            }
        }
    }

    /// The part of the light that is left on the spot of a pixel.
    fn left_at(&self, x: usize, y: usize) -> f32 {
        let Some(spot) = self.view.spot(x, y) else { return 1.0 };
        let (mut open, mut left) = (0.0, 0.0);
        for piece in &self.light.coarse {
            let Some((way, share)) = Light::lent(piece, spot.at, spot.normal) else { continue };
            let share = share.sum();
            open += share;
            left += share * self.passed(&way, usize::MAX);
        }
        let sky = self.light.sky(spot.normal).sum();
        let sky_left = sky * self.sky_part(spot.at, spot.normal, usize::MAX);
        (left + sky_left) / (open + sky).max(1e-6)
    }

    /// The part of a lamp's piece that the bodies but one let through.
    fn passed(&self, way: &Way, but: usize) -> f32 {
        let mut part = 1.0;
        for (index, body) in self.bodies.iter().enumerate() {
            if index != but {
                part *= 1.0 - body.hides(way);
            }
        }
        part
    }

    /// The part of the surroundings that the bodies but one leave open.
    fn sky_part(&self, at: V3, normal: V3, but: usize) -> f32 {
        let mut part = 1.0;
        for (index, body) in self.bodies.iter().enumerate() {
            if index != but {
                part *= 1.0 - body.covers(at, normal);
            }
        }
        part
    }

    /// Draws the props themselves over the light of a picture.
    pub fn draw(&self, within: Area, light: &mut [V3]) {
        let Some(seen) = self.seen() else { return };
        let area = seen.common(&within);
        let from = self.view.eye.cast::<f64>();
        for y in area.y[0]..area.y[1] {
            for x in area.x[0]..area.x[1] {
                let here = Area { x: [x, x + 1], y: [y, y + 1] };
                let near: Vec<usize> = (0..self.bodies.len())
                    .filter(|k| self.bodies[*k].area.is_some_and(|a| a.meets(&here)))
                    .collect();
                if near.is_empty() {
                    continue;
                }
                let behind_mm = self
                    .view
                    .spot(x, y)
                    .map_or(f64::INFINITY, |s| f64::from((s.at - self.view.eye).norm()));
                let (mut hits, mut sum, mut last) = (0.0, V3::zeros(), None);
                for (dx, dy) in [(-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25)] {
                    let ray = Ray { from, along: self.view.ray(x, y, dx, dy).cast() };
                    let Some((index, normal)) = self.first(&near, &ray, behind_mm) else {
                        continue;
                    };
                    hits += 1.0;
                    // One look at the light is enough for a body within a pixel.
                    let (known, colour) = last.unwrap_or((usize::MAX, V3::zeros()));
                    let colour = if known == index {
                        colour
                    } else {
                        self.colour(index, ray.at(normal.0).cast(), normal.1, &ray)
                    };
                    last = Some((index, colour));
                    sum += colour;
                }
                if let Some(pixel) = light.get_mut(y * self.view.width + x) {
                    *pixel = *pixel * (1.0 - hits / 4.0) + sum / 4.0;
                }
            }
        }
    }

    /// The nearest body along a ray: which, how far, and its normal.
    fn first(&self, near: &[usize], ray: &Ray, behind_mm: f64) -> Option<(usize, (f64, V3))> {
        let mut best: Option<(usize, (f64, V3))> = None;
        for index in near {
            let Some(touch) = self.bodies.get(*index).and_then(|b| b.touch(ray)) else { continue };
            let nearest = best.map_or(behind_mm + 60.0, |(_, (distance, _))| distance);
            if touch.0 < nearest {
                best = Some((*index, touch));
            }
        }
        best
    }

    fn colour(&self, index: usize, at: V3, normal: V3, ray: &Ray) -> V3 {
        let Some(body) = self.bodies.get(index) else { return V3::zeros() };
        let mut sum = V3::zeros();
        for piece in &self.light.coarse {
            if let Some((way, share)) = Light::lent(piece, at, normal) {
                sum += share * self.passed(&way, index);
            }
        }
        let glow = self.light.cloth_glow(at) * 0.6;
        sum += self.light.around(normal, glow) * self.sky_part(at, normal, index);
        let away = -normal.dot(&ray.along.cast());
        let sheen = 1.0 + 0.3 * (1.0 - away).clamp(0.0, 1.0).powi(3);
        body.colour.component_mul(&sum) * (sheen / PI)
    }
}

/// Points of the shadow's grid at most.
const MOST_POINTS: f32 = 5000.0;

impl Body {
    fn hides(&self, way: &Way) -> f32 {
        match &self.solid {
            Solid::Limb(_) => hidden_by_limb(way, self.ends),
            Solid::Block(_) => hidden_by_ball(way, self.ends[0].0, self.ends[0].1),
        }
    }

    /// The part of what a surface sees that is this body: a rod's share falls with the distance.
    fn covers(&self, at: V3, normal: V3) -> f32 {
        let [(a, radius), (b, _)] = self.ends;
        let span = b - a;
        let t = ((at - a).dot(&span) / span.norm_squared().max(1.0)).clamp(0.0, 1.0);
        let to = a + span * t - at;
        let distance = to.norm().max(radius);
        let cos = to.dot(&normal) / distance;
        let thin = radius / distance;
        let long = ((span.norm() + 2.0 * radius) / (2.0 * distance)).min(1.0);
        (cos * thin * long * 0.8).clamp(0.0, 0.9)
    }

    fn touch(&self, ray: &Ray) -> Option<(f64, V3)> {
        let touch = match &self.solid {
            Solid::Limb(cone) => cone.touch(ray),
            Solid::Block(block) => block.touch(ray).map(|(touch, _)| touch),
        }?;
        Some((touch.distance_mm, touch.normal.cast()))
    }
}

fn body(view: &View, prop: &Prop) -> Body {
    let light = |colour: Colour| colour.cast::<f32>();
    match prop {
        Prop::Limb(limb) => {
            let [a, b] = limb.ends;
            let ends = [a, b].map(|e| (e.at_mm.cast::<f32>(), e.radius_mm as f32));
            let around = |(at, radius): (V3, f32)| view.around(at, radius);
            Body {
                solid: Solid::Limb(RoundCone::new(a.at_mm, a.radius_mm, b.at_mm, b.radius_mm)),
                colour: light(limb.colour),
                ends,
                area: join(around(ends[0]), around(ends[1])),
            }
        }
        Prop::Block(block) => {
            let (middle, radius) = (block.middle_mm.cast::<f32>(), block.half_mm.norm() as f32);
            Body {
                solid: Solid::Block(Convex::block(block.middle_mm, block.half_mm, block.turn_rad)),
                colour: light(block.colour),
                ends: [(middle, radius * 0.8); 2],
                area: view.around(middle, radius),
            }
        }
    }
}

fn join(a: Option<Area>, b: Option<Area>) -> Option<Area> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.hull(&b)),
        (one, None) | (None, one) => one,
    }
}

/// A pixel's place on a grid: the point before it, and how far on.
fn split(offset: usize, step: usize) -> (usize, f32) {
    (offset / step, (offset % step) as f32 / step as f32)
}
