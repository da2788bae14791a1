//! Made-up attempts with their truth: shots, racks, placings, hands, missed rests, stops.
//!
//! What happens is drawn at random; whether layouts can tell it at all is said beside each kind
//! of happening: `in_doubt` marks the attempt that one bears on.

use super::world::World;
use stillcloth::{
    score::Cause,
    table::{Rack, TablePoint},
};

/// What an attempt really was.
#[derive(Debug, Clone, Default)]
pub struct TrueAttempt {
    /// The first rest that was seen of it.
    pub first_rest: Option<i64>,
    /// That rest is read amiss, so that the next one may be the first that shows it.
    pub first_amiss: bool,
    pub run: u32,
    pub racks: u32,
    /// The closing layouts' rests, where seen.
    pub closings: Vec<Option<i64>>,
    pub cause: Option<Cause>,
    /// Something happened that layouts do not determine.
    pub in_doubt: bool,
    /// Something such happened to the attempt before, so that where this one begins is in doubt.
    pub after_doubt: bool,
}

/// How often things happen.
#[derive(Clone, Copy)]
pub struct Habits {
    /// Ends of attempts per shot: miss, scratch, ball off the table, stop.
    pub ends: [f64; 4],
    /// Two balls, three balls in one shot.
    pub more_balls: [f64; 2],
    /// Hands at the table per shot.
    pub hands: f64,
    /// Gaps in watching, and rests missed although watched, per shot.
    pub gaps: f64,
    pub missed: f64,
    /// The rest before or behind racking is missed.
    pub missed_racks: f64,
    /// Restarts, cuts and rests read amiss, per shot; and shots whose rest is read amiss.
    pub mishaps: f64,
    pub misread: f64,
    /// A rest between two shots lasts as short as in a hurry.
    pub hurry: bool,
}

impl Habits {
    /// Runs of about fourteen, and everything else much more often than it really happens.
    pub fn ordinary(seed: u64) -> Self {
        Self {
            ends: [0.05, 0.015, 0.003, 0.004],
            more_balls: [0.04, 0.003],
            hands: 0.02,
            gaps: 0.004,
            missed: 0.01,
            missed_racks: 0.01,
            mishaps: 0.02,
            misread: 0.003,
            hurry: seed.is_multiple_of(4),
        }
    }
}

pub struct Player {
    pub world: World,
    pub habits: Habits,
    pub attempts: Vec<TrueAttempt>,
    /// Between attempts: what is not seen now bears on the next attempt too.
    pub(super) doubt_carries: bool,
    /// The places that balls left at the last shot.
    vacated: Vec<TablePoint>,
    /// The last shot, or two of them taken for one, pocketed several.
    several: bool,
    /// The rest before was read amiss: another shot follows that pockets something, with no hand
    /// and no gap between. An end right behind it nobody could tell, nor two misreadings on end.
    goes_on: bool,
}

impl Player {
    pub fn new(seed: u64, habits: Habits) -> Self {
        Self {
            world: World::new(seed),
            habits,
            attempts: Vec::new(),
            doubt_carries: false,
            vacated: Vec::new(),
            several: false,
            goes_on: false,
        }
    }

    pub(super) fn chance(&mut self, p: f64) -> bool {
        self.world.random.chance(p)
    }

    pub(super) fn attempt(&mut self) -> &mut TrueAttempt {
        self.attempts.last_mut().unwrap()
    }

    pub(super) fn doubt(&mut self) {
        if let Some(attempt) = self.attempts.last_mut() {
            attempt.in_doubt = true;
        }
    }

    /// Lets the table rest during an attempt.
    pub(super) fn rest(&mut self) -> Option<i64> {
        let id = self.world.next_rest();
        let amiss = self.world.misread.is_some();
        if !self.world.rest() {
            return None;
        }
        let attempt = self.attempt();
        attempt.first_amiss |= attempt.first_rest.is_none() && amiss;
        attempt.first_rest.get_or_insert(id);
        Some(id)
    }

