//! What the lines and marks of a map mean that are no class of radio.

use crate::palette::{ACCENT, INK};
use crate::svg_page::{Frame, Pen, Point, Sheet};
use crate::words;
use perchline_plan::UnitSystem;

use super::MapContent;
use super::land;
use super::marks;
use super::names::Named;
use super::route_line::{arrow, draw_distance};

/// A mark and what it means.
pub struct Explained {
    /// Draws it with its middle at a point.
    pub draw: fn(&mut Sheet, Point),
    /// What it means.
    pub text: String,
}

/// Who reads the map.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reader {
    /// Whoever plans the radio.
    Lead,
    /// The organiser's liaison.
    Liaison,
}

/// What stands on this map, with what it means, for its reader.
pub fn explained(content: &MapContent<'_>, named: &Named, reader: Reader) -> Vec<Explained> {
    let plan = content.plan;
    let is_lead = reader == Reader::Lead;
    let mut all = Vec::new();
    let mut add = |draw: fn(&mut Sheet, Point), text: &str| {
        all.push(Explained { draw, text: text.to_owned() });
    };
    if is_lead {
        add(|sheet, at| marks::site(sheet, at, 18.0), &words::capital(super::station(content)));
    }
    if !plan.areas.is_empty() {
        add(area_mark, "Staging area");
    }
    if !plan.routes.is_empty() {
        add(route_mark, if is_lead { "Route" } else { "Route and its direction" });
    }
    if content.site.routes.iter().any(|route| !route.gaps.is_empty()) {
        add(gap_mark, if is_lead { "Route, thick: not clear" } else { "Do not count on radio" });
    }
    if named.distances {
        add(distance_mark, distance(plan.units));
    }
    if plan.sites.len() > 1 {
        add(marks::other_site, if is_lead { "Other site" } else { "Other place for a relay" });
    }
    let land = land::explained(&content.layers(), named.is_small);
    all.extend(land.into_iter().map(|(draw, text)| Explained { draw, text }));
    all
}

/// What a distance mark says.
pub const fn distance(units: UnitSystem) -> &'static str {
    match units {
        UnitSystem::Metric => "Distance from the start, km",
        UnitSystem::Us => "Distance from the start, miles",
    }
}

/// A distance mark as an example of all.
pub fn distance_mark(sheet: &mut Sheet, at: Point) {
    draw_distance(sheet, 5.0, at);
}

/// The outline of an area.
pub fn area_mark(sheet: &mut Sheet, (x, y): Point) {
    let outline = Frame { left: x - 17.0, top: y - 12.0, width: 34.0, height: 24.0 };
    sheet.rectangle(outline, 4.0, &Pen::line(INK, 3.4));
}

fn route_mark(sheet: &mut Sheet, (x, y): Point) {
    sheet.line((x - 18.0, y), (x + 20.0, y), &Pen::line(ACCENT, 5.0));
    arrow(sheet, (x + 2.0, y), (1.0, 0.0));
}

fn gap_mark(sheet: &mut Sheet, (x, y): Point) {
    sheet.line((x - 18.0, y), (x + 14.0, y), &Pen::line(INK, 11.0));
}
