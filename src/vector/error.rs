//! Why a feature could not be had.

use std::path::PathBuf;

use perchline_confine::Overrun;
use perchline_units::{listed, shown};

/// Why a feature could not be had from a vector file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum VectorError {
    /// The path is not one of a file on this machine.
    #[error(
        "{} is not a plain file path; only files on this machine are read, so save a copy beside \
         the plan", file.display()
    )]
    SpecialPath {
        /// The path as given.
        file: PathBuf,
    },
    /// A file cannot be written.
    #[error(
        "{}: cannot be written: {}; check that the folder may be written to and the disk has \
         room", file.display(), listed(reason)
    )]
    Write {
        /// The file.
        file: PathBuf,
        /// What OGR says.
        reason: String,
    },
    /// There is no such file.
    #[error("there is no file {}; the path is taken from the plan's folder", file.display())]
    Missing {
        /// The path as looked for.
        file: PathBuf,
    },
    /// It is no plain file, or holds what is not read, in words.
    #[error("{}: not read: {}", file.display(), listed(reason))]
    Unfit {
        /// The file.
        file: PathBuf,
        /// What stands against it.
        reason: String,
    },
    /// Reading it took too long, or too much memory.
    #[error(transparent)]
    Overrun(#[from] Overrun),
    /// OGR cannot read it.
    #[error(
        "{} is not a vector file that can be read ({}); use GeoJSON, GPX, KML, GeoPackage, \
         Shapefile or CSV", file.display(), listed(reason)
    )]
    NotVector {
        /// The file.
        file: PathBuf,
        /// What OGR says.
        reason: String,
    },
    /// The layer asked for is not there.
    #[error(
        "{} has no layer \"{}\"; its layers are {}", file.display(), shown(layer), listed(available)
    )]
    NoLayer {
        /// The file.
        file: PathBuf,
        /// The layer asked for.
        layer: String,
        /// The layers that are there.
        available: String,
    },
    /// Several layers have polygons, and none is named.
    #[error(
        "{} has several layers with polygons ({}), and which one holds houses is not guessed; name \
         it, such as layer = \"{}\"", file.display(), listed(&layers.join(", ")),
         shown(layers.first().map_or("", String::as_str))
    )]
    ManyLayers {
        /// The file.
        file: PathBuf,
        /// The layers with polygons.
        layers: Vec<String>,
    },
    /// The field asked for is not there.
    #[error(
        "{} has no field \"{}\"; its fields are {}", file.display(), shown(field), listed(fields)
    )]
    NoField {
        /// The file.
        file: PathBuf,
        /// The field asked for.
        field: String,
        /// The fields that are there.
        fields: String,
    },
    /// No layer has a field that could hold names.
    #[error(
        "the features of {} have no names: no field is called name, title, label or id; the \
         fields are {}", file.display(), listed(fields)
    )]
    NoNameField {
        /// The file.
        file: PathBuf,
        /// The fields that are there.
        fields: String,
    },
    /// The feature has no geometry.
    #[error(
        "{}: \"{}\" is there, but has no place that can be read; in a CSV file write decimal \
         degrees in columns named lat and lon", file.display(), shown(name)
    )]
    NoPlace {
        /// The file.
        file: PathBuf,
        /// The feature.
        name: String,
    },
    /// No feature has the name.
    #[error("{} has no feature named \"{}\"; {nearest}", file.display(), shown(name))]
    NoFeature {
        /// The file.
        file: PathBuf,
        /// The name asked for.
        name: String,
        /// Names that come near, in a sentence.
        nearest: String,
    },
    /// Several features have the name and could serve.
    #[error(
        "{} has {} features named \"{}\" (in {}); rename all but one, or pick a layer with \
         layer = \"...\"", file.display(), layers.len(), shown(name), listed(&layers.join(", "))
    )]
    Ambiguous {
        /// The file.
        file: PathBuf,
        /// The name asked for.
        name: String,
        /// The layer of each.
        layers: Vec<String>,
    },
    /// The feature is not of the shape that is needed.
    #[error("\"{}\" in {} does not serve here: {}", shown(name), file.display(), listed(reason))]
    WrongShape {
        /// The file.
        file: PathBuf,
        /// The name asked for.
        name: String,
        /// What it is and what is needed.
        reason: String,
    },
    /// The file does not say what its coordinates mean.
    #[error(
        "{} does not say its coordinate system, and none is assumed; add it (for a Shapefile the \
         .prj file, for CSV columns named lat and lon), or save it as GeoJSON", file.display()
    )]
    NoCoordinateSystem {
        /// The file.
        file: PathBuf,
    },
    /// Its coordinates could not be turned into longitude and latitude.
    #[error(
        "coordinates of \"{}\" in {} cannot be brought to WGS 84: {}", shown(name), file.display(),
        listed(reason)
    )]
    Coordinates {
        /// The file.
        file: PathBuf,
        /// The name asked for.
        name: String,
        /// What failed.
        reason: String,
    },
}
