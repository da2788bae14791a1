//! Everything that a player's record says, in one value: what `stillcloth record` prints and the page
//! shows.

use super::{
    Estimate, Goal,
    chance::{Chance, Odds},
    hazard::{Hazards, Tallies},
    misses::Misses,
    over_time::{Period, periods},
    pace::Pace,
    plan::Plan,
    run::{Ending, Run},
    shot_log::ShotLog,
    steady::LateBalls,
    survival::{Median, Span, Survival},
    trend::Trend,
};
use crate::score::Story;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The schema of [`Progress`] as published, `progress.schema.json`.
pub const PROGRESS_SCHEMA: &str = include_str!("progress.schema.json");

/// The chance to reach a goal is that of the player at present: of so many latest attempts.
pub const RECENT: usize = 300;

/// The runs of one player, in the order they were played.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Record {
    pub runs: Vec<Run>,
    /// Attempts whose start was not seen: they are in no figure of runs.
    pub left_out: u32,
    /// What the shots of all attempts say; none where there are no shots on record.
    pub misses: Option<Misses>,
    pub plan: Option<Plan>,
}

impl Record {
    /// All attempts of a story.
    pub fn of_story(story: &Story) -> Self {
        let runs: Vec<Run> = story.attempts.iter().filter_map(Run::of_attempt).collect();
        let left_out = (story.attempts.len() - runs.len()) as u32;
        Self { runs, left_out, ..Self::default() }
    }

    /// The same with what the rests tell of the shots; `since` parts the plan's comparison.
    pub fn of_study(story: &Story, log: &ShotLog, since: Option<Date>) -> Self {
        // Each looks at every shot, and of a long record that takes its time.
        let (misses, plan) = std::thread::scope(|scope| {
            let plan = scope.spawn(|| Plan::of(story, log, since));
            let misses = Misses::of(story, log);
            (misses, plan.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
        });
        let plan = misses.is_some().then_some(plan);
        Self { misses, plan, ..Self::of_story(story) }
    }

    /// A list kept by hand, of which no shot is known.
    pub fn of_runs(runs: Vec<Run>) -> Self {
        Self { runs, ..Self::default() }
    }

    /// The same with runs from a list kept by hand: each where its day is, before those that were
    /// seen on it; those without a day first.
    pub fn with_hand_kept(mut self, runs: impl IntoIterator<Item = Run>) -> Self {
        let hand_kept = runs.into_iter().map(Run::by_hand);
        self.runs = hand_kept.chain(self.runs).collect();
        self.runs.sort_by_key(|run| run.day);
        self
    }
}

/// The longest run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct HighRun {
    pub balls: u32,
    /// Which of the attempts it was first played in, from 1.
    pub attempt: u32,
    #[schemars(with = "Option<String>")]
    pub day: Option<Date>,
    /// From a list that the player kept by hand: no camera saw it.
    #[serde(default)]
    pub hand_kept: bool,
}

/// How likely a goal is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Prospect {
    pub goal: Goal,
    /// The latest attempts that the chance is told from.
    pub from_attempts: u32,
    /// None where no ball was ever played.
    pub chance: Option<Chance>,
    /// How often the player attempts at present; none where not at all in the last twelve weeks.
    pub pace: Option<Pace>,
    /// The chance by the goal's day at that pace; none where there is no day or no pace.
    pub chance_by_the_day: Option<Estimate>,
    /// Attempts of the whole record that reached it.
    pub reached: u32,
}

/// What the record says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Progress {
    pub attempts: u32,
    /// Attempts that no shot ended: the player stopped, or the end was not seen.
    pub stopped: u32,
    /// Attempts whose start was not seen: they are in no figure.
    pub left_out: u32,
    /// Attempts from lists that the player kept by hand: no camera saw them.
    #[serde(default)]
    pub hand_kept: u32,
    /// Balls that counted, in all.
    pub balls: u64,
    #[schemars(with = "Option<String>")]
    pub first_day: Option<Date>,
    #[schemars(with = "Option<String>")]
    pub last_day: Option<Date>,
    pub high_run: Option<HighRun>,
    /// Of the runs as they were counted, stopped ones too; none without attempts.
    pub mean_run: Option<f64>,
    /// By the survival curve.
    pub median_run: Option<Median>,
    pub survival: Survival,
    pub hazards: Hazards,
    pub late_balls: Option<LateBalls>,
    pub over_time: Vec<Period>,
    pub trend: Option<Trend>,
    pub prospect: Option<Prospect>,
    /// Misses by what the shot was; none where no shot is on record.
    pub misses: Option<Misses>,
    pub plan: Option<Plan>,
}

impl Progress {
    /// All figures of a record, as of a day.
    pub fn of(record: &Record, goal: Option<Goal>, today: Date) -> Self {
        let runs = &record.runs;
        let balls = runs.iter().map(|run| u64::from(run.balls)).sum::<u64>();
        let survival = Survival::of(runs.iter().map(Span::of));
        let median_run = survival.median_run();
        let days = || runs.iter().filter_map(|run| run.day);
        Self {
            attempts: runs.len() as u32,
            stopped: runs.iter().filter(|run| run.ending == Ending::Stopped).count() as u32,
            left_out: record.left_out,
            hand_kept: runs.iter().filter(|run| run.hand_kept).count() as u32,
            balls,
            first_day: days().min(),
            last_day: days().max(),
            high_run: high_run(runs),
            mean_run: (!runs.is_empty()).then(|| balls as f64 / runs.len() as f64),
            median_run,
            survival,
            hazards: Hazards::of(&Tallies::of(runs)),
            late_balls: median_run.and_then(|median| LateBalls::of(runs, median.value)),
            over_time: periods(runs),
            trend: Trend::of(runs),
            prospect: goal.map(|goal| Prospect::of(runs, goal, today)),
            misses: record.misses.clone(),
            plan: record.plan.clone(),
        }
    }
}

impl Prospect {
    fn of(runs: &[Run], goal: Goal, today: Date) -> Self {
        let recent = &runs[runs.len().saturating_sub(RECENT)..];
        let tallies = Tallies::of(recent);
        let (breaks, others) = (tallies.break_shot(), tallies.others());
        let pace = Pace::of(runs.iter().filter_map(|run| run.day), today);
        let odds = Odds::of(breaks, others, goal.balls);
        let by_the_day =
            |by: super::Deadline| Some(pace.as_ref()?.chance_within(odds.as_ref()?, by.days_left));
        Self {
            goal,
            from_attempts: recent.len() as u32,
            chance: Chance::of(breaks, others, goal.balls),
            chance_by_the_day: goal.by.and_then(by_the_day),
            reached: runs.iter().filter(|run| run.balls >= goal.balls).count() as u32,
            pace,
        }
    }
}

fn high_run(runs: &[Run]) -> Option<HighRun> {
    let balls = runs.iter().map(|run| run.balls).max()?;
    let at = runs.iter().position(|run| run.balls == balls)?;
    Some(HighRun {
        balls,
        attempt: at as u32 + 1,
        day: runs[at].day,
        hand_kept: runs[at].hand_kept,
    })
}

#[cfg(test)]
mod tests;
