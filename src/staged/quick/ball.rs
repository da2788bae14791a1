//! Balls drawn quickly: their own light, and what they take from the surfaces around them.
//!
//! A ball's outline is met ray by ray, so that its place is exact; its light is worked out once a
//! pixel, its colours at nine places in it. Shadows and the dark at the contact come from the
//! closed forms of `light`: a ball hides R²/d² of what a surface sees. Not modelled: what balls
//! mirror of each other, light thrown from ball to cloth beyond a first bounce.

use super::light::{Light, hidden_by_ball};
use super::view::{Area, Spot, V3, View};
use crate::staged::looks::BallSet;
use crate::staged::render::shade::{mirror, shines_into};
use crate::staged::render::solid::Ray;
use nalgebra::{UnitQuaternion, Vector3};
use std::f32::consts::PI;

/// A ball in a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeenBall {
    pub number: u8,
    pub centre_mm: Vector3<f64>,
    pub orientation: UnitQuaternion<f64>,
    /// The way it goes while the picture is exposed.
    pub sweep_mm: Vector3<f64>,
}

/// A ball as its surroundings see it.
#[derive(Debug, Clone, Copy)]
pub struct Shader {
    pub centre: V3,
    /// Mean colour.
    pub tone: V3,
}

/// Mean colour of a numbered ball.
pub fn tone(balls: &BallSet, number: u8) -> V3 {
    let mut sum = V3::zeros();
    for k in 0..64_u32 {
        // Spread evenly over the ball (a golden-angle spiral).
        let z = (f64::from(k) + 0.5) / 32.0 - 1.0;
        let (sin, cos) = (2.399_963 * f64::from(k)).sin_cos();
        let level = (1.0 - z * z).sqrt();
        let direction = Vector3::new(level * cos, level * sin, z);
        sum += balls.finish(number, direction).albedo.cast::<f32>();
    }
    sum / 64.0
}

/// What is left of the light on a spot of the table with balls about, by colour: 1 for all.
pub fn light_left(light: &Light, spot: &Spot, balls: &[Shader], radius_mm: f32) -> V3 {
    let (mut open, mut left) = (V3::zeros(), V3::zeros());
    for piece in &light.fine {
        let Some((way, share)) = Light::lent(piece, spot.at, spot.normal) else { continue };
        let mut part = 1.0;
        for ball in balls {
            part *= 1.0 - hidden_by_ball(&way, ball.centre, radius_mm);
        }
        open += share;
        left += share * part;
    }
    let sky = light.sky(spot.normal);
    let (part, thrown) = sky_left(light, spot.at, spot.normal, balls, radius_mm);
    (left + sky * part + thrown).component_div(&(open + sky).map(|v| v.max(1e-6)))
}

/// The part of the surroundings that balls leave open, and what they throw back instead.
fn sky_left(light: &Light, at: V3, normal: V3, balls: &[Shader], radius_mm: f32) -> (f32, V3) {
    let (mut part, mut thrown) = (1.0, V3::zeros());
    for ball in balls {
        let to = ball.centre - at;
        let distance2 = to.norm_squared().max(radius_mm * radius_mm);
        let cos = to.dot(&normal) / distance2.sqrt();
        if cos > 0.0 {
            let share = cos * radius_mm * radius_mm / distance2;
            part *= 1.0 - share;
            thrown += ball.tone.component_mul(&light.sky(V3::z())) * (share * 0.3);
        }
    }
    (part, thrown)
}

/// What drawing balls needs to know.
pub struct BallBrush<'a> {
    pub view: &'a View,
    pub light: &'a Light,
    pub set: &'a BallSet,
    pub radius_mm: f32,
}

/// Places looked at along each side of a pixel.
const SIDE: u32 = 3;

