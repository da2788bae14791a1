//! Calibration from ordinary frames: finds the table and solves lens, pose and size together.

use super::bundle::{self, FixedCoordinate, LensPrior, Sighting, Solved};
use super::evidence::Evidence;
use super::quad::{self, Quad};
use super::region::Reduced;
use super::{noses, start};
use crate::camera::{Calibration, CalibrationReport, Camera, Lens, PixelPoint};
use crate::table::{FootEnd, TablePoint, TableSize};
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
}

/// How far the region's border may lie behind the nose: a cushion's top where it takes in the
/// cushions, nothing where it ends at the nose, less where it ends at the shadow under the nose.
const BORDERS_MM: [f64; 4] = [50.0, 25.0, 0.0, -25.0];

/// A table fitted to one frame.
struct Fit {
    solved: Solved,
    evidence: Evidence,
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
    let table = options.table.unwrap_or(TableSize::NINE_FOOT);
    let fit = find_table(first, &table)?;
    Ok(report(fit, &table, options.table.is_some()))
}

/// The best table in a frame.
fn find_table(frame: &RgbImage, table: &TableSize) -> Result<Fit, CalibrateError> {
    let reduced = Reduced::of(frame);
    let mut best: Option<Fit> = None;
    let mut tried: Vec<Quad> = Vec::new();
    for (ri, region) in reduced.regions().into_iter().enumerate() {
        if let Some(d) = std::env::var_os("STILLCLOTH_MASKS") {
            let mut im = image::GrayImage::new(reduced.width as u32, reduced.height as u32);
            for (p, m) in im.pixels_mut().zip(&region.mask) { p.0[0] = if *m {255} else {0}; }
            if let Some(q) = quad::around(&reduced, &region) { for c in q.sides.iter().flatten() { let (x,y)=((c.x_px/reduced.step) as u32,(c.y_px/reduced.step) as u32); if x<im.width()&&y<im.height(){ im.put_pixel(x,y,image::Luma([128])); } } eprintln!("{ri} filled {:.2} covered {:.2} {:?}", q.filled, q.covered, q.corners); } else { eprintln!("{ri} no quad"); }
            let _ = im.save(format!("{}/m{ri}.png", d.to_string_lossy()));
        }
        let Some(quad) = quad::around(&reduced, &region) else { continue };
        let known = tried.iter().any(|other| same_quad(other, &quad, frame));
        if quad.filled < 0.75 || quad.filled > 1.1 || known || touches_edge(&quad, frame) {
            continue;
        }
        for fit in fits_of(frame, table, &quad) {
            if std::env::var_os("STILLCLOTH_DEBUG").is_some() {
                eprintln!("fit {:?} {:.2} rms {:.2}", fit.evidence, fit.evidence.score(), fit.solved.rms_px);
            }
            if best.as_ref().is_none_or(|b| fit.evidence.score() > b.evidence.score()) {
                best = Some(fit);
            }
        }
        tried.push(quad);
    }
    let missing = match &best {
        None => Some("no four-sided surface of one colour".to_owned()),
        Some(fit) => fit.evidence.missing(),
    };
    match (best, missing) {
        (Some(fit), None) => Ok(fit),
        (_, missing) => Err(CalibrateError::NoTable { missing: missing.unwrap_or_default() }),
    }
}

/// Whether a quad runs along the picture's edge, as floors and walls do.
fn touches_edge(quad: &Quad, frame: &RgbImage) -> bool {
    let (w, h) = (f64::from(frame.width()), f64::from(frame.height()));
    let margin_px = 0.008 * w.max(h);
    let near = |p: &PixelPoint| {
        p.x_px < margin_px || p.y_px < margin_px || p.x_px > w - margin_px || p.y_px > h - margin_px
    };
    quad.sides.iter().any(|side| side.iter().filter(|p| near(p)).count() * 2 > side.len())
}

fn same_quad(a: &Quad, b: &Quad, frame: &RgbImage) -> bool {
    let close_px = 0.004 * f64::from(frame.width().max(frame.height()));
    (0..4).any(|turn| {
        (0..4).all(|i| a.corners[i].distance_px(b.corners[(i + turn) % 4]) < close_px)
    })
}

