//! Plays a hit: from event to event until every ball lies still.
//!
//! Input: a bed, balls at rest in the table frame, the cue ball, a hit. Output: a [`Shot`]. Method:
//! each ball knows when something next happens to it alone, each pair when it meets; the earliest
//! of these is played, and only what it changed is foreseen anew. At the same moment contacts of
//! balls come before cushions (balls are the harder), and contacts that share balls are one.
//! Degenerates: bounces without end are ended by `lean`; after [`MOST_EVENTS`] the balls stop.

use super::bed::Bed;
use super::cluster::{self, NEAR_M, Touch};
use super::contact::Balls;
use super::cushion::Cushion;
use super::foresee::{self, Next};
use super::lean;
use super::piece::{Phase, Piece, State};
use super::shot::{Change, Event, EventKind, Motion, Outcome, Rest, Shot};
use super::start::{self, MOST_BALLS, Placed, StartError};
use super::{Flat, Hit, PlayError};

/// Most events of one shot; random hits stay far below.
pub const MOST_EVENTS: usize = 2000;

/// Balls that meet again within this time keep meeting, in seconds.
const AGAIN_S: f64 = 5e-3;

/// Plays a hit to rest.
///
/// # Errors
/// [`PlayError`] names the ball or the field that cannot be.
pub fn play(bed: &Bed, balls: &[Placed], cue: usize, hit: &Hit) -> Result<Shot, PlayError> {
    hit.check()?;
    let places = start::places(bed, balls)?;
    let mut run = Run::new(bed, balls, &places);
    let cue = run.ids.iter().position(|id| *id == cue).ok_or(StartError::NoCueBall)?;
    run.strike(cue, hit);
    while run.events.len() < MOST_EVENTS {
        if !run.next() {
            return Ok(run.finish(false));
        }
    }
    Ok(run.finish(true))
}

/// The balls in an order of the table's own: what touches several balls at the same moment is then
/// played alike, in whatever order and under whatever ids they were given.
fn by_place(places: &[Flat]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_unstable_by(|a, b| {
        let (a, b) = (places[*a], places[*b]);
        a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y))
    });
    order
}

/// A shot under way.
struct Run<'a> {
    bed: &'a Bed,
    balls: Balls,
    cushion: Cushion,
    now_s: f64,
    /// The given index of each ball.
    given: Vec<usize>,
    ids: Vec<usize>,
    pieces: Vec<Piece>,
    gone: Vec<Option<(usize, f64)>>,
    alone: Vec<(f64, Next)>,
    /// When two balls meet; the greater index first.
    meetings: [[f64; MOST_BALLS]; MOST_BALLS],
    /// When two balls last met, and how often in short order.
    met: [[(f64, u32); MOST_BALLS]; MOST_BALLS],
    past: Vec<Vec<Piece>>,
    events: Vec<Event>,
}

impl<'a> Run<'a> {
    fn new(bed: &'a Bed, balls: &[Placed], places: &[Flat]) -> Self {
        let physics = bed.physics();
        let radius_m = bed.cloth.radius_m;
        let given = by_place(places);
        let rest = |ball: &usize| Piece::new(State::at_rest(places[*ball]), 0.0, &bed.cloth);
        let pieces: Vec<Piece> = given.iter().map(rest).collect();
        Self {
            bed,
            balls: Balls {
                radius_m,
                restitution: physics.ball_restitution,
                friction: physics.ball_friction,
            },
            cushion: Cushion::of(physics, radius_m),
            now_s: 0.0,
            ids: given.iter().map(|ball| balls[*ball].id).collect(),
            given,
            gone: vec![None; pieces.len()],
            alone: vec![(f64::INFINITY, Next::Change); pieces.len()],
            meetings: [[f64::INFINITY; MOST_BALLS]; MOST_BALLS],
            met: [[(f64::NEG_INFINITY, 0); MOST_BALLS]; MOST_BALLS],
            past: vec![Vec::new(); pieces.len()],
            pieces,
            events: Vec::with_capacity(64),
        }
    }

    fn strike(&mut self, cue: usize, hit: &Hit) {
        let before = self.pieces[cue].start;
        let reach = self.bed.physics().tip_reach_per_radius;
        let after = hit.play(before.place, self.bed.cloth.radius_m, reach);
        self.change(&[(cue, before, after)], EventKind::Tip);
    }

