//! Where along a route reports came out badly, with how far along that is.

use std::collections::{BTreeMap, HashSet};

use geo::Distance as _;
use serde::Serialize;

use super::compare::Compared;
use perchline_plan::{Plan, Route};
use perchline_units::{Metres, Position};

/// A report this near to a route is one of the route (common practice, no source: a
/// GPS unit among houses and people who walk beside it).
const BESIDE: Metres = Metres::new(60.0);

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
        let pieces = pieces(route);
        let mut along: BTreeMap<usize, Vec<Along>> = BTreeMap::new();
        for one in compared.iter().filter(apart) {
            let Some((at, away)) = nearest(&pieces, one.at) else { continue };
            let channel = plan.channels.iter().position(|c| c.name == *one.channel);
            if let (Some(channel), Some(heard), true) = (channel, one.heard, away <= BESIDE) {
                let predicted = one.predicted_heard;
                along.entry(channel).or_default().push(Along { at, heard, predicted });
            }
        }
        for (channel, mut along) in along {
            along.sort_by(|a, b| a.at.value().total_cmp(&b.at.value()));
            let channel = plan.channels.get(channel).map_or("", |c| c.name.as_str());
            misses.extend(stretches(plan, route, channel, &along));
        }
    }
    misses
}

/// Stretches from the first to the last of misses that follow each other.
fn stretches(plan: &Plan, route: &Route, channel: &str, along: &[Along]) -> Vec<RouteMiss> {
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
            let on: Vec<&Along> =
                along.iter().filter(|report| report.at >= from && report.at <= to).collect();
            let sum: f64 = on.iter().map(|report| report.predicted).sum();
            RouteMiss {
                route: route.name.clone(),
                channel: channel.to_owned(),
                from_m: from,
                to_m: to,
                near: near(plan, route, (from + to) / 2.0),
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

fn pieces(route: &Route) -> Vec<Piece> {
    let mut begins = 0.0;
    let piece = |line: geo::Line| {
        let length = geo::Geodesic.distance(line.start_point(), line.end_point());
        let piece = Piece { line, begins, length };
        begins += length;
        piece
    };
    route.line.lines().map(piece).collect()
}

/// How far along a route it comes nearest to a place, and how near.
fn nearest(pieces: &[Piece], to: Position) -> Option<(Metres, Metres)> {
    let parts = pieces.iter().map(|piece| (piece, share(piece.line, to)));
    let (piece, (part, _)) = parts.min_by(|(_, a), (_, b)| a.1.total_cmp(&b.1))?;
    let line = piece.line;
    let here = line.start_point() + (line.end_point() - line.start_point()) * part;
    let away = Position::from_point(here).ok()?.distance(to);
    Some((Metres::new(piece.begins + piece.length * part), away))
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
fn near(plan: &Plan, route: &Route, along: Metres) -> Option<String> {
    let at = place_along(route, along)?;
    let away = |post: &perchline_plan::Post| post.at.distance(at);
    let nearest = plan.posts.iter().min_by(|a, b| away(a).value().total_cmp(&away(b).value()))?;
    (away(nearest) <= NEAR).then(|| nearest.name.clone())
}

/// The place so far along a route; its end where the route is shorter.
fn place_along(route: &Route, along: Metres) -> Option<Position> {
    let mut left = along.value();
    let mut last = None;
    for piece in route.line.lines() {
        let (from, to) = (
            Position::from_point(piece.start_point()).ok()?,
            Position::from_point(piece.end_point()).ok()?,
        );
        let length = from.distance(to).value();
        if left <= length && length > 0.0 {
            return from.on_the_way(to, left / length).ok();
        }
        left -= length;
        last = Some(to);
    }
    last
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
            (90.0, 40.0, 1000.0, 40.0),
            (180.0, 40.0, 1000.0, 40.0),
            (270.0, 300.0, 700.0, 0.0),
        ] {
            let place = middle.destination(Degrees::new(bearing), Metres::new(off));
            let (found, distance) = nearest(&pieces(&route), place).unwrap();
            assert!((found.value() - along).abs() < 1.0, "{bearing}: {found}");
            assert!((distance.value() - away).abs() < 1.0, "{bearing}: {distance}");
            let back = place_along(&route, found).unwrap();
            assert!((back.distance(place).value() - away).abs() < 1.0);
        }
    }
}