    /// Sets up an attempt that is still going on when the session ends.
    pub fn leave_going_on(&mut self) {
        self.world.hide = 0;
        self.set_up();
        while self.attempt().first_rest.is_none() {
            self.rest();
        }
    }

    /// A whole attempt, from racking to its end.
    pub fn play(&mut self) {
        self.set_up();
        let mut first = true;
        loop {
            if self.world.looking_away() {
                self.doubt();
            }
            let goes_on = std::mem::take(&mut self.goes_on);
            if !first && !goes_on && self.chance(self.habits.hands) {
                self.hand();
            }
            let watched = self.world.hide == 0 && !self.world.looking_away();
            if watched && !goes_on && self.chance(self.habits.mishaps) {
                self.mishap(first);
            }
            if self.chance(self.habits.gaps) && self.world.hide == 0 && !goes_on {
                let rests = self.world.random.below(3) as u32;
                self.world.look_away(rests);
                self.doubt();
            }
            // One of several balls may not have been read, and may go or be found only now.
            let several = std::mem::take(&mut self.several);
            let [miss, scratch, foul, stop] = self.habits.ends;
            let draw = if goes_on { 1.0 } else { self.world.random.unit() };
            self.think();
            if several && draw < miss + scratch {
                self.doubt();
            }
            if draw < miss {
                return self.miss(first);
            } else if draw < miss + scratch {
                return self.scratch(first);
            } else if draw < miss + scratch + foul && !first {
                return self.ball_off_table();
            } else if draw < miss + scratch + foul + stop && self.attempt().run > 0 {
                // A table racked anew before any shot is one attempt, set up twice; behind a
                // re-rack it can be a shot that left the rack as it was.
                if first {
                    self.doubt();
                }
                return self.stop();
            }
            self.pot(first);
            first = false;
            if self.world.balls.len() <= 1 {
                self.re_rack();
                first = true;
            }
        }
    }

    fn think(&mut self) {
        if self.habits.hurry {
            self.world.wait(3.2, 3.6);
        } else {
            self.world.wait(8.0, 45.0);
        }
    }

    /// The places that balls left between two layouts.
    fn left_since(&self, before: &[(u8, TablePoint)]) -> Vec<TablePoint> {
        let now = &self.world.balls;
        let left = before.iter().filter(|ball| !now.contains(ball));
        left.map(|(_, at)| *at).collect()
    }

    /// Moves what a shot moves: the cue ball, and some of the others.
    fn stroke(&mut self, first: bool, at_least: usize) {
        let cue = self.world.cue;
        self.stroke_to(first, at_least);
        self.returned(cue);
    }

    fn returned(&mut self, cue: Option<TablePoint>) {
        // A cue ball that comes to rest where it lay looks as if no shot had been played.
        if cue.zip(self.world.cue).is_some_and(|(from, to)| from.distance_mm(to) < 40.0) {
            self.doubt();
        }
    }

    fn stroke_to(&mut self, first: bool, at_least: usize) {
        let moved = if first {
            7 + self.world.random.below(8)
        } else {
            at_least + self.world.random.below(4)
        };
        self.world.scatter(moved);
        self.world.balls_roll();
        let special = self.world.balls.len() <= 1 && self.chance(0.4);
        if special {
            self.special_ends();
        } else {
            self.world.cue = Some(self.world.free_place());
        }
    }

    /// The last ball and the cue ball come to rest where the placing rule has something to say.
    fn special_ends(&mut self) {
        let rack = Rack::on(&self.world.table);
        let spots = [
            rack.places()[4],
            TablePoint::new(rack.places()[7].x_mm - 20.0, rack.places()[7].y_mm + 33.0),
            self.world.table.head_spot(),
            TablePoint::new(self.world.table.head_spot().x_mm - 300.0, 400.0),
            self.world.free_place(),
        ];
        let near = |world: &mut World| {
            let spot = world.random.pick(spots);
            TablePoint::new(
                spot.x_mm + world.random.between(-8.0, 8.0),
                spot.y_mm + world.random.between(-8.0, 8.0),
            )
        };
        self.world.cue = None;
        if let Some((number, old)) = self.world.balls.pop() {
            let at = near(&mut self.world);
            self.world.balls.push((number, if self.world.is_free(at) { at } else { old }));
        }
        let at = near(&mut self.world);
        self.world.cue = Some(if self.world.is_free(at) { at } else { self.world.free_place() });
    }

