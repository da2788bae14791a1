//! How a made-up table is built: cushions, jaws, pockets, rails. Measures only, no colours.
//!
//! Openings, heights and places follow the trade's equipment specifications (corner mouth 114 to
//! 127 mm, side mouth 124 to 135 mm between nose tips, sights about 94 mm behind the nose); what
//! they leave open is varied. Not modelled: the crown of the bed, seams, bolts.

use super::random::Random;
use crate::table::{Pocket, PocketKind, TablePoint, TableSize};

/// What a sight on the rail looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SightShape {
    Dot,
    Diamond,
}

/// The measures of one table beyond its playing size.
#[derive(Debug, Clone)]
pub struct Build {
    /// Nose to the wooden rail.
    pub cushion_depth_mm: f64,
    /// The rounding above the nose: how far back and how far up it goes.
    pub bevel_mm: [f64; 2],
    /// The cushion's back above the end of that rounding.
    pub back_rise_mm: f64,
    /// How far behind the nose the cushion's face meets the cloth.
    pub undercut_mm: f64,
    /// Nose tips at a corner: distance from the corner along either nose line.
    pub corner_tip_mm: f64,
    /// Nose tips at a side pocket: distance from its middle.
    pub side_tip_mm: f64,
    /// How the cushion ends lean; positive: toward the pocket with growing depth.
    pub corner_facing_rad: f64,
    pub side_facing_rad: f64,
    /// The six holes, in the order of [`TableSize::pockets`].
    pub pockets: [Pocket; 6],
    /// Width of the leather or metal rim around a pocket, on the rail; 0 for none.
    pub rim_mm: f64,
    /// Nose to the rail's outer edge.
    pub rail_edge_mm: f64,
    /// The wooden rail above the cushion's back.
    pub rail_lip_mm: f64,
    /// Radius of the rail's outer corners and of its upper edge.
    pub rail_corner_mm: f64,
    pub rail_round_mm: f64,
    /// How far the table's side reaches down below the cloth, and where the floor is.
    pub skirt_mm: f64,
    pub floor_drop_mm: f64,
    pub sight_shape: SightShape,
    /// Half the width of a sight.
    pub sight_radius_mm: f64,
}

impl Build {
    /// A random build within the specifications.
    pub fn random(random: &mut Random, table: &TableSize) -> Self {
        let corner_mouth_mm = random.between(114.0, 127.0);
        let side_mouth_mm = random.between(124.0, 135.0);
        let funnel = random.chance(0.5);
        let (corner_facing, side_facing) = if funnel {
            (random.between(28.0, 50.0), random.between(8.0, 18.0))
        } else {
            (random.between(-40.0, 5.0), random.between(-25.0, 5.0))
        };
        Self {
            cushion_depth_mm: random.between(47.0, 54.0),
            bevel_mm: [random.between(1.0, 4.0), random.between(0.8, 3.5)],
            back_rise_mm: random.between(0.5, 5.0),
            undercut_mm: random.between(12.0, 30.0),
            corner_tip_mm: corner_mouth_mm / 2.0_f64.sqrt(),
            side_tip_mm: side_mouth_mm / 2.0,
            corner_facing_rad: f64::to_radians(corner_facing),
            side_facing_rad: f64::to_radians(side_facing),
            pockets: random_pockets(random, table, corner_mouth_mm, side_mouth_mm, funnel),
            rim_mm: if random.chance(0.45) { 0.0 } else { random.between(4.0, 24.0) },
            rail_edge_mm: random.between(128.0, 185.0),
            rail_lip_mm: random.between(0.0, 5.0),
            rail_corner_mm: if random.chance(0.4) { 0.0 } else { random.between(8.0, 75.0) },
            rail_round_mm: random.between(2.0, 14.0),
            skirt_mm: random.between(110.0, 240.0),
            floor_drop_mm: random.between(760.0, 810.0),
            sight_shape: random.pick([SightShape::Dot, SightShape::Diamond]),
            sight_radius_mm: random.between(4.5, 7.5),
        }
    }

    /// Height of the cushion's back above the cloth.
    pub fn cushion_top_mm(&self, table: &TableSize) -> f64 {
        table.nose_height_mm() + self.bevel_mm[1] + self.back_rise_mm
    }

    /// Height of the wooden rail above the cloth.
    pub fn rail_top_mm(&self, table: &TableSize) -> f64 {
        self.cushion_top_mm(table) + self.rail_lip_mm
    }

    /// Whether a place lies over one of the holes, widened by `margin_mm`.
    pub fn over_hole(&self, place: TablePoint, margin_mm: f64) -> bool {
        self.pockets.iter().any(|p| p.centre.distance_mm(place) < p.radius_mm + margin_mm)
    }

    /// The six cushions: each between two nose tips.
    pub fn cushions(&self, table: &TableSize) -> [CushionRun; 6] {
        let (l, w) = (table.length_mm, table.width_mm);
        let (corner, side) = (self.corner_tip_mm, self.side_tip_mm);
        let run = |from: [f64; 2], to: [f64; 2], facings_rad: [f64; 2]| CushionRun {
            from: TablePoint::new(from[0], from[1]),
            to: TablePoint::new(to[0], to[1]),
            facings_rad,
        };
        let (cf, sf) = (self.corner_facing_rad, self.side_facing_rad);
        // Each runs with the playing surface on its left.
        [
            run([corner, 0.0], [l / 2.0 - side, 0.0], [cf, sf]),
            run([l / 2.0 + side, 0.0], [l - corner, 0.0], [sf, cf]),
            run([l, corner], [l, w - corner], [cf, cf]),
            run([l - corner, w], [l / 2.0 + side, w], [cf, sf]),
            run([l / 2.0 - side, w], [corner, w], [sf, cf]),
            run([0.0, w - corner], [0.0, corner], [cf, cf]),
        ]
    }
}

