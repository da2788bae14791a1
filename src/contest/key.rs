//! The player's key: ed25519 (RFC 8032), checked strictly, so that a signature has one form only.

use crate::digest::{from_hexadecimal, hexadecimal};
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use std::{fmt, str::FromStr};
use thiserror::Error;

/// Signs entries. Whoever has its secret is that player.
pub struct Signer(SigningKey);

impl Signer {
    /// From 32 secret random bytes.
    pub fn from_secret(secret: &[u8; 32]) -> Self {
        Self(SigningKey::from_bytes(secret))
    }

    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.verifying_key())
    }

    /// The signature of a text, in hexadecimal.
    pub(super) fn sign(&self, text: &str) -> String {
        hexadecimal(&self.0.sign(text.as_bytes()).to_bytes())
    }
}

/// A player's public key, written as 64 hexadecimal digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PublicKey(VerifyingKey);

/// Why a text is no key.
#[derive(Debug, Error, PartialEq, Eq)]
#[error(
    "'{text}' is no player's key: it has 64 digits 0 to 9 and a to f, as `stillcloth enter` tells it"
)]
pub struct NoKey {
    text: String,
}

impl PublicKey {
    /// Whether a text was signed by this key's holder.
    pub(super) fn signed(&self, text: &str, signature: &str) -> bool {
        let Some(bytes) = from_hexadecimal::<64>(signature) else { return false };
        self.0.verify_strict(text.as_bytes(), &Signature::from_bytes(&bytes)).is_ok()
    }
}

impl FromStr for PublicKey {
    type Err = NoKey;
    fn from_str(text: &str) -> Result<Self, NoKey> {
        let key = from_hexadecimal(text).and_then(|bytes| VerifyingKey::from_bytes(&bytes).ok());
        // A weak key would sign anything.
        let key = key.filter(|key| !key.is_weak());
        key.map(Self).ok_or_else(|| NoKey { text: text.chars().take(80).collect() })
    }
}

impl fmt::Display for PublicKey {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "{}", hexadecimal(self.0.as_bytes()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_vector_of_rfc_8032_comes_out() {
        // RFC 8032, 7.1, test 2: the message is the one byte 0x72, the letter r.
        let secret = from_hexadecimal::<32>(
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        )
        .unwrap();
        let signer = Signer::from_secret(&secret);
        assert_eq!(
            signer.public().to_string(),
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"
        );
        let signature = signer.sign("r");
        assert_eq!(
            signature,
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da\
             085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
        );
        assert!(signer.public().signed("r", &signature));
        assert!(!signer.public().signed("s", &signature));
        assert!(!signer.public().signed("r", &signature.to_uppercase()));
    }

    #[test]
    fn a_key_that_would_sign_anything_is_none() {
        // The neutral element, and the point of order two.
        for weak in [format!("01{}", "00".repeat(31)), format!("ec{}7f", "ff".repeat(30))] {
            assert!(weak.parse::<PublicKey>().is_err(), "{weak}");
        }
        let error = "../../key".parse::<PublicKey>().unwrap_err().to_string();
        assert!(error.contains("64 digits"), "{error}");
    }
}
