//! Pictures in every dress are read rightly or refused with a clear word, and never panic.

use image::{ImageEncoder, Rgb, RgbImage, codecs::png::PngEncoder};
use proptest::prelude::*;
use std::path::Path;
use stillcloth::camera::picture::{PictureError, decode};

const COLOURED: [[u8; 3]; 4] = [[200, 30, 30], [30, 160, 40], [30, 50, 190], [230, 210, 30]];
const GREY: [[u8; 3]; 4] = [[40; 3], [110; 3], [180; 3], [240; 3]];

fn file(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/pictures").join(name);
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Holds that a file shows the scene upright, each field within `within` grey levels.
fn shows(name: &str, fields: [[u8; 3]; 4], within: u8) {
    let picture = decode(&file(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
    assert_eq!(picture.dimensions(), (64, 48), "{name}");
    for (place, wanted) in [(16, 12), (48, 12), (16, 36), (48, 36)].into_iter().zip(fields) {
        let got = picture.get_pixel(place.0, place.1).0;
        let far = got.iter().zip(wanted).map(|(a, b)| a.abs_diff(b)).max().unwrap_or(0);
        assert!(far <= within, "{name} at {place:?}: {got:?} instead of {wanted:?}");
    }
}

#[test]
fn every_kind_of_picture_is_read_rightly() {
    for name in ["rgb.jpg", "progressive.jpg", "restarts.jpg", "subsampled.jpg", "lossy.webp"] {
        shows(name, COLOURED, 8);
    }
    for name in ["rgb.png", "palette.png", "interlaced.png", "rgb-16bit.png", "lossless.webp"] {
        shows(name, COLOURED, 0);
    }
    shows("cmyk.jpg", COLOURED, 8);
    shows("ycck.jpg", COLOURED, 8);
    shows("grey.jpg", GREY, 3);
    shows("grey.png", GREY, 0);
    shows("grey-16bit.png", GREY, 0);
}

#[test]
fn all_eight_orientations_come_out_upright() {
    for tag in 1..=8 {
        shows(&format!("turned-{tag}.jpg"), COLOURED, 8);
    }
    shows("turned-6.png", COLOURED, 0);
    shows("turned-6.webp", COLOURED, 0);
}

#[test]
fn what_is_transparent_lies_on_black() {
    for (name, fields) in
        [("rgba.png", COLOURED), ("alpha.webp", COLOURED), ("grey-alpha.png", GREY)]
    {
        shows(name, fields, 0);
        let picture = decode(&file(name)).expect("it was read just now");
        assert_eq!(picture.get_pixel(3, 3), &Rgb([0, 0, 0]), "{name}");
    }
}

#[test]
fn four_k_and_portrait_frames_are_read() {
    for (width, height) in [(3840, 2160), (2160, 3840)] {
        let drawn = RgbImage::from_fn(width, height, |x, y| {
            Rgb([(x % 251) as u8, (y % 241) as u8, ((x / 16 + y / 16) % 256) as u8])
        });
        let mut bytes = Vec::new();
        PngEncoder::new(&mut bytes)
            .write_image(&drawn, width, height, image::ExtendedColorType::Rgb8)
            .expect("a picture of the test's own encodes");
        assert!(decode(&bytes).expect("a large frame is read") == drawn);
    }
}

#[test]
fn a_picture_cut_off_anywhere_is_refused_as_cut_off() {
    for name in ["rgb.jpg", "progressive.jpg", "restarts.jpg", "cmyk.jpg", "rgb.png", "lossy.webp"]
    {
        let whole = file(name);
        for kept in 12..whole.len() {
            match decode(&whole[..kept]) {
                Err(PictureError::Truncated { bytes, .. }) => assert_eq!(bytes, kept),
                other => panic!("{name} after {kept} bytes: {:?}", other.map(|p| p.dimensions())),
            }
        }
    }
}

#[test]
fn what_stands_behind_the_end_does_not_matter() {
    for name in ["rgb.jpg", "rgb.png"] {
        let mut bytes = file(name);
        bytes.extend_from_slice(&file("grey.jpg"));
        assert!(decode(&bytes).is_ok(), "{name}");
    }
}

#[test]
fn bombs_are_refused_by_their_size_alone() {
    // Sizes patched into the headers: decoding would take gigabytes.
    let mut png = file("rgb.png");
    png[16..24].copy_from_slice(&[0, 0, 0xF0, 0, 0, 0, 0xF0, 0]);
    let sum = crc32(&png[12..29]);
    png[29..33].copy_from_slice(&sum.to_be_bytes());

    let mut jpeg = file("rgb.jpg");
    let frame_header = jpeg.windows(2).position(|two| two == [0xFF, 0xC0]).expect("a frame header");
    jpeg[frame_header + 5..frame_header + 9].copy_from_slice(&[0xFF, 0xDC, 0xFF, 0xDC]);

    let mut webp = file("lossless.webp");
    let header = webp.windows(4).position(|four| four == b"VP8L").expect("a lossless chunk");
    webp[header + 9..header + 13].copy_from_slice(&[0xFE, 0xBF, 0xFF, 0x0F]);

    for (name, bytes) in [("png", png), ("jpeg", jpeg), ("webp", webp)] {
        match decode(&bytes) {
            Err(PictureError::TooLarge { .. }) => {}
            other => panic!("{name}: {:?}", other.map(|picture| picture.dimensions())),
        }
    }
}

#[test]
fn what_is_no_picture_says_so() {
    assert!(matches!(decode(b""), Err(PictureError::Empty)));
    for bytes in [&b"GIF89a\x01\x00"[..], b"{}", b"<svg xmlns='http://www.w3.org/2000/svg'/>"] {
        assert!(matches!(decode(bytes), Err(PictureError::UnknownFormat { .. })));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    /// Whatever happens to a file on its way, decoding ends in a picture or an error.
    #[test]
    fn damaged_files_never_panic(
        which in 0..8_usize,
        hits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let name = [
            "rgb.jpg", "progressive.jpg", "ycck.jpg", "turned-5.jpg", "rgba.png", "interlaced.png",
            "lossy.webp", "alpha.webp",
        ][which];
        let mut bytes = file(name);
        for (at, value) in hits {
            let at = at.index(bytes.len());
            bytes[at] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        let _ = decode(&bytes);
    }
}

/// The check sum of PNG chunks (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |mut sum, byte| {
        sum ^= u32::from(*byte);
        for _ in 0..8 {
            sum = if sum & 1 == 1 { 0xEDB8_8320 ^ (sum >> 1) } else { sum >> 1 };
        }
        sum
    })
}
