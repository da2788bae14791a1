//! Pots whose cue ball goes on into a cluster and opens it.
//!
//! Input: balls at rest, their clusters. Output: break-outs with their figures, the best first.
//! Method: every direct pot is played as meant at many speeds, heights and sides; where the cue ball
//! meets a cluster after the pot and the cluster has fewer closed balls then, the hit is played with
//! the player's errors, the most promising ones more often. A hit counts for what it frees less what
//! it shuts, and for nothing where the run ends or no next shot is left. The told figures come from
//! errors that had no part in choosing.

use super::Cluster;
use super::open::OPEN_CHANCE;
use crate::advice::advisor::Advisor;
use crate::advice::bound::Bound;
use crate::advice::estimate::Estimate;
use crate::advice::odds::{self, Goal};
use crate::advice::option::Breadth;
use crate::advice::outcome::{self, CUE, Played, objects};
use crate::advice::pattern::Landing;
use crate::motion::{Change, EventKind, Hit, Placed, Shot};
use crate::table::{DiamondPoint, TablePoint};
use schemars::JsonSchema;
use serde::Serialize;

/// Hits that are played with errors, and how often, round by round.
const ROUNDS: [(usize, usize); 2] = [(8, 8), (3, 24)];
/// How often what is told is played.
const TIMES: usize = 60;
/// Break-outs that are told.
const TOLD: usize = 3;
/// A ball is insurance where it is playable in this part of the hits that go on.
const INSURED: f64 = 0.8;

/// A ball that is playable wherever the cue ball ends.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Insurance {
    pub ball: usize,
    /// Part of the hits that go on after which the player pots it more often than not.
    pub playable: f64,
}

/// A pot that sends the cue ball into a cluster.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BreakOut {
    /// The ball that drops.
    pub ball: usize,
    pub pocket: usize,
    pub hit: Hit,
    /// The cluster's balls.
    pub cluster: Vec<usize>,
    /// Which of them the cue ball meets when all goes as meant.
    pub meets: usize,
    /// The cue ball's centre there, in diamonds.
    pub at: DiamondPoint,
    /// From where it comes: the direction back along its way, from x toward y.
    pub from_deg: f64,
    /// Its speed there, m/s.
    pub speed_m_s: f64,
    /// Chance that the ball drops and the cue ball does not.
    pub probability: Estimate,
    /// Chance that besides every ball of the cluster has an open pocket then.
    pub opens: Estimate,
    /// Closed balls of the cluster that get an open pocket; over the hits that go on.
    pub freed: Estimate,
    /// Chance that a ball which was open has no pocket then; over the hits that go on.
    pub shuts: Estimate,
    /// Chance that the run goes on with a next shot made more often than not.
    pub next_shot: Estimate,
    /// Where the cue ball comes to rest; over the hits that go on.
    pub landing: Option<Landing>,
    /// The balls that are playable nearly wherever the cue ball ends, the surest first.
    pub insurance: Vec<Insurance>,
}

/// A hit under trial.
struct Trial<'a> {
    goal: Goal,
    hit: Hit,
    cluster: &'a Cluster,
    /// All balls that have no open pocket before it.
    closed: &'a [usize],
    entry: Entry,
    /// Sum over its hits, and their number.
    sum: f64,
    played: f64,
}

/// How the cue ball comes into a cluster.
#[derive(Clone, Copy)]
struct Entry {
    meets: usize,
    at: TablePoint,
    from_rad: f64,
    speed_m_s: f64,
}

/// What one hit did to the trouble.
struct Effect {
    freed: usize,
    still_closed: usize,
    shut: usize,
    next: bool,
    playable: Vec<usize>,
    cue: Option<TablePoint>,
}

