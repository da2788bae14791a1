//! What goes wrong around a made-up session: light, camera, stream. When, and how much.

use super::options::{SessionOptions, Upsets};
use super::people::{Visit, VisitKind};
use super::timeline::Timeline;
use crate::camera::{Camera, Pose};
use crate::staged::extras::Figure;
use crate::staged::random::Random;
use crate::staged::scene::Scene;
use crate::table::TablePoint;
use nalgebra::{UnitQuaternion, Vector3};
use std::f64::consts::TAU;

/// Something that holds for a while.
#[derive(Debug, Clone, Copy)]
pub struct Spell {
    pub from_s: f64,
    pub to_s: f64,
    /// What is left of the light.
    pub left: f64,
}

/// A frame as the stream hands it out.
#[derive(Debug, Clone, Copy)]
pub struct FrameTime {
    pub at_s: f64,
    /// The moment that it shows; that of the frame before for one handed out twice.
    pub shows_s: f64,
    pub repeated: bool,
}

/// All troubles of a session.
#[derive(Debug)]
pub struct Trouble {
    pub dimmed: Vec<Spell>,
    pub switched: Vec<Spell>,
    pub pauses: Vec<[f64; 2]>,
    /// The camera since when; the first from the start.
    pub cameras: Vec<(f64, Camera)>,
    /// Rate in hertz as the film sees it, and strength.
    flicker: Option<[f64; 2]>,
    drift: f64,
    phases: [f64; 4],
}

impl Trouble {
    /// Makes up the troubles of a session and lets people pass by.
    pub fn of(
        timeline: &mut Timeline,
        scene: &Scene,
        options: &SessionOptions,
        random: &mut Random,
    ) -> Self {
        let Upsets { drift, .. } = options.upsets;
        let upsets = &options.upsets;
        let ends_s = timeline.ends_s;
        let spells = |a_min: f64, left: [f64; 2], random: &mut Random| -> Vec<Spell> {
            moments(a_min, ends_s, random)
                .into_iter()
                .map(|from_s| Spell {
                    from_s,
                    to_s: from_s + random.between(6.0, 40.0),
                    left: random.between(left[0], left[1]),
                })
                .collect()
        };
        let dimmed = spells(upsets.dimmed_a_min, [0.5, 0.85], random);
        let switched = spells(upsets.switched_a_min, [0.0, 0.5], random);
        for from_s in moments(upsets.passer_by_a_min, ends_s, random) {
            timeline.visits.push(passer_by(scene, from_s, random));
        }
        timeline.visits.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
        let mut cameras = vec![(0.0, scene.camera)];
        for at_s in moments(upsets.bumped_a_min, ends_s, random) {
            let last = cameras.last().map_or(scene.camera, |(_, camera)| *camera);
            cameras.push((at_s, bumped(&last, scene, random)));
        }
        let mut pauses: Vec<[f64; 2]> = moments(upsets.pauses_a_min, ends_s, random)
            .into_iter()
            .map(|from_s| [from_s, from_s + random.between(1.0, 6.0)])
            .collect();
        // From the roll before the rest into the next one.
        for pair in timeline.shots.windows(2) {
            if let [shot, next] = pair
                && random.chance(upsets.rest_swallowed_chance)
                && next.rest_after == shot.rest_after + 1
            {
                let into = |span: [f64; 2]| span[0] + random_part(span) * (span[1] - span[0]);
                pauses.push([into(shot.moves_s), into(next.moves_s)]);
            }
        }
        let mut phase = || random.between(0.0, TAU);
        let phases = [phase(), phase(), phase(), phase()];
        let flicker = random
            .chance(upsets.flicker_chance)
            .then(|| [random.between(0.4, 4.5), random.between(0.005, 0.03)]);
        Self { dimmed, switched, pauses, cameras, flicker, drift, phases }
    }

    /// Lamps and room, times what the scene says.
    pub fn light_gains(&self, at_s: f64) -> [f64; 2] {
        let of = |spell: &&Spell| (spell.from_s..spell.to_s).contains(&at_s);
        [self.switched.iter().find(of).map_or(1.0, |spell| spell.left), 1.0]
    }

    /// Light of everything: dimmers and the mains.
    pub fn brightness(&self, at_s: f64) -> f64 {
        let dim: f64 = self
            .dimmed
            .iter()
            .map(|spell| {
                let turned = ((at_s - spell.from_s) / 0.8).min((spell.to_s - at_s) / 0.8);
                1.0 - (1.0 - spell.left) * turned.clamp(0.0, 1.0)
            })
            .product();
        dim * self.flicker.map_or(1.0, |[hz, part]| 1.0 + part * (TAU * hz * at_s).sin())
    }

