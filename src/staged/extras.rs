//! What lies or stands about and is no ball on the table: chalk, pocketed balls, a player.

use super::colour::{Colour, from_hue, srgb};
use super::random::Random;
use super::scene::{Scene, random_orientation};
use crate::table::{PocketKind, TablePoint};
use nalgebra::{UnitQuaternion, Vector3};

/// One end of a limb: a ball of a radius at a place of the table frame.
#[derive(Debug, Clone, Copy)]
pub struct Joint {
    pub at_mm: Vector3<f64>,
    pub radius_mm: f64,
}

/// The hull of two joints, in one colour.
#[derive(Debug, Clone, Copy)]
pub struct Limb {
    pub ends: [Joint; 2],
    pub colour: Colour,
}

/// A block standing on the table or the floor.
#[derive(Debug, Clone, Copy)]
pub struct Block {
    pub middle_mm: Vector3<f64>,
    pub half_mm: Vector3<f64>,
    pub turn_rad: f64,
    pub colour: Colour,
}

/// Something that must not be read as a ball on the table.
#[derive(Debug, Clone)]
pub enum Extra {
    /// A chalk cube on a rail.
    Chalk(Block),
    /// A ball caught in a pocket's leather, below the cloth.
    Pocketed { number: u8, centre_mm: Vector3<f64>, orientation: UnitQuaternion<f64> },
    /// Somebody at the table, with the cue.
    Player(Vec<Limb>),
    /// Furniture on the floor, away from the table.
    Furniture(Block),
}

impl Extra {
    /// What the label says of it; none for what is never in the way.
    pub fn name(&self) -> Option<String> {
        match self {
            Self::Chalk(_) => Some("chalk on rail".into()),
            Self::Pocketed { number, .. } => Some(format!("ball {number} lies pocketed in view")),
            Self::Player(_) | Self::Furniture(_) => None,
        }
    }

    /// Whether it hides part of the cloth.
    pub fn obstructs(&self) -> bool {
        matches!(self, Self::Player(_))
    }
}

/// Random extras for a scene that has its balls.
pub fn random_extras(random: &mut Random, scene: &Scene) -> Vec<Extra> {
    let mut extras = Vec::new();
    for _ in 0..random.pick([0, 0, 1, 1, 2]) {
        extras.push(Extra::Chalk(chalk(random, scene)));
    }
    if random.chance(0.3) {
        extras.extend(pocketed(random, scene));
    }
    if random.chance(0.15) {
        extras.push(Extra::Player(player(random, scene)));
    }
    for _ in 0..random.pick([0, 0, 0, 1, 2]) {
        extras.push(Extra::Furniture(furniture(random, scene)));
    }
    extras
}

/// A place `behind_mm` behind a random nose, clear of the pockets.
fn on_a_rail(random: &mut Random, scene: &Scene, behind_mm: f64) -> TablePoint {
    let (l, w) = (scene.table.length_mm, scene.table.width_mm);
    let mut place = TablePoint::new(l * 0.3, -behind_mm);
    for _ in 0..50 {
        place = match random.below(4) {
            0 => TablePoint::new(random.between(0.0, l), -behind_mm),
            1 => TablePoint::new(random.between(0.0, l), w + behind_mm),
            2 => TablePoint::new(-behind_mm, random.between(0.0, w)),
            _ => TablePoint::new(l + behind_mm, random.between(0.0, w)),
        };
        if !scene.build.over_hole(place, 40.0) {
            break;
        }
    }
    place
}

fn chalk(random: &mut Random, scene: &Scene) -> Block {
    let build = &scene.build;
    let half = random.between(10.0, 12.5);
    let inner = build.cushion_depth_mm + half * 1.5;
    let behind = random.between(inner, (build.rail_edge_mm - half * 1.5).max(inner + 1.0));
    let place = on_a_rail(random, scene, behind);
    let top = build.rail_top_mm(&scene.table);
    let hue = random.pick([0.58, 0.6, 0.6, 0.57, 0.4, 0.0]) + random.between(-0.02, 0.02);
    Block {
        middle_mm: Vector3::new(place.x_mm, place.y_mm, top + half),
        half_mm: Vector3::repeat(half),
        turn_rad: random.between(0.0, std::f64::consts::TAU),
        colour: from_hue(hue, random.between(0.4, 0.8), random.between(0.4, 0.85)),
    }
}

fn pocketed(random: &mut Random, scene: &Scene) -> Option<Extra> {
    let mut unused: Vec<u8> =
        (1..16).filter(|n| scene.balls.iter().all(|ball| ball.number != *n)).collect();
    random.shuffle(&mut unused);
    let number = *unused.first()?;
    let pocket = scene.build.pockets[random.below(6)];
    let radius = scene.table.ball_radius_mm();
    let play = (pocket.radius_mm - radius - 1.0).max(0.0) * random.unit();
    let turn = random.between(0.0, std::f64::consts::TAU);
    let deep = match pocket.kind {
        PocketKind::Corner => random.between(radius + 4.0, 80.0),
        PocketKind::Side => random.between(radius + 8.0, 80.0),
    };
    let centre_mm = Vector3::new(
        pocket.centre.x_mm + play * turn.cos(),
        pocket.centre.y_mm + play * turn.sin(),
        -deep,
    );
    Some(Extra::Pocketed { number, centre_mm, orientation: random_orientation(random) })
}

