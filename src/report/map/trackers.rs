//! The map of trackers: each route drawn by how often a tracker on it is heard.

use crate::ReportError;
use crate::answers::{NO_SILENCE, heard_least, longest_silence};
use crate::documents::KeptOff;
use crate::layers::Layers;
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::{ACCENT, INK, PAPER, QUIET};
use crate::sheet_layout::{Figure, Head, SheetLayout, Side};
use crate::svg_page::{Lettering, Pen, Point, Sheet, render};
use crate::tracker_tables::{minutes, net_control_hears};
use crate::{Provenance, words};
use perchline_plan::UnitSystem;
use perchline_siting::trackers::{Hearing, TrackerScore, TrackerStudy};

use super::georeference::MapFrame;
use super::ground_names::NameSizes;
use super::marks::{self, OTHER_SITE_RADIUS, SITE_RADIUS};
use super::names::inside;
use super::place_names::{PlaceNames, land_sheet};
use super::route_line::{RouteLine, box_around, draw_distance};
use super::{inset, land, legend};

/// Everything that the map shows.
#[derive(Clone, Copy)]
pub struct TrackerMap<'a> {
    /// The plan on its land.
    pub layers: Layers<'a>,
    /// What is heard on a channel.
    pub study: &'a TrackerStudy,
    /// What keeps digipeaters off their sites, on whatever channel.
    pub kept_off: &'a [KeptOff<'a>],
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// Trackers that are listed beside the map; the text has all.
const LISTED: usize = 14;
/// Radius of a post's mark.
const POST: f64 = 8.0;

/// Writes the map as a PNG of 2480 by 1754 pixels, if trackers are on the channel.
pub(crate) fn write_png(content: &TrackerMap<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    if content.study.trackers.is_empty() {
        return Ok(());
    }
    slot.bytes(&draw(content)?)
}

/// The map as a PNG of 2480 by 1754 pixels.
///
/// # Errors
/// [`ReportError`] when the map has no area, the relief does not fit its grid, a position
/// cannot be projected, or the picture cannot be made.
pub fn draw(content: &TrackerMap<'_>) -> Result<Vec<u8>, ReportError> {
    render(&draw_svg(content)?)
}

/// The map as an SVG document.
///
/// # Errors
/// [`ReportError`] as for [`draw`].
pub fn draw_svg(content: &TrackerMap<'_>) -> Result<String, ReportError> {
    land_sheet(
        (&content.layers, content.provenance),
        |layout| head(layout, content),
        |sheet, map| on_the_ground(sheet, content, map),
        |column, drawn| side(column, content, drawn),
    )
}

/// What the map shows, for whoever does not see it.
#[must_use]
pub fn in_words(study: &TrackerStudy, kept_off: &[KeptOff<'_>], units: UnitSystem) -> String {
    let silent = longest_silence(&[study], units).unwrap_or_else(|| NO_SILENCE.to_owned());
    let (_, why) = in_the_way(study, kept_off, units);
    let why = if why.is_empty() { why } else { format!("{why} Without that: ") };
    format!("Map of the routes by how often trackers are heard. {why}{}. {silent}", stands(study))
}

/// What keeps the digipeaters of a channel off their sites: the sites, and why.
fn in_the_way<'a>(
    study: &TrackerStudy,
    kept_off: &'a [KeptOff<'a>],
    units: UnitSystem,
) -> (Vec<&'a str>, String) {
    let own = kept_off.iter().filter(|kept| kept.channel == study.channel);
    let why = own.clone().filter_map(|kept| {
        let [why, _] = kept.against.told(kept.site, units)?;
        Some(why)
    });
    (own.map(|kept| kept.site).collect(), why.collect::<Vec<_>>().join(" "))
}

/// Where the digipeaters stand.
fn stands(study: &TrackerStudy) -> String {
    let sites: Vec<&str> = study.digipeaters.iter().map(|d| d.site.as_str()).collect();
    let digipeaters = if sites.len() == 1 { "Digipeater" } else { "Digipeaters" };
    format!("{digipeaters} on {}", sites.join(" and "))
}

