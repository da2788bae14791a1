//! Whether two glances show the same: what moved between them, whatever the light did.
//!
//! Input: two glances of one raster, the earlier and the later. Output: whether they are alike.
//! Method: lights, exposure and white balance multiply the picture by something smooth, so the
//! later one is first divided by a gain that is the middle of its ratios to the earlier, tile by
//! tile, smoothed over the tiles around. What is left is squared and weighed by what noise and a
//! shaking picture may do: the noise is taken from the two glances themselves, by brightness, and an
//! edge may wander by a part of a sample. Squares are summed over windows about as large as a ball,
//! so that a ball that crept by a millimetre shows, though no single sample stands out; what all of a
//! window has in common is left out, since a soft shadow does that and no ball. Noise is not
//! even, and compression makes a rack of balls flicker more than the bare cloth, so that a window is
//! held to what it did between the first two frames of a still table: a flicker stays as large as
//! it is, what a ball rolls grows; beyond a little only as far as the window has edges that
//! compression can have spoilt. Not modelled: hard shadows that move, which are told as changes.

use super::glance::{CELL, Glance, Raster};
use super::light::{Gains, PEDESTAL};
use super::noise::{Noise, noise};

/// Cells to a side of a window.
pub(super) const WINDOW_CELLS: usize = 3;
/// How far an edge may seem to wander without moving, in samples: shaking, compression.
const WANDER: f32 = 0.14;
/// One sample has at most this much of a say, in standard deviations.
const MOST_SAY: f32 = 5.0;
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
/// Two glances are nearly alike where no more windows than this differ, each by less than so many times
/// what it may.
const FEW_WINDOWS: usize = 8;
const HARDLY_MORE: f32 = 2.0;

/// What two glances show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Likeness {
    Alike,
    /// As compression has it now and then; what moves differs more from frame to frame.
    Nearly,
    Other,
}

/// By how many times what it may each window differs, row by row: from 1 on it has changed.
pub(super) struct Changes {
    /// Windows to a row.
    pub columns: usize,
    pub windows: Vec<f32>,
}

impl Changes {
    fn new(raster: &Raster, windows: impl Iterator<Item = f32>) -> Self {
        let columns = (raster.columns.div_ceil(CELL) + 1).saturating_sub(WINDOW_CELLS);
        Self { columns, windows: windows.collect() }
    }

    pub fn likeness(&self) -> Likeness {
        let mut few = 0;
        for change in self.windows.iter().filter(|change| **change >= 1.0) {
            few += 1;
            if few > FEW_WINDOWS || *change >= HARDLY_MORE {
                return Likeness::Other;
            }
        }
        if few == 0 { Likeness::Alike } else { Likeness::Nearly }
    }
}

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

    /// What a later glance of the same raster shows that is another.
    pub fn changes(&self, raster: &Raster, later: &Glance) -> Changes {
        let windows = windows(raster, &self.glance, later);
        let flicker = |window: usize| self.flicker.as_ref().map_or(1.0, |flicker| flicker[window]);
        let changes = windows.iter().enumerate();
        Changes::new(raster, changes.map(|(at, window)| window.change / (CHANGED * flicker(at))))
    }

    /// The same for a frame that comes soon after; the first that is no exact copy tells how much
    /// the picture flickers.
    pub fn changes_soon(&mut self, raster: &Raster, next: &Glance) -> Changes {
        if self.flicker.is_some() || self.glance == *next {
            return self.changes(raster, next);
        }
        let windows = windows(raster, &self.glance, next);
        let changes =
            windows.iter().map(|window| window.change / (CHANGED * window.most_flicker()));
        let changes = Changes::new(raster, changes);
        if changes.likeness() == Likeness::Alike {
            let flickers: Vec<f32> =
                windows.iter().map(|window| window.change.min(window.most_flicker())).collect();
            self.flicker = Some(around(&flickers, changes.columns));
        }
        changes
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

/// A window's samples: how far they are from what they were, beyond what they have in common, and how
/// steep the picture is there, as mean squares in variances.
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
    squares: f32,
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
    let (mut changes, mut slopes) = (vec![0.0_f32; width], vec![0.0_f32; width]);
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
        weigh((around, now, &gain), &noise, (from, to), (&mut changes, &mut slopes));
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
                total.changes += changes[first..end].iter().sum::<f32>();
                total.squares +=
                    changes[first..end].iter().map(|change| change * change).sum::<f32>();
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
                    all.squares += cell.squares;
                    all.slopes += cell.slopes;
                    all.count += cell.count;
                    all.sloping += cell.sloping;
                }
            }
            windows.push(if all.count >= LEAST_SAMPLES {
                let common = all.changes / all.count;
                let change = all.squares / all.count - common * common;
                Window { change, slope: all.slopes / all.sloping }
            } else {
                Window::default()
            });
        }
    }
    windows
}

