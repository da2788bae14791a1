//! A calibration as lines in the picture: where noses, pockets, sights and diamonds have to show.
//!
//! In: a calibration. Out: lines of points in the frame's pixels, bent as the lens bends them. What
//! has no picture, behind the camera or where a strong barrel lens would fold it back into the
//! frame, is left out. All of it stands on the nose plane.

use crate::camera::{Calibration, PixelPoint};
use crate::table::TablePoint;

/// Points to a straight line on the table, which the lens bends.
const LINE_POINTS: u32 = 48;
/// Points around a pocket's opening.
const CIRCLE_POINTS: usize = 72;
/// Half of a sight's mark from corner to corner.
const SIGHT_MM: f64 = 16.0;

/// A line in a picture.
pub type Line = Vec<PixelPoint>;

/// What of a table shows in a picture, as the calibration has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Lines {
    /// Lines from diamond to diamond.
    pub grid: Vec<Line>,
    /// The six cushion noses.
    pub noses: Vec<Line>,
    /// The openings of the six pockets, each a closed line.
    pub pockets: Vec<Line>,
    /// A mark around each sight.
    pub sights: Vec<Line>,
}

impl Lines {
    /// The lines of a calibration.
    pub fn of(calibration: &Calibration) -> Self {
        let table = &calibration.table;
        let (l, w) = (table.length_mm, table.width_mm);
        let across = (1..8).map(|i| f64::from(i) * l / 8.0);
        let across = across.map(|x| [TablePoint::new(x, 0.0), TablePoint::new(x, w)]);
        let along = (1..4).map(|i| f64::from(i) * w / 4.0);
        let along = along.map(|y| [TablePoint::new(0.0, y), TablePoint::new(l, y)]);
        let pieces = |[from, to]: [TablePoint; 2]| straight(calibration, from, to);
        let pockets = table.pockets();
        let pockets = pockets.iter().map(|pocket| (pocket.centre, pocket.radius_mm, CIRCLE_POINTS));
        let around = |(centre, radius_mm, count)| ring(calibration, centre, radius_mm, count);
        Self {
            grid: across.chain(along).flat_map(pieces).collect(),
            noses: table.noses().into_iter().flat_map(pieces).collect(),
            pockets: pockets.map(around).collect(),
            sights: table.sights().into_iter().map(|at| around((at, SIGHT_MM, 4))).collect(),
        }
    }
}

/// The picture of a point on the nose plane; none where it has none.
pub(super) fn on_nose_plane(calibration: &Calibration, point: TablePoint) -> Option<PixelPoint> {
    let (camera, z_mm) = (&calibration.camera, calibration.table.nose_height_mm());
    let seen = camera.project(point.at_height(z_mm))?;
    let back = camera.table_from_picture(seen, z_mm)?;
    (back.distance_mm(point) < 1.0).then_some(seen)
}

/// A straight line on the nose plane, in as many pieces as have a picture.
pub(super) fn straight(calibration: &Calibration, from: TablePoint, to: TablePoint) -> Vec<Line> {
    let at = |i: u32| {
        let along = f64::from(i) / f64::from(LINE_POINTS);
        TablePoint::new(
            from.x_mm + along * (to.x_mm - from.x_mm),
            from.y_mm + along * (to.y_mm - from.y_mm),
        )
    };
    let seen: Vec<_> = (0..=LINE_POINTS).map(|i| on_nose_plane(calibration, at(i))).collect();
    let pieces = seen.split(Option::is_none).map(|piece| piece.iter().copied().flatten().collect());
    pieces.filter(|piece: &Line| !piece.is_empty()).collect()
}

/// What is seen of a circle around a point on the nose plane, from its beginning to there again.
fn ring(calibration: &Calibration, centre: TablePoint, radius_mm: f64, count: usize) -> Line {
    let turns = (0..=count).map(|i| i as f64 / count as f64 * std::f64::consts::TAU);
    let points = turns.map(|turn| {
        let (sin, cos) = turn.sin_cos();
        TablePoint::new(centre.x_mm + radius_mm * cos, centre.y_mm + radius_mm * sin)
    });
    points.filter_map(|point| on_nose_plane(calibration, point)).collect()
}
