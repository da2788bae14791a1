//! The score followed through made-up sessions at layout level, against their truth.

mod placings;
mod player;
pub mod random_attempts;
mod world;
