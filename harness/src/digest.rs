//! Digests of what was tested and what was written.

use sha2::{Digest, Sha256};

/// SHA-256 as lower-case hex.
#[must_use]
pub fn sha256_hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    /// FIPS 180-2, appendix B.1: the message "abc".
    #[test]
    fn the_standard_example() {
        assert_eq!(super::sha256_hex(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
