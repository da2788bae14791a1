//! JPEG, decoded strictly.
//!
//! The `image` crate asks its JPEG decoder to make the best of damaged files; here a damaged file
//! is an error, so the decoder is called directly, in its strict mode. Grey comes as grey, and
//! CMYK and YCCK are turned to RGB by the decoder (Adobe's inverted samples included).

use super::{PictureError, PictureFormat, check_size};
use image::{DynamicImage, GrayImage, RgbImage, metadata::Orientation};
use zune_core::{bytestream::ZCursor, colorspace::ColorSpace, options::DecoderOptions};
use zune_jpeg::{JpegDecoder, errors::DecodeErrors};

/// Progressive files may repeat their scans; honest encoders stay near ten.
const MAX_SCANS: usize = 64;

/// Decodes a JPEG file; tells how to turn it upright.
pub(super) fn decode(bytes: &[u8]) -> Result<(DynamicImage, Orientation), PictureError> {
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_max_scans(MAX_SCANS);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().map_err(refused)?;
    let (width_px, height_px) =
        decoder.info().map_or((0, 0), |info| (u32::from(info.width), u32::from(info.height)));
    check_size(width_px, height_px, 3)?;
    let orientation = decoder
        .exif()
        .and_then(|exif| Orientation::from_exif_chunk(exif))
        .unwrap_or(Orientation::NoTransforms);
    let grey = matches!(decoder.input_colorspace(), Some(ColorSpace::Luma));
    let out = if grey { ColorSpace::Luma } else { ColorSpace::RGB };
    decoder.set_options(decoder.options().jpeg_set_out_colorspace(out));
    let samples = decoder.decode().map_err(refused)?;
    let picture = if grey {
        GrayImage::from_raw(width_px, height_px, samples).map(DynamicImage::from)
    } else {
        RgbImage::from_raw(width_px, height_px, samples).map(DynamicImage::from)
    };
    let picture = picture.ok_or_else(|| corrupt("its size and its content disagree".into()))?;
    Ok((picture, orientation))
}

fn corrupt(why: String) -> PictureError {
    PictureError::Corrupt { format: PictureFormat::Jpeg.name(), why }
}

fn refused(error: DecodeErrors) -> PictureError {
    match error {
        DecodeErrors::Unsupported(kind) => PictureError::Unsupported {
            format: PictureFormat::Jpeg.name(),
            why: format!("{kind:?}"),
        },
        other => corrupt(format!("{other:?}").replace('\n', " ").trim().to_string()),
    }
}
