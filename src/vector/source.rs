//! Opening a vector file and collecting the features of one name.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::path::Path;

use gdal::spatial_ref::{AxisMappingStrategy, CoordTransform, CoordTransformOptions, SpatialRef};
use gdal::vector::{Layer, LayerAccess, OGRwkbGeometryType, geometry_type_flatten};
use gdal::{Dataset, DatasetOptions, GdalOpenFlags};
use geo::{CoordsIter, Geometry};

use super::{VectorError, sound};
use perchline_confine::{Reading, check_coordinate_system, drivers};
use perchline_units::{Position, shown};

/// Fields that may hold a feature's name, best first, letter case aside.
pub(super) const NAME_FIELDS: &[&str] = &["name", "title", "label", "id"];

/// Column names that can only mean latitude and longitude in degrees.
const LATITUDE_COLUMNS: &[&str] = &["lat", "latitude"];
const LONGITUDE_COLUMNS: &[&str] = &["lon", "lng", "long", "longitude"];

/// How CSV files say places.
const CSV_OPTIONS: &[&str] =
    &["Y_POSSIBLE_NAMES=lat,latitude", "X_POSSIBLE_NAMES=lon,lng,long,longitude"];

/// Databases are read as they lie on the disk, nothing written beside them, and
/// only what they list as layers.
const DATABASE_OPTIONS: &[&str] = &["IMMUTABLE=YES", "LIST_ALL_TABLES=NO"];

/// A feature of the wanted name, in WGS 84.
pub(super) struct Candidate {
    pub(super) geometry: Geometry,
    pub(super) layer: String,
}

/// Whether a path is a remote or virtual one, a connection string, or
/// otherwise no plain file: GDAL would reach beyond this machine's files.
#[must_use]
pub fn is_special_path(text: &str) -> bool {
    let lower = text.to_ascii_lowercase();
    // A drive letter is the one plain use of a colon near the front.
    let scheme = lower.split_once(':').is_some_and(|(before, _)| {
        before.len() > 1 && before.chars().all(|c| c.is_ascii_alphanumeric() || "+-._".contains(c))
    });
    lower.starts_with("/vsi")
        || lower.contains("/vsi")
        || lower.contains("://")
        || lower.starts_with(['<', '{'])
        || text.contains('\0')
        || scheme
}

/// Opens a vector file that lies on this machine.
pub(super) fn open(path: &Path) -> Result<Dataset, VectorError> {
    let file = || path.to_owned();
    if is_special_path(&path.to_string_lossy()) {
        return Err(VectorError::SpecialPath { file: file() });
    }
    if !path.is_file() {
        return Err(VectorError::Missing { file: file() });
    }
    drivers::ensure();
    let reading = Reading::begin(path, "opening it");
    let kind = sound::check(path)?;
    let dataset = Dataset::open_ex(
        path,
        DatasetOptions {
            open_flags: GdalOpenFlags::GDAL_OF_VECTOR,
            allowed_drivers: Some(drivers::VECTORS),
            open_options: match kind {
                sound::Kind::Table => Some(CSV_OPTIONS),
                sound::Kind::Database => Some(DATABASE_OPTIONS),
                sound::Kind::Other => None,
            },
            sibling_files: None,
        },
    )
    .map_err(|error| VectorError::NotVector { file: file(), reason: error.to_string() })?;
    reading.check()?;
    let layers = dataset.layer_count();
    if layers > MOST_LAYERS {
        return Err(VectorError::Unfit {
            file: file(),
            reason: format!("it has {layers} layers; at most {MOST_LAYERS} are read"),
        });
    }
    Ok(dataset)
}

/// The most layers of a file.
const MOST_LAYERS: usize = 1000;

/// The features of a layer, as long as reading them takes no longer than it may.
///
/// # Errors
/// [`VectorError::Overrun`] in place of a feature that came too late.
pub(super) fn features<'a, 'b>(
    layer: &'a mut Layer<'b>,
    reading: &'a Reading,
) -> impl Iterator<Item = Result<gdal::vector::Feature<'a>, VectorError>> {
    layer.features().map(move |feature| reading.check().map(|()| feature).map_err(Into::into))
}

