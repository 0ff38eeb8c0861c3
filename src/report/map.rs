//! The coverage map of one site on one channel: a landscape sheet to hand out.

pub mod choice;
mod footprints;
pub(super) mod frame;
pub(super) mod georeference;
mod grid_lines;
pub(super) mod ground_names;
pub(super) mod land;
pub(super) mod legend;
pub(super) mod marks;
pub(super) mod names;
pub(super) mod place_names;
pub(super) mod rasters;
mod route_line;
mod side;
pub mod spots;
pub mod trackers;
pub(super) mod walk;

use ndarray::Array2;

use perchline_assessment::Assessment;
use perchline_coverage::Coverage;
use perchline_plan::{Plan, Remark, Service, UnitSystem};
use perchline_siting::{RouteCourse, SiteScore};
use perchline_terrain::Terrain;

use super::basemap;
use super::cautions;
use super::layers::Layers;
use super::outputs::{OutboxSlot, OutputError};
use super::print_size;
use super::sheet_layout::{Figure, Foot, Head, MAP_SIZE, SheetLayout};
use super::svg_page::{Frame, Lettering, Sheet, picture, render};
use super::words;
use super::{Provenance, ReportError};
use georeference::MapFrame;
use names::Surroundings;

/// Everything that a map shows.
#[derive(Debug, Clone, Copy)]
pub struct MapContent<'a> {
    /// The plan that the coverage was made for.
    pub plan: &'a Plan,
    /// Its terrain, in the coordinate system of the coverage's grid. What stands there is
    /// drawn as houses without a class, for a class is told of radios in the open.
    pub terrain: &'a Terrain,
    /// Shaded relief, 0 dark to 255 light, on the terrain's cells.
    pub relief: &'a Array2<u8>,
    /// What each cell comes to.
    pub coverage: &'a Coverage,
    /// How the site does.
    pub site: &'a SiteScore,
    /// The plan's routes on their ground, in the plan's order.
    pub courses: &'a [RouteCourse],
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
            terrain: &assessment.terrain,
            relief,
            coverage,
            site,
            courses: assessment.courses(),
            channel,
            remarks: &assessment.remarks,
            provenance: &assessment.provenance,
        }
    }

    /// The land under it.
    pub(super) const fn layers(&self) -> Layers<'a> {
        let grid = &self.coverage.grid;
        Layers { plan: self.plan, terrain: self.terrain, relief: self.relief, grid }
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

/// Writes it as [`draw`] makes it.
pub(super) fn write_png(content: &MapContent<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(&draw(content)?)
}

/// The map as a PNG of 3508 by 2480 pixels, A4 across at 300 pixels an inch, and
/// marked so, that programs print it in its size.
///
/// # Errors
/// [`ReportError`] as for [`draw`].
pub fn draw_for_print(content: &MapContent<'_>) -> Result<Vec<u8>, ReportError> {
    let [across, down] = A4_ACROSS.map(print_size::pixels).map(f64::round);
    let document = drawn(content, across / f64::from(MAP_SIZE.0))?;
    // Some thousand pixels.
    let picture = picture(&document, Some((across as u32, down as u32)))?;
    print_size::with_print_size(&picture, print_size::DOTS_AN_INCH)
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
    let mut layout = SheetLayout::map();
    head(&mut layout, content);
    let sheet = layout.sheet();
    ground(sheet, content, &map, detail)?;
    // Below the marks: one at the rim of the map is not cut by the frame's line.
    frame::border(sheet, &map)?;
    let named = names::draw(sheet, content, &map, Surroundings::default())?;
    frame::below(sheet, &map, content.plan, names::without_room(&named.unnamed).as_deref())?;
    side::draw(&mut layout.side(), content, &named)?;
    foot(&mut layout, content);
    Ok(layout.into_svg())
}

/// Draws the coverage on its relief and what is on the land into the map's frame, with so many
/// pixels of the picture for one of the sheet.
pub(super) fn ground(
    sheet: &mut Sheet,
    content: &MapContent<'_>,
    map: &MapFrame,
    detail: f64,
) -> Result<(), ReportError> {
    let frame = map.frame();
    // The frame has whole pixels, a few thousand at most.
    let picture = basemap::paint(
        content.coverage,
        content.relief,
        content.terrain.grid(),
        (frame.width * detail).round() as u32,
        (frame.height * detail).round() as u32,
    )?;
    sheet.image(frame, &picture)?;
    land::draw(sheet, &content.layers(), map)
}

fn head(layout: &mut SheetLayout, content: &MapContent<'_>) {
    let (event, site) = (&content.plan.event, content.site);
    let mut when = event.starts.strftime("%A %-d %B %Y, %H:%M to ").to_string();
    let ends = if event.starts.date() == event.ends.date() { "%H:%M" } else { "%A %-d %B, %H:%M" };
    when.push_str(&event.ends.strftime(ends).to_string());
    if let Some(agency) = &event.agency {
        when = format!("{when}  ·  {agency}");
    }
    // As in the ranking: a post that no tracker passes does not count.
    let counted = site.counted_posts().count();
    let posts = if counted == 1 { "post" } else { "posts" };
    let posts = match site.posts.len() - counted {
        0 => posts.to_owned(),
        _ => format!("{posts} that trackers pass"),
    };
    let missed = site.missed_must_posts();
    let caption = if missed.is_empty() {
        format!("{posts} should work")
    } else {
        format!("{posts}; misses must-have {}", missed.join(", "))
    };
    let antenna = match content.plan.units {
        UnitSystem::Metric => format!("{:.0} m", site.antenna_above_ground_m.value()),
        UnitSystem::Us => format!("{:.0} ft", site.antenna_above_ground_m.feet()),
    };
    let closed = match (site.available, &site.refused_mast) {
        (false, _) => " (NOT AVAILABLE)",
        (true, Some(_)) => " (POWER LINE TOO NEAR FOR ITS MAST)",
        (true, None) => "",
    };
    let place = format!("{} on {}{closed}", words::capital(station(content)), site.site);
    let channel = format!(
        "antenna {antenna} above the ground  ·  channel {}{}",
        content.channel,
        frequencies(content)
    );
    layout.head(&Head {
        title: &event.name,
        subtitle: &when,
        lead: &[(&place, Lettering::new(29.0).bold()), (&channel, Lettering::new(25.0).quiet())],
        figure: Some(Figure {
            figure: &format!("{} of {counted}", site.posts_covered),
            caption: &caption,
            warns: !missed.is_empty(),
        }),
    });
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
                ", radios transmit {}, receive {} MHz",
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

fn foot(layout: &mut SheetLayout, content: &MapContent<'_>) {
    layout.foot(&Foot {
        notes: &[],
        caveats: &words::foot(content.plan.houses()).join(" "),
        care: &[cautions::IN_A_LINE],
        made: Some(&content.provenance.line()),
        remark: notes(content.remarks).as_deref(),
    });
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
