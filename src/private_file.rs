//! Files of the data folder that nobody but their owner may read: keys.

use std::{
    fs::{self, File, OpenOptions},
    io::{self, Write},
    os::unix::fs::OpenOptionsExt,
    path::Path,
};

/// Writes a file that only its owner may read, whole or not at all; its folder is made where it is
/// not there.
pub(crate) fn write(path: &Path, text: &str) -> io::Result<()> {
    path.parent().map_or(Ok(()), fs::create_dir_all)?;
    let unfinished = path.with_extension("part");
    match fs::remove_file(&unfinished) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut file = OpenOptions::new().create_new(true).write(true).mode(0o600).open(&unfinished)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    fs::rename(&unfinished, path)?;
    path.parent().map_or(Ok(()), |folder| File::open(folder)?.sync_all())
}

/// Reads such a file; none where there is none.
pub(crate) fn read(path: &Path) -> io::Result<Option<String>> {
    match fs::read_to_string(path) {
        Ok(text) => Ok(Some(text)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(error),
    }
}
