//! Whether two glances show the same: what moved between them, whatever the light did.
//!
//! Input: two glances of one raster, the earlier and the later. Output: whether they are alike.
//! Method: lights, exposure and white balance multiply the picture by something smooth, so the
//! later one is first divided by a gain that is the middle of its ratios to the earlier, tile by
//! tile, smoothed over the tiles around. What is left is squared and weighed by what noise and a
//! shaking picture may do: the noise is taken from the two glances themselves, by brightness, and an
//! edge may wander by a part of a sample. Squares are summed over windows about as large as a ball,
//! so that a ball that crept by a millimetre shows, though no single sample stands out. Noise is not
//! even, and compression makes a rack of balls flicker more than the bare cloth, so that a window is
//! held to what it did between the first two frames of a still table: a flicker stays as large as
//! it is, what a ball rolls grows; beyond a little only as far as the window has edges that
//! compression can have spoilt. Not modelled: shadows that move with the lights, which are told as
//! changes.

use super::super::bed::middle;
use super::glance::{CELL, Glance, Raster, WHITE};

/// Cells to a side of a tile, cells to a side of a window.
const TILE_CELLS: usize = 8;
const WINDOW_CELLS: usize = 3;
/// Added to samples before they are divided: dark ones have no ratio to speak of.
const PEDESTAL: f32 = WHITE as f32 / 32.0;
/// Least noise of a sample, one standard deviation: that of rounding to eight bits and of gentle
/// compression.
const LEAST_NOISE: f32 = WHITE as f32 / 200.0;
/// A darker sample is noisier, since a camera lifts dark tones: the noise of the dark ones is taken by
/// itself where so many are dark, and is at most so many times that of the others.
const DARK: i16 = (WHITE / 6) as i16;
const LEAST_DARK: usize = 120;
const MOST_DARK: f32 = 8.0;
/// What holds between dark and other samples holds down to this part of the dark ones' brightness.
const FARTHEST_DARK: f32 = 0.5;
/// What a bed without a sample is taken for.
const NO_NOISE: Measured = Measured { brightness: WHITE as f32, noise: LEAST_NOISE };
/// How far an edge may seem to wander without moving, in samples: shaking, compression.
const WANDER: f32 = 0.14;
/// One sample has at most this much of a say, in variances.
const MOST_SAY: f32 = 25.0;
/// A window whose mean square is larger than this many variances is not what it was, nor one that
/// is so many times what it flickers by.
const CHANGED: f32 = 3.0;
/// A window's noise may be so many times that of the bed, in variances, though it is all cloth.
const UNEVEN: f32 = 1.6;
/// So much of the mean square of a window's slopes, from one sample to the next, may flicker besides.
const SPOILT: f32 = 0.08;
/// No window flickers by more than this many variances.
const MOST_FLICKER: f32 = 4.0;
/// A window with fewer samples than this on the bed does not tell.
const LEAST_SAMPLES: f32 = 40.0;

/// A glance that later ones are held against.
#[derive(Clone)]
pub(super) struct Known {
    pub glance: Glance,
    /// What each window flickers by, in variances, at least 1; none before a second frame.
    flicker: Option<Vec<f32>>,
}

impl Known {
    pub fn new(glance: Glance) -> Self {
        Self { glance, flicker: None }
    }

    /// Another glance of the same still table, which flickers alike.
    pub fn with(&self, glance: Glance) -> Self {
        Self { glance, flicker: self.flicker.clone() }
    }

    /// Whether a later glance of the same raster shows the same.
    pub fn is_like(&self, raster: &Raster, later: &Glance) -> bool {
        let windows = windows(raster, &self.glance, later);
        let flicker = |window: usize| self.flicker.as_ref().map_or(1.0, |flicker| flicker[window]);
        windows.iter().enumerate().all(|(at, window)| window.change < CHANGED * flicker(at))
    }

