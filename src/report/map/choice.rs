//! The map of a choice of sites: the relays by letter, and a line from each post to the
//! relay that serves it.

use crate::ReportError;
use crate::answers::{left_out, relays_on};
use crate::layers::Layers;
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::{ACCENT, INK, PAPER};
use crate::sheet_layout::{Figure, Head, Marked, SheetLayout, Side};
use crate::svg_page::{Align, Lettering, Pen, Point, Sheet, outline, render};
use crate::{Provenance, words};
use perchline_link::Outcome;
use perchline_plan::Plan;
use perchline_siting::choose::{Choice, Sector, Wide};

use super::georeference::MapFrame;
use super::ground_names::NameSizes;
use super::inset;
use super::land;
use super::legend::area_mark;
use super::marks::{self, OTHER_SITE_RADIUS, POST_RADIUS, SITE_RADIUS};
use super::names::{inside, square};
use super::place_names::{PlaceNames, land_sheet};

/// Everything that the map shows.
#[derive(Clone, Copy)]
pub struct ChoiceMap<'a> {
    /// The plan on its land.
    pub layers: Layers<'a>,
    /// What was chosen.
    pub choice: &'a Choice,
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// Lines to relays are told apart by dash as well as by where they lead.
const DASHES: [&str; 4] = ["", "16 8", "4 7", "22 7 4 7"];
/// The lower edge of the column.
const BOTTOM: f64 = 1560.0;
/// Size of the lists, and from one of their lines to the next.
const LIST: (f64, f64) = (20.0, 26.0);

/// Writes the map as a PNG of 2480 by 1754 pixels.
pub(crate) fn write_png(content: &ChoiceMap<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(&draw(content)?)
}

/// The map as a PNG of 2480 by 1754 pixels.
///
/// # Errors
/// [`ReportError`] when the map has no area, the relief does not fit its grid, a position
/// cannot be projected, or the picture cannot be made.
pub fn draw(content: &ChoiceMap<'_>) -> Result<Vec<u8>, ReportError> {
    render(&draw_svg(content)?)
}

/// The map as an SVG document.
///
/// # Errors
/// [`ReportError`] as for [`draw`].
pub fn draw_svg(content: &ChoiceMap<'_>) -> Result<String, ReportError> {
    land_sheet(
        (&content.layers, content.provenance),
        |layout| head(layout, content),
        |sheet, map| Ok(((), on_the_ground(sheet, content, map)?)),
        |column, ()| side(column, content),
    )
}

/// What the map shows, for whoever does not see it.
#[must_use]
pub fn in_words(choice: &Choice) -> String {
    let served = choice.first.sites.iter().map(|site| {
        let posts: Vec<&str> = served_by(choice, site).map(|(_, s)| s.post.as_str()).collect();
        format!(
            "{site} serves {}",
            if posts.is_empty() { "no post".to_owned() } else { posts.join(", ") }
        )
    });
    let served: Vec<String> = served.collect();
    let fails = left_out(choice).map_or_else(String::new, |fails| format!(" {fails}"));
    format!(
        "Map of the chosen sites, {}, with a line from each post to its relay. {}.{fails}",
        relays_on(choice),
        served.join("; ")
    )
}

/// The posts of which a site is the first, with their numbers.
fn served_by<'a>(
    choice: &'a Choice,
    site: &'a str,
) -> impl Iterator<Item = (usize, &'a Sector)> + 'a {
    let posts = (1..).zip(&choice.sectors.posts);
    posts.filter(move |(_, sector)| {
        sector.first.as_ref().is_some_and(|duty| duty.site == site && duty.outcome.works())
    })
}

/// The letter of a site of the set.
fn letter(place: usize) -> char {
    u8::try_from(place).map_or('?', |place| char::from(b'A'.saturating_add(place.min(25))))
}

fn dash(place: usize) -> &'static str {
    DASHES.get(place % DASHES.len()).copied().unwrap_or_default()
}

fn head(layout: &mut SheetLayout, content: &ChoiceMap<'_>) {
    let (plan, choice) = (content.layers.plan, content.choice);
    let subtitle = format!(
        "{}  ·  {}  ·  channel {}",
        plan.event.name,
        plan.event.starts.strftime("%A %-d %B %Y"),
        choice.channel
    );
    let posts = choice.sectors.posts.len();
    let fails = left_out(choice);
    let lead = fails.as_deref().unwrap_or("Every post should work from one of them at least.");
    layout.head(&Head {
        title: &words::capital(&relays_on(choice)),
        subtitle: &subtitle,
        lead: &[(lead, Lettering::new(29.0).bold())],
        figure: Some(Figure {
            figure: &format!("{} of {posts}", choice.first.posts_covered),
            caption: if posts == 1 { "post should work" } else { "posts should work" },
            warns: fails.is_some(),
        }),
    });
}

