//! How much light comes back along a ray.
//!
//! Method: lamps are sampled in even pieces with one shadow ray each, at random places within
//! the pieces where anything may shade the point and at their middles where nothing can (then
//! exact and free of noise). Light from the room and from other surfaces is one diffuse bounce
//! (Kajiya, "The rendering equation", 1986, cut after two), stored on a grid for bed and floor.
//! Gloss is one mirror ray with a Fresnel weight (Schlick 1994). Not modelled: caustics, more
//! bounces, light through things.

use super::lightmap::Lightmap;
use super::solid::{Point, Ray};
use super::woodwork::Wood;
use super::world::{Meeting, Part, World};
use crate::staged::colour::{Colour, grey};
use crate::staged::looks::{Finish, Lamp, Looks};
use crate::staged::random::Random;
use crate::table::TablePoint;
use std::f64::consts::{PI, TAU};

/// World, looks and stored light together.
pub struct Studio<'a> {
    pub world: World,
    pub looks: &'a Looks,
    /// Where the sights are, for the rails' look.
    sights: Vec<TablePoint>,
    sight_radius_mm: f64,
    sight_is_diamond: bool,
    lamps: Vec<PiecedLamp>,
    /// Unobstructed light of all lamps on the bed; on the bed everything but the lamps.
    bed_direct: Lightmap,
    bed_rest: Lightmap,
    floor_light: Lightmap,
    /// Light of the room on a level, unobstructed surface.
    sky: Colour,
}

/// A lamp and the pieces it is sampled in.
struct PiecedLamp {
    lamp: Lamp,
    pieces: [usize; 2],
    piece_area_mm2: f64,
}

/// What a studio needs beyond the scene's looks.
pub struct Fittings {
    pub sights: Vec<TablePoint>,
    pub sight_radius_mm: f64,
    pub sight_is_diamond: bool,
    /// Rectangles over which light is stored: the bed, and the floor that can be seen.
    pub bed: [[f64; 2]; 2],
    pub floor: [[f64; 2]; 2],
    pub floor_mm: f64,
    pub seed: u64,
}

impl<'a> Studio<'a> {
    pub fn new(world: World, looks: &'a Looks, fittings: Fittings) -> Self {
        let lamps = looks.lighting.lamps.iter().map(pieced).collect();
        let dark = || Lightmap::new([0.0; 2], [1.0; 2], 1.0, |_, _| Colour::zeros());
        let mut studio = Self {
            world,
            looks,
            sights: fittings.sights,
            sight_radius_mm: fittings.sight_radius_mm,
            sight_is_diamond: fittings.sight_is_diamond,
            lamps,
            bed_direct: dark(),
            bed_rest: dark(),
            floor_light: dark(),
            sky: looks.lighting.room_irradiance(Point::z()),
        };
        let [low, high] = fittings.bed;
        studio.bed_direct = Lightmap::new(low, high, 40.0, |x, y| {
            studio.open_lamps(Point::new(x, y, 0.0), Point::z())
        });
        let mut random = Random::stream(fittings.seed, 0x006c_6967_6874);
        studio.bed_rest = Lightmap::new(low, high, 10.0, |x, y| {
            studio.gathered(Point::new(x, y, 0.01), Point::z(), 6, &mut random)
        })
        .smoothed();
        let [low, high] = fittings.floor;
        studio.floor_light = Lightmap::new(low, high, 60.0, |x, y| {
            let place = Point::new(x, y, fittings.floor_mm + 0.01);
            studio.lamps_at(place, Point::z(), &mut random)
                + studio.gathered(place, Point::z(), 5, &mut random)
        })
        .smoothed();
        studio
    }

