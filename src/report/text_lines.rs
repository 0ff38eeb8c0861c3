//! Text in lines of so many columns, for terminals and label printers.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::typeface::turns;

/// Columns of a terminal: what the narrowest in use have.
pub const COLUMNS: usize = 80;

/// The columns that a text takes: two for a letter of double width, none for a mark
/// that stands on the one before.
#[must_use]
pub fn columns(text: &str) -> usize {
    text.width()
}

/// The start of a text that takes so many columns at most.
pub(super) fn cut(text: &str, most: usize) -> &str {
    let mut used = 0;
    let end = text.char_indices().find_map(|(at, letter)| {
        used += letter.width().unwrap_or(0);
        (used > most).then_some(at)
    });
    end.and_then(|end| text.get(..end)).unwrap_or(text)
}

/// A text with blanks behind it up to so many columns; cut where it takes more.
pub(super) fn padded(text: &str, wide: usize) -> String {
    let text = cut(text, wide);
    format!("{text}{}", " ".repeat(wide.saturating_sub(columns(text))))
}

/// A text in one line: without what a terminal obeys or turns its line by.
fn in_a_line(text: &str) -> String {
    let kept: String = text
        .chars()
        .map(|c| if c.is_whitespace() { ' ' } else { c })
        .filter(|c| !c.is_control() && !turns(*c))
        .collect();
    kept.split(' ').filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

/// A text in lines of `most` columns at most; the second and later ones are set
/// in by `indent` blanks. A longer word goes on in the next line.
pub(super) fn wrapped(text: &str, most: usize, indent: usize) -> Vec<String> {
    let further = " ".repeat(indent);
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in words(&in_a_line(text)) {
        let mut word = word.as_str();
        let used = columns(&line);
        if used > 0 && used + 1 + columns(word) > most {
            lines.push(std::mem::replace(&mut line, further.clone()));
        } else if used > 0 {
            line.push(' ');
        }
        while columns(&line) + columns(word) > most {
            let fits = cut(word, most.saturating_sub(columns(&line)));
            // A letter wider than the room stands alone.
            let fits = if fits.is_empty() && columns(&line) <= indent {
                word.get(..word.ceil_char_boundary(1)).unwrap_or(word)
            } else {
                fits
            };
            line.push_str(fits);
            word = word.get(fits.len()..).unwrap_or_default();
            if word.is_empty() {
                break;
            }
            lines.push(std::mem::replace(&mut line, further.clone()));
        }
        line.push_str(word);
    }
    lines.push(line);
    lines
}

/// A text for a terminal of so many columns a line: sentences go on in the next line,
/// set in; rows of tables stay as they are.
#[must_use]
pub fn folded(text: &str, most: usize) -> String {
    let mut out = String::new();
    for line in text.split_inclusive('\n') {
        let sentence = line.trim();
        let is_row = sentence.contains("  ") || sentence.starts_with('─');
        if is_row || columns(line.trim_end()) <= most {
            out += line;
            continue;
        }
        let lead = line.len() - line.trim_start().len();
        for part in wrapped(sentence, most.saturating_sub(lead).max(1), 2) {
            out += &format!("{:lead$}{part}\n", "");
        }
    }
    out
}

/// The words of a text; a unit stays with its number.
fn words(text: &str) -> Vec<String> {
    const UNITS: [&str; 10] = ["%", "dB", "m", "km", "ft", "kg", "Ah", "h", "MHz", "°C"];
    let mut words: Vec<String> = Vec::new();
    for word in text.split(' ') {
        let bare = word.trim_end_matches(|c: char| ",.;:)".contains(c));
        let is_unit = UNITS.contains(&bare);
        match words.last_mut().filter(|last| is_unit && ends_in_a_digit(last)) {
            Some(number) => *number += &format!(" {word}"),
            None => words.push(word.to_owned()),
        }
    }
    words
}

fn ends_in_a_digit(word: &str) -> bool {
    word.chars().next_back().is_some_and(|last| last.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_are_folded_and_rows_are_not() {
        let sentence = "  note: of 16 posts 14 should work there, the others are named below.";
        let row = " Ridge overlook       14 of 16   all clear     98.6 %   82 %     8.0 m";
        let text = format!("{sentence}\n{row}\n\nshort\n");
        assert_eq!(folded(&text, 80), text);
        let narrow = folded(&text, 30);
        assert!(narrow.contains(row), "{narrow}");
        let lines: Vec<&str> = narrow.lines().take_while(|line| *line != row).collect();
        assert!(lines.len() > 2 && lines.iter().all(|line| line.chars().count() <= 30));
        assert!(lines.iter().skip(1).all(|line| line.starts_with("    ")), "{narrow}");
        let joined = lines.iter().map(|line| line.trim()).collect::<Vec<_>>().join(" ");
        assert_eq!(joined, sentence.trim());
        assert!(narrow.ends_with("\n\nshort\n"));
    }

    #[test]
    fn letters_of_any_script_stay_and_count_by_their_width() {
        let name = "救護所北口";
        assert_eq!(columns(name), 10);
        assert_eq!(padded(name, 14), format!("{name}    "));
        assert_eq!(padded(name, 7), "救護所 ");
        assert_eq!(columns(&padded("Aid", 7)), columns(&padded(name, 7)));
        let text = format!("{name} and {name} reach Start\u{202e}\u{7}, the rest none");
        for most in 11..30 {
            let lines = wrapped(&text, most, 1);
            assert!(lines.iter().all(|line| columns(line) <= most), "{most}: {lines:?}");
            assert_eq!(lines.concat().matches(name).count(), 2, "{lines:?}");
            assert!(!lines.concat().contains(['□', '\u{202e}', '\u{7}']), "{lines:?}");
        }
        assert_eq!(wrapped("救護", 1, 0), ["救", "護"]);
    }

    #[test]
    fn a_number_keeps_its_unit_and_no_word_is_lost() {
        let text = "In the poor case 17 % is left, some 12.5 dB, at the end";
        for columns in 12..40 {
            let lines = wrapped(text, columns, 2);
            assert!(lines.iter().all(|line| line.chars().count() <= columns), "{lines:?}");
            assert!(lines.iter().any(|line| line.contains("17 %")), "{lines:?}");
            assert!(lines.iter().any(|line| line.contains("12.5 dB")), "{lines:?}");
            let joined = lines.iter().map(|line| line.trim()).collect::<Vec<_>>().join(" ");
            assert_eq!(joined, text);
        }
    }
}
