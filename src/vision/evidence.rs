//! Whether what was fitted is a table: the evidence for and against a calibration.
//!
//! Input: a frame and a fitted camera. Output: what was seen of the noses, pockets, cushions and
//! rails, and the words for what is missing. A photograph without a table, or with part of one,
//! is refused on this; nothing here measures.

use super::bundle::Border;
use super::noses::{self, Nose};
use super::pixels::{brightness, mean_colour};
use super::pockets;
use crate::camera::Camera;
use crate::table::{Pocket, TablePoint, TableSize};
use image::RgbImage;

/// How far an edge may lie from where the model has it.
const CLOSE_MM: f64 = 3.0;

/// Rails of the cloth's own colour are told by so many sights in their places.
const ENOUGH_SIGHTS: usize = 12;

/// Balls narrower than this cannot be told, wherever on the table.
const LEAST_BALL_PX: f64 = 8.0;

/// Least that has to speak for a table in all, as [`Evidence::score`] has it. Over 300 first frames of
/// made-up tables score 5.96 and more; of 1,650 photographs and drawings without a table those that
/// have all it takes besides, 5.23 and less.
const LEAST_SCORE: f64 = 5.6;

/// A nose, the cushions and the bed are plain that are seen over more than this part. None of 1,698
/// photographs and drawings without a table was taken for one by it.
const PLAIN: f64 = 0.9;

/// What speaks for a table.
#[derive(Debug, Clone)]
pub(super) struct Evidence {
    /// For each nose, the part of its length with an edge close to the model.
    pub noses: [f64; 6],
    /// The same for the border between each cushion's cloth and the rail.
    pub borders: [f64; 6],
    /// For each pocket, whether a dark opening is there.
    pub pockets: [bool; 6],
    /// How many of the pockets' rims toward the bed are seen in their places.
    pub rims: usize,
    /// Part of the cushions' tops with the cloth's colour.
    pub cushions: f64,
    /// Part of the surroundings just past the cushions with another colour than the cloth's.
    pub rails: f64,
    /// Part of the bed with the cloth's colour.
    pub cloth: f64,
    /// Whether the corners of the playing surface all lie within the picture.
    pub in_view: bool,
    /// Sights seen, of eighteen.
    pub sights: usize,
    /// How wide a ball is in the picture where it is narrowest.
    pub ball_px: f64,
}

impl Evidence {
    /// Gathers the evidence; `border` is where the cushions' cloth ends.
    pub fn gather(frame: &RgbImage, camera: &Camera, table: &TableSize, border: Border) -> Self {
        let seen = noses::look_closely(frame, camera, table, CLOSE_MM);
        let borders = noses::look_borders(frame, camera, table, border, CLOSE_MM);
        let bed = BedColour::of(frame, camera, table);
        let pockets = table.pockets();
        let rims = pockets.iter().filter(|pocket| is_rim_seen(frame, camera, table, pocket));
        Self {
            noses: seen.coverage,
            borders: borders.coverage,
            pockets: pockets_seen(frame, camera, table, &bed),
            rims: rims.count(),
            cushions: bed.part_alike(frame, camera, table, -22.0),
            rails: part_railed(frame, camera, table),
            cloth: bed.part_of_bed(),
            in_view: table.corners().iter().all(|corner| {
                let size = (camera.lens.width_px, camera.lens.height_px);
                camera.project(corner.at_height(table.nose_height_mm())).is_some_and(|p| {
                    (0.0..=f64::from(size.0)).contains(&p.x_px)
                        && (0.0..=f64::from(size.1)).contains(&p.y_px)
                })
            }),
            sights: sights_seen(frame, camera, table),
            ball_px: table.ball_diameter_mm / coarsest_mm_per_px(camera, table),
        }
    }

    /// How well it all fits, for choosing between fits; 0 to about 8.
    pub fn score(&self) -> f64 {
        let noses = self.noses.iter().sum::<f64>() / 6.0;
        let pockets = self.pockets.iter().filter(|seen| **seen).count() as f64 / 6.0;
        let borders = self.borders.iter().sum::<f64>() / 6.0;
        2.0 * noses
            + borders
            + pockets
            + self.cushions
            + self.rails
            + self.cloth
            + self.sights as f64 / 18.0
    }

