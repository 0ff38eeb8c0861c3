//! One sheet for a wall: whether the posts are covered, answered by its title and by the
//! map, in few words that are read from 3 m away ([`Paper::pixels_a_millimetre`]).

use crate::ReportError;
use crate::basemap::swatch;
use crate::cautions::Caution;
use crate::map::frame::bar_grid_and_north;
use crate::map::georeference::MapFrame;
use crate::map::ground_names::NameSizes;
use crate::map::legend::{Reader, explained};
use crate::map::marks::{self, POST_RADIUS};
use crate::map::names::{self, Named};
use crate::map::{MapContent, ground};
use crate::palette::{ACCENT, INK};
use crate::svg_page::{Frame, Lettering, Pen, ReadableSheet, Role, Sheet};
use crate::typeface::{printable, wrapped};
use perchline_link::Outcome;

use super::liaison::{classes_there, fitted_map, map_in_words};
use super::{Brief, Paper, SMALLEST, blank, rule};
use crate::brief::lower;
use crate::brief::page::shown;

/// The smallest lettering that is read from 3 m away, that of names on the map; only what
/// made the sheet is set smaller.
const READ: f64 = 22.0;
/// Sizes that are tried for the answer, and how many lines it may take in each.
const ANSWER: [(f64, usize); 10] = [
    (56.0, 2),
    (50.0, 2),
    (44.0, 2),
    (40.0, 2),
    (36.0, 3),
    (32.0, 3),
    (29.0, 4),
    (26.0, 5),
    (24.0, 6),
    (READ, 8),
];
/// Sizes that are tried for the posts that fail, and how many lines they may take.
const FAILING: [(f64, usize); 4] = [(30.0, 2), (27.0, 2), (24.0, 3), (READ, 4)];
/// Greatest share of the sheet's height that the map may take.
const MAP: f64 = 0.46;
/// From the map to its legend: scale bar and arrow stand between.
const BELOW: f64 = 50.0;
/// Height of a row of the legend.
const ROW: f64 = 30.0;
/// From one line of text to the next, against its size.
const LEADING: f64 = 1.2;

pub(super) fn draw(
    brief: &Brief,
    content: &MapContent<'_>,
    paper: Paper,
) -> Result<ReadableSheet, ReportError> {
    let (mut sheet, room) = blank(paper);
    let top = head(&mut sheet, brief, room);
    let top = failing(&mut sheet, brief, room, top);
    let classes = classes_there(brief, content);
    let texts = texts(brief);
    let below = legend_height(content, &classes) + texts_height(&texts, room.width) + MADE;
    let share = ((room.bottom() - below - BELOW - top) / room.height).clamp(LEAST, MAP);
    let map = fitted_map(content, room, top, share)?;
    sheet.begin(Role::Figure(map_in_words(brief)));
    let named = draw_map(&mut sheet, content, room, &map)?;
    let top = map.frame().bottom() + BELOW;
    legend(&mut sheet, content, &named, (room, top), &classes)?;
    foot(&mut sheet, content, &texts, (room, &named));
    Ok(sheet.into_readable())
}

/// Smallest share of the sheet's height that the map takes.
const LEAST: f64 = 0.2;

/// The question and its answer; returns where the next begins.
fn head(sheet: &mut Sheet, brief: &Brief, room: Frame) -> f64 {
    sheet.begin(Role::Paragraph);
    let event = format!("{}  ·  {}", brief.event, brief.date);
    let quiet = Lettering::new(READ).quiet();
    sheet.text_shrunk((room.left, room.top + 18.0), &event, &quiet, room.width, SMALLEST);
    sheet.begin(Role::Heading(1));
    let question = Lettering::new(34.0).bold();
    let at = (room.left, room.top + 56.0);
    sheet.text_shrunk(at, "Are we covered here?", &question, room.width, SMALLEST);
    let answer = |size: f64| Lettering::new(size).bold().in_colour(ACCENT);
    let lines = |size: f64| {
        let set = answer(size);
        wrapped(&brief.headline, set.size, set.cut, room.width).len()
    };
    let fits = ANSWER.into_iter().find(|(size, most)| lines(*size) <= *most);
    let (size, _) = fits.unwrap_or((READ, 0));
    let first = room.top + 66.0 + size * 0.85;
    let leading = size * 1.08;
    let below =
        sheet.paragraph((room.left, first), &brief.headline, &answer(size), room.width, leading);
    // From the last base line on.
    below - leading + size * 0.25 + 8.0
}

