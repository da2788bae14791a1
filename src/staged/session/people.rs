//! Who comes to the table and when: the aiming player, hands, somebody passing, chalk, the triangle.

use super::rules::Places;
use crate::camera::Camera;
use crate::staged::colour::{Colour, srgb};
use crate::staged::extras::{Block, Figure, Joint, Limb, Stance};
use crate::staged::quick::Prop;
use crate::table::{Rack, TablePoint, TableSize};
use nalgebra::Vector3;

/// Something over or beside the table for a while; times in seconds of the session.
#[derive(Debug, Clone)]
pub struct Visit {
    pub from_s: f64,
    pub to_s: f64,
    pub kind: VisitKind,
}

#[derive(Debug, Clone)]
pub enum VisitKind {
    Aim(Aim),
    Hand(Hand),
    Triangle,
    PasserBy { from: TablePoint, to: TablePoint, figure: Figure },
    Chalk(Block),
}

/// A player at a shot.
#[derive(Debug, Clone, Copy)]
pub struct Aim {
    pub cue: TablePoint,
    /// Level, of unit length: from the cue ball toward the player.
    pub back: Vector3<f64>,
    pub aside: f64,
    pub rise_mm: f64,
    pub bridge_mm: f64,
    /// None for one who stands up again.
    pub hit_s: Option<f64>,
}

/// A hand that goes from place to place.
#[derive(Debug, Clone)]
pub struct Hand {
    /// Level, of unit length: from the hand toward the shoulder.
    pub back: Vector3<f64>,
    /// When it is where, above the cloth.
    pub stops: Vec<(f64, Vector3<f64>)>,
}

/// How long leaning in and standing up take.
pub const LEAN_S: f64 = 0.45;

/// What every visit needs to know of the table.
#[derive(Debug, Clone)]
pub struct Stage {
    pub table: TableSize,
    pub figure: Figure,
    pub floor_mm: f64,
    pub wood: Colour,
}

impl Stage {
    /// What is to be seen of a visit at a time.
    pub fn props(&self, visit: &Visit, at_s: f64) -> Vec<Prop> {
        if !(visit.from_s..visit.to_s).contains(&at_s) {
            return Vec::new();
        }
        let limbs = match &visit.kind {
            VisitKind::Aim(aim) => self.aiming(visit, aim, at_s),
            VisitKind::Hand(hand) => self.figure.reaching(hand.palm(at_s), hand.back),
            VisitKind::Triangle => self.triangle(visit, at_s),
            VisitKind::PasserBy { from, to, figure } => {
                let part = (at_s - visit.from_s) / (visit.to_s - visit.from_s);
                let way = Vector3::new(to.x_mm - from.x_mm, to.y_mm - from.y_mm, 0.0);
                let at = TablePoint::new(from.x_mm + way.x * part, from.y_mm + way.y * part);
                figure.standing(at, way.normalize(), self.floor_mm)
            }
            VisitKind::Chalk(block) => return vec![Prop::Block(*block)],
        };
        limbs.into_iter().map(Prop::Limb).collect()
    }

    fn aiming(&self, visit: &Visit, aim: &Aim, at_s: f64) -> Vec<Limb> {
        let exit_mm = exit_mm(&self.table, aim.cue, aim.back) + 260.0;
        let (settled, leaves) = (visit.from_s + LEAN_S, visit.to_s - LEAN_S);
        let out = if at_s < settled {
            1.0 - eased((at_s - visit.from_s) / LEAN_S)
        } else {
            eased((at_s - leaves) / LEAN_S)
        };
        let radius = self.table.ball_radius_mm();
        let swing = 45.0 - 35.0 * (5.5 * (at_s - settled)).cos();
        let gap = match aim.hit_s {
            Some(hit_s) if at_s >= hit_s => -60.0 * eased((at_s - hit_s) / 0.1),
            // The last swing: back, and through the ball.
            Some(hit_s) if at_s > hit_s - 0.3 => {
                let part = (at_s - hit_s + 0.3) / 0.3;
                160.0 * eased(1.6 * part.min(0.5)) * (1.0 - part.powi(3))
            }
            _ => swing,
        };
        let away = aim.back * (radius + gap + out * exit_mm) + Vector3::z() * (out * 220.0);
        let tip = Vector3::new(aim.cue.x_mm, aim.cue.y_mm, radius + 4.0) + away;
        let on_rail = exit_mm - 260.0 < aim.bridge_mm;
        let aside = Vector3::new(-aim.back.y, aim.back.x, 0.0) * aim.aside;
        let Aim { back, rise_mm, bridge_mm, .. } = *aim;
        // The bridge stays where it is while the cue goes to and fro in it.
        let bridge_mm = bridge_mm - gap;
        Stance { tip, back, aside, rise_mm, bridge_mm, on_rail }.limbs(&self.figure)
    }

