//! When a photograph was taken, as the camera wrote it down (EXIF 2.32).

use jiff::{Timestamp, civil::DateTime, tz::Offset};
use std::io::Cursor;

/// A photograph's time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Taken {
    pub at: Timestamp,
    /// The camera wrote down how far its clock is from UTC; where not, its clock was taken for UTC.
    pub offset_known: bool,
}

/// When the picture in these bytes was taken; none where nothing in it tells.
pub fn taken(bytes: &[u8]) -> Option<Taken> {
    let exif = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)).ok()?;
    let text = |tag| match &exif.get_field(tag, exif::In::PRIMARY)?.value {
        exif::Value::Ascii(texts) => texts.first().cloned(),
        _ => None,
    };
    let mut written = exif::DateTime::from_ascii(&text(exif::Tag::DateTimeOriginal)?).ok()?;
    // What cannot be read of these is as good as not there.
    let _ = text(exif::Tag::SubSecTimeOriginal).map(|text| written.parse_subsec(&text));
    let _ = text(exif::Tag::OffsetTimeOriginal).map(|text| written.parse_offset(&text));
    let clock = DateTime::new(
        i16::try_from(written.year).ok()?,
        i8::try_from(written.month).ok()?,
        i8::try_from(written.day).ok()?,
        i8::try_from(written.hour).ok()?,
        i8::try_from(written.minute).ok()?,
        i8::try_from(written.second).ok()?,
        i32::try_from(written.nanosecond.unwrap_or(0)).ok()?,
    );
    let offset = match written.offset {
        Some(minutes) => Offset::from_seconds(60 * i32::from(minutes)).ok()?,
        None => Offset::UTC,
    };
    let at = offset.to_timestamp(clock.ok()?).ok()?;
    Some(Taken { at, offset_known: written.offset.is_some() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A JPEG's head with these EXIF texts in it: original time, and its offset.
    fn jpeg(time: &str, offset: Option<&str>) -> Vec<u8> {
        let field = |tag, text: &str| exif::Field {
            tag,
            ifd_num: exif::In::PRIMARY,
            value: exif::Value::Ascii(vec![text.as_bytes().to_vec()]),
        };
        let fields: Vec<exif::Field> = std::iter::once(field(exif::Tag::DateTimeOriginal, time))
            .chain(offset.map(|offset| field(exif::Tag::OffsetTimeOriginal, offset)))
            .collect();
        let mut writer = exif::experimental::Writer::new();
        fields.iter().for_each(|field| writer.push_field(field));
        let mut block = Cursor::new(Vec::new());
        writer.write(&mut block, false).unwrap();
        let block = block.into_inner();
        let mut bytes = vec![0xff, 0xd8, 0xff, 0xe1];
        bytes.extend(u16::try_from(block.len() + 8).unwrap().to_be_bytes());
        bytes.extend(b"Exif\0\0");
        bytes.extend(block);
        bytes.extend([0xff, 0xd9]);
        bytes
    }

    #[test]
    fn the_time_is_that_of_the_cameras_clock_and_its_offset() {
        let at = |time, offset| {
            taken(&jpeg(time, offset)).map(|it| (it.at.to_string(), it.offset_known))
        };
        let told = |at: &str, known| Some((at.to_string(), known));
        assert_eq!(at("2026:03:05 19:30:12", None), told("2026-03-05T19:30:12Z", false));
        assert_eq!(at("2026:03:05 19:30:12", Some("+01:00")), told("2026-03-05T18:30:12Z", true));
        assert_eq!(at("2026:02:30 19:30:12", None), None);
        assert_eq!(at("    :  :     :  :  ", None), None);
    }

    #[test]
    fn a_picture_that_tells_no_time_has_none() {
        assert_eq!(taken(b""), None);
        assert_eq!(taken(b"\xff\xd8\xff\xd9"), None);
        assert_eq!(taken(&jpeg("2026:03:05 19:30:12", None)[..40]), None);
    }
}
