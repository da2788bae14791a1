//! What a layout is worth to a player, and how to play it.
//!
//! Every statement comes from hits played in `motion`, with the player's own errors (`player`).
//!
//! Stands on `table`, `layout` and `motion`. Must not know cameras, the score, the record or the
//! service. No clock but a deadline handed in, no randomness but from a seed: the same layout,
//! player and seed give the same advice.

pub mod break_shot;
mod player;

pub use player::{Level, NoLevel, Player};
