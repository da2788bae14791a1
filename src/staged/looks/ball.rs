//! The ball set: solid and striped balls with their numbers, and the cue ball.

use super::Finish;
use super::digits::inked;
use crate::staged::colour::{Colour, blend, from_hue, grey, srgb, varied};
use crate::staged::random::Random;
use nalgebra::Vector3;

/// What the cue ball carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CueMark {
    Plain,
    /// One small dot.
    Dot,
    /// Six dots, one on each axis.
    SixDots,
    Ring,
}

/// The look of one set of balls.
#[derive(Debug, Clone)]
pub struct BallSet {
    /// Colours of 1 to 8; 9 to 15 carry those of 1 to 7 as a band.
    colours: [Colour; 8],
    /// The white of bands and discs, and of the cue ball.
    white: Colour,
    cue_white: Colour,
    pub cue_mark: CueMark,
    mark_colour: Colour,
    /// Sine of the band's half height as seen from the middle.
    band: f64,
    /// Cosine and sine of the disc's half angle.
    disc: [f64; 2],
    gloss: f64,
    roughness: f64,
}

const USUAL: [u32; 8] =
    [0xf2c30f, 0x1a3fb0, 0xd8201c, 0x5a1f86, 0xf07a18, 0x0b7a41, 0x7d1a22, 0x101012];

/// Sets made for the screen differ in some colours: 4, 5 and 7.
const BRIGHT: [u32; 8] =
    [0xf6cf1d, 0x1f55c8, 0xd9262e, 0xe0688f, 0x6b3fa0, 0x0f9155, 0xb07a4a, 0x121214];

impl BallSet {
    pub fn random(random: &mut Random) -> Self {
        let base = if random.chance(0.8) { USUAL } else { BRIGHT };
        let colours = base.map(|hex| varied(random, srgb(hex), 0.1));
        let yellowing = random.unit() * random.unit();
        let white = blend(grey(0.84), Colour::new(0.8, 0.68, 0.45), yellowing);
        let cue_white = if random.chance(0.5) {
            white
        } else {
            blend(grey(0.86), Colour::new(0.82, 0.72, 0.52), random.unit() * 0.6)
        };
        let disc_rad = random.between(15.0, 23.0_f64).to_radians();
        Self {
            colours,
            white,
            cue_white,
            cue_mark: random.pick([
                CueMark::Plain,
                CueMark::Plain,
                CueMark::Dot,
                CueMark::SixDots,
                CueMark::Ring,
            ]),
            mark_colour: srgb(random.pick([0xc02020, 0xc02020, 0x1a3fb0, 0x151515])),
            band: random.between(0.42, 0.62),
            disc: [disc_rad.cos(), disc_rad.sin()],
            gloss: random.between(0.035, 0.055),
            roughness: random.pick([0.003, 0.012, 0.03]),
        }
    }

    /// The same set in colours of its own: any hues, dark or light, in no usual order.
    pub fn recoloured(self, random: &mut Random) -> Self {
        let first = random.unit();
        let mut colours: [Colour; 8] = std::array::from_fn(|i| {
            let hue = first + (i as f64 + 0.3 * random.unit()) / 8.0;
            from_hue(hue, random.between(0.45, 0.95), random.between(0.25, 0.95))
        });
        random.shuffle(&mut colours);
        Self { colours, ..self }
    }

    /// Matte white balls, for tests.
    pub fn plain() -> Self {
        Self {
            colours: [grey(0.8); 8],
            white: grey(0.8),
            cue_white: grey(0.8),
            cue_mark: CueMark::Plain,
            mark_colour: grey(0.8),
            band: 0.5,
            disc: [1.0, 0.0],
            gloss: 0.0,
            roughness: 0.0,
        }
    }

    /// The surface of a ball where `direction`, in the ball's own axes and of unit length,
    /// leaves it. The number's discs lie on the x axis, the band around the z axis.
    pub fn finish(&self, number: u8, direction: Vector3<f64>) -> Finish {
        let albedo = match number {
            0 => self.cue(direction),
            _ => self.numbered(number, direction),
        };
        Finish { albedo, gloss: self.gloss, roughness: self.roughness, sheen: 0.0 }
    }

    fn cue(&self, d: Vector3<f64>) -> Colour {
        let peak = d.x.abs().max(d.y.abs()).max(d.z.abs());
        let marked = match self.cue_mark {
            CueMark::Plain => false,
            CueMark::Dot => d.x > 0.992,
            CueMark::SixDots => peak > 0.985,
            CueMark::Ring => (0.945..0.972).contains(&d.x),
        };
        if marked { self.mark_colour } else { self.cue_white }
    }

    fn numbered(&self, number: u8, d: Vector3<f64>) -> Colour {
        let striped = number > 8;
        let index = usize::from(if striped { number - 8 } else { number }) - 1;
        let colour = self.colours.get(index).copied().unwrap_or(self.white);
        let [disc_cos, disc_sin] = self.disc;
        if d.x.abs() > disc_cos {
            let side = d.x.signum();
            let (x, y) = (side * d.y / disc_sin, d.z / disc_sin);
            return if inked(number, x * 1.2, y * 1.2) { grey(0.02) } else { self.white };
        }
        if striped && d.z.abs() > self.band { self.white } else { colour }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stripes_are_white_at_the_poles_and_solids_are_not() {
        let set = BallSet::random(&mut Random::new(4));
        for number in 9..16 {
            assert_eq!(set.finish(number, Vector3::z()).albedo, set.white);
            let band = set.finish(number, Vector3::y()).albedo;
            assert_eq!(band, set.finish(number - 8, Vector3::y()).albedo);
            assert_eq!(band, set.finish(number - 8, Vector3::z()).albedo);
        }
    }
}
