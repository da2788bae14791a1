//! Calibration from ordinary frames: finds the table and solves lens, pose and size together.

use super::bundle;
use super::refine::{self, Fit, LensKnown};
use super::region::Grain;
use super::{beside, evidence, focal, foot, search, size, start};
use crate::camera::{Calibration, CalibrationReport, Camera, Lens, PixelPoint};
use crate::table::{FootEnd, TableSize};
use image::RgbImage;
use thiserror::Error;

/// Which end of the table the user says is the foot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FootChoice {
    /// Taken from the rack or the foot spot when seen.
    #[default]
    FromFrame,
    /// The end that lies further left in the picture.
    Left,
    /// The end that lies further right in the picture.
    Right,
    /// The end that lies further up in the picture.
    Top,
    /// The end that lies further down in the picture.
    Bottom,
}

/// What the user knows beforehand.
#[derive(Debug, Clone, Default)]
pub struct CalibrateOptions {
    /// The table's size; taken from the balls' apparent size where none.
    pub table: Option<TableSize>,
    pub foot: FootChoice,
    /// Nose corners given by hand, in order around the table; refined before use.
    pub corners_px: Option<[PixelPoint; 4]>,
    /// The lens, from pictures of a printed board; only the camera's place is solved then.
    pub lens: Option<Lens>,
}

/// Why no calibration came out of the frames.
#[derive(Debug, Error)]
pub enum CalibrateError {
    #[error("no frame was given: calibration needs at least one picture of the whole table")]
    NoFrame,
    #[error(
        "no table found in the picture: {missing}. The whole table has to be in view, from above, with light on it"
    )]
    NoTable { missing: String },
    #[error(
        "the frames are of different sizes ({first} and {other} pixels): give frames of one camera only"
    )]
    MixedSizes { first: String, other: String },
    #[error(
        "the lens is one of pictures of {lens} pixels, the frame has {frame}: give the lens of this camera at this size"
    )]
    OtherLens { lens: String, frame: String },
}

/// More has to speak for a table that is found only with the grain smoothed away, or by its openings, as
/// its evidence has it: of those found with the grain smoothed away true ones scored 6.47 and more, and one
/// that was some lines beside a dim one 5.87.
const LEAST_SCORE_HIDDEN: f64 = 6.2;

fn size_in_words((width_px, height_px): (u32, u32)) -> String {
    format!("{width_px} × {height_px}")
}

/// Finds the table in frames of one camera and solves lens, pose and table size.
///
/// # Errors
/// [`CalibrateError`] where the frames do not show a whole table.
pub fn calibrate(
    frames: &[RgbImage],
    options: &CalibrateOptions,
) -> Result<Calibration, CalibrateError> {
    let first = frames.first().ok_or(CalibrateError::NoFrame)?;
    if let Some(other) = frames.iter().find(|frame| frame.dimensions() != first.dimensions()) {
        let [first, other] = [first, other].map(|frame| size_in_words(frame.dimensions()));
        return Err(CalibrateError::MixedSizes { first, other });
    }
    if let Some(lens) =
        options.lens.filter(|lens| (lens.width_px, lens.height_px) != first.dimensions())
    {
        let lens = size_in_words((lens.width_px, lens.height_px));
        return Err(CalibrateError::OtherLens { lens, frame: size_in_words(first.dimensions()) });
    }
    let assumed = options.table.unwrap_or(TableSize::NINE_FOOT);
    let mut fit = find_table(frames, &assumed, options.corners_px.as_ref())?;
    let mut lens_known = LensKnown::Roughly;
    if let Some(lens) = options.lens {
        fit = through(frames, &assumed, &fit, lens)?;
        lens_known = LensKnown::Exactly;
    }
    if options.table.is_some() {
        return solved(frames, &fit, &assumed, (options, None));
    }
    let inferred = size::infer(frames, &fit.solved.camera, fit.solved.border);
    let fit = fitted_to(frames, fit, &inferred.table, lens_known);
    let sized = solved(frames, &fit, &inferred.table, (options, Some(inferred.balls)))?;
    match size::by_the_rack(frames, &sized) {
        Some((table, balls)) if table != sized.table => {
            let fit = fitted_to(frames, fit, &table, lens_known);
            solved(frames, &fit, &table, (options, Some(balls)))
        }
        _ => Ok(sized),
    }
}

/// The same cushions as those of another size of table.
fn fitted_to(frames: &[RgbImage], fit: Fit, table: &TableSize, lens: LensKnown) -> Fit {
    if *table == fit.table {
        return fit;
    }
    let start = size::scaled(&fit.solved.camera, &fit.table, table);
    refine::refine(frames, table, &start, lens).unwrap_or(fit)
}

/// A calibration from a fitted table.
fn solved(
    frames: &[RgbImage],
    fit: &Fit,
    table: &TableSize,
    (options, sized_by): (&CalibrateOptions, Option<usize>),
) -> Result<Calibration, CalibrateError> {
    // A lens that is given is known better than any ball can tell.
    let told = options.lens.is_none().then(|| focal::told_by_balls(frames, fit)).flatten();
    let fit = told.as_ref().unwrap_or(fit);
    let (camera, foot) = foot::settle(frames, &fit.solved.camera, table, options.foot);
    Ok(Calibration {
        table: *table,
        table_given: options.table.is_some(),
        foot,
        camera,
        nose_corners_px: corners_px(&camera, table)?,
        report: report(fit, &camera, table, (frames.len(), foot, sized_by)),
    })
}