/// A vector file that lies open, and the ways from its layers to WGS 84 so far.
pub(super) struct OpenFile {
    dataset: Dataset,
    ways: Ways,
}

/// The way to WGS 84 by the name of the layer; none where degrees stand in columns.
type Ways = HashMap<String, Option<CoordTransform>>;

impl OpenFile {
    /// Opens a vector file that lies on this machine.
    pub(super) fn open(path: &Path) -> Result<Self, VectorError> {
        Ok(Self { dataset: open(path)?, ways: HashMap::new() })
    }

    /// All features called `name`.
    pub(super) fn named(
        &mut self,
        path: &Path,
        layer: Option<&str>,
        name: &str,
    ) -> Result<Vec<Candidate>, VectorError> {
        let file = || path.to_owned();
        let reading = Reading::begin(path, "looking through its features");
        let layers: Vec<Layer<'_>> = self.dataset.layers().collect();
        let all: Vec<String> = layers.iter().map(LayerAccess::name).collect();
        let mut chosen: Vec<Layer<'_>> =
            layers.into_iter().filter(|l| layer.is_none_or(|wanted| l.name() == wanted)).collect();
        if chosen.is_empty() {
            return Err(match layer {
                Some(layer) => VectorError::NoLayer {
                    file: file(),
                    layer: layer.to_owned(),
                    available: all.join(", "),
                },
                None => {
                    VectorError::NotVector { file: file(), reason: "it has no layer".to_owned() }
                }
            });
        }
        let mut search = Search {
            path,
            name,
            reading,
            ways: &mut self.ways,
            found: Vec::new(),
            names: Vec::new(),
            fields: Vec::new(),
            placeless: false,
        };
        let mut named_layers = 0;
        for layer in &mut chosen {
            named_layers += usize::from(search.layer(layer)?);
        }
        if named_layers == 0 {
            return Err(VectorError::NoNameField {
                file: file(),
                fields: search.fields.join(", "),
            });
        }
        if search.found.is_empty() && search.placeless {
            return Err(VectorError::NoPlace { file: file(), name: name.to_owned() });
        }
        if search.found.is_empty() {
            return Err(VectorError::NoFeature {
                file: file(),
                name: name.to_owned(),
                nearest: nearest(name, &search.names),
            });
        }
        Ok(search.found)
    }
}

struct Search<'a> {
    path: &'a Path,
    name: &'a str,
    reading: Reading,
    ways: &'a mut Ways,
    found: Vec<Candidate>,
    names: Vec<String>,
    fields: Vec<String>,
    /// Whether a feature of the name has no geometry.
    placeless: bool,
}

impl Search<'_> {
    /// Searches one layer; whether it has a field of names at all.
    fn layer(&mut self, layer: &mut Layer<'_>) -> Result<bool, VectorError> {
        let fields: Vec<String> = layer.defn().fields().map(|field| field.name()).collect();
        let Some(field) = NAME_FIELDS
            .iter()
            .find_map(|wanted| fields.iter().position(|f| f.eq_ignore_ascii_case(wanted)))
        else {
            self.fields.extend(fields);
            return Ok(false);
        };
        let layer_name = layer.name();
        let spatial_ref = layer.spatial_ref();
        let mut matches = Vec::new();
        for feature in features(layer, &self.reading) {
            let feature = feature?;
            let Some(text) = feature.field_as_string(field).ok().flatten() else { continue };
            if text.trim() != self.name.trim() {
                if !text.trim().is_empty() {
                    self.names.push(text);
                }
                continue;
            }
            let Some(geometry) = feature.geometry().filter(|g| g.has_gdal_ptr() && !g.is_empty())
            else {
                self.placeless = true;
                continue;
            };
            let mut geometry = geometry.clone();
            geometry.flatten_to_2d();
            matches.push(geometry);
        }
        if matches.is_empty() {
            return Ok(true);
        }
        let (path, name) = (self.path, self.name);
        let unfit = |reason: String| {
            let (file, name) = (path.to_owned(), name.to_owned());
            VectorError::Coordinates { file, name, reason }
        };
        let way = match self.ways.entry(layer_name.clone()) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(place) => {
                let stated = stated(path, spatial_ref.as_ref(), &fields)?;
                let way = stated.map(|stated| to_wgs84(stated).map_err(|e| unfit(e.to_string())));
                place.insert(way.transpose()?)
            }
        };
        for mut geometry in matches {
            if out_of_reach(&geometry) {
                return Err(unfit(OUT_OF_REACH.into()));
            }
            if let Some(way) = way {
                geometry.transform_inplace(way).map_err(|e| unfit(e.to_string()))?;
            }
            if has_empty_part(&geometry) {
                return Err(unfit("a part of it is empty; draw it anew".into()));
            }
            if is_curved(geometry.geometry_type()) {
                return Err(unfit("it has curves; save it with straight segments".into()));
            }
            let geometry = geometry.to_geo().map_err(|e| unfit(e.to_string()))?;
            self.found.push(Candidate { geometry, layer: layer_name.clone() });
        }
        Ok(true)
    }
}

