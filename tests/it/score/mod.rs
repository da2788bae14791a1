//! The score followed through made-up sessions at layout level, against their truth.

mod doubts;
mod hindsight;
mod mishaps;
mod pace;
mod placings;
pub mod player;
mod racking;
mod random_attempts;
mod sentences;
pub mod sessions;
mod tables;
mod too_many;
mod world;
