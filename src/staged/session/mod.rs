//! Made-up sessions of solo 14.1: played, filmed and labelled, from a seed.
//!
//! [`StagedSession`] thinks up a table and a player, plays attempts on it with `motion`, lets
//! things go wrong ([`Upsets`]), and hands out frame after frame; [`SessionTruth`] says what a
//! faultless scorer would have to find. The same seed and options give the same session.
//!
//! What the truth counts as an attempt's end, a re-rack or a special placement is this module's
//! own reading of the rules, apart from `score`.

mod film;
mod live;
mod options;
mod people;
mod player;
pub(super) mod rules;
mod script;
mod timeline;
mod trouble;
mod truth;
mod write;

pub use film::{SessionFrame, StagedSession};
pub use live::Demo;
pub use options::{SessionOptions, Upsets};
pub use script::Cause;
pub use truth::{
    AttemptTruth, CameraSince, PlaceTruth, RestTruth, SEEN_S, SessionTruth, ShotTruth, TableSpan,
};
pub use write::{SessionWriteError, write_session};

#[cfg(test)]
mod tests;