fn head(layout: &mut SheetLayout, content: &TrackerMap<'_>) {
    let (plan, study) = (content.layers.plan, content.study);
    let title = match heard_least(&[study]) {
        Some(least) if study.trackers.len() > 1 => {
            format!("{} of beacons or more should get through", words::percent(least.through))
        }
        Some(least) => format!("{} of beacons should get through", words::percent(least.through)),
        None => "No tracker on this channel".to_owned(),
    };
    let subtitle = format!(
        "{}  ·  {}  ·  trackers on channel {}",
        plan.event.name,
        plan.event.starts.strftime("%A %-d %B %Y"),
        study.channel
    );
    let silences =
        study.trackers.iter().filter_map(|score| Some((score, score.along.longest_silence()?)));
    let longest = silences.reduce(|a, b| if b.1.lasts_s > a.1.lasts_s { b } else { a });
    let (figure, caption) = match longest {
        Some((score, silence)) => {
            (minutes(silence.lasts_s), format!("the longest silence, of {}", score.tracker))
        }
        None => ("No silence".to_owned(), "on any route".to_owned()),
    };
    let silent = longest_silence(&[study], plan.units).unwrap_or_else(|| NO_SILENCE.to_owned());
    let stands = stands(study);
    let bold = Lettering::new(29.0).bold();
    // A promise that holds only without what is in the way is neither title nor figure.
    let (off, why) = in_the_way(study, content.kept_off, plan.units);
    if !off.is_empty() {
        let figure = heard_least(&[study]).map(|least| words::percent(least.through));
        return layout.head(&Head {
            title: &format!("Not on {} as it stands", off.join(" and ")),
            subtitle: &subtitle,
            lead: &[(&why, bold)],
            figure: figure.as_deref().map(|figure| Figure {
                figure,
                caption: "of beacons or more without that",
                warns: true,
            }),
        });
    }
    layout.head(&Head {
        title: &title,
        subtitle: &subtitle,
        lead: &[(&stands, bold), (&silent, Lettering::new(25.0).quiet())],
        figure: Some(Figure { figure: &figure, caption: &caption, warns: longest.is_some() }),
    });
}

/// How a stretch is drawn, from the lowest line up.
fn pens(hearing: Hearing) -> Vec<Pen> {
    match hearing {
        Hearing::NearlyAll => vec![Pen::line(PAPER, 10.0), Pen::line(ACCENT, 5.0)],
        Hearing::HalfOrMore => {
            vec![Pen::line(PAPER, 15.0), Pen::line(INK, 10.0), Pen::line(PAPER, 5.0).dashed("11 8")]
        }
        Hearing::FewerThanHalf => vec![Pen::line(PAPER, 18.0), Pen::line(INK, 12.0)],
        Hearing::Unknown => vec![Pen::line(PAPER, 11.0), Pen::line(INK, 5.0).dashed("3 9")],
    }
}

/// What a stretch so drawn means.
const fn meaning(hearing: Hearing) -> &'static str {
    match hearing {
        Hearing::NearlyAll => "Nearly all beacons heard: 95 of 100",
        Hearing::HalfOrMore => "Half of them or more",
        Hearing::FewerThanHalf => "Fewer than half: silent",
        Hearing::Unknown => "Not known: gap in the terrain file",
    }
}

/// The tracker that is heard least along a route while nobody else sends.
fn least_on<'a>(study: &'a TrackerStudy, route: &str) -> Option<&'a TrackerScore> {
    let on_it = study.trackers.iter().filter(|score| score.route == route);
    on_it.min_by(|a, b| a.along.heard.total_cmp(&b.along.heard))
}

/// What came of drawing the map.
struct Drawn {
    distances: bool,
    idle_routes: bool,
}

