//! A listener's secret, and the signatures made with it.
//!
//! After the Standard Webhooks specification 1.0.0, symmetric scheme: the key is 24 to 64 random
//! bytes, written `whsec_` and base64; the signature is HMAC-SHA256 (RFC 2104, FIPS 180-4) over
//! `id.timestamp.body`, written `v1,` and base64. Signs bytes; knows no event and no network.

use base64::{Engine, engine::general_purpose::STANDARD};
use hmac::{Hmac, KeyInit, Mac};
use serde::Deserialize;
use sha2::Sha256;
use std::{fmt, str::FromStr};
use thiserror::Error;

/// Stands before a secret's base64, so that it is known for one.
const PREFIX: &str = "whsec_";

/// The specification's bounds on a key.
const KEY_BYTES: std::ops::RangeInclusive<usize> = 24..=64;

/// The length of keys made here.
const NEW_KEY_BYTES: usize = 32;

/// What a listener and this program alone know. Its text is got by [`Secret::reveal`] only, so that
/// it does not slip into a log.
#[derive(Clone, PartialEq, Eq, Deserialize)]
#[serde(try_from = "String")]
pub struct Secret(Vec<u8>);

/// Why a text is no secret, or none could be made. Never repeats the text.
#[derive(Debug, Error, PartialEq)]
pub enum SecretError {
    #[error("a listener's secret begins with {PREFIX}: leave it out, and one is made")]
    NoPrefix,
    #[error("what follows {PREFIX} in a listener's secret is no base64: copy it whole")]
    NotBase64,
    #[error(
        "a listener's secret is {found} bytes long where {} to {} are taken: leave it out, and one is made",
        KEY_BYTES.start(), KEY_BYTES.end()
    )]
    Length { found: usize },
    #[error(
        "the system gave no random bytes for a listener's secret: {why}. Give one in the settings"
    )]
    NoRandomness { why: String },
}

impl Secret {
    /// A new secret from the system's random numbers.
    ///
    /// # Errors
    /// Where the system gives none.
    pub fn generate() -> Result<Self, SecretError> {
        let mut key = vec![0; NEW_KEY_BYTES];
        getrandom::fill(&mut key)
            .map_err(|error| SecretError::NoRandomness { why: error.to_string() })?;
        Ok(Self(key))
    }

    /// The secret's text, for the listener's owner alone.
    pub fn reveal(&self) -> String {
        format!("{PREFIX}{}", STANDARD.encode(&self.0))
    }

    /// The value of `webhook-signature` for a message sent at a Unix time in seconds.
    pub fn sign(&self, id: &str, sent_at_unix_s: i64, body: &[u8]) -> String {
        // A key of any length is taken, so the error cannot come; a zero key would never verify.
        let mut mac = Hmac::<Sha256>::new_from_slice(&self.0)
            .unwrap_or_else(|_| Hmac::<Sha256>::new(&hmac::digest::Key::<Hmac<Sha256>>::default()));
        mac.update(format!("{id}.{sent_at_unix_s}.").as_bytes());
        mac.update(body);
        format!("v1,{}", STANDARD.encode(mac.finalize().into_bytes()))
    }
}

impl FromStr for Secret {
    type Err = SecretError;

    fn from_str(text: &str) -> Result<Self, SecretError> {
        let encoded = text.trim().strip_prefix(PREFIX).ok_or(SecretError::NoPrefix)?;
        let key = STANDARD.decode(encoded).map_err(|_| SecretError::NotBase64)?;
        if !KEY_BYTES.contains(&key.len()) {
            return Err(SecretError::Length { found: key.len() });
        }
        Ok(Self(key))
    }
}

impl TryFrom<String> for Secret {
    type Error = SecretError;

    fn try_from(text: String) -> Result<Self, SecretError> {
        text.parse()
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("whsec_…")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_comes_back_from_its_text_and_hides_in_logs() {
        let made = Secret::generate().unwrap();
        assert_ne!(made, Secret::generate().unwrap());
        assert_eq!(made.reveal().parse::<Secret>().unwrap(), made);
        assert_eq!(format!("{made:?}"), "whsec_…");
    }

    #[test]
    fn what_is_no_secret_is_refused_without_repeating_it() {
        let refused = |text: &str| text.parse::<Secret>().unwrap_err();
        assert_eq!(refused("MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"), SecretError::NoPrefix);
        assert_eq!(refused("whsec_not base64"), SecretError::NotBase64);
        assert_eq!(refused("whsec_c2hvcnQ="), SecretError::Length { found: 5 });
        assert!(!refused("whsec_c2hvcnQ=").to_string().contains("c2hvcnQ"));
    }
}
