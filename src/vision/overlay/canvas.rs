//! Anti-aliased lines and stroke writing over a frame.
//!
//! Bright lines carry a dark casing, so that they show on any cloth. Widths and letter sizes are
//! in canvas units, a 1280th of the picture's longer side, so that an overlay looks the same at
//! any resolution.

use crate::camera::PixelPoint;
use crate::layout::strokes;
use image::RgbImage;
use resvg::tiny_skia::{
    LineCap, LineJoin, Paint as Ink, Path, PathBuilder, Pixmap, Stroke, Transform,
};

/// Colour, opacity and width of a line.
#[derive(Clone, Copy)]
pub struct Paint {
    pub rgb: [u8; 3],
    pub alpha: u8,
    pub width: f64,
}

const CASING: Paint = Paint { rgb: [10, 14, 20], alpha: 190, width: 0.0 };

/// A frame that is drawn on.
pub struct Canvas {
    pixmap: Pixmap,
    unit_px: f64,
}

impl Canvas {
    /// None for a picture without pixels.
    pub fn over(frame: &RgbImage) -> Option<Self> {
        let mut pixmap = Pixmap::new(frame.width(), frame.height())?;
        for (to, from) in pixmap.data_mut().chunks_exact_mut(4).zip(frame.pixels()) {
            to[..3].copy_from_slice(&from.0);
            to[3] = u8::MAX;
        }
        let unit_px = f64::from(frame.width().max(frame.height())) / 1280.0;
        Some(Self { pixmap, unit_px: unit_px.max(0.5) })
    }

    pub fn finish(self) -> RgbImage {
        let (width, height) = (self.pixmap.width(), self.pixmap.height());
        let mut picture = RgbImage::new(width, height);
        for (to, from) in picture.pixels_mut().zip(self.pixmap.data().chunks_exact(4)) {
            to.0.copy_from_slice(&from[..3]);
        }
        picture
    }

    /// Size of a canvas unit in pixels.
    pub fn unit_px(&self) -> f64 {
        self.unit_px
    }

    /// A line through points, cased.
    pub fn line(&mut self, points: &[PixelPoint], paint: Paint) {
        let path = path([points.iter().map(|p| [p.x_px, p.y_px])]);
        self.cased(path, paint, 1.2);
    }

    /// A line without casing, for what its edge has to be compared with.
    pub fn thin_line(&mut self, points: &[PixelPoint], paint: Paint) {
        if let Some(path) = path([points.iter().map(|p| [p.x_px, p.y_px])]) {
            self.stroke(&path, paint);
        }
    }

    pub fn cross(&mut self, at: PixelPoint, arm: f64, paint: Paint) {
        let (x, y, a) = (at.x_px, at.y_px, arm * self.unit_px);
        let arms = [[[x - a, y], [x + a, y]], [[x, y - a], [x, y + a]]];
        if let Some(path) = path(arms.map(IntoIterator::into_iter)) {
            self.stroke(&path, paint);
        }
    }

    /// A cross of two slanting arms, cased.
    pub fn saltire(&mut self, at: PixelPoint, arm: f64, paint: Paint) {
        let (x, y, a) = (at.x_px, at.y_px, arm * self.unit_px);
        let arms = [[[x - a, y - a], [x + a, y + a]], [[x - a, y + a], [x + a, y - a]]];
        self.cased(path(arms.map(IntoIterator::into_iter)), paint, 1.4);
    }

    /// The head of an arrow that comes from a point to another.
    pub fn arrow_head(&mut self, from: PixelPoint, to: PixelPoint, paint: Paint) {
        let long = from.distance_px(to).max(1e-9);
        let (dx, dy) = ((to.x_px - from.x_px) / long, (to.y_px - from.y_px) / long);
        let size = 9.0 * self.unit_px;
        let back = |side: f64| {
            [to.x_px - size * (dx + side * 0.6 * dy), to.y_px - size * (dy - side * 0.6 * dx)]
        };
        let head = [back(1.0), [to.x_px, to.y_px], back(-1.0)];
        self.cased(path([head.into_iter()]), paint, 1.2);
    }

