//! The cloth: colour, weave, wear, chalk marks and spots, as a function of the place.

use super::Finish;
use crate::staged::colour::{Colour, blend, from_hue, grey, srgb, varied};
use crate::staged::random::{Random, cell_noise, smooth_noise};
use crate::table::{TablePoint, TableSize};

/// A round mark on the cloth.
#[derive(Debug, Clone, Copy)]
struct Mark {
    place: TablePoint,
    radius_mm: f64,
    colour: Colour,
    strength: f64,
    /// Width of its blurred border.
    soft_mm: f64,
}

/// A straight faint trace: a pencilled line or the track of many break shots.
#[derive(Debug, Clone, Copy)]
struct Trace {
    from: TablePoint,
    to: TablePoint,
    half_width_mm: f64,
    strength: f64,
}

/// A cloth and what play has left on it.
#[derive(Debug, Clone)]
pub struct Cloth {
    pub name: &'static str,
    pub colour: Colour,
    pub sheen: f64,
    seed: u64,
    weave: f64,
    wear: f64,
    /// The wear's colour shift.
    worn: Colour,
    marks: Buckets,
    traces: Vec<Trace>,
}

const NAMED: [(&str, u32); 14] = [
    ("blue", 0x2f7fc4),
    ("electric", 0x1f9ddc),
    ("green", 0x1f8f52),
    ("spruce", 0x1f5c46),
    ("red", 0xb3202c),
    ("burgundy", 0x6d1f2d),
    ("camel", 0xc2a066),
    ("grey", 0x7d858c),
    ("charcoal", 0x3b3f44),
    ("purple", 0x5b2d86),
    ("navy", 0x23386b),
    ("teal", 0x14807f),
    ("olive", 0x7a7a34),
    ("rust", 0xa8532a),
];

impl Cloth {
    /// A random cloth with a random history.
    pub fn random(random: &mut Random, table: &TableSize) -> Self {
        let (name, hex) = if random.chance(0.62) {
            random.pick([NAMED[0], NAMED[1], NAMED[2], NAMED[3], NAMED[4], NAMED[6]])
        } else {
            random.pick(NAMED)
        };
        let colour = varied(random, srgb(hex), 0.13);
        let chalk = random_chalk(random);
        let mut cloth = Self {
            name,
            colour,
            sheen: random.between(0.05, 0.5),
            seed: random.bits(),
            weave: random.between(0.01, 0.06),
            wear: random.between(0.0, 0.35) * random.unit(),
            worn: worn(random, colour),
            marks: Buckets::over(table),
            traces: Vec::new(),
        };
        cloth.add_chalk_marks(random, table, chalk);
        cloth.add_spots(random, table);
        cloth.add_traces(random, table);
        cloth
    }

    /// A plain cloth of one colour, for tests.
    pub fn plain(colour: Colour, table: &TableSize) -> Self {
        Self {
            name: "plain",
            colour,
            sheen: 0.0,
            seed: 0,
            weave: 0.0,
            wear: 0.0,
            worn: colour,
            marks: Buckets::over(table),
            traces: Vec::new(),
        }
    }

    fn add_chalk_marks(&mut self, random: &mut Random, table: &TableSize, chalk: Colour) {
        let count = random.pick([0, 4, 10, 16, 24, 40]) + random.below(8);
        let near_foot = random.unit();
        for _ in 0..count {
            let mut place = TablePoint::new(
                random.between(0.0, table.length_mm),
                random.between(0.0, table.width_mm),
            );
            if random.chance(0.3 * near_foot) {
                let foot = table.foot_spot();
                place = TablePoint::new(
                    foot.x_mm + 120.0 * random.normal(),
                    foot.y_mm + 110.0 * random.normal(),
                );
            }
            let strength = random.between(0.1, 0.75);
            self.marks.add(Mark {
                place,
                radius_mm: random.between(1.5, 4.5),
                colour: blend(chalk, grey(0.7), random.unit()),
                strength,
                soft_mm: random.between(0.5, 3.0),
            });
            // Smears: a row of fainter dots.
            if random.chance(0.12) {
                let turn = random.between(0.0, std::f64::consts::TAU);
                for k in 1..6 {
                    let along = f64::from(k) * 4.0;
                    self.marks.add(Mark {
                        place: TablePoint::new(
                            place.x_mm + along * turn.cos(),
                            place.y_mm + along * turn.sin(),
                        ),
                        radius_mm: 3.0,
                        colour: grey(0.6),
                        strength: strength * 0.5 / f64::from(k),
                        soft_mm: 3.0,
                    });
                }
            }
        }
    }

    fn add_spots(&mut self, random: &mut Random, table: &TableSize) {
        let colour = if random.chance(0.5) { grey(0.02) } else { grey(0.8) };
        let radius_mm = random.between(5.0, 10.0);
        let strength = random.between(0.7, 1.0);
        let spots =
            [(table.foot_spot(), 0.85), (table.head_spot(), 0.5), (table.centre_spot(), 0.06)];
        for (place, likely) in spots {
            if random.chance(likely) {
                self.marks.add(Mark { place, radius_mm, colour, strength, soft_mm: 0.4 });
            }
        }
    }

    fn add_traces(&mut self, random: &mut Random, table: &TableSize) {
        let (foot, quarter) = (table.foot_spot(), table.length_mm / 4.0);
        if random.chance(0.15) {
            self.traces.push(Trace {
                from: TablePoint::new(quarter, 0.0),
                to: TablePoint::new(quarter, table.width_mm),
                half_width_mm: 0.9,
                strength: random.between(0.15, 0.5),
            });
        }
        for _ in 0..random.pick([0, 0, 0, 1, 3]) {
            let y_mm = table.width_mm * random.between(0.15, 0.85);
            self.traces.push(Trace {
                from: TablePoint::new(quarter * random.between(0.6, 1.0), y_mm),
                to: foot,
                half_width_mm: random.between(3.0, 9.0),
                strength: random.between(0.01, 0.07),
            });
        }
    }

