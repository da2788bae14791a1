//! A film of one table drawn quickly: the empty table traced once, the rest drawn over it where
//! it changes.
//!
//! [`Painter`] traces the table without its balls for a camera and a light (seconds), then draws
//! balls with their shadows, people and things onto it frame by frame (milliseconds). The picture
//! is cut into tiles; a tile is drawn anew only when what touches it has moved. Follows the ray
//! tracer closely, not exactly; `tests` says how closely. Knows nothing of sessions.

mod ball;
mod film;
mod light;
mod props;
mod view;

pub use ball::SeenBall;
pub use film::Exposure;
pub use props::Prop;

use super::random::Random;
use super::render;
use super::scene::Scene;
use crate::camera::Camera;
use ball::{BallBrush, Shader, light_left, tone};
use film::QuickFilm;
use image::RgbImage;
use light::Light;
use props::Company;
use std::hash::{DefaultHasher, Hash, Hasher};
use view::{Area, Spot, V3, View};

/// Side of a tile in pixels; wider than the film's blur reaches.
const TILE_PX: usize = 16;

/// Draws frames of a table.
#[derive(Debug)]
pub struct Painter {
    /// The scene without balls and people.
    empty: Scene,
    view: View,
    light: Light,
    tones: Vec<V3>,
    /// Traced light of the empty table; by the room alone, once that was asked for.
    traced: Vec<V3>,
    by_room: Option<Vec<V3>>,
    gains: [f64; 2],
    /// Light of the empty table as it is lit now, of the table with balls, and with all.
    bare: Vec<V3>,
    table: Vec<V3>,
    shown: Vec<V3>,
    table_keys: Vec<u64>,
    shown_keys: Vec<u64>,
    film: QuickFilm,
}

/// Everything that moves, in one moment.
#[derive(Debug, Clone)]
pub struct Moment {
    pub balls: Vec<SeenBall>,
    /// What belongs together stands in one group: each group's shadow is worked out on its own.
    pub props: Vec<Vec<Prop>>,
    /// Lamps and room, times what the scene says.
    pub light_gains: [f64; 2],
    pub exposure: Exposure,
}

impl Painter {
    /// Traces a scene without its balls and people.
    pub fn new(scene: &Scene) -> Self {
        let mut empty = scene.clone();
        empty.balls.clear();
        empty.extras.retain(|extra| !extra.obstructs());
        let view = View::of(&empty);
        let light = Light::new(&empty.looks, 1.0, 1.0);
        let traced: Vec<V3> = render::light(&empty).iter().map(|c| c.cast()).collect();
        let tiles = view.width.div_ceil(TILE_PX) * view.height.div_ceil(TILE_PX);
        Self {
            film: QuickFilm::new(&empty.looks.film, [view.width, view.height]),
            tones: (0..16).map(|number| tone(&empty.looks.balls, number)).collect(),
            bare: traced.clone(),
            table: traced.clone(),
            shown: traced.clone(),
            by_room: None,
            gains: [1.0; 2],
            table_keys: vec![u64::MAX; tiles],
            shown_keys: vec![u64::MAX; tiles],
            traced,
            light,
            view,
            empty,
        }
    }

    /// Looks from another place: everything is traced anew.
    pub fn look_from(&mut self, camera: Camera) {
        let mut scene = self.empty.clone();
        scene.camera = camera;
        *self = Self::new(&scene);
    }

    /// The picture of a moment; `random` for the noise.
    pub fn paint(&mut self, moment: &Moment, random: &mut Random) -> RgbImage {
        self.relight(moment.light_gains);
        let touched = self.draw_balls(&moment.balls);
        self.draw_props(&moment.props, &touched);
        self.film.picture(moment.exposure, random)
    }

    /// Mean light of the picture as it was painted last, for automatic exposure.
    pub fn mean_light(&self) -> f64 {
        let every = 37;
        let sum: f32 = self.shown.iter().step_by(every).map(V3::sum).sum();
        f64::from(sum) / (self.shown.len().div_ceil(every) as f64 * 3.0)
    }

    fn relight(&mut self, gains: [f64; 2]) {
        if gains == self.gains {
            return;
        }
        self.gains = gains;
        self.light = Light::new(&self.empty.looks, gains[0], gains[1]);
        let by_room = self.by_room.get_or_insert_with(|| {
            let mut dark = self.empty.clone();
            for lamp in &mut dark.looks.lighting.lamps {
                lamp.radiance *= 0.0;
            }
            render::light(&dark).iter().map(|c| c.cast()).collect()
        });
        let [lamps, room] = gains.map(|gain| gain as f32);
        for ((bare, all), by_room) in self.bare.iter_mut().zip(&self.traced).zip(by_room) {
            *bare = (all - *by_room).map(|v| v.max(0.0)) * lamps + *by_room * room;
        }
        self.table_keys.fill(u64::MAX);
    }

