//! Balls that can be cut straight into a pocket, and how likely, by a fast formula.
//!
//! Input: balls, a player. Output: for each ball and pocket with an open way for both balls the
//! interval of aims that pocket it, and its chance. Method: the directions that drop (`window`)
//! less those that other balls cover; each of them asks for one place of the cue ball at the
//! meeting, and so for one aim; the chance is the normal integral of the player's aim over that
//! interval, widened by what a tip placed wrong adds in throw. The formula is held to simulated
//! shots in `tests`. Not modelled: pace (a slow ball's curve, a hard one's narrower mouth), kisses
//! after the meeting. Degenerates: a cut of more than [`MOST_CUT_RAD`] is none.

use super::normal;
use super::outcome::{cue_of, objects};
use super::player::Player;
use super::window::{Window, turn};
use crate::motion::{Bed, Placed};
use crate::table::TablePoint;

/// The thinnest cut that is offered, in radians.
const MOST_CUT_RAD: f64 = 1.36;
/// How far inside the noses the cue ball must lie at the meeting, less than its radius, in mm.
const SLACK_MM: f64 = 1.5;
/// Tangent of the cut beyond which throw has reached what friction allows: 7 × 0.06.
const THROW_FULL: f64 = 0.42;

/// A direct pot.
#[derive(Debug, Clone, Copy)]
pub(super) struct Direct {
    pub ball: usize,
    pub pocket: usize,
    /// Directions in which the ball drops.
    pub window: Window,
    /// Half the interval of aims that pocket it, in radians.
    pub half_aim_rad: f64,
    pub cut_rad: f64,
    pub to_meeting_mm: f64,
    pub to_pocket_mm: f64,
    /// The smallest gap that the balls' ways leave to another ball, in mm.
    pub clearance_mm: f64,
    /// What a tip placed wrong adds to the aim's error by throw, one standard deviation, radians.
    pub throw_aim_rad: f64,
    /// By the fast formula.
    pub chance: f64,
}

/// All direct pots of a layout.
pub(super) fn directs(
    bed: &Bed,
    player: &Player,
    balls: &[Placed],
    mut windows: impl FnMut(TablePoint) -> [Option<Window>; 6],
) -> Vec<Direct> {
    let Some(cue) = cue_of(balls) else { return Vec::new() };
    let mut found = Vec::new();
    for ball in objects(balls) {
        for (pocket, window) in windows(ball.place).into_iter().enumerate() {
            let open = window.and_then(|window| open_window(bed, balls, ball, pocket, window));
            found.extend(open.and_then(|window| {
                let way = Way { bed, balls, cue, ball, pocket };
                way.direct(window, player)
            }));
        }
    }
    found
}

/// A window less what other object balls cover of it.
pub(super) fn open_window(
    bed: &Bed,
    balls: &[Placed],
    ball: &Placed,
    pocket: usize,
    window: Window,
) -> Option<Window> {
    let diameter = bed.table().ball_diameter_mm;
    let mouth = bed.table().pockets()[pocket];
    let to_pocket = ball.place.distance_mm(mouth.centre) - 0.5 * mouth.radius_mm;
    objects(balls).filter(|other| other.id != ball.id).try_fold(window, |window, other| {
        let away = ball.place.distance_mm(other.place);
        let Some(half) = covered(away, to_pocket, diameter) else { return Some(window) };
        window.without(ball.place.direction_to(other.place), half)
    })
}

/// Half the directions that a ball at a distance covers from one that runs so far, in radians.
fn covered(away_mm: f64, way_mm: f64, diameter_mm: f64) -> Option<f64> {
    if away_mm >= way_mm + diameter_mm {
        return None;
    }
    let tangent = (away_mm.powi(2) - diameter_mm.powi(2)).max(0.0).sqrt();
    if tangent <= way_mm {
        return Some((diameter_mm / away_mm).min(1.0).asin());
    }
    // It lies near the way's end: only what comes within a diameter of it before is covered.
    let cos = (way_mm.powi(2) + away_mm.powi(2) - diameter_mm.powi(2)) / (2.0 * way_mm * away_mm);
    Some(cos.clamp(-1.0, 1.0).acos())
}

/// One ball on its way to one pocket.
struct Way<'a> {
    bed: &'a Bed,
    balls: &'a [Placed],
    cue: TablePoint,
    ball: &'a Placed,
    pocket: usize,
}

