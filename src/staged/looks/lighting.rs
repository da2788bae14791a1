//! What lights the table: flat lamps, and the room as a soft sky of walls and ceiling.
//!
//! Lamps are rectangles that shine from one side alike in all directions. They light and are
//! mirrored, but do not stand in the camera's way. Scaled so that a white cloth at the table's
//! middle has radiance 1.

use crate::staged::colour::{Colour, grey, lamp_colour, luminance};
use crate::staged::random::Random;
use crate::table::TableSize;
use nalgebra::Vector3;
use std::f64::consts::PI;

/// A lit rectangle.
#[derive(Debug, Clone)]
pub struct Lamp {
    pub centre_mm: Vector3<f64>,
    /// From the centre to the middles of two neighbouring sides.
    pub half_mm: [Vector3<f64>; 2],
    /// The side it shines to; unit length.
    pub normal: Vector3<f64>,
    pub radiance: Colour,
}

impl Lamp {
    pub fn area_mm2(&self) -> f64 {
        4.0 * self.half_mm[0].cross(&self.half_mm[1]).norm()
    }

    /// A place on the lamp; u and v run from −1 to 1.
    pub fn at(&self, u: f64, v: f64) -> Vector3<f64> {
        self.centre_mm + self.half_mm[0] * u + self.half_mm[1] * v
    }

    /// Into how many pieces along each side it is cut so that none is longer than `size_mm`.
    pub fn pieces(&self, size_mm: f64) -> [usize; 2] {
        self.half_mm.map(|half| ((2.0 * half.norm() / size_mm).ceil() as usize).clamp(1, 24))
    }

    /// Irradiance of a surface per radiance of this lamp, from one piece of it, unobstructed.
    pub fn share(&self, piece: Vector3<f64>, to: Vector3<f64>, normal: Vector3<f64>) -> f64 {
        let way = piece - to;
        let distance2 = way.norm_squared();
        let (out, back) = (way.dot(&normal), -way.dot(&self.normal));
        if out <= 0.0 || back <= 0.0 { 0.0 } else { out * back / (distance2 * distance2) }
    }
}

/// Light from everywhere else.
#[derive(Debug, Clone)]
pub struct Room {
    pub ceiling: Colour,
    pub wall: Colour,
    /// Horizontal direction of the brighter wall, its length the difference it makes.
    pub lean: [f64; 2],
}

impl Room {
    /// Radiance from a direction of unit length.
    pub fn radiance(&self, d: Vector3<f64>) -> Colour {
        let up = d.z.max(0.0);
        let lean = 1.0 + self.lean[0] * d.x + self.lean[1] * d.y;
        (self.wall + (self.ceiling - self.wall) * up.sqrt()) * lean
    }
}

/// The kinds of light.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LightKind {
    Bar,
    Three,
    Window,
    Room,
}

impl LightKind {
    pub const ALL: [Self; 4] = [Self::Bar, Self::Three, Self::Window, Self::Room];

    pub const fn name(self) -> &'static str {
        match self {
            Self::Bar => "bar",
            Self::Three => "three",
            Self::Window => "window",
            Self::Room => "room",
        }
    }
}

/// All the light on a table.
#[derive(Debug, Clone)]
pub struct Lighting {
    pub kind: LightKind,
    pub lamps: Vec<Lamp>,
    pub room: Room,
}

impl Lighting {
    /// Random light of a kind over a table.
    pub fn random(random: &mut Random, kind: LightKind, table: &TableSize) -> Self {
        let kelvin = match kind {
            LightKind::Window => random.between(5200.0, 8500.0),
            _ => random.between(2700.0, 5600.0),
        };
        let colour = lamp_colour(kelvin);
        let mut lamps = match kind {
            LightKind::Bar => bars(random, table),
            LightKind::Three => row_of_lamps(random, table),
            LightKind::Window => windows(random, table),
            LightKind::Room => panels(random, table),
        };
        lamps.iter_mut().for_each(|lamp| lamp.radiance = lamp.radiance.component_mul(&colour));
        let ambient = match kind {
            LightKind::Bar | LightKind::Three => random.between(0.12, 0.45),
            LightKind::Window => random.between(0.2, 0.45),
            LightKind::Room => random.between(0.35, 0.65),
        };
        let tint = lamp_colour((kelvin + random.between(-700.0, 1500.0)).clamp(2600.0, 9000.0));
        let lean_rad = random.between(0.0, std::f64::consts::TAU);
        let lean = random.between(0.0, 0.45);
        let wall = random.between(0.3, 1.0);
        let room = Room {
            ceiling: tint,
            wall: tint * wall,
            lean: [lean * lean_rad.cos(), lean * lean_rad.sin()],
        };
        Self { kind, lamps, room }.scaled(table, ambient)
    }