/// The table that was found, seen through a lens that is known.
fn through(
    frames: &[RgbImage],
    table: &TableSize,
    found: &Fit,
    lens: Lens,
) -> Result<Fit, CalibrateError> {
    start::camera_from_corners(table, corners_px(&found.solved.camera, table)?, lens)
        .and_then(|start| refine::refine(frames, table, &start, LensKnown::Exactly))
        .filter(|fit| fit.evidence.missing().is_none())
        .ok_or_else(|| CalibrateError::NoTable {
            missing:
                "seen through the lens that was given its cushions are not straight, so it is \
                      not this camera's lens"
                    .into(),
        })
}

/// The best table in the frames: found in the first that shows one, refined in all. What grain hides
/// is looked for where nothing is found with it, and the openings where no surface of one colour is one.
pub(super) fn find_table(
    frames: &[RgbImage],
    table: &TableSize,
    by_hand: Option<&[PixelPoint; 4]>,
) -> Result<Fit, CalibrateError> {
    let Some(corners_px) = by_hand else {
        let found = |grain| best_of(frames, table, |frame| search::starts(frame, table, grain));
        let plain = |fit: &Fit| fit.evidence.score() > LEAST_SCORE_HIDDEN;
        let by_openings = || best_of(frames, table, |f| search::starts_by_openings(f, table));
        return found(Grain::Kept).or_else(|missing| {
            let smoothed = found(Grain::Smoothed).ok().filter(plain);
            smoothed.or_else(|| by_openings().ok().filter(plain)).ok_or(missing)
        });
    };
    best_of(frames, table, |frame| search::starts_at(frame, table, corners_px))
}

/// The best table from first cameras: in the first frame that has one, refined in all.
fn best_of(
    frames: &[RgbImage],
    table: &TableSize,
    starts: impl Fn(&RgbImage) -> Result<Vec<Camera>, String>,
) -> Result<Fit, CalibrateError> {
    let mut missing = String::new();
    for frame in frames {
        match starts(frame) {
            Err(what) => missing = what,
            Ok(starts) => {
                let best = starts
                    .iter()
                    .filter_map(|start| refine::refine(frames, table, start, LensKnown::Roughly))
                    .max_by(|a, b| a.evidence.score().total_cmp(&b.evidence.score()));
                let best = best.map(|fit| beside::best(frames, table, fit));
                match best.map(|fit| (fit.evidence.missing(), fit)) {
                    Some((None, fit)) => return Ok(fit),
                    Some((Some(what), _)) => missing = what,
                    None => missing = "the cushions do not run straight around the cloth".into(),
                }
            }
        }
    }
    Err(CalibrateError::NoTable { missing })
}

pub(super) fn corners_px(
    camera: &Camera,
    table: &TableSize,
) -> Result<[PixelPoint; 4], CalibrateError> {
    let missing = || CalibrateError::NoTable { missing: "a corner lies behind the camera".into() };
    let seen =
        table.corners().map(|corner| camera.project(corner.at_height(table.nose_height_mm())));
    let [Some(a), Some(b), Some(c), Some(d)] = seen else { return Err(missing()) };
    Ok([a, b, c, d])
}

pub(super) fn report(
    fit: &Fit,
    camera: &Camera,
    table: &TableSize,
    (frames, foot, sized_by): (usize, FootEnd, Option<usize>),
) -> CalibrationReport {
    let worst_corner_mm_per_px = evidence::coarsest_mm_per_px(camera, table);
    let focal_sigma = bundle::focal_sigma(&fit.solved);
    let tilt_deg = camera.pose.tilt_rad().to_degrees();
    let mut weak = Vec::new();
    if focal_sigma > 0.08 {
        weak.push(format!(
            "height and focal length are known to {:.0} % only, since the camera looks straight \
             down: balls far from the middle may be off by a millimetre. A lens calibration from a \
             printed board settles it",
            100.0 * focal_sigma
        ));
    }
    let faint = fit.evidence.noses.iter().filter(|part| **part < 0.5).count();
    if faint > 0 {
        weak.push(format!(
            "{faint} of six cushion noses are faint or hidden: more even light along the rails helps"
        ));
    }
    if tilt_deg > 35.0 {
        weak.push(format!("the camera looks at the table aslant ({tilt_deg:.0}°): hang it higher"));
    }
    match sized_by {
        Some(0) => weak.push(format!(
            "the table's size was taken as {} from the cushions' width alone, since no ball is \
             seen: say which it is",
            table.name()
        )),
        Some(balls) if balls < 3 => weak.push(format!(
            "the table's size ({}) was taken from {balls} ball(s) only: say which it is",
            table.name()
        )),
        _ => {}
    }
    if foot == FootEnd::Open {
        weak.push(
            "nothing in the picture tells which end is the foot: choose it on the set-up page, or \
             give --foot"
                .into(),
        );
    }
    CalibrationReport {
        frames,
        reprojection_px: fit.solved.rms_px,
        height_mm: camera.pose.position().z_mm,
        tilt_deg,
        focal_px: camera.lens.focal_px,
        worst_corner_mm_per_px,
        sigma_mm: bundle::place_sigma_mm(&fit.solved, table),
        weak,
    }
}
