//! Entries, a heavy head and a light body that goes on after it, in lines.

use super::svg_page::Lettering;
use super::typeface::{printable, width};

/// A line of an entry: what of it is head and what is body.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// What of it is head.
    pub head: String,
    /// What of it is body.
    pub body: String,
    /// Whether it is the first of its entry.
    pub opens: bool,
}

/// Width of a blank between words of this size.
#[must_use]
pub fn blank(size: f64) -> f64 {
    width(" ", size, Lettering::new(size).cut)
}

/// An entry in lines no wider than `room`: head first, body after it. A word
/// that is wider than a line goes on in the next.
#[must_use]
pub fn lines(head: &str, body: &str, size: f64, room: f64) -> Vec<Line> {
    let text = Lettering::new(size);
    let heads = printable(head);
    let bodies = printable(body);
    let words = heads
        .split(' ')
        .map(|word| (true, word))
        .chain(bodies.split(' ').map(|word| (false, word)))
        .filter(|(_, word)| !word.is_empty());
    let mut lines = vec![Line { head: String::new(), body: String::new(), opens: true }];
    let mut used = 0.0;
    for (is_head, word) in words {
        let cut = if is_head { text.bold().cut } else { text.cut };
        let wide = |part: &str| width(part, size, cut);
        if used > 0.0 && used + blank(size) + wide(word) > room {
            lines.push(Line { head: String::new(), body: String::new(), opens: false });
            used = 0.0;
        }
        let mut rest = word;
        loop {
            let whole = used + if used > 0.0 { blank(size) } else { 0.0 } + wide(rest) <= room;
            let fits = if whole { rest.len() } else { longest(rest, room, &wide) };
            let (now, later) = rest.split_at(fits);
            if let Some(line) = lines.last_mut() {
                let part = if is_head { &mut line.head } else { &mut line.body };
                if !part.is_empty() {
                    part.push(' ');
                    used += blank(size);
                } else if used > 0.0 {
                    used += blank(size);
                }
                part.push_str(now);
                used += wide(now);
            }
            if later.is_empty() {
                break;
            }
            rest = later;
            lines.push(Line { head: String::new(), body: String::new(), opens: false });
            used = 0.0;
        }
    }
    lines
}

/// Bytes of the longest beginning of `word`, one letter at least, that is no
/// wider than `room`.
fn longest(word: &str, room: f64, wide: &impl Fn(&str) -> f64) -> usize {
    let ends = word.char_indices().skip(1).map(|(at, _)| at).chain([word.len()]);
    let least = word.chars().next().map_or(0, char::len_utf8);
    ends.take_while(|end| word.get(..*end).is_some_and(|part| wide(part) <= room))
        .last()
        .unwrap_or(least)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: f64 = 27.0;

    #[test]
    fn lines_stay_in_their_room_and_lose_no_letter() {
        for (head, body) in [
            ("Call Start:", "Aid 1, Aid 2."),
            ("If the old customs house falls silent, cut off:", &"Water stop 7, ".repeat(40)),
            (&"x".repeat(200), &"y".repeat(300)),
            ("", ""),
        ] {
            let lines = lines(head, body, SIZE, 900.0);
            let text = Lettering::new(SIZE);
            let mut letters = String::new();
            for line in &lines {
                let gap = if line.head.is_empty() { 0.0 } else { blank(SIZE) };
                let across = text.bold().width(&line.head) + gap + text.width(&line.body);
                assert!(across <= 900.0 + blank(SIZE), "{line:?}");
                letters = letters + &line.head + &line.body;
            }
            let plain = |text: &str| text.replace(' ', "");
            assert_eq!(plain(&letters), plain(&format!("{head}{body}")));
            assert_eq!(lines.iter().filter(|line| line.opens).count(), 1);
        }
    }
}
