//! The map of a walk for test calls: its legs, its places by number, and under them
//! the coverage of the site that is called.

use crate::ReportError;
use crate::cautions::Caution;
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::{INK, PAPER};
use crate::rehearsal::{RehearsalWalk, leg_line, total};
use crate::sheet_layout::{Foot, Head, SheetLayout, Side};
use crate::svg_page::{Align, Lettering, Pen, Point, Sheet, outline, render};

use super::georeference::MapFrame;
use super::names::{Named, Surroundings, inside, square};
use super::{frame, ground, legend, names};

/// Radius of a place's mark.
const RADIUS: f64 = 17.0;

/// Places that are listed beside the map; the text has all.
const LISTED: usize = 14;

/// Writes the map as a PNG of 2480 by 1754 pixels.
pub(crate) fn write_png(
    content: &RehearsalWalk<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(&render(&drawn(content)?)?)
}

fn drawn(content: &RehearsalWalk<'_>) -> Result<String, ReportError> {
    let RehearsalWalk { rehearsal, map: under, .. } = content;
    let map = MapFrame::fit(&under.coverage.grid)?;
    let mut layout = SheetLayout::map();
    layout.head(&Head {
        title: &under.plan.event.name,
        subtitle: "A walk for test calls before the event",
        lead: &[(
            &format!("Calls to {} on channel {}", rehearsal.site, rehearsal.channel),
            Lettering::new(29.0).bold(),
        )],
        figure: None,
    });
    let named = on_the_ground(layout.sheet(), content, &map)?;
    let said = names::without_room(&named.unnamed);
    frame::below(layout.sheet(), &map, under.plan, said.as_deref())?;
    side(&mut layout.side(), content, &named);
    // A line each: where, then how.
    let (where_to_walk, how_to_walk) =
        Caution::Walking.text().split_once(" Two").unwrap_or((Caution::Walking.text(), ""));
    let how_to_walk = &format!("Two{how_to_walk}");
    layout.foot(&Foot {
        notes: &[],
        caveats: where_to_walk,
        care: &[how_to_walk, Caution::Emergency.text()],
        made: Some(&content.provenance.line()),
        remark: None,
    });
    Ok(layout.into_svg())
}

/// The coverage, the plan's places with their names, the legs and the places to call
/// from.
fn on_the_ground(
    sheet: &mut Sheet,
    content: &RehearsalWalk<'_>,
    map: &MapFrame,
) -> Result<Named, ReportError> {
    let under = content.map;
    let frame = map.frame();
    ground(sheet, under, map, 1.0)?;
    frame::border(sheet, map)?;
    for leg in &content.rehearsal.legs {
        let points =
            leg.over.iter().map(|at| map.at(*at)).collect::<Result<Vec<_>, ReportError>>()?;
        let path = outline(points, false);
        sheet.path_within(frame, &path, &Pen::line(PAPER, 9.0));
        sheet.path_within(frame, &path, &Pen::line(INK, 4.0).dashed("10 7"));
    }
    // Names stay readable over the legs.
    let places = content.rehearsal.places.iter();
    let marks = places.map(|place| Ok(square(map.at(place.at)?, RADIUS)));
    let marks = marks.collect::<Result<Vec<_>, ReportError>>()?;
    let named =
        names::draw(sheet, under, map, Surroundings { marks: &marks, ..Surroundings::default() })?;
    for (number, place) in (1..).zip(&content.rehearsal.places) {
        if let Some(at) = inside(map.at(place.at)?, frame) {
            mark(sheet, at, number, place.must);
        }
    }
    Ok(named)
}

/// A place by its number; a square one is a post that has to work.
fn mark(sheet: &mut Sheet, at: Point, number: usize, must: bool) {
    let (x, y) = at;
    let pen = Pen::line(INK, 3.0).filled(PAPER);
    if must {
        let square = crate::svg_page::Frame { left: x, top: y, width: 0.0, height: 0.0 };
        sheet.rectangle(square.grown(RADIUS), 3.0, &pen);
    } else {
        sheet.circle(at, RADIUS, &pen);
    }
    let lettering = Lettering::new(22.0).bold().aligned(Align::Middle);
    sheet.text((x, y + 8.0), &number.to_string(), &lettering);
}

fn side(side: &mut Side<'_>, content: &RehearsalWalk<'_>, named: &Named) {
    let (rehearsal, units) = (content.rehearsal, content.map.plan.units);
    side.heading("The walk", "");
    side.skip(-10.0);
    let (line, small) = (Lettering::new(22.0), Lettering::new(18.0));
    if let Some(start) = &rehearsal.start {
        side.line(&format!("Start and end: {start}"), &line, 36.0);
    }
    let legs = rehearsal.legs.iter().map(Some).chain(std::iter::repeat(None));
    for ((number, place), leg) in (1..).zip(&rehearsal.places).zip(legs).take(LISTED) {
        let must = if place.must { ", must work" } else { "" };
        let inside = if place.indoors { ", inside" } else { "" };
        side.line(&format!("{number} {}{must}{inside}", place.name), &line, 36.0);
        if let Some(leg) = leg {
            side.line(&leg_line(leg, units), &small.quiet(), 25.0);
        }
    }
    let more = rehearsal.places.len().saturating_sub(LISTED);
    if more > 0 {
        side.line(&format!("and {more} more in rehearsal.txt"), &small.oblique(), 34.0);
    }
    side.line(&total(rehearsal, units), &line.bold(), 44.0);
    if named.distances {
        side.skip(14.0);
        side.mark(legend::distance_mark, legend::distance(units));
        side.skip(-14.0);
    }
    side.skip(34.0);
    for text in [
        "Numbers: places to call from; a square is a post that has to work. Dashes: the legs. Tints and discs: coverage and posts as predicted.",
        water(rehearsal.water_known),
        Caution::Legs.text(),
        Caution::Traffic.text(),
    ] {
        side.paragraph(text, &small.quiet(), 24.0);
        side.skip(6.0);
    }
}

/// What the legs know of water.
pub(crate) const fn water(known: bool) -> &'static str {
    if known {
        "Legs go round the water that the plan knows; a route of the event that crosses it counts as a bridge."
    } else {
        "The plan says nothing of water: legs are straight lines, and some may cross it. Name it under [water], or give a land cover."
    }
}
