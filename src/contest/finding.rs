//! What a check of an entry finds, and where.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The part of an entry that a finding is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    Head,
    /// A record by its number.
    Record(u32),
    Seal,
}

/// What is the matter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FindingKind {
    // The file does not hold together.
    /// It, or a line of it, is larger than an entry can be.
    TooLarge,
    /// It is of a version that this program does not know.
    Version,
    /// It holds together and is none of the lines that an entry has.
    Unreadable,
    /// It is not as it was when it was hashed.
    Changed,
    Missing,
    Twice,
    OutOfOrder,
    /// The file ends too early, or goes on behind its seal.
    CutOff,
    Behind,
    Signature,
    OtherKey,
    // The records do not bear out what is claimed.
    NotLater,
    OtherTable,
    NoStart,
    EndsEarly,
    NoEnd,
    RunDiffers,
    EndDiffers,
    Picture,
    // Somebody has to look.
    Said,
    Doubtful,
    Unexplained,
    Unseen,
    Placed,
}

impl FindingKind {
    /// Whether it asks for somebody to look, and is no fault by itself.
    pub const fn is_to_look_at(self) -> bool {
        matches!(
            self,
            Self::Said | Self::Doubtful | Self::Unexplained | Self::Unseen | Self::Placed
        )
    }
}

/// One thing that was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    pub place: Place,
    pub kind: FindingKind,
    /// In words, without the place.
    pub text: String,
}

impl Finding {
    pub(super) fn new(place: Place, kind: FindingKind, text: impl Into<String>) -> Self {
        Self { place, kind, text: text.into() }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Head => write!(to, "Head"),
            Self::Record(number) => write!(to, "Record {number}"),
            Self::Seal => write!(to, "Seal"),
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "{}: {}", self.place, self.text)
    }
}

/// What comes of a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Whole, unchanged, signed, and the run follows from the layouts alone.
    Verified,
    /// The same, but for places that somebody has to look at.
    ToLookAt,
    Refused,
}

impl Verdict {
    pub(super) fn of(findings: &[Finding]) -> Self {
        if findings.is_empty() {
            Self::Verified
        } else if findings.iter().all(|finding| finding.kind.is_to_look_at()) {
            Self::ToLookAt
        } else {
            Self::Refused
        }
    }
}
