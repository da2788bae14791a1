//! Pictures that travel beside an entry of a contest: a folder of files, each named by its SHA-256, so
//! that nothing in an entry names a place on the disk.

use super::{RecordError, RecordReader, Rest};
use crate::camera::picture::PictureFormat;
use sha2::{Digest, Sha256};
use std::{
    fs::{self, File},
    io::{self, BufRead, BufReader, Read},
    path::{Path, PathBuf},
};

/// A picture has no more bytes than this.
const MOST_BYTES: u64 = 64 << 20;

/// Where a picture lies in such a folder.
fn file(folder: &Path, sha256: &str, format: PictureFormat) -> PathBuf {
    folder.join(format!("{sha256}.{}", format.extension()))
}

/// What is wrong with a record's picture, by its SHA-256, in the folder beside the entry.
pub fn picture_fault(folder: &Path, sha256: &str, format: PictureFormat) -> Option<String> {
    let path = file(folder, sha256, format);
    match hash_of(&path) {
        Ok(Some(found)) if found == sha256 => None,
        Ok(Some(_)) => Some(format!("its picture {} was replaced or changed", path.display())),
        Ok(None) => Some(format!(
            "its picture {} is larger than {} MiB, or no file",
            path.display(),
            MOST_BYTES >> 20
        )),
        Err(error) => Some(format!("its picture {} cannot be read: {error}", path.display())),
    }
}

/// A file's SHA-256, read piece by piece; none where it is too large or no file.
fn hash_of(path: &Path) -> io::Result<Option<String>> {
    let source = File::open(path)?;
    let about = source.metadata()?;
    if !about.is_file() || about.len() > MOST_BYTES {
        return Ok(None);
    }
    let mut hash = Sha256::new();
    let mut source = BufReader::new(source.take(MOST_BYTES));
    loop {
        let piece = source.fill_buf()?;
        if piece.is_empty() {
            break;
        }
        hash.update(piece);
        let taken = piece.len();
        source.consume(taken);
    }
    Ok(Some(crate::digest::hexadecimal(&hash.finalize())))
}

impl RecordReader {
    /// Copies the pictures of some rests to a folder beside an entry, which is made where it is not
    /// there. How many of them are not kept any more.
    ///
    /// # Errors
    /// Where the record cannot be read, or the folder not be written to.
    pub fn copy_pictures_beside(
        &self,
        rests: &[&Rest],
        folder: &Path,
    ) -> Result<usize, RecordError> {
        let refused = |source| RecordError::Folder { path: folder.into(), source };
        fs::create_dir_all(folder).map_err(refused)?;
        let mut missing = 0;
        for rest in rests {
            match self.picture_file(rest)? {
                Some(from) => {
                    let to = file(folder, &rest.picture_sha256, rest.format);
                    fs::copy(from, to).map_err(refused)?;
                }
                None => missing += 1,
            }
        }
        Ok(missing)
    }
}
