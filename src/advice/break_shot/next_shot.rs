//! What a layout leaves after a break: the player's next shot, and which balls are loose. In closed
//! form, since it is asked for after each of some thousand hits.
//!
//! Input: places at rest (table frame, mm), the player's errors. Output: the chance of the likeliest
//! direct pot, and the number of loose balls. Method: ways are free where no other ball's centre
//! comes nearer than a diameter; a pocket takes a ball within a room of so many ball radii, by how
//! squarely the ball comes to its mouth (a fit to windows found by simulation, and held to them in
//! the tests); the aim's error turns the object ball d / (D cos φ) times as far.
//! Not modelled: throw, banks, combinations, where the cue ball goes then.
//!
//! **Loose** is a ball that lies clear of others and has a free way into a pocket, with room for the
//! cue ball behind it on that line.

use crate::advice::normal;
use crate::table::{Pocket, PocketKind, TablePoint, TableSize};

/// A next shot is open where the player makes it more often than not.
pub(super) const OPEN_CHANCE: f64 = 0.5;
/// Thinner cuts are no shot.
const LEAST_COS_CUT: f64 = 0.26;
/// Half the room of a corner for a ball that comes squarely, and for one that comes along the rail,
/// which guides it, in ball radii.
const CORNER_ROOM: (f64, f64) = (1.35, 2.3);
/// Cosines to the mouth's square between which the room grows from the one to the other.
const CORNER_TURNS: (f64, f64) = (0.92, 0.80);
/// Half the room of a side pocket, in ball radii: so much per cosine, less so much.
const SIDE_ROOM: (f64, f64) = (1.945, 0.37);
/// A ball with a gap of less than this to another is not clear of it, in millimetres.
const CLEAR_MM: f64 = 3.0;
/// Ways may be this much narrower than two balls, in millimetres: what a reading leaves open.
const SLACK_MM: f64 = 0.2;

/// A pocket's mouth between its nose tips.
#[derive(Debug, Clone, Copy)]
struct Mouth {
    middle: TablePoint,
    kind: PocketKind,
    /// Unit vector into the pocket, square to the mouth.
    inward: [f64; 2],
}

/// The mouths of a table and the errors of a player.
#[derive(Debug, Clone)]
pub(super) struct Ways {
    table: TableSize,
    mouths: [Mouth; 6],
    aim_rad: f64,
}

fn mouth(table: &TableSize, pocket: &Pocket) -> Mouth {
    let mut tips: Vec<TablePoint> = table.noses().into_iter().flatten().collect();
    tips.sort_by(|a, b| pocket.centre.distance_mm(*a).total_cmp(&pocket.centre.distance_mm(*b)));
    let (a, b) = (tips[0], tips[1]);
    let middle = TablePoint::new(0.5 * (a.x_mm + b.x_mm), 0.5 * (a.y_mm + b.y_mm));
    let away_mm = middle.distance_mm(pocket.centre).max(1e-9);
    Mouth {
        middle,
        kind: pocket.kind,
        inward: [
            (pocket.centre.x_mm - middle.x_mm) / away_mm,
            (pocket.centre.y_mm - middle.y_mm) / away_mm,
        ],
    }
}

impl Mouth {
    /// Half the room for a ball that comes at a cosine to the mouth's square, in ball radii.
    fn room(&self, square: f64) -> f64 {
        match self.kind {
            PocketKind::Corner => {
                let (straight, along) = CORNER_ROOM;
                let (from, to) = CORNER_TURNS;
                straight + ((from - square) / (from - to)).clamp(0.0, 1.0) * (along - straight)
            }
            PocketKind::Side => SIDE_ROOM.0 * square - SIDE_ROOM.1,
        }
    }
}

impl Ways {
    pub fn new(table: &TableSize, aim_rad: f64) -> Self {
        let pockets = table.pockets();
        Self { table: *table, mouths: pockets.map(|pocket| mouth(table, &pocket)), aim_rad }
    }

    /// Half of the directions in which a pocket takes a ball from a place, in radians; none where
    /// the mouth is shut to it.
    pub fn half_window_rad(&self, ball: TablePoint, pocket: usize) -> Option<f64> {
        let mouth = self.mouths.get(pocket)?;
        let way_mm = ball.distance_mm(mouth.middle).max(self.table.ball_radius_mm());
        let (dx, dy) = (mouth.middle.x_mm - ball.x_mm, mouth.middle.y_mm - ball.y_mm);
        let square = (dx * mouth.inward[0] + dy * mouth.inward[1]) / way_mm;
        let room_mm = self.table.ball_radius_mm() * mouth.room(square);
        (room_mm > 0.0 && square > 0.3).then(|| (room_mm / way_mm).atan())
    }

