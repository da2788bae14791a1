//! The player's own key, in the data folder: made when it is first needed, read by its owner alone.

use crate::{
    contest::Signer,
    digest::{from_hexadecimal, hexadecimal},
    private_file,
};
use std::path::{Path, PathBuf};
use thiserror::Error;

const FILE: &str = "player.key";

/// What stands in the file beside the key.
const NOTE: &str = "# Whoever has this key can enter contests as this player. Keep a copy: without it nobody\n\
                    # can show that later entries are of the same player.\n";

/// Why there is no key.
#[derive(Debug, Error)]
pub enum PlayerKeyError {
    #[error("cannot use {path}: {source}")]
    File { path: PathBuf, source: std::io::Error },
    #[error(
        "{path} holds no key. Put the file back from a copy; if there is none, delete it, and another key is made"
    )]
    NoKey { path: PathBuf },
    #[error("the system gave no random bytes for a key: {why}")]
    NoRandomness { why: String },
}

/// The player's key of a data folder, made if there is none.
///
/// # Errors
/// Where the file cannot be read or written, holds no key, or the system gives no randomness.
pub fn player_key(data: &Path) -> Result<Signer, PlayerKeyError> {
    let path = data.join(FILE);
    let refused = |source| PlayerKeyError::File { path: path.clone(), source };
    if let Some(text) = private_file::read(&path).map_err(refused)? {
        let key = text.lines().find(|line| !line.starts_with('#'));
        let secret = key.and_then(|key| from_hexadecimal::<32>(key.trim()));
        return secret
            .map(|secret| Signer::from_secret(&secret))
            .ok_or_else(|| PlayerKeyError::NoKey { path: path.clone() });
    }
    let mut secret = [0; 32];
    getrandom::fill(&mut secret)
        .map_err(|error| PlayerKeyError::NoRandomness { why: error.to_string() })?;
    private_file::write(&path, &format!("{NOTE}{}\n", hexadecimal(&secret))).map_err(refused)?;
    Ok(Signer::from_secret(&secret))
}
