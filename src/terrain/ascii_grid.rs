//! ASCII grids: whether one holds what its head promises. The library behind
//! rasters reads such a file number by number, and looks for ever for numbers
//! that are not there.

use std::fs::File;
use std::io::{BufReader, Read};
use std::path::Path;

use super::raster_file::Refused;
use perchline_confine::Reading;

/// The longest number that is read, bytes.
const LONGEST: usize = 64;

/// Words at the head of a file, each with a number behind it.
const KEYS: [&str; 8] = [
    "ncols",
    "nrows",
    "xllcorner",
    "yllcorner",
    "xllcenter",
    "yllcenter",
    "cellsize",
    "nodata_value",
];

/// Two more, where cells are not square.
const SIDES: [&str; 2] = ["dx", "dy"];

/// Whether bytes are the beginning of an ASCII grid.
pub(super) fn is_one(head: &[u8]) -> bool {
    let text = String::from_utf8_lossy(head).to_ascii_lowercase();
    let first = text.split_ascii_whitespace().next().unwrap_or_default();
    KEYS.contains(&first) || SIDES.contains(&first)
}

/// Whether all its cells are there, each a number.
pub(super) fn check(file: &Path, reading: &Reading) -> Result<(), Refused> {
    let opened = BufReader::with_capacity(1 << 20, File::open(file).map_err(Refused::Missing)?);
    count(opened, reading)
}

fn count(from: impl Read, reading: &Reading) -> Result<(), Refused> {
    let mut words = Words { from, word: Vec::new(), buffer: vec![0; 1 << 20], at: 0, filled: 0 };
    let (mut columns, mut rows) = (None, None);
    // The head is over at the first number that stands alone.
    let mut first_cell = false;
    while let Some(word) = words.next()? {
        let key = String::from_utf8_lossy(word).to_ascii_lowercase();
        if !KEYS.contains(&key.as_str()) && !SIDES.contains(&key.as_str()) {
            first_cell = is_number(word);
            if !first_cell {
                return Err(unfit(format!("\"{}\" where a number is wanted", shown(word))));
            }
            break;
        }
        let Some(value) = words.next()?.filter(|word| is_number(word)) else {
            return Err(unfit(format!("no number behind {key}")));
        };
        let value = std::str::from_utf8(value).ok().and_then(|text| text.parse::<u64>().ok());
        match key.as_str() {
            "ncols" => columns = value,
            "nrows" => rows = value,
            _ => {}
        }
    }
    let cells = columns.zip(rows).and_then(|(columns, rows)| columns.checked_mul(rows));
    let Some(cells) = cells.filter(|cells| *cells > 0) else {
        return Err(unfit("no numbers of columns and rows (ncols, nrows)".to_owned()));
    };
    let mut found = u64::from(first_cell);
    while found < cells {
        if found.is_multiple_of(1 << 20) {
            reading.check().map_err(Refused::Overrun)?;
        }
        match words.next()? {
            Some(word) if is_number(word) => found += 1,
            Some(word) => {
                return Err(unfit(format!(
                    "\"{}\" where the number of cell {} is wanted; numbers have a point and stand between spaces",
                    shown(word),
                    found + 1
                )));
            }
            None => {
                return Err(unfit(format!(
                    "it ends after {found} of its {cells} cells; a part of it is missing"
                )));
            }
        }
    }
    Ok(())
}

fn unfit(what: String) -> Refused {
    Refused::Unfit(format!("an ASCII grid that cannot be read: {what}"))
}

fn shown(word: &[u8]) -> String {
    perchline_units::shown(&String::from_utf8_lossy(word))
}

/// Whether a word is a number as this format has them, "nan" and the like among
/// them.
fn is_number(word: &[u8]) -> bool {
    std::str::from_utf8(word).is_ok_and(|text| text.parse::<f64>().is_ok())
}

/// Words between white space, one after the other.
struct Words<R> {
    from: R,
    word: Vec<u8>,
    buffer: Vec<u8>,
    at: usize,
    filled: usize,
}

