//! What a layout is worth to a player, and how to play it.
//!
//! Every statement comes from hits played in `motion`, with the player's own errors (`player`).
//!
//! Stands on `table`, `layout` and `motion`. Must not know cameras, the score, the record or the
//! service. No clock but a deadline handed in, no randomness but from a seed: the same layout,
//! player and seed give the same advice.

mod advisor;
mod aim;
mod answer;
mod bound;
mod break_ball;
pub mod break_shot;
mod decide;
mod direct;
mod drawn;
mod estimate;
mod fit;
mod normal;
mod odds;
mod option;
mod outcome;
mod own_hit;
mod pattern;
mod player;
mod said;
mod scan;
mod shots;
mod skills;
mod trouble;
mod window;
mod worth;

pub use advisor::{AdviceError, Advisor};
pub use answer::{ADVICE_SCHEMA, Advice, Asked, advise};
pub use bound::Bound;
pub use break_ball::{BreakBall, BreakBalls, Nudge};
pub use decide::NextHit;
pub use estimate::Estimate;
pub use fit::{FittedAim, Tried, fit_aim};
pub use own_hit::OwnHit;
pub use pattern::{Landing, Pattern, Patterns, Step};
pub use player::{Level, NoLevel, Player, PlayerError};
pub use said::{hit_words, way_words};
pub use scan::Kind;
pub use shots::ShotOn;
pub use skills::{Skill, SkillsAt};
pub use trouble::{
    BreakOut, ClosedBall, Cluster, DeadCombination, Insurance, Timing, Trouble, Waiting, When,
};

#[cfg(test)]
mod tests;
