//! Every name on the ground that a vector file holds.

use std::path::Path;

use gdal::Dataset;
use gdal::vector::LayerAccess;

use super::VectorError;
use super::each::each_of;
use super::places::{KIND_FIELDS, NamedPlace, POINTS_OF_LINES, text};
use super::source::{NAME_FIELDS, open};

/// The most names of a file.
const MOST_NAMES: usize = 20_000;

/// Which layer of a file holds names, and which of its fields what is read of them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct NameFields<'a> {
    /// The layer; all of them where none is named.
    pub layer: Option<&'a str>,
    /// The field of names; `name`, `title`, `label` or `id` where none is named.
    pub name: Option<&'a str>,
    /// The field that says what a feature is; `kind` or `type` where none is named.
    pub kind: Option<&'a str>,
}

/// The names of a file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Names {
    /// Features with a name and a place, in the file's order.
    pub places: Vec<NamedPlace>,
    /// Features without a name.
    pub nameless: usize,
    /// Features without a shape, or with curves.
    pub shapeless: usize,
}

/// Reads the name of every feature, and where that is.
///
/// # Errors
/// [`VectorError`] when the file cannot be read as vectors, has no such layer or field,
/// does not say what its coordinates mean, has coordinates that no place on earth has, or
/// has more than 20,000 names.
pub fn names(path: &Path, fields: &NameFields<'_>) -> Result<Names, VectorError> {
    let dataset = open(path)?;
    check(path, &dataset, fields)?;
    let or = |wanted: Option<&'_ str>, usual: &[&'static str]| -> Vec<String> {
        wanted.map_or_else(
            || usual.iter().map(|field| (*field).to_owned()).collect(),
            |field| vec![field.to_owned()],
        )
    };
    let (names, kinds) = (or(fields.name, NAME_FIELDS), or(fields.kind, KIND_FIELDS));
    let mut found = Names::default();
    let shapeless = each_of(path, &dataset, fields.layer, "reading its names", |met| {
        if met.format == "GPX" && POINTS_OF_LINES.contains(&met.layer) {
            return Ok(());
        }
        let Some(name) = text(&met, &names) else {
            found.nameless += 1;
            return Ok(());
        };
        if found.places.len() == MOST_NAMES {
            let reason =
                format!("it has more than {MOST_NAMES} names; save those around the event");
            return Err(VectorError::Unfit { file: path.to_owned(), reason });
        }
        let kind = text(&met, &kinds);
        found.places.push(NamedPlace { name: Some(name), kind, geometry: met.geometry });
        Ok(())
    })?;
    Ok(Names { shapeless, ..found })
}

/// Whether the file has the layer and the fields.
fn check(path: &Path, dataset: &Dataset, fields: &NameFields<'_>) -> Result<(), VectorError> {
    let file = || path.to_owned();
    let layers: Vec<(String, Vec<String>)> = dataset
        .layers()
        .map(|layer| (layer.name(), layer.defn().fields().map(|field| field.name()).collect()))
        .collect();
    let chosen: Vec<&String> = layers
        .iter()
        .filter(|(name, _)| fields.layer.is_none_or(|wanted| wanted == name))
        .flat_map(|(_, fields)| fields)
        .collect();
    let is_there = |layer: &str| layers.iter().any(|(name, _)| name == layer);
    match fields.layer {
        Some(layer) if !is_there(layer) => {
            let available: Vec<&str> = layers.iter().map(|(name, _)| name.as_str()).collect();
            let (layer, available) = (layer.to_owned(), available.join(", "));
            return Err(VectorError::NoLayer { file: file(), layer, available });
        }
        None if layers.is_empty() => {
            let reason = "it has no layer".to_owned();
            return Err(VectorError::NotVector { file: file(), reason });
        }
        _ => {}
    }
    let all = || chosen.iter().map(|field| field.as_str()).collect::<Vec<_>>().join(", ");
    let has = |wanted: &str| chosen.iter().any(|field| field.eq_ignore_ascii_case(wanted));
    let missing = [fields.name, fields.kind].into_iter().flatten().find(|field| !has(field));
    if let Some(field) = missing {
        let (field, fields) = (field.to_owned(), all());
        return Err(VectorError::NoField { file: file(), field, fields });
    }
    if fields.name.is_none() && !NAME_FIELDS.iter().any(|field| has(field)) {
        return Err(VectorError::NoNameField { file: file(), fields: all() });
    }
    Ok(())
}
