//! The bed seen straight from above, and what on it is not cloth.
//!
//! Input: a frame and a calibration. Output: a grid over the table with logarithmic colours as they
//! differ from the cloth's. Method: the frame is resampled on the plane of the balls' centres; the
//! cloth's own colour is learned from the frame itself, as a trimmed mean over tiles, tiles that are
//! full of something else being filled from their neighbours, since light over a table is smooth.
//! Not modelled: shadows, which stay in the difference as darker cloth.

use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use image::RgbImage;
use std::sync::Arc;

/// Size of a grid cell.
pub(super) const CELL_MM: f64 = 4.0;
/// How far the grid reaches beyond the noses.
pub(super) const MARGIN_MM: f64 = 112.0;
/// Cells to a side of a tile on which the cloth's colour is taken.
const TILE: usize = 26;
/// The first tiles are cut short by so many cells: those along the noses then have little of the
/// bed beyond what lies in the cushions' shadows.
const CUT: usize = 16;
/// A tile whose colour is this far from that of most (logarithmic chromaticity) is not cloth, whatever
/// the lamps.
const OTHER_CHROMA: f32 = 0.4;
/// Nor is one this far from those around: where lamps differ in colour, so does the cloth from one end
/// to the other, but little by little.
const ODD_CHROMA: f32 = 0.12;
/// The same for brightness.
const ODD_LIGHT: f32 = 0.45;
/// The part of a tile's values, in order, whose mean is its colour: that of a tile half in a cushion's
/// shadow changes little with the shadow.
const MIDDLE_PART: [f32; 2] = [0.35, 0.65];

/// The source of a cell outside the picture.
const OUTSIDE: u32 = u32::MAX;

/// Where the grid's cells lie in frames of one camera; made once for a calibration.
pub(super) struct BedGrid {
    pub columns: usize,
    pub rows: usize,
    /// For each cell the first byte of its 2 × 2 block of pixels, or [`OUTSIDE`] the picture.
    sources: Vec<u32>,
    cells: Arc<[Cell]>,
    stride: usize,
    light: Vec<f32>,
}

/// Where a cell lies on the table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    /// How far inside the noses; negative beyond them.
    pub inside_mm: f64,
    /// How far beyond the nearest pocket's rim, as [`TableSize::beyond_rim_mm`] has it.
    pub beyond_rim_mm: f64,
}

impl Cell {
    fn of(place: TablePoint, table: &TableSize) -> Self {
        let along = |at_mm: f64, length_mm: f64| at_mm.min(length_mm - at_mm);
        Self {
            inside_mm: along(place.x_mm, table.length_mm).min(along(place.y_mm, table.width_mm)),
            beyond_rim_mm: table.beyond_rim_mm(place),
        }
    }
}

/// A frame on the grid: each cell's logarithmic colour less the cloth's there; nothing where the
/// cell lies outside the picture.
pub(super) struct BedView {
    pub columns: usize,
    pub rows: usize,
    pub difference: Vec<[f32; 3]>,
    /// Where the cells lie, in the same order.
    pub cells: Arc<[Cell]>,
    /// Spread of bare cloth, one standard deviation of a channel.
    pub noise: f32,
    /// The cloth's own logarithmic colour, as it is over most of the bed.
    pub cloth: [f32; 3],
    /// Part of the tiles that show cloth.
    pub cloth_part: f64,
}

impl BedGrid {
    /// The grid for a camera over a table.
    pub fn new(camera: &Camera, table: &TableSize) -> Self {
        let cells = |length_mm: f64| ((length_mm + 2.0 * MARGIN_MM) / CELL_MM).ceil() as usize;
        let (columns, rows) = (cells(table.length_mm), cells(table.width_mm));
        let (w, h) = (camera.lens.width_px as usize, camera.lens.height_px as usize);
        let z_mm = table.ball_radius_mm();
        let mut sources = Vec::with_capacity(columns * rows);
        let mut places = Vec::with_capacity(columns * rows);
        for row in 0..rows {
            for column in 0..columns {
                let place = cell_place(column as f64, row as f64);
                places.push(Cell::of(place, table));
                let source = camera.project(place.at_height(z_mm)).and_then(|p| {
                    let (x, y) = (p.x_px - 1.0, p.y_px - 1.0);
                    let inside = x >= -0.5 && y >= -0.5 && x < w as f64 - 2.0 && y < h as f64 - 2.0;
                    inside.then(|| {
                        let (x, y) = (x.round().max(0.0) as usize, y.round().max(0.0) as usize);
                        ((y * w + x) * 3) as u32
                    })
                });
                sources.push(source.unwrap_or(OUTSIDE));
            }
        }
        // Sums of four bytes to logarithms.
        let light = (0..=1020).map(|sum| (sum as f32 / 4.0 + 8.0).ln()).collect();
        let cells = places.into();
        Self { columns, rows, sources, cells, stride: w * 3, light }
    }

