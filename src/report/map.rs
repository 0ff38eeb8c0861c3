//! The coverage map of one site on one channel: a landscape sheet to hand out.

pub(super) mod footprints;
pub(super) mod frame;
pub(super) mod layout;
pub(super) mod marks;
pub(super) mod names;
mod side;
pub mod spots;

use ndarray::Array2;

use perchline_assessment::Assessment;
use perchline_coverage::Coverage;
use perchline_plan::{Plan, Remark, Service, UnitSystem};
use perchline_siting::SiteScore;
use perchline_terrain::{Building, Grid};

use super::basemap;
use super::palette;
use super::print_size;
use super::svg_page::{Frame, Lettering, Pen, Sheet, render, render_to};
use super::typeface::fitted;
use super::words;
use super::{Provenance, ReportError};
use layout::{LEFT, MapFrame, RIGHT, SHEET_HEIGHT, SHEET_WIDTH, SIDE_LEFT};

/// Everything that a map shows.
#[derive(Debug, Clone, Copy)]
pub struct MapContent<'a> {
    /// The plan that the coverage was made for.
    pub plan: &'a Plan,
    /// The grid of `relief`, in the coordinate system of the coverage's grid.
    pub ground: &'a Grid,
    /// Shaded relief, 0 dark to 255 light, on the cells of `ground`.
    pub relief: &'a Array2<u8>,
    /// What stands there; drawn as houses without a class, for a class is told
    /// of radios in the open.
    pub buildings: &'a [Building],
    /// What each cell comes to.
    pub coverage: &'a Coverage,
    /// How the site does.
    pub site: &'a SiteScore,
    /// Name of the channel.
    pub channel: &'a str,
    /// What a person should know before trusting it.
    pub remarks: &'a [Remark],
    /// What it was made with.
    pub provenance: &'a Provenance,
}

impl<'a> MapContent<'a> {
    /// The map of a site's coverage on `channel`, over the terrain's `relief`.
    #[must_use]
    pub fn of(
        assessment: &'a Assessment,
        relief: &'a Array2<u8>,
        channel: &'a str,
        site: &'a SiteScore,
        coverage: &'a Coverage,
    ) -> Self {
        Self {
            plan: &assessment.plan,
            ground: assessment.terrain.grid(),
            relief,
            buildings: assessment.terrain.buildings(),
            coverage,
            site,
            channel,
            remarks: &assessment.remarks,
            provenance: &assessment.provenance,
        }
    }
}

/// The map as a PNG of 2480 by 1754 pixels, A4 across at 212 pixels an inch.
///
/// # Errors
/// [`ReportError`] when the map has no area, a layer does not fit its grid, a
/// position cannot be projected, or the picture cannot be made.
pub fn draw(content: &MapContent<'_>) -> Result<Vec<u8>, ReportError> {
    render(&draw_svg(content)?)
}

/// The map as a PNG of 3508 by 2480 pixels, A4 across at 300 pixels an inch, and
/// marked so, that programs print it in its size.
///
/// # Errors
/// [`ReportError`] as for [`draw`].
pub fn draw_for_print(content: &MapContent<'_>) -> Result<Vec<u8>, ReportError> {
    let [across, down] = A4_ACROSS.map(print_size::pixels).map(f64::round);
    let document = drawn(content, across / f64::from(SHEET_WIDTH))?;
    // Some thousand pixels.
    print_size::with_print_size(&render_to(&document, (across as u32, down as u32))?)
}

/// Width and height of A4 across, millimetres (ISO 216).
const A4_ACROSS: [f64; 2] = [297.0, 210.0];

/// The map as an SVG document, its base picture inside.
///
/// # Errors
/// [`ReportError`] as for [`draw`].
pub fn draw_svg(content: &MapContent<'_>) -> Result<String, ReportError> {
    drawn(content, 1.0)
}

/// The same with so many pixels of the base picture for one of the sheet.
fn drawn(content: &MapContent<'_>, detail: f64) -> Result<String, ReportError> {
    let map = MapFrame::fit(&content.coverage.grid)?;
    let mut sheet = Sheet::new(SHEET_WIDTH, SHEET_HEIGHT);
    head(&mut sheet, content);
    let frame = map.frame();
    // The frame has whole pixels, a few thousand at most.
    let picture = basemap::paint(
        content.coverage,
        content.relief,
        content.ground,
        (frame.width * detail).round() as u32,
        (frame.height * detail).round() as u32,
    )?;
    sheet.image(frame, &picture)?;
    footprints::draw(&mut sheet, content.buildings, &map)?;
    let unnamed = names::draw(&mut sheet, content, &map)?;
    frame::draw(&mut sheet, &map, content.plan.units, unnamed)?;
    side::draw(&mut sheet, content)?;
    foot(&mut sheet, content);
    Ok(sheet.into_svg())
}

