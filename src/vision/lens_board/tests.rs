//! Boards seen through a known lens, by a warper of our own that goes by the project's camera.

use super::*;
use crate::camera::board::{self, Paper};
use crate::camera::{Camera, Pose};
use crate::table::SpacePoint;
use image::Rgb;
use resvg::{tiny_skia, usvg};

/// A board's page, rasterised.
struct Page {
    width_mm: f64,
    height_mm: f64,
    px_per_mm: f64,
    grey: image::GrayImage,
}

impl Page {
    fn of(board: &Board) -> Self {
        let px_per_mm = 4.0;
        let options = usvg::Options { dpi: 25.4, ..usvg::Options::default() };
        let tree = usvg::Tree::from_str(&board::svg(board).unwrap(), &options).unwrap();
        let [width_mm, height_mm] = board.page_mm();
        let (width, height) = ((width_mm * px_per_mm) as u32, (height_mm * px_per_mm) as u32);
        let mut pixmap = tiny_skia::Pixmap::new(width, height).unwrap();
        let scale = tiny_skia::Transform::from_scale(px_per_mm as f32, px_per_mm as f32);
        resvg::render(&tree, scale, &mut pixmap.as_mut());
        let grey = pixmap.data().chunks_exact(4).map(|p| p[0]).collect();
        let grey = image::GrayImage::from_raw(width, height, grey).unwrap();
        Self { width_mm, height_mm, px_per_mm, grey }
    }

    /// Grey value at a place on the page in millimetres from its lower left corner; the wall
    /// behind it where it is off the page.
    fn at(&self, x_mm: f64, y_mm: f64) -> f64 {
        let (x, y) = (x_mm * self.px_per_mm - 0.5, (self.height_mm - y_mm) * self.px_per_mm - 0.5);
        if !(0.0..=self.width_mm).contains(&x_mm) || !(0.0..=self.height_mm).contains(&y_mm) {
            return 105.0;
        }
        let pixel = |column: f64, row: f64| {
            let column = column.clamp(0.0, f64::from(self.grey.width() - 1)) as u32;
            let row = row.clamp(0.0, f64::from(self.grey.height() - 1)) as u32;
            f64::from(self.grey.get_pixel(column, row).0[0])
        };
        let (left, top) = (x.floor(), y.floor());
        let (right, down) = (x - left, y - top);
        let upper = pixel(left, top) * (1.0 - right) + pixel(left + 1.0, top) * right;
        let lower = pixel(left, top + 1.0) * (1.0 - right) + pixel(left + 1.0, top + 1.0) * right;
        // A print is neither black nor white, and a camera never clips both.
        30.0 + (upper * (1.0 - down) + lower * down) * 0.8
    }

    /// The page lying on the plane z = 0, its lower left corner the origin, seen by a camera.
    fn seen_by(&self, camera: &Camera) -> RgbImage {
        const PER_SIDE: u32 = 2;
        let mut noise = 0x9e37_79b9_u32;
        RgbImage::from_fn(camera.lens.width_px, camera.lens.height_px, |column, row| {
            let mut sum = 0.0;
            for part in 0..PER_SIDE * PER_SIDE {
                let within = |i: u32| (f64::from(i) + 0.5) / f64::from(PER_SIDE);
                let point = PixelPoint::new(
                    f64::from(column) + within(part % PER_SIDE),
                    f64::from(row) + within(part / PER_SIDE),
                );
                let place = camera.table_from_picture(point, 0.0);
                sum += place.map_or(105.0, |place| self.at(place.x_mm, place.y_mm));
            }
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let grain = f64::from(noise >> 24) / 255.0 * 4.0 - 2.0;
            let value = (sum / f64::from(PER_SIDE * PER_SIDE) + grain).round();
            Rgb([value.clamp(0.0, 255.0) as u8; 3])
        })
    }
}

fn known_lens() -> Lens {
    Lens {
        width_px: 960,
        height_px: 540,
        focal_px: 760.0,
        centre_px: PixelPoint::new(484.3, 266.2),
        k1: -0.16,
        k2: 0.05,
    }
}

/// The board from several sides, reaching into the picture's corners.
fn frames(page: &Page, lens: Lens) -> Vec<RgbImage> {
    let middle = [page.width_mm / 2.0, page.height_mm / 2.0];
    // Where the camera stands beside the board's middle and above it, as parts of the board's
    // width, and how the picture is turned.
    let views = [
        (-0.45, -0.05, 0.85, 0.05),
        (0.40, 0.10, 0.85, -0.04),
        (0.05, -0.50, 0.80, 0.10),
        (-0.05, 0.45, 0.85, 3.20),
        (-0.40, 0.35, 0.90, 0.60),
        (0.35, -0.35, 0.85, -0.50),
        (0.02, 0.04, 0.80, 0.02),
        (0.55, 0.0, 0.75, 0.0),
    ];
    let look = |(x, y, up, turn): (f64, f64, f64, f64)| {
        let size = page.width_mm;
        let position =
            SpacePoint { x_mm: middle[0] + x * size, y_mm: middle[1] + y * size, z_mm: up * size };
        // Aimed past the board's middle, so that it lies off the picture's.
        let forward = [-1.05 * x, -0.8 * y, -up];
        let pose = Pose::looking(position, forward, [turn.sin(), turn.cos(), 0.0]);
        page.seen_by(&Camera { lens, pose })
    };
    views.into_iter().map(look).collect()
}