impl<R: Read> Words<R> {
    /// The next word; `None` at the end.
    fn next(&mut self) -> Result<Option<&[u8]>, Refused> {
        self.word.clear();
        loop {
            if self.at == self.filled {
                self.filled = self.from.read(&mut self.buffer).map_err(Refused::Missing)?;
                self.at = 0;
                if self.filled == 0 {
                    return Ok((!self.word.is_empty()).then_some(&self.word));
                }
            }
            let Some(&byte) = self.buffer.get(self.at) else { return Ok(None) };
            self.at += 1;
            if !byte.is_ascii_whitespace() {
                self.word.push(byte);
                if self.word.len() > LONGEST {
                    return Err(unfit(format!(
                        "a word of more than {LONGEST} letters that begins \"{}\"",
                        shown(self.word.get(..16).unwrap_or_default())
                    )));
                }
            } else if !self.word.is_empty() {
                return Ok(Some(&self.word));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str =
        "ncols 3\nnrows 2\nxllcorner 1.5\nyllcorner -2\ncellsize 30\nNODATA_value -9999\n";

    fn said(text: &str) -> Result<(), String> {
        let reading = Reading::begin(Path::new("a.asc"), "opening it");
        count(text.as_bytes(), &reading).map_err(|refused| match refused {
            Refused::Unfit(reason) => reason,
            other => format!("{other:?}"),
        })
    }

    #[test]
    fn a_whole_grid_passes() {
        said(&format!("{HEAD}1 2 3\r\n4 5.5 -6e-1")).unwrap();
        said(&format!("{HEAD}1 2 3 4 5 nan\n and what comes after")).unwrap();
        said("NCOLS 1 NROWS 1 XLLCENTER 0 YLLCENTER 0 DX 1 DY 2 7").unwrap();
        assert!(is_one(HEAD.as_bytes()) && !is_one(b"II*\0") && !is_one(b"x y z\n"));
    }

    #[test]
    fn what_is_cut_short_or_no_number_is_told() {
        for (cells, says) in [
            ("1 2 3 4 5", "after 5 of its 6 cells"),
            ("", "after 0 of its 6 cells"),
            ("1 2 3 4 x 6", "\"x\" where the number of cell 5"),
            ("1,0 2,0 3,0 4 5 6", "\"1,0\" where a number"),
            ("1 2,5 3 4 5 6", "\"2,5\" where the number of cell 2"),
        ] {
            let text = said(&format!("{HEAD}{cells}")).unwrap_err();
            assert!(text.contains(says), "{cells}: {text}");
        }
        assert!(said("ncols 3\ncellsize 1\n1 2 3").unwrap_err().contains("ncols, nrows"));
        assert!(said("ncols 0\nnrows 5\n1").unwrap_err().contains("ncols, nrows"));
        assert!(said("ncols nrows 3").unwrap_err().contains("behind ncols"));
        let vast = said("ncols 18446744073709551615\nnrows 2\n1");
        assert!(vast.unwrap_err().contains("ncols, nrows"));
    }

    #[test]
    fn a_word_has_a_longest_length() {
        let word = |length: usize| said(&format!("{HEAD}{} 2 3 4 5 6", "1".repeat(length)));
        assert!(word(LONGEST).is_ok());
        assert!(word(LONGEST + 1).unwrap_err().contains("letters"));
    }

    #[test]
    fn a_file_is_counted_to_its_end() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.asc");
        let reading = Reading::begin(&file, "opening it");
        let head = "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n";
        std::fs::write(&file, format!("{head}1 2 3 4\n")).unwrap();
        check(&file, &reading).unwrap();
        std::fs::write(&file, format!("{head}1 2 3\n")).unwrap();
        let refused = check(&file, &reading).unwrap_err();
        assert!(matches!(refused, Refused::Unfit(why) if why.contains("after 3 of its 4 cells")));
        let absent = check(&folder.path().join("none.asc"), &reading).unwrap_err();
        assert!(matches!(absent, Refused::Missing(_)));
    }
}