/// The coordinate system of a layer; `None` where the columns already say degrees.
pub(super) fn stated<'a>(
    path: &Path,
    spatial_ref: Option<&'a SpatialRef>,
    fields: &[String],
) -> Result<Option<&'a SpatialRef>, VectorError> {
    if let Some(Err(reason)) =
        spatial_ref.and_then(|crs| crs.to_wkt().ok()).map(|wkt| check_coordinate_system(&wkt))
    {
        let reason = format!("its coordinate system is not read: {reason}");
        return Err(VectorError::Unfit { file: path.to_owned(), reason });
    }
    let stated = spatial_ref.filter(|crs| {
        // GeoPackage has a placeholder for "unknown" that passes as a system.
        !crs.is_local() && !crs.name().is_some_and(|n| n.to_lowercase().starts_with("undefined"))
    });
    let has =
        |wanted: &[&str]| fields.iter().any(|f| wanted.iter().any(|w| f.eq_ignore_ascii_case(w)));
    let is_csv = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("csv"));
    if stated.is_none() && !(is_csv && has(LATITUDE_COLUMNS) && has(LONGITUDE_COLUMNS)) {
        return Err(VectorError::NoCoordinateSystem { file: path.to_owned() });
    }
    Ok(stated)
}

/// The way from a coordinate system to WGS 84, longitude first on both sides.
pub(super) fn to_wgs84(stated: &SpatialRef) -> gdal::errors::Result<CoordTransform> {
    let (from, to, options) = ends(stated)?;
    CoordTransform::new_with_options(&from, &to, &options)
}

/// The way back.
pub(super) fn from_wgs84(stated: &SpatialRef) -> gdal::errors::Result<CoordTransform> {
    let (to, from, options) = ends(stated)?;
    CoordTransform::new_with_options(&from, &to, &options)
}

fn ends(
    stated: &SpatialRef,
) -> gdal::errors::Result<(SpatialRef, SpatialRef, CoordTransformOptions)> {
    let mut own = stated.clone();
    own.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
    let mut earth = SpatialRef::from_epsg(4326)?;
    earth.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
    let mut options = CoordTransformOptions::new()?;
    options.set_ballpark_allowed(false)?;
    Ok((own, earth, options))
}

/// Refuses coordinates that no place on earth has.
pub(super) fn check_degrees(
    path: &Path,
    name: &str,
    geometry: &Geometry,
) -> Result<(), VectorError> {
    for coordinate in geometry.coords_iter() {
        Position::from_point(coordinate.into()).map_err(|error| VectorError::Coordinates {
            file: path.to_owned(),
            name: name.to_owned(),
            reason: error.to_string(),
        })?;
    }
    Ok(())
}

/// Whether some part has no coordinates, which the conversion cannot carry.
pub(super) fn has_empty_part(geometry: &gdal::vector::Geometry) -> bool {
    geometry.is_empty()
        || (0..geometry.geometry_count()).any(|part| has_empty_part(&geometry.get_geometry(part)))
}

/// Why coordinates that are out of reach are refused.
pub(super) const OUT_OF_REACH: &str = "its coordinates are no place on earth";

