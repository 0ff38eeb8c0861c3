//! The column beside the map: what the marks mean, and every post by name.

use crate::ReportError;
use crate::basemap::swatch;
use crate::palette::{ACCENT, HAIRLINE, INK};
use crate::sheet_layout::{Marked, Side};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet};
use crate::words;
use perchline_link::Outcome;

use super::MapContent;
use super::legend::{Reader, explained};
use super::marks;
use super::names::Named;
use super::route_line::ROUTE_DASHES;

/// The lower edge of the column.
const BOTTOM: f64 = 1568.0;
/// Rows of the list are no higher and no lower than this.
const ROWS: (f64, f64) = (22.5, 37.0);
/// Room of a heading in rows.
const HEADING_ROWS: f64 = 1.7;

/// Draws the column.
pub fn draw(
    side: &mut Side<'_>,
    content: &MapContent<'_>,
    named: &Named,
) -> Result<(), ReportError> {
    legend(side, content, named)?;
    lists(side, content);
    Ok(())
}

fn legend(side: &mut Side<'_>, content: &MapContent<'_>, named: &Named) -> Result<(), ReportError> {
    side.heading("How to read the map", "");
    let unknown = content.coverage.unknown_cells > 0
        || content.site.posts.iter().any(|p| p.outcome == Outcome::Unknown);
    let mut better = None;
    for outcome in Outcome::ALL {
        if outcome == Outcome::Unknown && !unknown {
            continue;
        }
        // Nothing is left for a class that begins where a better one does.
        let from = outcome.from_probability(content.coverage.reliability);
        if from.is_some() && from == better {
            continue;
        }
        better = from;
        let meaning = words::legend(outcome, content.coverage.reliability);
        side.tint_and_mark(
            |width, height| swatch(outcome, width, height),
            |sheet, at| marks::post(sheet, at, outcome),
            &meaning,
        )?;
    }
    side.skip(6.0);
    let all = explained(content, named, Reader::Lead);
    let marked: Vec<Marked<'_>> =
        all.iter().map(|one| (&one.draw as &dyn Fn(&mut Sheet, Point), &*one.text)).collect();
    side.marks_in_rows(&marked);
    side.skip(23.0);
    let mut note =
        "Of 100 spots around a place so many should hear and be heard, by this prediction. \
         Mark: the post. Tint: a radio carried as usual at the middle of each square."
            .to_owned();
    if !content.terrain.buildings().is_empty() {
        note.push_str(" White: houses; inside them radios do worse than on the street.");
    }
    side.paragraph(&note, &Lettering::new(18.0).quiet(), 23.0);
    side.skip(39.0);
    Ok(())
}

/// Where the rows of the list go.
#[derive(Clone, Copy)]
struct Rows {
    left: f64,
    right: f64,
    top: f64,
    height: f64,
    size: f64,
}

impl Rows {
    /// The middle of a row.
    fn middle(&self, line: usize) -> f64 {
        self.top + (line as f64 + 0.5) * self.height
    }

    /// The base line of a row's text.
    fn base(&self, line: usize) -> f64 {
        self.middle(line) + self.size * 0.36
    }

    /// A hairline below a row.
    fn rule(&self, sheet: &mut Sheet, line: usize) {
        let y = self.middle(line) + self.height / 2.0;
        sheet.line((self.left, y), (self.right, y), &Pen::line(HAIRLINE, 1.0));
    }
}

fn lists(side: &mut Side<'_>, content: &MapContent<'_>) {
    // The base line of the heading is what is reached; its letters stand above.
    let top = side.y() - 25.0;
    let posts = content.site.posts.len();
    let shares = content.site.areas.len() + content.site.routes.len();
    // Areas and routes give way to posts: beyond six the rest is counted only.
    let shown_shares = shares.min(6);
    let share_rows = if shares == 0 { 0.0 } else { HEADING_ROWS + shown_shares as f64 };
    let room = BOTTOM - top;
    let single = room / (HEADING_ROWS + posts as f64 + share_rows);
    let groups = by_outcome(content);
    let grouped_rows: usize = groups.iter().map(|(_, posts)| 1 + posts.len().div_ceil(2)).sum();
    let grouped = single < ROWS.0;
    let wanted = if grouped { grouped_rows } else { posts };
    let height = (room / (HEADING_ROWS + wanted as f64 + share_rows)).clamp(ROWS.0, ROWS.1);
    let size = (height * 0.66).min(23.0);

    if content.site.posts.iter().any(|p| p.must) && !grouped {
        let at = (side.left() + 95.0, side.y());
        side.sheet().text(at, "* must work", &Lettering::new(18.0).quiet());
    }
    side.heading("Posts", if grouped { "" } else { "of 100 spots" });
    let top = top + 21.0 + height * (HEADING_ROWS - 1.0);
    let rows = Rows { left: side.left(), right: side.right(), top, height, size };
    let used = if grouped {
        // Whole rows that fit between the heading and the shares, a few at most.
        let fits = (room / height - share_rows - HEADING_ROWS).floor().max(2.0) as usize;
        grouped_list(side.sheet(), &groups, content.coverage.reliability, &rows, fits)
    } else {
        single_list(side.sheet(), content, &rows);
        posts
    };
    if shares > 0 {
        let top = rows.top + (used as f64 + 0.9) * height + 14.0;
        side.skip(top - side.y());
        side.heading("Areas and routes", "share clear both ways");
        share_list(side.sheet(), content, &Rows { top: top + height * 0.45, ..rows }, shown_shares);
    }
}

