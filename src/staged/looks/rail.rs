//! The wooden rails, their sights, and the pockets' rims and leather.

use super::Finish;
use crate::staged::colour::{Colour, blend, grey, srgb, varied};
use crate::staged::random::{Random, smooth_noise};

/// What the rails are made of.
#[derive(Debug, Clone)]
pub struct Rails {
    pub colour: Colour,
    grain: f64,
    grain_colour: Colour,
    gloss: f64,
    roughness: f64,
    seed: u64,
    pub sight: Colour,
    pub rim: Finish,
    pub leather: Colour,
}

const WOODS: [u32; 12] = [
    0x6b4a32, 0x8a5a33, 0x4a2c1c, 0x7b2b26, 0x9a6b45, 0xb98b5a, 0xd9b98c, 0x2a2624, 0x1a1a1c,
    0x8d8b88, 0x5a4a44, 0xe6e2da,
];

impl Rails {
    /// Random rails; now and then of nearly the cloth's own colour.
    pub fn random(random: &mut Random, cloth: Colour) -> Self {
        let base = if random.chance(0.12) {
            cloth * random.between(0.55, 1.3)
        } else {
            srgb(random.pick(WOODS))
        };
        let colour = varied(random, base, 0.12);
        let dark_rail = colour.sum() < 1.2;
        let rim = match random.below(4) {
            0 => Finish { gloss: 0.2, roughness: 0.25, ..Finish::matte(grey(0.3)) },
            1 => Finish::matte(srgb(0x4a2e1c)),
            _ => Finish { gloss: 0.04, roughness: 0.15, ..Finish::matte(grey(0.02)) },
        };
        Self {
            colour,
            grain: random.pick([0.0, 0.08, 0.2, 0.35]) * random.unit(),
            grain_colour: colour * random.between(0.35, 0.8),
            gloss: if random.chance(0.35) { 0.0 } else { random.between(0.02, 0.06) },
            roughness: random.pick([0.004, 0.03, 0.1]),
            seed: random.bits(),
            sight: if dark_rail || random.chance(0.7) {
                varied(random, grey(0.75), 0.12)
            } else {
                varied(random, grey(0.55), 0.2)
            },
            rim,
            leather: srgb(random.pick([0x0b0b0b, 0x141210, 0x1d1510, 0x2a1c12])),
        }
    }

    /// The wood at a place, its grain running along `along_mm`.
    pub fn wood_at(&self, along_mm: f64, across_mm: f64) -> Finish {
        let long = smooth_noise(self.seed, along_mm / 160.0, across_mm / 9.0);
        let fine = smooth_noise(self.seed ^ 7, along_mm / 45.0, across_mm / 2.6);
        let cloud = smooth_noise(self.seed ^ 9, along_mm / 70.0, across_mm / 60.0);
        let part = self.grain * (0.5 * long + 0.3 * fine + 0.5 * cloud);
        Finish {
            albedo: blend(self.colour, self.grain_colour, part),
            gloss: self.gloss,
            roughness: self.roughness,
            sheen: 0.0,
        }
    }
}