    /// The same for a frame that comes soon after; the first that is no exact copy tells how much
    /// the picture flickers.
    pub fn stays(&mut self, raster: &Raster, next: &Glance) -> bool {
        if self.flicker.is_some() || self.glance == *next {
            return self.is_like(raster, next);
        }
        let windows = windows(raster, &self.glance, next);
        let stays = windows.iter().all(|window| window.change < CHANGED * window.most_flicker());
        if stays {
            let flickers: Vec<f32> =
                windows.iter().map(|window| window.change.min(window.most_flicker())).collect();
            let columns = (raster.columns.div_ceil(CELL) + 1).saturating_sub(WINDOW_CELLS);
            self.flicker = Some(around(&flickers, columns));
        }
        stays
    }
}

/// Each window's flicker: the largest of those around it, at least 1.
fn around(flickers: &[f32], columns: usize) -> Vec<f32> {
    let rows = flickers.len() / columns.max(1);
    (0..flickers.len())
        .map(|at| {
            let (row, column) = (at / columns, at % columns);
            (row.saturating_sub(1)..(row + 2).min(rows))
                .flat_map(|y| {
                    let (from, to) = (column.saturating_sub(1), (column + 2).min(columns));
                    &flickers[y * columns + from..y * columns + to]
                })
                .fold(1.0, |most, flicker| flicker.max(most))
        })
        .collect()
}

/// A window's samples: how far they are from what they were, and how steep the picture is there,
/// as mean squares in variances.
#[derive(Debug, Clone, Copy, Default)]
struct Window {
    change: f32,
    slope: f32,
}

impl Window {
    /// What noise and compression may make of it.
    fn most_flicker(self) -> f32 {
        (UNEVEN + SPOILT * self.slope).min(MOST_FLICKER)
    }
}

/// The sums over a cell.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    changes: f32,
    count: f32,
    slopes: f32,
    /// Samples whose slopes were summed: those in pockets too.
    sloping: f32,
}

/// The windows, row by row; one with too little of it on the bed has not changed.
fn windows(raster: &Raster, earlier: &Glance, later: &Glance) -> Vec<Window> {
    let (columns, rows) = (raster.columns.div_ceil(CELL), raster.rows().div_ceil(CELL));
    let gains = Gains::of(raster, (earlier, later), (columns, rows));
    let noise = noise(raster, &gains, earlier, later);
    let mut sums = vec![Sums::default(); columns * rows];
    let width = raster.columns;
    let mut gain = vec![1.0_f32; width];
    let (mut says, mut slopes) = (vec![0.0_f32; width], vec![0.0_f32; width]);
    for row in 1..raster.rows().saturating_sub(1) {
        let (from, to) = raster.stretches[row];
        let (from, to) = (from.max(1), to.min(width - 1));
        if to <= from {
            continue;
        }
        if row % CELL == 0 || row == 1 {
            gains.spread(row / CELL, &mut gain);
        }
        let line = |row: usize| &earlier.samples[row * width..(row + 1) * width];
        let around = [line(row - 1), line(row), line(row + 1)];
        let now = &later.samples[row * width..(row + 1) * width];
        weigh((around, now, &gain), &noise, (from, to), (&mut says, &mut slopes));
        let cells = &mut sums[(row / CELL) * columns..(row / CELL + 1) * columns];
        let blind = &raster.blind[(row / CELL) * columns..];
        for ((cell, total), blind) in cells.iter_mut().enumerate().zip(blind) {
            let (first, end) = ((cell * CELL).max(from), ((cell + 1) * CELL).min(to));
            if first >= end {
                continue;
            }
            // A pocket's edge spoils what is compressed with it.
            total.slopes += slopes[first..end].iter().sum::<f32>();
            total.sloping += (end - first) as f32;
            if !*blind {
                total.changes += says[first..end].iter().sum::<f32>();
                total.count += (end - first) as f32;
            }
        }
    }
    summed(&sums, (columns, rows))
}

fn summed(sums: &[Sums], (columns, rows): (usize, usize)) -> Vec<Window> {
    let mut windows = Vec::with_capacity(sums.len());
    for row in 0..(rows + 1).saturating_sub(WINDOW_CELLS) {
        for column in 0..(columns + 1).saturating_sub(WINDOW_CELLS) {
            let mut all = Sums::default();
            for y in row..row + WINDOW_CELLS {
                for cell in &sums[y * columns + column..y * columns + column + WINDOW_CELLS] {
                    all.changes += cell.changes;
                    all.slopes += cell.slopes;
                    all.count += cell.count;
                    all.sloping += cell.sloping;
                }
            }
            windows.push(if all.count >= LEAST_SAMPLES {
                Window { change: all.changes / all.count, slope: all.slopes / all.sloping }
            } else {
                Window::default()
            });
        }
    }
    windows
}

