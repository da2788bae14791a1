//! Whether something lies or reaches over the cloth that is no ball.
//!
//! Input: the bed seen from above and the balls on it. Output: the area of the largest thing that
//! neither cloth, shadow nor balls explain. Method: cells that differ from the cloth in hue, or are
//! much lighter or darker than a shadow leaves them, are gathered into connected parts, with the
//! balls and what is right around them left out. Spots, chalk marks and the cushions' shadows are
//! small or thin; an arm, a cue, a rack are not. Not modelled: what has the cloth's own colour.

use super::bed::{BedView, CELL_MM, cell_place};
use super::region;
use crate::table::{TablePoint, TableSize};

/// Difference in hue (logarithmic) that no shadow makes.
const OTHER_HUE: f32 = 0.22;
/// Lighter than the cloth around, or darker than in a shadow (logarithmic brightness).
const LIGHTER: f32 = 0.3;
const DARKER: f32 = -1.5;
/// Right around a ball its picture, its gloss and its darkest shadow differ from the cloth.
const AROUND_BALL: f64 = 1.6;
/// What lies this close to the noses is the cushions' doing.
const ALONG_NOSE_MM: f64 = 16.0;
/// A pocket's mouth, with its jaws and their shadows, reaches this far beyond the hole.
const MOUTH_MM: f64 = 36.0;
/// A larger thing than this, in mm², obstructs.
const LEAST_AREA_MM2: f64 = 860.0;

/// Whether the view is obstructed.
pub(super) fn is_obstructed(view: &BedView, balls: &[TablePoint], table: &TableSize) -> bool {
    largest_area_mm2(view, balls, table) > LEAST_AREA_MM2
}

fn largest_area_mm2(view: &BedView, balls: &[TablePoint], table: &TableSize) -> f64 {
    let (w, h) = (view.columns, view.rows);
    let mut odd: Vec<bool> = view.difference.iter().map(|d| is_odd(*d)).collect();
    let pockets = table.pockets();
    let reach_mm = AROUND_BALL * table.ball_radius_mm();
    let explained = |place: TablePoint| {
        let along = |at_mm: f64, length_mm: f64| {
            !(ALONG_NOSE_MM..length_mm - ALONG_NOSE_MM).contains(&at_mm)
        };
        along(place.x_mm, table.length_mm)
            || along(place.y_mm, table.width_mm)
            || balls.iter().any(|ball| ball.distance_mm(place) < reach_mm)
            || pockets
                .iter()
                .any(|pocket| pocket.centre.distance_mm(place) < pocket.radius_mm + MOUTH_MM)
    };
    for (index, odd) in odd.iter_mut().enumerate().filter(|(_, odd)| **odd) {
        *odd = !explained(cell_place((index % w) as f64, (index / w) as f64));
    }
    let (_, areas) = region::label(&odd, (w, h));
    areas.into_iter().max().unwrap_or(0) as f64 * CELL_MM * CELL_MM
}

fn is_odd(difference: [f32; 3]) -> bool {
    let light = (difference[0] + difference[1] + difference[2]) / 3.0;
    let hue = difference.iter().map(|d| (d - light).abs()).fold(0.0, f32::max);
    hue > OTHER_HUE || !(DARKER..=LIGHTER).contains(&light)
}
