//! Building footprints out of a vector file.

use std::path::Path;

use gdal::cpl::CslStringList;
use gdal::vector::{
    Feature, Geometry as OgrGeometry, Layer, LayerAccess, OGRwkbGeometryType, ToGdal,
    geometry_type_flatten,
};
use geo::{
    BoundingRect, ChamberlainDuquetteArea, CoordsIter, Geometry, Intersects, MultiPolygon, Polygon,
    Rect,
};

use super::VectorError;
use super::source::{
    OUT_OF_REACH, features, from_wgs84, has_empty_part, is_curved, open, out_of_reach, stated,
    to_wgs84,
};
use perchline_confine::Reading;
use perchline_units::{Position, shown};

/// Fields that may hold a feature's own identity, best first, letter case aside.
const ID_FIELDS: &[&str] = &["id", "@id", "osm_id", "full_id", "fid", "name"];

/// Fields that may hold a height.
const HEIGHT_FIELDS: &[&str] = &["height"];

/// Fields that may hold a number of storeys; the second and third are what
/// formats make of the first that allow no colon in a field's name.
const LEVEL_FIELDS: &[&str] = &["building:levels", "building_levels", "building_l", "levels"];

/// One building's outline and what its attributes say, as they say it.
#[derive(Debug, Clone, PartialEq)]
pub struct Footprint {
    /// What the file calls it, or `feature N`.
    pub id: String,
    /// Its outline in longitude and latitude, valid, with an area.
    pub outline: MultiPolygon,
    /// Whether the outline crossed itself and was repaired.
    pub repaired: bool,
    /// The attribute `height`, where there is one.
    pub height: Option<String>,
    /// The attribute `building:levels`, where there is one.
    pub levels: Option<String>,
}

/// A feature that is no building.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// What the file calls it, or `feature N`.
    pub id: String,
    /// Why it was left out.
    pub reason: String,
}

/// The footprints of a file that touch a rectangle, and what was left out.
#[derive(Debug, Clone, Default)]
pub struct Footprints {
    /// The footprints in the file's order.
    pub footprints: Vec<Footprint>,
    /// Features that should be buildings and could not be used.
    pub refused: Vec<Refused>,
    /// Points and lines, which have no area.
    pub without_area: usize,
    /// Whether a layer knows one of the fields for heights or storeys.
    pub knows_heights: bool,
}

/// Which layer of a file holds houses, and which of its fields what is read of them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct HouseFields<'a> {
    /// The layer; the only one with polygons where none is named.
    pub layer: Option<&'a str>,
    /// The field of heights; `height` where none is named.
    pub height: Option<&'a str>,
    /// The field of storeys; `building:levels` or what formats make of it where none
    /// is named.
    pub storeys: Option<&'a str>,
}

/// Reads every polygon of every layer that touches `within`, a rectangle of
/// longitude and latitude in degrees. An outline that crosses itself is
/// repaired; what has no area left is refused.
///
/// # Errors
/// [`VectorError`] when the file cannot be read as vectors or does not say
/// what its coordinates mean.
pub fn footprints(path: &Path, within: Rect) -> Result<Footprints, VectorError> {
    let dataset = open(path)?;
    let reading = Reading::begin(path, "reading its polygons");
    let mut found = Footprints::default();
    for mut layer in dataset.layers() {
        read_layer(path, &mut layer, within, &HouseFields::default(), &reading, &mut found)?;
    }
    has_layers(path, dataset.layer_count())?;
    Ok(found)
}