/// How many variances each sample of a row is from what it was, and how steep the picture is there
/// in variances of the noise: from the rows of the earlier glance above, here and below, the later
/// one's row, what the light did.
fn weigh(
    ([above, here, below], now, gain): ([&[i16]; 3], &[i16], &[f32]),
    noise: &Noise,
    (from, to): (usize, usize),
    (says, slopes): (&mut [f32], &mut [f32]),
) {
    // Slices of one length, so that the loop needs no checks and runs several samples at a time.
    let count = to - from;
    let (left, right) = (&here[from - 1..][..count], &here[from + 1..][..count]);
    let (above, here, below) =
        (&above[from..][..count], &here[from..][..count], &below[from..][..count]);
    let (now, gain) = (&now[from..][..count], &gain[from..][..count]);
    let (says, slopes) = (&mut says[from..][..count], &mut slopes[from..][..count]);
    for x in 0..count {
        says[x] = noise.variance(here[x], now[x]);
    }
    for x in 0..count {
        let (g, least) = (gain[x], says[x]);
        let rise = f32::from(now[x]) + PEDESTAL - g * (f32::from(here[x]) + PEDESTAL);
        let across = f32::from(right[x] - left[x]);
        let down = f32::from(below[x] - above[x]);
        let slope = g * g * 0.25 * (across * across + down * down);
        slopes[x] = slope / least;
        says[x] = (rise * rise / (least + WANDER * WANDER * slope)).min(MOST_SAY);
    }
}

/// The noise between two glances: a sample's variance by its brightness, 0 to [`WHITE`].
struct Noise {
    variances: Vec<f32>,
}

impl Noise {
    /// A camera's tone curve spreads the darker tones by a power of the brightness, and their noise
    /// with them: between the brightness of the dark samples and that of the others so does this.
    fn between(dark: Measured, bright: Measured) -> Self {
        let apart = (bright.brightness / dark.brightness).max(1.0).ln();
        let power = if apart > 0.0 { (dark.noise / bright.noise).ln() / apart } else { 0.0 };
        let variance = |brightness: i32| {
            let darkest = FARTHEST_DARK * dark.brightness;
            let brightness = (brightness as f32).clamp(darkest, bright.brightness.max(darkest));
            (bright.noise * (bright.brightness / brightness).powf(power)).powi(2)
        };
        Self { variances: (0..=WHITE).map(variance).collect() }
    }

    /// Of a sample that was so bright and is so bright now.
    fn variance(&self, was: i16, is: i16) -> f32 {
        self.variances[(was.min(is).max(0) as usize).min(self.variances.len() - 1)]
    }
}

/// What the noise of some samples is, one standard deviation, and how bright they are.
#[derive(Debug, Clone, Copy)]
struct Measured {
    brightness: f32,
    noise: f32,
}

/// The noise between two glances, from the bed's own differences.
fn noise(raster: &Raster, gains: &Gains, earlier: &Glance, later: &Glance) -> Noise {
    let mut bright = Differences::new(raster.columns * raster.rows() / 12);
    let mut dark = Differences::new(0);
    for row in 1..raster.rows() {
        let (from, to) = raster.stretches[row];
        let line = row * raster.columns;
        for column in from..to {
            let (was, is) = (earlier.samples[line + column], later.samples[line + column]);
            let is_dark = was.min(is) < DARK;
            if !is_dark && (row % 5 != 1 || (column - from) % 3 != 0) {
                continue;
            }
            let brightness = f32::from(was.min(is));
            let was = gains.at(column / CELL, row / CELL) * (f32::from(was) + PEDESTAL);
            let size = (f32::from(is) + PEDESTAL - was).abs();
            if is_dark { &mut dark } else { &mut bright }.add(size, brightness);
        }
    }
    let many_are_dark = dark.sizes.len() >= LEAST_DARK;
    let dark = dark.measured();
    let bright = bright.measured().or(dark).unwrap_or(NO_NOISE);
    let bright = Measured { noise: bright.noise.max(LEAST_NOISE), ..bright };
    let dark = dark.filter(|_| many_are_dark).map_or(bright, |dark| Measured {
        noise: dark.noise.clamp(bright.noise, MOST_DARK * bright.noise),
        ..dark
    });
    Noise::between(dark, bright)
}

