//! Reading a frame's pixels at continuous places.
//!
//! Places follow the project's convention: the first pixel's centre is (0.5, 0.5).

use crate::camera::PixelPoint;
use image::RgbImage;

/// The frame's colour at a place, bilinear between pixel centres; none outside the frame.
#[inline]
pub(super) fn colour_at(frame: &RgbImage, at: PixelPoint) -> Option<[f32; 3]> {
    let (x, y) = ((at.x_px - 0.5) as f32, (at.y_px - 0.5) as f32);
    let (w, h) = (frame.width() as usize, frame.height() as usize);
    if !(x >= 0.0 && y >= 0.0 && x < w as f32 - 1.0 && y < h as f32 - 1.0) {
        return None;
    }
    let (left, top) = (x as usize, y as usize);
    let (fx, fy) = (x - left as f32, y - top as f32);
    let raw = frame.as_raw();
    let upper = raw.get((top * w + left) * 3..(top * w + left) * 3 + 6)?;
    let lower = raw.get(((top + 1) * w + left) * 3..((top + 1) * w + left) * 3 + 6)?;
    let mut colour = [0.0; 3];
    for (channel, value) in colour.iter_mut().enumerate() {
        let a = f32::from(upper[channel]);
        let b = f32::from(upper[channel + 3]);
        let c = f32::from(lower[channel]);
        let d = f32::from(lower[channel + 3]);
        let above = a + fx * (b - a);
        let below = c + fx * (d - c);
        *value = above + fy * (below - above);
    }
    Some(colour)
}

/// The mean colour over a small grid of points, those outside the frame left out.
pub(super) fn mean_colour(
    frame: &RgbImage,
    points: impl Iterator<Item = PixelPoint>,
) -> Option<[f32; 3]> {
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for colour in points.filter_map(|point| colour_at(frame, point)) {
        for (total, value) in sum.iter_mut().zip(colour) {
            *total += value;
        }
        count += 1.0;
    }
    (count > 0.0).then(|| sum.map(|total| total / count))
}

/// Mean of the three channels.
pub(super) fn brightness(colour: [f32; 3]) -> f32 {
    (colour[0] + colour[1] + colour[2]) / 3.0
}