fn routes_and_areas(
    sheet: &mut Sheet,
    plan: &Plan,
    map: &MapFrame,
    names: &mut PlaceNames,
) -> Result<(), ReportError> {
    let frame = map.frame();
    for route in &plan.routes {
        let line = map.along(&route.line)?;
        let path = outline(line.iter().copied(), false);
        sheet.path_within(frame, &path, &Pen::line(PAPER, 9.0));
        sheet.path_within(frame, &path, &Pen::line(ACCENT, 3.4));
        names.spare(&line);
    }
    for area in &plan.areas {
        let path = outline(map.along(area.outline.exterior())?, true);
        sheet.path_within(frame, &path, &Pen::line(PAPER, 8.0));
        sheet.path_within(frame, &path, &Pen::line(INK, 3.4));
    }
    Ok(())
}

fn on_the_ground(
    sheet: &mut Sheet,
    content: &ChoiceMap<'_>,
    map: &MapFrame,
) -> Result<Vec<String>, ReportError> {
    let (plan, choice, frame) = (content.layers.plan, content.choice, map.frame());
    let mut names = PlaceNames::on_grid(sheet, map, plan)?;
    routes_and_areas(sheet, plan, map, &mut names)?;
    let mut relays: Vec<(usize, &str, Point)> = Vec::new();
    let mut others = Vec::new();
    for site in &plan.sites {
        let place = choice.first.sites.iter().position(|name| *name == site.name);
        let at = map.at(site.at)?;
        let Some(place) = place else {
            others.extend(inside(at, inset(frame, OTHER_SITE_RADIUS)).map(|at| (site, at)));
            continue;
        };
        relays.push((place, &site.name, at));
        if let Some(at) = inside(at, frame) {
            let text = format!("{} {}", letter(place), site.name);
            let lettering = Lettering::new(26.0).bold().in_colour(ACCENT);
            names.add(at, SITE_RADIUS, (None, &text), lettering, 0);
        }
    }
    let mut posts = Vec::new();
    for ((number, post), sector) in (1..).zip(&plan.posts).zip(&choice.sectors.posts) {
        let Some(at) = inside(map.at(post.at)?, frame) else { continue };
        let first = sector.first.as_ref();
        posts.push((at, first.map_or(Outcome::Unknown, |duty| duty.outcome)));
        names.add(at, POST_RADIUS, (Some(number), &post.name), Lettering::new(22.0), 1);
        let relay = first
            .filter(|duty| duty.outcome.works())
            .and_then(|duty| relays.iter().find(|(_, name, _)| *name == duty.site));
        if let Some((place, _, relay)) = relay {
            let path = outline([at, *relay], false);
            sheet.path_within(frame, &path, &Pen::line(PAPER, 6.0).faint(0.8));
            sheet.path_within(frame, &path, &Pen::line(INK, 2.6).dashed(dash(*place)));
            names.spare(&[at, *relay]);
        }
    }
    let digipeater = digipeater(choice);
    for (site, at) in &others {
        names.keep_off(square(*at, OTHER_SITE_RADIUS));
        if digipeater == Some(&site.name) {
            names.add(*at, SITE_RADIUS, (None, &site.name), Lettering::new(22.0).bold(), 1);
        }
    }
    names.add_ground(&content.layers, map, NameSizes::SHEET)?;
    let placed = names.placed(frame);
    placed.draw_ground(sheet);
    placed.draw_leaders(sheet);
    for (site, at) in others {
        if digipeater == Some(&site.name) {
            digipeater_mark(sheet, at);
        } else {
            marks::other_site(sheet, at);
        }
    }
    for (place, _, at) in &relays {
        if inside(*at, frame).is_some() {
            relay_mark(sheet, *at, *place);
        }
    }
    for (at, outcome) in posts {
        marks::post(sheet, at, outcome);
    }
    Ok(placed.draw(sheet))
}

/// The digipeater's site, where it is no relay's too.
fn digipeater(choice: &Choice) -> Option<&String> {
    let site = &choice.digipeater.as_ref()?.site.as_ref()?.site;
    (!choice.first.sites.contains(site)).then_some(site)
}

/// A relay of the set by its letter.
fn relay_mark(sheet: &mut Sheet, at: Point, place: usize) {
    sheet.circle(at, SITE_RADIUS, &Pen::fill(PAPER));
    sheet.circle(at, SITE_RADIUS - 3.0, &Pen::fill(ACCENT));
    let lettering = Lettering::new(28.0).bold().in_colour(PAPER).aligned(Align::Middle);
    sheet.text((at.0, at.1 + 10.0), &letter(place).to_string(), &lettering);
}

