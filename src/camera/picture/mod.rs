//! Pictures: from bytes that came from anywhere to an upright 8-bit RGB frame.
//!
//! Input: a whole JPEG, PNG or WebP file in memory, known by its first bytes and not by any name.
//! Output: sRGB, turned upright as its EXIF orientation says. Colour profiles are not applied;
//! transparent pixels lie on black; 16-bit samples keep their upper eight bits.
//!
//! Whatever comes from outside is doubted: size is bounded before anything is allocated, a file
//! that breaks off is refused instead of filled up with grey, and nothing here panics.
//! Knows nothing of tables, cameras in space or the network.

mod coded;
mod jpeg;
mod taken;
mod whole;

pub use coded::jpeg;
pub use taken::{Taken, taken};

use image::{DynamicImage, ImageDecoder, ImageError, Rgb, RgbImage, metadata::Orientation};
use std::io::Cursor;
use thiserror::Error;

/// The most pixels a picture may have: above the sensors of today's phones.
pub const MAX_PIXELS: u64 = 64_000_000;

/// The most memory one decoded picture may take before it is brought to 8-bit RGB.
const MAX_DECODED_BYTES: u64 = 320 << 20;

/// The picture formats that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PictureFormat {
    Jpeg,
    Png,
    WebP,
}

/// Why bytes gave no picture.
#[derive(Debug, Error)]
pub enum PictureError {
    #[error("no picture was sent: the body is empty. Send a JPEG, PNG or WebP file")]
    Empty,
    #[error("this is neither JPEG, PNG nor WebP: it begins with {begins}. Send one of these three")]
    UnknownFormat { begins: String },
    #[error("the {format} picture is cut off after {bytes} bytes: send the whole file")]
    Truncated { format: &'static str, bytes: usize },
    #[error(
        "the picture is {width_px} × {height_px} pixels and would take {megabytes} MB: scale it down to {} megapixels of 8 bits or fewer", MAX_PIXELS / 1_000_000
    )]
    TooLarge { width_px: u32, height_px: u32, megabytes: u64 },
    #[error("the {format} picture is damaged and cannot be read: {why}. Send it again")]
    Corrupt { format: &'static str, why: String },
    #[error("this kind of {format} picture is not read: {why}. Save it as a plain {format} file")]
    Unsupported { format: &'static str, why: String },
}

impl PictureFormat {
    /// Knows a format by the file's first bytes.
    pub fn sniff(bytes: &[u8]) -> Option<Self> {
        if bytes.starts_with(&[0xFF, 0xD8, 0xFF]) {
            Some(Self::Jpeg)
        } else if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
            Some(Self::Png)
        } else if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
            Some(Self::WebP)
        } else {
            None
        }
    }

    /// What the format is called.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Jpeg => "JPEG",
            Self::Png => "PNG",
            Self::WebP => "WebP",
        }
    }

    /// The media type under which the format travels.
    pub const fn media_type(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
            Self::WebP => "image/webp",
        }
    }

    /// The ending of the format's file names.
    pub const fn extension(self) -> &'static str {
        match self {
            Self::Jpeg => "jpg",
            Self::Png => "png",
            Self::WebP => "webp",
        }
    }

    /// The format of a media type, parameters aside.
    pub fn from_media_type(media_type: &str) -> Option<Self> {
        let bare = media_type.split(';').next().unwrap_or_default().trim();
        [Self::Jpeg, Self::Png, Self::WebP]
            .into_iter()
            .find(|format| bare.eq_ignore_ascii_case(format.media_type()))
    }
}

/// Knows the format of a file, or says why it is none that is read.
///
/// # Errors
/// [`PictureError::Empty`] and [`PictureError::UnknownFormat`].
pub fn format_of(bytes: &[u8]) -> Result<PictureFormat, PictureError> {
    if bytes.is_empty() {
        return Err(PictureError::Empty);
    }
    PictureFormat::sniff(bytes).ok_or_else(|| {
        let begins: Vec<String> = bytes.iter().take(8).map(|byte| format!("{byte:02x}")).collect();
        PictureError::UnknownFormat { begins: begins.join(" ") }
    })
}

/// Decodes a whole picture file into an upright frame.
///
/// # Errors
/// [`PictureError`] where the bytes are no whole, readable picture of a size that can be handled.
pub fn decode(bytes: &[u8]) -> Result<RgbImage, PictureError> {
    let format = format_of(bytes)?;
    if !whole::is_whole(format, bytes) {
        return Err(PictureError::Truncated { format: format.name(), bytes: bytes.len() });
    }
    let (picture, orientation) = match format {
        PictureFormat::Jpeg => jpeg::decode(bytes)?,
        PictureFormat::Png => {
            let decoder = image::codecs::png::PngDecoder::new(Cursor::new(bytes));
            decode_with(decoder.map_err(|error| refused(format, error))?, format)?
        }
        PictureFormat::WebP => {
            let decoder = image::codecs::webp::WebPDecoder::new(Cursor::new(bytes));
            decode_with(decoder.map_err(|error| refused(format, error))?, format)?
        }
    };
    if picture.width() == 0 || picture.height() == 0 {
        return Err(PictureError::Corrupt { format: format.name(), why: "it has no size".into() });
    }
    let mut picture = flattened(picture);
    picture.apply_orientation(orientation);
    Ok(picture.into_rgb8())
}

/// Runs one of the `image` crate's decoders within the limits.
fn decode_with(
    mut decoder: impl ImageDecoder,
    format: PictureFormat,
) -> Result<(DynamicImage, Orientation), PictureError> {
    let (width_px, height_px) = decoder.dimensions();
    check_size(width_px, height_px, u64::from(decoder.color_type().bytes_per_pixel()))?;
    let mut limits = image::Limits::no_limits();
    limits.max_alloc = Some(2 * MAX_DECODED_BYTES);
    decoder.set_limits(limits).map_err(|error| refused(format, error))?;
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let picture = DynamicImage::from_decoder(decoder).map_err(|error| refused(format, error))?;
    Ok((picture, orientation))
}

/// Refuses a picture that would be too large, before anything of its size is allocated.
fn check_size(width_px: u32, height_px: u32, bytes_per_pixel: u64) -> Result<(), PictureError> {
    let pixels = u64::from(width_px) * u64::from(height_px);
    let bytes = pixels.saturating_mul(bytes_per_pixel);
    if pixels > MAX_PIXELS || bytes > MAX_DECODED_BYTES {
        return Err(PictureError::TooLarge { width_px, height_px, megabytes: bytes >> 20 });
    }
    Ok(())
}

/// Lays a picture with transparent pixels on black.
fn flattened(picture: DynamicImage) -> DynamicImage {
    if !picture.color().has_alpha() {
        return picture;
    }
    let picture = picture.into_rgba8();
    let mut flat = RgbImage::new(picture.width(), picture.height());
    for (to, from) in flat.pixels_mut().zip(picture.pixels()) {
        let [red, green, blue, alpha] = from.0;
        let over_black = |part: u8| ((u16::from(part) * u16::from(alpha) + 127) / 255) as u8;
        *to = Rgb([over_black(red), over_black(green), over_black(blue)]);
    }
    flat.into()
}

/// What a decoder's refusal means for the sender.
fn refused(format: PictureFormat, error: ImageError) -> PictureError {
    let format = format.name();
    match error {
        ImageError::Unsupported(why) => PictureError::Unsupported { format, why: why.to_string() },
        other => PictureError::Corrupt { format, why: other.to_string() },
    }
}