/// How many standard deviations each sample of a row is from what it was, and how steep the picture is
/// there in variances of the noise: from the rows of the earlier glance above, here and below, the later
/// one's row, what the light did.
fn weigh(
    ([above, here, below], now, gain): ([&[i16]; 3], &[i16], &[f32]),
    noise: &Noise,
    (from, to): (usize, usize),
    (changes, slopes): (&mut [f32], &mut [f32]),
) {
    // Slices of one length, so that the loop needs no checks and runs several samples at a time.
    let count = to - from;
    let (left, right) = (&here[from - 1..][..count], &here[from + 1..][..count]);
    let (above, here, below) =
        (&above[from..][..count], &here[from..][..count], &below[from..][..count]);
    let (now, gain) = (&now[from..][..count], &gain[from..][..count]);
    let (changes, slopes) = (&mut changes[from..][..count], &mut slopes[from..][..count]);
    for x in 0..count {
        changes[x] = noise.variance(here[x], now[x]);
    }
    for x in 0..count {
        let (g, least) = (gain[x], changes[x]);
        let rise = f32::from(now[x]) + PEDESTAL - g * (f32::from(here[x]) + PEDESTAL);
        let across = f32::from(right[x] - left[x]);
        let down = f32::from(below[x] - above[x]);
        let slope = g * g * 0.25 * (across * across + down * down);
        slopes[x] = slope / least;
        let deviation = (least + WANDER * WANDER * slope).sqrt();
        changes[x] = (rise / deviation).clamp(-MOST_SAY, MOST_SAY);
    }
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

    /// A table in poor light, darker toward one rail, with a white ball and somebody's soft
    /// shadow: what a sensor with read noise makes of it.
    fn frame(
        camera: &Camera,
        (ball, shadow): (TablePoint, Option<TablePoint>),
        random: &mut Random,
    ) -> RgbImage {
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
            let shade = shadow
                .map_or(0.0, |shadow| 0.2 * (-(at.distance_mm(shadow) / 150.0).powi(2)).exp());
            let light = (1.0 - shade) * light + 0.004 * random.normal();
            let code = 255.0 * light.max(0.0).powf(1.0 / 2.2);
            Rgb([code as u8; 3])
        })
    }

    fn overhead() -> (Camera, Raster) {
        let table = TableSize::NINE_FOOT;
        let position = table.centre_spot().at_height(2500.0);
        let pose = Pose::looking(position, [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]);
        let camera = Camera { lens: Lens::pinhole(1280, 720, 1000.0), pose };
        (camera, Raster::new(&camera, &table))
    }

    #[test]
    fn a_soft_shadow_that_moves_is_no_change() {
        let ((camera, raster), mut random) = (overhead(), Random::stream(12, 0));
        let mut at = |x_mm: f64| {
            let shown = (TablePoint::new(1300.0, 1150.0), Some(TablePoint::new(x_mm, 1200.0)));
            raster.glance(&frame(&camera, shown, &mut random))
        };
        let mut first = Known::new(at(1000.0));
        for x_mm in [1000.0, 1020.0, 1050.0, 1090.0] {
            assert_eq!(
                first.changes_soon(&raster, &at(x_mm)).likeness(),
                Likeness::Alike,
                "at {x_mm}"
            );
        }
    }

    #[test]
    fn noise_is_no_change_in_the_darker_half_of_a_bed_and_a_ball_that_moved_is_one() {
        let ((camera, raster), mut random) = (overhead(), Random::stream(11, 0));
        for x_mm in [400.0, 1300.0] {
            for y_mm in [90.0, 640.0, 1200.0] {
                let mut at = |off_mm: f64| {
                    let ball = TablePoint::new(x_mm + off_mm, y_mm);
                    raster.glance(&frame(&camera, (ball, None), &mut random))
                };
                let mut first = Known::new(at(0.0));
                for _ in 0..6 {
                    let likeness = first.changes_soon(&raster, &at(0.0)).likeness();
                    assert_eq!(likeness, Likeness::Alike, "at {x_mm} {y_mm}");
                }
                let likeness = first.changes_soon(&raster, &at(10.0)).likeness();
                assert_ne!(likeness, Likeness::Alike, "at {x_mm} {y_mm}");
            }
        }
    }
}