/// Whether a coordinate is infinite or larger than any place on earth has in any
/// system, in millimetres even: PROJ may look for such a place without an end.
pub(super) fn out_of_reach(geometry: &gdal::vector::Geometry) -> bool {
    const FARTHEST: f64 = 1e11;
    let bounds = geometry.envelope();
    let ends = [bounds.MinX, bounds.MaxX, bounds.MinY, bounds.MaxY];
    !ends.iter().all(|end| end.abs() <= FARTHEST)
}

pub(super) fn is_curved(kind: OGRwkbGeometryType::Type) -> bool {
    !matches!(
        geometry_type_flatten(kind),
        OGRwkbGeometryType::wkbPoint
            | OGRwkbGeometryType::wkbLineString
            | OGRwkbGeometryType::wkbPolygon
            | OGRwkbGeometryType::wkbMultiPoint
            | OGRwkbGeometryType::wkbMultiLineString
            | OGRwkbGeometryType::wkbMultiPolygon
            | OGRwkbGeometryType::wkbGeometryCollection
    )
}

/// Longest name, in bytes, that is offered for another.
const LONGEST_MEANT: usize = 400;

/// A sentence that offers the names that come nearest.
fn nearest(name: &str, names: &[String]) -> String {
    // Comparing takes the product of the lengths, and no slip is that long.
    let (name, _) = name.split_at(name.floor_char_boundary(LONGEST_MEANT));
    let mut ranked: Vec<(f64, &String)> = names
        .iter()
        .filter(|n| n.len() <= LONGEST_MEANT)
        .map(|n| (strsim::jaro_winkler(&n.to_lowercase(), &name.to_lowercase()), n))
        .collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut offered: Vec<String> = Vec::new();
    for (_, candidate) in ranked {
        let candidate = format!("\"{}\"", shown(candidate));
        if offered.len() < 3 && !offered.contains(&candidate) {
            offered.push(candidate);
        }
    }
    if offered.is_empty() {
        "none of its features has a name".to_owned()
    } else {
        format!("the nearest names are {}", offered.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_paths_pass() {
        for plain in
            ["places.gpx", "maps/a b.geojson", "/home/x/a.kml", "C:/maps/a.kml", "../a.csv"]
        {
            assert!(!is_special_path(plain), "{plain}");
        }
        for special in [
            "/vsicurl/http://example.com/a.json",
            "https://example.com/a.json",
            "PG:dbname=a",
            "{\"type\": \"FeatureCollection\"}",
            "GPKG:a.gpkg:t",
            "sub//vsimem/a",
        ] {
            assert!(is_special_path(special), "{special}");
        }
    }

    #[test]
    fn so_many_layers_are_read_and_no_more() {
        let folder = tempfile::tempdir().unwrap();
        let with = |layers: usize| {
            let file = folder.path().join(format!("{layers}.kml"));
            let placed = |n| {
                format!(
                    "<Folder><name>{n}</name><Placemark><Point><coordinates>1,1</coordinates></Point></Placemark></Folder>"
                )
            };
            let folders: String = (0..layers).map(placed).collect();
            std::fs::write(&file, format!("<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document>{folders}</Document></kml>")).unwrap();
            open(&file)
        };
        assert_eq!(with(MOST_LAYERS).unwrap().layer_count(), MOST_LAYERS);
        let refused = with(MOST_LAYERS + 1).map(drop).unwrap_err().to_string();
        assert!(refused.contains("1001 layers"), "{refused}");
    }

    #[test]
    fn what_is_offered_is_near_and_short() {
        let names = |list: &[&str]| list.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
        let said = nearest("Aid 3", &names(&["Quay", "Aid 33", "aid 3", "Aid 2", "Aid 33"]));
        assert!(said.ends_with("\"aid 3\", \"Aid 33\", \"Aid 2\""), "{said}");
        assert_eq!(nearest("a", &[]), "none of its features has a name");
        let at_most = "a".repeat(LONGEST_MEANT);
        let said = nearest("a", std::slice::from_ref(&at_most));
        assert!(said.starts_with("the nearest names are"), "{said}");
        let over = nearest("a", &["a".repeat(LONGEST_MEANT + 1)]);
        assert_eq!(over, "none of its features has a name");
    }
}
