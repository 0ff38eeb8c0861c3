//! What is to be served, by which weight, and the points that stand for it:
//! posts, staging areas, routes and, if wanted, the whole map. Rankings, mast
//! heights, choices, searches and trackers all sample here.

use std::borrow::Cow;
use std::ops::Range;

use geo::{
    BoundingRect, Contains, Densify, Distance, Euclidean, Geodesic, InteriorPoint,
    InterpolatePoint, Line, LineString, Point,
};
use rayon::prelude::*;
use rstar::{AABB, RTree};
use serde::Serialize;

use perchline_link::{Terminal, TerminalError};
use perchline_plan::{Area, Channel, Environment, Plan, Route, Service};
use perchline_terrain::{Grid, Terrain, TerrainError};
use perchline_units::{Degrees, Metres, Position};

/// What some points stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A post.
    Post,
    /// A staging area.
    Area,
    /// A route.
    Route,
    /// The whole map.
    Map,
}

/// Something to be served.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// What it is.
    pub kind: Kind,
    /// Its name.
    pub name: String,
    /// Its weight.
    pub weight: f64,
    /// Whether a site that misses it is no good.
    pub must: bool,
    /// Noise around it in place of the plan's.
    pub environment: Option<Environment>,
    /// Which of the samples are its own.
    pub samples: Range<usize>,
}

impl Target {
    /// One without samples that no site has to serve.
    fn new(kind: Kind, name: &str, weight: f64, environment: Option<Environment>) -> Self {
        Self { kind, name: name.to_owned(), weight, must: false, environment, samples: 0..0 }
    }
}

/// A point that stands for a target or a part of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Where it is.
    pub at: Position,
    /// What it stands for: metres of a route, one point of an area or map, a post.
    pub weight: f64,
    /// Its part of the target, 0 to 1.
    pub part: f64,
}

/// Everything to be served, in the plan's order: posts, areas, routes, map.
#[derive(Debug, Clone, Default)]
pub struct Demand {
    /// The targets.
    pub targets: Vec<Target>,
    /// Their samples.
    pub samples: Vec<Sample>,
    /// Middles of the pieces of each route of the plan, as they are drawn.
    courses: Vec<Vec<Position>>,
}

/// Cells along the longer side of the map when the whole of it counts.
const MAP_CELLS: f64 = 50.0;

/// Weight of the whole map: that of an area for which the plan states none.
const MAP_WEIGHT: f64 = 1.0;

impl Demand {
    /// That of a plan: its posts, areas and routes.
    ///
    /// Samples of areas and routes inside a building are moved to the street
    /// beside it: outlines and lines cut corners of footprints, people do not.
    #[must_use]
    pub fn of(plan: &Plan, terrain: &Terrain) -> Self {
        let mut demand = Self::default();
        for post in &plan.posts {
            let target = Target::new(Kind::Post, &post.name, post.weight, post.environment);
            demand.put(Target { must: post.must, ..target }, [(post.at, 1.0)]);
        }
        let street = |at: Position| match terrain.building(at) {
            Some(_) => terrain.beside(at).unwrap_or(at),
            None => at,
        };
        for area in &plan.areas {
            let points = area_points(area).into_iter().map(|at| (street(at), 1.0));
            demand.add(Kind::Area, &area.name, area.weight, area.environment, points);
        }
        for route in &plan.routes {
            let course: Vec<_> = route_points(route).collect();
            let points = course.iter().map(|(at, length)| (street(*at), *length));
            demand.add(Kind::Route, &route.name, route.weight, route.environment, points);
            demand.courses.push(course.into_iter().map(|(at, _)| at).collect());
        }
        demand
    }

    /// The same and the whole map, cut into few cells.
    ///
    /// # Errors
    /// [`TerrainError`] when the grid has no place on the earth.
    pub fn with_map(mut self, grid: &Grid) -> Result<Self, TerrainError> {
        let points = centres(grid)?.into_iter().map(|at| (at, 1.0));
        self.add(Kind::Map, "Whole map", MAP_WEIGHT, None, points);
        Ok(self)
    }

