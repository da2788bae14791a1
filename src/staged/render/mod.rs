//! From a scene to a picture: a ray tracer of our own for tables with balls.
//!
//! Every pixel is the mean over its square of the light along rays through the camera's own lens
//! model, so pixel (i, j) is centred on (i + 0.5, j + 0.5). Rays are stratified; where a pixel or
//! a neighbour sees more than one thing, or a bright detail, more are cast. Knows the scene, not
//! how it was thought up.

mod lightmap;
mod occluders;
pub mod shade;
pub mod solid;
mod woodwork;
pub mod world;

use super::build::SightShape;
use super::colour::{Colour, luminance};
use super::random::Random;
use super::scene::Scene;
use crate::camera::{Camera, PixelPoint};
use image::RgbImage;
use nalgebra::Vector3;
use shade::{Fittings, Studio, sky_grey};
use solid::Ray;
use std::thread;
use world::{Part, World};

/// Rays along each side of a pixel's square in the first pass, and in the second.
const FIRST_SIDE: u32 = 2;
const SECOND_SIDE: u32 = 4;

/// The picture of a scene.
pub fn picture(scene: &Scene) -> RgbImage {
    let lens = scene.camera.lens;
    scene.looks.film.develop(&light(scene), lens.width_px, lens.height_px)
}

/// Linear light per pixel, row by row.
pub fn light(scene: &Scene) -> Vec<Colour> {
    let lens = scene.camera.lens;
    let (width, height) = (lens.width_px as usize, lens.height_px as usize);
    let studio = Studio::new(World::new(scene), &scene.looks, fittings(scene));
    let eye = Eye { scene, studio: &studio, sky: sky_grey(&scene.looks) };
    let mut pixels = vec![Pixel::default(); width * height];
    by_rows(&mut pixels, width, |row, line| {
        for (column, pixel) in line.iter_mut().enumerate() {
            *pixel = eye.first_look(column, row);
        }
    });
    let first = pixels.clone();
    by_rows(&mut pixels, width, |row, line| {
        for (column, pixel) in line.iter_mut().enumerate() {
            if needs_more(&first, [width, height], [column, row]) {
                eye.look_again(pixel, column, row);
            }
        }
    });
    pixels.into_iter().map(|pixel| pixel.light).collect()
}

/// Runs `work(row, line)` over all rows, on as many threads as the machine has cores. Each row
/// draws its own random numbers, so the outcome does not depend on how many there are.
fn by_rows<T: Send>(pixels: &mut [T], width: usize, work: impl Fn(usize, &mut [T]) + Sync) {
    let threads = thread::available_parallelism().map_or(1, usize::from);
    // Rows are dealt out in turn, so that no thread gets all the balls.
    let mut shares: Vec<Vec<(usize, &mut [T])>> = (0..threads).map(|_| Vec::new()).collect();
    for (row, line) in pixels.chunks_mut(width.max(1)).enumerate() {
        if let Some(share) = shares.get_mut(row % threads) {
            share.push((row, line));
        }
    }
    thread::scope(|scope| {
        for share in shares {
            scope.spawn(|| share.into_iter().for_each(|(row, line)| work(row, line)));
        }
    });
}

/// What a pixel has gathered.
#[derive(Debug, Clone, Copy, Default)]
struct Pixel {
    light: Colour,
    /// Which thing was seen; none where the rays saw several.
    thing: Option<u32>,
}

/// Two kinds of detail: another thing, or another brightness.
fn needs_more(pixels: &[Pixel], size: [usize; 2], at: [usize; 2]) -> bool {
    let get = |x: usize, y: usize| pixels.get(y * size[0] + x);
    let Some(here) = get(at[0], at[1]) else { return false };
    let Some(thing) = here.thing else { return true };
    if thing >= BALL_THINGS {
        return true;
    }
    let brightness = luminance(here.light);
    let [x, y] = at;
    [
        (x.saturating_sub(1), y),
        ((x + 1).min(size[0] - 1), y),
        (x, y.saturating_sub(1)),
        (x, (y + 1).min(size[1] - 1)),
    ]
    .into_iter()
    .filter_map(|(x, y)| get(x, y))
    .any(|other| {
        let step = (luminance(other.light) - brightness).abs();
        other.thing != Some(thing) || step > 0.25 * (brightness + 0.02)
    })
}