    /// A frame on the grid.
    pub fn view(&self, frame: &RgbImage) -> BedView {
        let colours = self.colours(frame);
        let cloth = Cloth::learn(self, &colours);
        let mut difference = cloth.taken_off(colours, self.columns);
        for (difference, source) in difference.iter_mut().zip(&self.sources) {
            if *source == OUTSIDE {
                *difference = [0.0; 3];
            }
        }
        let noise = spread(&difference, self);
        BedView {
            columns: self.columns,
            rows: self.rows,
            difference,
            cells: Arc::clone(&self.cells),
            noise,
            cloth: cloth.common(),
            cloth_part: cloth.part,
        }
    }

    fn colours(&self, frame: &RgbImage) -> Vec<[f32; 3]> {
        let raw = frame.as_raw();
        let mut colours = vec![[0.0; 3]; self.sources.len()];
        // A plain loop: the compiler does not unroll closures over the channels.
        for (colour, source) in colours.iter_mut().zip(&self.sources) {
            // No frame is so large that this is in it.
            let start = *source as usize;
            let (Some(upper), Some(lower)) = (
                raw.get(start..).and_then(<[_]>::first_chunk::<6>),
                raw.get(start + self.stride..).and_then(<[_]>::first_chunk::<6>),
            ) else {
                continue;
            };
            for (c, value) in colour.iter_mut().enumerate() {
                let sum = u16::from(upper[c])
                    + u16::from(upper[c + 3])
                    + u16::from(lower[c])
                    + u16::from(lower[c + 3]);
                *value = self.light[usize::from(sum)];
            }
        }
        colours
    }

    /// Whether a cell lies between the noses.
    pub fn on_bed(&self, column: usize, row: usize) -> bool {
        self.cells[row * self.columns + column].inside_mm >= 0.0
    }
}

/// The table place of a grid position; whole numbers are the cells' middles.
pub(super) fn cell_place(column: f64, row: f64) -> TablePoint {
    TablePoint::new((column + 0.5) * CELL_MM - MARGIN_MM, (row + 0.5) * CELL_MM - MARGIN_MM)
}

/// The grid position of a table place.
pub(super) fn place_cell(place: TablePoint) -> [f64; 2] {
    [(place.x_mm + MARGIN_MM) / CELL_MM - 0.5, (place.y_mm + MARGIN_MM) / CELL_MM - 0.5]
}

/// The cloth's colour, smooth over the bed.
struct Cloth {
    columns: usize,
    rows: usize,
    tiles: Vec<[f32; 3]>,
    part: f64,
}

impl Cloth {
    fn learn(grid: &BedGrid, colours: &[[f32; 3]]) -> Self {
        let tiles_on = |cells: usize| (cells + CUT).div_ceil(TILE);
        let cells_of = |tile: usize, most: usize| {
            (tile * TILE).saturating_sub(CUT)..((tile + 1) * TILE - CUT).min(most)
        };
        let (columns, rows) = (tiles_on(grid.columns), tiles_on(grid.rows));
        let mut tiles: Vec<Option<[f32; 3]>> = Vec::with_capacity(columns * rows);
        let mut values: [Vec<f32>; 3] = Default::default();
        for tile_row in 0..rows {
            for tile_column in 0..columns {
                values.iter_mut().for_each(Vec::clear);
                for row in cells_of(tile_row, grid.rows).step_by(2) {
                    for column in cells_of(tile_column, grid.columns).step_by(2) {
                        if grid.on_bed(column, row) {
                            let colour = colours[row * grid.columns + column];
                            values.iter_mut().zip(colour).for_each(|(v, c)| v.push(c));
                        }
                    }
                }
                let enough = values[0].len() >= 12;
                let mut median = [0.0; 3];
                for (median, values) in median.iter_mut().zip(&mut values) {
                    *median = middle_mean(values).unwrap_or(0.0);
                }
                tiles.push(enough.then_some(median));
            }
        }
        let mut bed = Self { columns, rows, tiles: Vec::new(), part: 0.0 };
        let on_bed = tiles.iter().flatten().count().max(1) as f64;
        bed.drop_odd(&mut tiles);
        bed.part = tiles.iter().flatten().count() as f64 / on_bed;
        bed.tiles = bed.fill(tiles);
        bed
    }

    /// Its colour over most of the bed.
    fn common(&self) -> [f32; 3] {
        [0, 1, 2].map(|c| {
            let mut values: Vec<f32> = self.tiles.iter().map(|colour| colour[c]).collect();
            middle(&mut values).unwrap_or_default()
        })
    }

