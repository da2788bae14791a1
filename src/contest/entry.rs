//! The lines of an entry, and how large it may be.
//!
//! The schema of a line, `entry.schema.json`, is generated from the types; a test fails when file and
//! types differ. Draft 2020-12.

use crate::{
    layout::Layout,
    score::{Cause, Step},
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The schema of a line of an entry as published: a head, a record or a seal.
pub const ENTRY_SCHEMA: &str = include_str!("entry.schema.json");

/// The version of the format.
pub(super) const VERSION: u32 = 1;

/// An entry has no more bytes than this: a run of several thousand balls.
pub const MOST_BYTES: u64 = 16 << 20;
/// A line has no more bytes than this: some twenty times those of a full table.
pub(super) const LONGEST_LINE: u64 = 64 << 10;

/// A name, and a film's address, have no more characters than this.
pub(super) const LONGEST_NAME: usize = 80;
pub(super) const LONGEST_FILM: usize = 500;
/// Ages in whole years.
pub(super) const AGES: std::ops::RangeInclusive<u8> = 1..=120;

/// The first line: who played, and what is claimed. Its own SHA-256 follows as the last member.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Head {
    /// The version of the format: 1.
    #[schemars(range(min = 1, max = 1))]
    pub entry: u32,
    /// The player's name as it is to stand on the list.
    #[schemars(length(min = 1, max = 80))]
    pub player: String,
    /// The player's age at the attempt in whole years, where it is told. No birth date is.
    #[schemars(range(min = 1, max = 120))]
    pub age_years: Option<u8>,
    /// Where a film of the attempt is: an address that begins with http:// or https://.
    #[schemars(length(max = 500))]
    pub film: Option<String>,
    /// The player's public key (ed25519, RFC 8032), hexadecimal.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub key: String,
    /// The run that is claimed.
    pub run: u32,
    /// How the attempt ended.
    pub ended: Cause,
    /// How many records follow.
    #[schemars(range(min = 1))]
    pub records: u32,
}

/// A line between: one rest of the attempt. The chain's SHA-256 follows as the last member.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Record {
    /// From 1, one after the other.
    #[schemars(range(min = 1))]
    pub record: u32,
    /// When the table came to rest, in milliseconds since 1970, UTC; later than the record before.
    pub at_unix_ms: i64,
    /// The longest time, in milliseconds, that the table was not watched since the rest before.
    pub unseen_ms: u64,
    /// What the player says lay between the rest before and this one, where the layouts were not left
    /// to speak for themselves.
    pub said: Option<Step>,
    /// The SHA-256 of the rest's picture, whether it travels beside the entry or not.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub picture_sha256: String,
    /// The picture's media type.
    #[schemars(regex(pattern = "^image/(jpeg|png|webp)$"))]
    pub picture_type: String,
    pub layout: Layout,
}

/// The last line, written without any space.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Seal {
    /// The SHA-256 of the last record.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub chain_sha256: String,
    /// The player's signature (ed25519), hexadecimal: over the text "stillcloth entry 1", the head's
    /// SHA-256 and `chain_sha256`, each followed by a line end (LF).
    #[schemars(regex(pattern = "^[0-9a-f]{128}$"))]
    pub signature: String,
}
