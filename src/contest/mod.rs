//! Contests among players: what counts, an attempt as a signed file, its check, and the standings.
//!
//! An entry is JSON Lines: a head, a record for each rest of the attempt, a seal. Each line ends with
//! its own SHA-256, each record's taken over the one before too, and the seal is an ed25519 signature
//! over both ends of that. What this shows, and what it cannot:
//!
//! - Whoever does not hold the player's key cannot change, drop, double or move anything unnoticed;
//!   nor sign it as that player. Under another key anybody can, so a key counts for as much as the
//!   organiser knows whose it is: the first entry tells it, later ones are held to it.
//! - The run claimed is the run that follows from the records by the rules of 14.1, since they are
//!   followed anew here. What only the player says, and what the rules do not explain, is named with
//!   its record for people to look at.
//! - Whoever holds the key can make rests up, place a ball elsewhere by a few millimetres, or leave a
//!   rest out so that two shots look like one, and sign that. No file of the player's own making can
//!   show the opposite. That is what the pictures, named by their hashes, and the film are for.
//!
//! On `table`, `layout`, `camera` for the kinds of pictures, and `score`. Knows no storage, no clock
//! and no HTTP; an entry is read as a stream, in bounds.

mod chain;
mod clash;
mod entry;
mod finding;
mod key;
mod lines;
mod replay;
mod rules;
mod standings;
mod verify;
mod write;

pub use clash::{Clash, clash};
pub use entry::{ENTRY_SCHEMA, MOST_BYTES};
pub use finding::{Finding, FindingKind, Place, Verdict};
pub use key::{PublicKey, Signer};
pub use rules::{Counts, Rules, RulesError, Unfit};
pub use standings::{Entered, EntryState, Facts, Rank, Signed, standings};
pub use verify::{Report, verify};
pub use write::{Entrant, EntryError, EntryRecord, write_entry};

#[cfg(test)]
mod tests;
