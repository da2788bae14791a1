//! The words of a question: what was seen that can mean more than one thing.

use super::change::{Change, CueBall};

/// From here on a gap is worth naming.
const GAP_MS: u64 = 1500;

/// Of a rest that lacked the cue ball, asked when it is back.
pub(super) const CUE_IS_BACK: &str =
    "The cue ball was not seen here, and it is on the table again. What was it?";

/// Of a shot that pocketed several, asked when one of them seems to be there again.
pub(super) const BALL_IS_BACK: &str =
    "One of the balls that went here may have been on the table still. What was it?";

pub(super) fn text(change: Option<&Change>, unseen_ms: u64) -> String {
    let seen = change.map_or_else(|| "The table changed".to_string(), seen);
    if unseen_ms >= GAP_MS {
        let seconds = unseen_ms.div_ceil(1000);
        return format!("The table was not watched for {seconds} s. {seen}. What was it?");
    }
    format!("{seen}. What was it?")
}

fn seen(change: &Change) -> String {
    let gone = change.gone();
    let cue = match change.cue {
        CueBall::Still => "the cue ball did not move",
        CueBall::Moved => "the cue ball moved",
        CueBall::Gone => "the cue ball is gone",
        CueBall::Came => "the cue ball is on the table again",
        CueBall::Absent => "there is no cue ball",
    };
    let balls = |n: u64| if n == 1 { "1 ball".to_string() } else { format!("{n} balls") };
    let objects = match gone {
        0 if change.left.is_empty() => "No other ball moved".to_string(),
        0 => format!("{} moved", balls(change.moved() as u64)),
        n if n > 0 => format!("{} went", balls(n.unsigned_abs())),
        n => format!("{} more on the table", balls(n.unsigned_abs())),
    };
    format!("{objects}, {cue}")
}