impl Way<'_> {
    /// Where the cue ball meets the ball that is to run in a direction.
    fn meeting(&self, direction_rad: f64) -> TablePoint {
        self.ball.place.moved(direction_rad, -self.bed.table().ball_diameter_mm)
    }

    fn cut(&self, direction_rad: f64) -> f64 {
        turn(self.cue.direction_to(self.meeting(direction_rad)), direction_rad).abs()
    }

    /// The window without directions that are cut too thin.
    fn thick_enough(&self, window: Window) -> Option<Window> {
        let fits = |direction: f64| self.cut(direction) < MOST_CUT_RAD;
        let Window { low_rad, high_rad } = window;
        match (fits(low_rad), fits(high_rad)) {
            (true, true) => Some(window),
            (true, false) => {
                Some(Window { high_rad: super::window::edge(low_rad, high_rad, fits), ..window })
            }
            (false, true) => {
                Some(Window { low_rad: super::window::edge(high_rad, low_rad, fits), ..window })
            }
            (false, false) => None,
        }
    }

    fn direct(&self, window: Window, player: &Player) -> Option<Direct> {
        let window = self.thick_enough(window)?;
        let at = self.meeting(window.middle_rad());
        if !self.has_room(at) {
            return None;
        }
        let aim_rad = self.cue.direction_to(at);
        let aims = |direction: f64| {
            aim_rad + turn(aim_rad, self.cue.direction_to(self.meeting(direction)))
        };
        let (one, other) = (aims(window.low_rad), aims(window.high_rad));
        let aims = Window { low_rad: one.min(other), high_rad: one.max(other) };
        let open = self.open_aims(at, aims)?;
        let cut_rad = self.cut(window.middle_rad());
        let half_aim_rad = 0.5 * open.width_rad();
        // Covered aims take their part of the window: aim for the middle of what is open.
        let share = |aim: f64| (aim - aims.low_rad) / aims.width_rad().max(1e-12);
        let (mut low, mut high) = (share(open.low_rad), share(open.high_rad));
        if one > other {
            (low, high) = (1.0 - high, 1.0 - low);
        }
        let window = Window {
            low_rad: window.low_rad + low * window.width_rad(),
            high_rad: window.low_rad + high * window.width_rad(),
        };
        let throw_rad = throw_error(self.bed, player, cut_rad);
        let per_direction = half_aim_rad / (0.5 * window.width_rad()).max(1e-9);
        let throw_aim_rad = throw_rad * per_direction;
        let sigma = player.aim_rad.hypot(throw_aim_rad);
        Some(Direct {
            ball: self.ball.id,
            pocket: self.pocket,
            window,
            half_aim_rad,
            cut_rad,
            to_meeting_mm: self.cue.distance_mm(at),
            to_pocket_mm: self.ball.place.distance_mm(self.goal()),
            clearance_mm: self.clearance(at),
            throw_aim_rad,
            chance: normal::within(half_aim_rad, sigma),
        })
    }

    fn goal(&self) -> TablePoint {
        self.bed.table().pockets()[self.pocket].centre
    }

    /// Whether the cue ball finds room at a meeting: on the bed, and no ball there.
    fn has_room(&self, at: TablePoint) -> bool {
        let table = self.bed.table();
        let least = table.ball_radius_mm() - SLACK_MM;
        let inside = |value: f64, most: f64| (least..=most - least).contains(&value);
        let in_mouth =
            || table.pockets().iter().any(|p| p.centre.distance_mm(at) < 2.0 * p.radius_mm);
        (inside(at.x_mm, table.length_mm) && inside(at.y_mm, table.width_mm)) || in_mouth()
    }

    fn others(&self) -> impl Iterator<Item = TablePoint> + '_ {
        objects(self.balls).filter(|other| other.id != self.ball.id).map(|other| other.place)
    }

    /// The aims that no other ball covers on the way to the meeting.
    fn open_aims(&self, at: TablePoint, aims: Window) -> Option<Window> {
        let diameter = self.bed.table().ball_diameter_mm;
        let way = self.cue.distance_mm(at);
        self.others().try_fold(aims, |aims, other| {
            let away = self.cue.distance_mm(other);
            let Some(half) = covered(away, way, diameter) else { return Some(aims) };
            aims.without(self.cue.direction_to(other), half)
        })
    }

    fn clearance(&self, at: TablePoint) -> f64 {
        let goal = self.goal();
        let gap = |other: TablePoint| {
            let to_pocket = other.distance_to_way_mm(self.ball.place, goal);
            other.distance_to_way_mm(self.cue, at).min(to_pocket)
        };
        let nearest = self.others().map(gap).fold(f64::INFINITY, f64::min);
        nearest - self.bed.table().ball_diameter_mm
    }
}

/// What a tip placed wrong adds to the ball's direction by throw, one standard deviation, radians.
///
/// The cue ball's side rubs by 5/2 of the tip's offset per speed; of that a seventh goes over to
/// the object ball while it grips, and nothing more once the cut itself makes it slip.
fn throw_error(bed: &Bed, player: &Player, cut_rad: f64) -> f64 {
    let physics = bed.physics();
    let grips = (-(cut_rad.tan() / THROW_FULL).powi(2)).exp();
    let most = physics.ball_friction;
    (2.5 * physics.tip_reach_per_radius * player.tip / 7.0).min(most) * grips
}