    /// Light that comes back along a ray that met something.
    pub fn seen(&self, ray: &Ray, meeting: &Meeting, random: &mut Random) -> Colour {
        let finish = self.finish(meeting);
        let away = -meeting.normal.dot(&ray.along);
        let place = meeting.point + meeting.normal * 1e-3;
        let light = self.light_on(meeting, place, random);
        let sheen = 1.0 + finish.sheen * (1.0 - away).clamp(0.0, 1.0).powi(3);
        let scattered = finish.albedo.component_mul(&light) * (sheen / PI);
        if finish.gloss <= 0.0 {
            return scattered;
        }
        let fresnel = finish.gloss + (1.0 - finish.gloss) * (1.0 - away).clamp(0.0, 1.0).powi(5);
        let image = self.mirrored(ray, meeting, &finish, random);
        scattered * (1.0 - fresnel) + image * fresnel
    }

    /// What the gloss shows: the surroundings along the mirror ray, and the lamps, spread by the
    /// roughness.
    fn mirrored(
        &self,
        ray: &Ray,
        meeting: &Meeting,
        finish: &Finish,
        random: &mut Random,
    ) -> Colour {
        let from = meeting.point + meeting.normal * 1e-3;
        let straight = Ray { from, along: mirror(ray.along, meeting.normal) };
        let met = self.world.meet(&straight);
        let mut image = match met {
            Some(met) => self.roughly(&met, random),
            None => self.looks.lighting.room.radiance(straight.along),
        };
        let reach_mm = met.map_or(f64::INFINITY, |m| m.distance_mm);
        let facets = if finish.roughness > 0.01 { ROUGH_FACETS } else { SMOOTH_FACETS };
        let (a, b) = basis(meeting.normal);
        for _ in 0..facets {
            let facet = meeting.normal
                + a * (finish.roughness * random.normal())
                + b * (finish.roughness * random.normal());
            let along = mirror(ray.along, facet.normalize());
            let glance = Ray { from, along };
            let lamp = self.lamps.iter().find(|s| shines_into(&s.lamp, &glance, reach_mm));
            if let Some(source) = lamp {
                image += source.lamp.radiance / f64::from(facets);
            }
        }
        image
    }

    /// Irradiance at a meeting; in the dark of a pocket more rays are needed for little noise.
    fn light_on(&self, meeting: &Meeting, place: Point, random: &mut Random) -> Colour {
        match meeting.part {
            Part::Wood(Wood::Bed) => {
                let p = Point::new(place.x, place.y, 1e-3);
                let rest = self.bed_rest.at(p.x, p.y);
                match self.world.shaders_of(p) {
                    Some([]) => self.bed_direct.at(p.x, p.y) + rest,
                    _ => self.lamps_at(p, Point::z(), random) + rest,
                }
            }
            Part::Floor => self.floor_light.at(place.x, place.y),
            Part::Wood(Wood::RailTop | Wood::Rim) if self.world.limbs.is_empty() => {
                self.lamps_at(place, meeting.normal, random) + self.sky
            }
            part => {
                let deep = matches!(part, Part::Wood(Wood::PocketWall | Wood::PocketFloor));
                self.lamps_at(place, meeting.normal, random)
                    + self.gathered(place, meeting.normal, if deep { 4 } else { 2 }, random)
            }
        }
    }

    /// Light of all lamps on a surface, shadows included.
    fn lamps_at(&self, place: Point, normal: Point, random: &mut Random) -> Colour {
        let shaders = self.world.shaders_of(place);
        if matches!(shaders, Some([])) {
            return self.open_lamps(place, normal);
        }
        let mut sum = Colour::zeros();
        for source in &self.lamps {
            let [nu, nv] = source.pieces;
            let mut share = 0.0;
            for k in 0..nu * nv {
                let u = (2.0 * ((k % nu) as f64 + random.unit())) / nu as f64 - 1.0;
                let v = (2.0 * ((k / nu) as f64 + random.unit())) / nv as f64 - 1.0;
                let piece = source.lamp.at(u, v);
                let part = source.lamp.share(piece, place, normal);
                if part > 0.0 {
                    let way = piece - place;
                    let reach_mm = way.norm();
                    let ray = Ray { from: place, along: way / reach_mm };
                    if !self.world.blocked(&ray, reach_mm, shaders) {
                        share += part;
                    }
                }
            }
            sum += source.lamp.radiance * (share * source.piece_area_mm2);
        }
        sum
    }

