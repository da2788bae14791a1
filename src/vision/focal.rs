//! The focal length from the balls' outlines.
//!
//! Input: frames and the table fitted to them. Output: the same table, seen with the focal length under
//! which the balls look like balls, where the one it was fitted with is unusual for a lens. Method:
//! straight above a table the focal length and the height trade off, and the noses hardly tell them
//! apart; but away from the middle of the picture a ball is seen longer than wide, the more so the
//! shorter the focal length is. For each of a range of lengths the camera is solved again from what was
//! seen of the noses, and the balls' outlines are fitted. Lengths that lenses have are left as they are:
//! over 120 made-up tables the balls told them no better, and places were no nearer. Not modelled: a
//! lens whose middle is not the picture's.

use super::ball_fit::{self, BallFit, Widening};
use super::balls::BallFinder;
use super::bundle::{self, FOCAL, LensPrior, Solved};
use super::refine::Fit;
use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use image::RgbImage;

/// So many standard deviations from what lenses have makes the noses' own length doubtful.
const UNUSUAL: f64 = 2.0;
/// Lengths are tried in steps of this part, so many to either side.
const STEP: f64 = 0.1;
const REACH: i32 = 6;
/// A ball whose outline is never met better than this tells nothing: it touches others or the rail.
/// In square pixels, as [`misfit`] has it.
const CLEAN: f64 = 0.2;
/// One ball has no more of a say than this, in the same; its outline may jump to another edge.
const MOST_SAY: f64 = 0.1;
/// What of a misfit is chance, in the same.
const CHANCE: f64 = 0.03;
/// How far off the noses' own length is, as the standard deviation of its logarithm: over 120 made-up
/// tables it was 0.165, whatever it was thought to be.
const OF_NOSES: f64 = 0.15;
/// How far off it is still where the balls have had their say, judged by three such tables: 1, 1 and 16 %.
const OF_BALLS: f64 = 0.1;
/// While a length is tried it is held to this.
const HELD: f64 = 1e-3;
/// An edge farther than this from a ball's outline is another's.
const REACH_PX: f64 = 1.2;

/// The table with the focal length that the balls tell, where the noses tell an unusual one and the
/// balls another.
pub(super) fn told_by_balls(frames: &[RgbImage], fit: &Fit) -> Option<Fit> {
    if unusual(&fit.solved.camera).abs() < UNUSUAL {
        return None;
    }
    let finder = BallFinder::new(&fit.solved.camera, &fit.table);
    let balls: Vec<(&RgbImage, TablePoint)> = frames
        .iter()
        .flat_map(|frame| {
            finder.find(frame, Widening::Free).into_iter().map(move |ball| (frame, ball.centre))
        })
        .collect();
    let tries: Vec<Try> =
        (-REACH..=REACH).filter_map(|step| Try::at(f64::from(step) * STEP, fit, &balls)).collect();
    let best = likeliest(&tries, frames.len()).filter(|best| best.zoom != 0.0)?;
    let mut solved = best.solved.clone();
    // What hangs on the length is as unsure as the balls leave it.
    let by_length = solved.covariance.column(FOCAL) / solved.covariance[(FOCAL, FOCAL)];
    solved.covariance += by_length * by_length.transpose() * OF_BALLS.powi(2);
    Some(Fit { solved, ..fit.clone() })
}

/// How far a focal length is from what lenses have, in standard deviations.
fn unusual(camera: &Camera) -> f64 {
    let prior = LensPrior::ORDINARY;
    let likeliest = prior.likeliest((camera.lens.width_px, camera.lens.height_px));
    (camera.lens.focal_px / likeliest.focal_px).ln() / prior.focal_log_sigma
}

/// The length that balls and noses together say is likeliest.
fn likeliest(tries: &[Try], frames: usize) -> Option<&Try> {
    let balls = tries.first()?.misfits.len();
    let least: Vec<f64> = (0..balls)
        .map(|ball| tries.iter().map(|tried| tried.misfits[ball]).fold(f64::INFINITY, f64::min))
        .collect();
    let against = |tried: &Try| {
        let clean = tried.misfits.iter().zip(&least).filter(|(_, least)| **least < CLEAN);
        let misfit: f64 = clean.map(|(misfit, least)| (misfit - least).min(MOST_SAY)).sum();
        // Frames of one camera show much the same balls.
        misfit / CHANCE / frames as f64
            + (tried.zoom / OF_NOSES).powi(2)
            + unusual(&tried.solved.camera).powi(2)
    };
    tries.iter().min_by(|a, b| against(a).total_cmp(&against(b)))
}

/// How badly a ball's outline is met, in square pixels: what is not seen of it counts as far off.
fn misfit(ball: &BallFit) -> f64 {
    ball.seen * ball.rms_px.powi(2) + (1.0 - ball.seen) * REACH_PX.powi(2)
}

/// Where another camera sees a ball that the first has at a place.
fn seen_at(
    camera: &Camera,
    first: &Camera,
    table: &TableSize,
    place: TablePoint,
) -> Option<TablePoint> {
    let z_mm = table.ball_radius_mm();
    camera.table_from_picture(first.project(place.at_height(z_mm))?, z_mm)
}

/// A focal length that was tried.
struct Try {
    /// Logarithm of the length against the noses' own.
    zoom: f64,
    solved: Solved,
    /// How badly each ball's outline is met, in square pixels.
    misfits: Vec<f64>,
}

impl Try {
    fn at(zoom: f64, fit: &Fit, balls: &[(&RgbImage, TablePoint)]) -> Option<Self> {
        let camera = &fit.solved.camera;
        let longer = f64::from(camera.lens.width_px.max(camera.lens.height_px));
        let prior = LensPrior {
            focal_part: camera.lens.focal_px * zoom.exp() / longer,
            focal_log_sigma: HELD,
            ..LensPrior::ORDINARY
        };
        let mut sightings = fit.sightings.clone();
        let solved = bundle::solve(camera, &mut sightings, &prior, REACH_PX)?;
        let misfits = balls
            .iter()
            .map(|(frame, place)| {
                let near = seen_at(&solved.camera, camera, &fit.table, *place)?;
                ball_fit::fit(frame, &solved.camera, &fit.table, near, Widening::Free)
            })
            .map(|fitted| fitted.as_ref().map_or(REACH_PX * REACH_PX, misfit))
            .collect();
        Some(Self { zoom, solved, misfits })
    }
}
