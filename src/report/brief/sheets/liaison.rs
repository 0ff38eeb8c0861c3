//! Page one: for the liaison, without a radio word.

use crate::ReportError;
use crate::basemap::swatch;
use crate::cautions::Caution;
use crate::map::frame::bar_grid_and_north;
use crate::map::georeference::MapFrame;
use crate::map::legend::{Explained, Reader, explained};
use crate::map::names::Named;
use crate::map::{MapContent, ground, marks, names};
use crate::palette::{ACCENT, INK};
use crate::route_strip::{RouteStrip, strips};
use crate::svg_page::{Align, Frame, Lettering, Pen, ReadableSheet, Role, Sheet};
use crate::typeface::{printable, wrapped};
use perchline_link::Outcome;

use super::flow::{self, Piece};
use super::{Brief, Paper, SMALLEST, blank, foot, rule};
use crate::brief::lower;
use crate::brief::page::shown;

/// Sizes that are tried for the lists: 9.9 points and less.
const SIZES: [f64; 6] = [28.0, 26.0, 24.5, 23.0, 21.5, 20.0];
/// Shares of the sheet's height that the map may take, the first that lets the
/// lists be read.
const MAPS: [f64; 5] = [0.40, 0.35, 0.30, 0.25, 0.20];
/// The least share of the map where routes are drawn below it.
const LEAST_WITH_STRIPS: f64 = 0.35;
/// Smallest size of the lists for which the map gives way.
const READABLE: f64 = 23.0;
/// Size of whom to call and of the times: 8.6 points.
const CALL_SIZE: f64 = 24.5;
/// Free width between columns.
const GUTTER: f64 = 40.0;

pub(super) fn draw(
    brief: &Brief,
    content: &MapContent<'_>,
    paper: Paper,
) -> Result<ReadableSheet, ReportError> {
    let (mut sheet, room) = blank(paper);
    let top = head(&mut sheet, brief, room);
    let top = calls_and_times(&mut sheet, brief, room, top);
    let pieces = pieces(brief);
    let rows = Rows::of(brief, content, room);
    let mut strips = strips(content);
    let routes = strips.len();
    strips.truncate(STRIPS);
    let strips_height: f64 = strips.iter().map(|s| s.height(room.width, STRIP_SIZE)).sum();
    let below = |share: f64, strips: f64| -> Result<(MapFrame, [Frame; 2]), ReportError> {
        let map = fitted_map(content, room, top, share)?;
        let start = strips_top(&map, &rows) + strips;
        let width = (room.width - GUTTER) / 2.0;
        let column =
            Frame { left: room.left, top: start, width, height: room.bottom() - 86.0 - start };
        let other = Frame { left: room.left + width + GUTTER, ..column };
        Ok((map, [column, other]))
    };
    // The map comes before the routes from end to end, which the page has as well.
    let with_strips = MAPS.into_iter().filter(|share| *share >= LEAST_WITH_STRIPS);
    let tried = with_strips.map(|share| (share, strips_height));
    let (mut chosen, mut has_strips) = (below(MAPS[0], 0.0)?, false);
    for (share, height) in tried.chain(MAPS.into_iter().map(|share| (share, 0.0))) {
        (chosen, has_strips) = (below(share, height)?, height > 0.0);
        if flow::fits(&pieces, &chosen.1, READABLE) {
            break;
        }
    }
    let (map, columns) = chosen;
    if !has_strips {
        strips.clear();
    }
    let more_routes = routes - strips.len();
    sheet.begin(Role::Figure(map_in_words(brief)));
    let named = draw_map(&mut sheet, content, room, &map)?;
    let below = map.frame().bottom() + BELOW;
    legend(&mut sheet, content, room, below, &rows.outcomes)?;
    marks_legend(&mut sheet, content, &named, room, below + rows.outcomes_height());
    draw_strips(&mut sheet, &strips, room, strips_top(&map, &rows))?;
    let left_out = flow::draw(&mut sheet, &pieces, &columns, &SIZES);
    let mut text = brief.caveats.join(" ");
    if let Some(said) = names::without_room(&named.unnamed) {
        text = format!("{said} {text}");
    }
    if let Some(told) = &named.grid {
        text = format!("{told}. {text}");
    }
    if more_routes > 0 {
        let more = match (more_routes, strips.is_empty()) {
            (1, true) => "The route is drawn from end to end in brief.html.".to_owned(),
            (_, true) => "Routes are drawn from end to end in brief.html.".to_owned(),
            (1, false) => "1 more route is drawn in brief.html.".to_owned(),
            (more, false) => format!("{more} more routes are drawn in brief.html."),
        };
        text = format!("{more} {text}");
    }
    if left_out > 0 {
        let lines = if left_out == 1 { "line is" } else { "lines are" };
        text = format!("{left_out} more {lines} in brief.html. {text}");
    }
    caveats(&mut sheet, &text, room);
    foot(&mut sheet, room, content.provenance, (1, 2), "for the organiser");
    Ok(sheet.into_readable())
}