/// The same of the one layer that holds houses. Of several layers with polygons none
/// is taken for houses unless it is named.
///
/// # Errors
/// [`VectorError`] as for [`footprints`], when the layer or a field that is named is
/// not there, or when several layers have polygons and none is named.
pub fn houses(
    path: &Path,
    within: Rect,
    fields: &HouseFields<'_>,
) -> Result<Footprints, VectorError> {
    let dataset = open(path)?;
    let reading = Reading::begin(path, "reading its buildings");
    has_layers(path, dataset.layer_count())?;
    let names: Vec<String> = dataset.layers().map(|layer| layer.name()).collect();
    let mut chosen: Vec<Layer<'_>> = Vec::new();
    for mut layer in dataset.layers() {
        let is_wanted = match fields.layer {
            Some(wanted) => layer.name() == wanted,
            None => names.len() == 1 || has_polygons(&mut layer, &reading)?,
        };
        if is_wanted {
            chosen.push(layer);
        }
    }
    if chosen.len() > 1 {
        let layers = chosen.iter().map(LayerAccess::name).collect();
        return Err(VectorError::ManyLayers { file: path.to_owned(), layers });
    }
    let Some(mut layer) = chosen.pop() else {
        return match fields.layer {
            Some(layer) => Err(VectorError::NoLayer {
                file: path.to_owned(),
                layer: layer.to_owned(),
                available: names.join(", "),
            }),
            // Nothing in it is a house.
            None => Ok(Footprints::default()),
        };
    };
    let mut found = Footprints::default();
    read_layer(path, &mut layer, within, fields, &reading, &mut found)?;
    Ok(found)
}

fn has_layers(path: &Path, layers: usize) -> Result<(), VectorError> {
    if layers > 0 {
        return Ok(());
    }
    let reason = "it has no layer".to_owned();
    Err(VectorError::NotVector { file: path.to_owned(), reason })
}

/// Whether a layer holds polygons: as it says of all its shapes, else as one of them
/// has it.
fn has_polygons(layer: &mut Layer<'_>, reading: &Reading) -> Result<bool, VectorError> {
    let is_area = |kind| {
        use OGRwkbGeometryType::{wkbCurvePolygon, wkbMultiPolygon, wkbMultiSurface, wkbPolygon};
        let kind = geometry_type_flatten(kind);
        [wkbPolygon, wkbMultiPolygon, wkbCurvePolygon, wkbMultiSurface].contains(&kind)
    };
    let stated = geometry_type_flatten(layer.defn().geometry_type());
    let is_mixed = [OGRwkbGeometryType::wkbUnknown, OGRwkbGeometryType::wkbGeometryCollection];
    if !is_mixed.contains(&stated) {
        return Ok(is_area(stated));
    }
    for feature in features(layer, reading) {
        let feature = feature?;
        if feature.geometry().is_some_and(|g| g.has_gdal_ptr() && is_area(g.geometry_type())) {
            return Ok(true);
        }
    }
    Ok(false)
}

fn read_layer(
    path: &Path,
    layer: &mut Layer<'_>,
    within: Rect,
    wanted: &HouseFields<'_>,
    reading: &Reading,
    found: &mut Footprints,
) -> Result<(), VectorError> {
    let fields: Vec<String> = layer.defn().fields().map(|field| field.name()).collect();
    let place = |wanted: &[&str]| {
        wanted.iter().find_map(|w| fields.iter().position(|f| f.eq_ignore_ascii_case(w)))
    };
    let named = |wanted: Option<&str>, usual: &[&str]| match wanted {
        Some(field) => place(&[field]).map(Some).ok_or_else(|| VectorError::NoField {
            file: path.to_owned(),
            field: field.to_owned(),
            fields: fields.join(", "),
        }),
        None => Ok(place(usual)),
    };
    let id = place(ID_FIELDS);
    let height = named(wanted.height, HEIGHT_FIELDS)?;
    let levels = named(wanted.storeys, LEVEL_FIELDS)?;
    found.knows_heights |= height.is_some() || levels.is_some();
    let own = layer.spatial_ref();
    let name = layer.name();
    let unusable = |error: gdal::errors::GdalError| VectorError::Coordinates {
        file: path.to_owned(),
        name: name.clone(),
        reason: error.to_string(),
    };
    let transform = match stated(path, own.as_ref(), &fields)? {
        Some(crs) => {
            let back = from_wgs84(crs).map_err(unusable)?;
            let (low, high) = (within.min(), within.max());
            // Only spares work: what it lets through is looked at again below. A
            // filter passes over features without a place, which are to be told.
            if layer.feature_count() > FEW
                && let Ok([x0, y0, x1, y1]) =
                    back.transform_bounds(&[low.x, low.y, high.x, high.y], EDGE_POINTS)
                && [x0, y0, x1, y1].iter().all(|bound| bound.is_finite())
            {
                layer.set_spatial_filter_rect(x0, y0, x1, y1);
            }
            Some(to_wgs84(crs).map_err(unusable)?)
        }
        None => None,
    };
    for (index, feature) in features(layer, reading).enumerate() {
        let feature = feature?;
        let text = |field: Option<usize>| {
            let text = feature.field_as_string(field?).ok().flatten()?;
            Some(text.trim().to_owned()).filter(|text| !text.is_empty())
        };
        let id = text(id).map(|id| shown(&id)).unwrap_or_else(|| {
            let number = feature.fid().unwrap_or(index as u64);
            format!("feature {number}")
        });
        match outline(&feature, transform.as_ref()) {
            Ok(Some((outline, repaired))) => {
                let near = outline.bounding_rect().is_some_and(|rect| rect.intersects(&within));
                if near {
                    let (height, levels) = (text(height), text(levels));
                    found.footprints.push(Footprint { id, outline, repaired, height, levels });
                }
            }
            Ok(None) => found.without_area += 1,
            Err(reason) => found.refused.push(Refused { id, reason }),
        }
    }
    Ok(())
}

