//! A watch's camera that was moved: noticed at rest and before a reading, and the table found again.

use super::super::read::ReadError;
use super::super::recalibrate::{Where, recalibrate};
use super::super::steady::SteadyBed;
use super::bump::{NoseMarks, Noses};
use super::glance::Raster;
use super::rolling::Rolling;
use super::{
    BUMPED_PX, FIRST_PAUSE, LONGEST_PAUSE, Look, RestWatch, SUSPECT_PX, Sought, TableState,
};
use image::RgbImage;
use std::time::Duration;

/// From a place no farther off than this the same cells of the bed show the same: of what stands a ball's
/// height over them a camera two metres up sees the one side by 2 mm more.
const SAME_VIEW_MM: f64 = 120.0;

impl RestWatch {
    /// Whether the table is to be looked for anew: the camera was moved, or the noses leave it open; then
    /// once in each picture, and later at times. Not again in a picture that shows it in its place.
    pub(super) fn looks_anew(&self, noses: Noses, at: Duration) -> bool {
        let sought = self.still.as_ref().map_or(Sought::Not, |still| still.sought);
        match (noses, sought) {
            (_, Sought::InPlace) => false,
            (Noses::Off { px }, _) if px > BUMPED_PX => true,
            (Noses::Off { px }, _) if px <= SUSPECT_PX => false,
            (_, Sought::Not) => true,
            (_, Sought::NotFound) => at >= self.repair_at,
        }
    }

    /// A camera may sink too slowly for any two frames to show it.
    pub(super) fn check_at_rest(
        &mut self,
        frame: &RgbImage,
        at: Duration,
    ) -> Result<Look, ReadError> {
        self.checked_at = at;
        let noses = self.marks.check(frame);
        if noses != Noses::Unseen && self.looks_anew(noses, at) {
            return self.repair(frame, at);
        }
        Ok(self.told(TableState::Resting))
    }

    /// Finds the table again after the camera was moved.
    pub(super) fn repair(&mut self, frame: &RgbImage, at: Duration) -> Result<Look, ReadError> {
        self.repair_from(frame, at, Where::NearFirst)
    }

    pub(super) fn repair_from(
        &mut self,
        frame: &RgbImage,
        at: Duration,
        search: Where,
    ) -> Result<Look, ReadError> {
        let pending = self.pending.take();
        let mut look = self.told(TableState::Bumped);
        if at < self.repair_at {
            return Ok(look);
        }
        let old = self.reader.calibration();
        self.repair_at = at + self.repair_pause;
        self.repair_pause = (2 * self.repair_pause).min(LONGEST_PAUSE);
        let Ok(new) = recalibrate(frame, old, search) else {
            self.came_of_it(Sought::NotFound);
            return Ok(look);
        };
        if old.moved_px(&new.nose_corners_px) < BUMPED_PX {
            // Another light drew the noses elsewhere, or they are hard to see.
            self.marks.note(frame);
            self.pending = pending;
            self.came_of_it(Sought::InPlace);
            self.repair_pause = FIRST_PAUSE;
            return Ok(self.told(TableState::Settling));
        }
        let went_mm = old.camera.pose.camera_from_table(new.camera.pose.position()).norm();
        self.raster = Raster::new(&new.camera, &new.table);
        self.marks = NoseMarks::new(&new.camera, &new.table, new.nose_corners_px);
        self.marks.note(frame);
        self.reader.recalibrate(new.clone());
        // Rails and cushions stand elsewhere in the grid of a camera that looks from elsewhere.
        if went_mm > SAME_VIEW_MM {
            self.steady = SteadyBed::default();
        }
        self.comes_in_since = None;
        self.repair_pause = FIRST_PAUSE;
        self.still = None;
        self.obstructed = None;
        self.rolling = Rolling::default();
        if let Some(rest) = &mut self.rest {
            rest.glance = None;
        }
        look.recalibrated = Some(new);
        Ok(look)
    }

    /// Whether the table was found where it was, in this still picture.
    pub(super) fn is_in_place(&self) -> bool {
        self.still.as_ref().is_some_and(|still| still.sought == Sought::InPlace)
    }

    fn came_of_it(&mut self, sought: Sought) {
        if let Some(still) = &mut self.still {
            still.sought = sought;
        }
    }
}