/// All fits of a table to one quad: long side first or second, with and without cushion tops.
fn fits_of(frame: &RgbImage, table: &TableSize, quad: &Quad) -> Vec<Fit> {
    let mut fits = Vec::new();
    for turned in 0..2 {
        for border_mm in BORDERS_MM {
            if let Some(fit) = fit_quad(frame, table, quad, (turned, border_mm)) {
                fits.push(fit);
            }
        }
    }
    fits
}

fn fit_quad(
    frame: &RgbImage,
    table: &TableSize,
    quad: &Quad,
    (turned, border_mm): (usize, f64),
) -> Option<Fit> {
    let longer = f64::from(frame.width().max(frame.height()));
    let lens = Lens::pinhole(frame.width(), frame.height(), longer * LensPrior::ORDINARY.focal_part);
    let z_mm = table.nose_height_mm();
    let corner = |i: usize| quad.corners[(i + turned) % 4];
    let corners = [corner(0), corner(1), corner(2), corner(3)];
    let guess = start::camera_from_corners(&corners, table, (border_mm, z_mm), lens)?;
    let (l, w) = (table.length_mm, table.width_mm);
    let lines = [
        FixedCoordinate::Y(-border_mm),
        FixedCoordinate::X(l + border_mm),
        FixedCoordinate::Y(w + border_mm),
        FixedCoordinate::X(-border_mm),
    ];
    let sigma_px = longer / 480.0 * 0.7;
    let mut sightings: Vec<Sighting> = Vec::new();
    for (i, line) in lines.into_iter().enumerate() {
        let side = &quad.sides[(i + turned) % 4];
        sightings.extend(
            side.iter()
                .step_by(2)
                .map(|at| Sighting::new(*at, line, z_mm, sigma_px)),
        );
    }
    let coarse = bundle::solve(&guess, &mut sightings, &LensPrior::STIFF, 12.0 * sigma_px);
    if std::env::var_os("STILLCLOTH_DEBUG").is_some() { eprintln!("  guess h {:.0} coarse {:?}", guess.pose.position().z_mm, coarse.as_ref().map(|c| (c.rms_px, c.camera.lens.focal_px, c.camera.lens.k1, c.camera.pose.position().z_mm))); }
    let mut camera = coarse?.camera;
    let mut solved = None;
    for (round, (reach_mm, tukey_px)) in
        [(28.0, 6.0), (14.0, 3.0), (7.0, 2.0), (5.0, 1.5)].into_iter().enumerate()
    {
        let prior = if round == 0 { LensPrior::STIFF } else { LensPrior::ORDINARY };
        let mut seen = if round < 2 {
            noses::look(frame, &camera, table, reach_mm)
        } else {
            noses::look_closely(frame, &camera, table, reach_mm)
        };
        if seen.coverage.iter().sum::<f64>() < 2.0 {
            return None;
        }
        let round = bundle::solve(&camera, &mut seen.sightings, &prior, tukey_px)?;
        camera = round.camera;
        if std::env::var_os("STILLCLOTH_DEBUG").is_some() { eprintln!("    reach {reach_mm} n {} rms {:.2} f {:.0} k1 {:.3} h {:.0} cov {:.2?}", seen.sightings.iter().filter(|s| s.weight>0.0).count(), round.rms_px, camera.lens.focal_px, camera.lens.k1, camera.pose.position().z_mm, seen.coverage); }
        solved = Some(round);
    }
    let evidence = Evidence::gather(frame, &camera, table, 3.0);
    Some(Fit { solved: solved?, evidence })
}

fn report(fit: Fit, table: &TableSize, table_given: bool) -> Calibration {
    let camera: Camera = fit.solved.camera;
    let nose_corners_px = table.corners().map(|corner| {
        camera
            .project(corner.at_height(table.nose_height_mm()))
            .unwrap_or(PixelPoint::new(f64::NAN, f64::NAN))
    });
    let worst = table
        .corners()
        .iter()
        .filter_map(|corner: &TablePoint| camera.mm_per_px(*corner, table.nose_height_mm()))
        .fold(0.0, f64::max);
    Calibration {
        table: *table,
        table_given,
        foot: FootEnd::Open,
        camera,
        nose_corners_px,
        report: CalibrationReport {
            frames: 1,
            reprojection_px: fit.solved.rms_px,
            height_mm: camera.pose.position().z_mm,
            tilt_deg: camera.pose.tilt_rad().to_degrees(),
            focal_px: camera.lens.focal_px,
            worst_corner_mm_per_px: worst,
            sigma_mm: 0.3,
            weak: Vec::new(),
        },
    }
}