    /// What of it counts on a channel: all, or, on a packet channel with trackers,
    /// the routes that these follow and the posts and areas that such a route passes
    /// within [`PASSES`]. The others have no weight there and are no must.
    #[must_use]
    pub fn on_channel(&self, plan: &Plan, channel: &Channel) -> Cow<'_, Self> {
        let packet = matches!(channel.service, Service::Packet { .. });
        if !packet || plan.trackers_on(channel).next().is_none() {
            return Cow::Borrowed(self);
        }
        let is_followed = |place: usize| plan.trackers_on(channel).any(|t| t.route == place);
        let followed = || (0..plan.routes.len()).filter(|place| is_followed(*place));
        let names: Vec<&str> =
            followed().filter_map(|place| Some(plan.routes.get(place)?.name.as_str())).collect();
        let along = Course::of(followed().filter_map(|place| self.courses.get(place)).flatten());
        let passed = |target: &Target| {
            self.samples_of(target).par_iter().any(|sample| along.passes(sample.at))
        };
        let mut counted = self.clone();
        for target in &mut counted.targets {
            let counts = match target.kind {
                Kind::Route => names.contains(&target.name.as_str()),
                Kind::Post | Kind::Area => passed(target),
                Kind::Map => true,
            };
            if !counts {
                target.weight = 0.0;
                target.must = false;
            }
        }
        Cow::Owned(counted)
    }

    /// The same with at most `most` samples a target: the middle one of each run
    /// of neighbours, with the weight of its run.
    #[must_use]
    pub fn thinned(&self, most: usize) -> Self {
        let mut demand = Self { courses: self.courses.clone(), ..Self::default() };
        for target in &self.targets {
            let few = thinned(self.samples_of(target), most);
            demand.put(target.clone(), few);
        }
        demand
    }

    /// Adds a target, no must, with its samples: where each is and what it stands for.
    pub fn add(
        &mut self,
        kind: Kind,
        name: &str,
        weight: f64,
        environment: Option<Environment>,
        points: impl IntoIterator<Item = (Position, f64)>,
    ) {
        self.put(Target::new(kind, name, weight, environment), points);
    }

    /// Adds a target with these samples in place of its own.
    fn put(&mut self, target: Target, points: impl IntoIterator<Item = (Position, f64)>) {
        let points: Vec<_> = points.into_iter().collect();
        let total: f64 = points.iter().map(|(_, weight)| weight).sum();
        let start = self.samples.len();
        let sample = |(at, weight): (Position, f64)| Sample { at, weight, part: weight / total };
        self.samples.extend(points.into_iter().map(sample));
        let samples = start..self.samples.len();
        self.targets.push(Target { samples, ..target });
    }

    /// The targets of one kind, in the plan's order.
    pub fn of_kind(&self, kind: Kind) -> impl Iterator<Item = &Target> {
        self.targets.iter().filter(move |target| target.kind == kind)
    }

    /// The samples that stand for a target.
    #[must_use]
    pub fn samples_of(&self, target: &Target) -> &[Sample] {
        self.samples.get(target.samples.clone()).unwrap_or_default()
    }

    /// The samples of the route with this place in the plan.
    #[must_use]
    pub fn route(&self, place: usize) -> &[Sample] {
        self.of_kind(Kind::Route).nth(place).map_or(&[], |route| self.samples_of(route))
    }

    /// All weights together.
    #[must_use]
    pub fn total_weight(&self) -> f64 {
        self.targets.iter().map(|target| target.weight).sum()
    }

    /// The weight of each sample.
    #[must_use]
    pub fn weights(&self) -> Vec<f64> {
        let each = self.targets.iter();
        each.flat_map(|t| self.samples_of(t).iter().map(|sample| t.weight * sample.part)).collect()
    }
}

/// Where routes pass, found by where that is.
struct Course(RTree<[f64; 2]>);

