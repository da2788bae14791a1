//! The light of a scene for quick drawing: lamps in pieces, the room as a table over the normal.
//!
//! Method: each piece of a lamp is a disc of the same area; a ball or a limb hides the part of it
//! by which the disc's cone overlaps the thing's outline, blended over the width of the penumbra.
//! The room's light on a surface depends on the normal's height and, by its lean, linearly on the
//! normal's bearing. Not modelled: noise of sampling, further bounces than one off the cloth.

use super::view::V3;
use crate::staged::looks::{Lamp, Lighting, Looks, Room};
use nalgebra::Vector3;
use std::f32::consts::PI;

/// A part of a lamp.
#[derive(Debug, Clone, Copy)]
pub struct LampPiece {
    at: V3,
    facing: V3,
    /// Radiance times area.
    power: V3,
    /// Radius of a disc of the piece's area.
    radius_mm: f32,
}

/// The way from a place to a piece of a lamp.
#[derive(Debug, Clone, Copy)]
pub struct Way {
    pub from: V3,
    /// Unit length.
    pub along: V3,
    pub reach_mm: f32,
    radius_mm: f32,
}

/// Lamps and room.
#[derive(Debug)]
pub struct Light {
    /// Enough pieces for soft shadows on the cloth, and fewer for what is seldom looked at.
    pub fine: Vec<LampPiece>,
    pub coarse: Vec<LampPiece>,
    pub lamps: Vec<Lamp>,
    pub room: Room,
    sky: Vec<(V3, V3)>,
    lean: [f32; 2],
    /// The cloth's own colour.
    cloth: V3,
}

/// Steps of the normal's height in the table of the room's light.
const SKY_STEPS: usize = 32;

impl Light {
    /// The light of some looks, lamps and room scaled.
    pub fn new(looks: &Looks, lamp_gain: f64, room_gain: f64) -> Self {
        let lighting = &looks.lighting;
        let lamps: Vec<Lamp> = lighting
            .lamps
            .iter()
            .map(|lamp| Lamp { radiance: lamp.radiance * lamp_gain, ..lamp.clone() })
            .collect();
        let room = Room {
            ceiling: lighting.room.ceiling * room_gain,
            wall: lighting.room.wall * room_gain,
            lean: lighting.room.lean,
        };
        Self {
            fine: lamps.iter().flat_map(|lamp| pieces(lamp, 0.17, 12)).collect(),
            coarse: lamps.iter().flat_map(|lamp| pieces(lamp, 0.6, 3)).collect(),
            sky: sky_table(&room),
            lean: room.lean.map(|v| v as f32),
            cloth: looks.cloth.colour.cast(),
            lamps,
            room,
        }
    }

    /// The way to a piece and what it lends a surface where nothing hides it.
    pub fn lent(piece: &LampPiece, at: V3, normal: V3) -> Option<(Way, V3)> {
        let way = piece.at - at;
        let distance2 = way.norm_squared();
        let (out, back) = (way.dot(&normal), -way.dot(&piece.facing));
        if out <= 0.0 || back <= 0.0 {
            return None;
        }
        let reach_mm = distance2.sqrt();
        let way = Way { from: at, along: way / reach_mm, reach_mm, radius_mm: piece.radius_mm };
        Some((way, piece.power * (out * back / (distance2 * distance2))))
    }

    /// Light of the room on a surface.
    pub fn sky(&self, normal: V3) -> V3 {
        let place = (normal.z.clamp(-1.0, 1.0) + 1.0) / 2.0 * SKY_STEPS as f32;
        let step = (place as usize).min(SKY_STEPS - 1);
        let part = place - step as f32;
        let (Some(low), Some(high)) = (self.sky.get(step), self.sky.get(step + 1)) else {
            return V3::zeros();
        };
        let even = low.0 + (high.0 - low.0) * part;
        let level = normal.x.hypot(normal.y);
        if level < 1e-4 {
            return even;
        }
        let lean = (self.lean[0] * normal.x + self.lean[1] * normal.y) / level;
        even + (low.1 + (high.1 - low.1) * part) * lean
    }

    /// Light that the open cloth scatters upward, as radiosity.
    pub fn cloth_glow(&self, at: V3) -> V3 {
        let bed = V3::new(at.x, at.y, 0.0);
        let lamps: V3 = self
            .coarse
            .iter()
            .filter_map(|piece| Self::lent(piece, bed, V3::z()))
            .fold(V3::zeros(), |sum, (_, share)| sum + share);
        // The tracer gives bounced surfaces 0.6 of the sky, for what stands around them.
        self.cloth.component_mul(&(lamps + self.sky(V3::z()) * 0.6))
    }

