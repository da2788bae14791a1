//! Puts a frame beside the diagram of what was read in it, as the README shows them.
//!
//! `cargo run --release --example frame_beside_diagram -- FRAME OUT.png`

use image::{RgbImage, imageops};
use std::error::Error;
use stillcloth::layout::diagram;
use stillcloth::vision::{self, CalibrateOptions};

const WIDTH_PX: u32 = 1600;
const GAP_PX: u32 = 24;

fn main() -> Result<(), Box<dyn Error>> {
    let [frame, out] = &std::env::args().skip(1).collect::<Vec<_>>()[..] else {
        return Err("give a frame and the PNG file to write".into());
    };
    let frame = image::open(frame)?.to_rgb8();
    let calibration =
        vision::calibrate(std::slice::from_ref(&frame), &CalibrateOptions::default())?;
    let reading = vision::read(&frame, &calibration)?;
    let diagram = diagram::png(&reading.layout, 2 * WIDTH_PX)?;
    let diagram = image::load_from_memory(&diagram)?.to_rgb8();
    beside(&frame, &diagram).save(out)?;
    Ok(())
}

/// Two pictures of one height on white.
fn beside(left: &RgbImage, right: &RgbImage) -> RgbImage {
    let shape = |picture: &RgbImage| f64::from(picture.width()) / f64::from(picture.height());
    let height = f64::from(WIDTH_PX - GAP_PX) / (shape(left) + shape(right));
    let left_px = (height * shape(left)).round() as u32;
    let scaled = |picture: &RgbImage, width: u32| {
        imageops::resize(picture, width, height as u32, imageops::FilterType::Lanczos3)
    };
    let mut sheet = RgbImage::from_pixel(WIDTH_PX, height as u32, image::Rgb([255; 3]));
    imageops::replace(&mut sheet, &scaled(left, left_px), 0, 0);
    let from = left_px + GAP_PX;
    imageops::replace(&mut sheet, &scaled(right, WIDTH_PX - from), i64::from(from), 0);
    sheet
}
