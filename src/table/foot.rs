//! Which end of a table is its foot, and how that is known.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How it is known which end of the table is the foot, that is, whether x = 8 lies there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FootEnd {
    /// The user said which end it is.
    Given,
    /// The rack or the foot spot was seen there.
    Seen,
    /// Nothing told: the layout may be turned by 180°.
    #[default]
    Open,
}
