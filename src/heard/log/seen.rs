//! Rows that were there before, known by their digests: a log may have hundreds
//! of thousands, and their texts are not kept.

use std::collections::HashMap;

use sha2::{Digest, Sha256};

/// What tells a row from every other.
pub(super) type Mark = [u8; 32];

/// The line of each row that counted.
#[derive(Debug, Default)]
pub(super) struct Seen {
    lines: HashMap<Mark, usize>,
}

impl Seen {
    /// The mark of a row with these parts, in this order.
    pub(super) fn mark(parts: impl IntoIterator<Item = impl AsRef<[u8]>>) -> Mark {
        let mut digest = Sha256::new();
        for part in parts {
            let part = part.as_ref();
            // With its length: "a", "bc" is not "ab", "c".
            digest.update((part.len() as u64).to_le_bytes());
            digest.update(part);
        }
        digest.finalize().into()
    }

    /// The line of the row that was the first with this mark.
    pub(super) fn first(&self, mark: &Mark) -> Option<usize> {
        self.lines.get(mark).copied()
    }

    /// Remembers a row.
    pub(super) fn add(&mut self, mark: Mark, line: usize) {
        self.lines.entry(mark).or_insert(line);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_told_apart_by_every_cell() {
        let mut seen = Seen::default();
        seen.add(Seen::mark(["a", "bc"]), 3);
        seen.add(Seen::mark(["a", "bc"]), 9);
        assert_eq!(seen.first(&Seen::mark(["a", "bc"])), Some(3));
        for other in [["ab", "c"].as_slice(), &["a", "bc", ""], &["", "a", "bc"], &["a", "bd"]] {
            assert_eq!(seen.first(&Seen::mark(other)), None, "{other:?}");
        }
    }
}