    fn pot(&mut self, first: bool) {
        let [two, three] = self.habits.more_balls;
        let draw = self.world.random.unit();
        let balls = if draw < three {
            3
        } else if draw < three + two {
            2
        } else {
            1
        };
        let (before, cue) = (self.world.balls.clone(), self.world.cue);
        let balls = balls.min(self.world.balls.len());
        // Three balls in one shot look much like a table being cleared.
        if balls > 2 {
            self.doubt();
        }
        for _ in 0..balls {
            self.world.take_any();
        }
        self.attempt().run += balls as u32;
        self.several = balls > 1;
        self.stroke(first, 0);
        // A rest that is missed although the table is watched: two shots look like one. Before
        // anything else than a further pocketed ball nobody could tell, so it is not played.
        let left = self.world.balls.len();
        if left > 3 && self.world.hide == 0 && self.chance(self.habits.missed) {
            self.world.miss_rests(1);
            self.rest();
            self.think();
            self.world.take_any();
            self.attempt().run += 1;
            self.several = true;
            self.stroke(false, 0);
            self.returned(cue);
            if balls > 1 {
                self.doubt();
            }
        } else if left == 1 && self.chance(self.habits.missed_racks) {
            // The player steps up to rack at once.
            self.world.hide += 1;
            self.doubt();
        }
        self.vacated = self.left_since(&before);
        let watched = self.world.hide == 0 && !self.world.looking_away();
        if left > 1 && watched && self.chance(self.habits.misread) {
            self.misread_shot();
            self.goes_on = true;
        }
        let id = self.rest();
        if left <= 1 {
            self.attempt().closings.push(id);
        }
    }

    fn miss(&mut self, first: bool) {
        // A miss that touches nothing could as well be a hand that moves the cue ball.
        if !first && self.chance(0.02) {
            self.world.cue = Some(self.world.free_place());
            self.world.balls_roll();
            self.doubt();
        } else {
            let vacated = self.vacated.clone();
            self.stroke(first, 1);
            // A ball in a place that was left at the shot before can be one that never went.
            let again =
                |(_, at): &(u8, TablePoint)| vacated.iter().any(|p| p.distance_mm(*at) < 30.0);
            if self.world.balls.iter().any(again) {
                self.doubt();
            }
        }
        self.attempt().cause = Some(Cause::Miss);
        self.rest();
        self.idle(None);
    }

    fn scratch(&mut self, first: bool) {
        let lay = self.world.cue;
        let draw = self.world.random.unit();
        let balls = if draw < 0.7 { 0 } else { 1 };
        for _ in 0..balls {
            self.world.take_any();
        }
        let touched = balls == 0 || self.chance(0.5);
        // A ball and the cue ball gone and nothing else moved: the table may be being cleared.
        if !touched {
            self.doubt();
        }
        self.stroke(first, usize::from(touched));
        self.world.cue = None;
        self.attempt().cause = Some(Cause::Scratch);
        self.rest();
        let scratch = self.attempts.len() - 1;
        if self.chance(0.7) {
            self.world.wait(3.0, 10.0);
            self.world.cue = Some(self.world.free_place());
            self.returned(lay);
            self.world.rest();
        }
        // Where a ball went with it and the game goes on, the cue ball may just not have been read.
        if self.idle(lay) > 0 && balls > 0 {
            self.attempts[scratch].in_doubt = true;
        }
    }

    /// Only the ball that is spotted again tells it from a pocketed one.
    fn ball_off_table(&mut self) {
        let Some((number, _)) = self.world.take_any() else { return self.stop() };
        self.doubt();
        self.stroke(false, 0);
        self.attempt().cause = Some(Cause::Foul);
        self.rest();
        self.world.wait(4.0, 15.0);
        let mut spot = self.world.table.foot_spot();
        while !self.world.is_free(spot) {
            spot.x_mm += 2.0;
        }
        self.world.balls.push((number, spot));
        self.rest();
        self.idle(None);
    }

