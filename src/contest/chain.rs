//! Lines that bear their own hash: how it is written last in them, and found again.
//!
//! A line is a JSON object whose last member is `"sha256"`, so it ends with `,"sha256":"` and 64
//! digits and `"}`. The hash is taken over the hash that the line follows on (its 64 digits; nothing
//! for a line that follows on none) and all bytes of the line before that ending. Bytes are hashed as
//! they stand, so it makes no difference how numbers and spaces are written.

use crate::digest::{is_sha256, sha256};

const BEFORE: &str = ",\"sha256\":\"";
const AFTER: &str = "\"}";
const DIGITS: usize = 64;

/// A line taken apart.
#[derive(Debug, Clone, Copy)]
pub(super) struct Link<'a> {
    /// The object without its end.
    open: &'a [u8],
    /// What the line says its hash is.
    pub stated: &'a str,
}

impl<'a> Link<'a> {
    /// None where the line does not end with a hash.
    pub fn of(line: &'a [u8]) -> Option<Self> {
        let (open, end) =
            line.split_at(line.len().checked_sub(BEFORE.len() + DIGITS + AFTER.len())?);
        let stated = std::str::from_utf8(end).ok()?.strip_prefix(BEFORE)?.strip_suffix(AFTER)?;
        is_sha256(stated).then_some(Self { open, stated })
    }

    /// The hash as it comes out, behind the one that the line follows on.
    pub fn reckoned(&self, before: &str) -> String {
        hashed(before, self.open)
    }

    /// The same where the line began otherwise: `old` replaced by `new`. None where it begins so not.
    pub fn reckoned_as(&self, before: &str, old: &str, new: &str) -> Option<String> {
        let rest = self.open.strip_prefix(old.as_bytes())?;
        Some(hashed(before, &[new.as_bytes(), rest].concat()))
    }

    /// The object without its hash, as JSON.
    pub fn body(&self) -> Vec<u8> {
        [self.open, b"}"].concat()
    }
}

fn hashed(before: &str, open: &[u8]) -> String {
    sha256(&[before.as_bytes(), open].concat())
}

/// A line from its JSON object, with its hash, which is returned as well.
pub(super) fn linked(object: &str, before: &str) -> (String, String) {
    let open = object.strip_suffix('}').unwrap_or(object);
    let hash = hashed(before, open.as_bytes());
    (format!("{open}{BEFORE}{hash}{AFTER}"), hash)
}

/// What the seal's signature is over.
pub(super) fn signed_text(head_sha256: &str, chain_sha256: &str) -> String {
    format!("stillcloth entry 1\n{head_sha256}\n{chain_sha256}\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_taken_apart_into_what_it_was_made_of() {
        let (line, hash) = linked("{\"record\":7,\"x\":1}", "before");
        let link = Link::of(line.as_bytes()).unwrap();
        assert_eq!((link.stated, link.reckoned("before")), (hash.as_str(), hash.clone()));
        assert_eq!(link.body(), b"{\"record\":7,\"x\":1}");
        assert_ne!(link.reckoned("other"), hash);
        assert!(serde_json::from_str::<serde_json::Value>(&line).unwrap()["sha256"] == hash);
    }

    #[test]
    fn what_bears_no_hash_is_no_link() {
        let (line, _) = linked("{\"a\":1}", "");
        for wrong in ["", "{}", &line[1..line.len() - 1], &line.replace("sha256", "sha255")] {
            assert!(Link::of(wrong.as_bytes()).is_none(), "{wrong}");
        }
        let mut split = line.into_bytes();
        let at = split.len() - 80;
        split[at] = 0xff;
        // Invalid UTF-8 beside and inside the ending.
        let _ = Link::of(&split);
        split[at + 30] = 0xff;
        assert!(Link::of(&split).is_none());
    }
}