/// Square metres below which an outline is a slip of the pen.
const LEAST_AREA: f64 = 0.1;

/// Features that are read one by one wherever they lie.
const FEW: u64 = 200_000;

/// Points added to each edge of a rectangle that is brought to another system.
const EDGE_POINTS: i32 = 21;

/// The outline in longitude and latitude and whether it was repaired; `None`
/// for points and lines.
fn outline(
    feature: &Feature<'_>,
    transform: Option<&gdal::spatial_ref::CoordTransform>,
) -> Result<Option<(MultiPolygon, bool)>, String> {
    let geometry = feature
        .geometry()
        .filter(|g| g.has_gdal_ptr() && !g.is_empty() && !has_empty_part(g))
        .ok_or("it is empty")?;
    let mut geometry = geometry.clone();
    geometry.flatten_to_2d();
    if is_curved(geometry.geometry_type()) {
        return Err("it has curves; save it with straight segments".to_owned());
    }
    let corners = corners(&geometry);
    if corners > MOST_OUTLINE_CORNERS {
        return Err(format!(
            "its outline has {corners} corners; at most {MOST_OUTLINE_CORNERS} are read of a building"
        ));
    }
    if out_of_reach(&geometry) {
        return Err(OUT_OF_REACH.to_owned());
    }
    if let Some(transform) = transform {
        geometry
            .transform_inplace(transform)
            .map_err(|error| format!("it cannot be brought to WGS 84 ({error})"))?;
    }
    let as_drawn = polygons(&geometry)?;
    if as_drawn.0.is_empty() {
        return Ok(None);
    }
    let on_earth = as_drawn.coords_iter().all(|c| Position::from_point(c.into()).is_ok());
    if !on_earth {
        return Err(OUT_OF_REACH.to_owned());
    }
    // Parts of a collection may each be valid and yet overlap.
    let geometry = as_drawn.to_gdal().map_err(|error| error.to_string())?;
    if geometry.is_valid() {
        let empty = as_drawn.chamberlain_duquette_unsigned_area() < LEAST_AREA;
        return if empty { Err("it has no area".to_owned()) } else { Ok(Some((as_drawn, false))) };
    }
    if corners > MOST_REPAIRED_CORNERS {
        return Err(format!(
            "its outline crosses itself and has {corners} corners; at most {MOST_REPAIRED_CORNERS} are untangled"
        ));
    }
    let fixed = geometry
        .make_valid(&CslStringList::new())
        .map_err(|_| "its outline crosses itself and cannot be repaired".to_owned())?;
    let fixed = polygons(&fixed)?;
    if fixed.chamberlain_duquette_unsigned_area() < LEAST_AREA {
        return Err("it has no area".to_owned());
    }
    Ok(Some((fixed, true)))
}