    /// Brings the table's middle to a radiance of 1 for white, `ambient` of it from the room.
    fn scaled(mut self, table: &TableSize, ambient: f64) -> Self {
        let middle = table.centre_spot();
        let at = Vector3::new(middle.x_mm, middle.y_mm, 0.0);
        let direct = self
            .lamps
            .iter()
            .map(|lamp| lamp.radiance * unobstructed_share(lamp, at, Vector3::z()))
            .fold(Colour::zeros(), |sum, part| sum + part);
        let sky = self.room_irradiance(Vector3::z());
        let direct_gain = PI * (1.0 - ambient) / (direct.sum() / 3.0).max(1e-12);
        let room_gain = PI * ambient / (sky.sum() / 3.0).max(1e-12);
        self.lamps.iter_mut().for_each(|lamp| lamp.radiance *= direct_gain);
        self.room.ceiling *= room_gain;
        self.room.wall *= room_gain;
        self
    }

    /// The colour of a white cloth in the middle, before any camera's white balance.
    pub fn white(&self) -> Colour {
        let lamps = self.lamps.iter().fold(Colour::zeros(), |sum, lamp| sum + lamp.radiance);
        let room = self.room.ceiling;
        lamps / luminance(lamps).max(1e-9) + room / luminance(room).max(1e-9)
    }

    /// Light on the brightest place of the cloth, as a multiple of that in the middle.
    pub fn brightest(&self, table: &TableSize) -> f64 {
        let room = self.room_irradiance(Vector3::z()).sum();
        let light = |x: f64, y: f64| {
            let at = Vector3::new(x * table.length_mm, y * table.width_mm, 0.0);
            let share = |lamp: &Lamp| unobstructed_share(lamp, at, Vector3::z());
            room + self.lamps.iter().map(|l| l.radiance.sum() * share(l)).sum::<f64>()
        };
        let steps = [0.0, 0.25, 0.5, 0.75, 1.0];
        let most = steps.iter().flat_map(|x| steps.map(|y| light(*x, y))).fold(0.0, f64::max);
        most / light(0.5, 0.5)
    }

    /// Irradiance of an unobstructed surface from the room alone.
    pub fn room_irradiance(&self, normal: Vector3<f64>) -> Colour {
        let steps = 24;
        let mut sum = Colour::zeros();
        for j in 0..steps {
            let z = (f64::from(j) + 0.5) / f64::from(steps);
            let flat = (1.0 - z * z).sqrt();
            for i in 0..steps {
                let turn = std::f64::consts::TAU * (f64::from(i) + 0.5) / f64::from(steps);
                let d = Vector3::new(flat * turn.cos(), flat * turn.sin(), z);
                sum += self.room.radiance(d) * d.dot(&normal).max(0.0);
            }
        }
        sum * (2.0 * PI / f64::from(steps * steps))
    }

    /// One far lamp straight above and an even room, for tests.
    pub fn plain(table: &TableSize) -> Self {
        let middle = table.centre_spot();
        let lamp = ceiling_lamp([middle.x_mm, middle.y_mm, 2000.0], [400.0, 400.0]);
        let room = Room { ceiling: grey(1.0), wall: grey(1.0), lean: [0.0, 0.0] };
        Self { kind: LightKind::Room, lamps: vec![lamp], room }.scaled(table, 0.6)
    }
}

fn unobstructed_share(lamp: &Lamp, to: Vector3<f64>, normal: Vector3<f64>) -> f64 {
    let [nu, nv] = lamp.pieces(100.0);
    let mut sum = 0.0;
    for j in 0..nv {
        for i in 0..nu {
            let piece = lamp.at(piece_middle(i, nu), piece_middle(j, nv));
            sum += lamp.share(piece, to, normal);
        }
    }
    sum * lamp.area_mm2() / (nu * nv) as f64
}

/// Middle of the `index`th of `count` equal parts of −1..1.
fn piece_middle(index: usize, count: usize) -> f64 {
    (2.0 * index as f64 + 1.0) / count as f64 - 1.0
}

fn ceiling_lamp(centre: [f64; 3], half: [f64; 2]) -> Lamp {
    Lamp {
        centre_mm: Vector3::from(centre),
        half_mm: [Vector3::x() * half[0], Vector3::y() * half[1]],
        normal: -Vector3::z(),
        radiance: grey(1.0),
    }
}

fn bars(random: &mut Random, table: &TableSize) -> Vec<Lamp> {
    let height = random.between(750.0, 1300.0);
    let half_length = table.length_mm * random.between(0.28, 0.5);
    let half_width = random.between(25.0, 110.0);
    let shift = [random.between(-80.0, 80.0), random.between(-60.0, 60.0)];
    let apart = match random.below(5) {
        0 => 0.0,
        1 | 2 => random.between(120.0, 260.0),
        _ => table.width_mm * random.between(0.4, 0.75),
    };
    let sides: &[f64] = if apart > 0.0 { &[-1.0, 1.0] } else { &[0.0] };
    let middle = table.centre_spot();
    let mut lamps: Vec<Lamp> = sides
        .iter()
        .map(|side| {
            let y = middle.y_mm + shift[1] + side * apart;
            ceiling_lamp([middle.x_mm + shift[0], y, height], [half_length, half_width])
        })
        .collect();
    // Lamps far apart may be the long sides of a lit frame.
    if apart > 400.0 && random.chance(0.5) {
        lamps.extend([-1.0, 1.0].map(|end| {
            let x = middle.x_mm + shift[0] + end * half_length;
            ceiling_lamp([x, middle.y_mm + shift[1], height], [half_width, apart * 0.9])
        }));
    }
    lamps
}

