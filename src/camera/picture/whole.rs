//! Whether a picture file is all there.
//!
//! Decoders fill what is missing with grey and call it a picture; a table that ends in grey must
//! not be read as one. So the outer structure of the file is walked first, up to the mark that
//! ends it: JPEG's segments and scans to EOI (ITU-T T.81, annex B), PNG's chunks to IEND (ISO/IEC
//! 15948, section 5), WebP's RIFF length (RFC 9649). Contents are the decoders' business. What
//! stands behind the end (a phone's second picture or film) does not matter.

use super::PictureFormat;

/// Walks the file's structure and says whether its end is there.
pub(super) fn is_whole(format: PictureFormat, bytes: &[u8]) -> bool {
    match format {
        PictureFormat::Jpeg => jpeg_is_whole(bytes).is_some(),
        PictureFormat::Png => png_is_whole(bytes).is_some(),
        PictureFormat::WebP => webp_is_whole(bytes),
    }
}

/// JPEG: segments with a length each; after a start of scan, entropy-coded bytes up to a marker
/// that is neither a stuffed zero nor a restart.
fn jpeg_is_whole(bytes: &[u8]) -> Option<()> {
    const SOI: u8 = 0xD8;
    const EOI: u8 = 0xD9;
    const SOS: u8 = 0xDA;
    let mut at = 0;
    loop {
        // Fill bytes before a marker are allowed; a few encoders leave padding between segments.
        at += bytes.get(at..)?.iter().position(|&byte| byte == 0xFF)?;
        at += bytes.get(at..)?.iter().position(|&byte| byte != 0xFF)?;
        let marker = *bytes.get(at)?;
        at += 1;
        match marker {
            EOI => return Some(()),
            0x00 | 0x01 | SOI | 0xD0..=0xD7 => {}
            _ => {
                let length = bytes.get(at..at + 2)?;
                at += usize::from(u16::from_be_bytes(length.try_into().ok()?)).max(2);
                if marker == SOS {
                    at = scan_end(bytes, at)?;
                }
            }
        }
    }
}

/// Where the entropy-coded bytes that begin at `from` end: at the next real marker.
fn scan_end(bytes: &[u8], from: usize) -> Option<usize> {
    let body = bytes.get(from..)?;
    let ends = |pair: &[u8]| matches!(pair, [0xFF, marker] if !matches!(marker, 0x00 | 0xFF | 0xD0..=0xD7));
    Some(from + body.windows(2).position(ends)?)
}

/// PNG: chunks of length, name, body and check sum, up to IEND.
fn png_is_whole(bytes: &[u8]) -> Option<()> {
    let mut at = 8_usize;
    loop {
        let head = bytes.get(at..at + 8)?;
        let length = u32::from_be_bytes(head.get(..4)?.try_into().ok()?);
        at = at.checked_add(12)?.checked_add(usize::try_from(length).ok()?)?;
        if at > bytes.len() {
            return None;
        }
        if head.get(4..) == Some(b"IEND") {
            return Some(());
        }
    }
}

/// WebP: one RIFF chunk whose length stands after its name.
fn webp_is_whole(bytes: &[u8]) -> bool {
    let Some(length) = bytes.get(4..8).and_then(|four| four.try_into().ok()) else { return false };
    bytes.len() as u64 >= u64::from(u32::from_le_bytes(length)) + 8
}