/// The most corners of one building's outline.
const MOST_OUTLINE_CORNERS: usize = 250_000;

/// The most of one that crosses itself: untangling takes a time that grows with
/// their square.
const MOST_REPAIRED_CORNERS: usize = 3_000;

/// How many corners a geometry has, those of its parts counted.
fn corners(geometry: &OgrGeometry) -> usize {
    let own = geometry.point_count();
    own + (0..geometry.geometry_count())
        .map(|part| corners(&geometry.get_geometry(part)))
        .sum::<usize>()
}

/// The polygons of a geometry; empty for points and lines.
fn polygons(geometry: &OgrGeometry) -> Result<MultiPolygon, String> {
    fn gather(geometry: Geometry, into: &mut Vec<Polygon>) {
        match geometry {
            Geometry::Polygon(polygon) => into.push(polygon),
            Geometry::MultiPolygon(many) => into.extend(many),
            Geometry::GeometryCollection(many) => {
                many.into_iter().for_each(|part| gather(part, into));
            }
            _ => {}
        }
    }
    let mut parts = Vec::new();
    gather(geometry.to_geo().map_err(|error| error.to_string())?, &mut parts);
    Ok(MultiPolygon::new(parts))
}

#[cfg(test)]
mod tests {
    use geo::coord;

    use super::*;

    /// What a file of one building with these corners is read as.
    fn read(ring: &[(f64, f64)]) -> Footprints {
        let corners: Vec<[f64; 2]> =
            ring.iter().chain(ring.first()).map(|(x, y)| [*x, *y]).collect();
        let text = serde_json::json!({
            "type": "FeatureCollection",
            "features": [{
                "type": "Feature",
                "properties": {},
                "geometry": { "type": "Polygon", "coordinates": [corners] },
            }],
        });
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("houses.geojson");
        std::fs::write(&file, text.to_string()).unwrap();
        let earth = Rect::new(coord! { x: -180.0, y: -90.0 }, coord! { x: 180.0, y: 90.0 });
        footprints(&file, earth).unwrap()
    }

    /// A ring of so many corners, the one that closes it counted.
    fn round(corners: usize) -> Vec<(f64, f64)> {
        let turn = std::f64::consts::TAU / (corners - 1) as f64;
        (0..corners - 1).map(|n| (turn * n as f64).sin_cos()).collect()
    }

    /// A bow tie of so many corners, the one that closes it counted, most of them
    /// along one of its sides.
    fn crossing(corners: usize) -> Vec<(f64, f64)> {
        let on_side = corners - 4;
        let mut ring = vec![(0.0, 0.0), (1.0, 1.0), (1.0, 0.0)];
        ring.extend((1..=on_side).map(|n| {
            let along = n as f64 / on_side as f64;
            (1.0 - along, along)
        }));
        ring
    }

    #[test]
    fn an_outline_has_so_many_corners_and_no_more() {
        let whole = read(&round(MOST_OUTLINE_CORNERS));
        assert_eq!((whole.footprints.len(), whole.refused.len()), (1, 0), "{:?}", whole.refused);
        let over = read(&round(MOST_OUTLINE_CORNERS + 1));
        assert_eq!(over.footprints.len(), 0);
        assert!(over.refused[0].reason.contains("at most 250000"), "{:?}", over.refused);
    }

    #[test]
    fn so_many_corners_are_untangled_and_no_more() {
        let whole = read(&crossing(MOST_REPAIRED_CORNERS));
        assert_eq!((whole.footprints.len(), whole.refused.len()), (1, 0), "{:?}", whole.refused);
        assert!(whole.footprints[0].repaired);
        let over = read(&crossing(MOST_REPAIRED_CORNERS + 1));
        assert_eq!(over.footprints.len(), 0);
        assert!(over.refused[0].reason.contains("at most 3000"), "{:?}", over.refused);
    }
}
