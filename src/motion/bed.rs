//! What a ball meets on a table: cushion noses, the jaws at the pockets' mouths, and the pockets.
//!
//! Input: a table's size and the physics. Output: edges, tips and holes in the bed frame (metres
//! from the table's centre). A nose is a straight edge at nose height; at a mouth it ends in a tip,
//! from which the jaw's facing runs back to behind the cushion. A ball's middle stays at the
//! distance √(R² − (h − R)²) from edges and tips, h the nose's height. A ball drops when its middle
//! passes a pocket's rim.
//!
//! Facings stand at the angles of the trade's published equipment specifications: 142° to the nose
//! at a corner, 104° at a side. Not modelled: a facing's own rubber, the tips' rounding, what lies
//! behind the rim.

use super::physics::{Physics, PhysicsError};
use super::piece::Cloth;
use super::{Flat, on_grid};
use crate::table::{PocketKind, TablePoint, TableSize};

/// From the nose to the cushion's back, in metres (2 in).
const CUSHION_DEPTH_M: f64 = 0.05;
/// How far facings turn off the nose's line: what the specified angles leave to 180°.
const CORNER_TURN_DEG: f64 = 180.0 - 142.0;
const SIDE_TURN_DEG: f64 = 180.0 - 104.0;

/// A straight edge at nose height.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub from: Flat,
    /// Unit vector along the edge.
    pub along: Flat,
    pub length_m: f64,
    /// Unit vector toward where balls run.
    pub inward: Flat,
    /// The pocket whose jaw it is; none for a nose.
    pub pocket: Option<usize>,
}

/// Where a nose ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tip {
    pub at: Flat,
    pub pocket: usize,
}

/// A pocket's opening.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hole {
    pub centre: Flat,
    pub radius_m: f64,
}

/// A table to play on: its geometry with checked physics.
#[derive(Debug, Clone)]
pub struct Bed {
    table: TableSize,
    physics: Physics,
    pub(super) cloth: Cloth,
    pub(super) edges: Vec<Edge>,
    pub(super) tips: Vec<Tip>,
    pub(super) holes: Vec<Hole>,
    /// From an edge to the middle of a ball that touches it.
    pub(super) reach_m: f64,
    /// Half length and width of the rectangle in which a ball meets nothing.
    pub(super) free_m: Flat,
}

impl Bed {
    /// The bed of a table.
    ///
    /// # Errors
    /// [`PhysicsError`] for a parameter that no table has.
    pub fn new(table: &TableSize, physics: &Physics) -> Result<Self, PhysicsError> {
        physics.check()?;
        let radius_m = table.ball_radius_mm() / 1000.0;
        let rise = 2.0 * physics.nose_height_per_diameter - 1.0;
        let mut bed = Self {
            table: *table,
            physics: *physics,
            cloth: Cloth {
                radius_m,
                slide_m_s2: physics.sliding_friction * physics.gravity_m_s2,
                roll_m_s2: physics.rolling_resistance * physics.gravity_m_s2,
                spin_decay_rad_s2: physics.spin_decay_rad_s2,
            },
            edges: Vec::new(),
            tips: Vec::new(),
            holes: Vec::new(),
            reach_m: radius_m * (1.0 - rise * rise).sqrt(),
            free_m: Flat::zeros(),
        };
        bed.lay_out();
        Ok(bed)
    }

    pub fn table(&self) -> &TableSize {
        &self.table
    }

    pub fn physics(&self) -> &Physics {
        &self.physics
    }

    fn lay_out(&mut self) {
        let pockets = self.table.pockets();
        self.holes = pockets
            .iter()
            .map(|pocket| Hole {
                centre: self.flat_from_table(pocket.centre),
                radius_m: pocket.radius_mm / 1000.0,
            })
            .collect();
        for nose in self.table.noses() {
            let [from, to] = nose.map(|tip| self.flat_from_table(tip));
            self.edges.push(edge(from, to - from, -(from + to), None));
            for (tip, end) in [(0, from), (1, to)] {
                let nearest = |a: &usize, b: &usize| {
                    let away = |i: usize| pockets[i].centre.distance_mm(nose[tip]);
                    away(*a).total_cmp(&away(*b))
                };
                let pocket = (0..pockets.len()).min_by(nearest).unwrap_or(0);
                let outward = if tip == 0 { from - to } else { to - from };
                self.jaw(end, outward, pocket, pockets[pocket].kind);
            }
        }
        let reach = Flat::new(self.reach_m, self.reach_m);
        let table = Flat::new(self.table.length_mm, self.table.width_mm) / 2000.0;
        self.free_m = table - reach;
    }

    /// A tip and the facing behind it. `outward` runs along the nose toward the mouth.
    fn jaw(&mut self, tip: Flat, outward: Flat, pocket: usize, kind: PocketKind) {
        let turn_deg = match kind {
            PocketKind::Corner => CORNER_TURN_DEG,
            PocketKind::Side => SIDE_TURN_DEG,
        };
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let outward = outward / outward.norm();
        // Away from the bed, square to the nose.
        let square = Flat::new(-outward.y, outward.x);
        let away = if square.dot(&tip) > 0.0 { square } else { -square };
        let back = (outward * cos + away * sin) * (CUSHION_DEPTH_M / sin);
        let mouth = self.holes[pocket].centre - tip;
        self.edges.push(edge(tip, back, mouth, Some(pocket)));
        self.tips.push(Tip { at: tip, pocket });
    }

    /// From the table frame to the bed frame.
    pub(super) fn flat_from_table(&self, point: TablePoint) -> Flat {
        Flat::new(
            on_grid((point.x_mm - 0.5 * self.table.length_mm) / 1000.0),
            on_grid((point.y_mm - 0.5 * self.table.width_mm) / 1000.0),
        )
    }

    /// From the bed frame to the table frame.
    pub(super) fn to_table(&self, place: Flat) -> TablePoint {
        TablePoint::new(
            place.x * 1000.0 + 0.5 * self.table.length_mm,
            place.y * 1000.0 + 0.5 * self.table.width_mm,
        )
    }
}

/// An edge from a point, its inward side toward `toward`.
fn edge(from: Flat, run: Flat, toward: Flat, pocket: Option<usize>) -> Edge {
    let length_m = run.norm();
    let along = run / length_m;
    let square = Flat::new(-along.y, along.x);
    let inward = if square.dot(&toward) > 0.0 { square } else { -square };
    Edge { from, along, length_m, inward, pocket }
}

impl Edge {
    /// How far a place lies on the inward side.
    pub fn height_of(&self, place: Flat) -> f64 {
        self.inward.dot(&(place - self.from))
    }

    /// Where along the edge a place lies, in metres from its beginning.
    pub fn along_of(&self, place: Flat) -> f64 {
        self.along.dot(&(place - self.from))
    }
}