/// Somebody leaning in over a rail: bridge hand, both arms, the cue, at times head and shoulders.
fn player(random: &mut Random, scene: &Scene) -> Vec<Limb> {
    let table = &scene.table;
    let radius = table.ball_radius_mm();
    let target = scene.balls.first().map_or_else(|| table.head_spot(), |ball| ball.place);
    // Stands at the nearest rail, give or take.
    let edges = [
        (target.y_mm, -90.0_f64),
        (table.width_mm - target.y_mm, 90.0),
        (target.x_mm, 180.0),
        (table.length_mm - target.x_mm, 0.0),
    ];
    let (gap, way) = edges
        .into_iter()
        .fold((f64::INFINITY, 0.0), |best, edge| if edge.0 < best.0 { edge } else { best });
    let turn_rad = (way + random.between(-32.0, 32.0)).to_radians();
    let back = Vector3::new(turn_rad.cos(), turn_rad.sin(), 0.0);
    let aside = Vector3::new(-back.y, back.x, 0.0) * random.pick([-1.0, 1.0]);
    let tip_gap = radius + random.between(8.0, 60.0);
    let tip = Vector3::new(target.x_mm, target.y_mm, radius + 4.0) + back * tip_gap;
    let rise_mm = random.between(40.0, 160.0);
    let bridge_mm = random.between(160.0, 300.0);
    let on_rail = gap < bridge_mm;
    let figure = Figure::random(random);
    Stance { tip, back, aside, rise_mm, bridge_mm, on_rail }.limbs(&figure)
}

/// What a player looks like.
#[derive(Debug, Clone, Copy)]
pub struct Figure {
    skin: Colour,
    sleeve: Colour,
    bare_arms: bool,
    wood: Colour,
    wrap: Colour,
    /// How far behind the tip the head is, where it comes into view, and its hair.
    head: Option<(f64, Colour)>,
}

impl Figure {
    pub fn random(random: &mut Random) -> Self {
        Self {
            skin: srgb(random.pick([0xe0b090, 0xc98e6a, 0x9a6444, 0x6a4230, 0xf0c8ac])),
            sleeve: from_hue(random.unit(), random.between(0.0, 0.7), random.between(0.1, 0.9)),
            bare_arms: random.chance(0.4),
            wood: srgb(random.pick([0xd9b27a, 0xe4c592, 0x9a6a3a])),
            wrap: srgb(random.pick([0x15151a, 0x3a1c14, 0x20304a])),
            head: random.chance(0.6).then(|| {
                let away_mm = random.between(560.0, 820.0);
                (away_mm, srgb(random.pick([0x1a120c, 0x3a2616, 0x7a5a3a, 0x8a8580])))
            }),
        }
    }

    /// A forearm that reaches to `palm` from the direction `back`, with its hand.
    pub fn reaching(&self, palm: Vector3<f64>, back: Vector3<f64>) -> Vec<Limb> {
        let arm = if self.bare_arms { self.skin } else { self.sleeve };
        let wrist = palm + back * 75.0 + Vector3::z() * 30.0;
        let elbow = palm + back * 330.0 + Vector3::z() * 150.0;
        let shoulder = palm + back * 640.0 + Vector3::z() * 330.0;
        let mut limbs = vec![
            limb(palm, 26.0, wrist, 28.0, self.skin),
            limb(wrist, 30.0, elbow, 44.0, arm),
            limb(elbow, 46.0, shoulder, 66.0, self.sleeve),
        ];
        let aside = Vector3::new(-back.y, back.x, 0.0);
        for k in [-1.2, -0.4, 0.4, 1.2] {
            let finger = palm - back * 52.0 + aside * (k * 19.0) - Vector3::z() * 14.0;
            limbs.push(limb(palm + aside * (k * 11.0), 11.0, finger, 8.0, self.skin));
        }
        limbs
    }

    /// Somebody upright beside the table, the middle of the body over a place of the floor.
    pub fn standing(&self, at: TablePoint, facing: Vector3<f64>, floor_mm: f64) -> Vec<Limb> {
        let aside = Vector3::new(-facing.y, facing.x, 0.0);
        let over = |z_mm: f64| Vector3::new(at.x_mm, at.y_mm, floor_mm + z_mm);
        let hair = self.head.map_or_else(|| srgb(0x2a1c14), |(_, hair)| hair);
        let mut limbs = vec![
            limb(over(780.0), 130.0, over(1290.0), 140.0, self.sleeve),
            limb(over(1490.0), 92.0, over(1560.0), 88.0, hair),
        ];
        for side in [-1.0, 1.0] {
            let shoulder = over(1300.0) + aside * (side * 170.0);
            let hip = over(800.0) + aside * (side * 90.0);
            let hand = over(850.0) + aside * (side * 230.0) + facing * 120.0;
            limbs.push(limb(shoulder, 62.0, hand, 38.0, self.sleeve));
            limbs.push(limb(hip, 90.0, over(60.0) + aside * (side * 100.0), 60.0, self.wrap));
        }
        limbs
    }
}

