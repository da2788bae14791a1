//! The floor around the table: carpet, boards, tiles or concrete.

use crate::staged::colour::{Colour, blend, from_hue, grey, varied};
use crate::staged::random::{Random, cell_noise, smooth_noise};

#[derive(Debug, Clone, Copy)]
enum Pattern {
    /// Fine noise only.
    Carpet,
    /// Blotches of a second colour.
    Figured {
        size_mm: f64,
    },
    Boards {
        width_mm: f64,
    },
    Tiles {
        size_mm: f64,
    },
}

/// A floor.
#[derive(Debug, Clone)]
pub struct Floor {
    colour: Colour,
    second: Colour,
    pattern: Pattern,
    turn: [f64; 2],
    noise: f64,
    seed: u64,
}

impl Floor {
    /// A random floor; now and then of nearly the cloth's own colour.
    pub fn random(random: &mut Random, cloth: Colour) -> Self {
        let base = match random.below(8) {
            0 => cloth * random.between(0.4, 1.1),
            1 | 2 => grey(random.between(0.03, 0.6)),
            _ => from_hue(random.unit(), random.between(0.05, 0.5), random.between(0.2, 0.85)),
        };
        let colour = varied(random, base, 0.1);
        let pattern = match random.below(6) {
            0 | 1 => Pattern::Carpet,
            2 | 3 => Pattern::Figured { size_mm: random.between(60.0, 500.0) },
            4 => Pattern::Boards { width_mm: random.between(70.0, 180.0) },
            _ => Pattern::Tiles { size_mm: random.between(250.0, 600.0) },
        };
        let turn_rad = random.between(0.0, std::f64::consts::TAU);
        Self {
            colour,
            second: colour * random.between(0.45, 1.5),
            pattern,
            turn: [turn_rad.cos(), turn_rad.sin()],
            noise: random.between(0.0, 0.25),
            seed: random.bits(),
        }
    }

    /// A floor of one colour, for tests.
    pub fn plain(colour: Colour) -> Self {
        Self {
            colour,
            second: colour,
            pattern: Pattern::Carpet,
            turn: [1.0, 0.0],
            noise: 0.0,
            seed: 0,
        }
    }

    /// The floor's colour at a place.
    pub fn albedo(&self, x_mm: f64, y_mm: f64) -> Colour {
        let [c, s] = self.turn;
        let (x, y) = (c * x_mm - s * y_mm, s * x_mm + c * y_mm);
        let base = match self.pattern {
            Pattern::Carpet => self.colour,
            Pattern::Figured { size_mm } => {
                let blotch = smooth_noise(self.seed, x / size_mm, y / size_mm)
                    + 0.4 * smooth_noise(self.seed ^ 1, 2.7 * x / size_mm, 2.7 * y / size_mm);
                blend(self.colour, self.second, 4.0 * (blotch - 0.62) + 0.5)
            }
            Pattern::Boards { width_mm } => {
                let row = (y / width_mm).floor();
                let shift = 900.0 * cell_noise(self.seed, row as i64, 0);
                let board = ((x + shift) / 1100.0).floor();
                let tone = cell_noise(self.seed ^ 2, row as i64, board as i64);
                let seam = (y / width_mm - row) * width_mm < 2.5;
                let dark = if seam { 0.6 } else { 1.0 };
                let grain = 0.15 * smooth_noise(self.seed ^ 3, x / 150.0, y / 8.0);
                blend(self.colour, self.second, 0.6 * tone) * (dark - grain)
            }
            Pattern::Tiles { size_mm } => {
                let (i, j) = ((x / size_mm).floor(), (y / size_mm).floor());
                let joint = x - i * size_mm < 5.0 || y - j * size_mm < 5.0;
                let tone = cell_noise(self.seed, i as i64, j as i64);
                if joint { self.second * 0.6 } else { self.colour * (0.92 + 0.16 * tone) }
            }
        };
        let fine = smooth_noise(self.seed ^ 4, x / 12.0, y / 12.0) - 0.5;
        let broad = smooth_noise(self.seed ^ 5, x / 400.0, y / 400.0) - 0.5;
        (base * (1.0 + self.noise * (fine + broad))).map(|v| v.clamp(0.002, 0.9))
    }
}
