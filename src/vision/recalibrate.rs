//! A calibration made again after the camera was moved: the same lens, the same table, the same
//! foot; only where the camera hangs is open.
//!
//! Input: a still frame with nothing in the way, the calibration that held until now. Output: the
//! calibration that holds now. Method: the noses are looked for where they were, and nearby, with
//! the lens held (`refine`); where they are not there, or not quite near, the table is searched for
//! in the whole frame, and its corners, seen through the known lens, are the new start; what fits
//! better holds. Of the two ways round the one nearer to the old is kept: nobody carries a camera
//! around the table. Not modelled: a zoom or another camera, for which the search alone must do.

use super::calibrate::{self, CalibrateError};
use super::refine::{self, Fit, LensKnown};
use super::{foot, start};
use crate::camera::{Calibration, Camera, PixelPoint};
use crate::table::TableSize;
use image::RgbImage;
use std::slice;

/// Within so many pixels there is one line that can be a nose. Farther off the border of a cushion
/// can be taken for one, and the search of the whole frame has a say.
const SURELY_NEAR_PX: f64 = 3.0;

/// Where the table is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Where {
    /// Where it was and nearby, and farther off only where that does not settle it.
    NearFirst,
    /// In the whole frame too, whatever there is where it was.
    Anywhere,
}

/// Calibrates again from one frame.
///
/// # Errors
/// [`CalibrateError::NoTable`] where the frame does not show the whole table.
pub(super) fn recalibrate(
    frame: &RgbImage,
    old: &Calibration,
    search: Where,
) -> Result<Calibration, CalibrateError> {
    let table = old.table;
    let fit = match near(frame, &table, &old.camera) {
        Some(fit) if search == Where::NearFirst && moved_px(&fit, old)? < SURELY_NEAR_PX => fit,
        Some(fit) => match anywhere(frame, &table, &old.camera) {
            Ok(found) if found.evidence.score() > fit.evidence.score() => found,
            _ => fit,
        },
        None => anywhere(frame, &table, &old.camera)?,
    };
    let camera = same_way_round(&fit.solved.camera, &table, &old.nose_corners_px)?;
    let mut report = calibrate::report(&fit, &camera, &table, (1, old.foot, None));
    // The lens is no better known than it was.
    report.sigma_mm = report.sigma_mm.max(old.report.sigma_mm);
    Ok(Calibration {
        table,
        table_given: old.table_given,
        foot: old.foot,
        camera,
        nose_corners_px: calibrate::corners_px(&camera, &table)?,
        report,
    })
}

/// How far the corner moved that moved most.
fn moved_px(fit: &Fit, old: &Calibration) -> Result<f64, CalibrateError> {
    Ok(old.moved_px(&calibrate::corners_px(&fit.solved.camera, &old.table)?))
}

/// Near where it was.
fn near(frame: &RgbImage, table: &TableSize, start: &Camera) -> Option<Fit> {
    let mut fit = refine::refine(slice::from_ref(frame), table, start, LensKnown::Exactly)?;
    // Held to some millionths: not to drift over many bumps, it is set to what it was.
    fit.solved.camera.lens = start.lens;
    fit.evidence.missing().is_none().then_some(fit)
}

/// Wherever in the frame.
fn anywhere(frame: &RgbImage, table: &TableSize, old: &Camera) -> Result<Fit, CalibrateError> {
    let found = calibrate::find_table(slice::from_ref(frame), table, None)?;
    let corners_px = calibrate::corners_px(&found.solved.camera, table)?;
    let start = start::camera_from_corners(table, corners_px, old.lens);
    Ok(start.and_then(|start| near(frame, table, &start)).unwrap_or(found))
}

/// The camera, turned by half where that brings the corners nearer to where they were.
fn same_way_round(
    camera: &Camera,
    table: &TableSize,
    were: &[PixelPoint; 4],
) -> Result<Camera, CalibrateError> {
    let turned = foot::turned(camera, table);
    let off_px = |camera: &Camera| -> Result<f64, CalibrateError> {
        let are = calibrate::corners_px(camera, table)?;
        Ok(are.iter().zip(were).map(|(is, was)| is.distance_px(*was)).sum())
    };
    Ok(if off_px(&turned)? < off_px(camera)? { turned } else { *camera })
}
