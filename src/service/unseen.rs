//! For how long a camera saw nothing: the longest time without a usable frame since the rest
//! before, which says how much can have happened unnoticed.

use std::time::Duration;

/// Follows the monotonic times of one camera's usable frames.
#[derive(Debug, Default)]
pub(super) struct Unseen {
    last: Option<Duration>,
    longest: Duration,
}

impl Unseen {
    /// A usable frame of this time.
    pub(super) fn seen(&mut self, at: Duration) {
        if let Some(last) = self.last {
            self.longest = self.longest.max(at.saturating_sub(last));
        }
        self.last = Some(at);
    }

    /// What came since then turned out to show nothing new, as from a frozen camera.
    pub(super) fn not_since(&mut self, at: Duration) {
        self.last = self.last.map(|last| last.min(at));
    }

    /// The longest time since the rest before, in milliseconds; the next rest begins anew.
    pub(super) fn take_ms(&mut self) -> u64 {
        u64::try_from(std::mem::take(&mut self.longest).as_millis()).unwrap_or(u64::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_gap_since_the_rest_before_counts() {
        let mut unseen = Unseen::default();
        let seen = |unseen: &mut Unseen, ms| unseen.seen(Duration::from_millis(ms));
        seen(&mut unseen, 50_000);
        assert_eq!(unseen.take_ms(), 0, "nothing is known of the time before the first frame");
        for ms in [50_100, 50_200, 53_200, 53_300] {
            seen(&mut unseen, ms);
        }
        assert_eq!(unseen.take_ms(), 3000);
        seen(&mut unseen, 53_400);
        assert_eq!(unseen.take_ms(), 100);
        unseen.not_since(Duration::from_millis(40_000));
        seen(&mut unseen, 60_000);
        assert_eq!(unseen.take_ms(), 20_000);
    }
}
