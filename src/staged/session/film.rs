//! The session before the camera: moment after moment becomes a frame.

use super::options::SessionOptions;
use super::people::{Stage, triangle_colour};
use super::script::Script;
use super::timeline::{BallAt, Timeline};
use super::trouble::{FrameTime, Trouble};
use super::truth::{SessionTruth, Sources};
use crate::motion::{Bed, Physics, PhysicsError};
use crate::staged::extras::{Extra, Figure};
use crate::staged::quick::{Exposure, Moment, Painter, Prop, SeenBall};
use crate::staged::random::Random;
use crate::staged::scene::{Scene, random_orientation};
use crate::table::{TablePoint, TableSize};
use image::RgbImage;
use nalgebra::{UnitQuaternion, Vector3};
use std::time::Duration;

/// A frame of a session.
#[derive(Debug, Clone)]
pub struct SessionFrame {
    pub picture: RgbImage,
    /// When the stream hands it out, from the session's beginning.
    pub at: Duration,
}

/// A session that is filmed as it is asked for.
#[derive(Debug)]
pub struct StagedSession {
    scene: Scene,
    stage: Stage,
    timeline: Timeline,
    trouble: Trouble,
    frames: Vec<FrameTime>,
    truth: SessionTruth,
    next: usize,
    /// Made when the first frame is asked for: the empty table takes seconds.
    painter: Option<Painter>,
    camera_index: usize,
    turned: Turned,
    automatic: Automatic,
    grain: Random,
    last: Option<RgbImage>,
}

/// How long the film is exposed for a frame, in seconds.
const EXPOSED_S: f64 = 0.010;

impl StagedSession {
    /// Thinks up a session; quick: nothing is drawn yet.
    ///
    /// # Errors
    /// Where the table's physics are refused, which the presets' are not.
    pub fn new(seed: u64, options: SessionOptions) -> Result<Self, PhysicsError> {
        let scene = dressed(seed, &options);
        let stream = |purpose: u64| Random::stream(seed, 0x5e55_0000 + purpose);
        let bed = Bed::new(&scene.table, &Physics::default())?;
        let script = Script::play(&mut stream(1), &bed, &options);
        let mut timeline = Timeline::of(&script, &scene, &options, &mut stream(2));
        let trouble = Trouble::of(&mut timeline, &scene, &options, &mut stream(3));
        let frames = trouble.frames(timeline.ends_s, &options, stream(4).bits());
        let mut looks = stream(5);
        let stage = Stage {
            table: scene.table,
            figure: Figure::random(&mut looks),
            floor_mm: -scene.build.floor_drop_mm,
            wood: triangle_colour(looks.below(3)),
        };
        let sources = Sources {
            seed,
            fps: options.frames_per_s,
            scene: &scene,
            script: &script,
            timeline: &timeline,
            trouble: &trouble,
            frames: &frames,
        };
        let truth = SessionTruth::of(&sources, |at_s| {
            let (_, camera) = &trouble.cameras[trouble.camera_index(at_s)];
            !timeline.visits(at_s).any(|visit| stage.obstructs(visit, at_s, camera))
        });
        Ok(Self {
            turned: Turned::new(stream(6)),
            grain: stream(7),
            automatic: Automatic::default(),
            camera_index: 0,
            painter: None,
            next: 0,
            last: None,
            scene,
            stage,
            timeline,
            trouble,
            frames,
            truth,
        })
    }

    pub fn truth(&self) -> &SessionTruth {
        &self.truth
    }

    /// The table, its looks and its camera, without balls.
    pub fn scene(&self) -> &Scene {
        &self.scene
    }

    /// How many frames there are in all.
    pub fn frame_count(&self) -> usize {
        self.frames.len()
    }

    /// When the next frame is handed out; none at the end of the session.
    pub fn next_time(&self) -> Option<Duration> {
        self.frames.get(self.next).map(|frame| Duration::from_secs_f64(frame.at_s))
    }

    /// Leaves the next frame out.
    pub fn skip_frame(&mut self) {
        self.next += 1;
    }

    /// The next frame; none at the end of the session.
    pub fn next_frame(&mut self) -> Option<SessionFrame> {
        let frame = *self.frames.get(self.next)?;
        self.next += 1;
        let at = Duration::from_secs_f64(frame.at_s);
        if frame.repeated
            && let Some(picture) = &self.last
        {
            return Some(SessionFrame { picture: picture.clone(), at });
        }
        let picture = self.filmed(frame.shows_s);
        self.last = Some(picture.clone());
        Some(SessionFrame { picture, at })
    }

    fn filmed(&mut self, at_s: f64) -> RgbImage {
        let painter = self.painter.get_or_insert_with(|| Painter::new(&self.scene));
        let camera_index = self.trouble.camera_index(at_s);
        if camera_index != self.camera_index
            && let Some((_, camera)) = self.trouble.cameras.get(camera_index)
        {
            self.camera_index = camera_index;
            painter.look_from(*camera);
        }
        let light = self.trouble.brightness(at_s);
        let (wander, balance) = self.trouble.wander(at_s);
        let gain = light * wander * self.automatic.gain(at_s, light);
        let moment = Moment {
            balls: self.turned.seen(&self.timeline, &self.scene.table, at_s),
            props: props(&self.timeline, &self.stage, at_s),
            light_gains: self.trouble.light_gains(at_s),
            exposure: Exposure { gain: stepped(gain), balance: balance.map(stepped) },
        };
        let picture = painter.paint(&moment, &mut self.grain);
        self.automatic.saw(painter.mean_light());
        picture
    }
}

impl Iterator for StagedSession {
    type Item = SessionFrame;