/// The digipeater: a square.
fn digipeater_mark(sheet: &mut Sheet, at: Point) {
    sheet.rectangle(square(at, 15.0), 2.0, &Pen::line(ACCENT, 3.0).filled(PAPER));
    let lettering = Lettering::new(22.0).bold().in_colour(ACCENT).aligned(Align::Middle);
    sheet.text((at.0, at.1 + 8.0), "D", &lettering);
}

fn side(side: &mut Side<'_>, content: &ChoiceMap<'_>) -> Result<(), ReportError> {
    let (plan, choice) = (content.layers.plan, content.choice);
    side.heading("How to read the map", "");
    let there = |outcome: &Outcome| {
        choice.sectors.posts.iter().any(|sector| {
            sector.first.as_ref().map_or(Outcome::Unknown, |duty| duty.outcome) == *outcome
        })
    };
    let reliability = plan.prediction.reliability;
    for outcome in Outcome::ALL.into_iter().filter(there) {
        let text = words::legend(outcome, reliability);
        side.mark(|sheet, at| marks::post(sheet, at, outcome), &text);
    }
    let mut row: Vec<Marked<'_>> = Vec::new();
    if digipeater(choice).is_some() {
        row.push((&|sheet, at| digipeater_mark(sheet, at), "Digipeater"));
    }
    row.push((&|sheet, at| marks::other_site(sheet, at), "Other site"));
    if !plan.routes.is_empty() {
        row.push((&route_mark, "Route"));
    }
    if !plan.areas.is_empty() {
        row.push((&area_mark, "Staging area"));
    }
    side.marks_in_rows(&row);
    land::legend(side, &content.layers);
    side.skip(36.0);
    side.heading("Which relay serves what", "");
    side.skip(4.0);
    for (place, site) in choice.first.sites.iter().enumerate() {
        relay(side, choice, (place, site));
    }
    if !choice.sectors.wide.is_empty() {
        side.skip(30.0);
        side.heading("Areas and routes", "share best served by each");
        side.skip(4.0);
        let rows = ((BOTTOM - 70.0 - side.y()) / 37.0).floor().max(0.0) as usize;
        let all = &choice.sectors.wide;
        for (number, wide) in (1..).zip(all.iter().take(rows)) {
            side.numbered(number, &wide.name, &shares(wide));
        }
    }
    Ok(())
}

/// How much of an area or route each relay serves best.
fn shares(wide: &Wide) -> String {
    let each = wide.best_in.iter().enumerate().filter(|(_, share)| **share >= 0.005);
    let each = each.map(|(place, share)| format!("{} {}", letter(place), words::percent(*share)));
    let either = (wide.either >= 0.005).then(|| format!("either {}", words::percent(wide.either)));
    let all: Vec<String> = each.chain(either).collect();
    if all.is_empty() { "none".to_owned() } else { all.join(", ") }
}

/// A relay with the posts that it serves.
fn relay(side: &mut Side<'_>, choice: &Choice, (place, site): (usize, &str)) {
    let posts: Vec<String> = served_by(choice, site)
        .map(|(number, sector)| format!("{number} {}", sector.post))
        .collect();
    let count = match posts.len() {
        1 => "1 post".to_owned(),
        count => format!("{count} posts"),
    };
    let sample = |sheet: &mut Sheet, (x, y): Point| {
        relay_sample(sheet, (x, y), place);
    };
    side.mark(sample, &format!("{}  {site}: {count}", letter(place)));
    let (size, leading) = LIST;
    let text = posts.join(", ");
    let lettering = Lettering::new(size).quiet();
    // Half of what is left at most, so that the others have room too.
    let rest = choice.first.sites.len() - place;
    let most = ((BOTTOM - 190.0 - side.y()) / leading / rest as f64).floor().max(1.0) as usize;
    side.skip(leading - 8.0);
    side.paragraph_within(&text, &lettering, leading, most);
    side.skip(-6.0);
}

/// A piece of the line to a relay.
fn relay_sample(sheet: &mut Sheet, (x, y): Point, place: usize) {
    sheet.line((x - 18.0, y), (x + 22.0, y), &Pen::line(INK, 2.6).dashed(dash(place)));
}

fn route_mark(sheet: &mut Sheet, (x, y): Point) {
    sheet.line((x - 18.0, y), (x + 20.0, y), &Pen::line(ACCENT, 3.4));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn relays_are_told_apart_by_letter_and_by_dash() {
        let places = 0..DASHES.len();
        let told: std::collections::BTreeSet<(char, &str)> =
            places.map(|place| (letter(place), dash(place))).collect();
        assert_eq!(told.len(), DASHES.len());
        let dashes: std::collections::BTreeSet<&str> = DASHES.into_iter().collect();
        assert_eq!(dashes.len(), DASHES.len());
        assert_eq!((letter(0), letter(25), letter(300)), ('A', 'Z', '?'));
    }
}
