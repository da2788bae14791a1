//! OpenCV's circle transform (HoughCircles) as the baseline runs it, here and in the benches.
//!
//! Its settings were tuned on the project's labelled frames for the most balls found at few false
//! ones, and are the same for every frame. Must not know labels or readings.

use image::RgbImage;
use opencv::core::{Mat, Vec3f, Vector};
use opencv::imgproc;
use opencv::prelude::*;
use std::time::{Duration, Instant};

/// Side of the median filter.
const MEDIAN_PX: i32 = 3;
/// Upper threshold of its edges, and votes that a circle needs.
const EDGE: f64 = 100.0;
const VOTES: f64 = 10.0;

/// A frame made ready for the circle transform.
pub struct Baseline {
    grey: Mat,
    radii_px: (f64, f64),
}

impl Baseline {
    /// Of a frame whose balls have radii between these two.
    pub fn new(frame: &RgbImage, radii_px: (f64, f64)) -> opencv::Result<Self> {
        let rows = i32::try_from(frame.height()).unwrap_or(i32::MAX);
        let flat = Mat::from_slice(frame.as_raw())?;
        let mut grey = Mat::default();
        imgproc::cvt_color_def(&flat.reshape(3, rows)?, &mut grey, imgproc::COLOR_RGB2GRAY)?;
        Ok(Self { grey, radii_px })
    }

    /// Finds circles; the time is that of the filter and the transform alone.
    pub fn find(&self) -> opencv::Result<(Vector<Vec3f>, Duration)> {
        let (least, most) = self.radii_px;
        let start = Instant::now();
        let mut smooth = Mat::default();
        imgproc::median_blur(&self.grey, &mut smooth, MEDIAN_PX)?;
        let mut circles = Vector::<Vec3f>::new();
        imgproc::hough_circles(
            &smooth,
            &mut circles,
            imgproc::HOUGH_GRADIENT,
            1.0,
            1.6 * least,
            EDGE,
            VOTES,
            least.floor() as i32,
            most.ceil() as i32,
        )?;
        Ok((circles, start.elapsed()))
    }
}