/// The holes: those of a funnel of jaws lie farther out than those of a wide-open mouth.
fn random_pockets(
    random: &mut Random,
    table: &TableSize,
    corner_mouth_mm: f64,
    side_mouth_mm: f64,
    funnel: bool,
) -> [Pocket; 6] {
    let corner_radius_mm = 0.49 * corner_mouth_mm * random.between(0.98, 1.07);
    let side_radius_mm = 0.46 * side_mouth_mm * random.between(0.96, 1.06);
    let corner_out = corner_radius_mm
        * if funnel { random.between(0.42, 0.62) } else { random.between(0.28, 0.4) };
    let side_out = side_radius_mm * random.between(0.8, if funnel { 1.05 } else { 0.9 });
    let corner_out_of = |at: f64, middle: f64| at + corner_out * (at - middle).signum();
    table.pockets().map(|pocket| {
        let TablePoint { x_mm: x, y_mm: y } = pocket.centre;
        let (x_far, y_far) = (x > table.length_mm / 2.0, y > table.width_mm / 2.0);
        let rail = |far: bool, size: f64| if far { size } else { 0.0 };
        match pocket.kind {
            PocketKind::Corner => Pocket {
                centre: TablePoint::new(
                    corner_out_of(rail(x_far, table.length_mm), table.length_mm / 2.0),
                    corner_out_of(rail(y_far, table.width_mm), table.width_mm / 2.0),
                ),
                radius_mm: corner_radius_mm,
                ..pocket
            },
            PocketKind::Side => Pocket {
                centre: TablePoint::new(
                    x,
                    if y_far { table.width_mm + side_out } else { -side_out },
                ),
                radius_mm: side_radius_mm,
                ..pocket
            },
        }
    })
}

/// One cushion: its nose runs between two tips with the playing surface on the left.
#[derive(Debug, Clone, Copy)]
pub struct CushionRun {
    pub from: TablePoint,
    pub to: TablePoint,
    /// Lean of the two end faces; positive: the cushion grows longer behind the nose.
    pub facings_rad: [f64; 2],
}

impl CushionRun {
    pub fn length_mm(&self) -> f64 {
        self.from.distance_mm(self.to)
    }

    /// Unit vectors along the nose and away from the playing surface.
    pub fn directions(&self) -> ([f64; 2], [f64; 2]) {
        let length = self.length_mm();
        let along =
            [(self.to.x_mm - self.from.x_mm) / length, (self.to.y_mm - self.from.y_mm) / length];
        (along, [along[1], -along[0]])
    }

    /// How far a place is from the cushion, seen from above at nose height; 0 over it.
    pub fn distance_mm(&self, place: TablePoint, depth_mm: f64) -> f64 {
        let (along, out) = self.directions();
        let (dx, dy) = (place.x_mm - self.from.x_mm, place.y_mm - self.from.y_mm);
        let s = dx * along[0] + dy * along[1];
        let u = dx * out[0] + dy * out[1];
        let [lean_from, lean_to] = self.facings_rad.map(f64::tan);
        let length = self.length_mm();
        let corners = [
            [0.0, 0.0],
            [length, 0.0],
            [length + depth_mm * lean_to, depth_mm],
            [-depth_mm * lean_from, depth_mm],
        ];
        let inside =
            (0.0..=depth_mm).contains(&u) && s >= -u * lean_from && s <= length + u * lean_to;
        if inside {
            return 0.0;
        }
        (0..4)
            .map(|k| gap_to_segment([s, u], corners[k], corners[(k + 1) % 4]))
            .fold(f64::INFINITY, f64::min)
    }
}

fn gap_to_segment(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let t = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy);
    let t = t.clamp(0.0, 1.0);
    (p[0] - a[0] - t * dx).hypot(p[1] - a[1] - t * dy)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mouths_stay_within_the_specifications() {
        for seed in 0..50 {
            let build = Build::random(&mut Random::new(seed), &TableSize::NINE_FOOT);
            let runs = build.cushions(&TableSize::NINE_FOOT);
            let corner_mm = runs[5].to.distance_mm(runs[0].from);
            let side_mm = runs[0].to.distance_mm(runs[1].from);
            assert!((114.0..=127.0).contains(&corner_mm), "{corner_mm}");
            assert!((124.0..=135.0).contains(&side_mm), "{side_mm}");
        }
    }

    #[test]
    fn cushions_lie_outside_the_playing_surface() {
        let table = TableSize::SEVEN_FOOT;
        let build = Build::random(&mut Random::new(1), &table);
        for run in build.cushions(&table) {
            let centre_gap = run.distance_mm(table.centre_spot(), 50.0);
            assert!(centre_gap > 400.0);
            let (_, out) = run.directions();
            let middle = TablePoint::new(
                (run.from.x_mm + run.to.x_mm) / 2.0 - 30.0 * out[0],
                (run.from.y_mm + run.to.y_mm) / 2.0 - 30.0 * out[1],
            );
            assert!((run.distance_mm(middle, 50.0) - 30.0).abs() < 1e-9);
        }
    }
}
