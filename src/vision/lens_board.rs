//! The lens from pictures of a printed board.
//!
//! Input: frames of one camera that show a board of [`camera::board`](crate::camera::board) held
//! flat, at different places and slants. Output: a [`Lens`]. Method: Zhang, "A flexible new
//! technique for camera calibration" (IEEE PAMI 22, 2000), as OpenCV's calib3d has it: inner
//! corners to a few hundredths of a pixel, then one least-squares fit of the lens and a pose to
//! each frame, held to this project's lens model: square pixels, two radial terms, nothing
//! tangential. OpenCV counts pixels from the first one's centre, we from its corner, so half a
//! pixel is added to the middle. Only the board's shape matters, not its size: a print that was
//! scaled evenly does no harm. It degenerates where every frame shows the board parallel to the
//! picture: focal length and distance cannot be told apart, which the report's sigma shows.

use crate::camera::board::{Board, BoardKind};
use crate::camera::{Lens, PixelPoint};
use image::RgbImage;
use opencv::core::{
    Mat, Point2f, Point3f, Ptr, Size, TermCriteria, TermCriteria_Type, Vector, no_array,
};
use opencv::prelude::*;
use opencv::{aruco, calib3d};
use serde::Serialize;
use thiserror::Error;

/// Fewest frames that hold a board from which a lens is made.
pub const FEWEST_FRAMES: usize = 4;
/// Fewest inner corners to a frame: fewer hold a pose badly.
const FEWEST_CORNERS: usize = 8;

/// How well a lens is known, and from what.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LensReport {
    pub frames_given: usize,
    /// Frames left out, counted from 0, and why.
    pub left_out: Vec<(usize, String)>,
    /// Inner corners of all used frames together.
    pub corners: usize,
    /// Root mean square distance of the corners from their modelled places.
    pub reprojection_px: f64,
    /// One standard deviation of each part of the lens.
    pub focal_sigma_px: f64,
    pub centre_sigma_px: f64,
    pub k1_sigma: f64,
    pub k2_sigma: f64,
    /// The part of the half diagonal that the corners reach: beyond, the distortion is a guess.
    pub reach: f64,
    /// What is weak, in words for the user; empty where nothing is.
    pub weak: Vec<String>,
}

/// Why no lens came out of the frames.
#[derive(Debug, Error)]
pub enum LensBoardError {
    #[error(
        "the board was found in {found} of {given} frames, a lens needs {FEWEST_FRAMES}: fill the picture with it, hold it still and slanted in several ways, light it evenly"
    )]
    TooFew { found: usize, given: usize },
    #[error(
        "the frames are of different sizes ({first} and {other} pixels): give frames of one camera only"
    )]
    MixedSizes { first: String, other: String },
    #[error("OpenCV could not solve for the lens: {source}. Take other frames of the board")]
    Solver {
        #[from]
        source: opencv::Error,
    },
}

/// The inner corners seen in one frame: places on the board in millimetres, and in the picture
/// as OpenCV counts.
#[derive(Default)]
struct Seen {
    on_board: Vector<Point3f>,
    in_picture: Vector<Point2f>,
}

/// Solves the lens from frames of a board.
///
/// # Errors
/// [`LensBoardError`] where too few frames show the board.
pub fn calibrate_lens(
    frames: &[RgbImage],
    board: &Board,
) -> Result<(Lens, LensReport), LensBoardError> {
    let mut left_out = Vec::new();
    let mut seen = Vec::new();
    for (i, frame) in frames.iter().enumerate() {
        let (first, other) = (frames[0].dimensions(), frame.dimensions());
        if first != other {
            let name = |(width, height): (u32, u32)| format!("{width} × {height}");
            return Err(LensBoardError::MixedSizes { first: name(first), other: name(other) });
        }
        let found = find(frame, board)?;
        if found.in_picture.len() >= FEWEST_CORNERS {
            seen.push(found);
        } else {
            left_out.push((i, format!("{} corners of the board seen", found.in_picture.len())));
        }
    }
    let (Some(frame), true) = (frames.first(), seen.len() >= FEWEST_FRAMES) else {
        return Err(LensBoardError::TooFew { found: seen.len(), given: frames.len() });
    };
    let (lens, mut report) = solve(frame.dimensions(), seen)?;
    report.frames_given = frames.len();
    report.left_out = left_out;
    Ok((lens, report))
}