fn recovers(kind: BoardKind, fewest_corners: usize) {
    let board = Board::on(kind, Paper::A4);
    let page = Page::of(&board);
    let frames = frames(&page, known_lens());
    if let Some(folder) = std::env::var_os("STILLCLOTH_LOOK") {
        for (i, frame) in frames.iter().enumerate() {
            frame.save(std::path::Path::new(&folder).join(format!("{kind:?}-{i}.png"))).unwrap();
        }
    }
    let (lens, report) = calibrate_lens(&frames, &board).unwrap();
    let known = known_lens();
    assert!((lens.focal_px / known.focal_px - 1.0).abs() < 0.003, "f {}", lens.focal_px);
    assert!((lens.k1 - known.k1).abs() < 0.01, "k1 {}", lens.k1);
    assert!(lens.centre_px.distance_px(known.centre_px) < 0.4, "centre {:?}", lens.centre_px);
    assert!(report.reprojection_px < 0.2, "{} px", report.reprojection_px);
    assert!(report.corners >= fewest_corners, "{} corners", report.corners);
    // What counts in the end: where the lens puts directions, all over the picture.
    for (x, y) in [(-0.55, -0.3), (0.55, 0.3), (0.0, 0.32), (0.58, 0.0), (0.2, -0.1)] {
        let off_px =
            lens.picture_from_normal([x, y]).distance_px(known.picture_from_normal([x, y]));
        assert!(off_px < 0.5, "{off_px} px at {x}, {y}");
    }
}

#[test]
fn a_chessboard_gives_the_lens() {
    recovers(BoardKind::Chessboard, 6 * 54);
}

#[test]
fn a_charuco_board_gives_the_lens() {
    recovers(BoardKind::Charuco, 6 * 40);
}

#[test]
fn corners_are_where_the_camera_has_them_but_for_half_a_pixel() {
    for kind in [BoardKind::Chessboard, BoardKind::Charuco] {
        let board = Board::on(kind, Paper::A4);
        let page = Page::of(&board);
        let position = SpacePoint { x_mm: 150.0, y_mm: 60.0, z_mm: 330.0 };
        let pose = Pose::looking(position, [0.0, 0.12, -1.0], [0.0, 1.0, 0.0]);
        let camera = Camera { lens: known_lens(), pose };
        let seen = find(&page.seen_by(&camera), &board).unwrap();
        let [left_mm, top_mm] = board.corner_mm();
        let corner = |i: i32| {
            let (column, row) = (i % 9 + 1, i / 9 + 1);
            let x_mm = left_mm + f64::from(column) * board.square_mm;
            let y_mm = page.height_mm - top_mm - f64::from(row) * board.square_mm;
            camera.project(SpacePoint { x_mm, y_mm, z_mm: 0.0 }).unwrap()
        };
        let mut off = Vec::new();
        for theirs in &seen.in_picture {
            let found = PixelPoint::new(f64::from(theirs.x) + 0.5, f64::from(theirs.y) + 0.5);
            let nearest = (0..54)
                .map(corner)
                .min_by(|a, b| a.distance_px(found).total_cmp(&b.distance_px(found)));
            let nearest = nearest.unwrap();
            assert!(nearest.distance_px(found) < 0.4, "{kind:?}: {found:?} and {nearest:?}");
            off.push([found.x_px - nearest.x_px, found.y_px - nearest.y_px]);
        }
        assert!(off.len() > 45, "{kind:?}: {} corners", off.len());
        for axis in 0..2 {
            let mean = off.iter().map(|o| o[axis]).sum::<f64>() / off.len() as f64;
            assert!(mean.abs() < 0.05, "{kind:?}: {mean} px off along axis {axis}");
        }
    }
}

#[test]
fn frames_without_a_board_are_refused() {
    let board = Board::on(BoardKind::Charuco, Paper::A4);
    let blank = |width, height| RgbImage::from_pixel(width, height, Rgb([120, 130, 90]));
    assert!(matches!(
        calibrate_lens(&[], &board),
        Err(LensBoardError::TooFew { found: 0, given: 0 })
    ));
    for kind in [BoardKind::Chessboard, BoardKind::Charuco] {
        let frames = vec![blank(320, 240); 5];
        let refused = calibrate_lens(&frames, &Board::on(kind, Paper::A3));
        assert!(matches!(refused, Err(LensBoardError::TooFew { found: 0, given: 5 })));
    }
    assert!(calibrate_lens(&[blank(0, 0), blank(0, 0)], &board).is_err());
    let mixed = calibrate_lens(&[blank(320, 240), blank(240, 320)], &board);
    assert!(matches!(mixed, Err(LensBoardError::MixedSizes { .. })));
}
