//! A watch's camera that was moved: noticed at rest and before a reading, and the table found again.

use super::super::read::ReadError;
use super::super::recalibrate::{Where, recalibrate};
use super::super::steady::SteadyBed;
use super::bump::{NoseMarks, Noses};
use super::glance::Raster;
use super::rolling::Rolling;
use super::{BUMPED_PX, FIRST_PAUSE, LONGEST_PAUSE, Look, RestWatch, SUSPECT_PX, TableState};
use image::RgbImage;
use std::time::Duration;

/// From a place no farther off than this the same cells of the bed show the same: of what stands a ball's
/// height over them a camera two metres up sees the one side by 2 mm more.
const SAME_VIEW_MM: f64 = 120.0;

impl RestWatch {
    /// Whether the table is to be looked for anew where the noses leave it open that the camera was
    /// moved: once in each picture, and later at times.
    pub(super) fn looks_anew(&self, at: Duration) -> bool {
        at >= self.repair_at || self.still.as_ref().is_none_or(|still| !still.not_found)
    }

    /// A camera may sink too slowly for any two frames to show it.
    pub(super) fn check_at_rest(
        &mut self,
        frame: &RgbImage,
        at: Duration,
    ) -> Result<Look, ReadError> {
        self.checked_at = at;
        match self.marks.check(frame) {
            Noses::Off { px } if px > BUMPED_PX || (px > SUSPECT_PX && self.looks_anew(at)) => {
                self.repair(frame, at)
            }
            _ => Ok(self.told(TableState::Resting)),
        }
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
        self.pending = None;
        let mut look = self.told(TableState::Bumped);
        if at < self.repair_at {
            return Ok(look);
        }
        let old = self.reader.calibration();
        self.repair_at = at + self.repair_pause;
        self.repair_pause = (2 * self.repair_pause).min(LONGEST_PAUSE);
        let Ok(new) = recalibrate(frame, old, search) else {
            if let Some(still) = &mut self.still {
                still.not_found = true;
            }
            return Ok(look);
        };
        if old.moved_px(&new.nose_corners_px) < BUMPED_PX {
            // Another light drew the noses elsewhere.
            self.marks.note(frame);
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
}
