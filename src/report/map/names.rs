//! Routes, areas, posts and the site on the map, and their names.

use geo::{InteriorPoint, Simplify};

use crate::ReportError;
use crate::labels::PlacedLabel;
use crate::palette::{ACCENT, INK, PAPER};
use crate::svg_page::{Frame, Lettering, Pen, Point, Sheet, outline};
use crate::typeface::printable;
use crate::words;
use perchline_units::Position;

use super::georeference::MapFrame;
use super::ground_names::NameSizes;
use super::marks::{self, OTHER_SITE_RADIUS, POST_RADIUS, SITE_RADIUS};
use super::place_names::PlaceNames;
use super::route_line::{ROUTE_DASHES, RouteLine, box_around, draw_distance};
use super::{MapContent, inset, land};

/// Size of a post's name.
const NAME_SIZE: f64 = 22.0;
/// Widest name before it is cut.
const NAME_ROOM: f64 = 300.0;
/// Blank around a name within its box.
const PADDING: f64 = 6.0;
/// Spacing at which a route is noted for the names to keep off it.
const ROUTE_PITCH: f64 = 12.0;

/// A name ready to be set: number, text and how.
pub struct Name {
    number: Option<String>,
    text: String,
    lettering: Lettering,
}

impl Name {
    fn number_width(&self) -> f64 {
        self.number.as_ref().map_or(0.0, |n| self.lettering.bold().width(n))
    }

    pub(super) fn size(&self, short: bool) -> (f64, f64) {
        let gap = if self.number.is_some() && !short { 7.0 } else { 0.0 };
        let text = if short { 0.0 } else { self.lettering.width(&self.text) };
        (self.number_width() + gap + text + 2.0 * PADDING, self.lettering.size + 8.0)
    }
}

/// What came of drawing a map's places.
#[derive(Debug, Default)]
pub struct Named {
    /// What found no place: a post's number, another's name.
    pub unnamed: Vec<String>,
    /// Whether a route has marks of distance.
    pub distances: bool,
    /// Whether the map is too small for all contours.
    pub is_small: bool,
    /// What is said of the grid, where it had no room below the map.
    pub grid: Option<String>,
}

/// Where a map is read, and what else will lie on it.
#[derive(Debug, Clone, Copy)]
pub struct Surroundings<'a> {
    /// How large texts of the ground are set.
    pub sizes: NameSizes,
    /// Marks that are drawn later.
    pub marks: &'a [Frame],
}

impl Default for Surroundings<'_> {
    fn default() -> Self {
        Self { sizes: NameSizes::SHEET, marks: &[] }
    }
}

/// Draws everything that the plan puts on the ground.
pub fn draw(
    sheet: &mut Sheet,
    content: &MapContent<'_>,
    map: &MapFrame,
    around: Surroundings<'_>,
) -> Result<Named, ReportError> {
    draw_over((sheet, None), content, map, around)
}

/// The same with the grid and the texts of the ground on a sheet of their own, where one
/// is given.
///
/// # Errors
/// [`ReportError`] when a place cannot be projected.
pub fn draw_over(
    (sheet, mut under): (&mut Sheet, Option<&mut Sheet>),
    content: &MapContent<'_>,
    map: &MapFrame,
    around: Surroundings<'_>,
) -> Result<Named, ReportError> {
    let frame = map.frame();
    let lowest = under.as_deref_mut().unwrap_or(sheet);
    let mut names = PlaceNames::on_grid(lowest, map, content.plan)?;
    for mark in around.marks {
        names.will_cover(*mark);
    }
    let mut routes = Vec::new();
    for (index, route) in content.plan.routes.iter().enumerate() {
        // Detail finer than a pixel would only fill the file; of the distances along it
        // it takes less than a mark shows.
        let fine = 0.5 / map.pixels_per_metre() / 111_320.0;
        let shown = RouteLine::of(map, &route.line.simplify(fine))?;
        let dash = ROUTE_DASHES.get(index % ROUTE_DASHES.len()).copied().unwrap_or_default();
        shown.draw(sheet, frame, dash);
        names.spare(&shown.points());
        routes.push(RouteLine::of(map, &route.line)?);
    }
    for (shown, route) in routes.iter().zip(&content.plan.routes) {
        let score = content.site.routes.iter().find(|score| score.share.name == route.name);
        shown.draw_gaps(sheet, map, score.map_or(&[], |score| &score.gaps));
    }
    for area in &content.plan.areas {
        let mut path = outline(map.along(area.outline.exterior())?, true);
        for hole in area.outline.interiors() {
            path.push_str(&outline(map.along(hole)?, true));
        }
        sheet.path_within(frame, &path, &Pen::line(PAPER, 8.0));
        sheet.path_within(frame, &path, &Pen::line(INK, 3.4));
    }

    if let Some(at) = inside(map.at(content.site.at)?, frame) {
        let lettering = Lettering::new(26.0).bold().in_colour(ACCENT);
        names.keep_off(square(at, SITE_RADIUS));
        names.add_name(at, SITE_RADIUS, Name::plain(&content.site.site, lettering), 0);
    }
    let mut posts = Vec::new();
    for (number, post) in (1..).zip(&content.site.posts) {
        let Some(at) = inside(map.at(post.at)?, frame) else { continue };
        posts.push((at, post.outcome));
        names.add(at, POST_RADIUS, (Some(number), &post.post), Lettering::new(NAME_SIZE), 1);
    }
    // Where else it could stand, unless something more is there already.
    for other in content.plan.sites.iter().filter(|other| other.name != content.site.site) {
        let Some(at) = inside(map.at(other.at)?, inset(frame, OTHER_SITE_RADIUS)) else { continue };
        let own = square(at, OTHER_SITE_RADIUS);
        if names.taken().iter().all(|mark| !mark.overlaps(&own)) {
            marks::other_site(sheet, at);
            names.keep_off(own);
        }
    }
    // Distances and arrows where no mark stands.
    let mut distances = Vec::new();
    for route in &routes {
        for (number, at) in route.distances(map, content.plan.units, names.taken()) {
            names.keep_off(box_around(at));
            distances.push((number, at));
        }
    }
    for route in &routes {
        route.draw_arrows(sheet, map, names.taken());
    }
    let has_distances = !distances.is_empty();
    for (number, at) in distances {
        draw_distance(sheet, number, at);
    }
    for area in &content.plan.areas {
        let Some(anchor) = area.outline.interior_point() else { continue };
        let Ok(anchor) = Position::from_point(anchor) else { continue };
        let Some(at) = inside(map.at(anchor)?, frame) else { continue };
        let share = content.site.areas.iter().find(|s| s.name == area.name);
        let text = share.map_or_else(
            || area.name.clone(),
            |s| format!("{}, {}", printable(&area.name), words::percent(s.share)),
        );
        let radius = half_extent(&map.along(area.outline.exterior())?);
        names.add_name(at, radius, Name::plain(&text, Lettering::new(NAME_SIZE).oblique()), 2);
    }
    names.add_ground(&content.layers(), map, around.sizes)?;

    let placed = names.placed(frame);
    placed.draw_ground(under.unwrap_or(sheet));
    placed.draw_leaders(sheet);
    // Posts lie on top: one that stands at the relay must still show.
    if let Some(at) = inside(map.at(content.site.at)?, frame) {
        marks::site(sheet, at, SITE_RADIUS);
    }
    for (at, outcome) in posts {
        marks::post(sheet, at, outcome);
    }
    Ok(Named {
        unnamed: placed.draw(sheet),
        distances: has_distances,
        is_small: land::is_small(frame),
        grid: None,
    })
}

