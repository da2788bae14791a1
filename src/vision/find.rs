//! Where balls may lie: votes of the edges for centres.
//!
//! Input: the bed seen from above. Output: places where a ball's outline has support, strongest
//! first, as table points good to some millimetres. Method: a circle transform with the radius
//! known (D. H. Ballard, "Generalizing the Hough transform", 1981): a ball's outline on the plane
//! of the centres is an ellipse that is longer by 1/cos θ away from the camera's foot point, so an
//! edge's direction tells where the centre is, on either side. Only what differs from the cloth
//! votes. A place is a proposal: `ball_fit` and what follows decide.

use super::bed::{BedView, CELL_MM, cell_place, largest, place_cell};
use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};

/// An edge this strong (logarithmic colour to the cell) has a full vote.
const FULL_EDGE: f32 = 0.16;
/// An edge weaker than this does not vote.
const LEAST_EDGE: f32 = 0.02;
/// Least difference from the cloth that is looked at, whatever the noise.
const LEAST_DIFFERENCE: f32 = 0.06;
/// Least part of a full outline's votes that makes a proposal.
const LEAST_SUPPORT: f32 = 0.4;

/// A place where a ball may lie.
#[derive(Debug, Clone, Copy)]
pub(super) struct Proposal {
    pub at: TablePoint,
    /// Votes as a part of a full, clear outline's.
    pub support: f32,
}

/// All proposals on a bed, strongest first.
pub(super) fn proposals(view: &BedView, camera: &Camera, table: &TableSize) -> Vec<Proposal> {
    let votes = smoothed(&votes(view, camera, table), view.columns, view.rows);
    let (w, h) = (view.columns, view.rows);
    let radius_cells = table.ball_radius_mm() / CELL_MM;
    // Each edge is some two cells wide, and the smoothing spreads a vote over nine cells.
    let full = (std::f64::consts::TAU * radius_cells * 2.0) as f32 * 0.3;
    let reach = 3_usize;
    let mut found = Vec::new();
    for row in reach..h.saturating_sub(reach) {
        for column in reach..w.saturating_sub(reach) {
            let here = votes[row * w + column];
            if here < LEAST_SUPPORT * full {
                continue;
            }
            let highest = (row - reach..=row + reach).all(|y| {
                (column - reach..=column + reach).all(|x| {
                    votes[y * w + x] < here
                        || (x, y) == (column, row)
                        || (votes[y * w + x] == here && (y, x) > (row, column))
                })
            });
            if highest {
                let at = cell_place(column as f64, row as f64);
                found.push(Proposal { at, support: here / full });
            }
        }
    }
    found.sort_by(|a, b| b.support.total_cmp(&a.support));
    found
}

fn votes(view: &BedView, camera: &Camera, table: &TableSize) -> Vec<f32> {
    let (w, h) = (view.columns, view.rows);
    let mut votes = vec![0.0_f32; w * h];
    let radius_cells = (table.ball_radius_mm() / CELL_MM) as f32;
    let eye = camera.pose.position();
    let rise_mm = eye.z_mm - table.ball_radius_mm();
    let [eye_x, eye_y] = place_cell(TablePoint::new(eye.x_mm, eye.y_mm)).map(|c| c as f32);
    let rise_cells = (rise_mm / CELL_MM) as f32;
    let bound = LEAST_DIFFERENCE.max(4.0 * view.noise);
    let mut differs = vec![false; w];
    for row in 1..h.saturating_sub(1) {
        let difference = &view.difference[row * w..(row + 1) * w];
        for (differs, difference) in differs.iter_mut().zip(difference) {
            *differs = largest(difference) > bound;
        }
        for column in 1..w - 1 {
            // Edges sit between what differs and what does not: look a cell to either side.
            if !(differs[column] || differs[column - 1] || differs[column + 1]) {
                continue;
            }
            let above = view.difference[(row - 1) * w + column];
            let below = view.difference[(row + 1) * w + column];
            let (left, right) = (difference[column - 1], difference[column + 1]);
            let mut best = (0.0, 0.0, 0.0);
            for channel in 0..3 {
                let gx = 0.5 * (right[channel] - left[channel]);
                let gy = 0.5 * (below[channel] - above[channel]);
                let size = gx * gx + gy * gy;
                if size > best.0 {
                    best = (size, gx, gy);
                }
            }
            let size = best.0.sqrt();
            if size < LEAST_EDGE {
                continue;
            }
            let (nx, ny) = (best.1 / size, best.2 / size);
            let weight = (size / FULL_EDGE).min(1.0);
            // The outline's ellipse: C = r² (I + u uᵀ), u from the foot point over the rise.
            let (ux, uy) =
                ((column as f32 - eye_x) / rise_cells, (row as f32 - eye_y) / rise_cells);
            let along = nx * ux + ny * uy;
            let scale = radius_cells / (1.0 + along * along).sqrt();
            let (dx, dy) = (scale * (nx + along * ux), scale * (ny + along * uy));
            for sign in [-1.0, 1.0] {
                let x = (column as f32 + sign * dx + 0.5).floor();
                let y = (row as f32 + sign * dy + 0.5).floor();
                if x >= 0.0 && y >= 0.0 && x < w as f32 && y < h as f32 {
                    votes[y as usize * w + x as usize] += weight;
                }
            }
        }
    }
    votes
}

/// Smoothed by a binomial kernel of five cells each way.
fn smoothed(values: &[f32], w: usize, h: usize) -> Vec<f32> {
    let mut across = vec![0.0; values.len()];
    for row in 0..h {
        let line = &values[row * w..(row + 1) * w];
        let out = &mut across[row * w..(row + 1) * w];
        for x in 2..w.saturating_sub(2) {
            out[x] = line[x - 2] + line[x + 2] + 4.0 * (line[x - 1] + line[x + 1]) + 6.0 * line[x];
        }
    }
    let mut both = vec![0.0; values.len()];
    for row in 2..h.saturating_sub(2) {
        for x in 0..w {
            let at = |r: usize| across[r * w + x];
            both[row * w + x] =
                (at(row - 2) + at(row + 2) + 4.0 * (at(row - 1) + at(row + 1)) + 6.0 * at(row))
                    * (9.0 / 256.0);
        }
    }
    both
}

/// Part of the cells under a ball at a place that differ from bare cloth.
pub(super) fn part_covered(view: &BedView, at: TablePoint, table: &TableSize) -> f64 {
    let radius_cells = 0.8 * table.ball_radius_mm() / CELL_MM;
    let [x, y] = place_cell(at);
    let bound = LEAST_DIFFERENCE.max(4.0 * view.noise);
    let (mut covered, mut count) = (0.0, 0.0);
    let reach = radius_cells.ceil() as i64;
    for row in (y.round() as i64 - reach)..=(y.round() as i64 + reach) {
        for column in (x.round() as i64 - reach)..=(x.round() as i64 + reach) {
            let inside =
                (column as f64 - x).powi(2) + (row as f64 - y).powi(2) <= radius_cells.powi(2);
            let (Ok(c), Ok(r)) = (usize::try_from(column), usize::try_from(row)) else { continue };
            if !inside || c >= view.columns || r >= view.rows {
                continue;
            }
            count += 1.0;
            let differs = largest(&view.difference[r * view.columns + c]) > bound;
            covered += if differs { 1.0 } else { 0.0 };
        }
    }
    covered / f64::max(count, 1.0)
}
