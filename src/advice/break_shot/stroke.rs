//! A hit without its aim, and the choices that a search goes through.

use crate::motion::Hit;

pub(super) const SPEEDS_M_S: [f64; 5] = [2.5, 4.0, 5.5, 7.0, 8.5];
pub(super) const HEIGHTS: [f64; 7] = [-0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75];
pub(super) const SIDES: [f64; 5] = [-0.5, -0.25, 0.0, 0.25, 0.5];
/// Half a step of the grid, or a little less.
const HALF_STEP: Stroke = Stroke { speed_m_s: 0.75, height: 0.125, side: 0.125 };
/// What a contrast differs by: a part of the speed, the rest in steps of its own.
const CONTRAST: Stroke = Stroke { speed_m_s: 0.4, height: 0.5, side: 0.4 };
/// The slowest and fastest that is advised, m/s.
const SLOWEST_M_S: f64 = 1.5;
const FASTEST_M_S: f64 = 10.0;
/// The farthest out that a tip is to be placed, which leaves room for the player's errors.
const FARTHEST_OUT: f64 = 0.9;

/// A speed and a place of the tip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stroke {
    pub speed_m_s: f64,
    pub height: f64,
    pub side: f64,
}

impl Stroke {
    pub fn at(self, aim_rad: f64) -> Hit {
        let Self { speed_m_s, height, side } = self;
        Hit { aim_rad, speed_m_s, height, side, elevation_rad: 0.0 }
    }

    pub fn of(hit: &Hit) -> Self {
        Self { speed_m_s: hit.speed_m_s, height: hit.height, side: hit.side }
    }

    /// Held to what can be advised, in thousandths.
    pub fn held(self) -> Self {
        let out = (self.height.hypot(self.side) / FARTHEST_OUT).max(1.0);
        let rounded = |value: f64| (value * 1000.0).round() / 1000.0;
        Self {
            speed_m_s: rounded(self.speed_m_s.clamp(SLOWEST_M_S, FASTEST_M_S)),
            // No −0, whose sign would be told.
            height: rounded(self.height / out) + 0.0,
            side: rounded(self.side / out) + 0.0,
        }
    }

    /// The strokes half a step of the grid away.
    pub fn half_steps(self) -> Vec<Self> {
        let Self { speed_m_s, height, side } = HALF_STEP;
        let step = |sign: f64| {
            [
                Self { speed_m_s: self.speed_m_s + sign * speed_m_s, ..self },
                Self { height: self.height + sign * height, ..self },
                Self { side: self.side + sign * side, ..self },
            ]
        };
        [-1.0, 1.0].into_iter().flat_map(step).map(Self::held).collect()
    }

    /// Strokes that differ in a single thing.
    pub fn contrasts(self) -> Vec<Self> {
        let mut strokes = Vec::new();
        for sign in [-1.0, 1.0] {
            let height = self.height + sign * CONTRAST.height;
            if height.hypot(self.side) <= FARTHEST_OUT {
                strokes.push(Self { height, ..self });
            }
            let speed_m_s = self.speed_m_s * (1.0 + sign * CONTRAST.speed_m_s);
            strokes.push(Self { speed_m_s, ..self });
        }
        let side = if self.side == 0.0 { CONTRAST.side } else { 0.0 };
        strokes.push(Self { side, ..self });
        strokes.into_iter().map(Self::held).collect()
    }
}

/// The middle one first, then outward.
pub(super) fn outward<const N: usize>(mut values: [f64; N]) -> [f64; N] {
    let middle = values[N / 2];
    values.sort_by(|a, b| (a - middle).abs().total_cmp(&(b - middle).abs()));
    values
}