/// Looks for the board; nothing found is a result.
fn find(frame: &RgbImage, board: &Board) -> opencv::Result<Seen> {
    if frame.width() < 32 || frame.height() < 32 {
        return Ok(Seen::default());
    }
    let grey = image::imageops::grayscale(frame);
    let rows = i32::try_from(frame.height()).unwrap_or(i32::MAX);
    let flat = Mat::from_slice(grey.as_raw())?;
    let grey = flat.reshape(1, rows)?;
    match board.kind {
        BoardKind::Chessboard => chessboard(&grey, board),
        BoardKind::Charuco => charuco(&grey, board),
    }
}

fn chessboard(grey: &impl opencv::core::ToInputArray, board: &Board) -> opencv::Result<Seen> {
    let inner = Size::new(i32::from(board.columns) - 1, i32::from(board.rows) - 1);
    let flags = calib3d::CALIB_CB_NORMALIZE_IMAGE
        | calib3d::CALIB_CB_EXHAUSTIVE
        | calib3d::CALIB_CB_ACCURACY;
    let mut in_picture = Vector::<Point2f>::new();
    if !calib3d::find_chessboard_corners_sb(grey, inner, &mut in_picture, flags)? {
        return Ok(Seen::default());
    }
    refine(grey, &mut in_picture, 0.2)?;
    let square_mm = board.square_mm as f32;
    // Row by row; from which corner it starts does not matter to the lens.
    let place = |i: i32| {
        let (column, row) = (i % inner.width, i / inner.width);
        Point3f::new(column as f32 * square_mm, row as f32 * square_mm, 0.0)
    };
    let on_board = (0..inner.width * inner.height).map(place).collect();
    Ok(Seen { on_board, in_picture })
}

/// Moves corners to where the edges around them meet, looking as far as `free` of the distance
/// between the nearest two.
fn refine(
    grey: &impl opencv::core::ToInputArray,
    corners: &mut Vector<Point2f>,
    free: f64,
) -> opencv::Result<()> {
    let places: Vec<_> = corners.iter().collect();
    let apart = |a: &Point2f, b: &Point2f| f64::from(a.x - b.x).hypot(f64::from(a.y - b.y));
    let pairs =
        places.iter().enumerate().flat_map(|(i, a)| places[..i].iter().map(move |b| apart(a, b)));
    let nearest_px = pairs.fold(f64::INFINITY, f64::min);
    if !nearest_px.is_finite() {
        return Ok(());
    }
    let half_px = (nearest_px * free).clamp(2.0, 5.0) as i32;
    let until = until(40, 1e-3)?;
    let window = Size::new(half_px, half_px);
    opencv::imgproc::corner_sub_pix(grey, corners, window, Size::new(-1, -1), until)
}

fn until(steps: i32, change: f64) -> opencv::Result<TermCriteria> {
    let both = TermCriteria_Type::COUNT as i32 + TermCriteria_Type::EPS as i32;
    TermCriteria::new(both, steps, change)
}

fn charuco(grey: &impl opencv::core::ToInputArray, board: &Board) -> opencv::Result<Seen> {
    let mut marker_corners = Vector::<Vector<Point2f>>::new();
    let mut marker_ids = Vector::<i32>::new();
    let dictionary = Board::dictionary()?;
    aruco::detect_markers(
        grey,
        &dictionary,
        &mut marker_corners,
        &mut marker_ids,
        &aruco::DetectorParameters::create()?,
        &mut no_array(),
    )?;
    if marker_ids.is_empty() {
        return Ok(Seen::default());
    }
    let theirs: Ptr<aruco::CharucoBoard> = board.charuco()?;
    let (mut corners, mut ids) = (Vector::<Point2f>::new(), Vector::<i32>::new());
    aruco::interpolate_corners_charuco_def(
        &marker_corners,
        &marker_ids,
        grey,
        &theirs,
        &mut corners,
        &mut ids,
    )?;
    // What is free of markers around a corner.
    refine(grey, &mut corners, 0.35 * (board.square_mm - board.marker_mm) / board.square_mm)?;
    let places = theirs.chessboard_corners();
    let mut seen = Seen::default();
    for (corner, id) in corners.iter().zip(ids.iter()) {
        let Ok(place) = places.get(usize::try_from(id).unwrap_or(usize::MAX)) else { continue };
        seen.on_board.push(place);
        seen.in_picture.push(corner);
    }
    Ok(seen)
}