/// Where radio is not to be counted on, in lines: each post behind its mark, and a text
/// where it ends.
fn failing(sheet: &mut Sheet, brief: &Brief, room: Frame, top: f64) -> f64 {
    let fails = || brief.posts.iter().filter(|post| !post.outcome.works());
    if fails().count() == 0 {
        return top + 4.0;
    }
    let names: Vec<(Option<Outcome>, String)> = fails()
        .map(|post| (Some(post.outcome), format!("{} {}", post.number, post.name)))
        .collect();
    let set = |size: f64, most: usize| in_lines(&names, size, (room.width, most));
    let (size, lines) = FAILING
        .into_iter()
        .map(|(size, most)| (size, set(size, most)))
        .find(|(_, lines)| lines.iter().flatten().count() == names.len() + 1)
        .unwrap_or_else(|| {
            let mut shown = names.len();
            loop {
                shown = shown.saturating_sub(1);
                let mut some: Vec<_> = names.iter().take(shown).cloned().collect();
                some.push((None, format!("and {} more", names.len() - shown)));
                let lines = in_lines(&some, READ, (room.width, 4));
                if shown == 0 || lines.iter().flatten().count() == some.len() + 1 {
                    break (READ, lines);
                }
            }
        });
    let text = Lettering::new(size);
    let mut base = top + size;
    for line in &lines {
        for (x, outcome, words) in line {
            sheet.begin(if *x == 0.0 && words == NOT_AT { Role::Paragraph } else { Role::Entry });
            let mut left = room.left + x;
            if let Some(outcome) = outcome {
                marks::post(sheet, (left + POST_RADIUS, base - size * 0.36), *outcome);
                left += 2.0 * POST_RADIUS + AFTER_MARK;
            }
            let lettering = if words == NOT_AT { text.bold() } else { text };
            sheet.text_within((left, base), words, &lettering, room.right() - left);
        }
        base += size * LEADING;
    }
    base - size * LEADING + size * 0.3 + 12.0
}

/// What stands before the posts that fail.
const NOT_AT: &str = "Do not count on radio at:";
/// From a mark to its name, and from a name to the next mark.
const AFTER_MARK: f64 = 7.0;
const TO_NEXT: f64 = 22.0;

/// A post with its mark, if it has one, and its left end.
type Placed = (f64, Option<Outcome>, String);

/// What stands before the posts and the posts themselves in at most so many lines of
/// this width; what finds no place is missing.
fn in_lines(
    names: &[(Option<Outcome>, String)],
    size: f64,
    (room, most): (f64, usize),
) -> Vec<Vec<Placed>> {
    let plain = Lettering::new(size);
    let mut x = plain.bold().width(NOT_AT) + TO_NEXT;
    let mut lines: Vec<Vec<Placed>> = vec![vec![(0.0, None, NOT_AT.to_owned())]];
    for (outcome, name) in names {
        let mark = outcome.map_or(0.0, |_| 2.0 * POST_RADIUS + AFTER_MARK);
        let width = mark + plain.width(name);
        if x + width > room {
            if lines.len() == most {
                break;
            }
            lines.push(Vec::new());
            x = 0.0;
        }
        if let Some(line) = lines.last_mut() {
            line.push((x, *outcome, name.clone()));
        }
        x += width + TO_NEXT;
    }
    lines
}

/// What to do when it is silent, and what to know of any prediction: each with whether it
/// is set heavy.
fn texts(brief: &Brief) -> [(String, bool); 2] {
    let step = brief.silence.first().map_or_else(String::new, |step| lower(step));
    let call = brief.contacts.first();
    let call = call.map_or_else(String::new, |c| format!(" {}: {}.", c.name, c.reached()));
    let silent = format!("If you hear nothing: {step}{call} {}", Caution::Emergency.text());
    [(silent, false), (brief.caveats.join(" "), true)]
}

fn set(heavy: bool) -> Lettering {
    if heavy { Lettering::new(READ).bold() } else { Lettering::new(READ) }
}

fn texts_height(texts: &[(String, bool)], room: f64) -> f64 {
    let lines = texts.iter().map(|(text, heavy)| {
        let lettering = set(*heavy);
        wrapped(&printable(text), lettering.size, lettering.cut, room).len()
    });
    lines.sum::<usize>() as f64 * READ * LEADING + 14.0 * texts.len() as f64
}

/// Height of the two lines that tell the grid, what found no room and what made it.
const MADE: f64 = 16.0 + SMALL * LEADING;

/// Size of those lines.
const SMALL: f64 = 9.0;

/// Height of the legend.
fn legend_height(content: &MapContent<'_>, classes: &[Outcome]) -> f64 {
    // Where the map turns out to have no room for distances there is a row to spare.
    let named = Named { distances: !content.plan.routes.is_empty(), ..Named::default() };
    let marks = explained(content, &named, Reader::Liaison).len() + 1;
    let beside = below_classes(classes.len(), marks);
    (classes.len() + beside).max(marks - beside) as f64 * ROW + 4.0
}

/// How many of so many rows of marks stand below the classes, so that both columns of the
/// legend are about as long.
const fn below_classes(classes: usize, marks: usize) -> usize {
    marks.saturating_sub(classes) / 2
}

