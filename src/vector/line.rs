//! Every line of a vector file.

use std::path::Path;

use geo::{Geometry, LineString};

use super::VectorError;
use super::each::each;

/// Reads every line of every layer, in longitude and latitude; points and
/// polygons are passed over.
///
/// # Errors
/// [`VectorError`] when the file cannot be read as vectors, does not say what
/// its coordinates mean, or has coordinates that no place on earth has.
pub fn lines(path: &Path) -> Result<Vec<LineString>, VectorError> {
    let mut lines = Vec::new();
    each(path, "reading its lines", |met| {
        gather(met.geometry, &mut lines);
        Ok(())
    })?;
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
