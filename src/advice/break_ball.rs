//! Which ball to leave for the break shot, and how to make a break ball where none lies well.
//!
//! Input: balls at rest, the player. Output: the balls in reach of the rack, each with what break
//! shots from its place give, and a nudge: a pot whose cue ball moves one of the other balls to a
//! better place. Method: places are compared quickly by pots of the break ball alone, from a few
//! places of the cue ball, that lead into the rack or not (`worth`); what is told is played as a
//! break shot with the player's errors (`break_shot`). A nudge is told only where break shots from
//! where it brings the ball leave a next shot more often than now, by more than their intervals.
//! Not modelled: how the cue ball comes to its place for the break shot.

use super::advisor::Advisor;
use super::bound::Bound;
use super::break_shot::{self, BreakPlace};
use super::estimate::Estimate;
use super::odds::{self, Goal};
use super::option::Breadth;
use super::outcome::{self, CUE, Played, objects};
use super::pattern::Landing;
use crate::motion::{Hit, Placed};
use crate::table::{DiamondPoint, Rack, TablePoint};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::HashMap;

/// Break balls this far up the table are in reach of the rack, in parts of the length.
const NEAREST: f64 = 0.5;
/// A break ball lies well where break shots leave a next shot as often as this.
const WELL: f64 = 0.7;
/// A next shot is there where the player makes it more often than not.
const OPEN_CHANCE: f64 = 0.5;
/// Balls whose places are played as break shots, the best by the quick look.
const PLAYED: usize = 3;
/// With more balls than this on the table it is too early.
const MOST_BALLS: usize = 9;
/// Cells in which a place's quick worth is taken over, in mm.
const CELL_MM: f64 = 40.0;
/// Cuts and distance of the cue ball for the quick look.
const CUTS_DEG: [f64; 6] = [-45.0, -32.0, -20.0, 20.0, 32.0, 45.0];
const BACK_MM: f64 = 450.0;
/// A ball that moved less than this was not nudged, in mm.
const NUDGED_MM: f64 = 15.0;
/// Hits that nudge: how many are played with errors, and how often; how often the told one is.
const TRIED: (usize, usize) = (6, 12);
const TIMES: usize = 60;
/// Farther about its mean place than this, on average, a ball is not brought there, in mm.
const MOST_WITHIN_MM: f64 = 300.0;
/// Places of the nudged ball that are played as break shots.
const SAMPLED: usize = 4;
/// By so much a nudge has to better the quick worth to be looked at.
const BETTER: f64 = 1.1;

/// A ball that could be left for the break shot.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BreakBall {
    pub ball: usize,
    /// The best place for the cue ball that was tried.
    pub cue_ball: DiamondPoint,
    /// Chance that a break shot from there pockets it and leaves a next shot.
    pub next_shot: Estimate,
    /// Whether that is in 70 of 100 or more.
    pub lies_well: bool,
}

/// A pot whose cue ball moves a ball to a better place for the break shot.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Nudge {
    /// The ball that drops.
    pub ball: usize,
    pub pocket: usize,
    pub hit: Hit,
    pub probability: Estimate,
    /// The ball that is moved, and its mean place after the hits that go on, in diamonds.
    pub moved: usize,
    pub to: DiamondPoint,
    /// How far it comes to lie from there, on average, in millimetres.
    pub within_mm: f64,
    /// Where the cue ball comes to rest; over the same hits.
    pub landing: Option<Landing>,
    /// Chance of a next shot after a break shot with the best ball as it lies now, and with the
    /// moved ball over some of the places where it comes to lie.
    pub next_shot_now: Estimate,
    pub next_shot_then: Estimate,
}

/// The balls for the break shot.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct BreakBalls {
    /// The best first; empty where no ball lies in reach of the rack, or time was too short.
    pub candidates: Vec<BreakBall>,
    /// None where a ball lies well already, or no nudge betters it.
    pub nudge: Option<Nudge>,
}

/// Quick worth of places, by cell.
type Places = HashMap<[i64; 2], f64>;

/// A hit that nudges.
struct Trial {
    goal: Goal,
    hit: Hit,
    moved: usize,
    worth: f64,
}

