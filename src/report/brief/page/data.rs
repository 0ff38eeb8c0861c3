//! What the page's script draws, as JSON inside the page.

use geo::LineString;
use serde_json::{Value, json};

use crate::ReportError;
use crate::map::georeference::MapFrame;
use perchline_units::Position;

use super::super::picture::Pictures;
use super::super::{Brief, PlaceLine};
use super::spots;
use perchline_coverage::Coverage;

/// The data, safe inside a `script` element: a `<` could end it.
pub(super) fn data(
    brief: &Brief,
    pictures: &Pictures,
    coverage: &Coverage,
) -> Result<String, ReportError> {
    let posts = brief.posts.iter().map(|post| -> Result<Value, ReportError> {
        Ok(json!({
            "number": post.number,
            "name": post.name,
            "at": metres(&pictures.frame, post.at)?,
            "mark": pictures.mark(post.outcome),
            "works": post.outcome.works(),
            "sentence": post.sentence,
            "advice": post.advice,
            "channel": post.slip.channel_name,
            "silent": post.slip.silent,
        }))
    });
    let told = |lines: &[PlaceLine], shapes: &[Vec<LineString>]| {
        lines
            .iter()
            .zip(shapes)
            .map(|(line, rings)| -> Result<Value, ReportError> {
                let rings = rings.iter().map(|ring| along(&pictures.frame, ring));
                Ok(json!({
                    "name": line.name,
                    "sentence": line.sentence,
                    "advice": line.advice,
                    "rings": rings.collect::<Result<Vec<_>, _>>()?,
                }))
            })
            .collect::<Result<Vec<_>, _>>()
    };
    let data = json!({
        "width": pictures.ground.0,
        "height": pictures.ground.1,
        "units": pictures.units,
        "spots": spots::spots(coverage),
        "earth": spots::earth(&pictures.frame)?,
        "site": {
            "name": pictures.site_name,
            "at": metres(&pictures.frame, pictures.site_at)?,
            "mark": pictures.site_mark,
        },
        "posts": posts.collect::<Result<Vec<_>, _>>()?,
        "areas": told(&brief.areas, &pictures.areas)?,
        "routes": told(&brief.routes, &pictures.routes)?,
    });
    Ok(data.to_string().replace('<', "\\u003c"))
}

/// A position in metres up and to the right of the map's lower left corner, as
/// the script's map has them, to a decimetre.
pub(super) fn metres(frame: &MapFrame, at: Position) -> Result<[f64; 2], ReportError> {
    let (x, y) = frame.at(at)?;
    let whole = frame.frame();
    let scale = frame.pixels_per_metre();
    let tenths = |v: f64| (v * 10.0).round() / 10.0;
    Ok([tenths((whole.bottom() - y) / scale), tenths((x - whole.left) / scale)])
}

fn along(frame: &MapFrame, line: &LineString) -> Result<Vec<[f64; 2]>, ReportError> {
    let places = line.points().filter_map(|p| Position::from_point(p).ok());
    places.map(|at| metres(frame, at)).collect()
}
