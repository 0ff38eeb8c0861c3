//! The card as a picture to print and cut out.

use super::Card;
use crate::ReportError;
use crate::entry_lines::{Line, blank, lines};
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette;
use crate::print_size::{DOTS_AN_INCH, pixels, with_print_size};
use crate::svg_page::{Align, Frame, Lettering, Pen, Sheet, picture};

/// Width and height of a card, millimetres.
const SIZE: (f64, f64) = (85.6, 54.0);
/// Free border that survives a careless cut, millimetres.
const BORDER: f64 = 3.0;
/// Height of the band at the top, pixels.
const BAND: f64 = 116.0;
/// Lettering of what is said: 6.5 points.
const SIZE_OF_TEXT: f64 = 27.0;
const LEADING: f64 = 32.0;
/// Free height between two entries.
const GAP: f64 = 5.0;

/// Writes the card as PNG at 300 dots an inch, one picture a side.
pub(crate) fn write_sides(card: &Card, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.sides(&draw(card)?)
}

fn draw(card: &Card) -> Result<Vec<Vec<u8>>, ReportError> {
    let packed = |side: &String| with_print_size(&picture(side, None)?, DOTS_AN_INCH);
    draw_svg(card).iter().map(packed).collect()
}

/// The card as SVG documents: as many sides as it takes.
fn draw_svg(card: &Card) -> Vec<String> {
    let (across, down) = (pixels(SIZE.0).round(), pixels(SIZE.1).round());
    let left = pixels(BORDER);
    let room = across - 2.0 * left;
    let floor = down - left - 24.0;
    let mut sides: Vec<Vec<(f64, Line)>> = vec![Vec::new()];
    let first = BAND + LEADING + 6.0;
    let mut y = first;
    for entry in &card.entries {
        let lines = lines(&entry.head, &entry.body, SIZE_OF_TEXT, room);
        // An entry is parted only where no side holds it.
        let below = (lines.len().max(1) - 1) as f64 * LEADING;
        let mut needed = if first + below <= floor { below } else { 0.0 };
        for line in lines {
            let started = sides.last().is_some_and(|side| !side.is_empty());
            let top = y + if line.opens && started { GAP } else { 0.0 };
            if top + needed > floor && started {
                sides.push(Vec::new());
                y = first;
            } else {
                y = top;
            }
            needed = 0.0;
            if let Some(side) = sides.last_mut() {
                side.push((y, line));
            }
            y += LEADING;
        }
    }
    let count = sides.len();
    sides
        .iter()
        .enumerate()
        .map(|(index, lines)| {
            // Whole numbers of a few hundred.
            let mut sheet = Sheet::new(across as u32, down as u32);
            band(&mut sheet, card, across, left, (index + 1, count));
            let text = Lettering::new(SIZE_OF_TEXT);
            let bold = text.bold().in_colour(palette::ACCENT);
            for (y, line) in lines {
                sheet.text((left, *y), &line.head, &bold);
                let after = if line.head.is_empty() {
                    left
                } else {
                    left + bold.width(&line.head) + blank(SIZE_OF_TEXT)
                };
                sheet.text((after, *y), &line.body, &text);
            }
            let foot = Lettering::new(20.0).quiet();
            sheet.text_within((left, down - left + 8.0), &card.foot, &foot, room);
            let edge = Frame { left: 0.5, top: 0.5, width: across - 1.0, height: down - 1.0 };
            sheet.rectangle(edge, 0.0, &Pen::line(palette::HAIRLINE, 1.0));
            sheet.into_svg()
        })
        .collect()
}

/// The band at the top: what the card is for, and where to turn the knob.
fn band(sheet: &mut Sheet, card: &Card, across: f64, left: f64, (side, of): (usize, usize)) {
    let band = Frame { left: 0.0, top: 0.0, width: across, height: BAND };
    sheet.rectangle(band, 0.0, &Pen::fill(palette::INK));
    let knob = Lettering::new(52.0).bold().in_colour(palette::PAPER).aligned(Align::Right);
    let frequency = format!("{} MHz", card.frequency);
    sheet.text((across - left, 66.0), &frequency, &knob);
    let second = Lettering::new(24.0).in_colour(palette::PAPER);
    let half = across - 2.0 * left - knob.width(&frequency) - 30.0;
    let channel = second.fitted(&card.channel, 380.0);
    sheet.text((across - left, 100.0), &channel, &second.aligned(Align::Right));
    let title = Lettering::new(40.0).bold().in_colour(palette::PAPER);
    sheet.text_within((left, 64.0), &card.title, &title, half);
    let number = if of > 1 { format!("side {side} of {of}, ") } else { String::new() };
    let event = format!("{number}{}", card.event);
    let room = across - 2.0 * left - second.width(&channel) - 30.0;
    sheet.text_within((left, 100.0), &event, &second, room);
}

#[cfg(test)]
mod tests {
    use super::super::Entry;
    use super::*;

    fn entry(head: &str, body: &str) -> Entry {
        Entry { head: head.to_owned(), body: body.to_owned() }
    }

    #[test]
    fn a_long_card_gets_more_sides_and_a_picture_knows_its_size() {
        let card = |posts: usize| Card {
            title: "If the relay falls silent".to_owned(),
            event: "Test".to_owned(),
            channel: "Simplex".to_owned(),
            frequency: "146.550".to_owned(),
            entries: (0..posts).map(|n| entry(&format!("Call {n}:"), "Aid 1.")).collect(),
            foot: "A prediction.".to_owned(),
        };
        assert_eq!(draw_svg(&card(6)).len(), 1);
        let many = draw_svg(&card(40));
        assert!(many.len() > 1);
        assert!((0..40).all(|n| many.iter().any(|side| side.contains(&format!("Call {n}:")))));
        let png = draw(&card(1)).unwrap().remove(0);
        let reader = png::Decoder::new(std::io::Cursor::new(png)).read_info().unwrap();
        let dims = reader.info().pixel_dims.unwrap();
        // 300 dots an inch are 11811 a metre; 85.6 by 54.0 mm.
        assert_eq!((dims.xppu, dims.yppu, dims.unit), (11_811, 11_811, png::Unit::Meter));
        assert_eq!(reader.info().size(), (1011, 638));
    }
}
