//! The keys that a device shows to change something: one for all, and a smaller one, made from it,
//! that lets pictures in and nothing else.
//!
//! The smaller one is for phones that have no encrypted way here: whoever overhears it can send
//! pictures, and cannot touch the score. Knows no HTTP.

use super::{AccessError, May};
use crate::private_file;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use std::path::{Path, PathBuf};
use subtle::ConstantTimeEq;

/// Letters and digits that are not taken for one another; a key may be typed from a screen.
const LETTERS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";

/// Random bytes to a key: 120 bits, which nobody guesses, and 24 letters.
const BYTES: usize = 15;

const FILE: &str = "key";

/// What stands in the file beside the key.
const NOTE: &str = "# Whoever has this key can change what Stillcloth keeps. The page /pair makes another and so\n\
                    # shuts out every device that was paired; so does a start without this file.\n";

/// The keys of one service.
#[derive(Clone)]
pub(super) struct Keys {
    all: String,
    pictures: String,
}

impl Keys {
    /// The keys that are kept in a folder, made at the first time.
    ///
    /// # Errors
    /// Where the file cannot be read or written, holds no key, or the system gives no randomness.
    pub(super) fn open(folder: &Path) -> Result<Self, AccessError> {
        let path = Self::file(folder);
        let refused = |source| AccessError::File { path: path.clone(), source };
        if let Some(text) = private_file::read(&path).map_err(refused)? {
            let key = text.lines().find(|line| !line.starts_with('#')).map(plain);
            return key
                .filter(|key| key.len() == written(&[0; BYTES]).len())
                .map(Self::from_all)
                .ok_or_else(|| AccessError::NoKey { path: path.clone() });
        }
        Self::make(folder)
    }

    /// New keys, kept in a folder in place of any that were there.
    ///
    /// # Errors
    /// Where the file cannot be written, or the system gives no randomness; the old keys stay then.
    pub(super) fn make(folder: &Path) -> Result<Self, AccessError> {
        let path = Self::file(folder);
        let mut bytes = [0; BYTES];
        getrandom::fill(&mut bytes)
            .map_err(|error| AccessError::NoRandomness { why: error.to_string() })?;
        let key = written(&bytes);
        private_file::write(&path, &format!("{NOTE}{key}\n"))
            .map_err(|source| AccessError::File { path, source })?;
        Ok(Self::from_all(key))
    }

    /// Where the key is kept in a folder.
    pub(super) fn file(folder: &Path) -> PathBuf {
        folder.join(FILE)
    }

    fn from_all(all: String) -> Self {
        // A key of any length is taken, so there is no error; an empty key fits nothing.
        let pictures = Hmac::<Sha256>::new_from_slice(all.as_bytes()).map_or_else(
            |_| String::new(),
            |mut mac| {
                mac.update(b"pictures");
                written(&mac.finalize().into_bytes()[..BYTES])
            },
        );
        Self { all, pictures }
    }

    /// What the holder of a key may do, in a time that does not tell how near a wrong key comes.
    pub(super) fn may(&self, shown: &str) -> May {
        let shown = plain(shown);
        let is = |key: &str| !key.is_empty() && bool::from(key.as_bytes().ct_eq(shown.as_bytes()));
        let (all, pictures) = (is(&self.all), is(&self.pictures));
        match (all, pictures) {
            (true, _) => May::All,
            (_, true) => May::SendPictures,
            _ => May::Watch,
        }
    }

    /// The key's text.
    pub(super) fn reveal(&self, may: May) -> &str {
        match may {
            May::All => &self.all,
            May::SendPictures => &self.pictures,
            May::Watch => "",
        }
    }
}

/// Five bits to a letter.
fn written(bytes: &[u8]) -> String {
    let mut letters = String::new();
    let (mut held, mut bits) = (0_u32, 0);
    for &byte in bytes {
        held = (held << 8) | u32::from(byte);
        bits += 8;
        while bits >= 5 {
            bits -= 5;
            letters.push(char::from(LETTERS[(held >> bits) as usize & 31]));
        }
        held &= (1 << bits) - 1;
    }
    letters
}

/// A key as it may have been typed: in capitals, in groups, with letters taken for digits.
fn plain(typed: &str) -> String {
    let letter = |letter: char| match letter.to_ascii_lowercase() {
        'o' => '0',
        'i' | 'l' => '1',
        other => other,
    };
    typed.chars().filter(char::is_ascii_alphanumeric).map(letter).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn keys() -> Keys {
        Keys::from_all(written(&[7; BYTES]))
    }

    #[test]
    fn each_key_lets_its_holder_do_what_it_is_for() {
        let keys = keys();
        assert_eq!(keys.may(keys.reveal(May::All)), May::All);
        assert_eq!(keys.may(keys.reveal(May::SendPictures)), May::SendPictures);
        for wrong in ["", "-", "0", &keys.all[1..], &format!("{}0", keys.all)] {
            assert_eq!(keys.may(wrong), May::Watch, "{wrong}");
        }
        assert_ne!(keys.all, keys.pictures);
        assert_eq!((keys.all.len(), keys.pictures.len()), (24, 24));
    }

    #[test]
    fn a_key_may_be_typed_in_groups_and_capitals_with_an_o_for_a_nought() {
        let keys = Keys::from_all("0a1b0a1b0a1b0a1b0a1b0a1b".into());
        assert_eq!(keys.may("OAIB-oalb 0A1B 0a1b-0a1b-0a1b"), May::All);
    }

    #[test]
    fn keys_are_written_five_bits_to_a_letter() {
        assert_eq!(written(&[0xff; 5]), "zzzzzzzz");
        assert_eq!(written(&[0, 0, 0, 0, 1]), "00000001");
    }
}