impl Advisor<'_> {
    /// Break balls, and a nudge where none lies well.
    pub fn break_balls(&mut self, balls: &[Placed], bound: &Bound) -> BreakBalls {
        let mut found = BreakBalls::default();
        if objects(balls).count() > MOST_BALLS {
            return found;
        }
        let mut places = Places::new();
        let mut near: Vec<(f64, Placed)> = objects(balls)
            .filter(|ball| self.in_reach(ball.place))
            .map(|ball| (0.0, *ball))
            .collect();
        for (worth, ball) in &mut near {
            *worth = self.quick(&mut places, ball.place);
        }
        near.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (_, ball) in near.iter().take(PLAYED) {
            if bound.is_over() {
                break;
            }
            let place = break_shot::sketched_at(self.bed, &self.player, ball.place, self.seed);
            found.candidates.extend(place.map(|place| candidate(ball.id, &place)));
        }
        found.candidates.sort_by(|a, b| b.next_shot.mean.total_cmp(&a.next_shot.mean));
        let well = found.candidates.iter().any(|candidate| candidate.lies_well);
        if !well && objects(balls).count() > 2 && !bound.is_over() {
            let best = near.first().map_or(0.0, |(worth, _)| *worth);
            let now = found.candidates.first().map(|candidate| candidate.next_shot);
            found.nudge = self.nudge(balls, &mut places, (best, now), bound);
        }
        found
    }

    /// Whether a ball at a place could break a rack.
    fn in_reach(&self, place: TablePoint) -> bool {
        let table = self.bed.table();
        place.x_mm > NEAREST * table.length_mm && !Rack::on(table).holds_part_of(place)
    }

    /// What a place is worth for a break ball, by the cell in which it lies.
    fn quick(&mut self, places: &mut Places, place: TablePoint) -> f64 {
        let cell = |value: f64| (value / CELL_MM).floor();
        let (i, j) = (cell(place.x_mm), cell(place.y_mm));
        let key = [i as i64, j as i64];
        if let Some(worth) = places.get(&key) {
            return *worth;
        }
        let table = *self.bed.table();
        let radius = table.ball_radius_mm();
        let middle = |index: f64, most: f64| ((index + 0.5) * CELL_MM).clamp(radius, most - radius);
        let at = TablePoint::new(middle(i, table.length_mm), middle(j, table.width_mm));
        let rack = Rack::on(&table);
        let free = |place: TablePoint| {
            (radius..=table.length_mm - radius).contains(&place.x_mm)
                && (radius..=table.width_mm - radius).contains(&place.y_mm)
                && !rack.holds_part_of(place)
        };
        let mut best: f64 = 0.0;
        if free(at) {
            for window in self.windows.about(at).into_iter().flatten() {
                let meeting = at.moved(window.middle_rad(), -table.ball_diameter_mm);
                for cut_deg in CUTS_DEG {
                    let way_rad = window.middle_rad() + cut_deg.to_radians();
                    let cue = meeting.moved(way_rad, -BACK_MM);
                    if free(cue) {
                        let two = [(CUE, cue), (1, at)].map(|(id, place)| Placed { id, place });
                        best = best.max(self.worth(&two));
                    }
                }
            }
        }
        places.insert(key, best);
        best
    }

    /// The best worth among the balls in reach that are left.
    fn quick_best(&mut self, places: &mut Places, balls: &[Placed]) -> f64 {
        let near: Vec<TablePoint> =
            objects(balls).map(|ball| ball.place).filter(|place| self.in_reach(*place)).collect();
        near.into_iter().map(|place| self.quick(places, place)).fold(0.0, f64::max)
    }

    fn nudge(
        &mut self,
        balls: &[Placed],
        places: &mut Places,
        (best, now): (f64, Option<Estimate>),
        bound: &Bound,
    ) -> Option<Nudge> {
        let mut trials = self.nudges(balls, places, best, bound);
        trials.sort_by(|a, b| b.worth.total_cmp(&a.worth));
        trials.truncate(TRIED.0);
        for trial in &mut trials {
            if bound.is_over() {
                return None;
            }
            let ends = self.ends(balls, trial, (TRIED.1, self.seed));
            let mut sum = 0.0;
            for (after, _) in ends.iter().flatten() {
                let next =
                    self.quick_directs(after).iter().any(|direct| direct.chance >= OPEN_CHANCE);
                sum += if next { self.quick_best(places, after) } else { 0.0 };
            }
            trial.worth = sum / TRIED.1 as f64;
        }
        trials.sort_by(|a, b| b.worth.total_cmp(&a.worth));
        let better = trials.iter().take_while(|trial| trial.worth > best && !bound.is_over());
        better.into_iter().find_map(|trial| self.told_nudge(balls, trial, now))
    }

    /// Hits that bring a ball to a better place when all goes as meant.
    fn nudges(
        &mut self,
        balls: &[Placed],
        places: &mut Places,
        best: f64,
        bound: &Bound,
    ) -> Vec<Trial> {
        let mut trials = Vec::new();
        for direct in &self.likely_pots(balls) {
            for meant in self.meant(balls, direct, Breadth::WHOLE) {
                if bound.is_over() {
                    return trials;
                }
                let goal = (direct.ball, direct.pocket);
                let Some(hit) = self.aimed(balls, direct, &meant, 1) else { continue };
                let Some((played, _)) = outcome::play(self.bed, balls, &hit) else { continue };
                if played.dropped.len() != 1 || !played.makes(goal) {
                    continue;
                }
                for ball in objects(balls).filter(|ball| ball.id != goal.0) {
                    let after = played.after.iter().find(|after| after.id == ball.id);
                    let Some(after) = after.map(|after| after.place) else { continue };
                    if after.distance_mm(ball.place) < NUDGED_MM || !self.in_reach(after) {
                        continue;
                    }
                    let worth = self.quick(places, after);
                    if worth > BETTER * best {
                        let worth = direct.chance * worth;
                        trials.push(Trial { goal, hit, moved: ball.id, worth });
                    }
                }
            }
        }
        trials
    }

    /// Plays a nudge with errors: the balls after it and where the moved ball lies, none where the
    /// run ends or it is gone.
    fn ends(
        &self,
        balls: &[Placed],
        trial: &Trial,
        many: (usize, u64),
    ) -> Vec<Option<(Vec<Placed>, TablePoint)>> {
        let wish = (&trial.hit, trial.goal);
        let end = |played: Option<Played>| {
            let after = played?.after;
            let moved = after.iter().find(|after| after.id == trial.moved)?.place;
            Some((after, moved))
        };
        odds::made(self.bed, &self.player, balls, wish, many).into_iter().map(end).collect()
    }

    fn told_nudge(&self, balls: &[Placed], trial: &Trial, now: Option<Estimate>) -> Option<Nudge> {
        let ends = self.ends(balls, trial, (TIMES, !self.seed));
        let places: Vec<TablePoint> = ends.iter().flatten().map(|(_, place)| *place).collect();
        let cues: Vec<TablePoint> =
            ends.iter().flatten().filter_map(|(after, _)| outcome::cue_of(after)).collect();
        let count = places.len().max(1) as f64;
        let mean = |of: fn(&TablePoint) -> f64| places.iter().map(of).sum::<f64>() / count;
        let to = TablePoint::new(mean(|place| place.x_mm), mean(|place| place.y_mm));
        let within_mm = places.iter().map(|place| place.distance_mm(to)).sum::<f64>() / count;
        if places.len() < SAMPLED || within_mm > MOST_WITHIN_MM || !self.in_reach(to) {
            return None;
        }
        // Where it comes to lie varies: some of its places stand for all.
        let step = (places.len() / SAMPLED).max(1);
        let sampled: Vec<TablePoint> = places.iter().step_by(step).take(SAMPLED).copied().collect();
        let then = sampled.iter().map(|place| {
            break_shot::sketched_at(self.bed, &self.player, *place, self.seed)
                .map_or(0.0, |then| then.figures.next_shot.mean)
        });
        let next_shot_then = Estimate::of(then);
        let next_shot_now = now.unwrap_or(Estimate { mean: 0.0, plus_minus: 0.0 });
        let off = next_shot_now.plus_minus.hypot(next_shot_then.plus_minus);
        (next_shot_then.mean - next_shot_now.mean > off).then(|| Nudge {
            ball: trial.goal.0,
            pocket: trial.goal.1,
            hit: trial.hit,
            probability: Estimate::share(ends.iter().map(Option::is_some)),
            moved: trial.moved,
            to: DiamondPoint::from_table(to, self.bed.table()),
            within_mm,
            landing: Landing::of(&cues, self.bed.table()),
            next_shot_now,
            next_shot_then,
        })
    }
}

fn candidate(ball: usize, place: &BreakPlace) -> BreakBall {
    let next_shot = place.figures.next_shot;
    BreakBall { ball, cue_ball: place.cue_ball, next_shot, lies_well: next_shot.mean >= WELL }
}
