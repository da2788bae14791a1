//! Whether to break out now or later, judged by playing on from either.
//!
//! Input: balls at rest, the best break-out. Output: the balls that attempts brought which began
//! with it, and those that began with the best hit that leaves the clusters alone. Method: both are
//! played with the same errors, and on to the end of the rack by a quick choice of hits that knows
//! of clusters; the difference is taken attempt by attempt. Not modelled: that a player thinks longer
//! than the quick choice. Degenerates: too little time, or no hit that waits, gives no answer.

use super::Trouble;
use crate::advice::advisor::Advisor;
use crate::advice::bound::Bound;
use crate::advice::estimate::Estimate;
use crate::advice::odds::Goal;
use crate::advice::option::{Breadth, Choice};
use crate::advice::outcome::{self, objects};
use crate::advice::pattern::Pattern;
use crate::motion::{Hit, Placed};
use crate::random::Random;
use schemars::JsonSchema;
use serde::Serialize;

/// Attempts at most, and the fewest that say anything.
const ATTEMPTS: usize = 60;
const LEAST_ATTEMPTS: usize = 12;
/// Hits that wait which are compared with errors before one is chosen, and how often.
const WAITING: usize = 5;
const WAITING_TIMES: usize = 10;
/// A ball of a cluster that moved no more than this was left alone, in mm.
const ALONE_MM: f64 = 1.0;
/// Shots of an attempt at most.
const LONGEST: usize = 16;

/// When to break out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum When {
    Now,
    Later,
    /// No difference that the attempts could show.
    Either,
}

/// Breaking out now against waiting.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Timing {
    pub when: When,
    /// Attempts played from each hit, to the end of the rack.
    pub attempts: usize,
    /// Balls that they brought after the break-out, and after the hit that waits.
    pub now_balls: Estimate,
    pub later_balls: Estimate,
    /// The ball, pocket and hit that wait.
    pub waits_with: Waiting,
}

/// The best hit that leaves the clusters alone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Waiting {
    pub ball: usize,
    pub pocket: usize,
    pub hit: Hit,
}

impl Advisor<'_> {
    pub(super) fn timing(
        &mut self,
        balls: &[Placed],
        trouble: &Trouble,
        pattern: Option<&Pattern>,
        bound: &Bound,
    ) -> Option<Timing> {
        let now = trouble.break_outs.first()?;
        let later = self.waiting(balls, trouble, pattern)?;
        let now = ((now.ball, now.pocket), now.hit);
        let mut pairs: Vec<(f64, f64)> = Vec::new();
        while pairs.len() < ATTEMPTS && !bound.is_over() {
            let number = pairs.len() as u64;
            let brings = |advisor: &mut Self, (goal, hit): (Goal, Hit)| {
                advisor.played_on(balls, goal, &hit, number) as f64
            };
            pairs.push((brings(self, now), brings(self, later)));
        }
        if pairs.len() < LEAST_ATTEMPTS {
            return None;
        }
        let gain = Estimate::of(pairs.iter().map(|(now, later)| now - later));
        let when = match gain {
            gain if gain.is_sure() => When::Now,
            Estimate { mean, plus_minus } if mean < -plus_minus => When::Later,
            _ => When::Either,
        };
        Some(Timing {
            when,
            attempts: pairs.len(),
            now_balls: Estimate::of(pairs.iter().map(|(now, _)| *now)),
            later_balls: Estimate::of(pairs.iter().map(|(_, later)| *later)),
            waits_with: Waiting { ball: later.0.0, pocket: later.0.1, hit: later.1 },
        })
    }

    /// The best hit after which every ball of a cluster lies where it lay: the pattern's first where
    /// that is one.
    fn waiting(
        &mut self,
        balls: &[Placed],
        trouble: &Trouble,
        pattern: Option<&Pattern>,
    ) -> Option<(Goal, Hit)> {
        if let Some(first) = pattern.and_then(|pattern| pattern.steps.first())
            && let Some((played, _)) = outcome::play(self.bed, balls, &first.hit)
            && leaves_alone(trouble, balls, &played.after)
        {
            return Some(((first.ball, first.pocket), first.hit));
        }
        let breadth = Breadth { shots: 5, hits: 4, ..Breadth::WHOLE };
        let mut options = self.options(balls, breadth);
        options.retain(|option| leaves_alone(trouble, balls, &option.played.after));
        options.truncate(WAITING);
        let mut best: Option<(f64, Choice)> = None;
        for option in options {
            let value = self.weigh(balls, &option, (WAITING_TIMES, self.seed));
            if best.as_ref().is_none_or(|(most, _)| value > *most) {
                best = Some((value, option));
            }
        }
        best.map(|(_, option)| (option.goal, option.hit))
    }

    /// Plays a hit with errors and goes on to the end of the rack; the balls that it brought.
    fn played_on(&mut self, balls: &[Placed], goal: Goal, hit: &Hit, number: u64) -> usize {
        let mut random = Random::stream(self.seed, number);
        let mut balls = balls.to_vec();
        let (mut goal, mut meant) = (goal, *hit);
        let mut brought = 0;
        for _ in 0..LONGEST {
            let hit = self.player.played(&meant, &mut random);
            let Some((played, _)) = outcome::play(self.bed, &balls, &hit) else { break };
            if !played.makes(goal) {
                break;
            }
            brought += played.dropped.len();
            balls = played.after;
            if objects(&balls).count() <= 1 {
                break;
            }
            let Some(next) = self.options(&balls, Breadth::QUICK).into_iter().next() else { break };
            (goal, meant) = (next.goal, next.hit);
        }
        brought
    }
}

/// Whether every ball of a cluster lies where it lay.
fn leaves_alone(trouble: &Trouble, before: &[Placed], after: &[Placed]) -> bool {
    trouble.clusters.iter().flat_map(|cluster| &cluster.balls).all(|id| {
        let place =
            |balls: &[Placed]| balls.iter().find(|ball| ball.id == *id).map(|ball| ball.place);
        match (place(before), place(after)) {
            (Some(before), Some(after)) => before.distance_mm(after) < ALONE_MM,
            _ => false,
        }
    })
}
