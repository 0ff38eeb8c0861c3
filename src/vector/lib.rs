//! Named features and building footprints out of vector files, features into a
//! GeoPackage, through OGR.
//!
//! A file is read where it lies: GeoJSON, GPX, KML, GeoPackage, Shapefile or
//! CSV. Coordinates come out as WGS 84 longitude and latitude. A coordinate
//! system is never guessed.

mod each;
mod error;
mod footprint;
mod geopackage;
mod line;
mod names;
mod places;
mod shape;
mod sound;
mod source;

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::path::{Path, PathBuf};

use geo::Geometry;

pub use error::VectorError;
pub use footprint::{Footprint, Footprints, HouseFields, Refused, footprints, houses};
pub use geopackage::{FieldKind, FieldValue, LayerStyle, Shape, Table, write_geopackage};
pub use line::lines;
pub use names::{NameFields, Names, names};
pub use places::{NamedPlace, places};
pub use shape::MOST_CORNERS;
pub use source::is_special_path;
use source::{Candidate, OpenFile};

/// The kind of shape that a caller needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// One point; a polygon gives a point inside it.
    Point,
    /// One unbroken line.
    Line,
    /// One polygon.
    Area,
}

/// A feature that was found by its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// A point, line string or polygon as wanted; longitude and latitude in
    /// degrees on WGS 84.
    pub geometry: Geometry,
    /// The layer that holds it.
    pub layer: String,
    /// What a person should know of how it was read.
    pub note: Option<String>,
}

/// Vector files as they stood when each was first asked for a feature: whoever takes
/// many features of one file has it read once.
#[derive(Default)]
pub struct VectorFiles {
    open: HashMap<PathBuf, OpenFile>,
}

/// The most files that are kept open: a system lets a program have so many.
const MOST_OPEN: usize = 16;

impl VectorFiles {
    /// Finds the one feature called `name` in a vector file.
    ///
    /// Without `layer` all layers are searched, and only features that can serve
    /// as `wanted` count.
    ///
    /// # Errors
    /// [`VectorError`] when the file cannot be read as vectors, has no such
    /// feature or several, has it in the wrong shape, or does not say what its
    /// coordinates mean.
    pub fn find(
        &mut self,
        path: &Path,
        layer: Option<&str>,
        name: &str,
        wanted: Wanted,
    ) -> Result<Feature, VectorError> {
        if self.open.len() >= MOST_OPEN && !self.open.contains_key(path) {
            self.open.clear();
        }
        let file = match self.open.entry(path.to_owned()) {
            Entry::Occupied(kept) => kept.into_mut(),
            Entry::Vacant(place) => place.insert(OpenFile::open(path)?),
        };
        fitting(path, name, wanted, file.named(path, layer, name)?)
    }
}

/// Finds the one feature called `name` in a vector file, as [`VectorFiles::find`] does.
///
/// # Errors
/// As there.
pub fn find(
    path: &Path,
    layer: Option<&str>,
    name: &str,
    wanted: Wanted,
) -> Result<Feature, VectorError> {
    VectorFiles::default().find(path, layer, name, wanted)
}

/// The one candidate that can serve as `wanted`.
fn fitting(
    path: &Path,
    name: &str,
    wanted: Wanted,
    found: Vec<Candidate>,
) -> Result<Feature, VectorError> {
    let mut fitting = Vec::new();
    let mut refused = None;
    for candidate in found {
        // First of all: shapes are worked on with numbers that can be compared.
        source::check_degrees(path, name, &candidate.geometry)?;
        match shape::fit(&candidate.geometry, wanted) {
            Ok((geometry, note)) => fitting.push((candidate, geometry, note)),
            Err(reason) => refused = Some(reason),
        }
    }
    if fitting.len() > 1 {
        return Err(VectorError::Ambiguous {
            file: path.to_owned(),
            name: name.to_owned(),
            layers: fitting.into_iter().map(|(candidate, ..)| candidate.layer).collect(),
        });
    }
    match fitting.pop() {
        Some((candidate, geometry, note)) => Ok(Feature { geometry, layer: candidate.layer, note }),
        None => Err(VectorError::WrongShape {
            file: path.to_owned(),
            name: name.to_owned(),
            reason: refused.unwrap_or_else(|| "it has no geometry".to_owned()),
        }),
    }
}
