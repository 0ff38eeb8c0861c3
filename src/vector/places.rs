//! Every place of a vector file, with the name that it has.

use std::path::Path;

use geo::Geometry;

use super::VectorError;
use super::each::{Met, each};
use super::source::NAME_FIELDS;

/// Fields that may say what a feature is, best first, letter case aside.
pub(super) const KIND_FIELDS: &[&str] = &["kind", "type"];

/// Layers of a GPX file that hold the points of its routes and tracks once more.
pub(super) const POINTS_OF_LINES: &[&str] = &["route_points", "track_points"];

/// The most features of which places are made.
const MOST_PLACES: usize = 100_000;

/// A feature with its name.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedPlace {
    /// What the file calls it, as it stands there; `None` where it has no name.
    pub name: Option<String>,
    /// What the file says that it is, in a field called `kind` or `type`.
    pub kind: Option<String>,
    /// Where it is: longitude and latitude in degrees on WGS 84.
    pub geometry: Geometry,
}

/// Reads every feature of every layer; of a GPX file the points of routes and tracks
/// are passed over, which their lines hold. Returns how many features have no place
/// too.
///
/// # Errors
/// [`VectorError`] when the file cannot be read as vectors, does not say what its
/// coordinates mean, has coordinates that no place on earth has, or has more than
/// 100,000 features.
pub fn places(path: &Path) -> Result<(Vec<NamedPlace>, usize), VectorError> {
    let mut places = Vec::new();
    let without = each(path, "reading its places", |met| {
        if met.format == "GPX" && POINTS_OF_LINES.contains(&met.layer) {
            return Ok(());
        }
        if places.len() == MOST_PLACES {
            let reason = format!("it has more than {MOST_PLACES} places; save those of the event");
            return Err(VectorError::Unfit { file: path.to_owned(), reason });
        }
        let (name, kind) = (text(&met, NAME_FIELDS), text(&met, KIND_FIELDS));
        places.push(NamedPlace { name, kind, geometry: met.geometry });
        Ok(())
    })?;
    Ok((places, without))
}

/// The text of the first of these fields that holds any.
pub(super) fn text(met: &Met<'_>, wanted: &[impl AsRef<str>]) -> Option<String> {
    let mut fields = wanted.iter().filter_map(|wanted| {
        met.fields.iter().position(|f| f.eq_ignore_ascii_case(wanted.as_ref()))
    });
    fields.find_map(|field| {
        let text = met.feature.field_as_string(field).ok().flatten()?;
        Some(text.trim().to_owned()).filter(|text| !text.is_empty())
    })
}
