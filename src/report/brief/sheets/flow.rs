//! Text that flows through columns and never runs out of them.

use crate::entry_lines::{Line, blank, lines};
use crate::map::marks::{self, POST_RADIUS};
use crate::svg_page::{Frame, Lettering, Point, Role, Sheet};
use perchline_link::Outcome;

/// A piece of text.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    mark: Option<Outcome>,
    head: String,
    body: String,
    /// Said below it, in heavy letters.
    advice: Vec<String>,
    kind: Kind,
}

/// What a piece is to somebody who has the sheet read out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Title,
    Entry,
    /// A row of a table: what it is about, and the rest.
    Row,
}

impl Piece {
    /// A title, which stays with what follows it.
    pub(crate) fn title(text: &str) -> Self {
        Self { head: text.to_owned(), kind: Kind::Title, ..Self::line("", "") }
    }

    /// A head and what goes on after it.
    pub(crate) fn line(head: &str, body: &str) -> Self {
        Self {
            mark: None,
            head: head.to_owned(),
            body: body.to_owned(),
            advice: Vec::new(),
            kind: Kind::Entry,
        }
    }

    /// The same as a row of a table.
    pub(crate) fn row(head: &str, body: &str) -> Self {
        Self { kind: Kind::Row, ..Self::line(head, body) }
    }

    fn is_title(&self) -> bool {
        self.kind == Kind::Title
    }

    /// The same behind a post's mark.
    pub(crate) fn marked(mut self, outcome: Outcome) -> Self {
        self.mark = Some(outcome);
        self
    }

    /// The same with advice below it.
    pub(crate) fn advised(mut self, advice: &[String]) -> Self {
        self.advice = advice.to_vec();
        self
    }

    fn set(&self, size: f64, room: f64) -> Set<'_> {
        let indent = if self.mark.is_some() { 2.0 * POST_RADIUS + 0.4 * size } else { 0.0 };
        let head_size = if self.is_title() { size * TITLE } else { size };
        let mut set: Vec<(f64, Line)> = lines(&self.head, &self.body, head_size, room - indent)
            .into_iter()
            .map(|l| (indent, l))
            .collect();
        for advice in &self.advice {
            let more = indent + 0.9 * size;
            set.extend(lines(advice, "", size, room - more).into_iter().map(|l| (more, l)));
        }
        let above = if self.is_title() { 0.55 * size } else { 0.0 };
        let least = if self.mark.is_some() { 2.0 * POST_RADIUS + 2.0 } else { 0.0 };
        let height = (set.len() as f64 * head_size * LEADING).max(least) + above + GAP * size;
        Set { piece: self, lines: set, size: head_size, above, height }
    }
}

/// A title's size against the text's.
const TITLE: f64 = 1.12;
/// From one line to the next, against the text's size.
const LEADING: f64 = 1.2;
/// Free height between pieces, against the text's size.
const GAP: f64 = 0.3;

/// A piece in lines.
struct Set<'a> {
    piece: &'a Piece,
    lines: Vec<(f64, Line)>,
    size: f64,
    above: f64,
    height: f64,
}

/// A set piece and its upper left corner, pixels of the sheet.
type PlacedPiece<'a> = (Point, Set<'a>);

/// Draws `pieces` into `columns` in the largest of `sizes` in which all of them
/// fit; returns how many were left out in the last, smallest one.
pub(crate) fn draw(sheet: &mut Sheet, pieces: &[Piece], columns: &[Frame], sizes: &[f64]) -> usize {
    let mut left_out = pieces.len();
    for (index, size) in sizes.iter().enumerate() {
        let (places, fit) = placed(pieces, columns, *size);
        if fit == pieces.len() {
            for (at, set) in &balanced(pieces, columns, *size) {
                set.draw(sheet, *at);
            }
            return 0;
        }
        if index + 1 == sizes.len() {
            for (at, set) in &places {
                set.draw(sheet, *at);
            }
            left_out = pieces.len() - fit;
        }
    }
    left_out
}

/// How many of `pieces` each sheet takes in this size, one after the other: the first
/// has the columns `first`, every other `next`. A piece that no sheet can hold has one
/// of its own.
pub(crate) fn over_sheets(
    pieces: &[Piece],
    first: &[Frame],
    next: &[Frame],
    size: f64,
) -> Vec<usize> {
    let mut sheets = vec![placed(pieces, first, size).1];
    let mut set: usize = sheets.iter().sum();
    while let Some(rest) = pieces.get(set..).filter(|rest| !rest.is_empty()) {
        let fit = placed(rest, next, size).1.max(1);
        sheets.push(fit);
        set += fit;
    }
    sheets
}

/// Whether all pieces fit in this size.
pub(crate) fn fits(pieces: &[Piece], columns: &[Frame], size: f64) -> bool {
    placed(pieces, columns, size).1 == pieces.len()
}

/// Height that pieces take in one column.
pub(crate) fn height(pieces: &[Piece], room: f64, size: f64) -> f64 {
    pieces.iter().map(|piece| piece.set(size, room).height).sum()
}