impl Course {
    fn of<'a>(places: impl Iterator<Item = &'a Position>) -> Self {
        let point = |at: &Position| [at.longitude().value(), at.latitude().value()];
        Self(RTree::bulk_load(places.map(point).collect()))
    }

    /// Whether a place of them lies within [`PASSES`] of `at`.
    fn passes(&self, at: Position) -> bool {
        let (longitude, latitude) = (at.longitude().value(), at.latitude().value());
        // Looked for twice as far away, so that rounding leaves none out.
        let (across, up) = at.degrees_within(PASSES * 2.0);
        let (across, up) = (across.value(), up.value());
        // Around the 180th meridian the neighbours have longitudes of the other sign.
        [-360.0, 0.0, 360.0].into_iter().any(|turn| {
            let middle = longitude + turn;
            let window = AABB::from_corners(
                [middle - across, latitude - up],
                [middle + across, latitude + up],
            );
            let mut near = self.0.locate_in_envelope(&window);
            near.any(|[longitude, latitude]| {
                let place = Position::new(Degrees::new(*latitude), Degrees::new(*longitude));
                place.is_ok_and(|place| place.distance(at) <= PASSES)
            })
        })
    }
}

/// How many points are sampled of all that a plan names: at most `most` of each
/// area and each route, all of them if it states none; with those of the whole
/// map where it counts.
#[must_use]
pub fn points_sampled(plan: &Plan, most: Option<usize>, whole_area: bool) -> usize {
    let most = most.unwrap_or(usize::MAX);
    let areas = plan.areas.iter().map(|area| area_points(area).len().min(most));
    let routes = plan.routes.iter().map(|route| route_points(route).count().min(most));
    let map = if whole_area { (MAP_CELLS * MAP_CELLS) as usize } else { 0 };
    plan.posts.len() + areas.sum::<usize>() + routes.sum::<usize>() + map
}

/// The radio of whoever is served: a post's own where it stands, the channel's
/// around `at` elsewhere.
///
/// # Errors
/// [`TerminalError`] when a post does not fit the terrain.
pub(super) fn carried(
    plan: &Plan,
    terrain: &Terrain,
    channel: &Channel,
    target: &Target,
    at: Position,
) -> Result<Terminal, TerminalError> {
    match plan.posts.iter().find(|post| target.kind == Kind::Post && post.name == target.name) {
        Some(post) => Terminal::at_post(plan, channel, post, terrain),
        None => Ok(Terminal::anywhere(plan, channel, target.environment, at)),
    }
}

/// A tracker's route that comes as near as this to a post or an area brings its
/// trackers there (ours).
pub const PASSES: Metres = Metres::new(100.0);

/// Length of route that one sample stands for at most.
const ROUTE_STEP: Metres = Metres::new(25.0);

/// Least and most samples along one side of an area.
const AREA_SPOTS: (f64, f64) = (3.0, 40.0);

/// Wanted distance between samples in an area.
const AREA_STEP: Metres = Metres::new(10.0);

/// Middles of the pieces, 25 m long at most, into which a route is cut, each
/// with its length in metres.
fn route_points(route: &Route) -> impl Iterator<Item = (Position, f64)> {
    pieces(&route.line)
        .into_iter()
        .filter_map(|(middle, length)| Some((Position::from_point(middle).ok()?, length)))
        .filter(|(_, length)| *length > 0.0)
}

/// The same as points. A long line between two corners is cut into equal pieces; lines
/// that follow each other are one piece as long as they come to 25 m or less together,
/// so that a track of every second makes no more pieces than a drawn line.
fn pieces(line: &LineString) -> Vec<(Point, f64)> {
    let step = ROUTE_STEP.value();
    let mut pieces = Vec::new();
    let mut run = Run::default();
    for part in line.lines() {
        let length = Geodesic.distance(part.start_point(), part.end_point());
        if run.length + length > step {
            pieces.extend(run.end());
        }
        if length > step {
            let cut = Geodesic.densify(&part, step);
            pieces.extend(cut.lines().map(|piece| {
                let length = Geodesic.distance(piece.start_point(), piece.end_point());
                (middle(piece), length)
            }));
        } else {
            run.add(part, length);
        }
    }
    pieces.extend(run.end());
    pieces
}

