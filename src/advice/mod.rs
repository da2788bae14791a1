//! What a layout is worth to a player, and how to play it.
//!
//! Every statement comes from hits played in `motion`, with the player's own errors (`player`).
//!
//! Stands on `table`, `layout` and `motion`. Must not know cameras, the score, the record or the
//! service. No clock but a deadline handed in, no randomness but from a seed: the same layout,
//! player and seed give the same advice.

mod advisor;
mod aim;
pub mod break_shot;
mod decide;
mod direct;
mod fit;
mod normal;
mod odds;
mod option;
mod outcome;
mod pattern;
mod player;
mod scan;
mod shots;
mod window;
mod worth;

pub use advisor::{AdviceError, Advisor};
pub use decide::NextHit;
pub use fit::{FittedAim, Tried, fit_aim};
pub use pattern::{Bound, Landing, Pattern, Patterns, Step};
pub use player::{Level, NoLevel, Player, PlayerError};
pub use scan::Kind;
pub use shots::ShotOn;

#[cfg(test)]
mod tests;