    /// Whether everything within the rails is seen so plainly that they may have the cloth's colour.
    fn is_plain(&self) -> bool {
        self.noses.iter().all(|part| *part > PLAIN)
            && self.rims == 6
            && self.cushions > PLAIN
            && self.cloth > PLAIN
    }

    /// What is missing for a table, in words; none where it is one.
    pub fn missing(&self) -> Option<String> {
        let pockets = self.pockets.iter().filter(|seen| **seen).count();
        // A nose in flat light can be all but invisible: then its cushion's border speaks for it.
        let cushions = self.noses.iter().zip(&self.borders);
        let faint = cushions.filter(|(nose, border)| **nose < 0.4 && **border < 0.7).count();
        let mean = self.noses.iter().sum::<f64>() / 6.0;
        if !self.in_view {
            Some("part of the table lies outside the picture".into())
        } else if self.cloth < 0.5 {
            Some("no surface of one cloth between the cushions".into())
        } else if faint > 1 || mean < 0.35 {
            Some(format!("only {} of six cushion noses are seen", 6 - faint))
        } else if pockets < 5 {
            Some(format!("only {pockets} of six pockets are seen"))
        } else if self.cushions < 0.4 {
            Some("the cushions do not carry the cloth's colour".into())
        } else if self.rails < 0.4 && self.sights < ENOUGH_SIGHTS && !self.is_plain() {
            Some("no rails are seen around the cushions".into())
        } else if self.ball_px < LEAST_BALL_PX {
            Some(format!(
                "a ball in its far corner would be {:.0} pixels wide, and it takes \
                 {LEAST_BALL_PX:.0} to see one",
                self.ball_px
            ))
        } else if self.score() < LEAST_SCORE && !self.is_plain() {
            Some("cushions, pockets and sights all show too faintly to be a table's".into())
        } else {
            None
        }
    }
}

/// Millimetres to the pixel at the noses' corner where a pixel is largest; infinite where a pixel
/// reaches to the horizon.
pub(super) fn coarsest_mm_per_px(camera: &Camera, table: &TableSize) -> f64 {
    let at_corner = |corner: &TablePoint| {
        camera.mm_per_px(*corner, table.nose_height_mm()).unwrap_or(f64::INFINITY)
    };
    table.corners().iter().map(at_corner).fold(0.0, f64::max)
}

/// The cloth's colour over the bed, cell by cell.
struct BedColour {
    table: TableSize,
    /// Row by row, 8 by 4 cells; none where a cell shows no cloth.
    cells: Vec<Option<[f32; 3]>>,
    alike: f64,
}

impl BedColour {
    const COLUMNS: usize = 8;
    const ROWS: usize = 4;

    fn of(frame: &RgbImage, camera: &Camera, table: &TableSize) -> Self {
        let mut all = Vec::new();
        let mut samples = Vec::new();
        for row in 0..Self::ROWS * 6 {
            for column in 0..Self::COLUMNS * 6 {
                let x_mm = (column as f64 + 0.5) / (Self::COLUMNS * 6) as f64 * table.length_mm;
                let y_mm = (row as f64 + 0.5) / (Self::ROWS * 6) as f64 * table.width_mm;
                let at = camera.project(TablePoint::new(x_mm, y_mm).at_height(0.0));
                let colour = at.and_then(|p| mean_colour(frame, std::iter::once(p)));
                samples.push((row / 6 * Self::COLUMNS + column / 6, colour));
                all.extend(colour);
            }
        }
        let common = median_colour(&mut all).unwrap_or([0.0; 3]);
        let (mut alike, count) = (0.0, samples.len().max(1) as f64);
        let mut cells = vec![Vec::new(); Self::COLUMNS * Self::ROWS];
        for (cell, colour) in samples {
            if let Some(colour) = colour.filter(|colour| is_alike(*colour, common)) {
                alike += 1.0;
                if let Some(cell) = cells.get_mut(cell) {
                    cell.push(colour);
                }
            }
        }
        let cells = cells.into_iter().map(|mut cell| median_colour(&mut cell)).collect();
        Self { table: *table, cells, alike: alike / count }
    }

    fn part_of_bed(&self) -> f64 {
        self.alike
    }

    /// The cloth's colour in the cell nearest to a place.
    fn near(&self, at: TablePoint) -> Option<[f32; 3]> {
        let clamp =
            |part: f64, cells: usize| ((part * cells as f64).max(0.0) as usize).min(cells - 1);
        let column = clamp(at.x_mm / self.table.length_mm, Self::COLUMNS);
        let row = clamp(at.y_mm / self.table.width_mm, Self::ROWS);
        self.cells.get(row * Self::COLUMNS + column).copied().flatten()
    }

