//! Writing to standard output, where whoever reads it may stop reading.

use std::error::Error;
use std::io::{self, ErrorKind, Write};

/// Writes a text and flushes it.
///
/// # Errors
/// Among others that nobody reads any more, which [`is_unread`] knows: a reason to stop, and
/// nothing to complain about.
pub fn write(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()
}

/// Whether a command ended because nobody reads what it writes.
pub fn is_unread(error: &(dyn Error + 'static)) -> bool {
    let error = error.downcast_ref::<io::Error>();
    error.is_some_and(|error| error.kind() == ErrorKind::BrokenPipe)
}
