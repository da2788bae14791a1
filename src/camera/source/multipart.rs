//! Pictures out of a multipart stream, as HTTP cameras send them (MJPEG).
//!
//! Input: the answer's `Content-Type`, then its bytes in pieces of any size. Output: the parts that
//! are pictures, byte for byte; nothing is decoded. Method: the multipart syntax of RFC 2046,
//! read as leniently as cameras write it: the boundary with or without its dashes or quotes, lines
//! that end in CR LF or LF alone, parts with a `Content-Length` or without, no head at all. What
//! stands between two parts is passed over. All that is kept is bounded: a head by
//! [`MAX_HEAD_BYTES`], a part by the limit given. It degenerates where a length is wrong: that part
//! and perhaps the next are no whole pictures, and reading goes on at the boundary after.

use memchr::memmem;
use thiserror::Error;

/// The most that a part's head may take.
const MAX_HEAD_BYTES: usize = 8 << 10;

/// A part of the stream.
#[derive(Debug, PartialEq)]
pub enum Part {
    /// A picture file, in all likelihood; whether it can be decoded is another's business.
    Picture(Vec<u8>),
    /// A part that could not be taken, and why.
    Lost(&'static str),
}

/// Why no parts can come out of an answer.
#[derive(Debug, Error, PartialEq)]
pub enum MultipartError {
    #[error(
        "it sends {found}, not multipart/x-mixed-replace. Give the address of the camera's MJPEG stream"
    )]
    NoMultipart { found: String },
    #[error("it names no boundary between the pictures")]
    NoBoundary,
}

/// Where in the stream the reader stands.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Place {
    /// Before a boundary.
    Between,
    /// Behind a boundary's line, in the part's head.
    Head,
    /// In a part that told its length.
    Sized { bytes: usize, picture: bool },
    /// In a part that ends where the next boundary begins; so much of it was searched.
    Open { searched: usize, picture: bool },
}

/// Takes a stream of parts apart.
#[derive(Debug)]
pub struct Parts {
    /// What a boundary's line begins with: two dashes and the boundary.
    boundary: Vec<u8>,
    most_bytes: usize,
    buffer: Vec<u8>,
    place: Place,
}

impl Parts {
    /// A reader for an answer of this `Content-Type`, for parts up to so many bytes.
    ///
    /// # Errors
    /// Where the type is no multipart, or tells no boundary.
    pub fn of_type(content_type: &str, most_bytes: usize) -> Result<Self, MultipartError> {
        let mut words = content_type.split(';').map(str::trim);
        let media_type = words.next().unwrap_or_default();
        if !media_type.to_ascii_lowercase().starts_with("multipart/") {
            let found = if media_type.is_empty() { "no content type" } else { media_type };
            return Err(MultipartError::NoMultipart { found: found.chars().take(80).collect() });
        }
        let boundary = words
            .filter_map(|word| word.split_once('='))
            .find(|(name, _)| name.trim().eq_ignore_ascii_case("boundary"))
            .map(|(_, value)| value.trim().trim_matches('"').trim_start_matches('-'))
            .filter(|value| !value.is_empty())
            .ok_or(MultipartError::NoBoundary)?;
        Ok(Self {
            boundary: [b"--", boundary.as_bytes()].concat(),
            most_bytes,
            buffer: Vec::new(),
            place: Place::Between,
        })
    }

    /// Takes in what has come.
    pub fn push(&mut self, bytes: &[u8]) {
        self.buffer.extend_from_slice(bytes);
    }

    /// The next part, as soon as all of it is there.
    pub fn next_part(&mut self) -> Option<Part> {
        loop {
            match self.place {
                Place::Between => self.find_boundary()?,
                Place::Head => {
                    if let Some(lost) = self.read_head()? {
                        return Some(lost);
                    }
                }
                Place::Sized { bytes, picture } => {
                    let part = self.take_sized(bytes)?;
                    if picture {
                        return Some(Part::Picture(part));
                    }
                }
                Place::Open { searched, picture } => {
                    let part = self.take_open(searched, picture)?;
                    if picture || matches!(part, Part::Lost(_)) {
                        return Some(part);
                    }
                }
            }
        }
    }