    /// Slow wandering of the camera's automatics: exposure, then red, green, blue.
    pub fn wander(&self, at_s: f64) -> (f64, [f64; 3]) {
        let [a, b, c, d] = self.phases;
        let slow = |period_s: f64, phase: f64| self.drift * (TAU * at_s / period_s + phase).sin();
        (
            1.0 + slow(47.0, a),
            [1.0 + slow(71.0, b), 1.0 + 0.3 * slow(113.0, c), 1.0 + slow(89.0, d)],
        )
    }

    /// Index of the camera's place at a time.
    pub fn camera_index(&self, at_s: f64) -> usize {
        self.cameras.partition_point(|(from_s, _)| *from_s <= at_s).saturating_sub(1)
    }

    /// Every frame of the stream, in order.
    pub fn frames(&self, ends_s: f64, options: &SessionOptions, seed: u64) -> Vec<FrameTime> {
        let upsets = &options.upsets;
        let mut frames: Vec<FrameTime> = Vec::new();
        let count = (ends_s * options.frames_per_s).floor().max(0.0) as u64;
        for k in 0..count {
            let mut random = Random::stream(seed, k);
            let shows_s = k as f64 / options.frames_per_s;
            let paused = self.pauses.iter().any(|p| (p[0]..p[1]).contains(&shows_s));
            if paused || random.chance(upsets.frame_dropped_chance) {
                continue;
            }
            let late = random.chance(upsets.frame_late_chance);
            let late_s = if late { random.between(0.2, 0.9) / options.frames_per_s } else { 0.0 };
            let at_s = shows_s + late_s;
            match frames.last().copied() {
                Some(last) if random.chance(upsets.frame_repeated_chance) => {
                    frames.push(FrameTime { at_s, shows_s: last.shows_s, repeated: true });
                }
                _ => frames.push(FrameTime { at_s, shows_s, repeated: false }),
            }
        }
        frames
    }
}

/// Moments at a rate, one after the other, the first not at once.
fn moments(a_min: f64, ends_s: f64, random: &mut Random) -> Vec<f64> {
    let mut moments = Vec::new();
    if a_min <= 0.0 {
        return moments;
    }
    let mut at_s = 5.0;
    loop {
        at_s += -60.0 / a_min * (1.0 - random.unit()).ln();
        if at_s > ends_s - 3.0 {
            return moments;
        }
        moments.push(at_s);
    }
}

/// A part of a span that depends on the span alone.
fn random_part(span: [f64; 2]) -> f64 {
    Random::new(span[0].to_bits()).between(0.1, 0.9)
}

/// Somebody walks along a rail.
fn passer_by(scene: &Scene, from_s: f64, random: &mut Random) -> Visit {
    let (l, w) = (scene.table.length_mm, scene.table.width_mm);
    let beyond = scene.build.rail_edge_mm + random.between(220.0, 600.0);
    let y = if random.chance(0.5) { -beyond } else { w + beyond };
    let (mut from, mut to) = (TablePoint::new(-900.0, y), TablePoint::new(l + 900.0, y));
    if random.chance(0.3) {
        let x = if random.chance(0.5) { -beyond } else { l + beyond };
        (from, to) = (TablePoint::new(x, -900.0), TablePoint::new(x, w + 900.0));
    }
    if random.chance(0.5) {
        std::mem::swap(&mut from, &mut to);
    }
    let walks_s = from.distance_mm(to) / random.between(700.0, 1500.0);
    let figure = Figure::random(random);
    let kind = VisitKind::PasserBy { from, to, figure };
    Visit { from_s, to_s: from_s + walks_s, kind }
}

/// The camera after a knock of 2 to 6 pixels that leaves the noses in the picture.
fn bumped(camera: &Camera, scene: &Scene, random: &mut Random) -> Camera {
    for _ in 0..40 {
        let turn = random.between(0.0, TAU);
        let tilt = random.between(2.0, 6.0) / camera.lens.focal_px;
        let axis = Vector3::new(turn.cos() * tilt, turn.sin() * tilt, 0.002 * random.normal());
        let nudge = UnitQuaternion::from_scaled_axis(axis);
        let pose = Pose {
            rotation: nudge * camera.pose.rotation,
            translation_mm: nudge * camera.pose.translation_mm,
        };
        let knocked = Camera { pose, ..*camera };
        let nose = scene.table.nose_height_mm();
        let inside = scene.table.corners().iter().all(|corner| {
            knocked.project(corner.at_height(nose)).is_some_and(|p| {
                let within = |v: f64, size: u32| (2.0..f64::from(size) - 2.0).contains(&v);
                within(p.x_px, camera.lens.width_px) && within(p.y_px, camera.lens.height_px)
            })
        });
        if inside {
            return knocked;
        }
    }
    *camera
}