struct Eye<'a> {
    scene: &'a Scene,
    studio: &'a Studio<'a>,
    /// What is seen past the lens's fold.
    sky: Colour,
}

impl Eye<'_> {
    fn first_look(&self, column: usize, row: usize) -> Pixel {
        let mut random = self.random(column, row, 0);
        let (mut sum, mut thing, mut same) = (Colour::zeros(), None, true);
        for k in 0..FIRST_SIDE * FIRST_SIDE {
            let (light, seen) = self.sample([column, row], [k, FIRST_SIDE], &mut random);
            sum += light;
            same &= k == 0 || thing == Some(seen);
            thing = Some(seen);
        }
        let count = f64::from(FIRST_SIDE * FIRST_SIDE);
        Pixel { light: sum / count, thing: thing.filter(|_| same) }
    }

    fn look_again(&self, pixel: &mut Pixel, column: usize, row: usize) {
        let mut random = self.random(column, row, 1);
        let mut sum = Colour::zeros();
        for k in 0..SECOND_SIDE * SECOND_SIDE {
            sum += self.sample([column, row], [k, SECOND_SIDE], &mut random).0;
        }
        // The first rays count as what they are: fewer.
        let (first, second) =
            (f64::from(FIRST_SIDE * FIRST_SIDE), f64::from(SECOND_SIDE * SECOND_SIDE));
        pixel.light = (pixel.light * first + sum) / (first + second);
    }

    fn random(&self, column: usize, row: usize, pass: u64) -> Random {
        let index = (row as u64) << 33 | (column as u64) << 1 | pass;
        Random::stream(self.scene.seed ^ 0x0070_6978_656c, index)
    }

    /// Light along one ray, through stratum `k` of `side`² of a pixel's square.
    fn sample(&self, at: [usize; 2], [k, side]: [u32; 2], random: &mut Random) -> (Colour, u32) {
        let within =
            |cell: u32, random: &mut Random| (f64::from(cell) + random.unit()) / f64::from(side);
        let x_px = at[0] as f64 + within(k % side, random);
        let y_px = at[1] as f64 + within(k / side, random);
        let Some(ray) = ray_through(&self.scene.camera, PixelPoint::new(x_px, y_px)) else {
            return (self.sky, 0);
        };
        match self.studio.world.meet(&ray) {
            Some(meeting) => (self.studio.seen(&ray, &meeting, random), thing_number(meeting.part)),
            None => (self.sky, 0),
        }
    }
}

/// Balls and what is looked at as closely get numbers from here.
const BALL_THINGS: u32 = 1000;

fn thing_number(part: Part) -> u32 {
    let small = |index: usize| u32::try_from(index).unwrap_or(0);
    match part {
        Part::Wood(wood) => 1 + wood as u32,
        Part::Cushion { index, end } => 20 + 2 * small(index) + u32::from(end),
        Part::Floor => 40,
        Part::Block(index) => 50 + small(index),
        Part::Limb(index) => 100 + small(index),
        Part::Ball(index) => BALL_THINGS + small(index),
    }
}

/// The ray that ends in a place of the picture; none past the lens's fold.
pub fn ray_through(camera: &Camera, at: PixelPoint) -> Option<Ray> {
    let [x, y] = camera.lens.normal_from_picture(at)?;
    let along = camera.pose.rotation.inverse() * Vector3::new(x, y, 1.0).normalize();
    let from = camera.pose.position();
    Some(Ray { from: Vector3::new(from.x_mm, from.y_mm, from.z_mm), along })
}

