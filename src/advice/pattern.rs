//! An order in which to play the balls, with a hit for each, up to the break shot.
//!
//! Input: balls at rest, a bound. Output: the best pattern found and others that differ from it
//! early. Method: best-first in layers (beam search): of all positions after so many shots the most
//! promising are kept and gone on from; each candidate hit is played with the player's errors, and
//! what it leaves is judged by `worth`. Wider and wider beams are searched until the bound is
//! reached, so that an answer is there early and only gets better. Steps are then played many times
//! from where they are meant to begin, for what is told to the player. Not modelled: that a plan is
//! changed after a ball comes to lie elsewhere; the plan is made anew after each shot. Degenerates:
//! where no shot is on any more a pattern ends early and says so.

use super::advisor::Advisor;
use super::bound::Bound;
use super::break_shot;
use super::odds::odds;
use super::option::{Breadth, Choice};
use super::outcome::{Played, cue_of, objects};
use super::scan::Kind;
use crate::motion::{Hit, Placed};
use crate::table::{DiamondPoint, Rack, TablePoint, TableSize};
use schemars::JsonSchema;
use serde::Serialize;

/// Positions kept in each layer, search by search.
const WIDTHS: [usize; 4] = [3, 8, 20, 48];
/// How often a candidate is played with errors: at the first shot, and at later ones.
const DRAWS: (usize, usize) = (12, 4);
/// As so many hits counts the fast formula's chance beside those.
const FORMULA: f64 = 4.0;
/// How often each step of a pattern is played for its figures, and after how many of those hits what
/// the last step leaves is judged.
const TIMES: (usize, usize) = (60, 16);
/// Patterns that are played again by hits that did not choose them, and how many of them are told.
const RANKED: usize = 5;
/// Ends of a pattern from which the break shot is played.
const BROKEN: usize = 3;
const TOLD: usize = 3;

/// Where the cue ball comes to rest, hit after hit with the player's errors.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Landing {
    /// The mean place of those hits from which the run goes on, in diamonds.
    pub at: DiamondPoint,
    /// One standard deviation along and across the direction in which places vary most.
    pub sigma_mm: [f64; 2],
    /// That direction, from x toward y.
    pub direction_deg: f64,
}

/// One shot of a pattern.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "PatternStep")]
pub struct Step {
    /// The ball that drops, by number.
    pub ball: usize,
    pub pocket: usize,
    #[serde(flatten)]
    pub way: Kind,
    pub hit: Hit,
    /// Chance that it drops and the cue ball does not, from where the step is meant to begin.
    pub probability: f64,
    pub scratch: f64,
    /// None where no played hit went on.
    pub landing: Option<Landing>,
    /// Where the balls lie before it, if everything went as meant.
    #[serde(skip)]
    pub before: Vec<Placed>,
}

/// An order and a hit for each shot.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct Pattern {
    pub steps: Vec<Step>,
    /// The ball that is left for the break shot; none where the pattern does not come so far.
    pub break_ball: Option<usize>,
    /// The ball before it.
    pub key_ball: Option<usize>,
    /// Balls that this player may expect, this rack's and what the break shot promises.
    pub expected: f64,
    /// The balls after the last step, if everything went as meant.
    #[serde(skip)]
    pub left: Vec<Placed>,
}

/// What a search found.
#[derive(Debug, Clone, Default, Serialize, JsonSchema)]
pub struct Patterns {
    /// The best first.
    pub patterns: Vec<Pattern>,
    /// Positions that were gone on from.
    pub positions: usize,
    /// Whether the widest search came to its end before the bound.
    pub exhausted: bool,
}

/// A pattern with what it was judged by.
struct Ranked {
    pattern: Pattern,
    /// Balls of its steps, and the chance to come through them.
    so_far: f64,
    reached: f64,
    /// Balls after its last step, hit by hit.
    left: Vec<Vec<Placed>>,
}

/// A position on the way.
#[derive(Clone)]
struct Node {
    balls: Vec<Placed>,
    choices: Vec<(Vec<Placed>, Choice)>,
    /// Balls expected on the way here, and the chance to come here.
    so_far: f64,
    reached: f64,
    /// `so_far` and what is to come.
    value: f64,
    ended: bool,
}

