//! What is worth practising now: the kinds of shot that cost the most misses, each with layouts to set up
//! again, and whether practising has helped since a day.
//!
//! Input: the shots of a story. Output: at most three kinds. Method: of a kind that is missed more often
//! than all other shots, the misses above what those would bring are what it costs; kinds of which that
//! is the most come first, one of each family (cuts, ways, …), since those overlap. The interval is that
//! of the difference of two chances (`hazard`) times the shots. Before and since are compared for kinds
//! that were chosen by both together, so that choosing them leans to neither. Not modelled: that one
//! shot is of several kinds; a kind that is hard for everybody is told like any other.

use super::{
    estimate::Estimate,
    hazard::{Rate, Tally},
    misses::STRAIGHT_DEG,
    shot_log::ShotLog,
    shots::{After, Shot, each_shot},
    words::percent,
};
use crate::score::Story;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Things that are told.
const TOLD: usize = 3;
/// Layouts to each.
const LAYOUTS: usize = 6;
/// Fewer shots or misses of a kind say nothing of it.
const LEAST_SHOTS: u64 = 20;
const LEAST_MISSES: u64 = 4;
/// A long way, in millimetres.
const FAR_MM: f64 = 1200.0;
/// Balls of a rack from which on it is about the next break shot.
const LATE_PLACE: u32 = 11;

/// A kind of shot that can be practised.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Practice {
    BreakShots,
    /// Cuts of 30 to 45 degrees.
    MiddleCuts,
    /// Of 45 to 60: a quarter of the ball is covered at 48.6.
    QuarterBallCuts,
    /// Of more.
    ThinCuts,
    CutsToTheLeft,
    CutsToTheRight,
    FarFromTheBall,
    FarFromThePocket,
    CueBallAtARail,
    AfterABreakShot,
    LastBallsOfARack,
}

use Practice::{
    AfterABreakShot, BreakShots, CueBallAtARail, CutsToTheLeft, CutsToTheRight, FarFromTheBall,
    FarFromThePocket, LastBallsOfARack, MiddleCuts, QuarterBallCuts, ThinCuts,
};

/// Each with its family: of one family one is told.
const ALL: [(Practice, u8); 11] = [
    (BreakShots, 0),
    (MiddleCuts, 1),
    (QuarterBallCuts, 1),
    (ThinCuts, 1),
    (CutsToTheLeft, 2),
    (CutsToTheRight, 2),
    (FarFromTheBall, 3),
    (FarFromThePocket, 4),
    (CueBallAtARail, 5),
    (AfterABreakShot, 6),
    (LastBallsOfARack, 7),
];

/// One thing to practise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ToPractise {
    pub practice: Practice,
    pub rate: Rate,
    /// All other shots.
    pub others: Rate,
    /// Misses above what the other shots would have brought.
    pub costs: Estimate,
    /// Rests whose shot of this kind was missed, the latest first: to be set up again.
    pub rests: Vec<i64>,
    /// Before the day and since, where there was one.
    pub before: Option<Rate>,
    pub since: Option<Rate>,
    /// Since less before: below 0 it is missed less often now.
    pub change: Option<Estimate>,
}

/// What is worth practising.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Plan {
    /// The most costly first; none where the record does not tell yet.
    pub things: Vec<ToPractise>,
    pub shots: u64,
    pub misses: u64,
    /// The day that parts before from since.
    #[schemars(with = "Option<String>")]
    pub since: Option<Date>,
}

impl Practice {
    fn holds(self, shot: &Shot) -> bool {
        let aim = shot.read.aim;
        let cut =
            |from: f64, to: f64| aim.is_some_and(|aim| (from..to).contains(&aim.cut_deg.abs()));
        match self {
            BreakShots => shot.is_break && shot.after != Some(After::Nothing),
            MiddleCuts => cut(30.0, 45.0),
            QuarterBallCuts => cut(45.0, 60.0),
            ThinCuts => cut(60.0, 90.0),
            CutsToTheLeft => aim.is_some_and(|aim| aim.cut_deg >= STRAIGHT_DEG),
            CutsToTheRight => aim.is_some_and(|aim| aim.cut_deg <= -STRAIGHT_DEG),
            FarFromTheBall => aim.is_some_and(|aim| aim.to_ball_mm > FAR_MM),
            FarFromThePocket => aim.is_some_and(|aim| aim.to_pocket_mm > FAR_MM),
            CueBallAtARail => shot.read.at_rail,
            AfterABreakShot => shot.after == Some(After::Break),
            LastBallsOfARack => shot.place >= LATE_PLACE,
        }
    }

    /// In words, as the subject of a sentence.
    pub const fn name(self) -> &'static str {
        match self {
            BreakShots => "Break shots",
            MiddleCuts => "Cuts of 30 to 45°",
            QuarterBallCuts => "Cuts of 45 to 60°",
            ThinCuts => "Cuts over 60°",
            CutsToTheLeft => "Cuts to the left",
            CutsToTheRight => "Cuts to the right",
            FarFromTheBall => "Balls over 1.2 m from the cue ball",
            FarFromThePocket => "Balls over 1.2 m from the pocket",
            CueBallAtARail => "Shots with the cue ball at a rail",
            AfterABreakShot => "Shots after a break shot",
            LastBallsOfARack => "The last three balls of a rack",
        }
    }
}

