//! The card as plain text, for a label printer or a fixed-width font.

use super::Card;
use crate::outputs::{OutboxSlot, OutputError};
use crate::text_lines;

/// Letters in a line and lines on a card: a fixed-width font of 7 points on
/// 8-point lines fills 79 by 48 mm so, which leaves 3 mm all round.
const COLUMNS: usize = 52;
/// Lines on a card.
const LINES: usize = 17;

/// Writes the card as text, a blank line between its sides.
pub(crate) fn write_text(card: &Card, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(card_text(card).join("\n").as_bytes())
}

/// The card as text, one string a side: as many sides as it takes, each of 52
/// letters by 17 lines at most. Nothing is left out.
#[must_use]
pub fn card_text(card: &Card) -> Vec<String> {
    let mut head = wrapped(&format!("{}: {} MHz", card.title, card.frequency));
    head.extend(wrapped(&format!("{}. {}", card.channel, card.event)));
    let foot = wrapped(&card.foot);
    let body: Vec<Vec<String>> =
        card.entries.iter().map(|e| wrapped(&format!("{} {}", e.head, e.body))).collect();
    // Head and foot stand on every side; where there are several, so does a
    // line with the side's number.
    let free = LINES.saturating_sub(head.len() + foot.len());
    let count: usize = body.iter().map(Vec::len).sum();
    let room = if count <= free { free } else { free.saturating_sub(1) }.max(1);
    let sides = sides(&body, room);
    let of = sides.len();
    (1..)
        .zip(&sides)
        .map(|(side, lines): (usize, _)| {
            let number = (of > 1).then(|| format!("Side {side} of {of}"));
            let all = head.iter().chain(&number).chain(lines.iter().copied()).chain(&foot);
            all.map(|line| format!("{line}\n")).collect()
        })
        .collect()
}

/// Lines of entries, `room` a side: an entry is parted only where no side holds it.
fn sides(entries: &[Vec<String>], room: usize) -> Vec<Vec<&String>> {
    let mut done: Vec<Vec<&String>> = Vec::new();
    let mut side: Vec<&String> = Vec::new();
    for lines in entries {
        let left = room.saturating_sub(side.len());
        if lines.len() > left && lines.len() <= room {
            done.push(std::mem::take(&mut side));
        }
        for line in lines {
            if side.len() == room {
                done.push(std::mem::take(&mut side));
            }
            side.push(line);
        }
    }
    done.push(side);
    done.retain(|side| !side.is_empty());
    if done.is_empty() { vec![Vec::new()] } else { done }
}

/// A text in lines of a card.
fn wrapped(text: &str) -> Vec<String> {
    text_lines::wrapped(text, COLUMNS, 1)
}

#[cfg(test)]
mod tests {
    use super::super::Entry;
    use super::*;

    fn card(posts: usize, name: &str) -> Card {
        let names: Vec<_> = (0..posts).map(|n| format!("{name}{n}")).collect();
        Card {
            title: "If the relay falls silent".to_owned(),
            event: "Test".to_owned(),
            channel: "Simplex".to_owned(),
            frequency: "146.550".to_owned(),
            entries: vec![Entry { head: "Call Start:".to_owned(), body: names.join(", ") }],
            foot: "A prediction.".to_owned(),
        }
    }

    /// Nobody reads half a sentence on one side and turns the card for the rest.
    #[test]
    fn an_entry_stays_on_one_side() {
        let mut long = card(3, "Aid ");
        let entry = |n: usize| Entry {
            head: format!("Post {n}:"),
            body: "call Aid 1, who relays through Start to Net Control.".to_owned(),
        };
        long.entries = (0..9).map(entry).collect();
        let sides = card_text(&long);
        assert!(sides.len() > 1);
        for side in &sides {
            assert_eq!(side.matches("Post ").count(), side.matches("Control.").count(), "{side}");
        }
    }

    #[test]
    fn every_name_is_on_a_side_that_fits() {
        for (posts, name) in [(3, "Aid "), (200, "Water stop "), (6, &"x".repeat(78))] {
            let sides = card_text(&card(posts, name));
            assert_eq!(sides.len() > 1, posts > 9, "{posts}");
            let mut all = String::new();
            for side in &sides {
                assert!(side.lines().count() <= LINES, "{side}");
                assert!(side.lines().all(|line| line.chars().count() <= COLUMNS), "{side}");
                assert!(side.contains("146.550 MHz"));
                all += side;
            }
            // Blanks and line ends move; letters stay.
            let letters = |text: &str| text.replace(char::is_whitespace, "");
            if sides.len() == 1 {
                for n in 0..posts {
                    assert!(letters(&all).contains(&letters(&format!("{name}{n}"))), "{n}: {all}");
                }
            } else {
                assert_eq!(all.matches("Water").count(), posts);
            }
        }
    }
}
