//! The scene as solids, and what a ray meets first.

use super::occluders::{Columns, Occluder, Region};
use super::solid::{Convex, Point, Ray, RoundCone, Sphere, Touch};
use super::woodwork::{Wood, Woodwork};
use crate::staged::build::{Build, CushionRun};
use crate::staged::extras::{Block, Extra, Limb};
use crate::staged::looks::Lamp;
use crate::staged::scene::Scene;
use crate::table::TableSize;
use nalgebra::UnitQuaternion;

/// What was met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Wood(Wood),
    /// A cushion, and whether it was met at one of its two end faces.
    Cushion {
        index: usize,
        end: bool,
    },
    Ball(usize),
    Block(usize),
    Limb(usize),
    Floor,
}

/// The first meeting of a ray with the world.
#[derive(Debug, Clone, Copy)]
pub struct Meeting {
    pub distance_mm: f64,
    pub point: Point,
    pub normal: Point,
    pub part: Part,
}

/// A ball as it is drawn.
#[derive(Debug, Clone, Copy)]
pub struct DrawnBall {
    pub number: u8,
    pub sphere: Sphere,
    pub own_from_table: UnitQuaternion<f64>,
}

/// All solids of a scene.
#[derive(Debug, Clone)]
pub struct World {
    pub balls: Vec<DrawnBall>,
    pub blocks: Vec<(Convex, Block)>,
    pub limbs: Vec<(RoundCone, Limb)>,
    pub wood: Woodwork,
    cushions: Vec<Convex>,
    floor_mm: f64,
    /// Columns over the bed itself, and over all that stands up from it to a ball's height.
    on_bed: Columns,
    above_bed: Columns,
    /// The same for the rails' tops, which neither cushions nor rails can shade.
    on_rails: Columns,
}

/// Up to this height above the cloth `above_bed` knows what shades a point.
const COLUMNS_TOP_MM: f64 = 75.0;

/// Lamps and long solids are covered by balls of about this size for the shadow lists.
const COVER_MM: f64 = 200.0;

impl World {
    pub fn new(scene: &Scene) -> Self {
        let (table, build) = (&scene.table, &scene.build);
        let mut balls: Vec<DrawnBall> = scene
            .balls
            .iter()
            .map(|ball| {
                let centre = Point::new(ball.place.x_mm, ball.place.y_mm, table.ball_radius_mm());
                drawn(ball.number, centre, table, &ball.orientation)
            })
            .collect();
        let (mut blocks, mut limbs) = (Vec::new(), Vec::new());
        for extra in &scene.extras {
            match extra {
                Extra::Chalk(block) | Extra::Furniture(block) => {
                    let body = Convex::block(block.middle_mm, block.half_mm, block.turn_rad);
                    blocks.push((body, *block));
                }
                Extra::Pocketed { number, centre_mm, orientation } => {
                    balls.push(drawn(*number, *centre_mm, table, orientation));
                }
                Extra::Player(parts) => limbs.extend(parts.iter().map(|l| (cone(l), *l))),
            }
        }
        let cushions: Vec<Convex> =
            build.cushions(table).iter().map(|run| cushion(run, table, build)).collect();
        let covers = covers(&balls, &cushions, &blocks, &limbs, table, build);
        let lamps: Vec<Sphere> = scene.looks.lighting.lamps.iter().flat_map(lamp_cover).collect();
        let beyond = build.rail_edge_mm;
        let region = |low: f64, high: f64, column_mm: f64| Region {
            low: Point::new(-beyond, -beyond, low),
            high: Point::new(table.length_mm + beyond, table.width_mm + beyond, high),
            column_mm,
        };
        let above_rails: Vec<_> = covers
            .iter()
            .filter(|(o, _)| !matches!(o, Occluder::Cushion(_) | Occluder::Woodwork))
            .cloned()
            .collect();
        let top = build.rail_top_mm(table);
        Self {
            on_bed: Columns::new(&region(0.0, 0.5, 16.0), &lamps, &covers),
            above_bed: Columns::new(&region(0.0, COLUMNS_TOP_MM, 32.0), &lamps, &covers),
            on_rails: Columns::new(&region(top, top + 1.0, 32.0), &lamps, &above_rails),
            balls,
            blocks,
            limbs,
            cushions,
            wood: Woodwork::new(table, build),
            floor_mm: -build.floor_drop_mm,
        }
    }

