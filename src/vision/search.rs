//! Where a table may be in a frame: first cameras for `refine`.
//!
//! Input: a frame, a table size. Output: the likeliest cameras, good to some millimetres. Method:
//! four-sided regions of one colour (`region`, `quad`) say roughly where a table lies; the pockets
//! around them (`pockets`) say exactly enough, and which sides are the long ones. A region that is
//! no table has no six pockets. Where no region is one, the six openings alone (`openings`) say roughly.

use super::bundle::{self, FixedCoordinate, LensPrior, Sighting};
use super::openings;
use super::pockets::{self, SeenPocket};
use super::quad::{self, Quad};
use super::region::{Grain, Reduced};
use super::start::{self, PlaneMap};
use crate::camera::{Camera, PixelPoint};
use crate::table::{TablePoint, TableSize};
use image::RgbImage;

/// How far a region's border lies behind the noses, on the middle of what is seen: a cushion's top
/// where it takes in the cushions, less where it ends at the noses or their shadows.
const BORDER_MM: f64 = 20.0;
/// The same where the region is the table with its rails: they are 120 to 160 mm wide. It is what
/// is found where a line drawn across the bed parts the cloth in two.
const RAILS_MM: f64 = 140.0;
/// Two parts of a cloth lie so near each other, as a part of the picture's longer side.
const ASIDE_PART: f64 = 0.012;
/// Pockets that have to stand out from the bed.
const LEAST_POCKETS: usize = 4;
/// How often the pockets are looked for again from where they were found.
const MOST_LOOKS: usize = 3;
/// How many of the likeliest starts are fitted.
const MOST_STARTS: usize = 3;

/// The likeliest first cameras for corners given by hand, best first; the error says what is missing
/// for one.
pub(super) fn starts_at(
    frame: &RgbImage,
    table: &TableSize,
    corners_px: &[PixelPoint; 4],
) -> Result<Vec<Camera>, String> {
    likeliest(frame, table, starts_of(frame, table, &quad::counter_clockwise(*corners_px), 0.0))
}

/// The same for a table anywhere in the frame.
pub(super) fn starts(
    frame: &RgbImage,
    table: &TableSize,
    grain: Grain,
) -> Result<Vec<Camera>, String> {
    let quads = quads(frame, grain);
    if quads.is_empty() {
        return Err("no four-sided surface of one colour lies whole within it".into());
    }
    let mut surfaces: Vec<[PixelPoint; 4]> = quads.iter().map(|quad| quad.corners).collect();
    surfaces.extend(joined(&surfaces, frame));
    let of = |corners_px: &[PixelPoint; 4]| {
        [BORDER_MM, RAILS_MM].map(|mm| starts_of(frame, table, corners_px, mm)).concat()
    };
    likeliest(frame, table, surfaces.iter().flat_map(of).collect())
}

/// The same by the six openings alone.
pub(super) fn starts_by_openings(
    frame: &RgbImage,
    table: &TableSize,
) -> Result<Vec<Camera>, String> {
    let maps = openings::maps(&Reduced::of(frame, Grain::Kept), table);
    likeliest(frame, table, maps.iter().filter_map(|map| by_pockets(frame, table, map)).collect())
}

