//! How a made-up session is to be: its length, picture, pace, and how much goes wrong.

use crate::staged::viewpoint::Profile;

/// What a session shall be like.
#[derive(Debug, Clone, Copy)]
pub struct SessionOptions {
    /// Attempts played.
    pub attempts: usize,
    /// Width of the pictures; the height is 9/16 of it.
    pub width_px: u32,
    pub frames_per_s: f64,
    pub profile: Profile,
    /// How long the player rests, aims and racks: 1 for a real player's way, less for a quick one.
    /// Balls roll as long as they roll, and a rest lasts a second at least.
    pub waiting: f64,
    /// How long the first rack stands before anybody comes to the table, in seconds.
    pub stands_first_s: f64,
    pub upsets: Upsets,
}

/// How often what goes wrong; rates are for a minute, chances for a session, a shot or a frame.
#[derive(Debug, Clone, Copy)]
pub struct Upsets {
    pub dimmed_a_min: f64,
    pub switched_a_min: f64,
    pub flicker_chance: f64,
    pub passer_by_a_min: f64,
    pub bumped_a_min: f64,
    /// Pauses of the stream of 1 to 6 s anywhere.
    pub pauses_a_min: f64,
    /// Pauses that swallow the whole rest after a shot.
    pub rest_swallowed_chance: f64,
    pub frame_dropped_chance: f64,
    pub frame_repeated_chance: f64,
    pub frame_late_chance: f64,
    /// A ball moved by hand at a rest.
    pub nudged_chance: f64,
    /// Chalk set down or taken after a shot.
    pub chalk_chance: f64,
    /// Slow drift of exposure and white balance, as a part.
    pub drift: f64,
}

impl Upsets {
    /// Nothing goes wrong.
    pub const NONE: Self = Self {
        dimmed_a_min: 0.0,
        switched_a_min: 0.0,
        flicker_chance: 0.0,
        passer_by_a_min: 0.0,
        bumped_a_min: 0.0,
        pauses_a_min: 0.0,
        rest_swallowed_chance: 0.0,
        frame_dropped_chance: 0.0,
        frame_repeated_chance: 0.0,
        frame_late_chance: 0.0,
        nudged_chance: 0.0,
        chalk_chance: 0.0,
        drift: 0.0,
    };

    /// More than a usual evening has.
    pub const USUAL: Self = Self {
        dimmed_a_min: 0.15,
        switched_a_min: 0.05,
        flicker_chance: 0.25,
        passer_by_a_min: 0.5,
        bumped_a_min: 0.1,
        pauses_a_min: 0.15,
        rest_swallowed_chance: 0.006,
        frame_dropped_chance: 0.01,
        frame_repeated_chance: 0.01,
        frame_late_chance: 0.02,
        nudged_chance: 0.01,
        chalk_chance: 0.15,
        drift: 0.04,
    };
}

impl Default for SessionOptions {
    /// A session to look at: 960 × 540 at 10 frames a second, at a player's own pace.
    fn default() -> Self {
        Self {
            attempts: 8,
            width_px: 960,
            frames_per_s: 10.0,
            profile: Profile::Near,
            waiting: 1.0,
            stands_first_s: 0.0,
            upsets: Upsets::USUAL,
        }
    }
}

impl SessionOptions {
    /// A session to measure many of: few pictures, and short waits.
    pub fn quick() -> Self {
        Self { width_px: 960, frames_per_s: 6.0, waiting: 0.45, ..Self::default() }
    }
}
