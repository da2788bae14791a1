//! A plain integrator in fixed small steps, to compare with: three-dimensional vectors throughout,
//! contacts noticed only once balls overlap. It shares no line with what it is compared to, and
//! knows a table without pockets; the bench `motion` uses it too.

use nalgebra::Vector3;

type V = Vector3<f64>;

/// Numbers of the table and the physics (SI units, origin at the table's centre).
#[derive(Clone, Copy)]
pub struct Setup {
    pub half_m: [f64; 2],
    pub radius_m: f64,
    pub gravity: f64,
    pub sliding: f64,
    pub rolling: f64,
    pub spin_decay: f64,
    pub ball: (f64, f64),
    pub cushion: (f64, f64),
    /// Sine of the nose's angle above the balls' middle.
    pub rise: f64,
}

#[derive(Clone, Copy)]
pub struct Ball {
    pub place: V,
    pub velocity: V,
    pub spin: V,
}

/// Friction at a contact: `arm` from the ball's middle; what the impulse does is kept level.
fn rub(setup: &Setup, ball: &mut Ball, arm: V, impulse: V) {
    ball.velocity += V::new(impulse.x, impulse.y, 0.0);
    ball.spin += arm.cross(&impulse) * (2.5 / (setup.radius_m * setup.radius_m));
}

fn surface(ball: &Ball, arm: V) -> V {
    ball.velocity + ball.spin.cross(&arm)
}

fn meet(setup: &Setup, a: &mut Ball, b: &mut Ball) {
    let line = (b.place - a.place).normalize();
    let approach = (a.velocity - b.velocity).dot(&line);
    if approach <= 0.0 {
        return;
    }
    let arm = line * setup.radius_m;
    let slip = surface(a, arm) - surface(b, -arm);
    let slip = slip - line * slip.dot(&line);
    let push = 0.5 * (1.0 + setup.ball.0) * approach;
    let direction = slip / slip.norm().max(1e-300);
    // How a unit impulse changes the slip along its own direction.
    let give = 7.0 * (direction.x.powi(2) + direction.y.powi(2)) + 5.0 * direction.z.powi(2);
    let size = (setup.ball.1 * push).min(slip.norm() / give);
    a.velocity -= line * push;
    b.velocity += line * push;
    rub(setup, a, arm, -direction * size);
    rub(setup, b, -arm, direction * size);
}

fn bank(setup: &Setup, ball: &mut Ball, out: V) {
    let approach = ball.velocity.dot(&out);
    if approach <= 0.0 {
        return;
    }
    let cos = (1.0 - setup.rise * setup.rise).sqrt();
    let normal = out * cos + V::z() * setup.rise;
    let arm = normal * setup.radius_m;
    ball.velocity -= out * ((1.0 + setup.cushion.0) * approach);
    let push = (1.0 + setup.cushion.0) * approach / cos;
    let slip = surface(ball, arm);
    let slip = slip - normal * slip.dot(&normal);
    let direction = slip / slip.norm().max(1e-300);
    let give = 2.5 + direction.x.powi(2) + direction.y.powi(2);
    let size = (setup.cushion.1 * push).min(slip.norm() / give);
    rub(setup, ball, arm, -direction * size);
}

/// One ball over the cloth for one step; whether it moves.
fn run_on(setup: &Setup, ball: &mut Ball, step_s: f64) -> bool {
    if ball.velocity == V::zeros() && ball.spin == V::zeros() {
        return false;
    }
    let down = V::new(0.0, 0.0, -setup.radius_m);
    let slip = surface(ball, down);
    let slip = V::new(slip.x, slip.y, 0.0);
    let grip = setup.sliding * setup.gravity;
    ball.place += ball.velocity * step_s;
    if slip.norm() > 3.5 * grip * step_s {
        rub(setup, ball, down, -slip.normalize() * (grip * step_s));
    } else {
        let speed = ball.velocity.norm();
        let slower = setup.rolling * setup.gravity * step_s;
        ball.velocity *= if speed > slower { 1.0 - slower / speed } else { 0.0 };
        let turn = V::z().cross(&ball.velocity) / setup.radius_m;
        ball.spin = V::new(turn.x, turn.y, ball.spin.z);
    }
    let decay = setup.spin_decay * step_s;
    ball.spin.z -= ball.spin.z.clamp(-decay, decay);
    true
}

/// Steps until every ball stands.
pub fn run(setup: &Setup, balls: &mut [Ball], step_s: f64) {
    let reach = setup.radius_m * (1.0 - setup.rise * setup.rise).sqrt();
    loop {
        let mut moves = false;
        for ball in balls.iter_mut() {
            moves |= run_on(setup, ball, step_s);
            for (axis, out) in [(0, V::x()), (1, V::y())] {
                if ball.place[axis].abs() > setup.half_m[axis] - reach {
                    bank(setup, ball, out * ball.place[axis].signum());
                }
            }
        }
        if !moves {
            return;
        }
        for i in 0..balls.len() {
            let (before, rest) = balls.split_at_mut(i);
            for other in before {
                let apart = rest[0].place - other.place;
                if apart.norm_squared() < 4.0 * setup.radius_m * setup.radius_m {
                    meet(setup, other, &mut rest[0]);
                }
            }
        }
    }
}