    fn triangle(&self, visit: &Visit, at_s: f64) -> Vec<Limb> {
        let places = *Rack::on(&self.table).places();
        let corners = [places[0], places[10], places[14]];
        let middle =
            corners.iter().fold([0.0; 2], |sum, p| [sum[0] + p.x_mm / 3.0, sum[1] + p.y_mm / 3.0]);
        // The sides of the balls' outer centres lie two pitches' height from the middle.
        let inner = 4.0 * self.table.ball_diameter_mm * 3.0_f64.sqrt() / 6.0;
        let wide = (inner + self.table.ball_radius_mm() + 9.5) / inner;
        let in_s = eased((at_s - visit.from_s) / LEAN_S);
        let out_s = eased((visit.to_s - at_s) / LEAN_S);
        let away = (1.0 - in_s.min(out_s)) * (self.table.length_mm / 4.0 + 250.0);
        let lift = (1.0 - in_s.min(out_s)).min(0.2) * 500.0;
        let at = |p: TablePoint| {
            Vector3::new(
                middle[0] + (p.x_mm - middle[0]) * wide + away,
                middle[1] + (p.y_mm - middle[1]) * wide,
                24.0 + lift,
            )
        };
        let rod = |a: TablePoint, b: TablePoint| Limb {
            ends: [a, b].map(|p| Joint { at_mm: at(p), radius_mm: 9.0 }),
            colour: self.wood,
        };
        let [a, b, c] = corners;
        vec![rod(a, b), rod(b, c), rod(c, a)]
    }

    /// Whether a visit hides part of the cloth from a camera.
    pub fn obstructs(&self, visit: &Visit, at_s: f64, camera: &Camera) -> bool {
        let eye = camera.pose.position();
        let eye = Vector3::new(eye.x_mm, eye.y_mm, eye.z_mm);
        let hides = |at: Vector3<f64>, radius: f64| {
            // Where the ray past the thing comes down to the cloth.
            let grown = eye.z / (eye.z - at.z).max(1.0);
            let down = eye + (at - eye) * grown;
            let reach = radius * grown;
            down.x > -reach
                && down.x < self.table.length_mm + reach
                && down.y > -reach
                && down.y < self.table.width_mm + reach
        };
        self.props(visit, at_s).iter().any(|prop| match prop {
            Prop::Limb(limb) => (0..=8).any(|k| {
                let part = f64::from(k) / 8.0;
                let [a, b] = limb.ends;
                let radius = a.radius_mm + (b.radius_mm - a.radius_mm) * part;
                hides(a.at_mm.lerp(&b.at_mm, part), radius)
            }),
            Prop::Block(_) => false,
        })
    }
}

impl Hand {
    fn palm(&self, at_s: f64) -> Vector3<f64> {
        let next = self.stops.partition_point(|(stop_s, _)| *stop_s <= at_s);
        let before = self.stops.get(next.saturating_sub(1)).or(self.stops.first());
        let after = self.stops.get(next).or(self.stops.last());
        match (before, after) {
            (Some((from_s, from)), Some((to_s, to))) => {
                let part = if to_s > from_s { (at_s - from_s) / (to_s - from_s) } else { 0.0 };
                from.lerp(to, eased(part))
            }
            _ => Vector3::zeros(),
        }
    }
}

/// The level direction from a place out over the nearest rail, and the distance to it.
pub fn nearest_rail(table: &TableSize, place: TablePoint) -> (Vector3<f64>, f64) {
    [
        (-Vector3::y(), place.y_mm),
        (Vector3::y(), table.width_mm - place.y_mm),
        (-Vector3::x(), place.x_mm),
        (Vector3::x(), table.length_mm - place.x_mm),
    ]
    .into_iter()
    .min_by(|a, b| a.1.total_cmp(&b.1))
    .unwrap_or((Vector3::x(), 0.0))
}

/// How far a level way from a place runs until it leaves the playing surface.
fn exit_mm(table: &TableSize, from: TablePoint, along: Vector3<f64>) -> f64 {
    let reach = |from: f64, rate: f64, size: f64| match rate {
        r if r > 1e-9 => (size - from) / r,
        r if r < -1e-9 => -from / r,
        _ => f64::INFINITY,
    };
    let x = reach(from.x_mm, along.x, table.length_mm);
    x.min(reach(from.y_mm, along.y, table.width_mm)).max(0.0)
}

/// From 0 to 1 with a soft start and end; flat outside.
fn eased(part: f64) -> f64 {
    let part = part.clamp(0.0, 1.0);
    part * part * (3.0 - 2.0 * part)
}

/// A colour for a wooden or plastic triangle.
pub fn triangle_colour(index: usize) -> Colour {
    srgb([0x5a3a22, 0x141414, 0x8a6a40].get(index).copied().unwrap_or(0x303030))
}

/// A place for chalk on the rail, away from the balls' way.
pub fn chalk_at(table: &TableSize, top_mm: f64, depth_mm: f64, along: [f64; 2]) -> Vector3<f64> {
    let behind = depth_mm + 28.0;
    let [side, part] = along;
    let x = table.length_mm * (0.08 + 0.34 * part);
    let y = if side < 0.5 { -behind } else { table.width_mm + behind };
    Vector3::new(if part > 0.5 { table.length_mm - x } else { x }, y, top_mm + 11.0)
}

/// How high a carried ball is lifted, by how far it is on its way.
pub fn lift_mm(part: f64) -> f64 {
    70.0 * (4.0 * part.clamp(0.0, 1.0) * (1.0 - part.clamp(0.0, 1.0))).sqrt()
}

/// The place of the cue ball.
pub fn cue_of(places: &Places) -> Option<TablePoint> {
    places.iter().find(|(number, _)| *number == 0).map(|(_, place)| *place)
}
