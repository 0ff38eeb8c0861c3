//! Features out: to a GeoPackage.

use std::path::Path;

use gdal::spatial_ref::SpatialRef;
use gdal::vector::{
    Defn, Feature as Row, LayerAccess, LayerOptions, OGRFieldType, OGRwkbGeometryType, ToGdal,
};
use gdal::{Dataset, DriverManager};
use geo::Geometry;

use super::VectorError;
use perchline_confine::drivers;

/// What a layer's features are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Points.
    Points,
    /// Line strings.
    Lines,
    /// Polygons.
    Areas,
    /// Polygons of several parts.
    ManyAreas,
}

/// What a field of a layer holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FieldKind {
    /// Text.
    Text,
    /// Whole numbers.
    Whole,
    /// Numbers.
    Number,
}

/// What a field of a feature holds.
#[derive(Debug, Clone, PartialEq)]
pub enum FieldValue {
    /// A text.
    Text(String),
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
    /// Nothing.
    Nothing,
}

impl From<String> for FieldValue {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<Option<f64>> for FieldValue {
    fn from(number: Option<f64>) -> Self {
        number.map_or(Self::Nothing, Self::Number)
    }
}

/// Features of one kind with their fields.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The layer's name.
    pub name: &'static str,
    /// What its features are.
    pub shape: Shape,
    /// Names and kinds of its fields.
    pub fields: Vec<(&'static str, FieldKind)>,
    /// Each feature: longitude and latitude in degrees on WGS 84, and a value a field.
    pub features: Vec<(Geometry, Vec<FieldValue>)>,
}

/// How a layer looks in a program that applies styles.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayerStyle {
    /// The layer's name.
    pub layer: &'static str,
    /// A Styled Layer Descriptor.
    pub descriptor: String,
    /// The same as a style document of desktop programs.
    pub document: String,
}

/// The table in which desktop programs look for styles: a convention of theirs, no part
/// of the standard.
const STYLES: &str = "layer_styles";

/// The column that GDAL gives geometries.
const GEOMETRY: &str = "geom";

/// Writes layers into a new GeoPackage (OGC 12-128), with styles for them. `made_at`,
/// an RFC 3339 time in UTC, stands in it as the time of the last change, so that the
/// same features give the same bytes with the same GDAL.
///
/// # Errors
/// [`VectorError::Write`] when the file cannot be written.
pub fn write_geopackage(
    path: &Path,
    layers: &[Table],
    styles: &[LayerStyle],
    made_at: &str,
) -> Result<(), VectorError> {
    drivers::ensure();
    let write = || -> gdal::errors::Result<()> {
        gdal::config::set_thread_local_config_option(NOW, &with_milliseconds(made_at))?;
        let earth = SpatialRef::from_epsg(4326)?;
        let mut package = DriverManager::get_driver_by_name("GPKG")?.create_vector_only(path)?;
        for table in layers {
            let layer = package.create_layer(LayerOptions {
                name: table.name,
                srs: Some(&earth),
                ty: kind(table.shape),
                options: None,
            })?;
            let fields: Vec<_> = table.fields.iter().map(|(n, k)| (*n, field(*k))).collect();
            layer.create_defn_fields(&fields)?;
            let definition = Defn::from_layer(&layer);
            for (geometry, values) in &table.features {
                let mut row = Row::new(&definition)?;
                row.set_geometry(geometry.to_gdal()?)?;
                for (index, value) in values.iter().enumerate() {
                    match value {
                        FieldValue::Text(text) => row.set_field_string(index, text)?,
                        FieldValue::Whole(number) => row.set_field_integer64(index, *number)?,
                        FieldValue::Number(number) => row.set_field_double(index, *number)?,
                        FieldValue::Nothing => row.set_field_null(index)?,
                    }
                }
                row.create(&layer)?;
            }
        }
        if !styles.is_empty() {
            write_styles(&mut package, styles, made_at)?;
        }
        package.close()
    };
    let done = write();
    // Fails only for a text with a NUL inside.
    drop(gdal::config::clear_thread_local_config_option(NOW));
    done.map_err(|e| VectorError::Write { file: path.to_owned(), reason: e.to_string() })
}