/// Where pieces go in columns no longer than it takes, so that they end alike.
fn balanced<'a>(pieces: &'a [Piece], columns: &[Frame], size: f64) -> Vec<PlacedPiece<'a>> {
    let shorter = |percent: u32| -> Vec<Frame> {
        let cut = |c: &Frame| Frame { height: c.height * f64::from(percent) / 100.0, ..*c };
        columns.iter().map(cut).collect()
    };
    (30..=100)
        .map(|percent| placed(pieces, &shorter(percent), size))
        .find(|(_, fit)| *fit == pieces.len())
        .map_or_else(Vec::new, |(places, _)| places)
}

/// Where pieces go, and how many found a place.
fn placed<'a>(pieces: &'a [Piece], columns: &[Frame], size: f64) -> (Vec<PlacedPiece<'a>>, usize) {
    let mut places = Vec::new();
    let mut columns = columns.iter();
    let Some(mut column) = columns.next() else { return (places, 0) };
    let mut y = column.top;
    let mut rest = pieces.iter().enumerate().peekable();
    while let Some((index, piece)) = rest.next() {
        let mut set = piece.set(size, column.width);
        // A title wants the first lines of what it is over beside it.
        let follows = rest.peek().filter(|_| piece.is_title());
        let with = follows.map_or(0.0, |(_, next)| next.set(size, column.width).height);
        if y + set.height + with - GAP * size > column.bottom() {
            let Some(next) = columns.next() else { return (places, index) };
            column = next;
            y = column.top;
            set = piece.set(size, column.width);
        }
        if y == column.top {
            set.height -= set.above;
            set.above = 0.0;
        }
        if y + set.height - GAP * size > column.bottom() {
            return (places, index);
        }
        let height = set.height;
        places.push(((column.left, y), set));
        y += height;
    }
    (places, pieces.len())
}

impl Set<'_> {
    fn draw(&self, sheet: &mut Sheet, (left, top): (f64, f64)) {
        let text = Lettering::new(self.size);
        let mut base = top + self.above + self.size * 0.95;
        sheet.begin(match self.piece.kind {
            Kind::Title => Role::Heading(2),
            Kind::Entry => Role::Entry,
            Kind::Row => Role::RowHead,
        });
        let mut in_head = self.piece.kind == Kind::Row;
        if let Some(outcome) = self.piece.mark {
            let middle = base - self.size * 0.36;
            marks::post(sheet, (left + POST_RADIUS, middle.max(top + POST_RADIUS)), outcome);
        }
        for (indent, line) in &self.lines {
            let x = left + indent;
            sheet.text((x, base), &line.head, &text.bold());
            let head = text.bold().width(&line.head);
            let after = if line.head.is_empty() { 0.0 } else { head + blank(self.size) };
            if in_head && !line.body.is_empty() {
                sheet.begin(Role::Cell);
                in_head = false;
            }
            sheet.text((x + after, base), &line.body, &text);
            base += self.size * LEADING;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(left: f64, height: f64) -> Frame {
        Frame { left, top: 0.0, width: 300.0, height }
    }

    #[test]
    fn everything_stays_in_the_columns_and_what_does_not_is_counted() {
        let pieces: Vec<Piece> =
            (0..30).map(|n| Piece::line(&format!("Post {n}"), &"works ".repeat(20))).collect();
        let columns = [column(0.0, 600.0), column(320.0, 600.0)];
        for size in [12.0, 20.0, 30.0] {
            let (places, fit) = placed(&pieces, &columns, size);
            assert_eq!(places.len(), fit);
            for ((left, top), set) in &places {
                assert!(*left == 0.0 || *left == 320.0);
                assert!(top + set.height - GAP * size <= 600.0 + 1e-9);
            }
        }
        assert!(fits(&pieces[..3], &columns, 12.0) && !fits(&pieces, &columns, 30.0));
        let mut sheet = Sheet::new(640, 600);
        assert_eq!(draw(&mut sheet, &pieces[..3], &columns, &[30.0, 12.0]), 0);
        assert!(draw(&mut sheet, &pieces, &columns, &[40.0, 30.0]) > 0);
    }

    #[test]
    fn what_a_sheet_does_not_hold_goes_on_the_next() {
        let pieces: Vec<Piece> =
            (0..30).map(|n| Piece::line(&format!("Post {n}"), &"works ".repeat(20))).collect();
        let (first, next) = ([column(0.0, 200.0)], [column(0.0, 300.0), column(320.0, 300.0)]);
        let sheets = over_sheets(&pieces, &first, &next, 20.0);
        assert_eq!(sheets.iter().sum::<usize>(), 30);
        assert!(sheets.len() > 2 && sheets[0] < sheets[1], "{sheets:?}");
        let mut from = 0;
        for (number, count) in sheets.into_iter().enumerate() {
            let columns: &[Frame] = if number == 0 { &first } else { &next };
            assert!(fits(&pieces[from..from + count], columns, 20.0));
            from += count;
        }
        let long = [Piece::line("", &"word ".repeat(4000))];
        assert_eq!(over_sheets(&long, &first, &next, 20.0), [0, 1]);
    }

    #[test]
    fn a_title_does_not_stand_alone_at_the_foot_of_a_column() {
        let line = Piece::line("Post", "works");
        let one = line.set(20.0, 300.0).height;
        let pieces = [line.clone(), Piece::title("More"), line];
        let columns = [column(0.0, 2.6 * one), column(320.0, 600.0)];
        let (places, fit) = placed(&pieces, &columns, 20.0);
        assert_eq!(fit, 3);
        assert_eq!(places[1].0.0, 320.0, "the title went with its line");
    }
}
