//! SHA-256 as everything here writes it: lower-case hexadecimal.

use sha2::{Digest, Sha256};

/// The SHA-256 of some bytes.
pub(crate) fn sha256(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

/// Bytes in lower-case hexadecimal.
pub(crate) fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// So many bytes from their lower-case hexadecimal; none where it is anything else.
pub(crate) fn from_hexadecimal<const N: usize>(text: &str) -> Option<[u8; N]> {
    if text.len() != 2 * N {
        return None;
    }
    let digit = |letter: u8| match letter {
        b'0'..=b'9' => Some(letter - b'0'),
        b'a'..=b'f' => Some(letter - b'a' + 10),
        _ => None,
    };
    let mut bytes = [0; N];
    for (byte, pair) in bytes.iter_mut().zip(text.as_bytes().chunks_exact(2)) {
        *byte = 16 * digit(pair[0])? + digit(pair[1])?;
    }
    Some(bytes)
}

/// Whether a text is a SHA-256 as it is written here.
pub(crate) fn is_sha256(text: &str) -> bool {
    from_hexadecimal::<32>(text).is_some()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back_and_nothing_else_is() {
        let known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(sha256(b"abc"), known);
        assert_eq!(
            from_hexadecimal(known).map(|bytes: [u8; 32]| hexadecimal(&bytes)).as_deref(),
            Some(known)
        );
        for wrong in
            ["", "../../etc/passwd", &known.to_uppercase(), &known[1..], &format!("{known}0")]
        {
            assert!(!is_sha256(wrong), "{wrong}");
        }
    }
}
