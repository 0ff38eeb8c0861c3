//! What the page may do: run its own script, show its own pictures, nothing else.

use base64::Engine as _;
use sha2::{Digest, Sha256};

/// The content-security policy (W3C Content Security Policy Level 3) that lets
/// in this script and this style, by their SHA-256, and pictures that are
/// inside the page.
pub(crate) fn policy(script: &str, style: &str) -> String {
    let hash = |text: &str| {
        let digest = Sha256::digest(text.as_bytes());
        format!("'sha256-{}'", base64::engine::general_purpose::STANDARD.encode(digest))
    };
    format!(
        "default-src 'none'; script-src {}; style-src {}; img-src data:; base-uri 'none'; form-action 'none'",
        hash(script),
        hash(style)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SHA-256 of the empty text, FIPS 180-4 (known value, in base64).
    #[test]
    fn hashes_are_of_the_text_itself() {
        let empty = "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='";
        assert_eq!(policy("", "").matches(empty).count(), 2);
    }
}
