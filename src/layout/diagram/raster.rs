//! The diagram as PNG, rasterised from the SVG.

use crate::layout::Layout;
use resvg::{tiny_skia, usvg};
use thiserror::Error;

/// Widest picture that is made.
pub const MOST_WIDTH_PX: u32 = 8192;

/// Why no PNG came out of a layout.
#[derive(Debug, Error)]
pub enum DiagramError {
    #[error("a diagram {width_px} pixels wide cannot be drawn: ask for 1 to {MOST_WIDTH_PX}")]
    Width { width_px: u32 },
    #[error("the diagram could not be rasterised: {why}. This is a fault of the program")]
    Raster { why: String },
}

/// The diagram as a PNG of the given width; the height follows from the table.
///
/// # Errors
/// [`DiagramError::Width`] for a width of nothing or more than [`MOST_WIDTH_PX`].
pub fn png(layout: &Layout, width_px: u32) -> Result<Vec<u8>, DiagramError> {
    png_of(&super::svg(layout), width_px)
}

/// A diagram that is drawn already as a PNG of the given width.
///
/// # Errors
/// As [`png`].
pub fn png_of(svg: &str, width_px: u32) -> Result<Vec<u8>, DiagramError> {
    if width_px == 0 || width_px > MOST_WIDTH_PX {
        return Err(DiagramError::Width { width_px });
    }
    let raster = |why: String| DiagramError::Raster { why };
    let tree = usvg::Tree::from_str(svg, &usvg::Options::default())
        .map_err(|error| raster(error.to_string()))?;
    let scale = width_px as f32 / tree.size().width();
    let height_px = (tree.size().height() * scale).round().max(1.0) as u32;
    let mut picture = tiny_skia::Pixmap::new(width_px, height_px)
        .ok_or_else(|| raster(format!("no room for {width_px} × {height_px} pixels")))?;
    let transform = tiny_skia::Transform::from_scale(scale, scale);
    resvg::render(&tree, transform, &mut picture.as_mut());
    picture.encode_png().map_err(|error| raster(error.to_string()))
}