/// How a player stands to a shot.
#[derive(Debug, Clone, Copy)]
pub struct Stance {
    /// The cue's tip.
    pub tip: Vector3<f64>,
    /// Level unit vectors: from the tip toward the player, and toward the bridge arm's side.
    pub back: Vector3<f64>,
    pub aside: Vector3<f64>,
    /// How much higher the butt is than the tip.
    pub rise_mm: f64,
    /// How far behind the tip the bridge hand lies, and whether on the rail.
    pub bridge_mm: f64,
    pub on_rail: bool,
}

impl Stance {
    /// The player's limbs in this stance, the cue among them.
    pub fn limbs(&self, figure: &Figure) -> Vec<Limb> {
        let Self { tip, back, aside, .. } = *self;
        let rise = Vector3::z() * self.rise_mm;
        let butt = tip + back * 1440.0 + rise;
        let bridge = tip + back * self.bridge_mm + rise * (self.bridge_mm / 1440.0);
        let on_bridge = Vector3::new(bridge.x, bridge.y, if self.on_rail { 62.0 } else { 20.0 });
        let elbow = on_bridge + back * 270.0 + aside * 60.0 + Vector3::z() * 120.0;
        let shoulder = on_bridge + back * 540.0 + aside * 40.0 + Vector3::z() * 300.0;
        let grip = tip + back * 1150.0 + rise * 0.8;
        let Figure { skin, sleeve, .. } = *figure;
        let arm = if figure.bare_arms { skin } else { sleeve };
        let joint = tip + (butt - tip) * 0.5;
        let mut limbs = vec![
            limb(tip, 6.3, tip + (butt - tip) * 0.012, 6.4, srgb(0x2a5a8a)),
            limb(tip + (butt - tip) * 0.014, 6.4, joint, 10.5, figure.wood),
            limb(joint, 10.6, butt, 15.0, figure.wrap),
            limb(elbow, 45.0, shoulder, 62.0, sleeve),
            limb(on_bridge + back * 45.0 + aside * 8.0, 30.0, elbow, 44.0, arm),
            limb(on_bridge + aside * 6.0, 22.0, on_bridge + back * 50.0 + aside * 8.0, 30.0, skin),
            limb(grip - rise * 0.02, 34.0, grip + Vector3::z() * 40.0, 36.0, skin),
        ];
        for k in [-1.6, -0.8, 0.0, 0.9] {
            let finger = on_bridge - back * 62.0 + aside * (k * 17.0) - Vector3::z() * 8.0;
            limbs.push(limb(on_bridge + aside * (k * 9.0), 11.0, finger, 8.0, skin));
        }
        if let Some((away_mm, hair)) = figure.head {
            let head = tip + back * away_mm + Vector3::z() * 330.0;
            limbs.push(limb(head, 88.0, head + back * 50.0 + Vector3::z() * 20.0, 84.0, hair));
            let chest = head + back * 330.0 - Vector3::z() * 60.0;
            let hips = chest + back * 350.0 - Vector3::z() * 120.0;
            limbs.push(limb(shoulder, 80.0, chest, 140.0, sleeve));
            limbs.push(limb(chest, 140.0, hips, 150.0, sleeve));
        }
        limbs
    }
}

fn limb(from: Vector3<f64>, r0: f64, to: Vector3<f64>, r1: f64, colour: Colour) -> Limb {
    Limb {
        ends: [Joint { at_mm: from, radius_mm: r0 }, Joint { at_mm: to, radius_mm: r1 }],
        colour,
    }
}

fn furniture(random: &mut Random, scene: &Scene) -> Block {
    let (l, w) = (scene.table.length_mm, scene.table.width_mm);
    let gap = scene.build.rail_edge_mm + random.between(350.0, 1200.0);
    let half = Vector3::new(
        random.between(120.0, 450.0),
        random.between(120.0, 450.0),
        random.between(180.0, 400.0),
    );
    let away = gap + half.x.hypot(half.y);
    let place = match random.below(4) {
        0 => [random.between(-gap, l + gap), -away],
        1 => [random.between(-gap, l + gap), w + away],
        2 => [-away, random.between(-gap, w + gap)],
        _ => [l + away, random.between(-gap, w + gap)],
    };
    let colour = if random.chance(0.2) {
        scene.looks.cloth.colour
    } else {
        from_hue(random.unit(), random.between(0.0, 0.6), random.between(0.08, 0.8))
    };
    Block {
        middle_mm: Vector3::new(place[0], place[1], half.z - scene.build.floor_drop_mm),
        half_mm: half,
        turn_rad: random.between(0.0, std::f64::consts::TAU),
        colour,
    }
}