    /// Drops the tiles that have not the hue and light of those around, and draws those that hardly have
    /// them toward these: a tile that is cloth in this frame and none in the next would change all that
    /// is seen on it.
    fn drop_odd(&self, tiles: &mut [Option<[f32; 3]>]) {
        let hue = |[red, green, blue]: [f32; 3]| [red - green, blue - green];
        let mut red: Vec<f32> = tiles.iter().flatten().map(|c| hue(*c)[0]).collect();
        let mut blue: Vec<f32> = tiles.iter().flatten().map(|c| hue(*c)[1]).collect();
        let common = [middle(&mut red).unwrap_or(0.0), middle(&mut blue).unwrap_or(0.0)];
        for tile in tiles.iter_mut() {
            *tile = tile.filter(|colour| {
                let [u, v] = hue(*colour);
                (u - common[0]).hypot(v - common[1]) < OTHER_CHROMA
            });
        }
        let before = tiles.to_vec();
        let around = |at: usize, reach: usize| {
            let near = self.neighbours(at % self.columns, at / self.columns, reach);
            let near: Vec<[f32; 3]> = near.filter_map(|at| before[at]).collect();
            [0, 1, 2].map(|c| {
                let mut values: Vec<f32> = near.iter().map(|colour| colour[c]).collect();
                middle(&mut values).unwrap_or_default()
            })
        };
        for (at, tile) in tiles.iter_mut().enumerate() {
            let Some(colour) = *tile else { continue };
            let near = around(at, 2);
            let [u, v] = hue(around(at, 3));
            let [hue_u, hue_v] = hue(colour);
            let share = share_of(ODD_CHROMA, (hue_u - u).hypot(hue_v - v))
                .min(share_of(ODD_LIGHT, (colour[1] - near[1]).abs()));
            *tile =
                (share > 0.0).then(|| [0, 1, 2].map(|c| near[c] + share * (colour[c] - near[c])));
        }
    }

    /// Fills the tiles that show no cloth from those around, nearest first.
    fn fill(&self, mut tiles: Vec<Option<[f32; 3]>>) -> Vec<[f32; 3]> {
        for _ in 0..self.columns.max(self.rows) {
            if tiles.iter().all(Option::is_some) {
                break;
            }
            let before = tiles.clone();
            for row in 0..self.rows {
                for column in 0..self.columns {
                    let at = row * self.columns + column;
                    if before[at].is_some() {
                        continue;
                    }
                    let (mut sum, mut count) = ([0.0; 3], 0.0);
                    for colour in self.neighbours(column, row, 1).filter_map(|at| before[at]) {
                        sum.iter_mut().zip(colour).for_each(|(total, c)| *total += c);
                        count += 1.0;
                    }
                    if count > 0.0 {
                        tiles[at] = Some(sum.map(|total| total / count));
                    }
                }
            }
        }
        tiles.into_iter().map(Option::unwrap_or_default).collect()
    }

    fn neighbours(
        &self,
        column: usize,
        row: usize,
        reach: usize,
    ) -> impl Iterator<Item = usize> + use<> {
        let columns = self.columns;
        let xs = column.saturating_sub(reach)..(column + reach + 1).min(self.columns);
        let ys = row.saturating_sub(reach)..(row + reach + 1).min(self.rows);
        ys.flat_map(move |y| xs.clone().map(move |x| y * columns + x))
    }

    /// Colours of cells, row by row, less the cloth's there, bilinear between the tiles' middles.
    fn taken_off(&self, mut colours: Vec<[f32; 3]>, columns: usize) -> Vec<[f32; 3]> {
        let split = |cell: usize, count: usize| {
            let t =
                (((cell + CUT) as f32 + 0.5) / TILE as f32 - 0.5).clamp(0.0, (count - 1) as f32);
            let low = (t as usize).min(count.saturating_sub(2));
            (low, t - low as f32)
        };
        let across: Vec<(usize, f32)> = (0..columns).map(|x| split(x, self.columns)).collect();
        let mut here = vec![[0.0; 3]; self.columns];
        for (row, line) in colours.chunks_exact_mut(columns).enumerate() {
            let (y, fy) = split(row, self.rows);
            let tiles = |y: usize| self.tiles.get(y * self.columns..).unwrap_or_default();
            for ((here, above), below) in here.iter_mut().zip(tiles(y)).zip(tiles(y + 1)) {
                for c in 0..3 {
                    here[c] = above[c] + fy * (below[c] - above[c]);
                }
            }
            for (colour, (x, fx)) in line.iter_mut().zip(&across) {
                let Some([left, right]) = here.get(*x..).and_then(<[_]>::first_chunk::<2>) else {
                    continue;
                };
                for c in 0..3 {
                    colour[c] -= left[c] + fx * (right[c] - left[c]);
                }
            }
        }
        colours
    }
}