impl ToPractise {
    /// The reason in figures, and whether it has helped since.
    pub fn in_words(&self, since: Option<Date>) -> Vec<String> {
        let Tally { faced, missed } = self.rate.tally;
        let between =
            |estimate: Estimate| format!("{} to {}", percent(estimate.low), percent(estimate.high));
        let whole = |value: f64| format!("{value:.0}").replace('-', "−");
        let mut told = vec![format!(
            "{}: {missed} of {faced} missed, {} ({}); all other shots {}. That cost {} misses more than \
             the others' part ({} to {}){}",
            self.practice.name(),
            percent(self.rate.chance.value),
            between(self.rate.chance),
            percent(self.others.chance.value),
            whole(self.costs.value),
            whole(self.costs.low),
            whole(self.costs.high),
            if self.costs.low > 0.0 { "." } else { ": it may be luck." },
        )];
        let Some(since) = since else { return told };
        told.push(match (self.before, self.since, self.change) {
            (Some(before), Some(now), Some(change)) => {
                let points = |part: f64| format!("{:+.0}", 100.0 * part).replace('-', "−");
                let helped = match change {
                    Estimate { high, .. } if high < 0.0 => "it has become better",
                    Estimate { low, .. } if low > 0.0 => "it has become worse",
                    _ => "that may be luck either way",
                };
                format!(
                    "Before {since} {} of {} missed, since then {} of {}: {} points ({} to {}), {helped}.",
                    before.tally.missed,
                    before.tally.faced,
                    now.tally.missed,
                    now.tally.faced,
                    points(change.value),
                    points(change.low),
                    points(change.high),
                )
            }
            _ => format!("Nothing to compare on either side of {since} yet."),
        });
        told
    }
}

/// What is counted of one kind.
#[derive(Default)]
struct Counted {
    all: Tally,
    before: Tally,
    since: Tally,
    /// The latest rests that were missed from, in order.
    rests: Vec<i64>,
}

impl Plan {
    /// The plan of a story; `since` parts it for the comparison.
    pub fn of(story: &Story, log: &ShotLog, since: Option<Date>) -> Self {
        let mut counted: [Counted; ALL.len()] = std::array::from_fn(|_| Counted::default());
        let mut all = Tally::default();
        each_shot(story, log, |shot| {
            all.add(shot.missed);
            for ((practice, _), counted) in ALL.iter().zip(&mut counted) {
                if !practice.holds(shot) {
                    continue;
                }
                counted.all.add(shot.missed);
                if let (Some(since), Some(day)) = (since, shot.day) {
                    let part = if day < since { &mut counted.before } else { &mut counted.since };
                    part.add(shot.missed);
                }
                if shot.missed {
                    if counted.rests.len() == LAYOUTS {
                        counted.rests.remove(0);
                    }
                    counted.rests.push(shot.from_rest);
                }
            }
        });
        let things = ALL.iter().zip(counted).filter_map(|((practice, family), counted)| {
            Some((*family, to_practise(*practice, all, counted)?))
        });
        let mut things: Vec<(u8, ToPractise)> = things.collect();
        things.sort_by(|a, b| b.1.costs.value.total_cmp(&a.1.costs.value));
        let mut told: Vec<(u8, ToPractise)> = Vec::new();
        for (family, thing) in things {
            if told.len() < TOLD && told.iter().all(|(other, _)| *other != family) {
                told.push((family, thing));
            }
        }
        Self {
            things: told.into_iter().map(|(_, thing)| thing).collect(),
            shots: all.faced,
            misses: all.missed,
            since,
        }
    }
}

impl Plan {
    /// All of it in sentences.
    pub fn in_words(&self) -> Vec<String> {
        if self.things.is_empty() {
            return vec![format!(
                "Shots on record: {}, misses: {}. They do not tell yet what is missed more often than the rest.",
                self.shots, self.misses
            )];
        }
        self.things.iter().flat_map(|thing| thing.in_words(self.since)).collect()
    }
}

fn to_practise(practice: Practice, all: Tally, counted: Counted) -> Option<ToPractise> {
    let Counted { all: own, before, since, mut rests } = counted;
    if own.faced < LEAST_SHOTS || own.missed < LEAST_MISSES || own.faced == all.faced {
        return None;
    }
    let rate = Rate::of(own);
    let others = Rate::of(Tally { faced: all.faced - own.faced, missed: all.missed - own.missed });
    let above = rate.above(&others);
    let shots = own.faced as f64;
    let part = |tally: Tally| (tally.faced > 0).then(|| Rate::of(tally));
    let (before, since) = (part(before), part(since));
    rests.reverse();
    (above.value > 0.0).then(|| ToPractise {
        practice,
        rate,
        others,
        costs: above.growing(|above| above * shots),
        rests,
        change: before.as_ref().zip(since.as_ref()).map(|(before, since)| since.above(before)),
        before,
        since,
    })
}

#[cfg(test)]
mod tests;