fn row_of_lamps(random: &mut Random, table: &TableSize) -> Vec<Lamp> {
    let height = random.between(700.0, 1150.0);
    let half = random.between(90.0, 210.0);
    let step = table.length_mm * random.between(0.26, 0.33);
    let middle = table.centre_spot();
    [-1.0, 0.0, 1.0]
        .map(|k| {
            let x = middle.x_mm + k * step + random.between(-20.0, 20.0);
            let y = middle.y_mm + random.between(-40.0, 40.0);
            ceiling_lamp([x, y, height], [half, half])
        })
        .into()
}

fn windows(random: &mut Random, table: &TableSize) -> Vec<Lamp> {
    let middle = table.centre_spot();
    let side = random.pick([-1.0, 1.0]);
    let along_table = random.chance(0.5);
    let away = random.between(900.0, 2200.0);
    let (half_wide, half_high) = (random.between(450.0, 1100.0), random.between(350.0, 700.0));
    let height = random.between(250.0, 500.0) + half_high;
    let slide = random.between(-500.0, 500.0);
    let (centre, across, normal) = if along_table {
        let y = middle.y_mm + side * (table.width_mm / 2.0 + away);
        ([middle.x_mm + slide, y, height], Vector3::x(), Vector3::y() * -side)
    } else {
        let x = middle.x_mm + side * (table.length_mm / 2.0 + away);
        ([x, middle.y_mm + slide, height], Vector3::y(), Vector3::x() * -side)
    };
    let window = Lamp {
        centre_mm: Vector3::from(centre),
        half_mm: [across * half_wide, Vector3::z() * half_high],
        normal,
        radiance: grey(1.0),
    };
    let mut lamps = vec![window];
    if random.chance(0.6) {
        let mut lamp = ceiling_lamp(
            [middle.x_mm, middle.y_mm, random.between(900.0, 1900.0)],
            [random.between(200.0, 700.0), random.between(40.0, 200.0)],
        );
        lamp.radiance *= random.between(0.3, 2.0);
        lamps.push(lamp);
    }
    lamps
}

fn panels(random: &mut Random, table: &TableSize) -> Vec<Lamp> {
    let height = random.between(1750.0, 2400.0);
    let half = [random.between(150.0, 320.0), random.between(150.0, 600.0)];
    let step = [random.between(1000.0, 1900.0), random.between(1200.0, 2200.0)];
    let shift = [random.between(-400.0, 400.0), random.between(-400.0, 400.0)];
    let columns: &[f64] = random.pick([&[-1.0, 1.0], &[-1.0, 0.0, 1.0]]);
    let rows: &[f64] = random.pick([&[-0.5, 0.5], &[0.0]]);
    let middle = table.centre_spot();
    columns
        .iter()
        .flat_map(|i| rows.iter().map(move |j| (*i, *j)))
        .map(|(i, j)| {
            let x = middle.x_mm + shift[0] + i * step[0];
            let y = middle.y_mm + shift[1] + j * step[1];
            ceiling_lamp([x, y, height], half)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn white_at_the_middle_has_radiance_one() {
        let table = TableSize::NINE_FOOT;
        for (seed, kind) in (0..).zip(LightKind::ALL) {
            let lighting = Lighting::random(&mut Random::new(seed), kind, &table);
            let at = Vector3::new(1270.0, 635.0, 0.0);
            let direct = lighting
                .lamps
                .iter()
                .map(|lamp| lamp.radiance * unobstructed_share(lamp, at, Vector3::z()))
                .fold(Colour::zeros(), |sum, part| sum + part);
            let total = (direct + lighting.room_irradiance(Vector3::z())) / PI;
            assert!((total.sum() / 3.0 - 1.0).abs() < 1e-9, "{kind:?} {total}");
        }
    }

    #[test]
    fn a_window_lights_its_own_side_most() {
        let table = TableSize::NINE_FOOT;
        let random = |seed, kind| Lighting::random(&mut Random::new(seed), kind, &table);
        assert!(random(1, LightKind::Window).brightest(&table) > 1.2);
        assert!((Lighting::plain(&table).brightest(&table) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_small_far_lamp_follows_the_inverse_square() {
        let lamp = ceiling_lamp([0.0, 0.0, 1000.0], [1.0, 1.0]);
        let near = unobstructed_share(&lamp, Vector3::zeros(), Vector3::z());
        let far = unobstructed_share(&lamp, Vector3::new(0.0, 0.0, -1000.0), Vector3::z());
        assert!((near / far - 4.0).abs() < 1e-4);
        assert!((near - 4.0 / 1e6).abs() < 1e-10);
    }
}