    /// Plays the earliest event; false where there is none.
    fn next(&mut self) -> bool {
        let (mut pair, mut pair_s) = ((0, 0), f64::INFINITY);
        let (mut ball, mut alone_s) = (0, f64::INFINITY);
        for i in 0..self.pieces.len() {
            if self.alone[i].0 < alone_s {
                (ball, alone_s) = (i, self.alone[i].0);
            }
            for (j, meets_s) in self.meetings[i][..i].iter().enumerate() {
                if *meets_s < pair_s {
                    (pair, pair_s) = ((j, i), *meets_s);
                }
            }
        }
        if pair_s.min(alone_s) == f64::INFINITY {
            return false;
        }
        if pair_s <= alone_s {
            self.now_s = pair_s;
            self.meet(pair);
        } else {
            self.now_s = alone_s;
            self.happen(ball, self.alone[ball].1);
        }
        true
    }

    /// Two balls meet, and with them whatever touches them.
    fn meet(&mut self, pair: (usize, usize)) {
        let (members, touches) = self.cluster(pair);
        let before: Vec<State> =
            members.iter().map(|i| self.pieces[*i].state_at(self.now_s)).collect();
        let mut after = before.clone();
        let approach = |touch: &Touch| {
            (before[touch.first].velocity - before[touch.second].velocity).dot(&touch.line)
        };
        let slow: Vec<&Touch> = touches
            .iter()
            .filter(|touch| touch.gap_m < 1e-9 && approach(touch) < lean::LEAN_M_S)
            .collect();
        if let [touch] = touches[..]
            && let [first, second] = &mut after[..]
        {
            self.balls.meet(touch.line, first, second);
        } else {
            cluster::part(&touches, &mut after, &self.balls);
        }
        for touch in slow {
            let (i, j) = (members[touch.first], members[touch.second]);
            let again = self.count_again(i.min(j), i.max(j));
            let (mut first, mut second) = (after[touch.first], after[touch.second]);
            lean::part_pressed(touch.line, &mut first, &mut second, &self.bed.cloth, again);
            (after[touch.first], after[touch.second]) = (first, second);
        }
        if let [first, second, ..] = &mut after[..]
            && let Some(touch) = touches.iter().find(|touch| touch.first == 0 && touch.second == 1)
        {
            lean::stop_creeping(touch.line, first, second);
        }
        let changes: Vec<(usize, State, State)> = members
            .iter()
            .zip(before.into_iter().zip(after))
            .map(|(ball, (before, after))| (*ball, before, after))
            .filter(|(ball, before, after)| {
                let named = *ball == pair.0 || *ball == pair.1;
                named || before.velocity != after.velocity || before.spin != after.spin
            })
            .collect();
        self.change(&changes, EventKind::Balls);
    }

    /// How often a pair has met slowly in short order.
    fn count_again(&mut self, low: usize, high: usize) -> u32 {
        let (last_s, count) = self.met[high][low];
        let count = if self.now_s - last_s < AGAIN_S { count + 1 } else { 0 };
        self.met[high][low] = (self.now_s, count);
        count
    }

    /// The balls that hang together with a pair, and their contacts by index among them.
    fn cluster(&self, pair: (usize, usize)) -> (Vec<usize>, Vec<Touch>) {
        let place = |ball: usize| self.pieces[ball].place_at(self.now_s);
        let mut members = vec![pair.0, pair.1];
        let mut places = vec![place(pair.0), place(pair.1)];
        let mut touches = Vec::with_capacity(4);
        let diameter_m = 2.0 * self.bed.cloth.radius_m;
        let mut first = 0;
        while first < members.len() {
            for ball in 0..self.pieces.len() {
                if self.gone[ball].is_some() || ball == members[first] {
                    continue;
                }
                let known = members.iter().position(|member| *member == ball);
                // Contacts with earlier members were noted from their side.
                if known.is_some_and(|second| second < first) {
                    continue;
                }
                let there = known.map_or_else(|| place(ball), |second| places[second]);
                let line = there - places[first];
                let distance = line.norm();
                let forced = first == 0 && known == Some(1);
                if distance - diameter_m > NEAR_M && !forced {
                    continue;
                }
                let second = known.unwrap_or_else(|| {
                    members.push(ball);
                    places.push(there);
                    members.len() - 1
                });
                let gap_m = distance - diameter_m;
                touches.push(Touch { first, second, line: line / distance, gap_m });
            }
            first += 1;
        }
        (members, touches)
    }