    /// Light of all lamps where nothing is in the way.
    fn open_lamps(&self, place: Point, normal: Point) -> Colour {
        let mut sum = Colour::zeros();
        for source in &self.lamps {
            let [nu, nv] = source.pieces;
            let middle = |k: usize, n: usize| (2 * k + 1) as f64 / n as f64 - 1.0;
            let share: f64 = (0..nu * nv)
                .map(|k| {
                    let piece = source.lamp.at(middle(k % nu, nu), middle(k / nu, nv));
                    source.lamp.share(piece, place, normal)
                })
                .sum();
            sum += source.lamp.radiance * (share * source.piece_area_mm2);
        }
        sum
    }

    /// Irradiance from the room and other surfaces, by `side`² rays, cosine-weighted and
    /// stratified.
    fn gathered(&self, place: Point, normal: Point, side: u32, random: &mut Random) -> Colour {
        let (across, up) = basis(normal);
        let mut sum = Colour::zeros();
        for k in 0..side * side {
            let u = (f64::from(k % side) + random.unit()) / f64::from(side);
            let v = (f64::from(k / side) + random.unit()) / f64::from(side);
            let (radius, turn) = (u.sqrt(), TAU * v);
            let along = across * (radius * turn.cos())
                + up * (radius * turn.sin())
                + normal * (1.0 - u).sqrt();
            let ray = Ray { from: place, along };
            sum += match self.world.meet(&ray) {
                Some(meeting) => self.roughly(&meeting, random),
                None => self.looks.lighting.room.radiance(along),
            };
        }
        sum * (PI / f64::from(side * side))
    }

    /// A surface seen by way of another: one shadow ray, no further bounce.
    fn roughly(&self, meeting: &Meeting, random: &mut Random) -> Colour {
        let finish = self.finish(meeting);
        let place = meeting.point + meeting.normal * 1e-3;
        if meeting.part == Part::Floor {
            return finish.albedo.component_mul(&self.sky) * (0.6 / PI);
        }
        let mut light = self.sky * (0.35 + 0.25 * meeting.normal.z);
        let Some(source) = self.lamps.get(random.below(self.lamps.len())) else {
            return finish.albedo.component_mul(&light) / PI;
        };
        let piece = source.lamp.at(random.between(-1.0, 1.0), random.between(-1.0, 1.0));
        let part = source.lamp.share(piece, place, meeting.normal);
        if part > 0.0 {
            let way = piece - place;
            let reach_mm = way.norm();
            let ray = Ray { from: place, along: way / reach_mm };
            if !self.world.blocked(&ray, reach_mm, self.world.shaders_of(place)) {
                let whole = part * source.lamp.area_mm2() * self.lamps.len() as f64;
                light += source.lamp.radiance * whole;
            }
        }
        finish.albedo.component_mul(&light) / PI
    }

    /// What the surface at a meeting looks like.
    fn finish(&self, meeting: &Meeting) -> Finish {
        let p = meeting.point;
        let looks = self.looks;
        match meeting.part {
            Part::Wood(wood) => self.wood_finish(wood, p),
            Part::Cushion { end, .. } => {
                let finish = looks.cloth.finish(p.x, p.y);
                if end { Finish { albedo: finish.albedo * 0.85, ..finish } } else { finish }
            }
            Part::Ball(index) => self.world.balls.get(index).map_or(NOTHING, |ball| {
                looks.balls.finish(ball.number, ball.own_from_table * meeting.normal)
            }),
            Part::Block(index) => self
                .world
                .blocks
                .get(index)
                .map_or(NOTHING, |(_, block)| Finish::matte(block.colour)),
            Part::Limb(index) => self
                .world
                .limbs
                .get(index)
                .map_or(NOTHING, |(_, limb)| Finish { sheen: 0.3, ..Finish::matte(limb.colour) }),
            Part::Floor => Finish::matte(looks.floor.albedo(p.x, p.y)),
        }
    }

