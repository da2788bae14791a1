//! The lines beside a fitted table's noses, which one of its sides may be taken for.
//!
//! Input: frames and the table fitted to them. Output: the best of that fit and of those that begin with
//! one faint side a cushion's width farther in or out. A cushion has lines along both its edges; where
//! the rails have the cloth's colour and one cushion throws a deep shadow, a whole side settles on the
//! wrong one, pockets and sights then not being where they should. Not modelled: two sides at once.

use super::bundle::{Border, FixedCoordinate, LensPrior};
use super::evidence::Evidence;
use super::noses::Nose;
use super::refine::{self, Fit, LensKnown};
use super::start;
use crate::camera::Camera;
use crate::table::TableSize;
use image::RgbImage;

/// A nose or its cushion's border that is seen along less than this part of its length is faint.
const FAINT: f64 = 0.5;

/// The sides with what is faint about a fit.
fn faint(evidence: &Evidence, table: &TableSize) -> Vec<FixedCoordinate> {
    let mut sides = Vec::new();
    let seen = evidence.noses.into_iter().zip(evidence.borders);
    for (nose, (seen, border)) in Nose::all(table).iter().zip(seen) {
        if seen.min(border) < FAINT && !sides.contains(&nose.line) {
            sides.push(nose.line);
        }
    }
    sides
}

/// The best of a fit and of those a cushion's width beside it.
pub(super) fn best(frames: &[RgbImage], table: &TableSize, fit: Fit) -> Fit {
    let width_mm = Border::ORDINARY.behind_mm;
    let ways = [-width_mm, width_mm];
    let starts: Vec<Camera> = faint(&fit.evidence, table)
        .into_iter()
        .flat_map(|side| ways.map(|by_mm| (side, by_mm)))
        .filter_map(|moved| start_beside(&fit.solved.camera, table, moved))
        .collect();
    let refined =
        starts.iter().filter_map(|start| refine::refine(frames, table, start, LensKnown::Roughly));
    let score = |fit: &Fit| fit.evidence.score();
    refined.fold(fit, |best, other| if score(&other) > score(&best) { other } else { best })
}

/// A first camera that sees one side where another one would see it so far along its axis.
fn start_beside(
    fitted: &Camera,
    table: &TableSize,
    (side, by_mm): (FixedCoordinate, f64),
) -> Option<Camera> {
    let z_mm = table.nose_height_mm();
    let seen = table.corners().map(|mut corner| {
        match side {
            FixedCoordinate::X(x_mm) if (corner.x_mm - x_mm).abs() < 1.0 => corner.x_mm += by_mm,
            FixedCoordinate::Y(y_mm) if (corner.y_mm - y_mm).abs() < 1.0 => corner.y_mm += by_mm,
            FixedCoordinate::X(_) | FixedCoordinate::Y(_) => {}
        }
        fitted.project(corner.at_height(z_mm))
    });
    let [Some(a), Some(b), Some(c), Some(d)] = seen else { return None };
    let lens = LensPrior::ORDINARY.likeliest((fitted.lens.width_px, fitted.lens.height_px));
    start::camera_from_corners(table, [a, b, c, d], lens)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::{Lens, Pose};
    use crate::table::{SpacePoint, TablePoint};

    #[test]
    fn a_start_beside_sees_one_side_moved_and_the_others_where_they_are() {
        let table = TableSize::NINE_FOOT;
        let lens = Lens::pinhole(1280, 720, 998.4);
        let position = SpacePoint { x_mm: 1270.0, y_mm: 635.0, z_mm: 2600.0 };
        let pose = Pose::looking(position, [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]);
        let fitted = Camera { lens, pose };
        let moved =
            start_beside(&fitted, &table, (FixedCoordinate::X(0.0), 49.0)).expect("a camera above");
        let seen = |camera: &Camera, x_mm: f64, y_mm: f64| {
            let place = TablePoint::new(x_mm, y_mm).at_height(table.nose_height_mm());
            camera.project(place).expect("in front of the camera")
        };
        for y_mm in [0.0, table.width_mm] {
            let head = seen(&moved, 0.0, y_mm).distance_px(seen(&fitted, 49.0, y_mm));
            let foot = seen(&moved, table.length_mm, y_mm);
            let foot = foot.distance_px(seen(&fitted, table.length_mm, y_mm));
            assert!(head < 8.0 && foot < 8.0, "{head} and {foot} px off");
        }
    }
}
