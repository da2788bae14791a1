//! `stillcloth board` and `stillcloth lens`, as a user goes from one to the other: the page that the first
//! wrote, photographed from several sides, gives the second the lens that took the pictures.

use crate::staging::Folder;
use image::{GrayImage, Luma, buffer::ConvertBuffer};
use imageproc::geometric_transformations::{Border, Interpolation, Projection, warp_into};
use resvg::{tiny_skia, usvg};
use std::{
    path::PathBuf,
    process::{Command, Output},
};
use stillcloth::{
    camera::{Camera, Lens, PixelPoint, Pose},
    table::SpacePoint,
};

/// The camera that takes the pictures: one without distortion, so that a plane stays straight in them.
const LENS: Lens = Lens {
    width_px: 960,
    height_px: 540,
    focal_px: 760.0,
    centre_px: PixelPoint { x_px: 480.0, y_px: 270.0 },
    k1: 0.0,
    k2: 0.0,
};
const PX_PER_MM: f32 = 4.0;

fn stillcloth(folder: &Folder, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.current_dir(&folder.0).args(arguments).output().unwrap()
}

/// The page as printed, and its size in millimetres.
fn printed(svg: &str) -> (GrayImage, [f64; 2]) {
    let options = usvg::Options { dpi: 25.4, ..usvg::Options::default() };
    let tree = usvg::Tree::from_str(svg, &options).unwrap();
    let size = tree.size();
    let (width, height) = (size.width() * PX_PER_MM, size.height() * PX_PER_MM);
    let mut pixmap = tiny_skia::Pixmap::new(width as u32, height as u32).unwrap();
    let scale = tiny_skia::Transform::from_scale(PX_PER_MM, PX_PER_MM);
    resvg::render(&tree, scale, &mut pixmap.as_mut());
    // A print is neither black nor white.
    let grey = pixmap.data().chunks_exact(4).map(|p| 30 + (f32::from(p[0]) * 0.8) as u8).collect();
    let page = GrayImage::from_raw(width as u32, height as u32, grey).unwrap();
    (page, [f64::from(size.width()), f64::from(size.height())])
}

/// The page on the plane z = 0, from a place beside its middle and above it in parts of its width, with the
/// picture turned.
fn seen(
    page: &GrayImage,
    [width_mm, height_mm]: [f64; 2],
    (x, y, up, turn): (f64, f64, f64, f64),
) -> GrayImage {
    let position = SpacePoint {
        x_mm: width_mm / 2.0 + x * width_mm,
        y_mm: height_mm / 2.0 + y * width_mm,
        z_mm: up * width_mm,
    };
    let pose = Pose::looking(position, [-1.05 * x, -0.8 * y, -up], [turn.sin(), turn.cos(), 0.0]);
    let camera = Camera { lens: LENS, pose };
    let corners: [(f64, f64); 4] = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
    let (width, height) = (f64::from(page.width()), f64::from(page.height()));
    let on_page = corners.map(|(x, y)| ((x * width) as f32, ((1.0 - y) * height) as f32));
    let in_picture = corners.map(|(x, y)| {
        let at = SpacePoint { x_mm: x * width_mm, y_mm: y * height_mm, z_mm: 0.0 };
        let PixelPoint { x_px, y_px } = camera.project(at).unwrap();
        (x_px as f32, y_px as f32)
    });
    let projection = Projection::from_control_points(on_page, in_picture).unwrap();
    let mut picture = GrayImage::new(LENS.width_px, LENS.height_px);
    let wall = Border::Constant(Luma([105]));
    warp_into(page, projection, Interpolation::Bilinear, wall, &mut picture);
    picture
}

const VIEWS: [(f64, f64, f64, f64); 6] = [
    (-0.45, -0.05, 0.85, 0.05),
    (0.40, 0.10, 0.85, -0.04),
    (0.05, -0.50, 0.80, 0.10),
    (-0.05, 0.45, 0.85, 3.20),
    (-0.40, 0.35, 0.90, 0.60),
    (0.35, -0.35, 0.85, -0.50),
];

#[test]
fn a_printed_board_gives_the_lens_of_the_camera_that_took_its_pictures() {
    let folder = Folder::new("printed-board");
    let drawn = stillcloth(&folder, &["board", "--out", "board.svg"]);
    assert!(drawn.status.success());
    let (page, size_mm) = printed(&std::fs::read_to_string(folder.0.join("board.svg")).unwrap());
    let mut pictures: Vec<String> = Vec::new();
    for (number, view) in VIEWS.into_iter().enumerate() {
        let name = format!("view-{number}.png");
        let picture: image::RgbImage = seen(&page, size_mm, view).convert();
        picture.save(folder.0.join(&name)).unwrap();
        pictures.push(name);
    }
    let wall = image::RgbImage::from_pixel(LENS.width_px, LENS.height_px, image::Rgb([105; 3]));
    wall.save(folder.0.join("wall.png")).unwrap();
    let mut arguments = vec!["lens", "--out", "lens.json", "wall.png"];
    arguments.extend(pictures.iter().map(String::as_str));
    let output = stillcloth(&folder, &arguments);
    let (said, complaint) = (String::from_utf8(output.stdout).unwrap(), output.stderr);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&complaint));
    assert!(said.contains("in 6 of 7 frames") && said.contains("left out    wall.png: "), "{said}");
    let lens: Lens =
        serde_json::from_slice(&std::fs::read(folder.0.join("lens.json")).unwrap()).unwrap();
    assert!((lens.focal_px / LENS.focal_px - 1.0).abs() < 0.005, "{lens:?}");
    assert!(lens.centre_px.distance_px(LENS.centre_px) < 1.5, "{lens:?}");
    // What it wrote is what `calibrate --lens` takes: it is of this camera, and no other.
    let frame = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("testdata/frames/club-071000.jpg");
    let output = stillcloth(
        &folder,
        &["calibrate", frame.to_str().unwrap(), "--lens", "lens.json", "--out", "place.json"],
    );
    let complaint = String::from_utf8(output.stderr).unwrap();
    assert!(!output.status.success() && complaint.contains("960 × 540"), "{complaint}");
}

#[test]
fn pictures_without_a_board_give_no_lens_and_say_why() {
    let folder = Folder::new("no-board");
    let wall = image::RgbImage::from_pixel(320, 180, image::Rgb([105; 3]));
    wall.save(folder.0.join("wall.png")).unwrap();
    for (frames, why) in [(["wall.png"; 4], "board"), (["missing.png"; 4], "missing.png")] {
        let output = stillcloth(&folder, &[&["lens", "--out", "lens.json"], &frames[..]].concat());
        let complaint = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{complaint}");
        assert!(complaint.starts_with("stillcloth: ") && complaint.contains(why), "{complaint}");
        assert!(!folder.0.join("lens.json").exists());
    }
}
