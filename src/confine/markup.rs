//! XML without declarations of its own: entities can multiply, or name files.

/// How much of a file may stand before its first element.
const PROLOGUE: usize = 1 << 20;

/// Whether a text of XML begins as one that is read.
///
/// # Errors
/// What is wrong with it, to stand after "which".
pub fn check(text: &[u8]) -> Result<(), &'static str> {
    if text.starts_with(&[0xFF, 0xFE]) || text.starts_with(&[0xFE, 0xFF]) || text.contains(&0) {
        return Err("is not XML in UTF-8; save it again as UTF-8");
    }
    let head = text.get(..PROLOGUE).unwrap_or(text);
    let declares = head
        .windows(9)
        .any(|word| word.eq_ignore_ascii_case(b"<!DOCTYPE") || word.starts_with(b"<!ENTITY"));
    if declares {
        return Err("declares entities or a document type (<!DOCTYPE), which is not read");
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn declarations_are_refused_and_plain_text_is_not() {
        check(b"<?xml version=\"1.0\"?><kml><!-- a DOCTYPE --></kml>").unwrap();
        check(b"").unwrap();
        for text in [
            &b"<!DOCTYPE kml [<!ENTITY a 'b'>]><kml>&a;</kml>"[..],
            b"<?xml version=\"1.0\"?>\n<!doctype kml><kml/>",
            b"\xFF\xFE<\0k\0m\0l\0",
            b"<\0k\0m\0l\0",
            b"\xFF\xFE<kml/>",
            b"\xFE\xFF<kml/>",
        ] {
            assert!(check(text).is_err(), "{}", String::from_utf8_lossy(text));
        }
        // The last place that is looked at, and the first that is not.
        let at = |place: usize| [vec![b' '; place], b"<!DOCTYPE a>".to_vec()].concat();
        assert!(check(&at(PROLOGUE - 9)).is_err());
        assert!(check(&at(PROLOGUE - 8)).is_ok());
    }
}
