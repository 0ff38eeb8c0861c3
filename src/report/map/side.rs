//! The column beside the map: what the marks mean, and every post by name.

use crate::link::Outcome;
use crate::report::ReportError;
use crate::report::basemap::swatch;
use crate::report::palette::{ACCENT, HAIRLINE, INK, OUTCOMES};
use crate::report::svg_page::{Align, Frame, Lettering, Pen, Sheet};
use crate::report::typeface::{fitted, printable};
use crate::report::words;

use super::MapContent;
use super::layout::{RIGHT, SIDE_LEFT};
use super::marks;
use super::names::ROUTE_DASHES;

/// The lower edge of the column.
const BOTTOM: f64 = 1568.0;
/// Row height of the legend.
const LEGEND_ROW: f64 = 39.0;
/// Rows of the list are no higher and no lower than this.
const ROWS: (f64, f64) = (22.5, 37.0);
/// Room of a heading in rows.
const HEADING_ROWS: f64 = 1.7;

/// Draws the column.
pub fn draw(sheet: &mut Sheet, content: &MapContent<'_>) -> Result<(), ReportError> {
    let top = legend(sheet, content)?;
    lists(sheet, content, top);
    Ok(())
}

fn heading(sheet: &mut Sheet, y: f64, text: &str, note: &str) {
    sheet.text((SIDE_LEFT, y), text, &Lettering::new(25.0).bold());
    let small = Lettering::new(18.0).quiet().aligned(Align::Right);
    sheet.text((RIGHT, y), note, &small);
}

fn legend(sheet: &mut Sheet, content: &MapContent<'_>) -> Result<f64, ReportError> {
    let mut y = 286.0;
    heading(sheet, y, "How to read the map", "");
    y += 16.0;
    let line = Lettering::new(23.0);
    let unknown = content.coverage.unknown_cells > 0
        || content.site.posts.iter().any(|p| p.outcome == Outcome::Unknown);
    for outcome in OUTCOMES {
        if outcome == Outcome::Unknown && !unknown {
            continue;
        }
        let patch = Frame { left: SIDE_LEFT, top: y + 5.0, width: 56.0, height: 29.0 };
        sheet.image(patch, &swatch(outcome, 56, 29))?;
        sheet.rectangle(patch, 0.0, &Pen::line(INK, 1.2));
        marks::post(sheet, (SIDE_LEFT + 84.0, y + 19.5), outcome);
        sheet.text((SIDE_LEFT + 112.0, y + 27.5), words::legend(outcome), &line);
        y += LEGEND_ROW;
    }
    y += 6.0;
    let third = (RIGHT - SIDE_LEFT) / 3.0;
    marks::site(sheet, (SIDE_LEFT + 18.0, y + 19.0), 18.0);
    let station = super::capital(super::station(content));
    sheet.text((SIDE_LEFT + 46.0, y + 27.0), &station, &line);
    if !content.plan.areas.is_empty() {
        let x = SIDE_LEFT + third;
        let outline = Frame { left: x, top: y + 7.0, width: 34.0, height: 24.0 };
        sheet.rectangle(outline, 4.0, &Pen::line(INK, 3.4));
        sheet.text((x + 46.0, y + 27.0), "Staging area", &line);
    }
    if !content.plan.routes.is_empty() {
        let x = SIDE_LEFT + 2.0 * third + 20.0;
        sheet.line((x, y + 19.0), (x + 40.0, y + 19.0), &Pen::line(ACCENT, 5.0));
        sheet.text((x + 54.0, y + 27.0), "Route", &line);
    }
    y += 44.0;
    let per_hundred = content.plan.prediction.reliability * 100.0;
    let note = format!(
        "Clear: at least {} of 100 spots work, in both directions. Mark: the post. Tint: the \
         ground around it.",
        format!("{per_hundred:.1}").trim_end_matches(".0")
    );
    let small = Lettering::new(18.0).quiet();
    Ok(sheet.paragraph((SIDE_LEFT, y + 18.0), &note, &small, RIGHT - SIDE_LEFT, 23.0) + 14.0)
}

