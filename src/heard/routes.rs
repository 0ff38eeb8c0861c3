//! Where along a route reports came out badly, with how far along that is.

use std::collections::{BTreeMap, HashSet};

use geo::Distance as _;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use serde::Serialize;

use super::compare::Compared;
use perchline_plan::{Plan, Route};
use perchline_units::{Metres, Position};

/// A report this near to a route is one of the route (common practice, no source: a
/// GPS unit among houses and people who walk beside it).
const BESIDE: Metres = Metres::new(60.0);

/// Pieces of a route whose rectangles are this near to a report are looked at: well
/// over [`BESIDE`], so that what rounds differently makes no difference.
const LOOKED_AT: Metres = Metres::new(200.0);

/// Two misses this far apart along a route, or nearer, are one stretch (common
/// practice, no source).
const ONE_STRETCH: Metres = Metres::new(300.0);

/// A post this near to a stretch names it.
const NEAR: Metres = Metres::new(800.0);

/// A stretch of a route on which reports were not good.
#[derive(Debug, Clone, Serialize)]
pub struct RouteMiss {
    /// The route.
    pub route: String,
    /// The channel.
    pub channel: String,
    /// Where it begins, along the route from its start.
    pub from_m: Metres,
    /// Where it ends.
    pub to_m: Metres,
    /// The post nearest to its middle, if one is near.
    pub near: Option<String>,
    /// Reports on it that answer their question.
    pub answered: usize,
    /// Those of them that say no.
    pub missed: usize,
    /// Mean predicted probability of yes, 0 to 1.
    pub predicted: f64,
}

/// A report on a route.
struct Along {
    at: Metres,
    heard: bool,
    predicted: f64,
}

/// The stretches with misses, route by route and channel by channel, in the order of
/// the plan and from the start. Reports of posts are not among them, nor those from
/// radio to radio.
#[must_use]
pub fn route_misses(compared: &[Compared], plan: &Plan) -> Vec<RouteMiss> {
    let posts: HashSet<&str> = plan.posts.iter().map(|post| post.name.as_str()).collect();
    let apart = |c: &&Compared| c.to.is_none() && !posts.contains(&*c.place);
    let mut misses = Vec::new();
    for route in &plan.routes {
        let pieces = Pieces::of(route);
        let mut along: BTreeMap<usize, Vec<Along>> = BTreeMap::new();
        for one in compared.iter().filter(apart) {
            let Some(at) = pieces.beside(one.at) else { continue };
            let channel = plan.channels.iter().position(|c| c.name == *one.channel);
            if let (Some(channel), Some(heard)) = (channel, one.heard) {
                let predicted = one.predicted_heard;
                along.entry(channel).or_default().push(Along { at, heard, predicted });
            }
        }
        for (channel, mut along) in along {
            along.sort_by(|a, b| a.at.value().total_cmp(&b.at.value()));
            let channel = plan.channels.get(channel).map_or("", |c| c.name.as_str());
            misses.extend(stretches(plan, (route, &pieces), channel, &along));
        }
    }
    misses
}

/// Stretches from the first to the last of misses that follow each other.
fn stretches(
    plan: &Plan,
    (route, pieces): (&Route, &Pieces),
    channel: &str,
    along: &[Along],
) -> Vec<RouteMiss> {
    let mut spans: Vec<(Metres, Metres)> = Vec::new();
    for miss in along.iter().filter(|report| !report.heard) {
        match spans.last_mut() {
            Some((_, to)) if miss.at - *to <= ONE_STRETCH => *to = miss.at,
            _ => spans.push((miss.at, miss.at)),
        }
    }
    spans
        .into_iter()
        .map(|(from, to)| {
            let (first, end) = (
                along.partition_point(|report| report.at < from),
                along.partition_point(|report| report.at <= to),
            );
            let on = along.get(first..end).unwrap_or_default();
            let sum: f64 = on.iter().map(|report| report.predicted).sum();
            RouteMiss {
                route: route.name.clone(),
                channel: channel.to_owned(),
                from_m: from,
                to_m: to,
                near: near(plan, pieces, (from + to) / 2.0),
                answered: on.len(),
                missed: on.iter().filter(|report| !report.heard).count(),
                predicted: sum / on.len().max(1) as f64,
            }
        })
        .collect()
}

