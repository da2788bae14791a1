//! Which looks at a stream are rests: for now, a layout that stands in two looks half a second
//! apart, unobstructed, and is not the one kept before.

use super::{
    pipeline::{FrameError, Pipeline},
    still::same_places,
};
use crate::{layout::Layout, vision::Reading};
use image::RgbImage;
use std::time::Duration;

/// From one look to the next: a slow roll of 10 mm/s moves 5 mm between them.
const BETWEEN_LOOKS: Duration = Duration::from_millis(500);

/// Finds the rests of one stream.
#[derive(Default)]
pub(super) struct Rests {
    looked_at: Option<Duration>,
    /// The layout of the look before.
    before: Option<Layout>,
    /// The layout that was kept last.
    kept: Option<Layout>,
}

impl Rests {
    /// Looks at a frame of this monotonic time; a reading comes out where it shows a new rest.
    ///
    /// # Errors
    /// Where the frame cannot be read.
    pub(super) fn look(
        &mut self,
        pipeline: &mut Pipeline,
        frame: &RgbImage,
        at: Duration,
    ) -> Result<Option<Reading>, FrameError> {
        let due = self
            .looked_at
            .is_none_or(|before| at < before || at - before + BETWEEN_LOOKS / 10 >= BETWEEN_LOOKS);
        if !due {
            return Ok(None);
        }
        self.looked_at = Some(at);
        let reading = pipeline.look(frame)?;
        let layout = &reading.layout;
        let before = self.before.replace(layout.clone());
        let stands = before.is_some_and(|before| same_places(&before, layout));
        let known = self.kept.as_ref().is_some_and(|kept| same_places(kept, layout));
        Ok(Some(reading).filter(|reading| stands && !known && !reading.layout.obstructed))
    }

    /// A rest is in the record.
    pub(super) fn kept(&mut self, layout: Layout) {
        self.kept = Some(layout);
    }
}
