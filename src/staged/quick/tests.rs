//! The quick picture holds to the traced one.

use super::*;
use crate::staged::extras::{Extra, Figure, Stance};
use crate::staged::looks::LightKind;
use crate::staged::viewpoint::Profile;
use image::RgbImage;
use nalgebra::Vector3;

/// A random scene in a small picture, without noise.
fn small(seed: u64, player: bool) -> Scene {
    let mut scene = Scene::random(seed, Profile::Near);
    let lens = &mut scene.camera.lens;
    let scale = 240.0 / f64::from(lens.width_px);
    let [width, height] =
        [lens.width_px, lens.height_px].map(|size| (f64::from(size) * scale) as u32);
    (lens.width_px, lens.height_px) = (width, height);
    lens.focal_px *= scale;
    lens.centre_px.x_px *= scale;
    lens.centre_px.y_px *= scale;
    scene.looks.film.read_noise = 0.0;
    scene.looks.film.shot_noise = 0.0;
    scene.extras.retain(|extra| !extra.obstructs());
    if player {
        let figure = Figure::random(&mut Random::new(seed));
        let spot = scene.table.head_spot();
        let stance = Stance {
            tip: Vector3::new(spot.x_mm, spot.y_mm, 32.0),
            back: -Vector3::x(),
            aside: Vector3::y(),
            rise_mm: 90.0,
            bridge_mm: 220.0,
            on_rail: false,
        };
        scene.extras.push(Extra::Player(stance.limbs(&figure)));
    }
    scene
}

fn moment(scene: &Scene) -> Moment {
    let radius = scene.table.ball_radius_mm();
    let balls = scene
        .balls
        .iter()
        .map(|ball| SeenBall {
            number: ball.number,
            centre_mm: Vector3::new(ball.place.x_mm, ball.place.y_mm, radius),
            orientation: ball.orientation,
            sweep_mm: Vector3::zeros(),
        })
        .collect();
    let group = |extra: &Extra| match extra {
        Extra::Player(limbs) => Some(limbs.iter().map(|limb| Prop::Limb(*limb)).collect()),
        _ => None,
    };
    Moment {
        balls,
        props: scene.extras.iter().filter_map(group).collect(),
        light_gains: [1.0; 2],
        exposure: Exposure::PLAIN,
    }
}

/// Mean difference of the pictures' values, and the part of them that differ by more than 24.
fn difference(a: &RgbImage, b: &RgbImage) -> (f64, f64) {
    let (mut sum, mut far) = (0.0, 0.0);
    for (p, q) in a.iter().zip(b.iter()) {
        let step = f64::from(p.abs_diff(*q));
        sum += step;
        far += f64::from(u8::from(step > 24.0));
    }
    (sum / a.len() as f64, far / a.len() as f64)
}

#[test]
fn quick_pictures_look_like_traced_ones() {
    let mut kinds = Vec::new();
    for seed in 0..10 {
        let player = seed % 2 == 1;
        let scene = small(seed, player);
        kinds.push(scene.looks.lighting.kind);
        let quick = Painter::new(&scene).paint(&moment(&scene), &mut Random::new(1));
        let (mean, far) = difference(&scene.render(), &quick);
        let most = if player { 1.6 } else { 0.7 };
        assert!(mean < most && far < 0.004, "{seed} {:?}: {mean} {far}", kinds.last());
        // And not only because most of both is the same cloth.
        let mut bare = scene.clone();
        bare.balls.clear();
        let (apart, _) = difference(&bare.render(), &quick);
        assert!(apart > 1.5 * mean, "{seed}: {apart} without the balls");
    }
    assert!(kinds.contains(&LightKind::Bar) && kinds.contains(&LightKind::Three));
}

#[test]
fn what_moved_away_leaves_no_trace() {
    let scene = small(5, true);
    let there = moment(&scene);
    let mut painter = Painter::new(&scene);
    let fresh = painter.paint(&there, &mut Random::new(1));
    let mut away = there.clone();
    for ball in &mut away.balls {
        ball.centre_mm.x = scene.table.length_mm - ball.centre_mm.x;
    }
    away.props = Vec::new();
    away.exposure.gain = 0.7;
    away.light_gains = [0.2, 1.0];
    let other = painter.paint(&away, &mut Random::new(1));
    assert!(difference(&fresh, &other).0 > 3.0);
    let back = painter.paint(&there, &mut Random::new(1));
    let (mean, far) = difference(&fresh, &back);
    // The light was taken apart and put together again, in single precision.
    assert!(mean < 0.01 && far == 0.0, "{mean} {far}");
}

#[test]
fn noise_is_as_strong_as_the_films() {
    let mut scene = small(8, false);
    let quiet = scene.render();
    scene.looks.film.read_noise = 0.004;
    scene.looks.film.shot_noise = 5e-5;
    let mut painter = Painter::new(&scene);
    let quick = painter.paint(&moment(&scene), &mut Random::new(1));
    let (of_film, _) = difference(&quiet, &scene.render());
    let mut still = scene.clone();
    still.looks.film.read_noise = 0.0;
    still.looks.film.shot_noise = 0.0;
    let clean = Painter::new(&still).paint(&moment(&scene), &mut Random::new(1));
    let (of_quick, _) = difference(&clean, &quick);
    assert!((of_quick / of_film - 1.0).abs() < 0.15, "{of_quick} {of_film}");
}