fn on_the_ground(
    sheet: &mut Sheet,
    content: &TrackerMap<'_>,
    map: &MapFrame,
) -> Result<(Drawn, Vec<String>), ReportError> {
    let (plan, study, frame) = (content.layers.plan, content.study, map.frame());
    let mut names = PlaceNames::on_grid(sheet, map, plan)?;
    let (mut routes, mut idle_routes) = (Vec::new(), false);
    for route in &plan.routes {
        let line = RouteLine::of(map, &route.line)?;
        names.spare(&line.points());
        match least_on(study, &route.name) {
            None => {
                idle_routes = true;
                line.draw_stretch(sheet, frame, None, &idle_pens());
            }
            Some(score) => {
                for stretch in &score.along.stretches {
                    let ends = (stretch.from_m.value(), stretch.to_m.value());
                    line.draw_stretch(sheet, frame, Some(ends), &pens(stretch.hearing));
                }
                routes.push(line);
            }
        }
    }
    let is_digipeater = |name: &str| study.digipeaters.iter().any(|d| d.site == name);
    let (mut digipeaters, mut others, mut posts) = (Vec::new(), Vec::new(), Vec::new());
    for site in &plan.sites {
        let Some(at) = inside(map.at(site.at)?, inset(frame, OTHER_SITE_RADIUS)) else { continue };
        if is_digipeater(&site.name) {
            let lettering = Lettering::new(26.0).bold().in_colour(ACCENT);
            names.add(at, SITE_RADIUS, (None, &site.name), lettering, 0);
            digipeaters.push(at);
        } else {
            names.keep_off(super::names::square(at, OTHER_SITE_RADIUS));
            others.push(at);
        }
    }
    for post in &plan.posts {
        let Some(at) = inside(map.at(post.at)?, frame) else { continue };
        let lettering = Lettering::new(20.0);
        let lettering = if post.net_control { lettering.bold() } else { lettering };
        names.add(at, POST, (None, &post.name), lettering, 2 - usize::from(post.net_control));
        posts.push(at);
    }
    let mut distances = Vec::new();
    for route in &routes {
        for (number, at) in route.distances(map, plan.units, names.taken()) {
            names.keep_off(box_around(at));
            distances.push((number, at));
        }
    }
    for route in &routes {
        route.draw_arrows(sheet, map, names.taken());
    }
    for (number, at) in &distances {
        draw_distance(sheet, *number, *at);
    }
    names.add_ground(&content.layers, map, NameSizes::SHEET)?;
    let placed = names.placed(frame);
    placed.draw_ground(sheet);
    placed.draw_leaders(sheet);
    others.into_iter().for_each(|at| marks::other_site(sheet, at));
    posts.into_iter().for_each(|at| post_mark(sheet, at));
    digipeaters.into_iter().for_each(|at| marks::site(sheet, at, SITE_RADIUS));
    Ok((Drawn { distances: !distances.is_empty(), idle_routes }, placed.draw(sheet)))
}

/// How a route on which no tracker is goes.
fn idle_pens() -> Vec<Pen> {
    vec![Pen::line(PAPER, 6.0), Pen::line(QUIET, 2.4).dashed("8 6")]
}

fn post_mark(sheet: &mut Sheet, at: Point) {
    sheet.circle(at, POST - 1.0, &Pen::line(PAPER, 2.0).filled(INK));
}

/// A piece of a line for the legend.
fn sample(sheet: &mut Sheet, (x, y): Point, pens: &[Pen]) {
    for pen in pens {
        sheet.line((x - 16.0, y), (x + 18.0, y), pen);
    }
}

fn side(side: &mut Side<'_>, content: &TrackerMap<'_>, drawn: &Drawn) -> Result<(), ReportError> {
    let (plan, study) = (content.layers.plan, content.study);
    side.heading("How to read the map", "");
    let there = |hearing: &Hearing| {
        let stretches = study.trackers.iter().flat_map(|score| &score.along.stretches);
        stretches.clone().any(|stretch| stretch.hearing == *hearing)
    };
    for hearing in Hearing::ALL.into_iter().filter(there) {
        side.mark(|sheet, at| sample(sheet, at, &pens(hearing)), meaning(hearing));
    }
    if drawn.idle_routes {
        side.mark(|sheet, at| sample(sheet, at, &idle_pens()), "Route without a tracker here");
    }
    if drawn.distances {
        side.mark(legend::distance_mark, legend::distance(plan.units));
    }
    side.marks_in_rows(&[
        (&|sheet, at| marks::site(sheet, at, 18.0), "Digipeater"),
        (&|sheet, at| marks::other_site(sheet, at), "Other site"),
        (&post_mark, "Post"),
    ]);
    land::legend(side, &content.layers);
    side.skip(39.0);
    side.heading("Trackers", "get through; longest silence");
    side.skip(-6.0);
    for (number, score) in (1..).zip(study.trackers.iter().take(LISTED)) {
        let silence = score.along.longest_silence();
        let silence = silence.map_or_else(|| "none".to_owned(), |s| minutes(s.lasts_s));
        let figures = format!("{}; {silence}", words::percent(score.through));
        side.numbered(number, &score.tracker, &figures);
    }
    let small = Lettering::new(20.0);
    let more = study.trackers.len().saturating_sub(LISTED);
    if more > 0 {
        side.line(&format!("and {more} more in trackers.txt"), &small.oblique(), 34.0);
    }
    side.skip(44.0);
    let hears = study.digipeaters.iter().take(4).filter_map(net_control_hears);
    for told in [DRAWN_AS.to_owned()].into_iter().chain(hears) {
        side.paragraph(&told, &small.quiet(), 26.0);
        side.skip(6.0);
    }
    Ok(())
}

/// What the lines do not count.
const DRAWN_AS: &str = "Each route is drawn as the tracker that is heard least on it, while \
    nobody else sends. Of what is heard some is lost to collisions: the list counts that.";