fn solve(
    (width_px, height_px): (u32, u32),
    seen: Vec<Seen>,
) -> Result<(Lens, LensReport), LensBoardError> {
    let size = Size::new(
        i32::try_from(width_px).unwrap_or(i32::MAX),
        i32::try_from(height_px).unwrap_or(i32::MAX),
    );
    let corners = seen.iter().map(|frame| frame.in_picture.len()).sum();
    let reach = reach(size, &seen);
    let mut on_board = Vector::<Vector<Point3f>>::new();
    let mut in_picture = Vector::<Vector<Point2f>>::new();
    for frame in seen {
        on_board.push(frame.on_board);
        in_picture.push(frame.in_picture);
    }
    let flags =
        calib3d::CALIB_FIX_ASPECT_RATIO | calib3d::CALIB_ZERO_TANGENT_DIST | calib3d::CALIB_FIX_K3;
    // With the aspect ratio held, only the two focal lengths' ratio is read from it.
    let mut matrix = Mat::eye(3, 3, opencv::core::CV_64F)?.to_mat()?;
    let mut distortion = Mat::default();
    let mut sigmas = Mat::default();
    let reprojection_px = calib3d::calibrate_camera_extended(
        &on_board,
        &in_picture,
        size,
        &mut matrix,
        &mut distortion,
        &mut no_array(),
        &mut no_array(),
        &mut sigmas,
        &mut no_array(),
        &mut no_array(),
        flags,
        until(200, 1e-12)?,
    )?;
    let at = |row, column| matrix.at_2d::<f64>(row, column).copied();
    let term = |i| distortion.at::<f64>(i).copied();
    let sigma = |i| sigmas.at::<f64>(i).copied();
    let lens = Lens {
        width_px,
        height_px,
        focal_px: at(0, 0)?,
        centre_px: PixelPoint::new(at(0, 2)? + 0.5, at(1, 2)? + 0.5),
        k1: term(0)?,
        k2: term(1)?,
    };
    // OpenCV's order: two focal lengths, middle, then the distortion's terms.
    let mut report = LensReport {
        frames_given: 0,
        left_out: Vec::new(),
        corners,
        reprojection_px,
        focal_sigma_px: sigma(1)?,
        centre_sigma_px: sigma(2)?.max(sigma(3)?),
        k1_sigma: sigma(4)?,
        k2_sigma: sigma(5)?,
        reach,
        weak: Vec::new(),
    };
    report.weak = weak(&lens, &report);
    Ok((lens, report))
}

/// How far out the corners reach, as a part of the half diagonal.
fn reach(size: Size, seen: &[Seen]) -> f64 {
    let (half_x, half_y) = (f64::from(size.width) / 2.0, f64::from(size.height) / 2.0);
    let corners = seen.iter().flat_map(|frame| frame.in_picture.iter());
    let away = corners.map(|c| (f64::from(c.x) - half_x).hypot(f64::from(c.y) - half_y));
    away.fold(0.0, f64::max) / half_x.hypot(half_y)
}

fn weak(lens: &Lens, report: &LensReport) -> Vec<String> {
    let mut weak = Vec::new();
    if report.reprojection_px > 0.5 {
        weak.push(format!(
            "the corners fit to {:.2} px only: the board may be bent or the frames blurred",
            report.reprojection_px
        ));
    }
    if report.focal_sigma_px > 0.003 * lens.focal_px {
        weak.push(format!(
            "the focal length is known to {:.1} px only: slant the board more in some frames",
            report.focal_sigma_px
        ));
    }
    if report.centre_sigma_px > 0.003 * f64::from(lens.width_px) {
        weak.push(format!(
            "the lens's middle is known to {:.1} px only: take more frames",
            report.centre_sigma_px
        ));
    }
    if report.reach < 0.8 {
        weak.push(format!(
            "the board reaches {:.0} % of the way to the picture's corners: hold it into them",
            100.0 * report.reach
        ));
    }
    weak
}

#[cfg(test)]
mod tests;
