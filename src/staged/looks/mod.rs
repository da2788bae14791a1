//! What things on and around a made-up table look like: colours and textures as functions of a
//! place, and the light and film they are seen with. Knows nothing of rays.

mod ball;
mod cloth;
mod digits;
mod film;
mod floor;
mod lighting;
mod rail;

pub use ball::{BallSet, CueMark};
pub use cloth::Cloth;
pub use film::Film;
pub use floor::Floor;
pub use lighting::{Lamp, LightKind, Lighting, Room};
pub use rail::Rails;

use super::colour::Colour;
use super::random::Random;
use crate::table::TableSize;

/// Colours, textures, light and film of one scene.
#[derive(Debug, Clone)]
pub struct Looks {
    pub cloth: Cloth,
    pub rails: Rails,
    pub floor: Floor,
    pub balls: BallSet,
    pub lighting: Lighting,
    pub film: Film,
}

impl Looks {
    /// Random looks.
    pub fn random(random: &mut Random, table: &TableSize) -> Self {
        let cloth = Cloth::random(random, table);
        let kind = random.pick([
            LightKind::Bar,
            LightKind::Bar,
            LightKind::Three,
            LightKind::Three,
            LightKind::Window,
            LightKind::Room,
        ]);
        let lighting = Lighting::random(random, kind, table);
        let rails = Rails::random(random, cloth.colour);
        let floor = Floor::random(random, cloth.colour);
        let film = Film::random(random, &lighting, &cloth, table);
        Self { rails, floor, balls: BallSet::random(random), lighting, film, cloth }
    }
}

/// How a surface answers light at one place.
#[derive(Debug, Clone, Copy)]
pub struct Finish {
    /// Part of the light that is scattered.
    pub albedo: Colour,
    /// Mirror reflectance seen straight on; 0 for none.
    pub gloss: f64,
    /// Spread of the mirror image, as a slope.
    pub roughness: f64,
    /// How much brighter it gets when seen along the surface (fibres).
    pub sheen: f64,
}

impl Finish {
    /// A surface without gloss.
    pub const fn matte(albedo: Colour) -> Self {
        Self { albedo, gloss: 0.0, roughness: 0.0, sheen: 0.0 }
    }
}