fn fittings(scene: &Scene) -> Fittings {
    let (table, build) = (&scene.table, &scene.build);
    let around = build.cushion_depth_mm;
    Fittings {
        sights: table.sights(),
        sight_radius_mm: build.sight_radius_mm,
        sight_is_diamond: build.sight_shape == SightShape::Diamond,
        bed: [[-around, -around], [table.length_mm + around, table.width_mm + around]],
        floor: seen_floor(scene),
        floor_mm: -build.floor_drop_mm,
        seed: scene.seed,
    }
}

/// The rectangle of floor in the picture, no farther than a few metres around the table.
fn seen_floor(scene: &Scene) -> [[f64; 2]; 2] {
    let lens = scene.camera.lens;
    let (w, h) = (f64::from(lens.width_px), f64::from(lens.height_px));
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for k in 0..=16 {
        let part = f64::from(k) / 16.0;
        for (x, y) in [(part * w, 0.0), (part * w, h), (0.0, part * h), (w, part * h)] {
            let at = PixelPoint::new(x, y);
            let seen = scene.camera.table_from_picture(at, -scene.build.floor_drop_mm);
            if let Some(place) = seen {
                for (axis, v) in [place.x_mm, place.y_mm].into_iter().enumerate() {
                    low[axis] = low[axis].min(v);
                    high[axis] = high[axis].max(v);
                }
            }
        }
    }
    let size = [scene.table.length_mm, scene.table.width_mm];
    for axis in 0..2 {
        low[axis] = low[axis].clamp(-3000.0, 0.0);
        high[axis] = high[axis].clamp(size[axis], size[axis] + 3000.0);
    }
    [low, high]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::{Lens, Pose};
    use crate::staged::looks::{BallSet, Cloth, Film, Floor, Lighting};
    use crate::staged::scene::StagedBall;
    use crate::staged::viewpoint::Profile;
    use crate::table::{SpacePoint, TablePoint};
    use nalgebra::UnitQuaternion;

    /// A white ball on a dark cloth in even light, seen by a faultless camera.
    ///
    /// `off_mm` is the ball's place as seen from the point below the eye and the lamp.
    fn tiny_scene(off_mm: [f64; 2], k1: f64, lean: [f64; 2]) -> Scene {
        let mut scene = Scene::random(1, Profile::Near);
        let table = scene.table;
        let below = table.centre_spot();
        let place = TablePoint::new(below.x_mm + off_mm[0], below.y_mm + off_mm[1]);
        scene.looks.cloth = Cloth::plain(Colour::repeat(0.02), &table);
        scene.looks.floor = Floor::plain(Colour::repeat(0.2));
        scene.looks.lighting = Lighting::plain(&table);
        scene.looks.film = Film::clean();
        scene.looks.balls = BallSet::plain();
        scene.extras = Vec::new();
        let orientation = UnitQuaternion::identity();
        scene.balls = vec![StagedBall { number: 0, place, orientation }];
        let mut lens = Lens::pinhole(161, 121, 380.0);
        lens.k1 = k1;
        let eye = below.at_height(600.0);
        let pose = Pose::looking(eye, [lean[0], lean[1], -1.0], [0.05, 1.0, 0.0]);
        scene.camera = Camera { lens, pose };
        scene
    }

    /// Centre of area of the ball's outline: the circle where rays graze it, projected.
    fn outline_centre(camera: &Camera, ball: Vector3<f64>, radius_mm: f64) -> (f64, f64) {
        let eye = camera.pose.position();
        let way = Vector3::new(eye.x_mm, eye.y_mm, eye.z_mm) - ball;
        let (distance, toward) = (way.norm(), way.normalize());
        let middle = ball + toward * (radius_mm * radius_mm / distance);
        let grazing_mm = radius_mm * (1.0 - (radius_mm / distance).powi(2)).sqrt();
        let across = toward.cross(&Vector3::x()).normalize();
        let up = toward.cross(&across);
        let outline: Vec<PixelPoint> = (0..720)
            .filter_map(|k| {
                let (sin, cos) = (f64::from(k) / 2.0).to_radians().sin_cos();
                let p = middle + (across * cos + up * sin) * grazing_mm;
                camera.project(SpacePoint { x_mm: p.x, y_mm: p.y, z_mm: p.z })
            })
            .collect();
        let (mut area, mut x_sum, mut y_sum) = (0.0, 0.0, 0.0);
        for (k, a) in outline.iter().enumerate() {
            let b = outline[(k + 1) % outline.len()];
            let cross = a.x_px * b.y_px - b.x_px * a.y_px;
            area += cross;
            x_sum += (a.x_px + b.x_px) * cross;
            y_sum += (a.y_px + b.y_px) * cross;
        }
        (x_sum / (3.0 * area), y_sum / (3.0 * area))
    }

    /// Middle of the bright pixels.
    fn seen_centre(picture: &RgbImage) -> (f64, f64) {
        let (mut count, mut x_sum, mut y_sum) = (0.0, 0.0, 0.0);
        for (x, y, pixel) in picture.enumerate_pixels() {
            if pixel.0[1] > 90 {
                count += 1.0;
                x_sum += f64::from(x) + 0.5;
                y_sum += f64::from(y) + 0.5;
            }
        }
        assert!(count > 500.0, "{count} pixels of a ball");
        (x_sum / count, y_sum / count)
    }

    /// Middle of the places whose rays meet the ball.
    fn met_centre(scene: &Scene) -> (f64, f64) {
        let (world, fine) = (World::new(scene), 6);
        let (mut count, mut x_sum, mut y_sum) = (0.0, 0.0, 0.0);
        for j in 0..scene.camera.lens.height_px * fine {
            for i in 0..scene.camera.lens.width_px * fine {
                let at = |k: u32| (f64::from(k) + 0.5) / f64::from(fine);
                let ray = ray_through(&scene.camera, PixelPoint::new(at(i), at(j)));
                let met = ray.and_then(|ray| world.meet(&ray)).map(|m| m.part);
                if met == Some(Part::Ball(0)) {
                    count += 1.0;
                    x_sum += at(i);
                    y_sum += at(j);
                }
            }
        }
        (x_sum / count, y_sum / count)
    }

    #[test]
    fn a_rendered_ball_lies_where_the_camera_projects_its_outline() {
        // Straight below the eye the rim is lit alike all around: the picture can be held to a
        // tenth of a pixel, wherever in a pixel the centre falls.
        for shift in [0.13, 0.31, 0.77] {
            let mut scene = tiny_scene([0.0, 0.0], 0.0, [0.0, 0.0]);
            scene.camera.lens.centre_px = PixelPoint::new(80.0 + shift, 61.0 - shift);
            let seen = seen_centre(&scene.render());
            let off = (seen.0 - 80.0 - shift).hypot(seen.1 - 61.0 + shift);
            assert!(off < 0.1, "seen at {seen:?} with a shift of {shift}");
        }
        // Aside, the far rim is darker, which moves the bright middle, but not the rays.
        for (x_mm, y_mm, k1, lean) in
            [(-10.0, 70.0, 0.0, 0.0), (30.3, 41.7, -0.15, 0.15), (-45.0, 81.0, 0.1, 0.0)]
        {
            let scene = tiny_scene([x_mm, y_mm], k1, [lean, 0.1]);
            let radius_mm = scene.table.ball_radius_mm();
            let below = scene.table.centre_spot();
            let centre = Vector3::new(below.x_mm + x_mm, below.y_mm + y_mm, radius_mm);
            let outline = outline_centre(&scene.camera, centre, radius_mm);
            let met = met_centre(&scene);
            let off = (met.0 - outline.0).hypot(met.1 - outline.1);
            assert!(off < 0.02, "met at {met:?}, outline at {outline:?}");
            let seen = seen_centre(&scene.render());
            let off = (seen.0 - outline.0).hypot(seen.1 - outline.1);
            assert!(off < 0.2, "seen at {seen:?}, outline at {outline:?}");
        }
    }

    #[test]
    fn the_same_scene_gives_the_same_picture() {
        let scene = tiny_scene([20.0, 50.0], 0.0, [0.0, 0.0]);
        assert_eq!(scene.render(), scene.render());
    }
}
