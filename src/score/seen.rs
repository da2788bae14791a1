//! A layout made ready for comparing: balls in millimetres, which numbers are sure, what is racked.
//!
//! In: a layout in diamonds. Out: centres in the table frame. A layout whose foot is open may be
//! the wrong way round: `turned` says so, and `racked_when_turned` finds out from a rack.

use super::change::{Change, CueBall, still};
use crate::{
    layout::{Ball, Layout},
    table::{FootEnd, Rack, TablePoint, TableSize},
};

/// From here on a number is taken as read.
const NUMBER_SURE: f64 = 0.8;
/// How far a ball may lie from its place in a rack that is put down as a whole somewhat off, as a
/// part of the ball's diameter; under one half, so that no ball is near two places.
const RACK_OFF_PER_DIAMETER: f64 = 0.45;
/// How far a ball may lie from its place once the rack's common shift is taken off: loose racking
/// and slight turns move a ball by some millimetres, and so does the noise of its reading.
const RACK_LOOSE_MM: f64 = 14.0;
/// It is no less than so many standard deviations of the reading.
const RACK_SIGMAS: f64 = 6.0;
/// Balls laid out to be racked lie farther from the head rail than this part of the length.
const BEFORE_FOOT: f64 = 0.6;

/// More object balls than these are not on a table: one of them is the cue ball.
const OBJECT_BALLS: usize = 15;
/// How unsure it is then which of them.
const TAKEN_DOUBT: f64 = 0.2;

/// A ball counts as put on a spot if its centre is no farther off than this.
pub(super) const ON_SPOT_MM: f64 = 40.0;

/// One ball.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BallSeen {
    pub at: TablePoint,
    pub sigma_mm: f64,
    /// Only where it is sure.
    pub number: Option<u8>,
    /// How unsure it is still, 0 to 1.
    pub number_doubt: f64,
    /// How unsure it is that this is a ball, 0 to 1.
    pub doubt: f64,
}

/// What stands in the triangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Racked {
    /// All but the apex, and the object ball beside it if one was seen.
    Fourteen {
        loose: Option<BallSeen>,
    },
    Fifteen,
}

/// A layout, seen the right way round.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Seen {
    pub table: TableSize,
    pub cue: Option<BallSeen>,
    /// How unsure it is that this is the cue ball, 0 to 1.
    pub cue_doubt: f64,
    pub objects: Vec<BallSeen>,
    /// None where no rack is complete.
    pub racked: Option<Racked>,
}

impl Seen {
    pub fn of(layout: &Layout, turned: bool) -> Self {
        let table = layout.table;
        let seen = |ball: &Ball| {
            let at = layout.centre_of(ball);
            BallSeen {
                at: if turned { at.turned(&table) } else { at },
                sigma_mm: if ball.sigma_mm.is_finite() { ball.sigma_mm.max(0.0) } else { 0.0 },
                number: ball.number.filter(|_| ball.number_confidence >= NUMBER_SURE),
                number_doubt: (1.0 - ball.number_confidence).clamp(0.0, 1.0),
                doubt: if ball.confidence > 0.0 { (1.0 - ball.confidence).max(0.0) } else { 0.0 },
            }
        };
        let real = |ball: &BallSeen| ball.at.x_mm.is_finite() && ball.at.y_mm.is_finite();
        let mut objects: Vec<_> = layout.object_balls().map(seen).filter(real).collect();
        let mut cue = layout.cue_ball().map(seen).filter(real);
        // Rests of the record's first version do not say how sure a name is.
        let known = layout.cue_ball().map(|ball| ball.number_confidence).filter(|sure| *sure > 0.0);
        let mut cue_doubt = known.map_or(0.0, |sure| (1.0 - sure).clamp(0.0, 1.0));
        if cue.is_none() && objects.len() > OBJECT_BALLS {
            let sure = |ball: &Ball| real(&seen(ball)).then_some(ball.number_confidence);
            let sureness: Vec<_> = layout.object_balls().filter_map(sure).collect();
            if let Some(at) = taken_for_object(&objects, &sureness, &table) {
                (cue, cue_doubt) = (Some(objects.remove(at)), TAKEN_DOUBT);
            }
        }
        let racked = racked(&objects, cue.is_some(), &table);
        Self { table, cue, cue_doubt, objects, racked }
    }