/// One post a row, in the plan's order, its outcome in words and in spots.
fn single_list(sheet: &mut Sheet, content: &MapContent<'_>, rows: &Rows) {
    let plain = Lettering::new(rows.size);
    let widest = Outcome::ALL
        .iter()
        .map(|o| plain.width(words::short(*o)).max(plain.bold().width(words::short(*o))))
        .fold(0.0, f64::max);
    let count = plain.bold().width("99") + 14.0;
    let mark_x = rows.right - count - widest - 26.0;
    for (index, post) in content.site.posts.iter().enumerate() {
        let lettering = if post.outcome.works() { plain } else { plain.bold() };
        rows.rule(sheet, index);
        let name = if post.must { format!("{} *", post.post) } else { post.post.clone() };
        numbered(sheet, rows, index, index + 1, rows.left, &name, mark_x - 22.0, &lettering);
        marks::post(sheet, (mark_x, rows.middle(index)), post.outcome);
        sheet.text((mark_x + 24.0, rows.base(index)), words::short(post.outcome), &lettering);
        let spots = post.probability.map_or("?".to_owned(), words::hundredths);
        sheet.text((rows.right, rows.base(index)), &spots, &lettering.aligned(Align::Right));
    }
}

/// Two posts a row under their outcome, worst first; returns the rows used.
/// What does not fit into `fits` rows is counted, so nothing goes missing unseen.
fn grouped_list(
    sheet: &mut Sheet,
    groups: &[(Outcome, Vec<(usize, &str)>)],
    reliability: f64,
    rows: &Rows,
    fits: usize,
) -> usize {
    let gap = 20.0;
    let width = (rows.right - rows.left - gap) / 2.0;
    let plain = Lettering::new(rows.size);
    let total: usize = groups.iter().map(|(_, posts)| posts.len()).sum();
    let needed: usize = groups.iter().map(|(_, posts)| 1 + posts.len().div_ceil(2)).sum();
    let last = if needed > fits { fits.saturating_sub(1) } else { fits };
    let (mut line, mut listed) = (0, 0);
    for (outcome, posts) in groups {
        if line + 1 >= last {
            break;
        }
        marks::post(sheet, (rows.left + 16.0, rows.middle(line)), *outcome);
        let title = format!("{} ({})", words::legend(*outcome, reliability), posts.len());
        sheet.text((rows.left + 42.0, rows.base(line)), &title, &plain.bold());
        rows.rule(sheet, line);
        line += 1;
        let deep = posts.len().div_ceil(2).min(last - line);
        for (index, (number, name)) in posts.iter().take(deep * 2).enumerate() {
            let left = rows.left + (index / deep.max(1)) as f64 * (width + gap);
            let row = line + index % deep.max(1);
            numbered(sheet, rows, row, *number, left, name, left + width, &plain);
            listed += 1;
        }
        line += deep;
    }
    if listed < total {
        let text = format!("and {} more: see the table of results", total - listed);
        sheet.text((rows.left + 42.0, rows.base(line)), &text, &plain.oblique());
        line += 1;
    }
    line
}

#[expect(clippy::too_many_arguments, reason = "a row of a table has that many parts")]
fn numbered(
    sheet: &mut Sheet,
    rows: &Rows,
    line: usize,
    number: usize,
    left: f64,
    name: &str,
    right: f64,
    lettering: &Lettering,
) {
    let base = rows.base(line);
    let bold = lettering.bold().aligned(Align::Right);
    sheet.text((left + 30.0, base), &number.to_string(), &bold);
    let room = right - left - 42.0;
    sheet.text_within((left + 42.0, base), name, lettering, room);
}

/// Posts with their numbers under each outcome that occurs, worst first.
fn by_outcome<'a>(content: &MapContent<'a>) -> Vec<(Outcome, Vec<(usize, &'a str)>)> {
    Outcome::ALL
        .iter()
        .rev()
        .map(|outcome| {
            let posts = content.site.posts.iter().enumerate();
            let posts = posts.filter(|(_, p)| p.outcome == *outcome);
            (*outcome, posts.map(|(i, p)| (i + 1, p.post.as_str())).collect::<Vec<_>>())
        })
        .filter(|(_, posts)| !posts.is_empty())
        .collect()
}

fn share_list(sheet: &mut Sheet, content: &MapContent<'_>, rows: &Rows, shown: usize) {
    let Rows { left, right, size, .. } = *rows;
    let lettering = Lettering::new(size);
    let areas = content.site.areas.iter().map(|s| (s, None));
    let routes = content.site.routes.iter().enumerate().map(|(i, r)| (&r.share, Some((i, r))));
    let all: Vec<_> = areas.chain(routes).collect();
    for (line, (score, route)) in all.iter().take(shown).enumerate() {
        let (middle, base) = (rows.middle(line), rows.base(line));
        if let Some((index, _)) = route {
            let dash = ROUTE_DASHES.get(index % ROUTE_DASHES.len()).copied().unwrap_or_default();
            let pen = Pen::line(ACCENT, 4.0).dashed(dash);
            sheet.line((left, middle), (left + 32.0, middle), &pen);
        } else {
            let outline = Frame { left: left + 5.0, top: middle - 7.0, width: 22.0, height: 14.0 };
            sheet.rectangle(outline, 3.0, &Pen::line(INK, 2.4));
        }
        let mut text = words::percent(score.share);
        if let Some(gap) = route.and_then(|(_, r)| r.longest_gap) {
            let units = content.plan.units;
            text = format!(
                "{text}, gap of {} from {}",
                units.distance(gap.length()),
                units.distance(gap.from_m)
            );
        }
        if line + 1 == shown && all.len() > shown {
            text = format!("{text}   (+ {} more in the table)", all.len() - shown);
        }
        let room = right - left - 42.0 - lettering.width(&text) - 20.0;
        sheet.text_within((left + 42.0, base), &score.name, &lettering, room);
        sheet.text((right, base), &text, &lettering.aligned(Align::Right));
        rows.rule(sheet, line);
    }
}