fn middle(line: Line) -> Point {
    Euclidean.point_at_ratio_between(line.start_point(), line.end_point(), 0.5)
}

/// Short lines that follow each other, with their lengths in metres.
#[derive(Default)]
struct Run {
    lines: Vec<(Line, f64)>,
    length: f64,
}

impl Run {
    fn add(&mut self, line: Line, length: f64) {
        self.lines.push((line, length));
        self.length += length;
    }

    /// The place half way along it, and its length; nothing where it is empty. It is
    /// empty after that.
    fn end(&mut self) -> Option<(Point, f64)> {
        let Self { lines, length } = std::mem::take(self);
        if let [(line, length)] = lines.as_slice() {
            return Some((middle(*line), *length));
        }
        let mut left = length / 2.0;
        for (line, part) in &lines {
            if left <= *part && *part > 0.0 {
                let (from, to) = (line.start_point(), line.end_point());
                return Some((Euclidean.point_at_ratio_between(from, to, left / part), length));
            }
            left -= part;
        }
        lines.last().map(|(line, _)| (line.end_point(), length))
    }
}

/// A lattice of points, about 10 m apart, inside an area's outline; one interior
/// point for an area too thin to hold any.
fn area_points(area: &Area) -> Vec<Position> {
    let Some(bounds) = area.outline.bounding_rect() else {
        return Vec::new();
    };
    let (low, high) = (bounds.min(), bounds.max());
    let count = |from: geo::Coord, to: geo::Coord| {
        let side = Geodesic.distance(from.into(), geo::Point::from(to));
        (side / AREA_STEP.value()).ceil().clamp(AREA_SPOTS.0, AREA_SPOTS.1) as u32
    };
    let columns = count(low, geo::coord! { x: high.x, y: low.y });
    let rows = count(low, geo::coord! { x: low.x, y: high.y });
    let along = |low: f64, high: f64, index: u32, of: u32| {
        low + (high - low) * (f64::from(index) + 0.5) / f64::from(of)
    };
    let lattice = (0..rows).flat_map(|row| {
        (0..columns).map(move |column| {
            geo::point! { x: along(low.x, high.x, column, columns), y: along(low.y, high.y, row, rows) }
        })
    });
    let spots: Vec<_> = lattice
        .filter(|point| area.outline.contains(point))
        .filter_map(|point| Position::from_point(point).ok())
        .collect();
    if spots.is_empty() {
        let inside = area.outline.interior_point().and_then(|p| Position::from_point(p).ok());
        inside.into_iter().collect()
    } else {
        spots
    }
}

/// At most `most` of the samples, where they are and their weights: the middle one of each run of neighbours,
/// with the weight of its run.
fn thinned(samples: &[Sample], most: usize) -> Vec<(Position, f64)> {
    let runs = samples.len().min(most.max(1));
    (0..runs)
        .filter_map(|run| {
            let part = samples.get(run * samples.len() / runs..(run + 1) * samples.len() / runs)?;
            let middle = part.get(part.len() / 2)?;
            Some((middle.at, part.iter().map(|s| s.weight).sum()))
        })
        .collect()
}