/// What to know of the sheet, between the lists and its last line: smaller where it is
/// long, and cut where that is not enough.
fn caveats(sheet: &mut Sheet, text: &str, room: Frame) {
    /// Sizes with how many lines have room, how far apart they stand, and how far above
    /// the sheet's end the first one does.
    const SET: [(f64, usize, f64, f64); 3] =
        [(20.0, 2, 24.0, 52.0), (18.0, 2, 22.0, 50.0), (15.0, 3, 17.5, 60.0)];
    sheet.begin(Role::Paragraph);
    let text = printable(text);
    for (index, (size, most, leading, above)) in SET.into_iter().enumerate() {
        let bold = Lettering::new(size).bold();
        let lines = wrapped(&text, size, bold.cut, room.width);
        if lines.len() <= most || index + 1 == SET.len() {
            let mut y = room.bottom() - above;
            for (number, line) in (1..).zip(lines.iter().take(most)) {
                let cut = number == most && lines.len() > most;
                let line = if cut { format!("{line} …") } else { line.clone() };
                sheet.text_within((room.left, y), &line, &bold, room.width);
                y += leading;
            }
            return;
        }
    }
}

/// Routes that are drawn from end to end; more are in the page.
const STRIPS: usize = 2;
/// Size of their lettering.
const STRIP_SIZE: f64 = 18.0;

/// Where they begin: below the legend.
fn strips_top(map: &MapFrame, rows: &Rows) -> f64 {
    map.frame().bottom() + BELOW + rows.outcomes_height() + rows.marks as f64 * ROW + 4.0
}