    /// The cloth at a place (on the bed or on a cushion).
    pub fn finish(&self, x_mm: f64, y_mm: f64) -> Finish {
        let mut albedo = self.colour;
        if self.wear > 0.0 {
            let broad = smooth_noise(self.seed, x_mm / 310.0, y_mm / 260.0)
                + 0.5 * smooth_noise(self.seed ^ 1, x_mm / 90.0, y_mm / 45.0);
            albedo = blend(albedo, self.worn, self.wear * broad);
        }
        if self.weave > 0.0 {
            let fine = cell_noise(self.seed ^ 2, cell(x_mm / 1.4), cell(y_mm / 1.1)) - 0.5;
            let nap = smooth_noise(self.seed ^ 3, x_mm / 14.0, y_mm / 3.5) - 0.5;
            albedo *= 1.0 + self.weave * (2.2 * fine + 1.1 * nap);
        }
        for trace in &self.traces {
            let part = trace.cover(x_mm, y_mm) * trace.strength;
            albedo = blend(albedo, grey(0.7), part);
        }
        for mark in self.marks.near(x_mm, y_mm) {
            let gap = mark.place.distance_mm(TablePoint::new(x_mm, y_mm)) - mark.radius_mm;
            let cover = (0.5 - gap / mark.soft_mm).clamp(0.0, 1.0);
            albedo = blend(albedo, mark.colour, cover * mark.strength);
        }
        Finish { sheen: self.sheen, ..Finish::matte(albedo) }
    }
}

impl Trace {
    fn cover(&self, x_mm: f64, y_mm: f64) -> f64 {
        let (dx, dy) = (self.to.x_mm - self.from.x_mm, self.to.y_mm - self.from.y_mm);
        let (px, py) = (x_mm - self.from.x_mm, y_mm - self.from.y_mm);
        let t = (px * dx + py * dy) / (dx * dx + dy * dy);
        if !(0.0..=1.0).contains(&t) {
            return 0.0;
        }
        let gap = (px - t * dx).hypot(py - t * dy);
        (1.0 - gap / self.half_width_mm).clamp(0.0, 1.0)
    }
}

/// What a cloth turns to: paler and greyer with chalk, or just polished darker.
fn worn(random: &mut Random, colour: Colour) -> Colour {
    if random.chance(0.65) {
        blend(colour, Colour::repeat(colour.sum() / 3.0), 0.35) * 1.25 + grey(0.015)
    } else {
        colour * random.between(0.6, 0.85)
    }
}

/// The chalk of a room: blue, green, sometimes another.
fn random_chalk(random: &mut Random) -> Colour {
    let hue = random.pick([0.57, 0.57, 0.6, 0.42, 0.0]) + random.between(-0.02, 0.02);
    from_hue(hue, random.between(0.1, 0.45), random.between(0.75, 0.95))
}

fn cell(scaled: f64) -> i64 {
    scaled.floor() as i64
}

/// Marks by the square of the table they may touch, so that a look-up sees few.
#[derive(Debug, Clone)]
struct Buckets {
    columns: usize,
    rows: usize,
    marks: Vec<Vec<Mark>>,
}

const BUCKET_MM: f64 = 80.0;

impl Buckets {
    fn over(table: &TableSize) -> Self {
        let count = |size_mm: f64| (size_mm / BUCKET_MM).ceil() as usize + 2;
        let (columns, rows) = (count(table.length_mm), count(table.width_mm));
        Self { columns, rows, marks: vec![Vec::new(); columns * rows] }
    }

    fn slot(&self, x_mm: f64, y_mm: f64) -> usize {
        let index =
            |v_mm: f64, count: usize| ((v_mm / BUCKET_MM + 1.0).max(0.0) as usize).min(count - 1);
        index(y_mm, self.rows) * self.columns + index(x_mm, self.columns)
    }

    fn add(&mut self, mark: Mark) {
        let reach_mm = mark.radius_mm + mark.soft_mm;
        let TablePoint { x_mm: x, y_mm: y } = mark.place;
        let mut slots: Vec<usize> = [-reach_mm, reach_mm]
            .into_iter()
            .flat_map(|dx| [-reach_mm, reach_mm].map(|dy| self.slot(x + dx, y + dy)))
            .collect();
        slots.sort_unstable();
        slots.dedup();
        for slot in slots {
            if let Some(bucket) = self.marks.get_mut(slot) {
                bucket.push(mark);
            }
        }
    }

    fn near(&self, x_mm: f64, y_mm: f64) -> &[Mark] {
        self.marks.get(self.slot(x_mm, y_mm)).map_or(&[], Vec::as_slice)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spot_is_seen_on_its_place_and_not_beside_it() {
        let table = TableSize::NINE_FOOT;
        let mut cloth = Cloth::plain(srgb(0x2f7fc4), &table);
        let place = table.foot_spot();
        cloth.marks.add(Mark {
            place,
            radius_mm: 8.0,
            colour: grey(0.0),
            strength: 1.0,
            soft_mm: 0.5,
        });
        assert!(cloth.finish(place.x_mm + 7.0, place.y_mm).albedo.norm() < 1e-9);
        assert_eq!(cloth.finish(place.x_mm + 9.0, place.y_mm).albedo, cloth.colour);
    }
}
