//! How an entry can meet those that count already: the same attempt twice, one name under two keys,
//! one key under two names.

use super::standings::{Entered, EntryState, Facts};
use thiserror::Error;

/// Why an entry cannot stand beside another one.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Clash {
    #[error(
        "this attempt is in the contest already, as entry {entry} of {player}: withdraw that one \
         first if this is to take its place"
    )]
    SameAttempt { entry: i64, player: String },
    #[error(
        "this entry begins with the same rest as entry {entry} of {player} and goes on otherwise: one \
         of the two is not the attempt as it was. Withdraw or remove that one first if this is to \
         take its place"
    )]
    SameBeginning { entry: i64, player: String },
    #[error(
        "entry {entry} of {player} is signed with another key: somebody else of that name enters under \
         a name that tells the two apart; whoever lost a key has the earlier entries withdrawn first"
    )]
    OtherKey { entry: i64, player: String },
    #[error("this key has entered as {player} already, with entry {entry}: enter under that name")]
    OtherName { entry: i64, player: String },
}

/// The first clash of an entry with those that count.
pub fn clash(facts: &Facts, entries: &[Entered]) -> Option<Clash> {
    let new = facts.signed.as_ref()?;
    let counting = entries.iter().filter(|entry| entry.state == EntryState::Counts);
    counting
        .filter_map(|other| {
            let old = other.facts.signed.as_ref()?;
            let (entry, player) = (other.id, other.facts.player.clone());
            let same_name = other.facts.known_as() == facts.known_as();
            if old.chain_sha256 == new.chain_sha256 {
                Some(Clash::SameAttempt { entry, player })
            } else if old.first_sha256 == new.first_sha256 {
                Some(Clash::SameBeginning { entry, player })
            } else if same_name && old.key != new.key {
                Some(Clash::OtherKey { entry, player })
            } else if !same_name && old.key == new.key {
                Some(Clash::OtherName { entry, player })
            } else {
                None
            }
        })
        .next()
}
