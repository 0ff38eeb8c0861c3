//! A walk as a GPX route, for a GPS unit.

use gpx::{Gpx, GpxVersion, Route, Waypoint};

use crate::heard::rehearsal::Rehearsal;

use super::{Provenance, ReportError};

/// The places of a rehearsal as waypoints and as a route (GPX 1.1).
///
/// # Errors
/// [`ReportError::Exchange`] when it cannot be written.
pub fn rehearsal_gpx(
    rehearsal: &Rehearsal,
    provenance: &Provenance,
) -> Result<Vec<u8>, ReportError> {
    let points: Vec<Waypoint> = (1..)
        .zip(&rehearsal.places)
        .map(|(number, place)| {
            let at = geo::Point::new(place.at.longitude().value(), place.at.latitude().value());
            let mut point = Waypoint::new(at);
            point.name = Some(format!("{number} {}", place.name));
            // What `debrief` reads; "; heard: yes" or no is added on the way.
            point.description =
                Some(format!("site: {}; channel: {}", rehearsal.site, rehearsal.channel));
            point
        })
        .collect();
    let mut route = Route::new();
    route.name = Some(format!("Test calls to {}", rehearsal.site));
    route.points.clone_from(&points);
    let document = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(format!("{} {}", provenance.program, provenance.version)),
        waypoints: points,
        routes: vec![route],
        ..Gpx::default()
    };
    let mut bytes = Vec::new();
    gpx::write(&document, &mut bytes)
        .map_err(|e| ReportError::Exchange { format: "GPX", reason: e.to_string() })?;
    Ok(bytes)
}