    /// The first thing a ray meets; none where it goes off to the sky.
    pub fn meet(&self, ray: &Ray) -> Option<Meeting> {
        let mut best: Option<(Touch, Part)> = None;
        let mut offer = |touch: Option<Touch>, part: Part| {
            if let Some(touch) = touch
                && best.is_none_or(|(b, _)| touch.distance_mm < b.distance_mm)
            {
                best = Some((touch, part));
            }
        };
        if let Some((touch, wood)) = self.wood.touch(ray) {
            offer(Some(touch), Part::Wood(wood));
        }
        if ray.along.z < 0.0 {
            let distance_mm = (self.floor_mm - ray.from.z) / ray.along.z;
            let touch = (distance_mm > 0.0).then_some(Touch { distance_mm, normal: Point::z() });
            offer(touch, Part::Floor);
        }
        for (index, ball) in self.balls.iter().enumerate() {
            offer(ball.sphere.touch(ray), Part::Ball(index));
        }
        if self.may_meet_cushions(ray) {
            for (index, body) in self.cushions.iter().enumerate() {
                if let Some((touch, face)) = body.touch(ray) {
                    offer(Some(touch), Part::Cushion { index, end: face >= FIRST_END_FACE });
                }
            }
        }
        for (index, (body, _)) in self.blocks.iter().enumerate() {
            offer(body.touch(ray).map(|(touch, _)| touch), Part::Block(index));
        }
        for (index, (body, _)) in self.limbs.iter().enumerate() {
            offer(body.touch(ray), Part::Limb(index));
        }
        best.map(|(Touch { distance_mm, normal }, part)| Meeting {
            distance_mm,
            point: ray.at(distance_mm),
            normal,
            part,
        })
    }

    /// False for the many rays that stay inside the noses while they are low enough.
    fn may_meet_cushions(&self, ray: &Ray) -> bool {
        let top = self.wood.top_mm;
        if ray.from.z > top {
            if ray.along.z >= 0.0 {
                return false;
            }
            let [high, low] = [top, 0.0].map(|z| ray.at((z - ray.from.z) / ray.along.z));
            return !(self.wood.in_play(high) && self.wood.in_play(low));
        }
        let goal = if ray.along.z > 0.0 { top } else { 0.0 };
        let end = ray.at((goal - ray.from.z) / ray.along.z);
        !(self.wood.in_play(ray.from) && self.wood.in_play(end))
    }

    /// What may stand between a place and a lamp; none: anything.
    pub fn shaders_of(&self, place: Point) -> Option<&[Occluder]> {
        if (0.0..0.5).contains(&place.z) {
            self.on_bed.at(place)
        } else if (self.wood.top_mm..self.wood.top_mm + 0.1).contains(&place.z)
            && !self.wood.in_play(place)
        {
            self.on_rails.at(place)
        } else if (0.0..COLUMNS_TOP_MM).contains(&place.z) {
            self.above_bed.at(place)
        } else {
            None
        }
    }

    /// Whether something from the list (none: anything) blocks the way before `reach_mm`.
    pub fn blocked(&self, ray: &Ray, reach_mm: f64, shaders: Option<&[Occluder]>) -> bool {
        let Some(shaders) = shaders else {
            return self.meet(ray).is_some_and(|m| m.distance_mm < reach_mm);
        };
        let within = |touch: Option<Touch>| touch.is_some_and(|t| t.distance_mm < reach_mm);
        shaders.iter().any(|occluder| match *occluder {
            Occluder::Ball(k) => within(self.balls.get(k).and_then(|b| b.sphere.touch(ray))),
            Occluder::Cushion(k) => {
                within(self.cushions.get(k).and_then(|c| c.touch(ray)).map(|(touch, _)| touch))
            }
            Occluder::Block(k) => {
                within(self.blocks.get(k).and_then(|(c, _)| c.touch(ray)).map(|(touch, _)| touch))
            }
            Occluder::Limb(k) => within(self.limbs.get(k).and_then(|(c, _)| c.touch(ray))),
            Occluder::Woodwork => within(self.wood.touch(ray).map(|(touch, _)| touch)),
        })
    }
}

fn drawn(
    number: u8,
    centre: Point,
    table: &TableSize,
    orientation: &UnitQuaternion<f64>,
) -> DrawnBall {
    let sphere = Sphere { centre, radius_mm: table.ball_radius_mm() };
    DrawnBall { number, sphere, own_from_table: orientation.inverse() }
}

fn cone(limb: &Limb) -> RoundCone {
    let [a, b] = limb.ends;
    RoundCone::new(a.at_mm, a.radius_mm, b.at_mm, b.radius_mm)
}

/// In a cushion's list of planes the two ends come last.
const FIRST_END_FACE: usize = 5;

