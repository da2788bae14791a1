//! Lines of a stream, each within bounds: what is longer, and what comes behind the last byte that an
//! entry can have, is not read.

use std::io::{self, BufRead, Read};

/// One line, or why there is none.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Line<'a> {
    /// Without its line end.
    Whole(&'a [u8]),
    /// The stream ends before the line does.
    Cut,
    End,
    /// It is longer than a line may be.
    TooLong,
    /// All that was read is more than may be.
    TooMuch,
}

/// Reads line after line into the same room.
pub(super) struct Lines<R> {
    source: R,
    line: Vec<u8>,
    longest: u64,
    left: u64,
}

impl<R: BufRead> Lines<R> {
    pub fn new(source: R, longest: u64, most: u64) -> Self {
        Self { source, line: Vec::new(), longest, left: most }
    }

    pub fn next(&mut self) -> io::Result<Line<'_>> {
        self.line.clear();
        // One byte more tells a line that is too long from one that just fits.
        let most = (self.longest + 1).min(self.left + 1);
        let read = self.source.by_ref().take(most).read_until(b'\n', &mut self.line)? as u64;
        let fits = self.left >= read;
        self.left = self.left.saturating_sub(read);
        Ok(match self.line.split_last() {
            None => Line::End,
            Some(_) if !fits => Line::TooMuch,
            Some(_) if read > self.longest => Line::TooLong,
            Some((b'\n', line)) => Line::Whole(line),
            Some(_) => Line::Cut,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, longest: u64, most: u64) -> Vec<String> {
        let mut lines = Lines::new(text.as_bytes(), longest, most);
        let mut told = Vec::new();
        loop {
            let (word, last) = match lines.next().unwrap() {
                Line::Whole(line) => (String::from_utf8_lossy(line).into_owned(), false),
                other => (format!("{other:?}"), true),
            };
            told.push(word);
            if last {
                return told;
            }
        }
    }

    #[test]
    fn lines_end_where_they_end_or_break_off() {
        assert_eq!(read("", 9, 99), ["End"]);
        assert_eq!(read("a\n\nbc\n", 9, 99), ["a", "", "bc", "End"]);
        assert_eq!(read("a\nbc", 9, 99), ["a", "Cut"]);
    }

    #[test]
    fn no_more_is_read_than_may_be() {
        assert_eq!(read("abc\nabcd\n", 4, 99), ["abc", "TooLong"]);
        assert_eq!(read("abc\nabc\n", 4, 8), ["abc", "abc", "End"]);
        assert_eq!(read("abc\nabc\n", 4, 7), ["abc", "TooMuch"]);
    }
}