/// Centres of the map's cells, made so coarse that there are few.
fn centres(grid: &Grid) -> Result<Vec<Position>, TerrainError> {
    let (width, height) = grid.cell_size()?;
    let side = (width.value() * grid.columns() as f64).max(height.value() * grid.rows() as f64);
    let coarse = grid.coarser(Metres::new(side / MAP_CELLS))?;
    let cells: Vec<_> = (0..coarse.rows())
        .flat_map(|row| (0..coarse.columns()).map(move |column| (column, row)))
        .map(|(column, row)| (column as f64 + 0.5, row as f64 + 0.5))
        .collect();
    coarse.projector()?.to_positions(&cells)
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use geo::Polygon;

    use super::*;

    #[test]
    fn route_pieces_are_short_and_add_up() {
        let line = LineString::from(vec![(-34.9, 47.0), (-34.88, 47.0), (-34.88, 47.01)]);
        let length: f64 =
            line.lines().map(|l| Geodesic.distance(l.start_point(), l.end_point())).sum();
        let route = Route { name: String::new(), line, weight: 1.0, environment: None };
        let lengths: Vec<f64> = route_points(&route).map(|(_, length)| length).collect();
        assert!(lengths.iter().all(|length| *length <= ROUTE_STEP.value() + 1e-6));
        assert_relative_eq!(lengths.iter().sum::<f64>(), length, max_relative = 1e-6);
    }

    /// By hand: lines of 10, 8 and 6 m and then 30 m are a piece of 24 m, whose middle
    /// lies 2 m into the second, and two of 15 m.
    #[test]
    fn short_lines_of_a_route_are_sampled_together() {
        let start = Position::new(Degrees::new(47.0), Degrees::new(-34.9)).unwrap();
        let east = |metres: f64| start.destination(Degrees::new(90.0), Metres::new(metres));
        let corner = |metres: f64| east(metres).point();
        let line = LineString::from_iter([0.0, 10.0, 18.0, 24.0, 54.0].map(corner));
        let route = Route { name: String::new(), line, weight: 1.0, environment: None };
        let found: Vec<_> = route_points(&route).collect();
        assert_eq!(found.len(), 3, "{found:?}");
        for ((at, length), (middle, long)) in
            found.iter().zip([(12.0, 24.0), (31.5, 15.0), (46.5, 15.0)])
        {
            assert!(at.distance(east(middle)).value() < 0.01, "{at:?}");
            assert_relative_eq!(*length, long, epsilon = 1e-3);
        }
    }

    /// A track of many corners has as many samples as its length asks for, and all of
    /// its length.
    #[test]
    fn a_track_of_every_second_makes_no_more_samples_than_its_length() {
        let corner = |n: u32| {
            let turn = f64::from(n) * 1e-3;
            (-34.9 + 0.02 * turn.sin(), 47.0 + 0.01 * turn.cos())
        };
        let line = LineString::from_iter((0..5000).map(corner));
        let length: f64 =
            line.lines().map(|l| Geodesic.distance(l.start_point(), l.end_point())).sum();
        let route = Route { name: String::new(), line, weight: 1.0, environment: None };
        let found: Vec<f64> = route_points(&route).map(|(_, length)| length).collect();
        assert!(found.iter().all(|length| *length <= ROUTE_STEP.value() + 1e-9));
        assert_relative_eq!(found.iter().sum::<f64>(), length, max_relative = 1e-9);
        let least = length / ROUTE_STEP.value();
        assert!((found.len() as f64) < 1.2 * least, "{} for {least}", found.len());
    }

    /// A place is passed where one of the route's pieces has its middle within 100 m.
    #[test]
    fn a_course_passes_what_is_within_a_hundred_metres() {
        let start = Position::new(Degrees::new(60.0), Degrees::new(-34.9)).unwrap();
        let course: Vec<Position> = (0..40)
            .map(|n| start.destination(Degrees::new(70.0), Metres::new(25.0 * f64::from(n))))
            .collect();
        let passing = Course::of(course.iter());
        for n in 0..60u32 {
            let bearing = f64::from(n) * 29.0;
            let at = course[(n % 40) as usize]
                .destination(Degrees::new(bearing), Metres::new(2.5 * f64::from(n) + 20.0));
            let by_scan = course.iter().any(|place| place.distance(at) <= PASSES);
            assert_eq!(passing.passes(at), by_scan, "{at:?}");
        }
        assert!(!Course::of(std::iter::empty()).passes(start));
    }

    /// Against every distance: around points at all latitudes and across the 180th
    /// meridian.
    #[test]
    fn what_passes_is_within_the_distance_and_nothing_else() {
        let degrees = perchline_units::Degrees::new;
        let at = |latitude, longitude| Position::new(degrees(latitude), degrees(longitude));
        let latitudes = [-90.0, -89.9999, -60.0, 0.0, 0.0005, 47.0, 70.0, 89.9995, 90.0];
        let longitudes = [-180.0, -179.9997, -34.9, 0.0, 90.0, 145.1, 179.9996, 180.0];
        let points: Vec<Position> = latitudes
            .iter()
            .flat_map(|latitude| longitudes.iter().map(|longitude| at(*latitude, *longitude)))
            .map(Result::unwrap)
            .collect();
        let passed = Course::of(points.iter());
        let (mut near, mut far) = (0, 0);
        for point in &points {
            for bearing in 0..24 {
                for share in [0.0, 0.5, 0.9999, 1.0001, 1.5, 40.0] {
                    let bearing = degrees(f64::from(bearing) * 15.0);
                    let place = point.destination(bearing, PASSES * share);
                    let wanted = points.iter().any(|at| at.distance(place) <= PASSES);
                    assert_eq!(passed.passes(place), wanted, "{place:?}");
                    *(if wanted { &mut near } else { &mut far }) += 1;
                }
            }
        }
        assert!(near > 1000 && far > 1000, "{near} {far}");
    }

    fn area(outline: Polygon) -> Area {
        Area {
            name: String::new(),
            outline,
            weight: 1.0,
            environment: None,
            surroundings: None,
            roof_height: None,
            street_width: None,
        }
    }

    #[test]
    fn an_area_is_sampled_inside_its_outline_only() {
        let outline = Polygon::new(
            LineString::from(vec![(0.0, 0.0), (0.002, 0.0), (0.0, 0.002), (0.0, 0.0)]),
            vec![],
        );
        let area = area(outline);
        let points = area_points(&area);
        assert!(points.len() > 100);
        assert!(points.iter().all(|at| area.outline.contains(&at.point())));
    }

    #[test]
    fn a_sliver_still_has_one_point() {
        let outline = Polygon::new(
            LineString::from(vec![(0.0, 0.0), (0.01, 0.003), (0.01, 0.003_000_1), (0.0, 0.0)]),
            vec![],
        );
        let area = area(outline);
        assert_eq!(area_points(&area).len(), 1);
    }

    #[test]
    fn thinning_keeps_a_must() {
        let degrees = Degrees::new;
        let at = Position::new(degrees(47.0), degrees(-34.9)).unwrap();
        let mut all = Demand::default();
        all.put(Target { must: true, ..Target::new(Kind::Post, "Aid", 1.0, None) }, [(at, 1.0)]);
        all.add(Kind::Post, "Gate", 1.0, None, [(at, 1.0)]);
        let few = all.thinned(8);
        assert_eq!(few.targets.iter().map(|t| t.must).collect::<Vec<_>>(), [true, false]);
    }

    #[test]
    fn thinning_keeps_the_whole_weight() {
        for (count, most) in [(1, 8), (7, 8), (8, 8), (9, 8), (844, 8), (20, 1)] {
            let at = |i: usize| {
                let east = Degrees::new(i as f64 * 1e-3);
                Position::new(Degrees::new(0.0), east).unwrap()
            };
            let mut all = Demand::default();
            all.add(Kind::Route, "Course", 3.0, None, (0..count).map(|i| (at(i), 2.0)));
            let few = all.thinned(most);
            assert_eq!(few.samples.len(), count.min(most));
            let weight: f64 = few.samples.iter().map(|s| s.weight).sum();
            assert_relative_eq!(weight, 2.0 * count as f64, max_relative = 1e-9);
            assert_relative_eq!(few.weights().iter().sum::<f64>(), 3.0, max_relative = 1e-9);
        }
    }
}