/// A cushion as a convex body: undercut face, rounding, top, back, bottom, two ends.
fn cushion(run: &CushionRun, table: &TableSize, build: &Build) -> Convex {
    let (along, out) = run.directions();
    let [along, out] = [along, out].map(|d| Point::new(d[0], d[1], 0.0));
    let tip = Point::new(run.from.x_mm, run.from.y_mm, 0.0);
    let far_tip = Point::new(run.to.x_mm, run.to.y_mm, 0.0);
    let nose = table.nose_height_mm();
    let [bevel_back, bevel_up] = build.bevel_mm;
    let depth = build.cushion_depth_mm;
    // A plane through a point of the profile (behind the nose, height), normal in the profile.
    let profile = |at: [f64; 2], normal: [f64; 2]| {
        let normal = (out * normal[0] + Point::z() * normal[1]).normalize();
        (normal, normal.dot(&(tip + out * at[0] + Point::z() * at[1])))
    };
    let end = |tip: Point, along: Point, facing_rad: f64| {
        let normal = along * facing_rad.cos() - out * facing_rad.sin();
        (normal, normal.dot(&tip))
    };
    let top = build.cushion_top_mm(table);
    let planes = vec![
        profile([0.0, nose], [-nose, -build.undercut_mm]),
        profile([0.0, nose], [-bevel_up, bevel_back]),
        profile([bevel_back, nose + bevel_up], [-build.back_rise_mm, depth - bevel_back]),
        profile([depth, 0.0], [1.0, 0.0]),
        profile([0.0, 0.0], [0.0, -1.0]),
        end(tip, -along, run.facings_rad[0]),
        end(far_tip, along, run.facings_rad[1]),
    ];
    let middle = (tip + far_tip) / 2.0 + out * (depth / 2.0) + Point::z() * (top / 2.0);
    let longest = run.length_mm() / 2.0 + depth * 1.5;
    Convex { planes, bound: Sphere { centre: middle, radius_mm: longest.hypot(depth).hypot(top) } }
}

/// Balls along a line, together holding all within `around_mm` of it.
fn line_cover(from: Point, to: Point, around_mm: f64) -> Vec<Sphere> {
    let pieces = ((to - from).norm() / COVER_MM).ceil().max(1.0) as usize;
    let half = (to - from).norm() / (2 * pieces) as f64;
    (0..pieces)
        .map(|k| {
            let part = (k as f64 + 0.5) / pieces as f64;
            Sphere { centre: from.lerp(&to, part), radius_mm: half.hypot(around_mm) }
        })
        .collect()
}

fn lamp_cover(lamp: &Lamp) -> Vec<Sphere> {
    let [nu, nv] = lamp.pieces(2.0 * COVER_MM);
    let middle = |k: usize, n: usize| (2 * k + 1) as f64 / n as f64 - 1.0;
    let radius_mm = (lamp.half_mm[0].norm() / nu as f64).hypot(lamp.half_mm[1].norm() / nv as f64);
    (0..nu * nv)
        .map(|k| Sphere { centre: lamp.at(middle(k % nu, nu), middle(k / nu, nv)), radius_mm })
        .collect()
}

fn covers(
    balls: &[DrawnBall],
    cushions: &[Convex],
    blocks: &[(Convex, Block)],
    limbs: &[(RoundCone, Limb)],
    table: &TableSize,
    build: &Build,
) -> Vec<(Occluder, Vec<Sphere>)> {
    let mut covers = Vec::new();
    for (k, ball) in balls.iter().enumerate() {
        covers.push((Occluder::Ball(k), vec![ball.sphere]));
    }
    for (k, run) in build.cushions(table).iter().enumerate().take(cushions.len()) {
        let (along, out) = run.directions();
        let [along, out] = [along, out].map(|d| Point::new(d[0], d[1], 0.0));
        let (depth, top) = (build.cushion_depth_mm, build.cushion_top_mm(table));
        let inside = out * (depth / 2.0) + Point::z() * (top / 2.0);
        let longer = |facing: f64| (depth * facing.tan()).max(0.0);
        let from = Point::new(run.from.x_mm, run.from.y_mm, 0.0) + inside
            - along * longer(run.facings_rad[0]);
        let to =
            Point::new(run.to.x_mm, run.to.y_mm, 0.0) + inside + along * longer(run.facings_rad[1]);
        covers.push((Occluder::Cushion(k), line_cover(from, to, depth.hypot(top) / 2.0)));
    }
    for (k, (body, _)) in blocks.iter().enumerate() {
        covers.push((Occluder::Block(k), vec![body.bound]));
    }
    for (k, (cone, _)) in limbs.iter().enumerate() {
        let [a, b] = cone.ends;
        let around = a.radius_mm.max(b.radius_mm);
        let along = (b.centre - a.centre).try_normalize(1e-9).unwrap_or_else(Point::x) * around;
        let cover = line_cover(a.centre - along, b.centre + along, around);
        covers.push((Occluder::Limb(k), cover));
    }
    // The walls of the jaws shade what lies around the holes; elsewhere cushions cover them.
    let top = build.rail_top_mm(table);
    let walls = build
        .pockets
        .iter()
        .map(|hole| Sphere {
            centre: Point::new(hole.centre.x_mm, hole.centre.y_mm, top / 2.0),
            radius_mm: hole.radius_mm + 70.0,
        })
        .collect();
    covers.push((Occluder::Woodwork, walls));
    covers
}
