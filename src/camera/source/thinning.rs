//! Which frames of a stream are offered: at most so many a second, evenly.
//!
//! Input: the frames' times, in seconds from any beginning. Output: whether a frame is wanted.
//! Times are compared with a raster that moves on by the gap, with some slack, so that a source
//! just as fast as the raster is not halved by jitter, and one of 25 frames a second gives every
//! second or third. A time that runs backwards, or a long pause, begins a new raster.

use std::time::Duration;

/// Offered frames a second: a layout is to be announced within half a second of coming to rest.
const OFFERED_A_SECOND: u32 = 10;

/// How much sooner than the raster a frame may come, as a part of the gap.
const SLACK_PART: u32 = 5;

/// Chooses frames by their times.
#[derive(Debug, Clone)]
pub struct Thinning {
    gap: Duration,
    next: Option<Duration>,
}

impl Default for Thinning {
    fn default() -> Self {
        Self { gap: Duration::from_secs(1) / OFFERED_A_SECOND, next: None }
    }
}

impl Thinning {
    /// Whether the frame of this time is offered.
    pub fn wants(&mut self, at: Duration) -> bool {
        let slack = self.gap / SLACK_PART;
        let Some(next) = self.next else {
            self.next = Some(at + self.gap);
            return true;
        };
        let backwards = at + 2 * self.gap < next;
        if !backwards && at + slack < next {
            return false;
        }
        let late = backwards || at > next + self.gap;
        self.next = Some(self.gap + if late { at } else { next });
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn offered(fps: f64, seconds: f64) -> Vec<f64> {
        let mut thinning = Thinning::default();
        let times = (0..(fps * seconds) as u32).map(|frame| f64::from(frame) / fps);
        times.filter(|&at| thinning.wants(Duration::from_secs_f64(at))).collect()
    }

    #[test]
    fn fast_sources_are_thinned_evenly_and_slow_ones_pass_whole() {
        for fps in [12.0, 15.0, 24.0, 25.0, 29.97, 30.0, 50.0, 60.0, 120.0] {
            let times = offered(fps, 60.0);
            assert!((595..=601).contains(&times.len()), "{} at {fps} fps", times.len());
            let widest = times.windows(2).map(|two| two[1] - two[0]).fold(0.0, f64::max);
            assert!(widest <= 0.1 + 1.0 / fps, "{widest} s at {fps} fps");
        }
        for fps in [1.0, 5.0, 9.0, 10.0] {
            assert_eq!(offered(fps, 60.0).len(), (60.0 * fps) as usize, "{fps} fps");
        }
    }

    #[test]
    fn jitter_does_not_halve_a_source_that_is_just_as_fast_as_is_wanted() {
        let mut thinning = Thinning::default();
        let jitter_ms = [0, 15, -12, 8, -15, 3];
        let times = (1..600_i64).map(|frame| 100 * frame + jitter_ms[frame as usize % 6]);
        let wanted = times.filter(|&ms| thinning.wants(Duration::from_millis(ms as u64))).count();
        assert!(wanted >= 580, "{wanted} of 599");
    }

    #[test]
    fn a_pause_or_a_step_backwards_begins_anew() {
        let mut thinning = Thinning::default();
        let mut wants = |ms| thinning.wants(Duration::from_millis(ms));
        assert!(wants(0) && wants(60_000) && !wants(60_050) && wants(60_100));
        assert!(wants(10) && !wants(50) && wants(110));
    }
}