fn lists(sheet: &mut Sheet, content: &MapContent<'_>, top: f64) {
    let posts = content.site.posts.len();
    let shares = content.site.areas.len() + content.site.routes.len();
    // Areas and routes give way to posts: beyond six they are counted only.
    let shown_shares = shares.min(6);
    let share_rows = if shares == 0 { 0.0 } else { HEADING_ROWS + shown_shares as f64 };
    let room = BOTTOM - top;
    let one_column = HEADING_ROWS + posts as f64 + share_rows;
    let columns = if room / one_column >= ROWS.0 { 1 } else { 2 };
    let deep = posts.div_ceil(columns);
    let rows = HEADING_ROWS + deep as f64 + share_rows;
    let row = (room / rows).clamp(ROWS.0, ROWS.1);
    // Whole rows that fit under the heading and above the shares.
    let fits = ((room / row - share_rows - HEADING_ROWS).floor().max(1.0)) as usize;
    let deep = deep.min(fits);
    let shown = posts.min(deep * columns);
    // Where some must be left out, the last line says how many.
    let shown = if shown < posts { shown.saturating_sub(1) } else { shown };
    let size = (row * 0.66).min(23.0);

    let mut y = top + 25.0;
    let note = if columns == 1 { "" } else { "marks as above" };
    heading(sheet, y, "Posts", note);
    y += row * (HEADING_ROWS - 1.0) - 4.0;
    let gap = 24.0;
    let width = (RIGHT - SIDE_LEFT - gap * (columns as f64 - 1.0)) / columns as f64;
    for (index, post) in content.site.posts.iter().take(shown).enumerate() {
        let (column, line) = (index / deep.max(1), index % deep.max(1));
        let left = SIDE_LEFT + column as f64 * (width + gap);
        let base = y + (line as f64 + 0.5) * row + size * 0.36;
        let middle = y + (line as f64 + 0.5) * row;
        let lettering = Lettering::new(size);
        sheet.line((left, middle + row / 2.0), (left + width, middle + row / 2.0), &Pen::line(HAIRLINE, 1.0));
        let number = (index + 1).to_string();
        sheet.text((left + 30.0, base), &number, &lettering.bold().aligned(Align::Right));
        let outcome = if columns == 1 { words::short(post.outcome) } else { "" };
        let outcome_width = lettering.width(outcome);
        let mark_x = left + width - if columns == 1 { 214.0 } else { 14.0 };
        scaled_mark(sheet, (mark_x, middle), post.outcome);
        let strong = if words::works(post.outcome) { lettering } else { lettering.bold() };
        if outcome_width > 0.0 {
            sheet.text((mark_x + 24.0, base), outcome, &strong);
        }
        let room = mark_x - 20.0 - (left + 42.0);
        let name = fitted(&printable(&post.post), size, strong.cut, room);
        sheet.text((left + 42.0, base), &name, &strong);
    }
    if shown < posts {
        let base = y + (deep as f64 - 0.5) * row + size * 0.36;
        let text = format!("and {} more: see the table of results", posts - shown);
        let left = SIDE_LEFT + (columns as f64 - 1.0) * (width + gap);
        sheet.text((left, base), &fitted(&text, size, Lettering::new(size).cut, width), &Lettering::new(size).oblique());
    }
    y += deep as f64 * row;
    if shares > 0 {
        share_list(sheet, content, y + row * 0.9, row, size, shown_shares);
    }
}

fn scaled_mark(sheet: &mut Sheet, at: (f64, f64), outcome: Outcome) {
    marks::post(sheet, at, outcome);
}

fn share_list(
    sheet: &mut Sheet,
    content: &MapContent<'_>,
    top: f64,
    row: f64,
    size: f64,
    shown: usize,
) {
    let mut y = top + 14.0;
    heading(sheet, y, "Areas and routes", "share that works both ways");
    y += row * 0.45;
    let lettering = Lettering::new(size);
    let areas = content.site.areas.iter().map(|s| (s, None));
    let routes = content.site.routes.iter().enumerate().map(|(i, s)| (s, Some(i)));
    let all: Vec<_> = areas.chain(routes).collect();
    for (line, (score, route)) in all.iter().take(shown).enumerate() {
        let middle = y + (line as f64 + 0.5) * row;
        let base = middle + size * 0.36;
        if let Some(index) = route {
            let dash = ROUTE_DASHES.get(index % ROUTE_DASHES.len()).copied().unwrap_or_default();
            sheet.line((SIDE_LEFT, middle), (SIDE_LEFT + 32.0, middle), &Pen::line(ACCENT, 4.0).dashed(dash));
        } else {
            let outline = Frame { left: SIDE_LEFT + 5.0, top: middle - 7.0, width: 22.0, height: 14.0 };
            sheet.rectangle(outline, 3.0, &Pen::line(INK, 2.4));
        }
        let mut text = words::percent(score.share);
        if line + 1 == shown && all.len() > shown {
            text = format!("{text}   (+ {} more in the table)", all.len() - shown);
        }
        let room = RIGHT - SIDE_LEFT - 42.0 - lettering.width(&text) - 20.0;
        let name = fitted(&printable(&score.name), size, lettering.cut, room);
        sheet.text((SIDE_LEFT + 42.0, base), &name, &lettering);
        sheet.text((RIGHT, base), &text, &lettering.aligned(Align::Right));
        sheet.line((SIDE_LEFT, middle + row / 2.0), (RIGHT, middle + row / 2.0), &Pen::line(HAIRLINE, 1.0));
    }
}