/// The best of some starts, each view once.
fn likeliest(
    frame: &RgbImage,
    table: &TableSize,
    mut starts: Vec<(f64, Camera)>,
) -> Result<Vec<Camera>, String> {
    starts.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut kept: Vec<(f64, Camera)> = Vec::new();
    for start in starts {
        let likely = kept.first().is_none_or(|best| start.0 > best.0 - 1.0);
        let known = kept.iter().any(|other| same_view(&other.1, &start.1, table));
        if likely && !known && kept.len() < MOST_STARTS {
            kept.push(start);
        }
    }
    if kept.is_empty() {
        return Err("no pockets at the corners and the middles of the long sides".into());
    }
    Ok(kept.into_iter().map(|start| looked_again(frame, table, start).1).collect())
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
fn quads(frame: &RgbImage, grain: Grain) -> Vec<Quad> {
    let reduced = Reduced::of(frame, grain);
    let mut quads: Vec<Quad> = Vec::new();
    for region in reduced.regions() {
        let Some(quad) = quad::around(&reduced, &region) else { continue };
        let known = quads.iter().any(|other| same_corners(&other.corners, &quad.corners, frame));
        if (0.75..=1.1).contains(&quad.filled) && !known && !touches_edge(&quad, frame) {
            quads.push(quad);
        }
    }
    quads
}

/// The surfaces that two quads make which lie side by side: a line drawn across the bed parts the
/// cloth in two.
fn joined(quads: &[[PixelPoint; 4]], frame: &RgbImage) -> Vec<[PixelPoint; 4]> {
    let close_px = ASIDE_PART * f64::from(frame.width().max(frame.height()));
    let mut surfaces = Vec::new();
    for (index, a) in quads.iter().enumerate() {
        for b in &quads[index + 1..] {
            for (i, j) in (0..4).flat_map(|i| (0..4).map(move |j| (i, j))) {
                // Both run the same way around, so a side that they share runs to and fro.
                let shared = a[i].distance_px(b[(j + 1) % 4]) < close_px
                    && a[(i + 1) % 4].distance_px(b[j]) < close_px;
                let [far_a, far_b] = [(a, i), (b, j)]
                    .map(|(quad, side)| [quad[(side + 2) % 4], quad[(side + 3) % 4]]);
                let surface = [far_a[0], far_a[1], far_b[0], far_b[1]];
                if shared && !surfaces.iter().any(|other| same_corners(other, &surface, frame)) {
                    surfaces.push(surface);
                }
            }
        }
    }
    surfaces
}

/// First cameras for one quad, its longer side first or second, by the pockets around it, each
/// with how clear the pockets are.
fn starts_of(
    frame: &RgbImage,
    table: &TableSize,
    corners_px: &[PixelPoint; 4],
    border_mm: f64,
) -> Vec<(f64, Camera)> {
    (0..2)
        .filter_map(|turned| {
            let turned_px = [0, 1, 2, 3].map(|i| corners_px[(i + turned) % 4]);
            start_of(frame, table, &turned_px, border_mm)
        })
        .collect()
}

fn start_of(
    frame: &RgbImage,
    table: &TableSize,
    corners_px: &[PixelPoint; 4],
    border_mm: f64,
) -> Option<(f64, Camera)> {
    let middle = table.centre_spot();
    let mut pairs = [(middle, [0.0; 2]); 4];
    for ((pair, corner), at) in pairs.iter_mut().zip(table.corners()).zip(corners_px) {
        let x_mm = corner.x_mm + border_mm.copysign(corner.x_mm - middle.x_mm);
        let y_mm = corner.y_mm + border_mm.copysign(corner.y_mm - middle.y_mm);
        *pair = (TablePoint::new(x_mm, y_mm), [at.x_px, at.y_px]);
    }
    by_pockets(frame, table, &PlaneMap::new(table, &pairs)?)
}

/// A first camera by the pockets near where a map has them, and how clear they are.
fn by_pockets(frame: &RgbImage, table: &TableSize, map: &PlaneMap) -> Option<(f64, Camera)> {
    let seen = pockets::look(frame, map, table);
    if seen.len() < 6 || seen.iter().filter(|seen| seen.clear).count() < LEAST_POCKETS {
        return None;
    }
    let lens = LensPrior::ORDINARY.likeliest(frame.dimensions());
    let corners = [0, 1, 2, 3].map(|i| (seen[i].pocket.centre, seen[i].at));
    let guess = start::camera_from_points(table, &corners, 0.0, lens)?;
    let mut sightings: Vec<Sighting> =
        seen.iter().flat_map(|seen| pocket_sightings(seen, &guess)).collect();
    let solved = bundle::solve(&guess, &mut sightings, &LensPrior::FIRM, 25.0)?;
    let score = seen.iter().map(|seen| seen.step.min(1.0)).sum::<f64>() - 0.1 * solved.rms_px;
    Some((score, solved.camera))
}

/// A start by the pockets near where another one has them, as long as they grow clearer: the first look
/// may begin too far off to reach them all.
fn looked_again(frame: &RgbImage, table: &TableSize, mut start: (f64, Camera)) -> (f64, Camera) {
    for _ in 0..MOST_LOOKS {
        let seen =
            table.corners().map(|corner| Some((corner, start.1.project(corner.at_height(0.0))?)));
        let [Some(a), Some(b), Some(c), Some(d)] = seen else { break };
        let pairs = [a, b, c, d].map(|(corner, at)| (corner, [at.x_px, at.y_px]));
        let again = PlaneMap::new(table, &pairs).and_then(|map| by_pockets(frame, table, &map));
        match again.filter(|again| again.0 > start.0) {
            Some(again) => start = again,
            None => break,
        }
    }
    start
}

/// A pocket's centre as two sightings; how far it lies behind the noses varies among tables.
fn pocket_sightings(seen: &SeenPocket, camera: &Camera) -> [Sighting; 2] {
    let sigma_mm = if seen.clear { 6.0 } else { 30.0 };
    let centre = seen.pocket.centre;
    let mm_per_px = camera.mm_per_px(centre, 0.0).unwrap_or(3.0);
    let sigma_px = sigma_mm / mm_per_px;
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

fn same_corners(a: &[PixelPoint; 4], b: &[PixelPoint; 4], frame: &RgbImage) -> bool {
    let close_px = 0.004 * f64::from(frame.width().max(frame.height()));
    (0..4).any(|turn| (0..4).all(|i| a[i].distance_px(b[(i + turn) % 4]) < close_px))
}
