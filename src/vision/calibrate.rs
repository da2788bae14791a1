//! Calibration from ordinary frames: finds the table and solves lens, pose and size together.

use super::bundle::{self, Border, FixedCoordinate, LensPrior, Sighting, Solved};
use super::evidence::Evidence;
use super::quad::{self, Quad};
use super::region::Reduced;
use super::pockets::{self, SeenPocket};
use super::start::{self, PlaneMap};
use super::noses;
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

/// How far a region's border lies behind the noses, on the middle of what is seen: a cushion's top
/// where it takes in the cushions, less where it ends at the noses or their shadows.
const BORDER_MM: f64 = 20.0;
/// A pocket stands out from the bed by at least this much, as the mean step over its arc.
const LEAST_POCKET_STEP: f64 = 0.35;
/// How many of the likeliest starts are fitted.
const MOST_STARTS: usize = 3;

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
    let missing = |missing: &str| CalibrateError::NoTable { missing: missing.into() };
    let quads = quads(frame);
    if quads.is_empty() {
        return Err(missing("no four-sided surface of one colour lies whole within it"));
    }
    let mut starts: Vec<(f64, Camera)> =
        quads.iter().flat_map(|quad| starts_of(frame, table, quad)).collect();
    starts.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut kept: Vec<(f64, Camera)> = Vec::new();
    for start in starts {
        let likely = kept.first().is_none_or(|best| start.0 > best.0 - 1.0);
        let known = kept.iter().any(|other| same_view(&other.1, &start.1, table));
        if likely && !known && kept.len() < MOST_STARTS {
            kept.push(start);
        }
    }
    let starts = kept;
    if starts.is_empty() {
        return Err(missing("no pockets at the corners and the middles of the long sides"));
    }
    let best = starts
        .iter()
        .filter_map(|(_, start)| refine(frame, table, start))
        .max_by(|a, b| a.evidence.score().total_cmp(&b.evidence.score()))
        .ok_or_else(|| missing("the cushions do not run straight around the cloth"))?;
    match best.evidence.missing() {
        None => Ok(best),
        Some(what) => Err(missing(&what)),
    }
}

/// Whether two first cameras see the table at the same place, to what the refining reaches.
fn same_view(a: &Camera, b: &Camera, table: &TableSize) -> bool {
    let longer = f64::from(a.lens.width_px.max(a.lens.height_px));
    let seen = |camera: &Camera| table.corners().map(|p| camera.project(p.at_height(0.0)));
    let (a, b) = (seen(a), seen(b));
    (0..2).any(|turned| {
        (0..4).all(|i| match (a[i], b[(i + 2 * turned) % 4]) {
            (Some(a), Some(b)) => a.distance_px(b) < 0.003 * longer,
            _ => false,
        })
    })
}

/// Four-sided regions of one colour that lie within the frame, each once.
fn quads(frame: &RgbImage) -> Vec<Quad> {
    let reduced = Reduced::of(frame);
    let mut quads: Vec<Quad> = Vec::new();
    for region in reduced.regions() {
        let Some(quad) = quad::around(&reduced, &region) else { continue };
        let known = quads.iter().any(|other| same_quad(other, &quad, frame));
        if (0.75..=1.1).contains(&quad.filled) && !known && !touches_edge(&quad, frame) {
            quads.push(quad);
        }
    }
    quads
}

/// First cameras for one quad, its longer side first or second, by the pockets around it, each
/// with how clear the pockets are.
fn starts_of(frame: &RgbImage, table: &TableSize, quad: &Quad) -> Vec<(f64, Camera)> {
    (0..2).filter_map(|turned| start_of(frame, table, quad, turned)).collect()
}