    /// Light of room and cloth on a surface of a thing over the table.
    pub fn around(&self, normal: V3, glow: V3) -> V3 {
        self.sky(normal) + glow * ((1.0 - normal.z) / 2.0 * 0.75)
    }
}

/// The part of a piece that a ball hides.
pub fn hidden_by_ball(way: &Way, centre: V3, radius_mm: f32) -> f32 {
    let to = centre - way.from;
    let along = to.dot(&way.along);
    if along <= 0.0 || along >= way.reach_mm {
        return 0.0;
    }
    let gap2 = to.norm_squared() - along * along;
    hidden(way, along, gap2, radius_mm)
}

/// The part of a piece that the hull of two balls hides.
pub fn hidden_by_limb(way: &Way, ends: [(V3, f32); 2]) -> f32 {
    let [(a, radius_a), (b, radius_b)] = ends;
    let (span, off) = (b - a, way.from - a);
    let (span2, lean) = (span.norm_squared(), span.dot(&way.along));
    let (off_span, off_way) = (off.dot(&span), off.dot(&way.along));
    let apart = span2 - lean * lean;
    let t = if apart > 1e-3 { ((off_span - lean * off_way) / apart).clamp(0.0, 1.0) } else { 0.5 };
    let along = t * lean - off_way;
    if along <= 0.0 || along >= way.reach_mm {
        return 0.0;
    }
    let gap2 = (off + way.along * along - span * t).norm_squared();
    hidden(way, along, gap2, radius_a + (radius_b - radius_a) * t)
}

fn hidden(way: &Way, along_mm: f32, gap2: f32, radius_mm: f32) -> f32 {
    let soft = (way.radius_mm * along_mm / way.reach_mm).max(0.05);
    let limit = radius_mm + soft;
    if gap2 >= limit * limit {
        return 0.0;
    }
    let part = ((limit - gap2.max(0.0).sqrt()) / (2.0 * soft)).min(1.0);
    // A piece that looks larger than the thing is never hidden wholly.
    let most = (radius_mm / soft).min(1.0);
    part * part * (3.0 - 2.0 * part) * most
}

/// Cuts a lamp into pieces as long as a part of its distance.
fn pieces(lamp: &Lamp, size_per_distance: f64, most: usize) -> Vec<LampPiece> {
    // What shines from the side is a window, some metres away from most of the table.
    let distance_mm = if lamp.normal.z < -0.5 { lamp.centre_mm.z } else { 2500.0 };
    let size_mm = size_per_distance * distance_mm.max(700.0);
    let count =
        lamp.half_mm.map(|half| ((2.0 * half.norm() / size_mm).round() as usize).clamp(1, most));
    let [nu, nv] = count;
    let area_mm2 = lamp.area_mm2() / (nu * nv) as f64;
    let middle = |k: usize, n: usize| (2 * k + 1) as f64 / n as f64 - 1.0;
    (0..nu * nv)
        .map(|k| LampPiece {
            at: lamp.at(middle(k % nu, nu), middle(k / nu, nv)).cast(),
            facing: lamp.normal.cast(),
            power: (lamp.radiance * area_mm2).cast(),
            radius_mm: (area_mm2 as f32 / PI).sqrt(),
        })
        .collect()
}

/// For each height of the normal: the even part of the room's light, and that of a lean of one.
fn sky_table(room: &Room) -> Vec<(V3, V3)> {
    let with_lean = |lean: [f64; 2]| Lighting {
        kind: crate::staged::looks::LightKind::Room,
        lamps: Vec::new(),
        room: Room { lean, ..room.clone() },
    };
    let (even, leaning) = (with_lean([0.0, 0.0]), with_lean([1.0, 0.0]));
    (0..=SKY_STEPS)
        .map(|step| {
            let z = 2.0 * step as f64 / SKY_STEPS as f64 - 1.0;
            let normal = Vector3::new((1.0 - z * z).max(0.0).sqrt(), 0.0, z);
            let base = even.room_irradiance(normal);
            (base.cast(), (leaning.room_irradiance(normal) - base).cast())
        })
        .collect()
}

impl LampPiece {
    /// The shadow that a ball throws on the bed: middle and radius; none where the lamp is lower.
    pub fn shadow_on_bed(&self, centre: V3, radius_mm: f32) -> Option<(V3, f32)> {
        let (height, over) = (self.at.z, self.at.z - centre.z - radius_mm);
        if over < 20.0 {
            return None;
        }
        let grown = height / over;
        let at = self.at + (centre - self.at) * grown;
        let soft = self.radius_mm * (grown - 1.0).max(0.0);
        Some((V3::new(at.x, at.y, 0.0), radius_mm * grown + soft))
    }
}