    fn tile(&self, index: usize) -> Area {
        let columns = self.view.width.div_ceil(TILE_PX);
        let span = |k: usize, size: usize| [k * TILE_PX, ((k + 1) * TILE_PX).min(size)];
        Area {
            x: span(index % columns, self.view.width),
            y: span(index / columns, self.view.height),
        }
    }

    /// Draws the tiles whose balls have changed; gives the key of every tile.
    fn draw_balls(&mut self, balls: &[SeenBall]) -> Vec<u64> {
        let radius = self.empty.table.ball_radius_mm() as f32;
        let shaders: Vec<Shader> = balls
            .iter()
            .map(|ball| Shader {
                centre: ball.centre_mm.cast(),
                tone: self.tones.get(usize::from(ball.number)).copied().unwrap_or_default(),
            })
            .collect();
        let areas: Vec<Option<Area>> =
            balls.iter().zip(&shaders).map(|(ball, s)| self.touched_by(ball, s, radius)).collect();
        let mut keys = Vec::with_capacity(self.table_keys.len());
        for index in 0..self.table_keys.len() {
            let tile = self.tile(index);
            let here: Vec<usize> = (0..balls.len())
                .filter(|k| areas[*k].is_some_and(|area| area.meets(&tile)))
                .collect();
            let key = key_of(here.iter().map(|k| &balls[*k]));
            keys.push(key);
            if self.table_keys[index] != key {
                self.table_keys[index] = key;
                // Its look has changed even if no person touches it.
                self.shown_keys[index] = u64::MAX;
                self.draw_tile(tile, &here, balls, &shaders, radius);
            }
        }
        keys
    }

    /// The pixels that a ball, its shadow and the dark around it may change.
    fn touched_by(&self, ball: &SeenBall, shader: &Shader, radius: f32) -> Option<Area> {
        let reach = radius + ball.sweep_mm.norm() as f32 / 2.0;
        let mut area = self.view.around(shader.centre, reach)?;
        let below = V3::new(shader.centre.x, shader.centre.y, 0.0);
        let dark = self.view.around(below, 4.0 * radius);
        let shadows = self.light.coarse.iter().map(|piece| {
            let (at, wide) = piece.shadow_on_bed(shader.centre, radius)?;
            self.view.around(at, wide.min(400.0))
        });
        for more in shadows.chain([dark]).flatten() {
            area = area.hull(&more);
        }
        Some(area)
    }

    fn draw_tile(
        &mut self,
        tile: Area,
        here: &[usize],
        balls: &[SeenBall],
        shaders: &[Shader],
        radius: f32,
    ) {
        let width = self.view.width;
        let near: Vec<Shader> = here.iter().map(|k| shaders[*k]).collect();
        for y in tile.y[0]..tile.y[1] {
            for x in tile.x[0]..tile.x[1] {
                let index = y * width + x;
                let spot = self.view.spot(x, y).filter(|s| !near.is_empty() && on_table(s));
                self.table[index] = match spot {
                    Some(spot) => {
                        let left = light_left(&self.light, &spot, &near, radius);
                        self.bare[index].component_mul(&left)
                    }
                    None => self.bare[index],
                };
            }
        }
        let brush = BallBrush {
            view: &self.view,
            light: &self.light,
            set: &self.empty.looks.balls,
            radius_mm: radius,
        };
        // The lower first: a ball held in a hand is over the others.
        let mut order = here.to_vec();
        order.sort_by(|a, b| balls[*a].centre_mm.z.total_cmp(&balls[*b].centre_mm.z));
        for k in order {
            let beside: Vec<Shader> = here
                .iter()
                .filter(|other| **other != k)
                .map(|other| shaders[*other])
                .filter(|other| (other.centre - shaders[k].centre).norm() < 6.0 * radius)
                .collect();
            brush.draw(&balls[k], &beside, tile, &mut self.table);
        }
    }