    /// The player has to go, or has enough.
    fn stop(&mut self) {
        self.attempt().cause = Some(Cause::Stopped);
        match self.world.random.below(3) {
            0 => {
                // The last few balls may as well have gone with the cue ball at a shot.
                if self.world.balls.len() <= 3 {
                    self.doubt();
                }
                self.world.cue = None;
                self.world.balls.clear();
                self.world.wait(5.0, 20.0);
                self.rest_after();
            }
            1 => {
                // Cleared by and by, with rests seen in between.
                self.doubt();
                self.world.wait(3.0, 8.0);
                let balls = self.world.random.below(self.world.balls.len() + 1);
                for _ in 0..balls {
                    self.world.take_any();
                }
                if self.chance(0.5) {
                    self.world.cue = None;
                }
                self.rest_after();
            }
            _ => {
                // Straight to the next rack.
                self.doubt_carries = self.world.balls.len() <= 3;
                if self.doubt_carries {
                    self.doubt();
                }
            }
        }
    }

    /// A rest behind the end of an attempt, which shows nothing of it that is not known by then.
    fn rest_after(&mut self) {
        match self.attempt().first_rest {
            Some(_) => drop(self.rest()),
            None => drop(self.world.rest()),
        }
    }

    /// Practice and putting away, until the next racking; how many strokes. `lay` is where a cue
    /// ball lay that was lost.
    fn idle(&mut self, lay: Option<TablePoint>) -> usize {
        let strokes = self.world.random.below(4);
        for _ in 0..strokes {
            self.world.wait(6.0, 30.0);
            if self.world.cue.is_none() {
                self.world.cue = Some(self.world.free_place());
                self.returned(lay);
                self.world.rest();
                self.world.wait(6.0, 30.0);
            }
            if self.chance(0.7) {
                self.world.take_any();
            }
            self.stroke(false, 1);
            self.world.rest();
        }
        strokes
    }

    /// A hand at the table in the middle of a rack.
    fn hand(&mut self) {
        self.world.laid_by_hand();
        self.world.wait(2.0, 8.0);
        let Some(ball) = self.world.take_any() else { return };
        match self.world.random.below(4) {
            // Nudged a little.
            0 | 1 => {
                let (dx, dy) = (self.world.random.between(20.0, 60.0), self.world.random.normal());
                let at = TablePoint::new(ball.1.x_mm + dx, ball.1.y_mm + 20.0 * dy);
                let r = self.world.table.ball_radius_mm();
                let inside = (r..self.world.table.length_mm - r).contains(&at.x_mm)
                    && (r..self.world.table.width_mm - r).contains(&at.y_mm);
                let moved = inside && self.world.is_free(at);
                self.world.balls.push(if moved { (ball.0, at) } else { ball });
                self.against(ball.1);
                self.rest();
            }
            // Taken up, a rest later put back.
            2 => {
                if self.rest().is_none() {
                    self.doubt();
                }
                self.world.wait(2.0, 8.0);
                let aside = TablePoint::new(ball.1.x_mm + 15.0, ball.1.y_mm);
                let at = if self.chance(0.5) && self.world.is_free(aside) { aside } else { ball.1 };
                self.world.balls.push((ball.0, at));
                self.against(ball.1);
                self.rest();
            }
            // The cue ball moved by hand: nobody can tell that from a miss that touches nothing.
            _ => {
                self.world.balls.push(ball);
                self.world.cue = Some(self.world.free_place());
                self.doubt();
                self.rest();
            }
        }
    }

    /// A ball that moves with the cue ball against it may have been shot, one that hung in the jaws
    /// may have dropped.
    pub(super) fn against(&mut self, ball: TablePoint) {
        let d = self.world.table.ball_diameter_mm;
        let hung =
            self.world.table.pockets().iter().any(|p| p.centre.distance_mm(ball) < p.radius_mm + d);
        if hung || self.world.cue.is_some_and(|cue| cue.distance_mm(ball) < 1.5 * d) {
            self.doubt();
        }
    }
}