impl Advisor<'_> {
    /// The best break-outs.
    pub(super) fn break_outs(
        &mut self,
        balls: &[Placed],
        (clusters, closed): (&[Cluster], &[usize]),
        bound: &Bound,
    ) -> Vec<BreakOut> {
        let mut trials = self.break_out_trials(balls, (clusters, closed), bound);
        for (round, (kept, times)) in ROUNDS.into_iter().enumerate() {
            trials.sort_by(|a, b| (b.sum / b.played).total_cmp(&(a.sum / a.played)));
            trials.truncate(kept);
            for trial in &mut trials {
                if bound.is_over() {
                    break;
                }
                let seed = self.seed.wrapping_add(round as u64);
                if round == 0 {
                    (trial.sum, trial.played) = (0.0, 0.0);
                }
                for effect in self.effects(balls, trial, (times, seed)) {
                    trial.sum += effect.map_or(0.0, |effect| effect.worth());
                    trial.played += 1.0;
                }
            }
        }
        trials.sort_by(|a, b| (b.sum / b.played).total_cmp(&(a.sum / a.played)));
        let mut told: Vec<BreakOut> = Vec::new();
        for trial in &trials {
            let known = told.iter().any(|other| (other.ball, other.pocket) == trial.goal);
            if told.len() < TOLD && !known && (told.is_empty() || !bound.is_over()) {
                told.push(self.break_out(balls, trial));
            }
        }
        told.retain(|break_out| break_out.freed.is_sure());
        told
    }

    /// Hits that open a cluster when all goes as meant.
    fn break_out_trials<'a>(
        &mut self,
        balls: &[Placed],
        (clusters, closed): (&'a [Cluster], &'a [usize]),
        bound: &Bound,
    ) -> Vec<Trial<'a>> {
        let mut trials = Vec::new();
        for direct in &self.likely_pots(balls) {
            for meant in self.meant(balls, direct, Breadth::WHOLE) {
                if bound.is_over() {
                    return trials;
                }
                let goal = (direct.ball, direct.pocket);
                let Some(hit) = self.aimed(balls, direct, &meant, 1) else { continue };
                let Some((played, shot)) = outcome::play(self.bed, balls, &hit) else { continue };
                if !played.makes(goal) {
                    continue;
                }
                let entries = clusters.iter().filter_map(|cluster| {
                    entry(&shot, cluster, goal.0).map(|entry| (cluster, entry))
                });
                for (cluster, entry) in entries {
                    let mut trial =
                        Trial { goal, hit, cluster, closed, entry, sum: 0.0, played: 1.0 };
                    let effect = self.effect(&trial, &played);
                    if effect.freed > effect.shut {
                        trial.sum = direct.chance * effect.worth();
                        trials.push(trial);
                    }
                }
            }
        }
        trials
    }

    /// Plays a hit with errors: what each did, none where the run ends.
    fn effects(
        &mut self,
        balls: &[Placed],
        trial: &Trial<'_>,
        many: (usize, u64),
    ) -> Vec<Option<Effect>> {
        let wish = (&trial.hit, trial.goal);
        let made = odds::made(self.bed, &self.player, balls, wish, many);
        made.into_iter().map(|played| Some(self.effect(trial, &played?))).collect()
    }

    fn effect(&mut self, trial: &Trial<'_>, played: &Played) -> Effect {
        let lying: Vec<Placed> = objects(&played.after).copied().collect();
        let closed = self.closed(&lying);
        let was_closed = &trial.cluster.closed;
        let still_closed = was_closed.iter().filter(|id| closed.contains(id)).count();
        let shut = closed.iter().filter(|id| !trial.closed.contains(id));
        let mut playable: Vec<usize> = self
            .quick_directs(&played.after)
            .iter()
            .filter(|direct| direct.chance >= OPEN_CHANCE)
            .map(|direct| direct.ball)
            .collect();
        playable.sort_unstable();
        playable.dedup();
        Effect {
            freed: was_closed.len() - still_closed,
            still_closed,
            shut: shut.count(),
            next: !playable.is_empty(),
            playable,
            cue: played.cue(),
        }
    }

    fn break_out(&mut self, balls: &[Placed], trial: &Trial<'_>) -> BreakOut {
        let played = self.effects(balls, trial, (TIMES, !self.seed));
        let went_on: Vec<&Effect> = played.iter().flatten().collect();
        let of_all = |yes: &dyn Fn(&Effect) -> bool| {
            Estimate::share(played.iter().map(|effect| effect.as_ref().is_some_and(yes)))
        };
        let mut insurance: Vec<Insurance> = objects(balls)
            .map(|ball| {
                let playable = went_on.iter().filter(|e| e.playable.contains(&ball.id)).count();
                let playable = playable as f64 / went_on.len().max(1) as f64;
                Insurance { ball: ball.id, playable }
            })
            .filter(|insurance| insurance.playable >= INSURED)
            .collect();
        insurance.sort_by(|a, b| b.playable.total_cmp(&a.playable));
        let places: Vec<TablePoint> = went_on.iter().filter_map(|effect| effect.cue).collect();
        let Entry { meets, at, from_rad, speed_m_s } = trial.entry;
        BreakOut {
            ball: trial.goal.0,
            pocket: trial.goal.1,
            hit: trial.hit,
            cluster: trial.cluster.balls.clone(),
            meets,
            at: DiamondPoint::from_table(at, self.bed.table()),
            from_deg: from_rad.to_degrees(),
            speed_m_s,
            probability: of_all(&|_| true),
            opens: of_all(&|effect| effect.still_closed == 0),
            freed: Estimate::of(went_on.iter().map(|effect| effect.freed as f64)),
            shuts: Estimate::share(went_on.iter().map(|effect| effect.shut > 0)),
            next_shot: of_all(&|effect| effect.next),
            landing: Landing::of(&places, self.bed.table()),
            insurance,
        }
    }
}

impl Effect {
    /// Balls freed less balls shut; nothing without a next shot.
    fn worth(&self) -> f64 {
        if self.next { self.freed as f64 - self.shut as f64 } else { 0.0 }
    }
}

/// How the cue ball comes into a cluster after the pot; none where it does not.
fn entry(shot: &Shot, cluster: &Cluster, potted: usize) -> Option<Entry> {
    let meets_cue = |kind: EventKind, balls: &[Change]| {
        kind == EventKind::Balls && balls.iter().any(|change| change.ball == CUE)
    };
    let met = shot.events.iter().filter(|event| meets_cue(event.kind, &event.balls)).skip(1);
    for event in met {
        let cue = event.balls.iter().find(|change| change.ball == CUE)?;
        let of_cluster =
            |change: &&Change| change.ball != potted && cluster.balls.contains(&change.ball);
        let away = |change: &Change| change.place.distance_mm(cue.place);
        let nearest =
            event.balls.iter().filter(of_cluster).min_by(|a, b| away(a).total_cmp(&away(b)));
        if let Some(ball) = nearest {
            let [vx, vy] = cue.velocity_before_m_s;
            return Some(Entry {
                meets: ball.ball,
                at: cue.place,
                from_rad: (-vy).atan2(-vx),
                speed_m_s: vx.hypot(vy),
            });
        }
    }
    None
}