    /// Moves behind the next boundary's line; what stood before it is passed over.
    fn find_boundary(&mut self) -> Option<()> {
        let Some(at) = memmem::find(&self.buffer, &self.boundary) else {
            // The beginning of a boundary may stand at the end.
            let keep = self.buffer.len().min(self.boundary.len() - 1);
            self.buffer.drain(..self.buffer.len() - keep);
            return None;
        };
        let behind = at + self.boundary.len();
        let Some(end) = memchr::memchr(b'\n', &self.buffer[behind..]) else {
            // Its line is not all there; a line without an end is no boundary.
            self.buffer
                .drain(..if self.buffer.len() - behind > MAX_HEAD_BYTES { behind } else { at });
            return None;
        };
        self.buffer.drain(..=behind + end);
        self.place = Place::Head;
        Some(())
    }

    /// Reads a part's head, once it is whole, and says where it cannot be.
    fn read_head(&mut self) -> Option<Option<Part>> {
        let mut from = 0;
        let (mut length, mut picture) = (None, true);
        loop {
            let Some(end) = memchr::memchr(b'\n', &self.buffer[from..]) else {
                if self.buffer.len() <= MAX_HEAD_BYTES {
                    return None;
                }
                self.place = Place::Between;
                return Some(Some(Part::Lost("its head is too long")));
            };
            let line = String::from_utf8_lossy(&self.buffer[from..from + end]);
            let line = line.trim();
            from += end + 1;
            if line.is_empty() {
                break;
            }
            if from > MAX_HEAD_BYTES {
                self.place = Place::Between;
                return Some(Some(Part::Lost("its head is too long")));
            }
            if let Some((name, value)) = line.split_once(':') {
                let value = value.trim();
                if name.eq_ignore_ascii_case("content-length") {
                    length = value.parse::<usize>().ok();
                } else if name.eq_ignore_ascii_case("content-type") {
                    picture = value.to_ascii_lowercase().starts_with("image/");
                }
            }
        }
        self.buffer.drain(..from);
        self.place = match length {
            Some(bytes) if bytes > self.most_bytes => {
                self.place = Place::Between;
                return Some(Some(Part::Lost("it is larger than any frame")));
            }
            Some(bytes) => Place::Sized { bytes, picture },
            None => Place::Open { searched: 0, picture },
        };
        Some(None)
    }

    fn take_sized(&mut self, bytes: usize) -> Option<Vec<u8>> {
        if self.buffer.len() < bytes {
            return None;
        }
        let rest = self.buffer.split_off(bytes);
        self.place = Place::Between;
        Some(std::mem::replace(&mut self.buffer, rest))
    }

    /// Takes a part without a length: up to the next boundary, or to a picture's end mark where
    /// nothing follows yet, so that a slow camera's frame need not wait for the one after it.
    fn take_open(&mut self, searched: usize, picture: bool) -> Option<Part> {
        let boundary = memmem::find(&self.buffer[searched..], &self.boundary);
        if let Some(at) = boundary {
            let rest = self.buffer.split_off(searched + at);
            let mut part = std::mem::replace(&mut self.buffer, rest);
            trim_line_end(&mut part);
            self.place = Place::Between;
            return Some(Part::Picture(part));
        }
        let whole = self.buffer.trim_ascii_end().ends_with(&[0xFF, 0xD9]);
        if picture && whole {
            let mut part = std::mem::take(&mut self.buffer);
            trim_line_end(&mut part);
            self.place = Place::Between;
            return Some(Part::Picture(part));
        }
        if self.buffer.len() > self.most_bytes {
            self.buffer.clear();
            self.place = Place::Between;
            return Some(Part::Lost("it is larger than any frame"));
        }
        let searched = self.buffer.len().saturating_sub(self.boundary.len() - 1);
        self.place = Place::Open { searched, picture };
        None
    }
}

