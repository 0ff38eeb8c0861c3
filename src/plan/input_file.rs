//! Digests of the files that a result rests on.

use std::fs::File;
use std::io;
use std::path::Path;

use sha2::{Digest, Sha256};

use super::InputFile;

impl InputFile {
    /// Reads the file once for its digest.
    ///
    /// # Errors
    /// What the system says when the file cannot be read.
    pub fn of(path: &Path) -> io::Result<Self> {
        struct Sink(Sha256);
        impl io::Write for Sink {
            fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
                self.0.update(bytes);
                Ok(bytes.len())
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        if !std::fs::metadata(path)?.is_file() {
            return Err(io::Error::other("it is not a file"));
        }
        let mut sink = Sink(Sha256::new());
        io::copy(&mut File::open(path)?, &mut sink)?;
        Ok(Self { path: path.to_owned(), sha256: hexadecimal(&sink.0.finalize()) })
    }
}

/// The SHA-256 of some bytes, lower-case hexadecimal.
pub(super) fn sha256(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

/// Bytes in lower-case hexadecimal.
pub fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The three-byte message of FIPS 180-2, appendix B.1.
    #[test]
    fn the_digest_is_sha_256() {
        assert_eq!(
            sha256(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
