//! From a frame to a file.

use super::{PictureError, PictureFormat};
use image::RgbImage;
use jpeg_encoder::{ColorType, Encoder, SamplingFactor};

/// A frame as a JPEG file of a quality from 1 to 100, its colours as fine as its light.
///
/// # Errors
/// Where a frame has more rows or columns than such a file can, or none.
pub fn jpeg(frame: &RgbImage, quality: u8) -> Result<Vec<u8>, PictureError> {
    let (width_px, height_px) = frame.dimensions();
    let too_large = |_| PictureError::TooLarge {
        width_px,
        height_px,
        megabytes: (frame.as_raw().len() >> 20) as u64,
    };
    let width = u16::try_from(width_px).map_err(too_large)?;
    let height = u16::try_from(height_px).map_err(too_large)?;
    let mut file = Vec::new();
    let mut encoder = Encoder::new(&mut file, quality);
    encoder.set_sampling_factor(SamplingFactor::F_1_1);
    encoder.encode(frame.as_raw(), width, height, ColorType::Rgb).map_err(|error| {
        PictureError::Corrupt { format: PictureFormat::Jpeg.name(), why: error.to_string() }
    })?;
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::picture::decode;
    use image::Rgb;

    #[test]
    fn what_is_written_is_read_as_it_was() {
        let frame = RgbImage::from_fn(70, 41, |x, y| Rgb([3 * x as u8, 6 * y as u8, 90]));
        let read = decode(&jpeg(&frame, 95).unwrap()).unwrap();
        assert_eq!(read.dimensions(), frame.dimensions());
        for (read, was) in read.as_raw().iter().zip(frame.as_raw()) {
            assert!(read.abs_diff(*was) <= 9, "{read} for {was}");
        }
    }

    #[test]
    fn what_such_a_file_cannot_hold_is_refused() {
        let long = jpeg(&RgbImage::new(70_000, 1), 90);
        assert!(matches!(long, Err(PictureError::TooLarge { width_px: 70_000, .. })));
        assert!(matches!(jpeg(&RgbImage::new(0, 5), 90), Err(PictureError::Corrupt { .. })));
    }
}
