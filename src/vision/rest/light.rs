//! What the light did from one glance to another: exposure, white balance, dimmed lamps.
//!
//! Input: two glances of one raster. Output: a gain for each cell, smooth over the bed. Method: the middle
//! of the ratios of samples, tile by tile, so that what moves over part of a tile has no say.

use super::super::bed::middle;
use super::glance::{CELL, Glance, Raster, WHITE};

/// Cells to a side of a tile.
const TILE_CELLS: usize = 8;
/// Added to samples before they are divided: dark ones have no ratio to speak of.
pub(super) const PEDESTAL: f32 = WHITE as f32 / 32.0;

/// What the light did from one glance to another, smooth over the bed.
pub(super) struct Gains {
    columns: usize,
    cells: Vec<f32>,
}

impl Gains {
    pub fn of(
        raster: &Raster,
        (earlier, later): (&Glance, &Glance),
        (columns, rows): (usize, usize),
    ) -> Self {
        let (tiles_x, tiles_y) = (columns.div_ceil(TILE_CELLS), rows.div_ceil(TILE_CELLS));
        let side = CELL * TILE_CELLS;
        let mut ratios = Vec::with_capacity(side * side / 16);
        let mut tiles: Vec<Option<f32>> = Vec::with_capacity(tiles_x * tiles_y);
        for tile_row in 0..tiles_y {
            for tile_column in 0..tiles_x {
                ratios.clear();
                for row in (tile_row * side..((tile_row + 1) * side).min(raster.rows())).step_by(4)
                {
                    let (from, to) = raster.stretches[row];
                    let from = from.max(tile_column * side);
                    for column in (from..to.min((tile_column + 1) * side)).step_by(4) {
                        let at = row * raster.columns + column;
                        let was = f32::from(earlier.samples[at]) + PEDESTAL;
                        ratios.push((f32::from(later.samples[at]) + PEDESTAL) / was);
                    }
                }
                tiles.push(if ratios.len() < 8 { None } else { middle(&mut ratios) });
            }
        }
        let smooth = smoothed(&tiles, (tiles_x, tiles_y));
        let mut cells = Vec::with_capacity(columns * rows);
        for row in 0..rows {
            let (y, fy) = split(row, tiles_y);
            for column in 0..columns {
                let (x, fx) = split(column, tiles_x);
                let next = |at: usize, most: usize| (at + 1).min(most - 1);
                let tile = |x: usize, y: usize| smooth[y * tiles_x + x];
                let (x2, y2) = (next(x, tiles_x), next(y, tiles_y));
                let above = tile(x, y) + fx * (tile(x2, y) - tile(x, y));
                let below = tile(x, y2) + fx * (tile(x2, y2) - tile(x, y2));
                cells.push(above + fy * (below - above));
            }
        }
        Self { columns, cells }
    }

    /// A row of cells' gains, sample by sample.
    pub fn spread(&self, cell_row: usize, samples: &mut [f32]) {
        let cells = &self.cells[cell_row * self.columns..(cell_row + 1) * self.columns];
        for (samples, gain) in samples.chunks_mut(CELL).zip(cells) {
            samples.fill(*gain);
        }
    }

    pub fn at(&self, cell_column: usize, cell_row: usize) -> f32 {
        self.cells[cell_row * self.columns + cell_column]
    }
}

/// The tile before a cell and how far the cell lies toward the next.
fn split(cell: usize, tiles: usize) -> (usize, f32) {
    let t = (cell as f32 + 0.5) / TILE_CELLS as f32 - 0.5;
    let t = t.clamp(0.0, (tiles - 1) as f32);
    (t as usize, t.fract())
}

/// Each tile the middle of those around: an arm over one of them is no light.
fn smoothed(tiles: &[Option<f32>], (columns, rows): (usize, usize)) -> Vec<f32> {
    let mut all: Vec<f32> = tiles.iter().flatten().copied().collect();
    let whole = middle(&mut all).unwrap_or(1.0);
    let mut smooth = Vec::with_capacity(tiles.len());
    for row in 0..rows {
        for column in 0..columns {
            let mut around: Vec<f32> = (row.saturating_sub(1)..(row + 2).min(rows))
                .flat_map(|y| {
                    let from = y * columns + column.saturating_sub(1);
                    tiles[from..y * columns + (column + 2).min(columns)].iter().flatten()
                })
                .copied()
                .collect();
            smooth.push(middle(&mut around).unwrap_or(whole));
        }
    }
    smooth
}