    /// Whether the layout shows a rack the one way round or the other; none where it shows none,
    /// or where its foot is known anyway.
    pub fn racked_when_turned(layout: &Layout) -> Option<bool> {
        if layout.foot != FootEnd::Open {
            return None;
        }
        [false, true].into_iter().find(|turned| Self::of(layout, *turned).racked.is_some())
    }

    /// Sets right which ball is the cue ball, as told by the layout before: one that lies where the
    /// cue ball lay is the cue ball if hardly anything else changed and no ball is missing.
    pub fn name_after(&mut self, before: &Self) {
        let Some(cue) = before.cue else { return };
        let Some(at) = self.objects.iter().position(|ball| still(&cue, ball)) else { return };
        let old = before.all();
        let lay = |ball: &BallSeen| old.iter().any(|old| still(old, ball));
        // After a shot, or where balls are racked, another ball may lie there.
        if self.all().iter().filter(|ball| !lay(ball)).count() > 2 {
            return;
        }
        match self.cue {
            None if self.all().len() >= old.len() => {
                self.cue = Some(self.objects.remove(at));
                self.cue_doubt = 0.0;
            }
            Some(other) if lay(&other) => {
                self.cue = Some(self.objects[at]);
                self.cue_doubt = 0.0;
                self.objects[at] = BallSeen { number: None, ..other };
            }
            None | Some(_) => return,
        }
        self.racked = racked(&self.objects, self.cue.is_some(), &self.table);
    }

    /// The layout if what is read as the cue ball is an object ball.
    pub fn with_cue_as_object(&self) -> Self {
        let objects = self.all();
        Self { cue: None, cue_doubt: 0.0, objects, racked: None, ..*self }
    }

    /// The layout if one of its object balls is none.
    pub fn without(&self, ball: &BallSeen) -> Self {
        let objects: Vec<_> = self.objects.iter().filter(|other| *other != ball).copied().collect();
        let racked = racked(&objects, self.cue.is_some(), &self.table);
        Self { objects, racked, ..*self }
    }

    /// The same layout after the table is turned by 180°.
    pub fn turn(&mut self) {
        for ball in self.objects.iter_mut().chain(&mut self.cue) {
            ball.at = ball.at.turned(&self.table);
        }
        self.racked = racked(&self.objects, self.cue.is_some(), &self.table);
    }

    /// Object balls and cue ball.
    pub fn all(&self) -> Vec<BallSeen> {
        self.objects.iter().chain(&self.cue).copied().collect()
    }

    pub fn count(&self) -> u32 {
        u32::try_from(self.objects.len()).unwrap_or(u32::MAX)
    }

    /// Whether the balls lie as behind a break shot: most are on the table, scattered, and all of
    /// them and the cue ball elsewhere than before.
    pub fn lies_broken(&self, change: &Change) -> bool {
        let played = match change.cue {
            CueBall::Still => false,
            // Hands lay balls out without a cue ball; after a scratch they lie far and wide.
            CueBall::Absent => self.nearer_than(0.5) >= 3,
            CueBall::Moved | CueBall::Gone | CueBall::Came => self.scattered(),
        };
        let refilled = change.gone() < 0 || change.left.len() + change.still.len() >= 8;
        self.count() >= 12 && played && refilled && self.all_anew(change)
    }

    /// Whether every ball lies elsewhere than before, but for few that may have come to lie
    /// there by chance. A ball in a place of the rack can be another one, racked anew.
    pub fn all_anew(&self, change: &Change) -> bool {
        let rack = Rack::on(&self.table);
        let off_mm = RACK_OFF_PER_DIAMETER * self.table.ball_diameter_mm;
        let near = |ball: &BallSeen| is_near(&rack, ball, off_mm);
        let loose = change.still.iter().filter(|ball| !near(ball)).count();
        let moved = change.left.len().max(change.new.len());
        moved >= 3 && loose * 5 <= moved
    }

