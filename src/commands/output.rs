//! Writing to standard output, where whoever reads it may stop reading, and to files.

use std::{
    error::Error,
    fs::{self, File},
    io::{self, BufWriter, ErrorKind, Write},
    path::Path,
};

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

/// Writes a file that has its name only when all of it is there.
///
/// # Errors
/// Where it cannot be written, or `write` fails.
pub fn to_file<E: Into<Box<dyn Error>>>(
    path: &Path,
    write: impl FnOnce(&mut BufWriter<File>) -> Result<(), E>,
) -> Result<(), Box<dyn Error>> {
    let named = |error: io::Error| format!("cannot write {}: {error}", path.display());
    let mut unfinished = path.as_os_str().to_owned();
    unfinished.push(".part");
    let mut file = BufWriter::new(File::create(&unfinished).map_err(named)?);
    write(&mut file).map_err(Into::into)?;
    file.flush().map_err(named)?;
    Ok(fs::rename(&unfinished, path).map_err(named)?)
}
