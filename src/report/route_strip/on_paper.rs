//! The routes of a plan on sheets of their own, behind others.

use perchline_link::Outcome;

use crate::ReportError;
use crate::brief::Paper;
use crate::brief::sheets::blank;
use crate::svg_page::{Frame, Lettering, ReadableSheet, Role, Sheet};
use crate::typeface::{printable, wrapped};

use super::{
    HOW, LEADING, LEGEND_COLUMNS, LEGEND_ROW, RouteStrip, Routes, Told, explain, outcomes,
};

/// Size of the lettering of strips on sheets of their own, and of the lines below each.
const ON_PAPER: f64 = 26.0;
const LINES_ON_PAPER: f64 = 24.0;
/// From one strip on paper to the next.
const BETWEEN: f64 = 36.0;
/// Room for the foot of a sheet, pixels.
const FOOT: f64 = 44.0;

/// The routes of a plan on sheets of this paper, each with its stretches and posts in
/// sentences below it, for whoever reads the verdict beside them; none where the plan has
/// no route. `foot` is what stands last on the sheet of this number.
pub(crate) fn on_paper(
    routes: &Routes<'_>,
    paper: Paper,
    foot: impl Fn(usize) -> String,
) -> Result<Vec<ReadableSheet>, ReportError> {
    let strips = routes.strips(Told::Numbered);
    let (_, room) = blank(paper);
    let last = room.bottom() - FOOT;
    let mut sheets: Vec<Sheet> = Vec::new();
    let mut y = f64::INFINITY;
    for strip in &strips {
        let (height, lines) =
            (strip.height(room.width, ON_PAPER), strip.lines_on_paper(room.width));
        let below: f64 = lines.iter().map(|text| text.len() as f64 + 0.3).sum();
        let whole = height + below * LINES_ON_PAPER * LEADING;
        if y + whole > last || sheets.is_empty() {
            let (mut sheet, _) = blank(paper);
            y = routes.head_of_sheet(&mut sheet, room, &outcomes(&strips))?;
            sheets.push(sheet);
        }
        let Some(sheet) = sheets.last_mut() else { continue };
        sheet.begin(Role::Heading(2));
        if y + height > last {
            let text = format!("{} finds no room here: ready-routes.png has it.", strip.name());
            sheet.text_within((room.left, y + 30.0), &text, &Lettering::new(ON_PAPER), room.width);
            y += 60.0;
            continue;
        }
        let frame = Frame { left: room.left, top: y, width: room.width, height };
        strip.title(sheet, frame, ON_PAPER);
        sheet.begin(Role::Figure(strip.seen()));
        strip.draw_untitled(sheet, frame, ON_PAPER)?;
        y = strip.tell(sheet, &lines, room, (frame.bottom(), last));
        y += BETWEEN;
    }
    let small = Lettering::new(17.0).quiet();
    for (sheet, number) in sheets.iter_mut().zip(1..) {
        sheet.begin(Role::Paragraph);
        sheet.text_within((room.left, room.bottom()), &foot(number), &small, room.width);
    }
    Ok(sheets.into_iter().map(Sheet::into_readable).collect())
}

impl Routes<'_> {
    /// Title, how strips are read and what the tints mean; returns where strips begin.
    fn head_of_sheet(
        &self,
        sheet: &mut Sheet,
        room: Frame,
        there: &[Outcome],
    ) -> Result<f64, ReportError> {
        sheet.begin(Role::Heading(1));
        let title = Lettering::new(36.0).bold();
        sheet.text((room.left, room.top + 34.0), "Radio along the routes", &title);
        sheet.begin(Role::Paragraph);
        let facts = format!(
            "{}: channel {}, relay on {}.",
            self.plan.event.name, self.channel, self.site.site
        );
        sheet.text_within((room.left, room.top + 72.0), &facts, &Lettering::new(25.0), room.width);
        sheet.begin(Role::Paragraph);
        let how = Lettering::new(22.0);
        let top = sheet.paragraph((room.left, room.top + 108.0), HOW, &how, room.width, 29.0);
        sheet.begin(Role::Paragraph);
        explain(sheet, (room.left, top), room.width, there, self.reliability)?;
        Ok(top + LEGEND_ROW * there.len().div_ceil(LEGEND_COLUMNS) as f64 + 14.0)
    }
}

impl RouteStrip<'_> {
    /// The same where sentences below it tell the stretches.
    fn seen(&self) -> String {
        format!("{} from end to end. {}: see below.", self.name(), self.headline())
    }

    /// Its sentences in lines of this width.
    fn lines_on_paper(&self, width: f64) -> Vec<Vec<String>> {
        let lettering = Lettering::new(LINES_ON_PAPER);
        let lines = |text: &String| wrapped(&printable(text), lettering.size, lettering.cut, width);
        self.sentences().iter().map(lines).collect()
    }

    /// Its sentences from the first height on, as far as there is room until the second;
    /// returns where they end.
    fn tell(
        &self,
        sheet: &mut Sheet,
        sentences: &[Vec<String>],
        room: Frame,
        (top, last): (f64, f64),
    ) -> f64 {
        let lettering = Lettering::new(LINES_ON_PAPER);
        let step = LINES_ON_PAPER * LEADING;
        let mut y = top;
        let mut left_out = 0;
        for lines in sentences {
            sheet.begin(Role::Paragraph);
            for line in lines {
                // The last line may be needed for how many there are more.
                if left_out > 0 || y + 2.0 * step > last {
                    left_out += 1;
                    continue;
                }
                y += step;
                sheet.text((room.left, y), line, &lettering);
            }
            y += step * 0.3;
        }
        if left_out > 0 {
            y += step;
            let more = format!("{left_out} more lines are in ready-routes.png.");
            sheet.begin(Role::Paragraph);
            sheet.text((room.left, y), &more, &lettering.bold());
        }
        y
    }
}
