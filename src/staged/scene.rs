//! A made-up scene: one table, its looks, where the balls lie, what else is about, one camera.
//!
//! Plain data: change any part and render again (a film keeps all but the balls).

use super::build::Build;
use super::extras::{Extra, random_extras};
use super::layouts::{LayoutKind, random_places};
use super::looks::Looks;
use super::random::Random;
use super::render;
use super::viewpoint::{Profile, random_camera};
use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use image::RgbImage;
use nalgebra::{Quaternion, UnitQuaternion};

/// A ball at rest on the cloth.
#[derive(Debug, Clone, Copy)]
pub struct StagedBall {
    /// 0 for the cue ball.
    pub number: u8,
    pub place: TablePoint,
    /// Turns the ball's own axes into the table's.
    pub orientation: UnitQuaternion<f64>,
}

/// Everything a picture is made from.
#[derive(Debug, Clone)]
pub struct Scene {
    pub seed: u64,
    pub profile: Profile,
    pub kind: LayoutKind,
    pub table: TableSize,
    pub build: Build,
    pub looks: Looks,
    pub camera: Camera,
    pub balls: Vec<StagedBall>,
    pub extras: Vec<Extra>,
}

impl Scene {
    /// A random scene: the same for the same seed and profile.
    pub fn random(seed: u64, profile: Profile) -> Self {
        let stream = |purpose: u64| Random::stream(seed, purpose + 100 * (profile as u64 + 1));
        let table = if profile == Profile::Near && stream(1).chance(0.6) {
            TableSize::NINE_FOOT
        } else {
            stream(2).pick(TableSize::PRESETS)
        };
        let build = Build::random(&mut stream(3), &table);
        let looks = Looks::random(&mut stream(4), &table);
        let camera = random_camera(&mut stream(5), profile, &table, &build);
        let kind = stream(6).pick(LayoutKind::ALL);
        let mut turning = stream(7);
        let balls: Vec<StagedBall> = random_places(&mut stream(8), kind, &table, &build)
            .into_iter()
            .map(|(number, place)| StagedBall {
                number,
                place,
                orientation: random_orientation(&mut turning),
            })
            .collect();
        let mut scene =
            Self { seed, profile, kind, table, build, looks, camera, balls, extras: Vec::new() };
        scene.extras = random_extras(&mut stream(9), &scene);
        scene
    }

    /// The picture: 8-bit sRGB, the same for the same scene.
    pub fn render(&self) -> RgbImage {
        render::picture(self)
    }

    /// Whether somebody or something hides part of the cloth.
    pub fn obstructed(&self) -> bool {
        self.extras.iter().any(Extra::obstructs)
    }
}

/// Any orientation, all alike likely (Shoemake, "Uniform random rotations", Graphics Gems III).
pub fn random_orientation(random: &mut Random) -> UnitQuaternion<f64> {
    let part = random.unit();
    let (a, b) = (random.unit() * std::f64::consts::TAU, random.unit() * std::f64::consts::TAU);
    let (low, high) = ((1.0 - part).sqrt(), part.sqrt());
    UnitQuaternion::from_quaternion(Quaternion::new(
        low * a.sin(),
        low * a.cos(),
        high * b.sin(),
        high * b.cos(),
    ))
}