impl Advisor<'_> {
    /// The best patterns that are found within a bound.
    pub fn patterns(&mut self, balls: &[Placed], bound: &Bound) -> Patterns {
        self.searched(balls, &WIDTHS, bound)
    }

    /// The patterns of the narrowest search: what is there first.
    pub fn first_patterns(&mut self, balls: &[Placed]) -> Patterns {
        self.searched(balls, &WIDTHS[..1], &Bound::default())
    }

    fn searched(&mut self, balls: &[Placed], widths: &[usize], bound: &Bound) -> Patterns {
        let mut positions = 0;
        let mut best: Vec<Node> = Vec::new();
        let mut exhausted = false;
        for width in widths.iter().copied() {
            let before = positions;
            let Some(found) = self.search(balls, width, bound, (&mut positions, best.is_empty()))
            else {
                break;
            };
            best.extend(found);
            best.sort_by(|a, b| b.value.total_cmp(&a.value));
            best = distinct(best);
            exhausted = width == WIDTHS[WIDTHS.len() - 1];
            if bound.is_reached(positions) || positions == before {
                break;
            }
        }
        let mut ranked = self.ranked(&best);
        if widths.len() > 1 {
            self.by_break_shots(&mut ranked, bound);
        }
        let patterns = ranked.into_iter().map(|ranked| ranked.pattern).take(TOLD).collect();
        Patterns { patterns, positions, exhausted }
    }

    /// One beam; none where the bound cut it short, unless nothing was found before.
    fn search(
        &mut self,
        balls: &[Placed],
        width: usize,
        bound: &Bound,
        (positions, first): (&mut usize, bool),
    ) -> Option<Vec<Node>> {
        let mut layer = vec![Node {
            balls: balls.to_vec(),
            choices: Vec::new(),
            so_far: 0.0,
            reached: 1.0,
            value: 0.0,
            ended: false,
        }];
        while layer.iter().any(|node| !node.ended) {
            let mut next = Vec::new();
            for node in layer {
                if node.ended {
                    next.push(node);
                    continue;
                }
                // There has to be an answer: one step at least, however short the time.
                if bound.is_reached(*positions) && !(first && *positions == 0) {
                    if !first {
                        return None;
                    }
                    // End this way as it stands.
                    next.push(Node { ended: true, ..node });
                    continue;
                }
                *positions += 1;
                next.extend(self.gone_on(&node, width));
            }
            next.sort_by(|a, b| b.value.total_cmp(&a.value));
            next.truncate(width);
            layer = next;
        }
        layer.retain(|node| !node.choices.is_empty());
        Some(layer)
    }

    /// A position's successors; the position itself, ended, where there are none.
    fn gone_on(&mut self, node: &Node, width: usize) -> Vec<Node> {
        let root = node.choices.is_empty();
        let left = objects(&node.balls).count();
        // The last ball is for the break shot: more are racked before it is played.
        if left <= 1 && !root {
            return vec![Node { ended: true, ..node.clone() }];
        }
        let shots = if root { 8 } else { 4 };
        let breadth = if width > WIDTHS[0] {
            Breadth { shots, hits: 3, indirect: root, ..Breadth::WHOLE }
        } else if root {
            Breadth { shots, hits: 2, side: false, ..Breadth::WHOLE }
        } else {
            Breadth { shots, hits: 2, indirect: root, ..Breadth::NARROW }
        };
        let options = self.options(&node.balls, breadth);
        if options.is_empty() {
            return vec![Node { ended: true, ..node.clone() }];
        }
        let draws = if root { DRAWS.0 } else { DRAWS.1 };
        let kept = options.into_iter().take(if root { 10 } else { 6 });
        kept.map(|choice| {
            let (chance, worth) = self.judged(&node.balls, &choice, draws);
            let mut choices = node.choices.clone();
            let mut ended = objects(&choice.played.after).count() <= 1;
            ended |= choices.len() > 15;
            let Played { after, .. } = choice.played.clone();
            let reached = node.reached * chance;
            let so_far = node.so_far + reached;
            let value = node.so_far + reached * worth;
            choices.push((node.balls.clone(), choice));
            Node { balls: after, choices, so_far, reached, value, ended }
        })
        .collect()
    }

    /// The chance that an option goes on, and what it brings and leaves to come where it does.
    ///
    /// By few hits neither is known well, and the best of many would be the luckiest: the chance is
    /// drawn toward the fast formula's, and the hit as it is meant is one of those that go on.
    fn judged(&mut self, balls: &[Placed], choice: &Choice, draws: usize) -> (f64, f64) {
        let odds =
            odds(self.bed, &self.player, balls, (&choice.hit, choice.goal), (draws, self.seed));
        let made = odds.going_on.len() as f64;
        let chance = (FORMULA * choice.chance + made) / (FORMULA + draws as f64);
        let mut sum = choice.value / choice.chance.max(1e-9);
        for played in &odds.going_on {
            sum += played.dropped.len() as f64 + self.worth(&played.after);
        }
        (chance, sum / (made + 1.0))
    }

    /// Patterns with their figures, the best first. Since the search took the best of many by few
    /// hits each, they are played again and ranked by that.
    fn ranked(&mut self, best: &[Node]) -> Vec<Ranked> {
        let mut known: Vec<(Step, Vec<Played>)> = Vec::new();
        let mut ranked: Vec<Ranked> = Vec::new();
        for node in best.iter().take(RANKED) {
            let mut steps: Vec<Step> = Vec::new();
            let (mut expected, mut reached, mut left) = (0.0, 1.0, Vec::new());
            for (before, choice) in &node.choices {
                // What several patterns begin with is played once.
                let same = |(step, _): &&(Step, Vec<Played>)| {
                    step.hit == choice.hit && step.before == *before
                };
                let (step, going_on) = match known.iter().find(same) {
                    Some(found) => found.clone(),
                    None => self.step(before, choice),
                };
                reached *= step.probability;
                expected += reached;
                left.clone_from(&going_on);
                steps.push(step.clone());
                known.push((step, going_on));
            }
            let mut worth = 0.0;
            left.truncate(TIMES.1);
            for played in &left {
                worth += self.worth(&played.after) / left.len() as f64;
            }
            let pattern = Self::pattern(node, steps, expected + reached * worth);
            let left = left.into_iter().map(|played| played.after).collect();
            ranked.push(Ranked { pattern, so_far: expected, reached, left });
        }
        ranked.sort_by(|a, b| b.pattern.expected.total_cmp(&a.pattern.expected));
        ranked
    }

    /// Ranks patterns anew by break shots played from where they end; those that do not come so far,
    /// and what the time does not reach, keep what they were judged by.
    fn by_break_shots(&mut self, ranked: &mut [Ranked], bound: &Bound) {
        let rack = Rack::on(self.bed.table());
        for Ranked { pattern, so_far, reached, left } in ranked.iter_mut() {
            let ends =
                left.iter().filter_map(|balls| match &objects(balls).collect::<Vec<_>>()[..] {
                    [ball] => Some((cue_of(balls)?, ball.place)),
                    _ => None,
                });
            let free = |(cue, ball): &(TablePoint, TablePoint)| {
                !rack.holds_part_of(*cue) && !rack.holds_part_of(*ball)
            };
            let ends: Vec<_> = ends.filter(free).take(BROKEN).collect();
            if ends.len() < BROKEN || bound.is_over() {
                continue;
            }
            let worth = |(cue, ball): &(TablePoint, TablePoint)| {
                break_shot::glanced_at(self.bed, &self.player, (*cue, *ball), self.seed)
            };
            let mean = ends.iter().map(worth).sum::<f64>() / ends.len() as f64;
            pattern.expected = *so_far + *reached * mean;
        }
        ranked.sort_by(|a, b| b.pattern.expected.total_cmp(&a.pattern.expected));
    }

    fn pattern(node: &Node, steps: Vec<Step>, expected: f64) -> Pattern {
        let last = objects(&node.balls).map(|ball| ball.id).collect::<Vec<_>>();
        let break_ball = match last[..] {
            [ball] => Some(ball),
            _ => None,
        };
        let key_ball = break_ball.and(steps.last()).map(|step| step.ball);
        Pattern { steps, break_ball, key_ball, expected, left: node.balls.clone() }
    }

    fn step(&self, before: &[Placed], choice: &Choice) -> (Step, Vec<Played>) {
        let draws = (TIMES.0, !self.seed);
        let odds = odds(self.bed, &self.player, before, (&choice.hit, choice.goal), draws);
        let places: Vec<TablePoint> = odds.going_on.iter().filter_map(Played::cue).collect();
        let step = Step {
            ball: choice.goal.0,
            pocket: choice.goal.1,
            way: choice.way,
            hit: choice.hit,
            probability: odds.chance,
            scratch: odds.scratch,
            landing: Landing::of(&places, self.bed.table()),
            before: before.to_vec(),
        };
        (step, odds.going_on)
    }
}

