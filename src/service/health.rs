//! Whether a camera's frames can be relied on: what counts as live, stale and lost, and how long
//! to wait before trying again.
//!
//! All pure: the time is told by whoever asks. Time-outs follow the source's own rate, so that one
//! frame in five seconds is as live as thirty in one, and have floors below which a hiccup is
//! nothing to speak of.

use schemars::JsonSchema;
use serde::Serialize;
use std::{
    hash::{BuildHasher, RandomState},
    time::Duration,
};
use utoipa::ToSchema;

/// Whether a camera's frames can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Health {
    /// No frame has come yet, and nothing has failed.
    Starting,
    /// Frames come as they should.
    Live,
    /// The last frame is too old for the source's rate, or the same picture comes over and over.
    Stale,
    /// The camera is gone or was never there; it is tried again for as long as the program runs.
    Lost,
    /// A film or folder has come to its end.
    Ended,
}

/// How long is waited for what.
#[derive(Debug, Clone, Copy)]
pub struct Patience {
    /// For a camera to open, and for its first frame.
    pub open: Duration,
    /// Stale after so many times the gap between two frames, and no sooner than this.
    pub stale_gaps: u32,
    pub least_stale: Duration,
    /// Lost after so many, likewise.
    pub lost_gaps: u32,
    pub least_lost: Duration,
    /// Frames that are bit for bit the same for so long are frozen.
    pub frozen: Duration,
    /// Frames that are the same but for their encoding, or of a stream that encodes differences,
    /// where what does not move may repeat for seconds.
    pub frozen_coded: Duration,
    /// The first pause before a camera is tried again; each further one is twice as long.
    pub first_pause: Duration,
    pub longest_pause: Duration,
    /// A camera that was live for so long begins with the first pause again.
    pub settled: Duration,
    /// How long the end of the program waits for a source to let go.
    pub letting_go: Duration,
}

impl Default for Patience {
    fn default() -> Self {
        Self {
            open: Duration::from_secs(10),
            stale_gaps: 5,
            least_stale: Duration::from_millis(1500),
            lost_gaps: 15,
            least_lost: Duration::from_secs(5),
            frozen: Duration::from_secs(10),
            frozen_coded: Duration::from_secs(60),
            first_pause: Duration::from_millis(500),
            longest_pause: Duration::from_secs(30),
            settled: Duration::from_secs(10),
            letting_go: Duration::from_secs(1),
        }
    }
}

impl Patience {
    /// The age of the last frame from which a camera is stale.
    pub(super) fn stale_after(&self, gap: Option<Duration>) -> Duration {
        gap.map_or(self.open, |gap| (gap * self.stale_gaps).max(self.least_stale))
    }

    /// The age of the last frame from which a camera is lost.
    pub(super) fn lost_after(&self, gap: Option<Duration>) -> Duration {
        let least = self.least_lost.max(self.stale_after(gap));
        gap.map_or(least, |gap| (gap * self.lost_gaps).max(least))
    }
}

/// The gap between a source's frames, learned as they come.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Gap(Option<Duration>);

/// The weight of each new gap: some twenty frames make the rate.
const NEW_PART: u32 = 20;

/// A gap counts at most so many times the usual one: a stall is no rate.
const WIDEST: u32 = 4;

/// The longest gap that is believed; slower is no stream.
const LONGEST_GAP: Duration = Duration::from_secs(60);

impl Gap {
    /// Takes in the time between two frames of one stream.
    pub(super) fn note(&mut self, gap: Duration) {
        let gap = gap.min(LONGEST_GAP);
        self.0 = Some(match self.0 {
            None => gap,
            Some(usual) => (usual * (NEW_PART - 1) + gap.min(usual * WIDEST)) / NEW_PART,
        });
    }

    pub(super) fn usual(self) -> Option<Duration> {
        self.0
    }
}

/// Pauses between tries: each twice the one before, up to the longest, and a quarter more or less
/// by chance, so that cameras that were lost together do not come back in step.
#[derive(Debug, Clone, Default)]
pub(super) struct Pauses {
    tries: u32,
    chance: RandomState,
}

impl Pauses {
    /// The camera was live for good: the next pause is the first again.
    pub(super) fn begin_again(&mut self) {
        self.tries = 0;
    }

    pub(super) fn next(&mut self, patience: &Patience) -> Duration {
        let doubled = patience.first_pause * 2_u32.saturating_pow(self.tries.min(16));
        let per_mille = u32::try_from(self.chance.hash_one(self.tries) % 500).unwrap_or_default();
        self.tries = self.tries.saturating_add(1);
        doubled.min(patience.longest_pause) * (750 + per_mille) / 1000
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn ms(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    fn learned(gaps_ms: impl IntoIterator<Item = u64>) -> Option<Duration> {
        let mut gap = Gap::default();
        gaps_ms.into_iter().for_each(|gap_ms| gap.note(ms(gap_ms)));
        gap.usual()
    }

    #[test]
    fn time_outs_follow_the_sources_own_rate() {
        let patience = Patience::default();
        let fast = learned([33; 100]);
        assert_eq!((patience.stale_after(fast), patience.lost_after(fast)), (ms(1500), ms(5000)));
        let slow = learned([5000; 30]);
        assert_eq!(
            (patience.stale_after(slow), patience.lost_after(slow)),
            (ms(25_000), ms(75_000))
        );
        assert_eq!(patience.stale_after(None), patience.open, "nothing is known after one frame");
    }

    #[test]
    fn a_stall_does_not_pass_for_a_rate() {
        let usual = learned([100; 50].into_iter().chain([60_000]).chain([100; 50]));
        assert!(usual.is_some_and(|usual| usual < ms(120)), "{usual:?}");
        let slowed = learned([100; 50].into_iter().chain([1000; 100]));
        assert!(slowed.is_some_and(|usual| usual > ms(900)), "a new rate is learned: {slowed:?}");
    }

    #[test]
    fn pauses_grow_to_a_bound_and_differ() {
        let patience = Patience::default();
        let mut pauses = Pauses::default();
        let first: Vec<Duration> = (0..200).map(|_| pauses.next(&patience)).collect();
        assert!((ms(375)..=ms(625)).contains(&first[0]), "{first:?}");
        assert!((ms(750)..=ms(1250)).contains(&first[1]), "{first:?}");
        assert!(first[20..].iter().all(|pause| (ms(22_500)..=ms(37_500)).contains(pause)));
        let other = Pauses::default().next(&patience);
        assert!(first[0] != other || first[21] != first[22], "no chance in it");
        pauses.begin_again();
        assert!(pauses.next(&patience) <= ms(625));
    }
}
