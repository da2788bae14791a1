//! A first camera made exact.
//!
//! Input: frames of one camera, a camera good to some millimetres, the table's size. Output: the
//! camera that fits the noses and borders best, with the evidence that it is a table. Method: look,
//! solve (`bundle`), look again nearer by; the first looks take the steepest edges and trust them
//! little, the last explain the noses' profiles.

use super::bundle::{self, Border, LensPrior, Sighting, Solved};
use super::evidence::Evidence;
use super::noses;
use crate::camera::Camera;
use crate::table::TableSize;
use image::RgbImage;

/// A table fitted to frames.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    /// The size it was fitted as.
    pub table: TableSize,
    pub solved: Solved,
    /// What it was solved from.
    pub sightings: Vec<Sighting>,
    pub evidence: Evidence,
}

/// What is known of the lens before the frames are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum LensKnown {
    /// That it is an ordinary one.
    Roughly,
    /// The first camera's lens is the lens.
    Exactly,
}

/// Refines a first camera by the noses and the cushions' borders in all the frames, looking ever
/// closer; none where they do not run straight around the cloth.
pub(super) fn refine(
    frames: &[RgbImage],
    table: &TableSize,
    start: &Camera,
    lens: LensKnown,
) -> Option<Fit> {
    let mut camera = *start;
    let mut solved: Option<(Solved, Vec<Sighting>)> = None;
    let mut shown: Option<&RgbImage> = None;
    for (round, (reach_mm, tukey_px)) in
        [(18.0, 6.0), (12.0, 3.0), (8.0, 2.5), (6.0, 2.0), (5.0, 1.5)].into_iter().enumerate()
    {
        let prior = match lens {
            LensKnown::Exactly => LensPrior::known(&start.lens),
            LensKnown::Roughly if round < 3 => LensPrior::FIRM,
            LensKnown::Roughly => LensPrior::ORDINARY,
        };
        let border = solved.as_ref().map_or(Border::ORDINARY, |(solved, _)| solved.border);
        let mut sightings = Vec::new();
        shown = None;
        for frame in frames {
            let seen = if round < 2 {
                noses::look(frame, &camera, table, reach_mm)
            } else {
                noses::look_closely(frame, &camera, table, reach_mm)
            };
            let borders = noses::look_borders(frame, &camera, table, border, 0.8 * reach_mm);
            // A frame that does not show the table here does not spoil the others.
            if seen.coverage.iter().sum::<f64>() + borders.coverage.iter().sum::<f64>() < 4.0 {
                continue;
            }
            shown = shown.or(Some(frame));
            let spread = if round < 2 { 4.0 } else { 1.0 };
            sightings.extend(seen.sightings.into_iter().map(|sighting| (sighting, 1.0)));
            sightings.extend(borders.sightings.into_iter().map(|sighting| (sighting, spread)));
        }
        shown?;
        let mut sightings: Vec<Sighting> = sightings
            .into_iter()
            .map(|(mut sighting, spread)| {
                // Frames of one camera share the errors of its lens and of the table's shapes.
                sighting.sigma_px *= spread * (frames.len() as f64).sqrt();
                sighting
            })
            .collect();
        let found = bundle::solve(&camera, &mut sightings, &prior, tukey_px)?;
        camera = found.camera;
        solved = Some((found, sightings));
    }
    let (solved, sightings) = solved?;
    let evidence = Evidence::gather(shown?, &camera, table, solved.border);
    Some(Fit { table: *table, solved, sightings, evidence })
}