fn draw_map(
    sheet: &mut Sheet,
    content: &MapContent<'_>,
    room: Frame,
    map: &MapFrame,
) -> Result<Named, ReportError> {
    let frame = map.frame();
    ground(sheet, content, map, 1.0)?;
    sheet.rectangle(frame, 0.0, &Pen::line(INK, 2.4));
    let sizes = NameSizes { scale: 1.0, least: READ };
    let around = names::Surroundings { sizes, ..names::Surroundings::default() };
    let mut named = names::draw(sheet, content, map, around)?;
    let base = frame.bottom() + 38.0;
    let ends = (room.left, room.right());
    named.grid = bar_grid_and_north(sheet, map, content.plan, ends, base)?;
    Ok(named)
}

/// Classes down the left side, the other marks down the right one and, where these are
/// more, below the classes.
fn legend(
    sheet: &mut Sheet,
    content: &MapContent<'_>,
    named: &Named,
    (room, top): (Frame, f64),
    classes: &[Outcome],
) -> Result<(), ReportError> {
    let text = Lettering::new(READ);
    let marked = explained(content, named, Reader::Liaison);
    let right = room.left + room.width * 0.56;
    let middle = |row: usize| top + (row as f64 + 0.5) * ROW;
    for (row, outcome) in classes.iter().enumerate() {
        let y = middle(row);
        let patch = Frame { left: room.left, top: y - 13.0, width: 44.0, height: 26.0 };
        sheet.image(patch, &swatch(*outcome, 44, 26))?;
        sheet.rectangle(patch, 0.0, &Pen::line(INK, 1.2));
        marks::post(sheet, (room.left + 64.0, y), *outcome);
        let at = (room.left + 86.0, y + 7.8);
        // What to do there is more than a wall has room for.
        let said = shown(*outcome).split(':').next().unwrap_or_default();
        sheet.text_shrunk(at, said, &text, right - 16.0 - at.0, SHRUNK);
    }
    marks::site(sheet, (right + 20.0, middle(0)), 15.0);
    let relay = format!("Relay: {}", content.site.site);
    let at = right + 52.0;
    sheet.text_shrunk((at, middle(0) + 7.8), &relay, &text, room.right() - at, SHRUNK);
    let beside = marked.len() - below_classes(classes.len(), marked.len() + 1);
    let (on_the_right, below) = marked.split_at(beside);
    for (row, mark) in (1..).zip(on_the_right) {
        (mark.draw)(sheet, (right + 20.0, middle(row)));
        sheet.text_shrunk((at, middle(row) + 7.8), &mark.text, &text, room.right() - at, SHRUNK);
    }
    for (row, mark) in (classes.len()..).zip(below) {
        (mark.draw)(sheet, (room.left + 22.0, middle(row)));
        let at = (room.left + 86.0, middle(row) + 7.8);
        sheet.text_shrunk(at, &mark.text, &text, right - 16.0 - at.0, SHRUNK);
    }
    Ok(())
}

/// A row of the legend is set smaller down to this share before it is cut.
const SHRUNK: f64 = 0.6;

/// The texts below the legend, down to what made the sheet.
fn foot(
    sheet: &mut Sheet,
    content: &MapContent<'_>,
    texts: &[(String, bool)],
    (room, named): (Frame, &Named),
) {
    let mut y = room.bottom() - MADE - texts_height(texts, room.width);
    for (text, heavy) in texts {
        rule(sheet, room, y);
        sheet.begin(Role::Paragraph);
        let at = (room.left, y + READ);
        let below = sheet.paragraph(at, text, &set(*heavy), room.width, READ * LEADING);
        y = below - READ + 14.0;
    }
    let grid = named.grid.as_ref().map_or_else(String::new, |told| format!("{told}. "));
    let unnamed = match named.unnamed.len() {
        0 => String::new(),
        1 => "1 name found no room on the map; the briefing has it. ".to_owned(),
        more => format!("{more} names found no room on the map; the briefing has them. "),
    };
    let made = format!("{grid}{unnamed}{}.", content.provenance.made_from_plan());
    let small = Lettering::new(SMALL).quiet();
    let lines = wrapped(&printable(&made), small.size, small.cut, room.width);
    let top = room.bottom() - SMALL * LEADING * lines.len().saturating_sub(1) as f64;
    sheet.begin(Role::Paragraph);
    sheet.paragraph((room.left, top), &made, &small, room.width, SMALL * LEADING);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn posts_stay_in_their_lines_and_none_goes_missing_unseen() {
        let names: Vec<(Option<Outcome>, String)> =
            (1..30).map(|n| (Some(Outcome::NoContact), format!("{n} Aid station"))).collect();
        let lines = in_lines(&names, READ, (728.0, 40));
        assert_eq!(lines.iter().flatten().count(), names.len() + 1);
        for line in &lines {
            for pair in line.windows(2) {
                let (x, _, text) = &pair[0];
                assert!(x + Lettering::new(READ).width(text) < pair[1].0);
            }
        }
        assert_eq!(in_lines(&names, READ, (728.0, 3)).len(), 3);
    }
}
