//! The column beside a map: headings, what marks and tints mean, and lists.

use image::RgbImage;

use crate::ReportError;
use crate::palette::{HAIRLINE, INK};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet};
use crate::typeface::{printable, wrapped};

/// From the base line of a heading to its first row.
const BELOW_HEADING: f64 = 16.0;
/// Height of a row of the legend.
const ROW: f64 = 39.0;
/// A tint's patch: how far below the row's top, its width and its height.
const PATCH: (f64, u32, u32) = (5.0, 56, 29);
/// The middle of a row, from its top.
const MIDDLE: f64 = 19.5;
/// The base line of a row, from its top.
const BASE: f64 = 27.5;
/// How a legend is set.
const LETTERING: Lettering = Lettering::new(23.0);

/// What draws a mark, and what the mark stands for.
pub type Marked<'a> = (&'a dyn Fn(&mut Sheet, Point), &'a str);

/// The column, filled from its top down.
pub struct Side<'a> {
    sheet: &'a mut Sheet,
    left: f64,
    right: f64,
    y: f64,
}

impl<'a> Side<'a> {
    pub(super) fn new(sheet: &'a mut Sheet, left: f64, right: f64, y: f64) -> Self {
        Self { sheet, left, right, y }
    }

    /// What is drawn on.
    pub fn sheet(&mut self) -> &mut Sheet {
        self.sheet
    }

    /// The left edge.
    pub const fn left(&self) -> f64 {
        self.left
    }

    /// The right edge.
    pub const fn right(&self) -> f64 {
        self.right
    }

    /// The width.
    pub fn width(&self) -> f64 {
        self.right - self.left
    }

    /// How far it is filled: the base line of the next heading, the top of the
    /// next row.
    pub const fn y(&self) -> f64 {
        self.y
    }

    /// Leaves so much free, or takes it back if below nothing.
    pub fn skip(&mut self, by: f64) {
        self.y += by;
    }

    /// A heading, and a small note at its right end.
    pub fn heading(&mut self, text: &str, note: &str) {
        self.sheet.text((self.left, self.y), text, &Lettering::new(25.0).bold());
        let small = Lettering::new(18.0).quiet().aligned(Align::Right);
        self.sheet.text((self.right, self.y), note, &small);
        self.y += BELOW_HEADING;
    }

    /// A row of the legend: a tint and what it stands for.
    ///
    /// # Errors
    /// [`ReportError::Image`] when the tint cannot be packed as PNG.
    pub fn tint(
        &mut self,
        tint: impl FnOnce(u32, u32) -> RgbImage,
        text: &str,
    ) -> Result<(), ReportError> {
        self.patch(tint)?;
        self.sheet.text((self.left + 72.0, self.y + BASE), text, &LETTERING);
        self.y += ROW;
        Ok(())
    }

    /// A row of the legend: a tint, the mark that says the same, and what both
    /// stand for.
    ///
    /// # Errors
    /// [`ReportError::Image`] when the tint cannot be packed as PNG.
    pub fn tint_and_mark(
        &mut self,
        tint: impl FnOnce(u32, u32) -> RgbImage,
        mark: impl FnOnce(&mut Sheet, Point),
        text: &str,
    ) -> Result<(), ReportError> {
        self.patch(tint)?;
        mark(self.sheet, (self.left + 84.0, self.y + MIDDLE));
        self.sheet.text((self.left + TEXT_AFTER_BOTH, self.y + BASE), text, &LETTERING);
        self.y += ROW;
        Ok(())
    }

    fn patch(&mut self, tint: impl FnOnce(u32, u32) -> RgbImage) -> Result<(), ReportError> {
        let (below, width, height) = PATCH;
        let patch = Frame {
            left: self.left,
            top: self.y + below,
            width: f64::from(width),
            height: f64::from(height),
        };
        self.sheet.image(patch, &tint(width, height))?;
        self.sheet.rectangle(patch, 0.0, &Pen::line(INK, 1.2));
        Ok(())
    }

    /// A row of the legend: a mark and what it stands for.
    pub fn mark(&mut self, mark: impl FnOnce(&mut Sheet, Point), text: &str) {
        mark(self.sheet, (self.left + 18.0, self.y + MIDDLE));
        self.sheet.text((self.left + 48.0, self.y + BASE), text, &LETTERING);
        self.y += ROW;
    }

