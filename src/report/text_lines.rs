//! Text in lines of so many letters, for terminals and label printers.

use super::typeface::printable;

/// A text in lines of `columns` letters at most; the second and later ones are set
/// in by `indent` blanks. A longer word goes on in the next line.
pub(super) fn wrapped(text: &str, columns: usize, indent: usize) -> Vec<String> {
    let further = " ".repeat(indent);
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in words(&printable(text)) {
        let mut word: Vec<char> = word.chars().collect();
        let used = line.chars().count();
        if used > 0 && used + 1 + word.len() > columns {
            lines.push(std::mem::replace(&mut line, further.clone()));
        } else if used > 0 {
            line.push(' ');
        }
        while line.chars().count() + word.len() > columns {
            let rest = word.split_off(columns.saturating_sub(line.chars().count()));
            line.extend(word);
            lines.push(std::mem::replace(&mut line, further.clone()));
            word = rest;
        }
        line.extend(word);
    }
    lines.push(line);
    lines
}

/// A text for a terminal of so many letters a line: sentences go on in the next line,
/// set in; rows of tables stay as they are.
#[must_use]
pub fn folded(text: &str, columns: usize) -> String {
    let mut out = String::new();
    for line in text.split_inclusive('\n') {
        let sentence = line.trim();
        let is_row = sentence.contains("  ") || sentence.starts_with('─');
        if is_row || line.trim_end().chars().count() <= columns {
            out += line;
            continue;
        }
        let lead = line.len() - line.trim_start().len();
        for part in wrapped(sentence, columns.saturating_sub(lead).max(1), 2) {
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
