//! Every feature of a file with its shape, in longitude and latitude.

use std::path::Path;

use gdal::Dataset;
use gdal::vector::{Feature, LayerAccess};
use geo::Geometry;

use super::VectorError;
use super::source::{
    OUT_OF_REACH, check_degrees, features, has_empty_part, is_curved, open, out_of_reach, stated,
    to_wgs84,
};
use perchline_confine::Reading;

/// A feature as it is met.
pub(super) struct Met<'f> {
    /// GDAL's name of the file's format.
    pub format: &'f str,
    /// Its layer.
    pub layer: &'f str,
    /// The fields of the layer.
    pub fields: &'f [String],
    /// Itself.
    pub feature: &'f Feature<'f>,
    /// Its shape, every coordinate of which is on earth.
    pub geometry: Geometry,
}

/// Hands every feature that has a shape without curves to `take`; returns how many
/// have none.
///
/// # Errors
/// [`VectorError`] when the file cannot be read as vectors, does not say what its
/// coordinates mean, or has coordinates that no place on earth has; and what `take`
/// returns.
pub(super) fn each(
    path: &Path,
    doing: &'static str,
    take: impl FnMut(Met<'_>) -> Result<(), VectorError>,
) -> Result<usize, VectorError> {
    each_of(path, &open(path)?, None, doing, take)
}

/// The same of a file that lies open, of one layer alone where one is named.
///
/// # Errors
/// [`VectorError`] as for [`each`].
pub(super) fn each_of(
    path: &Path,
    dataset: &Dataset,
    only: Option<&str>,
    doing: &'static str,
    mut take: impl FnMut(Met<'_>) -> Result<(), VectorError>,
) -> Result<usize, VectorError> {
    let format = dataset.driver().short_name();
    let reading = Reading::begin(path, doing);
    let mut shapeless = 0;
    for mut layer in dataset.layers() {
        let fields: Vec<String> = layer.defn().fields().map(|field| field.name()).collect();
        let own = layer.spatial_ref();
        let name = layer.name();
        if only.is_some_and(|only| only != name) {
            continue;
        }
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
                shapeless += 1;
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
            let (format, layer, fields) = (format.as_str(), name.as_str(), fields.as_slice());
            take(Met { format, layer, fields, feature: &feature, geometry })?;
        }
    }
    Ok(shapeless)
}
