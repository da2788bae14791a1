//! What stands in the way of a run: balls without an open pocket, clusters, dead combinations, and
//! how and when to solve them.
//!
//! Input: balls at rest, the player. Output: [`Trouble`]. Method: whether a ball is open is judged by
//! hits (`open`), as is whether a combination is dead (`dead`); break-outs are pots whose cue ball
//! goes on into a cluster, each played with the player's errors (`break_out`); whether to break out
//! now or later is judged by playing on from either (`timing`). Not modelled: clusters that are
//! broken by an object ball on its way, safeties. Degenerates: a whole rack is one cluster.

mod break_out;
mod dead;
mod open;
mod timing;

pub use break_out::{BreakOut, Insurance};
pub use dead::DeadCombination;
pub use timing::{Timing, Waiting, When};

use super::advisor::Advisor;
use super::bound::Bound;
use super::outcome::objects;
use super::pattern::Pattern;
use crate::motion::Placed;
use schemars::JsonSchema;
use serde::Serialize;

/// Balls nearer to each other than this belong together, in mm: less than a ball fits between.
const NEAR_MM: f64 = 20.0;

/// A ball without an open pocket: from nowhere near it does this player pot it more often than not.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ClosedBall {
    pub ball: usize,
    /// Balls of which each alone is in its way: without it a pocket is open.
    pub blockers: Vec<usize>,
    /// After which step of the best pattern it has an open pocket, counted from 1, or is gone; none
    /// where the pattern does not come so far.
    pub solved_by_step: Option<usize>,
}

/// Balls that lie close together, with at least one among them that has no open pocket.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Cluster {
    pub balls: Vec<usize>,
    /// Those of them without an open pocket.
    pub closed: Vec<usize>,
}

/// The trouble of a layout.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct Trouble {
    pub closed: Vec<ClosedBall>,
    pub clusters: Vec<Cluster>,
    pub dead: Vec<DeadCombination>,
    /// The best pots that open a cluster, the best first.
    pub break_outs: Vec<BreakOut>,
    /// Whether to break out now; none where nothing can be broken out, or time was too short.
    pub timing: Option<Timing>,
}

impl Advisor<'_> {
    /// Whether a layout has clusters.
    pub(super) fn is_troubled(&mut self, balls: &[Placed]) -> bool {
        let lying: Vec<Placed> = objects(balls).copied().collect();
        let closed = self.closed(&lying);
        !self.clusters(&lying, &closed).is_empty()
    }

    /// The trouble of a layout; `pattern` says in which order it is to be played.
    pub fn trouble(
        &mut self,
        balls: &[Placed],
        pattern: Option<&Pattern>,
        bound: &Bound,
    ) -> Trouble {
        let lying: Vec<Placed> = objects(balls).copied().collect();
        let closed = self.closed(&lying);
        let dead = self.dead(&lying);
        let clusters = self.clusters(&lying, &closed);
        let told = closed
            .iter()
            .map(|ball| ClosedBall {
                ball: *ball,
                blockers: self.blockers(&lying, *ball),
                solved_by_step: pattern.and_then(|pattern| self.solved_by(pattern, *ball)),
            })
            .collect();
        let mut trouble = Trouble { closed: told, clusters, dead, ..Trouble::default() };
        if !trouble.clusters.is_empty() {
            trouble.break_outs =
                self.break_outs(balls, (&trouble.clusters, &closed), &bound.part(0.6));
            trouble.timing = self.timing(balls, &trouble, pattern, bound);
        }
        trouble
    }

    /// Balls that lie close together.
    fn clusters(&self, lying: &[Placed], closed: &[usize]) -> Vec<Cluster> {
        let near_mm = self.bed.table().ball_diameter_mm + NEAR_MM;
        let mut left: Vec<Placed> = lying.to_vec();
        let mut clusters = Vec::new();
        while let Some(first) = left.pop() {
            let mut group = vec![first];
            let mut next = 0;
            while let Some(ball) = group.get(next).copied() {
                let (near, far): (Vec<Placed>, Vec<Placed>) =
                    left.iter().partition(|other| other.place.distance_mm(ball.place) < near_mm);
                group.extend(near);
                left = far;
                next += 1;
            }
            let mut balls: Vec<usize> = group.iter().map(|ball| ball.id).collect();
            balls.sort_unstable();
            let shut: Vec<usize> = balls.iter().filter(|id| closed.contains(id)).copied().collect();
            if balls.len() > 1 && !shut.is_empty() {
                clusters.push(Cluster { balls, closed: shut });
            }
        }
        clusters.sort_by_key(|cluster| (std::cmp::Reverse(cluster.closed.len()), cluster.balls[0]));
        clusters
    }

    /// The balls of which each alone shuts a ball's pockets.
    fn blockers(&mut self, lying: &[Placed], ball: usize) -> Vec<usize> {
        let mut blockers = Vec::new();
        for other in lying.iter().filter(|other| other.id != ball) {
            let without: Vec<Placed> =
                lying.iter().filter(|left| left.id != other.id).copied().collect();
            let Some(shut) = without.iter().find(|left| left.id == ball).copied() else { continue };
            if self.is_open(&without, &shut) {
                blockers.push(other.id);
            }
        }
        blockers
    }

    /// The step of a pattern, from 1, after which a ball is open or gone.
    fn solved_by(&mut self, pattern: &Pattern, ball: usize) -> Option<usize> {
        let after = pattern.steps.iter().skip(1).map(|step| &step.before).chain([&pattern.left]);
        for (k, balls) in after.enumerate() {
            let lying: Vec<Placed> = objects(balls).copied().collect();
            let open = match lying.iter().find(|left| left.id == ball).copied() {
                Some(left) => self.is_open(&lying, &left),
                None => true,
            };
            if open {
                return Some(k + 1);
            }
        }
        None
    }
}
