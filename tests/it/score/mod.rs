//! The score followed through made-up sessions at layout level, against their truth.

mod placings;
pub mod player;
mod random_attempts;
mod sentences;
pub mod sessions;
mod tables;
mod world;