    /// Part of the places `inside_mm` from the noses that have the cloth's colour.
    fn part_alike(
        &self,
        frame: &RgbImage,
        camera: &Camera,
        table: &TableSize,
        inside_mm: f64,
    ) -> f64 {
        let (mut alike, mut count) = (0.0, 0.0);
        for nose in Nose::all(table) {
            for along_mm in nose.stations(40.0) {
                let place = nose.place(along_mm, inside_mm);
                let colour = camera
                    .project(place.at_height(table.nose_height_mm()))
                    .and_then(|p| mean_colour(frame, std::iter::once(p)));
                count += 1.0;
                if let (Some(colour), Some(cloth)) = (colour, self.near(place)) {
                    alike += if is_alike(colour, cloth) { 1.0 } else { 0.0 };
                }
            }
        }
        alike / f64::max(count, 1.0)
    }
}

/// Part of the cushions behind which a rail of another colour begins, however like the cloth's.
fn part_railed(frame: &RgbImage, camera: &Camera, table: &TableSize) -> f64 {
    let z_mm = table.nose_height_mm();
    let (mut railed, mut count) = (0.0, 0.0);
    for nose in Nose::all(table) {
        for along_mm in nose.stations(40.0) {
            let colour = |inside_mm: f64| {
                let places = [-6.0, 0.0, 6.0].map(|shift_mm| {
                    camera.project(nose.place(along_mm + shift_mm, inside_mm).at_height(z_mm))
                });
                mean_colour(frame, places.into_iter().flatten())
            };
            count += 1.0;
            let (Some(top), Some(rail)) = (colour(-22.0), colour(-76.0)) else { continue };
            let apart = top
                .iter()
                .zip(rail)
                .map(|(a, b)| ((a + 10.0).ln() - (b + 10.0).ln()).abs())
                .fold(0.0, f32::max);
            railed += if apart > 0.05 { 1.0 } else { 0.0 };
        }
    }
    railed / f64::max(count, 1.0)
}

/// Whether a colour is a cloth's under a somewhat different light: near chromaticity, brightness
/// within a factor of about two.
fn is_alike(colour: [f32; 3], cloth: [f32; 3]) -> bool {
    let log = |c: [f32; 3]| c.map(|v| (v + 10.0).ln());
    let (a, b) = (log(colour), log(cloth));
    let red = (a[0] - a[1]) - (b[0] - b[1]);
    let blue = (a[2] - a[1]) - (b[2] - b[1]);
    red.hypot(blue) < 0.2 && (a[1] - b[1]).abs() < 0.75
}

fn median_colour(colours: &mut [[f32; 3]]) -> Option<[f32; 3]> {
    let middle = colours.len() / 2;
    let mut median = [0.0; 3];
    for (channel, value) in median.iter_mut().enumerate() {
        colours.sort_unstable_by(|a, b| a[channel].total_cmp(&b[channel]));
        *value = colours.get(middle)?[channel];
    }
    Some(median)
}

/// How many of the six pockets a camera still sees where it has them.
pub(super) fn pockets_in_place(frame: &RgbImage, camera: &Camera, table: &TableSize) -> usize {
    let bed = BedColour::of(frame, camera, table);
    pockets_seen(frame, camera, table, &bed).into_iter().filter(|seen| *seen).count()
}

/// Whether a pocket's rim toward the bed is seen in its place.
fn is_rim_seen(frame: &RgbImage, camera: &Camera, table: &TableSize, pocket: &Pocket) -> bool {
    let place = |at: TablePoint| {
        let p = camera.project(at.at_height(0.0))?;
        Some([p.x_px, p.y_px])
    };
    pockets::is_at(frame, &place, table, pocket)
}

/// For each pocket, whether a dark opening is there: darker than the cloth near it, or with the
/// rim of one toward the bed.
fn pockets_seen(
    frame: &RgbImage,
    camera: &Camera,
    table: &TableSize,
    bed: &BedColour,
) -> [bool; 6] {
    table.pockets().map(|pocket| {
        let dark = match (
            disc_colour(frame, camera, pocket.centre, 0.55 * pocket.radius_mm),
            bed.near(pocket.centre),
        ) {
            (Some(hole), Some(cloth)) => brightness(hole) < 0.62 * brightness(cloth),
            _ => false,
        };
        dark || is_rim_seen(frame, camera, table, &pocket)
    })
}

