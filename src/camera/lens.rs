//! The lens: normalised camera coordinates to pixels and back.
//!
//! Pinhole with square pixels and two radial terms (D. C. Brown, "Close-range camera
//! calibration", 1971): with x, y the normalised coordinates (X/Z, Y/Z in the camera frame) and
//! s = 1 + k1·r² + k2·r⁴, r² = x² + y², the picture point is (f·s·x + cx, f·s·y + cy). Not
//! modelled: tangential terms, skew, rolling shutter.

use serde::{Deserialize, Serialize};

/// A place in a picture, in continuous pixels: the first pixel's centre is (0.5, 0.5).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PixelPoint {
    pub x_px: f64,
    pub y_px: f64,
}

impl PixelPoint {
    pub const fn new(x_px: f64, y_px: f64) -> Self {
        Self { x_px, y_px }
    }

    /// Distance to another point, in pixels.
    pub fn distance_px(self, other: Self) -> f64 {
        (self.x_px - other.x_px).hypot(self.y_px - other.y_px)
    }
}

/// What turns directions into pixels: size, focal length, middle and radial distortion.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Lens {
    pub width_px: u32,
    pub height_px: u32,
    pub focal_px: f64,
    pub centre_px: PixelPoint,
    pub k1: f64,
    pub k2: f64,
}

impl Lens {
    /// A lens without distortion, its middle in the picture's.
    pub fn pinhole(width_px: u32, height_px: u32, focal_px: f64) -> Self {
        let centre_px = PixelPoint::new(f64::from(width_px) / 2.0, f64::from(height_px) / 2.0);
        Self { width_px, height_px, focal_px, centre_px, k1: 0.0, k2: 0.0 }
    }

    /// Normalised coordinates to a picture point.
    pub fn picture_from_normal(&self, normal: [f64; 2]) -> PixelPoint {
        let [x, y] = normal;
        let r2 = x * x + y * y;
        let s = self.focal_px * (1.0 + r2 * (self.k1 + r2 * self.k2));
        PixelPoint::new(x.mul_add(s, self.centre_px.x_px), y.mul_add(s, self.centre_px.y_px))
    }

    /// A picture point to normalised coordinates; none where the distortion has no inverse
    /// (past the fold of a strong barrel lens).
    pub fn normal_from_picture(&self, point: PixelPoint) -> Option<[f64; 2]> {
        let dx = (point.x_px - self.centre_px.x_px) / self.focal_px;
        let dy = (point.y_px - self.centre_px.y_px) / self.focal_px;
        let distorted = dx.hypot(dy);
        if self.k1 == 0.0 && self.k2 == 0.0 || distorted == 0.0 {
            return Some([dx, dy]);
        }
        // Newton on r·(1 + k1 r² + k2 r⁴) = distorted; it rises up to the fold.
        let mut r = distorted;
        for _ in 0..20 {
            let r2 = r * r;
            let value = r * (1.0 + r2 * (self.k1 + r2 * self.k2)) - distorted;
            let slope = 1.0 + r2 * (3.0 * self.k1 + 5.0 * r2 * self.k2);
            if slope < 0.05 {
                return None;
            }
            let step = value / slope;
            r -= step;
            if step.abs() < 1e-13 {
                let scale = r / distorted;
                return Some([dx * scale, dy * scale]);
            }
        }
        None
    }
}