    fn next(&mut self) -> Option<SessionFrame> {
        self.next_frame()
    }
}

/// A camera's automatics work in steps; a picture whose exposure stays the same costs less.
fn stepped(gain: f64) -> f64 {
    (gain * 200.0).round() / 200.0
}

fn props(timeline: &Timeline, stage: &Stage, at_s: f64) -> Vec<Vec<Prop>> {
    timeline.visits(at_s).map(|visit| stage.props(visit, at_s)).collect()
}

/// How every ball has turned so far.
#[derive(Debug)]
struct Turned {
    random: Random,
    balls: [Option<(TablePoint, UnitQuaternion<f64>)>; 16],
}

impl Turned {
    fn new(random: Random) -> Self {
        Self { random, balls: [None; 16] }
    }

    /// The balls of a moment, each turned by the way it has come since the moment before.
    fn seen(&mut self, timeline: &Timeline, table: &TableSize, at_s: f64) -> Vec<SeenBall> {
        let (before, after) =
            (timeline.balls(at_s - EXPOSED_S / 2.0), timeline.balls(at_s + EXPOSED_S / 2.0));
        let at = |balls: &[BallAt], number: u8| {
            balls.iter().find(|ball| ball.number == number).map(|ball| ball.place)
        };
        let balls = timeline.balls(at_s);
        for (number, slot) in (0_u8..).zip(self.balls.iter_mut()) {
            if balls.iter().all(|ball| ball.number != number) {
                *slot = None;
            }
        }
        let radius = table.ball_radius_mm();
        balls
            .iter()
            .map(|ball| {
                let sweep_mm = match (at(&before, ball.number), at(&after, ball.number)) {
                    (Some(a), Some(b)) => Vector3::new(b.x_mm - a.x_mm, b.y_mm - a.y_mm, 0.0),
                    _ => Vector3::zeros(),
                };
                let place = ball.place;
                SeenBall {
                    number: ball.number,
                    centre_mm: Vector3::new(place.x_mm, place.y_mm, radius + ball.lift_mm),
                    orientation: self.rolled(ball.number, place, radius),
                    sweep_mm,
                }
            })
            .collect()
    }

    fn rolled(&mut self, number: u8, to: TablePoint, radius_mm: f64) -> UnitQuaternion<f64> {
        let fresh = random_orientation(&mut self.random);
        let Some(slot) = self.balls.get_mut(usize::from(number)) else { return fresh };
        let orientation = match slot {
            Some((from, orientation)) => {
                let way = Vector3::new(to.x_mm - from.x_mm, to.y_mm - from.y_mm, 0.0);
                if way.norm() < 1e-6 {
                    return *orientation;
                }
                // Rolling about the level axis across the way.
                let turn = UnitQuaternion::from_scaled_axis(Vector3::z().cross(&way) / radius_mm);
                turn * *orientation
            }
            None => fresh,
        };
        *slot = Some((to, orientation));
        orientation
    }
}

/// Automatic exposure: follows the picture's mean light with a delay, and not all the way.
#[derive(Debug, Default)]
struct Automatic {
    /// Mean light of the first picture, of the last, and when that was.
    first: Option<f64>,
    last: f64,
    at_s: f64,
    level: f64,
}

impl Automatic {
    /// The gain for a moment whose light is `light` times that of the scene.
    fn gain(&mut self, at_s: f64, light: f64) -> f64 {
        let Some(first) = self.first else {
            self.at_s = at_s;
            return 1.0;
        };
        let wanted = -0.75 * (self.last * light / first).max(0.05).ln();
        let follows = 1.0 - (-(at_s - self.at_s) / 0.7).exp();
        self.level += (wanted - self.level) * follows;
        self.at_s = at_s;
        self.level.exp().clamp(0.5, 2.5)
    }

    fn saw(&mut self, mean: f64) {
        self.first.get_or_insert(mean);
        self.last = mean;
    }
}

/// A scene whose table is that of `motion`, with a picture of the asked-for size.
fn dressed(seed: u64, options: &SessionOptions) -> Scene {
    let mut scenes =
        (0..200).map(|k| Scene::random(seed.wrapping_mul(1000).wrapping_add(k), options.profile));
    let wide = |scene: &Scene| {
        let lens = scene.camera.lens;
        lens.width_px * 9 == lens.height_px * 16
    };
    let mut scene = scenes.find(wide).unwrap_or_else(|| Scene::random(seed, options.profile));
    let lens = &mut scene.camera.lens;
    let scale = f64::from(options.width_px) / f64::from(lens.width_px);
    let [width, height] =
        [lens.width_px, lens.height_px].map(|size| (f64::from(size) * scale).round() as u32);
    (lens.width_px, lens.height_px) = (width, height);
    lens.focal_px *= scale;
    lens.centre_px.x_px *= scale;
    lens.centre_px.y_px *= scale;
    scene.seed = seed;
    scene.balls.clear();
    scene.extras.retain(|extra| matches!(extra, Extra::Chalk(_) | Extra::Furniture(_)));
    // Mouths, jaws and holes where the balls of `motion` meet them.
    let build = &mut scene.build;
    build.pockets = scene.table.pockets();
    let [[corner, side], ..] = scene.table.noses();
    build.corner_tip_mm = corner.x_mm;
    build.side_tip_mm = scene.table.length_mm / 2.0 - side.x_mm;
    build.corner_facing_rad = CORNER_FACING_DEG.to_radians();
    build.side_facing_rad = SIDE_FACING_DEG.to_radians();
    scene
}

/// What the specified angles of 142° and 104° between nose and facing lean off the square.
const CORNER_FACING_DEG: f64 = 52.0;
const SIDE_FACING_DEG: f64 = 14.0;