fn disc_colour(
    frame: &RgbImage,
    camera: &Camera,
    centre: TablePoint,
    radius_mm: f64,
) -> Option<[f32; 3]> {
    let places = (-2..=2_i32).flat_map(|i| (-2..=2_i32).map(move |j| (i, j)));
    let points = places.filter(|(i, j)| i * i + j * j <= 5).filter_map(|(i, j)| {
        let step_mm = radius_mm / 2.3;
        let x_mm = centre.x_mm + f64::from(i) * step_mm;
        let y_mm = centre.y_mm + f64::from(j) * step_mm;
        camera.project(TablePoint::new(x_mm, y_mm).at_height(0.0))
    });
    mean_colour(frame, points)
}

/// Sights that stand out against the rail around them, near their places.
fn sights_seen(frame: &RgbImage, camera: &Camera, table: &TableSize) -> usize {
    let lifted_mm = table.nose_height_mm() + 8.0;
    let stands_out = |sight: &TablePoint| {
        let ring = |radius_mm: f64, count: i32| {
            (0..count).filter_map(move |k| {
                let angle = f64::from(k) / f64::from(count) * std::f64::consts::TAU;
                let (sin, cos) = angle.sin_cos();
                let x_mm = sight.x_mm + radius_mm * cos;
                let y_mm = sight.y_mm + radius_mm * sin;
                camera.project(TablePoint::new(x_mm, y_mm).at_height(lifted_mm))
            })
        };
        let near: Vec<f32> = [0.0, 5.0, 9.0]
            .into_iter()
            .flat_map(|radius_mm| ring(radius_mm, 8))
            .filter_map(|p| mean_colour(frame, std::iter::once(p)).map(brightness))
            .collect();
        let around = mean_colour(frame, ring(24.0, 12)).map(brightness);
        let brightest = near.iter().copied().fold(0.0, f32::max);
        around.is_some_and(|around| brightest > 1.25 * around + 8.0)
    };
    table.sights().iter().filter(|sight| stands_out(sight)).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What was seen of a bedroom's lit wall between the posts of a bed.
    const WALL: Evidence = Evidence {
        noses: [0.2, 0.22, 0.41, 1.0, 1.0, 0.0],
        borders: [1.0, 0.09, 1.0, 1.0, 1.0, 1.0],
        pockets: [false, true, true, true, true, true],
        rims: 4,
        cushions: 0.58,
        rails: 0.92,
        cloth: 0.99,
        in_view: true,
        sights: 2,
        ball_px: 12.5,
    };

    #[test]
    fn a_wall_between_posts_has_something_of_everything_and_too_little_for_a_table() {
        assert!(WALL.missing().is_some());
        // A table whose borders hardly show makes up for it with everything else.
        let faint = Evidence {
            noses: [0.98; 6],
            borders: [0.45; 6],
            pockets: [true; 6],
            cushions: 1.0,
            rails: 1.0,
            sights: 0,
            ..WALL
        };
        assert_eq!(faint.missing(), None);
    }

    #[test]
    fn rails_may_have_the_cloths_colour_where_all_within_them_is_plain() {
        let plain = Evidence {
            noses: [0.98; 6],
            borders: [0.1; 6],
            pockets: [true; 6],
            rims: 6,
            cushions: 1.0,
            rails: 0.02,
            sights: 0,
            ..WALL
        };
        assert_eq!(plain.missing(), None);
        let one_nose_less =
            Evidence { noses: [0.98, 0.98, 0.6, 0.98, 0.98, 0.98], ..plain.clone() };
        assert!(one_nose_less.missing().is_some());
        assert!(Evidence { rims: 5, ..plain }.missing().is_some());
    }

    #[test]
    fn a_table_too_small_to_see_balls_on_is_refused_with_their_width() {
        let clear = Evidence {
            noses: [1.0; 6],
            borders: [1.0; 6],
            pockets: [true; 6],
            cushions: 1.0,
            sights: 18,
            ..WALL
        };
        assert_eq!(clear.missing(), None);
        let far = Evidence { ball_px: 3.2, ..clear };
        assert!(far.missing().is_some_and(|why| why.contains("3 pixels wide")));
    }
}
