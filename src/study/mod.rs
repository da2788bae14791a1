//! What a player's own record says: how far runs go, what ends them, whether they grow, and how
//! likely a goal is.
//!
//! On `score` for what an attempt is and on `table` and `layout` for positions. Everything is a pure
//! function of runs, of rests in their order and of a day called today: knows no storage, no clock, no chance and no HTTP. A
//! figure that can be off has its 95 % interval with it ([`Estimate`]); where a record tells nothing
//! there is no figure.

mod break_shots;
mod chance;
mod chapters;
mod estimate;
mod goal;
mod hazard;
#[cfg(test)]
mod made_up;
mod misses;
mod over_time;
mod pace;
mod places;
mod plan;
mod position;
mod progress;
mod run;
mod score_list;
mod shot_log;
mod shot_read;
mod shots;
mod skill;
mod steady;
mod survival;
mod trend;
mod words;

pub use break_shots::{BreakShot, break_shots};
pub use chance::{Chance, Odds};
pub use chapters::{Chapter, ChapterOf, chapters, clips, ffmpeg_metadata, web_vtt};
pub use estimate::{Estimate, LEVEL};
pub use goal::{Deadline, Goal, GoalError, MOST_BALLS};
pub use hazard::{Hazards, PlaceRate, Rate, Tallies, Tally};
pub use misses::{By, MissTable, Misses, MissesOf};
pub use over_time::Period;
pub use pace::{LOOKED_BACK, Pace};
pub use places::{FEW, Places};
pub use plan::{Plan, Practice, ToPractise};
pub use position::{FARTHEST, Position};
pub use progress::{HighRun, PROGRESS_SCHEMA, Progress, Prospect, RECENT, Record};
pub use run::{BALLS_A_RACK, Ending, PLACES, Run, utc_day};
pub use score_list::{BadLine, ScoreListError, read_scores};
pub use shot_log::{ShotKnown, ShotLog};
pub use shot_read::{Aim, ShotRead, ball_meant};
pub use shots::{Outcome, came_of};
pub use skill::{LatestShots, RunGain};
pub use steady::LateBalls;
pub use survival::{Median, Reached, Span, Survival};
pub use trend::Trend;
pub use words::{in_words, one_in, percent, rounded};