    /// Several marks in one row, each with what it stands for.
    pub fn marks(&mut self, marks: &[Marked<'_>]) {
        let text: f64 = marks.iter().map(|(_, text)| LETTERING.width(text)).sum();
        let gaps = marks.len().saturating_sub(1).max(1) as f64;
        let room = self.width() - text - 48.0 * marks.len() as f64;
        let gap = (room / gaps).clamp(0.0, 60.0);
        let mut x = self.left;
        for (mark, text) in marks {
            mark(self.sheet, (x + 18.0, self.y + MIDDLE));
            self.sheet.text((x + 48.0, self.y + BASE), text, &LETTERING);
            x += 48.0 + LETTERING.width(text) + gap;
        }
        self.y += ROW;
    }

    /// Marks in as many rows as they take, each with what it stands for.
    pub fn marks_in_rows(&mut self, marks: &[Marked<'_>]) {
        let mut rest = marks;
        while !rest.is_empty() {
            let widths = rest.iter().scan(0.0, |sum, (_, text)| {
                *sum += 48.0 + LETTERING.width(text) + LEAST_GAP;
                Some(*sum - LEAST_GAP)
            });
            let fits = widths.take_while(|width| *width <= self.width()).count().max(1);
            let (row, later) = rest.split_at(fits);
            self.marks(row);
            rest = later;
        }
    }

    /// A row of a list: a number, a name, and figures at the right end; a name that
    /// meets them is cut.
    pub fn numbered(&mut self, number: usize, name: &str, figures: &str) {
        let lettering = Lettering::new(22.0);
        let base = self.y + 27.0;
        self.sheet.text((self.left, base), &number.to_string(), &lettering.bold());
        self.sheet.text((self.right, base), figures, &lettering.aligned(Align::Right));
        let room = self.width() - 40.0 - lettering.width(figures) - 16.0;
        self.sheet.text_within((self.left + 34.0, base), name, &lettering, room);
        self.y += 37.0;
        let (from, to) = ((self.left, self.y), (self.right, self.y));
        self.sheet.line(from, to, &Pen::line(HAIRLINE, 1.0));
    }

    /// One line, cut where it is too long, `leading` below what stands above it.
    pub fn line(&mut self, text: &str, lettering: &Lettering, leading: f64) {
        self.y += leading;
        self.sheet.text_within((self.left, self.y), text, lettering, self.width());
    }

    /// The same in so many lines at most; the last tells that there is more.
    pub fn paragraph_within(
        &mut self,
        text: &str,
        lettering: &Lettering,
        leading: f64,
        most: usize,
    ) {
        let room = self.width();
        let lines = wrapped(&printable(text), lettering.size, lettering.cut, room);
        let cut = lines.len() > most;
        for (number, line) in (1..).zip(lines.iter().take(most)) {
            let line = if cut && number == most { format!("{line} …") } else { line.clone() };
            self.sheet.text_within((self.left, self.y), &line, lettering, room);
            self.y += leading;
        }
    }

    /// A text in lines, the first with its base line at the height reached.
    pub fn paragraph(&mut self, text: &str, lettering: &Lettering, leading: f64) {
        let at = (self.left, self.y);
        self.y = self.sheet.paragraph(at, text, lettering, self.right - self.left, leading);
    }
}

/// From a mark's text to the next mark at least.
const LEAST_GAP: f64 = 18.0;
/// Where a text starts behind a tint and a mark, from the left edge.
const TEXT_AFTER_BOTH: f64 = 112.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet_layout::SheetLayout;
    use crate::words;
    use perchline_link::Outcome;

    #[test]
    fn the_legend_fits_its_column() {
        let mut map = SheetLayout::map();
        let room = map.side().width() - TEXT_AFTER_BOTH;
        for outcome in Outcome::ALL {
            for reliability in [0.5, 0.95, 0.975, 0.999] {
                let width = LETTERING.width(&words::legend(outcome, reliability));
                assert!(width <= room, "{outcome:?} takes {width:.0} pixels");
            }
        }
    }
}
