//! Every line of a vector file.

use std::path::Path;

use gdal::vector::LayerAccess;
use geo::{Geometry, LineString};

use super::VectorError;
use super::source::{
    OUT_OF_REACH, check_degrees, features, has_empty_part, is_curved, open, out_of_reach, stated,
    to_wgs84,
};
use perchline_confine::Reading;

/// Reads every line of every layer, in longitude and latitude; points and
/// polygons are passed over.
///
/// # Errors
/// [`VectorError`] when the file cannot be read as vectors, does not say what
/// its coordinates mean, or has coordinates that no place on earth has.
pub fn lines(path: &Path) -> Result<Vec<LineString>, VectorError> {
    let dataset = open(path)?;
    let reading = Reading::begin(path, "reading its lines");
    let mut lines = Vec::new();
    for mut layer in dataset.layers() {
        let fields: Vec<String> = layer.defn().fields().map(|field| field.name()).collect();
        let own = layer.spatial_ref();
        let name = layer.name();
        let unusable = |reason: String| VectorError::Coordinates {
            file: path.to_owned(),
            name: name.clone(),
            reason,
        };
        let transform = match stated(path, own.as_ref(), &fields)? {
            Some(crs) => Some(to_wgs84(crs).map_err(|e| unusable(e.to_string()))?),
            None => None,
        };
        for feature in features(&mut layer, &reading) {
            let feature = feature?;
            let Some(geometry) = feature.geometry().filter(|g| {
                g.has_gdal_ptr() && !has_empty_part(g) && !is_curved(g.geometry_type())
            }) else {
                continue;
            };
            let mut geometry = geometry.clone();
            geometry.flatten_to_2d();
            if out_of_reach(&geometry) {
                return Err(unusable(OUT_OF_REACH.to_owned()));
            }
            if let Some(transform) = &transform {
                geometry.transform_inplace(transform).map_err(|e| unusable(e.to_string()))?;
            }
            let geometry = geometry.to_geo().map_err(|e| unusable(e.to_string()))?;
            check_degrees(path, &name, &geometry)?;
            gather(geometry, &mut lines);
        }
    }
    Ok(lines)
}

fn gather(geometry: Geometry, into: &mut Vec<LineString>) {
    match geometry {
        Geometry::LineString(line) => into.push(line),
        Geometry::MultiLineString(many) => into.extend(many),
        Geometry::GeometryCollection(many) => {
            many.into_iter().for_each(|part| gather(part, into));
        }
        _ => {}
    }
}