fn trim_line_end(part: &mut Vec<u8>) {
    for end in [b'\n', b'\r'] {
        if part.last() == Some(&end) {
            part.pop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TYPE: &str = "multipart/x-mixed-replace; boundary=cut";

    /// All parts of a stream that comes in pieces of so many bytes.
    fn parts(content_type: &str, stream: &[u8], piece: usize) -> Vec<Part> {
        let mut parts = Parts::of_type(content_type, 1000).unwrap();
        let mut found = Vec::new();
        for piece in stream.chunks(piece) {
            parts.push(piece);
            found.extend(std::iter::from_fn(|| parts.next_part()));
        }
        found
    }

    fn picture(bytes: &[u8]) -> Part {
        Part::Picture(bytes.to_vec())
    }

    #[test]
    fn pictures_come_out_as_they_went_in_whatever_the_pieces() {
        let stream =
            b"--cut\r\nContent-Type: image/jpeg\r\nContent-Length: 9\r\n\r\nab\r\n--cut\r\n\
            \r\n--cut\r\ncontent-length:3\r\n\r\n\xFF\r\n\r\n--cut\r\n\r\nopen\r\n\r\n--cut\r\n";
        for piece in 1..stream.len() {
            let expected = [picture(b"ab\r\n--cut"), picture(b"\xFF\r\n"), picture(b"open\r\n")];
            assert_eq!(parts(TYPE, stream, piece), expected, "pieces of {piece}");
        }
    }

    #[test]
    fn the_boundary_is_known_however_it_is_told() {
        for told in ["cut", "--cut", "\"cut\"", "\"--cut\"", "cut; charset=x", "cut "] {
            let content_type = format!("Multipart/X-Mixed-Replace;Boundary={told}");
            let stream = b"--cut\nContent-Length: 2\n\nab\n--cut\nContent-Length: 1\n\nc";
            assert_eq!(parts(&content_type, stream, 7), [picture(b"ab"), picture(b"c")], "{told}");
        }
    }

    #[test]
    fn a_jpeg_without_a_length_is_there_as_soon_as_it_ends() {
        let stream = b"--cut\r\nContent-Type: image/jpeg\r\n\r\n\xFF\xD8 all \xFF\xD9\r\n";
        assert_eq!(parts(TYPE, stream, stream.len()), [picture(b"\xFF\xD8 all \xFF\xD9")]);
    }

    #[test]
    fn garbage_between_parts_and_parts_of_another_kind_are_passed_over() {
        let stream = b"\0\0 garbage --cu \r\n--cut\r\nContent-Type: text/plain\r\nContent-Length: 2\r\n\r\nno\
            \r\nmore garbage\r\n\r\n--cut\r\nContent-Type: text/plain\r\n\r\nno\r\n\
            --cut\r\nContent-Type: image/jpeg\r\nContent-Length: 3\r\n\r\nyes";
        for piece in [1, 5, 1000] {
            assert_eq!(parts(TYPE, stream, piece), [picture(b"yes")], "pieces of {piece}");
        }
    }

    #[test]
    fn what_has_no_end_is_lost_within_bounds_and_reading_goes_on() {
        let mut endless = b"--cut\r\n".to_vec();
        endless.extend((0..2000).flat_map(|line| format!("X-{line}: y\r\n").into_bytes()));
        endless.extend(b"\r\n--cut\r\nContent-Length: 5000\r\n\r\n--cut\r\n\r\n");
        endless.extend([b'x'; 5000]);
        endless.extend(b"\r\n--cut\r\nContent-Length: 2\r\n\r\nok");
        let found = parts(TYPE, &endless, 50);
        let lost = found.iter().filter(|part| matches!(part, Part::Lost(_))).count();
        assert_eq!((lost, found.last()), (3, Some(&picture(b"ok"))), "{found:?}");

        let mut parts = Parts::of_type(TYPE, 1000).unwrap();
        for _ in 0..1000 {
            parts.push(&[b'-'; 1000]);
            assert_eq!(parts.next_part(), None);
            assert!(parts.buffer.len() < 2 * MAX_HEAD_BYTES, "{}", parts.buffer.len());
        }
    }

    #[test]
    fn an_answer_of_another_type_says_what_it_is() {
        let refused = |content_type| Parts::of_type(content_type, 1000).unwrap_err();
        assert!(refused("text/html; charset=utf-8").to_string().contains("text/html"));
        assert_eq!(refused("multipart/x-mixed-replace"), MultipartError::NoBoundary);
        assert_eq!(refused("multipart/x-mixed-replace; boundary=--"), MultipartError::NoBoundary);
        assert!(matches!(refused(""), MultipartError::NoMultipart { .. }));
    }
}