    /// Half the longer side of a text.
    pub fn label_reach_px(&self, text: &str, cap: f64) -> f64 {
        (strokes::text_width(text, cap) / 2.0 + 4.0).max(cap / 2.0 + 5.0) * self.unit_px
    }

    /// Whether a text around a point would stay in the picture.
    pub fn has_room(&self, middle: PixelPoint, text: &str, cap: f64) -> bool {
        let [left, top, most_left, most_top] = self.corner_and_most(middle, text, cap);
        (0.0..=most_left).contains(&left) && (0.0..=most_top).contains(&top)
    }

    /// A text around a point, moved into the picture where it would leave it.
    pub fn words(&mut self, text: &str, middle: PixelPoint, cap: f64, paint: Paint) {
        let [left, top, most_left, most_top] = self.corner_and_most(middle, text, cap);
        let corner = [left.min(most_left).max(0.0), top.min(most_top).max(0.0)];
        self.text(text, corner, cap * self.unit_px, paint);
    }

    /// The upper left corner of a text around a point, and the furthest it may lie.
    fn corner_and_most(&self, middle: PixelPoint, text: &str, cap: f64) -> [f64; 4] {
        let cap_px = cap * self.unit_px;
        let width_px = strokes::text_width(text, cap_px);
        let (width, height) = (f64::from(self.pixmap.width()), f64::from(self.pixmap.height()));
        [
            middle.x_px - width_px / 2.0,
            middle.y_px - cap_px / 2.0,
            width - width_px - 2.0,
            height - cap_px - 2.0,
        ]
    }

    /// Lines of text from the upper left corner downward.
    pub fn corner_words(&mut self, lines: &[String], cap: f64, paint: Paint) {
        let cap_px = cap * self.unit_px;
        let mut top = cap_px;
        for line in lines {
            self.text(line, [cap_px, top], cap_px, paint);
            top += 1.8 * cap_px;
        }
    }

    fn text(&mut self, text: &str, [left, top]: [f64; 2], cap_px: f64, paint: Paint) {
        let lines = strokes::text_lines(text, left, top, cap_px);
        let width = cap_px / self.unit_px * 0.16;
        self.cased(path(lines.into_iter().map(Vec::into_iter)), Paint { width, ..paint }, 2.6);
    }

    fn cased(&mut self, path: Option<Path>, paint: Paint, casing: f64) {
        let Some(path) = path else { return };
        let alpha = u16::from(CASING.alpha) * u16::from(paint.alpha) / 255;
        let alpha = u8::try_from(alpha).unwrap_or(u8::MAX);
        self.stroke(&path, Paint { alpha, width: paint.width + casing, ..CASING });
        self.stroke(&path, paint);
    }

    fn stroke(&mut self, path: &Path, paint: Paint) {
        let mut ink = Ink { anti_alias: true, ..Ink::default() };
        let [red, green, blue] = paint.rgb;
        ink.set_color_rgba8(red, green, blue, paint.alpha);
        let stroke = Stroke {
            width: (paint.width * self.unit_px) as f32,
            line_cap: LineCap::Round,
            line_join: LineJoin::Round,
            ..Stroke::default()
        };
        self.pixmap.stroke_path(path, &ink, &stroke, Transform::identity(), None);
    }
}

/// A path of several open lines; none where there is nothing to draw.
fn path<L: Iterator<Item = [f64; 2]>>(lines: impl IntoIterator<Item = L>) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for line in lines {
        for (i, [x, y]) in line.enumerate() {
            // The rasteriser's picture coordinates have their origin at the corner, as ours.
            let (x, y) = (x as f32, y as f32);
            if i == 0 { builder.move_to(x, y) } else { builder.line_to(x, y) }
        }
    }
    builder.finish()
}