/// Of patterns that begin with the same shot and hit only the best; they are sorted.
fn distinct(nodes: Vec<Node>) -> Vec<Node> {
    let mut kept: Vec<Node> = Vec::new();
    for node in nodes {
        let first = |node: &Node| node.choices.first().map(|(_, choice)| choice.goal);
        let order = |node: &Node| node.choices.iter().map(|(_, c)| c.goal).collect::<Vec<_>>();
        let same = kept.iter().filter(|other| first(other) == first(&node)).count();
        if same < 2 && !kept.iter().any(|other| order(other) == order(&node)) {
            kept.push(node);
        }
    }
    kept
}

impl Landing {
    /// Mean and spread of places; none without any.
    pub(super) fn of(places: &[TablePoint], table: &TableSize) -> Option<Self> {
        if places.is_empty() {
            return None;
        }
        let count = places.len() as f64;
        let mean = |of: fn(&TablePoint) -> f64| places.iter().map(of).sum::<f64>() / count;
        let (x, y) = (mean(|p| p.x_mm), mean(|p| p.y_mm));
        let product = |of: &dyn Fn(f64, f64) -> f64| {
            places.iter().map(|p| of(p.x_mm - x, p.y_mm - y)).sum::<f64>() / count
        };
        let (xx, yy) = (product(&|dx, _| dx * dx), product(&|_, dy| dy * dy));
        let xy = product(&|dx, dy| dx * dy);
        // Principal axes of a 2 × 2 matrix.
        let root = (0.25 * (xx - yy).powi(2) + xy * xy).sqrt();
        let (most, least) = (0.5 * (xx + yy) + root, (0.5 * (xx + yy) - root).max(0.0));
        Some(Self {
            at: DiamondPoint::from_table(TablePoint::new(x, y), table),
            sigma_mm: [most.sqrt(), least.sqrt()],
            direction_deg: (0.5 * (2.0 * xy).atan2(xx - yy)).to_degrees(),
        })
    }
}