/// A piece of a route, how far along it begins and how long it is, metres.
struct Piece {
    line: geo::Line,
    begins: f64,
    length: f64,
}

/// The pieces of a route in their order, found by where they lie.
struct Pieces {
    list: Vec<Piece>,
    /// Their rectangles, in degrees, with their places in the list.
    places: RTree<GeomWithData<Rectangle<[f64; 2]>, usize>>,
}

impl Pieces {
    fn of(route: &Route) -> Self {
        let mut begins = 0.0;
        let piece = |line: geo::Line| {
            let length = geo::Geodesic.distance(line.start_point(), line.end_point());
            let piece = Piece { line, begins, length };
            begins += length;
            piece
        };
        let list: Vec<Piece> = route.line.lines().map(piece).collect();
        let corner = |c: geo::Coord| [c.x, c.y];
        let bounds = list.iter().enumerate().map(|(place, piece)| {
            let ends = (corner(piece.line.start), corner(piece.line.end));
            GeomWithData::new(Rectangle::from_corners(ends.0, ends.1), place)
        });
        let places = RTree::bulk_load(bounds.collect());
        Self { list, places }
    }

    /// How far along the route it comes nearest to a place; nothing where that is not
    /// [`BESIDE`] it.
    fn beside(&self, to: Position) -> Option<Metres> {
        let (at, away) = self.nearest(to)?;
        (away <= BESIDE).then_some(at)
    }

    /// How far along the route it comes nearest to a place, and how near; nothing where
    /// it is much farther away than [`BESIDE`].
    fn nearest(&self, to: Position) -> Option<(Metres, Metres)> {
        let here = [to.longitude().value(), to.latitude().value()];
        let (across, up) = to.degrees_within(LOOKED_AT);
        let (across, up) = (across.value(), up.value());
        let window =
            AABB::from_corners([here[0] - across, here[1] - up], [here[0] + across, here[1] + up]);
        let near = self.places.locate_in_envelope_intersecting(&window);
        let mut near: Vec<usize> = near.map(|found| found.data).collect();
        // Of pieces that are as near the first counts.
        near.sort_unstable();
        let parts = near
            .iter()
            .filter_map(|place| self.list.get(*place))
            .map(|piece| (piece, share(piece.line, to)));
        let (piece, (part, _)) = parts.min_by(|(_, a), (_, b)| a.1.total_cmp(&b.1))?;
        let line = piece.line;
        let here = line.start_point() + (line.end_point() - line.start_point()) * part;
        let away = Position::from_point(here).ok()?.distance(to);
        Some((Metres::new(piece.begins + piece.length * part), away))
    }

    /// The place so far along the route; its end where the route is shorter.
    fn place_along(&self, along: Metres) -> Option<Position> {
        let along = along.value();
        let place = self.list.partition_point(|piece| piece.begins + piece.length < along);
        let Some(piece) = self.list.get(place) else {
            return Position::from_point(self.list.last()?.line.end_point()).ok();
        };
        let from = Position::from_point(piece.line.start_point()).ok()?;
        let to = Position::from_point(piece.line.end_point()).ok()?;
        let part = if piece.length > 0.0 { (along - piece.begins) / piece.length } else { 0.0 };
        from.on_the_way(to, part.clamp(0.0, 1.0)).ok()
    }
}

/// Which part of a piece of a route, 0 to 1, is nearest to a place, and the square of
/// how near, in degrees of latitude: on a plane on which longitudes are as long as they
/// are there.
fn share(piece: geo::Line, to: Position) -> (f64, f64) {
    let shrunk = to.latitude().value().to_radians().cos();
    let (dx, dy) = (piece.dx() * shrunk, piece.dy());
    let (x, y) =
        ((to.longitude().value() - piece.start.x) * shrunk, to.latitude().value() - piece.start.y);
    let squared = dx * dx + dy * dy;
    let part = if squared > 0.0 { ((x * dx + y * dy) / squared).clamp(0.0, 1.0) } else { 0.0 };
    (part, (x - part * dx).powi(2) + (y - part * dy).powi(2))
}

