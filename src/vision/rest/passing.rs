//! A rest that somebody breaks into before it can be told.
//!
//! Input: a still picture of which one half was read, and the frame that is no more like it. Output: the rest,
//! if the other half reads alike. Method: balls that lie do not begin to roll by themselves, so a picture that
//! was still for a moment was at rest where something larger than balls breaks into it, or where nothing is
//! seen for a while. Not modelled: a ball that a film holds just when a hand comes in.

use super::glance::Glance;
use super::likeness::Likeness;
use super::rolling::larger_than_balls;
use super::{Look, RestWatch, SIGHT_LOST};
use image::RgbImage;
use std::time::Duration;

/// The picture was still for so long.
const STILL_BRIEFLY: Duration = Duration::from_millis(300);

/// A rest that was over before it was told.
#[derive(Debug, Clone, PartialEq)]
pub struct Passed {
    /// The time of the last frame that showed it.
    pub at: Duration,
    /// What it looked like.
    pub picture: RgbImage,
}

impl RestWatch {
    /// The rest that the frame of a glance breaks into; `seen_to` is the time of the frame before.
    pub(super) fn passed(
        &mut self,
        glance: &Glance,
        (seen_to, at): (Duration, Duration),
    ) -> Option<Look> {
        let pending = self.pending.as_ref().filter(|pending| pending.is_begun())?;
        let still = self.still.as_mut().filter(|still| still.fresh)?;
        let changes = still.first.changes_soon(&self.raster, glance);
        let stays = changes.likeness() != Likeness::Other;
        let lost_sight = at >= seen_to + SIGHT_LOST;
        let breaks_in = lost_sight || larger_than_balls(&self.raster, &changes);
        if stays || !breaks_in || seen_to < still.since + STILL_BRIEFLY {
            return None;
        }
        let picture = still.frames.mean(pending.part())?;
        let known = still.first.clone();
        let view = self.reader.view(&picture);
        let (mut reading, _) = self.read_over(&picture, &view).ok()?;
        let layout = &reading.layout;
        if layout.obstructed || self.is_shifted(layout) || self.may_drop(layout) {
            return None;
        }
        if !self.needed_for_a_few(&mut reading, &view).is_zero() {
            return None;
        }
        let agreeing = pending.agreeing(&reading)?;
        let reading = self.pending.take()?.confirmed(agreeing, reading);
        let look = self.at_rest(reading, Some(known), (view, seen_to));
        let passed = Some(Passed { at: seen_to, picture });
        look.rest.is_some().then_some(Look { passed, ..look })
    }
}