fn head(sheet: &mut Sheet, content: &MapContent<'_>) {
    let event = &content.plan.event;
    let room = SIDE_LEFT - 60.0 - LEFT;
    title(sheet, &event.name, room);
    let mut when = event.starts.strftime("%A %-d %B %Y, %H:%M to ").to_string();
    let ends = if event.starts.date() == event.ends.date() { "%H:%M" } else { "%A %-d %B, %H:%M" };
    when.push_str(&event.ends.strftime(ends).to_string());
    if let Some(agency) = &event.agency {
        when = format!("{when}  ·  {agency}");
    }
    let second = Lettering::new(29.0).quiet();
    sheet.text((LEFT, 203.0), &fit(&when, &second, room), &second);

    let covered = content.site.posts.iter().filter(|p| p.outcome.works()).count();
    let station = station(content);
    sheet.text(
        (SIDE_LEFT, 150.0),
        &format!("{covered} of {}", content.site.posts.len()),
        &Lettering::new(62.0).bold().in_colour(palette::ACCENT),
    );
    let posts = if content.site.posts.len() == 1 { "post" } else { "posts" };
    let missed = content.site.missed_must_posts();
    let (caption, lettering) = if missed.is_empty() {
        (format!("{posts} should work both ways"), Lettering::new(29.0))
    } else {
        let warning = Lettering::new(29.0).bold().in_colour(palette::ACCENT);
        (format!("{posts}; misses must-have {}", missed.join(", ")), warning)
    };
    sheet.text((SIDE_LEFT, 203.0), &fit(&caption, &lettering, RIGHT - SIDE_LEFT), &lettering);
    sheet.line((LEFT, 236.0), (RIGHT, 236.0), &Pen::line(palette::INK, 2.0));

    let line = Lettering::new(29.0);
    let antenna = match content.plan.units {
        UnitSystem::Metric => format!("{:.0} m", content.site.antenna_above_ground_m.value()),
        UnitSystem::Us => format!("{:.0} ft", content.site.antenna_above_ground_m.feet()),
    };
    let closed = if content.site.available { "" } else { " (NOT AVAILABLE)" };
    let place = format!("{} on {}{closed}", capital(station), content.site.site);
    let channel = format!(
        "antenna {antenna} above the ground  ·  channel {}{}",
        content.channel,
        frequencies(content)
    );
    let place_width = room * 0.5;
    let place = fit(&place, &line.bold(), place_width);
    sheet.text((LEFT, 286.0), &place, &line.bold());
    let used = line.bold().width(&place) + 24.0;
    let quiet = Lettering::new(25.0).quiet();
    sheet.text((LEFT + used, 286.0), &fit(&channel, &quiet, room - used), &quiet);
}

/// The event's name; a long one is set smaller before it is cut.
pub(super) fn title(sheet: &mut Sheet, name: &str, room: f64) {
    let title = Lettering::new(62.0).bold();
    let wide = title.width(&super::typeface::printable(name));
    let title = Lettering { size: (62.0 * room / wide.max(room)).max(40.0), ..title };
    sheet.text((LEFT, 150.0), &fit(name, &title, room), &title);
}

fn station(content: &MapContent<'_>) -> &'static str {
    content
        .plan
        .channels
        .iter()
        .find(|c| c.name == content.channel)
        .map_or("station", |c| words::station(c.service))
}

fn frequencies(content: &MapContent<'_>) -> String {
    let channel = content.plan.channels.iter().find(|c| c.name == content.channel);
    match channel.map(|c| c.service) {
        Some(Service::Relay { input, output, .. }) => {
            format!(
                ", radios send on {}, listen on {} MHz",
                words::megahertz(input),
                words::megahertz(output)
            )
        }
        Some(Service::Simplex { frequency } | Service::Packet { frequency, .. }) => {
            format!(", {} MHz", words::megahertz(frequency))
        }
        None => String::new(),
    }
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn fit(text: &str, lettering: &Lettering, room: f64) -> String {
    fitted(&super::typeface::printable(text), lettering.size, lettering.cut, room)
}

/// What every map says last: what to know of it, what to take care of, what it
/// was made with.
pub(super) fn last_lines(sheet: &mut Sheet, covered: bool, care: &str, made: &str) {
    sheet.line((LEFT, 1588.0), (RIGHT, 1588.0), &Pen::line(palette::HAIRLINE, 2.0));
    let lines = [
        (1630.0, words::caveats(covered).join(" "), Lettering::new(28.0).bold()),
        (1666.0, care.to_owned(), Lettering::new(23.0)),
        (1700.0, made.to_owned(), Lettering::new(17.0).quiet()),
    ];
    for (y, text, lettering) in lines {
        sheet.text((LEFT, y), &fit(&text, &lettering, RIGHT - LEFT), &lettering);
    }
}

fn foot(sheet: &mut Sheet, content: &MapContent<'_>) {
    let provenance = content.provenance;
    let inputs: Vec<String> = provenance
        .inputs
        .iter()
        .map(|input| {
            let name = input.path.file_name().map(|n| n.to_string_lossy().into_owned());
            let digest: String = input.sha256.chars().take(12).collect();
            format!("{} ({digest})", name.unwrap_or_default())
        })
        .collect();
    let made = format!(
        "Made {} with Perchline {}, method {}, effective-earth factor {:.2}. From: {}",
        provenance.made_at,
        provenance.version,
        provenance.method,
        provenance.k_factor,
        inputs.join(", ")
    );
    last_lines(
        sheet,
        content.plan.is_covered(),
        "On a roof: keep people away from a transmitting antenna, keep back from edges and power \
         lines, come down before lightning, and follow local rules.",
        &made,
    );
    if let Some(notes) = notes(content.remarks) {
        let small = Lettering::new(17.0).quiet();
        sheet.text((LEFT, 1726.0), &fit(&notes, &small, RIGHT - LEFT), &small);
    }
}

/// The first remark and how many there are, for the foot of the sheet.
fn notes(remarks: &[Remark]) -> Option<String> {
    let first = remarks.first()?;
    let more = match remarks.len() {
        1 => String::new(),
        n => format!(" (1 of {n} notes; all are in the tables)"),
    };
    Some(format!("Note{more}: {}: {}", first.about, first.text))
}

/// The part of `frame` that stays `by` within it.
fn inset(frame: Frame, by: f64) -> Frame {
    frame.grown(-by)
}