/// The post nearest to a place along a route, if it is near enough to name it.
fn near(plan: &Plan, pieces: &Pieces, along: Metres) -> Option<String> {
    let at = pieces.place_along(along)?;
    let away = |post: &perchline_plan::Post| post.at.distance(at);
    let nearest = plan.posts.iter().min_by(|a, b| away(a).value().total_cmp(&away(b).value()))?;
    (away(nearest) <= NEAR).then(|| nearest.name.clone())
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{LineString, coord};

    /// A route of two pieces, 1,000 m east and then north, about 47 degrees north.
    fn corner() -> (Position, Route) {
        use perchline_units::Degrees;
        let start = Position::new(Degrees::new(47.0), Degrees::new(-34.9)).unwrap();
        let middle = start.destination(Degrees::new(90.0), Metres::new(1000.0));
        let end = middle.destination(Degrees::new(0.0), Metres::new(1000.0));
        let at = |p: Position| coord! { x: p.longitude().value(), y: p.latitude().value() };
        let line = LineString::new(vec![at(start), at(middle), at(end)]);
        let name = "Course".to_owned();
        (middle, Route { name, line, weight: 1.0, environment: None })
    }

    /// Source: geographiclib's geodesics, through `Position`.
    #[test]
    fn a_place_beside_a_route_is_so_far_along() {
        use perchline_units::Degrees;
        let (middle, route) = corner();
        for (bearing, off, along, away) in [
            (0.0, 250.0, 1250.0, 0.0),
            (0.0, 0.0, 1000.0, 0.0),
            (90.0, 40.0, 1000.0, 40.0),
            (180.0, 40.0, 1000.0, 40.0),
            (270.0, 300.0, 700.0, 0.0),
        ] {
            let place = middle.destination(Degrees::new(bearing), Metres::new(off));
            let pieces = Pieces::of(&route);
            let (found, distance) = pieces.nearest(place).unwrap();
            assert!((found.value() - along).abs() < 1.0, "{bearing}: {found}");
            assert!((distance.value() - away).abs() < 1.0, "{bearing}: {distance}");
            let back = pieces.place_along(found).unwrap();
            assert!((back.distance(place).value() - away).abs() < 1.0);
        }
    }

    /// Every place beside a route of many corners that comes back to itself is found as
    /// by looking at every piece of it.
    #[test]
    fn the_index_finds_what_a_scan_finds() {
        use perchline_units::Degrees;
        let corner = |n: u32| {
            let turn = f64::from(n) * 0.05;
            let reach = 0.01 + 0.004 * (7.0 * turn / 3.0).sin();
            coord! { x: -34.9 + reach * turn.cos() * 1.4, y: 47.0 + reach * turn.sin() }
        };
        let line = LineString::new((0..500).map(corner).collect());
        let route = Route { name: String::new(), line, weight: 1.0, environment: None };
        let pieces = Pieces::of(&route);
        let mut found = 0;
        for n in 0..2000u32 {
            let (x, y) = (f64::from(n % 50), f64::from(n / 50));
            let place = Position::new(
                Degrees::new(47.0 - 0.018 + 0.0009 * y),
                Degrees::new(-34.9 - 0.025 + 0.001 * x),
            )
            .unwrap();
            let (nearest, (part, _)) = pieces
                .list
                .iter()
                .map(|piece| (piece, share(piece.line, place)))
                .min_by(|(_, a), (_, b)| a.1.total_cmp(&b.1))
                .unwrap();
            let along = Metres::new(nearest.begins + nearest.length * part);
            let line = nearest.line;
            let here = line.start_point() + (line.end_point() - line.start_point()) * part;
            let away = Position::from_point(here).unwrap().distance(place);
            let by_scan = (away <= BESIDE).then_some(along);
            found += usize::from(by_scan.is_some());
            assert_eq!(pieces.beside(place), by_scan, "{place:?}");
        }
        assert!((100..1500).contains(&found), "{found}");
    }
}