    fn free(&self, from: TablePoint, to: TablePoint, others: &[TablePoint], but: usize) -> bool {
        let least_mm = self.table.ball_diameter_mm - SLACK_MM;
        let mut others = others.iter().enumerate().filter(|(index, _)| *index != but);
        others.all(|(_, other)| other.distance_to_way_mm(from, to) >= least_mm)
    }

    fn on_bed(&self, place: TablePoint) -> bool {
        let least_mm = 0.9 * self.table.ball_radius_mm();
        (least_mm..=self.table.length_mm - least_mm).contains(&place.x_mm)
            && (least_mm..=self.table.width_mm - least_mm).contains(&place.y_mm)
    }

    /// Where the cue ball meets a ball on the line to a pocket, if that line and place are free.
    fn behind(
        &self,
        index: usize,
        balls: &[TablePoint],
        pocket: usize,
    ) -> Option<(TablePoint, f64)> {
        let ball = balls[index];
        let half_rad = self.half_window_rad(ball, pocket)?;
        let to = self.mouths[pocket].middle;
        if !self.free(ball, to, balls, index) {
            return None;
        }
        let way_mm = ball.distance_mm(to).max(1e-9);
        let back = self.table.ball_diameter_mm / way_mm;
        let ghost = TablePoint::new(
            ball.x_mm - back * (to.x_mm - ball.x_mm),
            ball.y_mm - back * (to.y_mm - ball.y_mm),
        );
        let room = self.on_bed(ghost) && self.free(ghost, ghost, balls, index);
        room.then_some((ghost, half_rad))
    }

    /// The chance of the likeliest direct pot from where the cue ball lies.
    pub fn best_chance(&self, cue: TablePoint, balls: &[TablePoint]) -> f64 {
        let pots = (0..balls.len()).flat_map(|ball| (0..6).map(move |pocket| (ball, pocket)));
        let chance = |(ball, pocket)| self.chance(cue, ball, pocket, balls).unwrap_or(0.0);
        pots.map(chance).fold(0.0, f64::max)
    }

    fn chance(
        &self,
        cue: TablePoint,
        ball: usize,
        pocket: usize,
        balls: &[TablePoint],
    ) -> Option<f64> {
        let to = self.mouths[pocket].middle;
        let place = balls[ball];
        // A cue ball on the wrong side sees no cut that is a shot: told before anything else.
        let toward = [to.x_mm - place.x_mm, to.y_mm - place.y_mm];
        let seen = [place.x_mm - cue.x_mm, place.y_mm - cue.y_mm];
        if toward[0] * seen[0] + toward[1] * seen[1] <= 0.0 {
            return None;
        }
        let (ghost, half_rad) = self.behind(ball, balls, pocket)?;
        let way_mm = cue.distance_mm(ghost);
        let along = [ghost.x_mm - cue.x_mm, ghost.y_mm - cue.y_mm];
        let long_mm = place.distance_mm(to).max(1e-9) * way_mm.max(1e-9);
        let cos_cut = (along[0] * toward[0] + along[1] * toward[1]) / long_mm;
        if cos_cut < LEAST_COS_CUT || !self.free(cue, ghost, balls, ball) {
            return None;
        }
        Some(self.within(half_rad, way_mm, cos_cut))
    }

    /// The chance that an aim is right to within a window.
    fn within(&self, half_rad: f64, way_mm: f64, cos_cut: f64) -> f64 {
        let turn = (way_mm / (self.table.ball_diameter_mm * cos_cut)).max(1.0);
        normal::within(half_rad, turn * self.aim_rad)
    }

    /// The player's chance of a middling shot: a half-ball cut, the cue ball 0.35 of the
    /// table's length from the ball and the ball as far from a corner pocket.
    pub fn middling_chance(&self) -> f64 {
        let way_mm = 0.35 * self.table.length_mm;
        let room_mm = CORNER_ROOM.0 * self.table.ball_radius_mm();
        self.within((room_mm / way_mm).atan(), way_mm, 0.75_f64.sqrt())
    }

    /// How many balls are loose.
    pub fn loose(&self, balls: &[TablePoint]) -> usize {
        let apart_mm = self.table.ball_diameter_mm + CLEAR_MM;
        let clear = |index: usize| {
            let mut others = balls.iter().enumerate().filter(|(other, _)| *other != index);
            others.all(|(_, other)| {
                let (dx, dy) = (balls[index].x_mm - other.x_mm, balls[index].y_mm - other.y_mm);
                dx * dx + dy * dy >= apart_mm * apart_mm
            })
        };
        (0..balls.len())
            .filter(|index| clear(*index))
            .filter(|index| (0..6).any(|pocket| self.behind(*index, balls, pocket).is_some()))
            .count()
    }
}
