//! Text from outside as it may stand in a message.

/// Longest text that a message repeats, in characters.
const LONGEST: usize = 80;

/// Longest list that a message repeats, in bytes.
const LONGEST_LIST: usize = 600;

/// Whether a terminal obeys this character, the direction of a line follows it,
/// or it is none: a message shows it by its number.
#[must_use]
pub fn is_unprintable(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        || is_noncharacter(c)
}

/// Whether this is one of the 66 code points that Unicode sets aside as no
/// characters (The Unicode Standard, section 23.7). XML, and with it every
/// drawing, refuses some of them.
#[must_use]
pub const fn is_noncharacter(c: char) -> bool {
    let number = c as u32;
    (number >= 0xfdd0 && number <= 0xfdef) || number & 0xfffe == 0xfffe
}

/// A message made printable: breaks of lines and tabs become spaces, everything
/// else that a terminal obeys its number in Unicode.
///
/// ```
/// assert_eq!(perchline_units::printable("a\tb\u{1b}"), "a b\\u{1b}");
/// ```
#[must_use]
pub fn printable(text: &str) -> String {
    if !text.chars().any(is_unprintable) {
        return text.to_owned();
    }
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\n' | '\r' | '\t' => safe.push(' '),
            c if is_unprintable(c) => safe.extend(c.escape_unicode()),
            c => safe.push(c),
        }
    }
    safe
}

/// A list of names out of a file, or what a parser says of it, printable and cut
/// after some 600 bytes.
#[must_use]
pub fn listed(text: &str) -> String {
    let text = printable(text);
    match text.get(..text.floor_char_boundary(LONGEST_LIST)) {
        Some(start) if start.len() < text.len() => format!("{start}..."),
        _ => text,
    }
}

/// What somebody typed, printable and cut after 80 characters.
///
/// ```
/// assert_eq!(perchline_units::shown("5 W"), "5 W");
/// assert_eq!(perchline_units::shown(&"9".repeat(100)).chars().count(), 83);
/// ```
#[must_use]
pub fn shown(text: &str) -> String {
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => printable(text.get(..end).unwrap_or(text)) + "...",
        None => printable(text),
    }
}