fn start_of(
    frame: &RgbImage,
    table: &TableSize,
    quad: &Quad,
    turned: usize,
) -> Option<(f64, Camera)> {
    let middle = table.centre_spot();
    let mut pairs = [(middle, [0.0; 2]); 4];
    for (i, (pair, corner)) in pairs.iter_mut().zip(table.corners()).enumerate() {
        let at = quad.corners[(i + turned) % 4];
        let x_mm = corner.x_mm + BORDER_MM.copysign(corner.x_mm - middle.x_mm);
        let y_mm = corner.y_mm + BORDER_MM.copysign(corner.y_mm - middle.y_mm);
        *pair = (TablePoint::new(x_mm, y_mm), [at.x_px, at.y_px]);
    }
    let map = PlaneMap::new(table, &pairs)?;
    let seen = pockets::look(frame, &map, table);
    let clear = seen.iter().filter(|seen| seen.step > LEAST_POCKET_STEP).count();
    if clear < 5 || seen.len() < 6 {
        return None;
    }
    let longer = f64::from(frame.width().max(frame.height()));
    let focal_px = longer * LensPrior::ORDINARY.focal_part;
    let lens = Lens::pinhole(frame.width(), frame.height(), focal_px);
    let corners = [0, 1, 2, 3].map(|i| (seen[i].pocket.centre, seen[i].at));
    let guess = start::camera_from_points(table, &corners, 0.0, lens)?;
    let mut sightings: Vec<Sighting> = seen
        .iter()
        .flat_map(|seen| pocket_sightings(seen, &guess))
        .collect();
    let solved = bundle::solve(&guess, &mut sightings, &LensPrior::FIRM, 25.0)?;
    let score = seen.iter().map(|seen| seen.step.min(1.0)).sum::<f64>() - 0.1 * solved.rms_px;
    if std::env::var_os("STILLCLOTH_DEBUG").is_some() { eprintln!("start {score:.2} turned {turned} steps {:.2?} rms {:.2} f {:.0} k1 {:.3} h {:.0}", seen.iter().map(|s| s.step).collect::<Vec<_>>(), solved.rms_px, solved.camera.lens.focal_px, solved.camera.lens.k1, solved.camera.pose.position().z_mm); }
    Some((score, solved.camera))
}

/// A pocket's centre as two sightings; how far it lies behind the noses varies among tables.
fn pocket_sightings(seen: &SeenPocket, camera: &Camera) -> [Sighting; 2] {
    const SIGMA_MM: f64 = 6.0;
    let centre = seen.pocket.centre;
    let mm_per_px = camera.mm_per_px(centre, 0.0).unwrap_or(3.0);
    let sigma_px = SIGMA_MM / mm_per_px;
    [FixedCoordinate::X(centre.x_mm), FixedCoordinate::Y(centre.y_mm)]
        .map(|line| Sighting::new(seen.at, line, 0.0, sigma_px))
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

/// Refines a first camera by the noses and the cushions' borders, looking ever closer.
fn refine(frame: &RgbImage, table: &TableSize, start: &Camera) -> Option<Fit> {
    let mut camera = *start;
    let mut solved: Option<Solved> = None;
    for (round, (reach_mm, tukey_px)) in
        [(18.0, 6.0), (12.0, 3.0), (8.0, 2.5), (6.0, 2.0), (5.0, 1.5)].into_iter().enumerate()
    {
        let prior = if round < 3 { LensPrior::FIRM } else { LensPrior::ORDINARY };
        let mut seen = if round < 2 {
            noses::look(frame, &camera, table, reach_mm)
        } else {
            noses::look_closely(frame, &camera, table, reach_mm)
        };
        let border = solved.as_ref().map_or(Border::ORDINARY, |solved| solved.border);
        let borders = noses::look_borders(frame, &camera, table, border, 0.8 * reach_mm);
        if seen.coverage.iter().sum::<f64>() + borders.coverage.iter().sum::<f64>() < 4.0 {
            return None;
        }
        let spread = if round < 2 { 4.0 } else { 1.0 };
        seen.sightings.extend(borders.sightings.into_iter().map(|mut border| {
            border.sigma_px *= spread;
            border
        }));
        let found = bundle::solve(&camera, &mut seen.sightings, &prior, tukey_px)?;
        camera = found.camera;
        if std::env::var_os("STILLCLOTH_DEBUG").is_some() { eprintln!("    reach {reach_mm} n {} rms {:.2} f {:.0} k1 {:.3} h {:.0} b {:.1?} cov {:.2?} {:.2?}", seen.sightings.iter().filter(|s| s.weight>0.0).count(), found.rms_px, camera.lens.focal_px, camera.lens.k1, camera.pose.position().z_mm, found.border, seen.coverage, borders.coverage); }
        solved = Some(found);
    }
    let solved = solved?;
    let evidence = Evidence::gather(frame, &camera, table, solved.border);
    Some(Fit { solved, evidence })
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