    /// Whether the object balls lie all over the table, or about the rest of a rack, and not as
    /// hands lay them out to be racked.
    pub fn scattered(&self) -> bool {
        let held = self.in_rack();
        let far = self.nearer_than(0.5) >= 3 || self.nearer_than(BEFORE_FOOT) >= 4;
        far || (held >= 3 && self.objects.len() - held >= 4)
    }

    /// Whether a ball lies where one is put that is spotted again: on the foot spot or, where that is
    /// taken, behind it.
    pub fn lies_spotted(&self, ball: &BallSeen) -> bool {
        let foot = self.table.foot_spot();
        (ball.at.y_mm - foot.y_mm).abs() < ON_SPOT_MM && ball.at.x_mm > foot.x_mm - ON_SPOT_MM
    }

    /// Whether most of a rack stands in its places, though not all of it is seen.
    pub fn stands_racked(&self) -> bool {
        self.in_rack() >= 11
    }

    /// How many object balls lie in places of the rack.
    fn in_rack(&self) -> usize {
        let rack = Rack::on(&self.table);
        let in_place = |ball: &&BallSeen| is_near(&rack, ball, RACK_LOOSE_MM);
        self.objects.iter().filter(in_place).count()
    }

    /// How many object balls lie nearer to the head rail than this part of the table's length.
    fn nearer_than(&self, part: f64) -> usize {
        let limit_mm = part * self.table.length_mm;
        self.objects.iter().filter(|ball| ball.at.x_mm < limit_mm).count()
    }
}

/// Which of more object balls than there are is the cue ball: of those not in the rack the one whose number is
/// the least sure.
fn taken_for_object(objects: &[BallSeen], sureness: &[f64], table: &TableSize) -> Option<usize> {
    let rack = Rack::on(table);
    let numbers = objects.iter().zip(sureness).enumerate();
    let open = numbers.filter(|(_, (ball, _))| !is_near(&rack, ball, RACK_LOOSE_MM));
    open.min_by(|(_, (_, a)), (_, (_, b))| a.total_cmp(b)).map(|(at, _)| at)
}

/// Whether a ball lies no farther than this from a place of the rack.
fn is_near(rack: &Rack, ball: &BallSeen, off_mm: f64) -> bool {
    rack.places().iter().any(|place| ball.at.distance_mm(*place) < off_mm)
}

/// What stands in the triangle; a rack is complete with fifteen object balls on the table, or with
/// fourteen and the cue ball.
fn racked(objects: &[BallSeen], cue: bool, table: &TableSize) -> Option<Racked> {
    if objects.len() < 14 || (objects.len() == 14 && !cue) {
        return None;
    }
    let off_mm = RACK_OFF_PER_DIAMETER * table.ball_diameter_mm;
    let rack = Rack::on(table);
    let at_place =
        |place: &TablePoint| objects.iter().position(|ball| ball.at.distance_mm(*place) < off_mm);
    let apex = at_place(&rack.places()[0]);
    let held: Vec<usize> = rack.continuing().iter().map_while(at_place).collect();
    if held.len() < 14 {
        return None;
    }
    let shift = |axis: fn(TablePoint) -> f64| {
        let sum: f64 = held
            .iter()
            .zip(rack.continuing())
            .map(|(i, place)| axis(objects[*i].at) - axis(*place))
            .sum();
        sum / 14.0
    };
    let (dx, dy) = (shift(|p| p.x_mm), shift(|p| p.y_mm));
    let in_place = |i: usize, place: TablePoint| {
        let limit_mm = RACK_LOOSE_MM.max(RACK_SIGMAS * objects[i].sigma_mm);
        objects[i].at.distance_mm(TablePoint::new(place.x_mm + dx, place.y_mm + dy)) < limit_mm
    };
    if !held.iter().zip(rack.continuing()).all(|(i, place)| in_place(*i, *place)) {
        return None;
    }
    if apex.is_some_and(|i| in_place(i, rack.places()[0])) {
        return Some(Racked::Fifteen);
    }
    let loose = (0..objects.len()).find(|i| !held.contains(i)).map(|i| objects[i]);
    Some(Racked::Fourteen { loose })
}