/// How far a cell is from the cloth in the colour in which it is farthest.
pub(super) fn largest([red, green, blue]: &[f32; 3]) -> f32 {
    red.abs().max(green.abs()).max(blue.abs())
}

/// The middle value; the order of the slice changes.
pub(super) fn middle(values: &mut [f32]) -> Option<f32> {
    if values.is_empty() {
        return None;
    }
    let at = values.len() / 2;
    Some(*values.select_nth_unstable_by(at, f32::total_cmp).1)
}

/// The mean of the middle values; the order of the slice changes.
fn middle_mean(values: &mut [f32]) -> Option<f32> {
    let [from, to] = MIDDLE_PART.map(|part| (part * values.len() as f32) as usize);
    if values.is_empty() {
        return None;
    }
    values.select_nth_unstable_by(from, f32::total_cmp);
    let upper = &mut values[from..];
    upper.select_nth_unstable_by(to - from, f32::total_cmp);
    let kept = &upper[..=to - from];
    Some(kept.iter().sum::<f32>() / kept.len() as f32)
}

/// How much a tile counts that is so far off, one at `odd` by half.
fn share_of(odd: f32, off: f32) -> f32 {
    ((1.25 * odd - off) / (0.5 * odd)).clamp(0.0, 1.0)
}

/// Spread of bare cloth: from the median of absolute differences on the bed.
fn spread(difference: &[[f32; 3]], grid: &BedGrid) -> f32 {
    let mut sizes: Vec<f32> = Vec::new();
    for row in (0..grid.rows).step_by(5) {
        for column in (0..grid.columns).step_by(5) {
            if grid.on_bed(column, row) {
                sizes.extend(difference[row * grid.columns + column].map(f32::abs));
            }
        }
    }
    1.4826 * middle(&mut sizes).unwrap_or(0.02)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is left of the tiles of a bed, each of its own hue and light.
    fn settled(tile: impl Fn(usize, usize) -> [f32; 2]) -> Vec<Option<[f32; 3]>> {
        let bed = Cloth { columns: 26, rows: 14, tiles: Vec::new(), part: 0.0 };
        let colour = |at: usize| {
            let [hue, light] = tile(at % bed.columns, at / bed.columns);
            Some([4.0 + hue + light, 4.0 + light, 4.0 + light])
        };
        let mut tiles: Vec<_> = (0..bed.columns * bed.rows).map(colour).collect();
        bed.drop_odd(&mut tiles);
        tiles
    }

    #[test]
    fn cloth_that_takes_another_lamps_colour_little_by_little_is_cloth() {
        let lamp = |column: usize| 0.05 * column.saturating_sub(18) as f32;
        let tiles = settled(|column, _| [lamp(column), 0.0]);
        assert!(tiles.iter().all(Option::is_some));
    }

    #[test]
    fn a_thing_of_another_hue_that_covers_tiles_is_none() {
        let covers =
            |column: usize, row: usize| (20..23).contains(&column) && (5..9).contains(&row);
        let hue = |column, row| if covers(column, row) { 0.3 } else { 0.0 };
        for (at, tile) in settled(|column, row| [hue(column, row), 0.0]).iter().enumerate() {
            assert_eq!(tile.is_none(), covers(at % 26, at / 26), "tile {at}");
        }
    }

    #[test]
    fn a_tile_that_darkens_little_by_little_is_never_cloth_now_and_none_just_after() {
        let of_shadow = |light: f32| {
            let tiles = settled(|column, _| [0.0, if column == 25 { light } else { 0.0 }]);
            // Where it is none its neighbours, whose light is 0, stand for it.
            tiles[7 * 26 + 25].map_or(0.0, |colour| colour[1] - 4.0)
        };
        let shades: Vec<f32> = (0..100).map(|step| of_shadow(-0.01 * step as f32)).collect();
        assert!(shades.windows(2).all(|pair| (pair[0] - pair[1]).abs() < 0.05), "{shades:?}");
        assert!(shades[20] < -0.19 && shades[99] == 0.0);
    }

    #[test]
    fn a_tile_half_in_shadow_changes_little_with_the_shadow() {
        let mean = |shaded: usize| {
            let mut values: Vec<f32> =
                (0..100).map(|at| if at < shaded { 3.0 } else { 4.0 }).collect();
            middle_mean(&mut values).expect("some values")
        };
        assert!((mean(49) - mean(51)).abs() < 0.1);
        assert!((mean(20) - 4.0).abs() < 1e-6, "a ball on it changes nothing");
        assert_eq!(middle_mean(&mut []), None);
    }
}
