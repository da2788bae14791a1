//! Events against small steps: two ways to reckon the same shot that share no line end alike.

use super::given::*;
use super::stepped::{Ball, Setup, run};
use crate::motion::{Hit, Physics, Placed};
use nalgebra::Vector3;

/// The table's and the physics' numbers for the plain integrator.
fn setup(physics: &Physics) -> Setup {
    Setup {
        half_m: [1.27, 0.635],
        radius_m: RADIUS_M,
        gravity: physics.gravity_m_s2,
        sliding: physics.sliding_friction,
        rolling: physics.rolling_resistance,
        spin_decay: physics.spin_decay_rad_s2,
        ball: (physics.ball_restitution, physics.ball_friction),
        cushion: (physics.cushion_restitution, physics.cushion_friction),
        rise: 2.0 * physics.nose_height_per_diameter - 1.0,
    }
}

/// The greatest distance between both ways' ends, in millimetres.
fn apart_mm(balls: &[Placed], hit: Hit, step_s: f64) -> f64 {
    let shot = shoot(&bed(), balls, hit);
    let struck = after(&shot.events[0], CUE);
    let mut stepped: Vec<Ball> = balls
        .iter()
        .map(|ball| {
            let place = &ball.place;
            let place = Vector3::new(place.x_mm / 1000.0 - 1.27, place.y_mm / 1000.0 - 0.635, 0.0);
            Ball { place, velocity: Vector3::zeros(), spin: Vector3::zeros() }
        })
        .collect();
    let [x, y] = struck.velocity_after_m_s;
    stepped[0].velocity = Vector3::new(x, y, 0.0);
    stepped[0].spin = struck.spin_after_rad_s.into();
    run(&setup(&Physics::default()), &mut stepped, step_s);
    let off = |(ball, end): (&Placed, &Ball)| {
        let lies = lies(&shot, ball.id).unwrap();
        let (x, y) = (1000.0 * (end.place.x + 1.27), 1000.0 * (end.place.y + 0.635));
        (lies.x_mm - x).hypot(lies.y_mm - y)
    };
    balls.iter().zip(&stepped).map(off).fold(0.0, f64::max)
}

#[test]
fn smaller_steps_end_ever_nearer_to_the_events() {
    // Off two cushions with side, off a ball at a cut, an elevated hit.
    let balls = [placed(CUE, 600.0, 400.0), placed(1, 1500.0, 700.0), placed(2, 700.0, 900.0)];
    let hits = [
        Hit { side: 0.6, height: 0.3, ..Hit::centre(0.9, 1.5) },
        Hit { side: -0.5, height: -0.6, ..Hit::centre(0.35, 1.6) },
        Hit { side: 0.5, height: 0.2, elevation_rad: 0.4, ..Hit::centre(0.3, 1.4) },
    ];
    for hit in hits {
        let [coarse, fine] = [2e-5, 2e-6].map(|step_s| apart_mm(&balls, hit, step_s));
        assert!(fine < 0.3 && fine < 0.5 * coarse + 0.01, "{coarse} mm, then {fine} mm: {hit:?}");
    }
}
