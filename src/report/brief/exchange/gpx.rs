//! Posts, sites and routes for GPS units and phones (GPX 1.1).

use geo::{LineString, Point};
use gpx::{Gpx, GpxVersion, Metadata, Track, TrackSegment, Waypoint};

use crate::ReportError;
use crate::outputs::{OutboxSlot, OutputError};

use super::super::plain;
use super::styles::gps_symbol;
use super::{BriefContent, made, title, told, told_of_site};

/// Writes posts and sites as waypoints, routes as tracks, which every unit draws
/// as they are; a route it would lead along its own roads.
pub(crate) fn write_gpx(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let BriefContent { brief, inputs, .. } = *content;
    let plan = inputs.plan;
    let posts = brief.posts.iter().map(|post| {
        waypoint(
            post.at.point(),
            &format!("{} {}", post.number, post.name),
            told(&post.sentence, &post.advice),
            ("post", Some(gps_symbol(post.outcome))),
        )
    });
    let sites = plan.sites.iter().map(|site| {
        let told = told_of_site(inputs, &site.name);
        let symbol = (site.name == inputs.site.site).then_some(RELAY);
        waypoint(site.at.point(), &plain(&site.name), told, ("site", symbol))
    });
    let tracks = plan.routes.iter().zip(&brief.routes).map(|(route, line)| Track {
        name: Some(line.name.clone()),
        description: Some(told(&line.sentence, &line.advice)),
        type_: Some("route".to_owned()),
        segments: vec![TrackSegment { points: points(&route.line) }],
        ..Track::default()
    });
    let provenance = inputs.provenance;
    let file = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(format!("{} {}", provenance.program, provenance.version)),
        metadata: Some(Metadata {
            name: Some(title(brief)),
            description: Some(made(brief, plan)),
            ..Metadata::default()
        }),
        waypoints: posts.chain(sites).collect(),
        tracks: tracks.collect(),
        routes: Vec::new(),
    };
    let mut bytes = Vec::new();
    gpx::write(&file, &mut bytes)
        .map_err(|e| ReportError::Exchange { format: "GPX", reason: e.to_string() })?;
    slot.bytes(&bytes)
}

/// The relay's symbol, by a name that GPS units commonly have (from memory).
const RELAY: &str = "Tall Tower";

fn waypoint(at: Point, name: &str, told: String, (kind, symbol): (&str, Option<&str>)) -> Waypoint {
    let mut waypoint = Waypoint::new(rounded(at));
    waypoint.name = Some(name.to_owned());
    waypoint.description = Some(told);
    waypoint.type_ = Some(kind.to_owned());
    waypoint.symbol = symbol.map(str::to_owned);
    waypoint
}

fn points(line: &LineString) -> Vec<Waypoint> {
    line.points().map(|at| Waypoint::new(rounded(at))).collect()
}

/// Seven decimals of a degree, about a centimetre.
fn rounded(at: Point) -> Point {
    let seven = |v: f64| (v * 1e7).round() / 1e7;
    Point::new(seven(at.x()), seven(at.y()))
}