    /// Something happens to one ball.
    fn happen(&mut self, ball: usize, next: Next) {
        let before = match next {
            Next::Change => self.pieces[ball].end(self.bed.cloth.radius_m),
            _ => self.pieces[ball].state_at(self.now_s),
        };
        match next {
            Next::Edge(i) => {
                let edge = self.bed.edges[i];
                let kind =
                    edge.pocket.map_or(EventKind::Cushion, |pocket| EventKind::Jaw { pocket });
                self.bounce(ball, before, edge.inward, kind);
            }
            Next::Tip(i) => {
                let tip = self.bed.tips[i];
                let line = before.place - tip.at;
                let kind = EventKind::Jaw { pocket: tip.pocket };
                self.bounce(ball, before, line / line.norm(), kind);
            }
            Next::Drop(pocket) => self.drop(ball, before, pocket),
            Next::Change => {
                let into = Piece::new(before, self.now_s, &self.bed.cloth).phase;
                self.change(&[(ball, before, before)], EventKind::Change { into });
            }
        }
    }

    fn bounce(&mut self, ball: usize, before: State, inward: Flat, kind: EventKind) {
        let mut after = before;
        self.cushion.meet(inward, &mut after);
        if -before.velocity.dot(&inward) < lean::LEAN_M_S {
            lean::stop_pressing(&mut after, -inward, self.bed.cloth.radius_m);
        }
        self.change(&[(ball, before, after)], kind);
    }

    fn drop(&mut self, ball: usize, before: State, pocket: usize) {
        let after = State::at_rest(before.place);
        let event = Change::new(self.bed, self.ids[ball], &before, &after);
        self.note(EventKind::Pocket { pocket }, vec![event]);
        self.gone[ball] = Some((pocket, self.now_s));
        self.past[ball].push(self.pieces[ball]);
        self.pieces[ball] = Piece::new(after, self.now_s, &self.bed.cloth);
        self.alone[ball] = (f64::INFINITY, Next::Change);
        for other in 0..self.pieces.len() {
            self.meetings[ball.max(other)][ball.min(other)] = f64::INFINITY;
        }
    }

    /// Gives balls their new motion, notes the event and foresees what comes of it.
    fn change(&mut self, changes: &[(usize, State, State)], kind: EventKind) {
        let noted = changes
            .iter()
            .map(|(ball, before, after)| Change::new(self.bed, self.ids[*ball], before, after));
        let noted = noted.collect();
        self.note(kind, noted);
        for (ball, _, after) in changes {
            let piece = Piece::new(*after, self.now_s, &self.bed.cloth);
            let old = std::mem::replace(&mut self.pieces[*ball], piece);
            self.past[*ball].push(old);
            self.alone[*ball] = foresee::alone(self.bed, &piece, self.now_s);
        }
        let diameter_m = 2.0 * self.bed.cloth.radius_m;
        for (ball, _, _) in changes {
            for other in 0..self.pieces.len() {
                if other == *ball || self.gone[other].is_some() {
                    continue;
                }
                let until_s = self.alone[*ball].0.min(self.alone[other].0);
                let (low, high) = (other.min(*ball), other.max(*ball));
                self.meetings[high][low] = foresee::meeting(
                    &self.pieces[low],
                    &self.pieces[high],
                    diameter_m,
                    self.now_s,
                    until_s,
                );
            }
        }
    }

    fn note(&mut self, kind: EventKind, balls: Vec<Change>) {
        self.events.push(Event { t_s: self.now_s, kind, balls });
    }

    fn finish(mut self, cut_short: bool) -> Shot {
        let place = |ball: usize| self.bed.to_table(self.pieces[ball].place_at(self.now_s));
        let mut order: Vec<usize> = (0..self.ids.len()).collect();
        order.sort_unstable_by_key(|ball| self.given[*ball]);
        let rest = order
            .iter()
            .map(|&ball| Rest {
                ball: self.ids[ball],
                outcome: match self.gone[ball] {
                    Some((pocket, t_s)) => Outcome::Dropped { pocket, t_s },
                    None => Outcome::Lies(place(ball)),
                },
            })
            .collect();
        let motions = order
            .iter()
            .map(|&ball| {
                let mut pieces = std::mem::take(&mut self.past[ball]);
                if self.gone[ball].is_none() {
                    pieces.push(self.stopped(ball, cut_short));
                }
                let gone_s = self.gone[ball].map_or(f64::INFINITY, |(_, t_s)| t_s);
                Motion { ball: self.ids[ball], pieces, gone_s }
            })
            .collect();
        let table = self.bed.table();
        Shot {
            events: self.events,
            rest,
            motions,
            duration_s: self.now_s,
            cut_short,
            middle_m: [0.5 * table.length_mm / 1000.0, 0.5 * table.width_mm / 1000.0],
        }
    }

    fn stopped(&self, ball: usize, cut_short: bool) -> Piece {
        let piece = self.pieces[ball];
        if cut_short && piece.phase != Phase::Rest {
            let place = piece.place_at(self.now_s);
            return Piece::new(State::at_rest(place), self.now_s, &self.bed.cloth);
        }
        piece
    }
}