/// What is said of names that found no place; nothing where all did.
pub fn without_room(missing: &[String]) -> Option<String> {
    /// So many are told by number or name.
    const TOLD: usize = 20;
    let told = missing.get(..TOLD).unwrap_or(missing);
    let more = match missing.len() - told.len() {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let those = told.join(", ");
    (!missing.is_empty())
        .then(|| format!("No room on the map for {those}{more}: the lists have them."))
}

impl Name {
    /// A name with its number, if it has one, cut where it is too wide.
    pub(super) fn of(number: Option<usize>, text: &str, lettering: Lettering) -> Self {
        let text = lettering.fitted(text, NAME_ROOM);
        Self { number: number.map(|number| number.to_string()), text, lettering }
    }

    /// Whether it has a number, which can stand for it.
    pub(super) const fn is_numbered(&self) -> bool {
        self.number.is_some()
    }

    /// What is said of it where it finds no place.
    pub(super) fn told(self) -> String {
        self.number.unwrap_or(self.text)
    }

    fn plain(text: &str, lettering: Lettering) -> Self {
        let text = lettering.fitted(text, NAME_ROOM * 1.3);
        Self { number: None, text, lettering }
    }

    pub(super) fn draw(&self, sheet: &mut Sheet, place: &PlacedLabel) {
        let frame = place.frame;
        sheet.rectangle(frame, 5.0, &Pen::fill(PAPER).faint(0.88));
        let base = frame.top + frame.height / 2.0 + self.lettering.size * 0.36;
        let mut x = frame.left + PADDING;
        if let Some(number) = &self.number {
            sheet.text((x, base), number, &self.lettering.bold());
            x += self.number_width() + 7.0;
        }
        if !place.short {
            sheet.text((x, base), &self.text, &self.lettering);
        }
    }
}

/// The point if it is within the frame.
pub(super) fn inside(at: Point, frame: Frame) -> Option<Point> {
    frame.holds(&square(at, 0.0)).then_some(at)
}

/// Half of the shorter side of the box around `points`, as far as a name keeps off an area.
fn half_extent(points: &[Point]) -> f64 {
    let span = |value: fn(&Point) -> f64| {
        let high = points.iter().map(value).fold(f64::NEG_INFINITY, f64::max);
        high - points.iter().map(value).fold(f64::INFINITY, f64::min)
    };
    (span(|p| p.0).min(span(|p| p.1)) / 2.0).clamp(2.0, 60.0)
}

/// The square around a point.
pub fn square(at: Point, radius: f64) -> Frame {
    Frame { left: at.0, top: at.1, width: 0.0, height: 0.0 }.grown(radius)
}

/// Points along a line, no further apart than [`ROUTE_PITCH`].
pub(super) fn spread(points: &[Point]) -> Vec<Point> {
    let mut out = Vec::new();
    for (a, b) in points.iter().zip(points.iter().skip(1)) {
        // A few thousand steps at most: the line is within some sheets' widths.
        let steps = ((b.0 - a.0).hypot(b.1 - a.1) / ROUTE_PITCH).ceil().clamp(1.0, 5e3) as usize;
        for step in 0..steps {
            let t = step as f64 / steps as f64;
            out.push((a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t));
        }
    }
    out.extend(points.last());
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_without_room_are_told() {
        assert_eq!(without_room(&[]), None);
        let numbers: Vec<String> = (1..=23).map(|n| n.to_string()).collect();
        let said = without_room(&numbers[..2]).unwrap();
        assert_eq!(said, "No room on the map for 1, 2: the lists have them.");
        let said = without_room(&numbers).unwrap();
        assert!(said.contains("19, 20 and 3 more:"), "{said}");
    }
}