/// Writes styles into the table where they are looked for, each the default of its layer.
fn write_styles(
    package: &mut Dataset,
    styles: &[LayerStyle],
    made_at: &str,
) -> gdal::errors::Result<()> {
    let table = package.create_layer(LayerOptions {
        name: STYLES,
        srs: None,
        ty: OGRwkbGeometryType::wkbNone,
        options: None,
    })?;
    let text = [
        "f_table_catalog",
        "f_table_schema",
        "f_table_name",
        "f_geometry_column",
        "styleName",
        "styleQML",
        "styleSLD",
        "description",
        "owner",
        "update_time",
    ];
    let fields: Vec<_> = text.iter().map(|name| (*name, OGRFieldType::OFTString)).collect();
    table.create_defn_fields(&fields)?;
    table.create_defn_fields(&[("useAsDefault", OGRFieldType::OFTInteger)])?;
    let definition = Defn::from_layer(&table);
    for LayerStyle { layer, descriptor, document } in styles {
        let mut row = Row::new(&definition)?;
        let values = [
            "",
            "",
            layer,
            GEOMETRY,
            layer,
            document,
            descriptor,
            "Colours of the maps",
            "",
            made_at,
        ];
        for (index, value) in values.into_iter().enumerate() {
            row.set_field_string(index, value)?;
        }
        row.set_field_integer(text.len(), 1)?;
        row.create(&table)?;
    }
    Ok(())
}

/// What GDAL takes for the present time in a GeoPackage.
const NOW: &str = "OGR_CURRENT_DATE";

/// The time as a GeoPackage wants it, with milliseconds.
fn with_milliseconds(made_at: &str) -> String {
    made_at.strip_suffix('Z').map_or_else(|| made_at.to_owned(), |time| format!("{time}.000Z"))
}

const fn kind(shape: Shape) -> OGRwkbGeometryType::Type {
    match shape {
        Shape::Points => OGRwkbGeometryType::wkbPoint,
        Shape::Lines => OGRwkbGeometryType::wkbLineString,
        Shape::Areas => OGRwkbGeometryType::wkbPolygon,
        Shape::ManyAreas => OGRwkbGeometryType::wkbMultiPolygon,
    }
}

const fn field(kind: FieldKind) -> OGRFieldType::Type {
    match kind {
        FieldKind::Text => OGRFieldType::OFTString,
        FieldKind::Whole => OGRFieldType::OFTInteger64,
        FieldKind::Number => OGRFieldType::OFTReal,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_features_are_the_same_bytes_and_come_back() {
        let folder = tempfile::tempdir().unwrap();
        let table = Table {
            name: "posts",
            shape: Shape::Points,
            fields: vec![("name", FieldKind::Text), ("spots", FieldKind::Whole)],
            features: vec![
                (
                    geo::point! { x: -34.9, y: 47.0 }.into(),
                    vec![FieldValue::Text("Aid; \"3\" Łódź".to_owned()), FieldValue::Whole(97)],
                ),
                (
                    geo::point! { x: -34.8, y: 47.1 }.into(),
                    vec![FieldValue::Text("Start".to_owned()), FieldValue::Nothing],
                ),
            ],
        };
        let write = |name: &str| {
            let path = folder.path().join(name);
            write_geopackage(&path, std::slice::from_ref(&table), &[], "2026-12-05T10:00:00Z")
                .unwrap();
            std::fs::read(path).unwrap()
        };
        assert!(write("a.gpkg") == write("b.gpkg"));
        let path = folder.path().join("a.gpkg");
        let found = crate::find(&path, None, "Aid; \"3\" Łódź", crate::Wanted::Point);
        assert_eq!(found.unwrap().geometry, geo::point! { x: -34.9, y: 47.0 }.into());
        let there = write_geopackage(
            &folder.path().join("no/where.gpkg"),
            &[],
            &[],
            "2026-12-05T10:00:00Z",
        );
        assert!(there.unwrap_err().to_string().contains("where.gpkg"));
    }
}