/// How far samples are from what they were.
struct Differences {
    sizes: Vec<f32>,
    brightness: f32,
}

impl Differences {
    fn new(about: usize) -> Self {
        Self { sizes: Vec::with_capacity(about), brightness: 0.0 }
    }

    fn add(&mut self, size: f32, brightness: f32) {
        self.sizes.push(size);
        self.brightness += brightness;
    }

    fn measured(mut self) -> Option<Measured> {
        let brightness = (self.brightness / self.sizes.len() as f32).max(1.0);
        spread(&mut self.sizes).map(|noise| Measured { brightness, noise })
    }
}

/// One standard deviation of normal errors of these sizes. Many are nought in a compressed film, so
/// that their middle tells too little: it is taken farther out.
fn spread(sizes: &mut [f32]) -> Option<f32> {
    let at = sizes.len() * 4 / 5;
    (at < sizes.len()).then(|| *sizes.select_nth_unstable_by(at, f32::total_cmp).1 / FOUR_FIFTHS)
}

/// Four fifths of normal errors are smaller than this many standard deviations.
const FOUR_FIFTHS: f32 = 1.2816;

/// What the light did from one glance to another, smooth over the bed.
struct Gains {
    columns: usize,
    cells: Vec<f32>,
}

impl Gains {
    fn of(
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
    fn spread(&self, cell_row: usize, samples: &mut [f32]) {
        let cells = &self.cells[cell_row * self.columns..(cell_row + 1) * self.columns];
        for (samples, gain) in samples.chunks_mut(CELL).zip(cells) {
            samples.fill(*gain);
        }
    }

    fn at(&self, cell_column: usize, cell_row: usize) -> f32 {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        camera::{Camera, Lens, Pose},
        random::Random,
        table::{TablePoint, TableSize},
    };
    use image::{Rgb, RgbImage};

    /// A table in poor light, darker toward one rail, with a white ball: what a sensor with read noise
    /// makes of it.
    fn frame(camera: &Camera, ball: TablePoint, random: &mut Random) -> RgbImage {
        let table = TableSize::NINE_FOOT;
        let from_pictures = camera.table_from_pictures();
        RgbImage::from_fn(camera.lens.width_px, camera.lens.height_px, |x, y| {
            let px = crate::camera::PixelPoint::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
            let at = from_pictures.at(px, 0.0).unwrap_or(TablePoint::new(0.0, 0.0));
            let lit = 0.022 + 0.2 * (at.y_mm / table.width_mm).clamp(0.0, 1.0);
            let light = if at.distance_mm(ball) < table.ball_radius_mm() {
                0.3
            } else if table.beyond_rim_mm(at) < 0.0 {
                0.01
            } else {
                lit
            };
            let light = light + 0.004 * random.normal();
            let code = 255.0 * light.max(0.0).powf(1.0 / 2.2);
            Rgb([code as u8; 3])
        })
    }

    #[test]
    fn noise_is_no_change_in_the_darker_half_of_a_bed_and_a_ball_that_moved_is_one() {
        let table = TableSize::NINE_FOOT;
        let position = table.centre_spot().at_height(2500.0);
        let pose = Pose::looking(position, [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]);
        let camera = Camera { lens: Lens::pinhole(1280, 720, 1000.0), pose };
        let raster = Raster::new(&camera, &table);
        let mut random = Random::stream(11, 0);
        for x_mm in [400.0, 1300.0] {
            for y_mm in [90.0, 640.0, 1200.0] {
                let mut at = |off_mm: f64| {
                    let ball = TablePoint::new(x_mm + off_mm, y_mm);
                    raster.glance(&frame(&camera, ball, &mut random))
                };
                let mut first = Known::new(at(0.0));
                for _ in 0..6 {
                    assert!(first.stays(&raster, &at(0.0)), "at {x_mm} {y_mm}");
                }
                assert!(!first.stays(&raster, &at(10.0)), "at {x_mm} {y_mm}");
            }
        }
    }
}