    /// Lays shadows and looks of the props over the tiles that they touch or have touched.
    fn draw_props(&mut self, props: &[Vec<Prop>], table_keys: &[u64]) {
        let groups: Vec<Group> = props
            .iter()
            .filter(|group| !group.is_empty())
            .map(|group| {
                let company = Company::new(&self.view, &self.light, group);
                Group {
                    areas: [company.seen(), company.shaded()],
                    key: key_of_props(group),
                    company,
                }
            })
            .collect();
        let mut changed = vec![false; self.shown_keys.len()];
        for index in 0..self.shown_keys.len() {
            let tile = self.tile(index);
            let touching = groups.iter().filter(|group| group.touches(&tile));
            let key = touching.fold(table_keys[index], |key, group| key ^ group.key);
            if self.shown_keys[index] != key {
                self.shown_keys[index] = key;
                changed[index] = true;
                copy_tile(&mut self.shown, &self.table, tile, self.view.width);
            }
        }
        let tiles: Vec<Area> =
            (0..changed.len()).filter(|k| changed[*k]).map(|k| self.tile(k)).collect();
        // Groups are laid on a copy of the table: within the hull of what is new there may be
        // tiles that have their shadow already.
        let mut layer: Option<Vec<V3>> = None;
        for drawn in [false, true] {
            for group in &groups {
                let anew = tiles.iter().filter(|tile| group.touches(tile)).copied();
                let Some(anew) = anew.reduce(|a, b| a.hull(&b)) else { continue };
                let layer = layer.get_or_insert_with(|| self.table.clone());
                if drawn {
                    group.company.draw(anew, layer);
                } else if let Some(shaded) = group.areas[1] {
                    group.company.shade(shaded.common(&anew), layer);
                }
            }
        }
        if let Some(layer) = layer {
            for tile in tiles {
                copy_tile(&mut self.shown, &layer, tile, self.view.width);
            }
        }
        self.expose_around(&changed);
    }

    /// Hands the changed tiles to the film, with those beside them that the blur reaches.
    fn expose_around(&mut self, changed: &[bool]) {
        let columns = self.view.width.div_ceil(TILE_PX);
        let rows = self.view.height.div_ceil(TILE_PX);
        for j in 0..rows {
            // Runs of tiles in a row go in together.
            let is_near = |i: usize| {
                let around = |k: usize, last: usize| k.saturating_sub(1)..=(k + 1).min(last);
                around(j, rows - 1)
                    .any(|b| around(i, columns - 1).any(|a| changed[b * columns + a]))
            };
            let mut from = None;
            for i in 0..=columns {
                match (i < columns && is_near(i), from) {
                    (true, None) => from = Some(i),
                    (false, Some(first)) => {
                        let start = self.tile(j * columns + first);
                        let area = start.hull(&self.tile(j * columns + i - 1));
                        self.film.expose(&self.shown, area);
                        from = None;
                    }
                    _ => {}
                }
            }
        }
    }
}

/// Props that belong together, ready to be drawn.
struct Group<'a> {
    company: Company<'a>,
    /// The pixels that show them, and those they may shade.
    areas: [Option<Area>; 2],
    key: u64,
}

impl Group<'_> {
    fn touches(&self, tile: &Area) -> bool {
        self.areas.iter().flatten().any(|area| area.meets(tile))
    }
}

fn copy_tile(to: &mut [V3], from: &[V3], tile: Area, width: usize) {
    for y in tile.y[0]..tile.y[1] {
        let span = y * width + tile.x[0]..y * width + tile.x[1];
        to[span.clone()].copy_from_slice(&from[span]);
    }
}

/// Whether balls can shade a spot: the bed, the cushions and the rails, not the floor.
fn on_table(spot: &Spot) -> bool {
    spot.at.z > -1.0
}

fn key_of<'a>(balls: impl Iterator<Item = &'a SeenBall>) -> u64 {
    let mut hasher = DefaultHasher::new();
    for ball in balls {
        ball.number.hash(&mut hasher);
        for value in ball.centre_mm.iter().chain(ball.orientation.coords.iter()) {
            value.to_bits().hash(&mut hasher);
        }
        for value in &ball.sweep_mm {
            value.to_bits().hash(&mut hasher);
        }
    }
    hasher.finish() >> 1
}

fn key_of_props(props: &[Prop]) -> u64 {
    let mut hasher = DefaultHasher::new();
    for prop in props {
        let places = match prop {
            Prop::Limb(limb) => limb.ends.map(|end| (end.at_mm, end.radius_mm)),
            Prop::Block(block) => [(block.middle_mm, block.turn_rad), (block.half_mm, 0.0)],
        };
        for (at, size) in places {
            at.iter().chain([&size]).for_each(|value| value.to_bits().hash(&mut hasher));
        }
    }
    hasher.finish() >> 1
}

#[cfg(test)]
mod tests;