fn draw_strips(
    sheet: &mut Sheet,
    strips: &[RouteStrip<'_>],
    room: Frame,
    mut top: f64,
) -> Result<(), ReportError> {
    for strip in strips {
        let height = strip.height(room.width, STRIP_SIZE);
        sheet.begin(Role::Figure(strip.in_words()));
        strip.draw(sheet, Frame { top, height, ..room }, STRIP_SIZE)?;
        top += height;
    }
    Ok(())
}

/// The event, and the one sentence that matters; returns where it ends.
fn head(sheet: &mut Sheet, brief: &Brief, room: Frame) -> f64 {
    let title = Lettering::new(52.0).bold();
    sheet.begin(Role::Heading(1));
    sheet.text_shrunk((room.left, room.top + 46.0), &brief.event, &title, room.width, SMALLEST);
    let when = match &brief.agency {
        Some(agency) => format!("{}  ·  {agency}", brief.date),
        None => brief.date.clone(),
    };
    let small = Lettering::new(25.0);
    sheet.begin(Role::Paragraph);
    sheet.text_shrunk((room.left, room.top + 84.0), &when, &small, room.width, SMALLEST);
    let headline = Lettering::new(36.0).bold().in_colour(ACCENT);
    sheet.begin(Role::Paragraph);
    let y = sheet.paragraph(
        (room.left, room.top + 134.0),
        &brief.headline,
        &headline,
        room.width,
        42.0,
    );
    let site = Lettering::new(25.0);
    sheet.begin(Role::Paragraph);
    let y = sheet.paragraph((room.left, y - 6.0), &brief.site, &site, room.width, 30.0);
    let Some(missing) = brief.missing else { return y - 12.0 };
    sheet.paragraph((room.left, y), missing, &site.bold(), room.width, 30.0) - 12.0
}

/// Whom to call beside the times; returns where both end.
fn calls_and_times(sheet: &mut Sheet, brief: &Brief, room: Frame, top: f64) -> f64 {
    /// No more of the sheet than this.
    const MOST: f64 = 430.0;
    rule(sheet, room, top);
    let mut calls = vec![
        Piece::title("Whom to call"),
        Piece::row("Life at risk:", Caution::Emergency.text().trim_start_matches("Life at risk: ")),
    ];
    calls.extend(brief.contacts.iter().map(|contact| {
        let role = contact.role.as_ref().map_or_else(String::new, |role| format!(" ({role})"));
        let note = contact.note.as_ref().map_or_else(String::new, |note| format!(". {note}"));
        let reached = contact.reached();
        Piece::row(&format!("{}: {reached}", contact.name), &format!("{role}{note}."))
    }));
    if brief.contacts.is_empty() {
        calls.push(Piece::line("", "The plan names nobody. Name and number:"));
    }
    let mut times = vec![Piece::title("Times")];
    times.extend(
        brief.times.iter().map(|entry| Piece::row(&format!("{}:", entry.head), &entry.body)),
    );
    let width = (room.width - GUTTER) / 2.0;
    let mut size = CALL_SIZE;
    for smaller in SIZES.into_iter().filter(|size| *size <= CALL_SIZE) {
        size = smaller;
        let tall = |pieces: &[Piece]| flow::height(pieces, width, size) <= MOST;
        if tall(&calls) && tall(&times) {
            break;
        }
    }
    let height = flow::height(&calls, width, size).max(flow::height(&times, width, size)).min(MOST);
    let column = Frame { left: room.left, top: top + 10.0, width, height };
    let other = Frame { left: room.left + width + GUTTER, ..column };
    // What finds no room here is in the page and in the text.
    let left_out = flow::draw(sheet, &calls, &[column], &[size]);
    flow::draw(sheet, &times, &[other], &[size]);
    let bottom = column.bottom() + if brief.contacts.is_empty() { 60.0 } else { 0.0 };
    if left_out > 0 {
        let more = format!("and {left_out} more in brief.html");
        sheet.begin(Role::Paragraph);
        sheet.text_within(
            (room.left, bottom + 18.0),
            &more,
            &Lettering::new(20.0).oblique(),
            width,
        );
    }
    rule(sheet, room, bottom + 12.0);
    bottom + if left_out > 0 { 46.0 } else { 26.0 }
}

/// The lists: what does not work first, and posts where all should be well last, for
/// what finds no room is cut from the end.
fn pieces(brief: &Brief) -> Vec<Piece> {
    let mut pieces = failing(brief);
    pieces.extend(what_to_do(brief));
    // Areas of which the same is said are named together.
    let mut said: Vec<(Vec<&str>, &str, &[String])> = Vec::new();
    for place in brief.areas.iter().chain(&brief.routes) {
        let alike = said.iter_mut().find(|(_, sentence, advice)| {
            *sentence == place.sentence && advice.is_empty() && place.advice.is_empty()
        });
        match alike {
            Some((names, ..)) => names.push(&place.name),
            None => said.push((vec![&place.name], &place.sentence, &place.advice)),
        }
    }
    if !said.is_empty() {
        pieces.push(Piece::title("Areas and routes"));
        pieces.extend(said.iter().map(|(names, sentence, advice)| {
            Piece::line(&format!("{}:", names.join(", ")), sentence).advised(advice)
        }));
    }
    pieces.extend(working(brief));
    pieces
}

/// The posts that fail under a title, each with what to do; nothing where there are none.
fn failing(brief: &Brief) -> Vec<Piece> {
    let posts = brief.posts.iter().filter(|post| !post.outcome.works());
    let lines: Vec<Piece> = posts
        .map(|post| {
            Piece::line(&format!("{} {}:", post.number, post.name), &post.sentence)
                .marked(post.outcome)
                .advised(&post.advice)
        })
        .collect();
    if lines.is_empty() {
        return lines;
    }
    std::iter::once(Piece::title("Do not count on radio here")).chain(lines).collect()
}

/// The posts that should work under a title with their number: those of which the same is
/// said together, so that they do not hide the others.
fn working(brief: &Brief) -> Vec<Piece> {
    /// So many names in a piece, for a piece is not cut by the end of a column.
    const TOGETHER: usize = 8;
    let mut said: Vec<(Outcome, &str, Vec<String>)> = Vec::new();
    for post in brief.posts.iter().filter(|post| post.outcome.works()) {
        let name = format!("{} {}", post.number, post.name);
        let alike = |(outcome, sentence, names): &&mut (Outcome, &str, Vec<String>)| {
            *outcome == post.outcome && *sentence == post.sentence && names.len() < TOGETHER
        };
        match said.iter_mut().find(alike) {
            Some((_, _, names)) => names.push(name),
            None => said.push((post.outcome, &post.sentence, vec![name])),
        }
    }
    let count: usize = said.iter().map(|(_, _, names)| names.len()).sum();
    let posts = if count == 1 { "post" } else { "posts" };
    let title = format!("{count} {posts} where radio should work; nobody has walked it");
    let lines = said.iter().map(|(outcome, sentence, names)| {
        Piece::line(&format!("{}:", names.join(", ")), sentence).marked(*outcome)
    });
    let title = (count > 0).then(|| Piece::title(&title));
    title.into_iter().chain(lines).collect()
}

/// What anybody does who hears nothing, and what can hurt.
fn what_to_do(brief: &Brief) -> Vec<Piece> {
    let mut pieces = vec![Piece::title("If you hear nothing")];
    pieces.extend(
        (1..).zip(&brief.silence).map(|(number, step)| Piece::line(&format!("{number}."), step)),
    );
    pieces.push(Piece::title("Take care"));
    // Whom to call where a life is at risk stands at the head of the sheet.
    let care = brief.care.iter().filter(|line| *line != Caution::Emergency.text());
    pieces.extend(care.map(|line| Piece::line("", line)));
    pieces
}

/// The map in the middle of the sheet, in the shape of its ground.
pub(crate) fn fitted_map(
    content: &MapContent<'_>,
    room: Frame,
    top: f64,
    share: f64,
) -> Result<MapFrame, ReportError> {
    let grid = &content.coverage.grid;
    let (across, down) = grid.cell_size()?;
    let ground = (grid.columns() as f64 * across.value(), grid.rows() as f64 * down.value());
    let scale = (room.width / ground.0).min(room.height * share / ground.1);
    if !scale.is_finite() {
        return Err(ReportError::Empty { columns: grid.columns(), rows: grid.rows() });
    }
    let (width, height) = ((ground.0 * scale).round(), (ground.1 * scale).round());
    let left = (room.left + (room.width - width) / 2.0).floor();
    MapFrame::filling(grid, Frame { left, top, width, height })
}

/// What the map shows, for whoever does not see it.
pub(super) fn map_in_words(brief: &Brief) -> String {
    let fails = brief.posts.iter().filter(|post| !post.outcome.works());
    let fails: Vec<String> = fails
        .map(|post| format!("{} {} ({})", post.number, post.name, lower(shown(post.outcome))))
        .collect();
    let fails =
        if fails.is_empty() { String::new() } else { format!(" Not at: {}.", fails.join(", ")) };
    format!("Map of the ground with the posts. {} {}{fails}", brief.headline, brief.site)
}

/// Draws the map.
fn draw_map(
    sheet: &mut Sheet,
    content: &MapContent<'_>,
    room: Frame,
    map: &MapFrame,
) -> Result<Named, ReportError> {
    let frame = map.frame();
    ground(sheet, content, map, 1.0)?;
    sheet.rectangle(frame, 0.0, &Pen::line(INK, 2.4));
    let mut named = names::draw(sheet, content, map, names::Surroundings::default())?;
    let base = frame.bottom() + 40.0;
    let ends = (room.left, room.right());
    named.grid = bar_grid_and_north(sheet, map, content.plan, ends, base)?;
    Ok(named)
}

/// From the map to the legend: scale bar and arrow stand between.
const BELOW: f64 = 58.0;
/// Height of a row of the legend.
const ROW: f64 = 36.0;

/// What the legend has.
struct Rows {
    outcomes: Vec<Outcome>,
    /// Rows of marks.
    marks: usize,
}

impl Rows {
    fn of(brief: &Brief, content: &MapContent<'_>, room: Frame) -> Self {
        // Where the map turns out to have no room for distances there is a row to spare.
        let named = Named { distances: !content.plan.routes.is_empty(), ..Named::default() };
        let marks = explained(content, &named, Reader::Liaison);
        Self { outcomes: classes_there(brief, content), marks: in_rows(&marks, room.width).len() }
    }

    /// Height of the classes and of the relay's row.
    fn outcomes_height(&self) -> f64 {
        (self.outcomes.len().div_ceil(3) + 1) as f64 * ROW
    }
}

/// From a mark's middle to its text, and from a text to the next mark at least.
const TO_TEXT: f64 = 34.0;
const TO_NEXT: f64 = 26.0;
/// How the legend is set.
const LEGEND: Lettering = Lettering::new(21.0);

/// Marks in rows of this width, each with the left end of its place.
fn in_rows(marks: &[Explained], room: f64) -> Vec<Vec<(f64, &Explained)>> {
    let mut rows: Vec<Vec<(f64, &Explained)>> = Vec::new();
    let mut x = f64::INFINITY;
    for mark in marks {
        let width = 22.0 + TO_TEXT + LEGEND.width(&mark.text);
        if x + width > room {
            rows.push(Vec::new());
            x = 0.0;
        }
        if let Some(row) = rows.last_mut() {
            row.push((x, mark));
        }
        x += width + TO_NEXT;
    }
    rows
}

/// What the other marks on the map mean.
fn marks_legend(sheet: &mut Sheet, content: &MapContent<'_>, named: &Named, room: Frame, top: f64) {
    let marks = explained(content, named, Reader::Liaison);
    for (number, row) in in_rows(&marks, room.width).iter().enumerate() {
        let middle = top + (number as f64 + 0.5) * ROW;
        for (x, mark) in row {
            let left = room.left + x + 22.0;
            (mark.draw)(sheet, (left, middle));
            let at = (left + TO_TEXT, middle + 7.5);
            sheet.text_within(at, &mark.text, &LEGEND, room.right() - at.0);
        }
    }
}

/// Classes that occur on the map or at a post.
pub(super) fn classes_there(brief: &Brief, content: &MapContent<'_>) -> Vec<Outcome> {
    let on_the_map = |outcome: &Outcome| content.coverage.outcome.iter().any(|o| o == outcome);
    let at_a_post = |outcome: &Outcome| brief.posts.iter().any(|p| p.outcome == *outcome);
    Outcome::ALL.into_iter().filter(|o| on_the_map(o) || at_a_post(o)).collect()
}

fn legend(
    sheet: &mut Sheet,
    content: &MapContent<'_>,
    room: Frame,
    top: f64,
    rows: &[Outcome],
) -> Result<(), ReportError> {
    let text = LEGEND;
    let third = room.width / 3.0;
    for (index, outcome) in rows.iter().enumerate() {
        let left = room.left + (index % 3) as f64 * third;
        let middle = top + ((index / 3) as f64 + 0.5) * ROW;
        let patch = Frame { left, top: middle - 14.0, width: 48.0, height: 28.0 };
        sheet.image(patch, &swatch(*outcome, 48, 28))?;
        sheet.rectangle(patch, 0.0, &Pen::line(INK, 1.2));
        marks::post(sheet, (left + 70.0, middle), *outcome);
        let at = (left + 92.0, middle + 7.5);
        sheet.text_shrunk(at, shown(*outcome), &text, third - 100.0, 0.7);
    }
    let base = top + rows.len().div_ceil(3) as f64 * ROW + 24.0;
    marks::site(sheet, (room.left + 24.0, base - 6.0), 16.0);
    let relay = format!("The relay, on {}.", content.site.site);
    sheet.text_within((room.left + 92.0, base + 1.0), &relay, &text, room.width * 0.5);
    let note = "Tint: a radio in the open. Mark: the post itself.";
    sheet.text_within(
        (room.right(), base + 1.0),
        note,
        &text.aligned(Align::Right),
        room.width * 0.5,
    );
    Ok(())
}