    fn wood_finish(&self, wood: Wood, p: Point) -> Finish {
        let rails = &self.looks.rails;
        match wood {
            Wood::Bed => self.looks.cloth.finish(p.x, p.y),
            Wood::RailTop => {
                if self.on_sight(p) {
                    return Finish { gloss: 0.03, ..Finish::matte(rails.sight) };
                }
                self.board(p)
            }
            Wood::RailFace => Finish { gloss: 0.0, ..self.board(p) },
            Wood::Skirt => rails.wood_at(p.x + p.y, p.z),
            Wood::Rim => rails.rim,
            Wood::PocketWall | Wood::PocketFloor => Finish::matte(rails.leather),
        }
    }

    /// The wood of a rail, its grain along it.
    fn board(&self, p: Point) -> Finish {
        let rails = &self.looks.rails;
        let beside = self.world.wood.beside_a_long_rail(p);
        if beside { rails.wood_at(p.x, p.y) } else { rails.wood_at(p.y, p.x) }
    }

    fn on_sight(&self, p: Point) -> bool {
        let r = self.sight_radius_mm;
        self.sights.iter().any(|sight| {
            let (dx, dy) = ((p.x - sight.x_mm).abs(), (p.y - sight.y_mm).abs());
            if self.sight_is_diamond { dx + dy < 1.25 * r } else { dx * dx + dy * dy < r * r }
        })
    }
}

/// Mirror directions tried on a rough and on a smooth gloss.
const ROUGH_FACETS: u32 = 12;
const SMOOTH_FACETS: u32 = 3;

const NOTHING: Finish = Finish::matte(Colour::new(0.0, 0.0, 0.0));

/// Few pieces suffice where a lamp is small; long ones get more along their length.
fn pieced(lamp: &Lamp) -> PiecedLamp {
    let [long, wide] = lamp.half_mm.map(|half| half.norm());
    let count = |half: f64| ((2.0 * half / 240.0).round() as usize).clamp(2, 8);
    let mut pieces = [count(long), count(wide)];
    if long > 4.0 * wide {
        pieces[1] = 1;
    }
    PiecedLamp {
        lamp: lamp.clone(),
        piece_area_mm2: lamp.area_mm2() / (pieces[0] * pieces[1]) as f64,
        pieces,
    }
}

/// Whether a ray runs into the lit side of a lamp before `reach_mm`.
pub fn shines_into(lamp: &Lamp, ray: &Ray, reach_mm: f64) -> bool {
    let rate = ray.along.dot(&lamp.normal);
    if rate >= 0.0 {
        return false;
    }
    let distance = (lamp.centre_mm - ray.from).dot(&lamp.normal) / rate;
    if distance <= 0.0 || distance >= reach_mm {
        return false;
    }
    let off = ray.at(distance) - lamp.centre_mm;
    lamp.half_mm.iter().all(|half| off.dot(half).abs() <= half.norm_squared())
}

/// The direction in which a mirror of that normal throws a ray.
pub fn mirror(along: Point, normal: Point) -> Point {
    along - normal * (2.0 * along.dot(&normal))
}

/// Two unit vectors across a direction.
fn basis(normal: Point) -> (Point, Point) {
    let aside = if normal.x.abs() > 0.8 { Point::y() } else { Point::x() };
    let across = normal.cross(&aside).normalize();
    (across, normal.cross(&across))
}

/// The light that leaves everything out of sight: a middle grey in a lit room.
pub fn sky_grey(looks: &Looks) -> Colour {
    looks.lighting.room.wall.component_mul(&grey(0.3))
}