impl BallBrush<'_> {
    /// Draws a ball over the light of a picture, within an area; `near` are the balls beside it.
    pub fn draw(&self, ball: &SeenBall, near: &[Shader], within: Area, light: &mut [V3]) {
        let centre: V3 = ball.centre_mm.cast();
        let sweep: V3 = ball.sweep_mm.cast();
        let reach = self.radius_mm + sweep.norm() / 2.0;
        let Some(around) = self.view.around(centre, reach) else { return };
        let area = around.common(&within);
        let own_from_table = ball.orientation.inverse();
        let glow = self.light.cloth_glow(centre);
        for y in area.y[0]..area.y[1] {
            for x in area.x[0]..area.x[1] {
                let seen = self.pixel(ball.number, [x, y], [centre, sweep], &own_from_table);
                if seen.hits == 0 {
                    continue;
                }
                let normal = seen.normal.normalize();
                let on = centre + normal * self.radius_mm;
                let own = self.on_ball(on, normal, near, glow).component_mul(&seen.albedo) / PI;
                let image = seen.image + glow * (seen.into_cloth / PI);
                let ball_light = own * seen.matte + image;
                let part = seen.hits as f32 / (SIDE * SIDE) as f32;
                if let Some(pixel) = light.get_mut(y * self.view.width + x) {
                    *pixel = *pixel * (1.0 - part) + ball_light * part;
                }
            }
        }
    }

    /// Irradiance on a ball.
    fn on_ball(&self, on: V3, normal: V3, near: &[Shader], glow: V3) -> V3 {
        let mut sum = V3::zeros();
        for piece in &self.light.fine {
            let Some((way, share)) = Light::lent(piece, on, normal) else { continue };
            let mut part = 1.0;
            for other in near {
                part *= 1.0 - hidden_by_ball(&way, other.centre, self.radius_mm);
            }
            sum += share * part;
        }
        let (part, thrown) = sky_left(self.light, on, normal, near, self.radius_mm);
        sum + self.light.around(normal, glow) * part + thrown
    }

    fn pixel(
        &self,
        number: u8,
        [x, y]: [usize; 2],
        [centre, sweep]: [V3; 2],
        own_from_table: &UnitQuaternion<f64>,
    ) -> PixelOfBall {
        let mut seen = PixelOfBall::default();
        for k in 0..SIDE * SIDE {
            let within = |cell: u32| (cell as f32 + 0.5) / SIDE as f32 - 0.5;
            let along = self.view.ray(x, y, within(k % SIDE), within(k / SIDE));
            // Each place within the pixel stands for another moment of the exposure.
            let moment = ((k * 4) % (SIDE * SIDE)) as f32 / (SIDE * SIDE - 1) as f32 - 0.5;
            let to = centre + sweep * moment - self.view.eye;
            let ahead = to.dot(&along);
            let inside2 = self.radius_mm * self.radius_mm - to.norm_squared() + ahead * ahead;
            if inside2 <= 0.0 {
                continue;
            }
            let normal = (along * (ahead - inside2.sqrt()) - to) / self.radius_mm;
            let finish = self.set.finish(number, own_from_table * normal.cast::<f64>());
            seen.hits += 1;
            seen.normal += normal;
            seen.albedo += finish.albedo.cast::<f32>();
            if finish.gloss > 0.0 {
                let grazing = (1.0 + normal.dot(&along)).clamp(0.0, 1.0);
                let gloss = finish.gloss as f32;
                let fresnel = gloss + (1.0 - gloss) * grazing.powi(5);
                let rough = finish.roughness as f32;
                seen.mirror([along, normal, centre], fresnel, rough, self);
            }
        }
        let count = seen.hits.max(1) as f32;
        seen.albedo /= count;
        seen.image /= count;
        seen.into_cloth /= count;
        seen.matte = 1.0 - seen.matte / count;
        seen
    }
}

/// What a pixel shows of a ball.
#[derive(Debug, Clone, Copy, Default)]
struct PixelOfBall {
    hits: u32,
    normal: V3,
    albedo: V3,
    /// The part that is not mirrored.
    matte: f32,
    /// What is mirrored of lamps and room, and the part that mirrors the cloth.
    image: V3,
    into_cloth: f32,
}

impl PixelOfBall {
    fn mirror(
        &mut self,
        [along, normal, centre]: [V3; 3],
        fresnel: f32,
        rough: f32,
        b: &BallBrush,
    ) {
        self.matte += fresnel;
        let from = (centre + normal * (b.radius_mm + 0.01)).cast::<f64>();
        let straight = mirror(along.cast(), normal.cast());
        if straight.z > 0.0 {
            self.image += b.light.room.radiance(straight).cast::<f32>() * fresnel;
        } else {
            self.into_cloth += fresnel;
        }
        let across = normal.cross(&V3::x()).try_normalize(1e-6).unwrap_or_else(V3::y);
        let up = normal.cross(&across);
        for (a, c) in FACETS {
            let facet = (normal + across * (rough * a) + up * (rough * c)).normalize();
            let glance = Ray { from, along: mirror(along.cast(), facet.cast()) };
            let lamp = b.light.lamps.iter().find(|l| shines_into(l, &glance, f64::INFINITY));
            if let Some(lamp) = lamp {
                self.image += lamp.radiance.cast::<f32>() * (fresnel / FACETS.len() as f32);
            }
        }
    }
}

/// Slopes of a rough gloss, in units of its roughness.
const FACETS: [(f32, f32); 5] = [(0.0, 0.0), (0.9, 0.3), (-0.3, 0.9), (-0.9, -0.3), (0.3, -0.9)];
