//! Picture files in and out, and what a user can say about the table they show.

use image::{ImageFormat, RgbImage};
use std::error::Error;
use std::path::Path;
use stillcloth::camera::picture;
use stillcloth::layout::diagram;
use stillcloth::table::TableSize;
use stillcloth::vision::{CalibrateOptions, FootChoice};

/// What is known of the table beforehand.
#[derive(clap::Args)]
pub struct TableArguments {
    /// The table's size: 9ft, 8ft, 7ft, or length x width between the noses in mm. Taken from the
    /// balls' apparent size where it is not given
    #[arg(long, value_name = "SIZE")]
    table: Option<TableSize>,
    /// Which end of the table in the picture is the foot
    #[arg(long, value_enum, default_value_t = Foot::FromFrame)]
    foot: Foot,
}

#[derive(Clone, Copy, clap::ValueEnum)]
enum Foot {
    Left,
    Right,
    Top,
    Bottom,
    /// Taken from the rack or the foot spot where one is seen
    FromFrame,
}

impl TableArguments {
    pub fn options(&self) -> CalibrateOptions {
        let foot = match self.foot {
            Foot::Left => FootChoice::Left,
            Foot::Right => FootChoice::Right,
            Foot::Top => FootChoice::Top,
            Foot::Bottom => FootChoice::Bottom,
            Foot::FromFrame => FootChoice::FromFrame,
        };
        CalibrateOptions { table: self.table, foot, ..CalibrateOptions::default() }
    }
}

/// Reads a picture file.
pub fn open(path: &Path) -> Result<RgbImage, String> {
    let bytes = std::fs::read(path).map_err(|error| format!("cannot be opened: {error}"))?;
    picture::decode(&bytes).map_err(|error| error.to_string())
}

/// Writes a PNG file.
pub fn save(picture: &RgbImage, path: &Path) -> Result<(), String> {
    picture
        .save_with_format(path, ImageFormat::Png)
        .map_err(|error| format!("cannot write {}: {error}", path.display()))
}

/// Whether a file's name ends so, in whatever case.
pub fn ends_in(path: &Path, ending: &str) -> bool {
    path.extension().is_some_and(|known| known.eq_ignore_ascii_case(ending))
}

/// Width of a diagram as PNG: readable on a phone and in print.
const DIAGRAM_WIDTH_PX: u32 = 1600;

/// Holds the name of a diagram's file to what can be written, before any work.
pub fn check_drawing(path: &Path) -> Result<(), String> {
    if ends_in(path, "svg") || ends_in(path, "png") {
        return Ok(());
    }
    Err(format!("a diagram is .svg or .png, {} is neither", path.display()))
}

/// Writes a diagram as its file's name says.
pub fn write_drawing(path: &Path, svg: &str) -> Result<(), Box<dyn Error>> {
    let drawn = if ends_in(path, "svg") {
        svg.as_bytes().to_vec()
    } else {
        diagram::png_of(svg, DIAGRAM_WIDTH_PX)?
    };
    std::fs::write(path, drawn)
        .map_err(|error| format!("cannot write {}: {error}", path.display()).into())
}
