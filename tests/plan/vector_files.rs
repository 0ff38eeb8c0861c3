//! Named features of vector files in every format that a plan may use.
//!
//! The files are written by OGR itself through the `gdal` crate, so that what
//! is read is what other programs write.

use crate::support;
use std::path::{Path, PathBuf};

use gdal::spatial_ref::{AxisMappingStrategy, CoordTransform, SpatialRef};
use gdal::vector::{FieldValue, Geometry, LayerAccess, LayerOptions, OGRFieldType};
use perchline::plan;
use perchline::vector::{self, VectorError, VectorFiles, Wanted};

const POINT: (f64, f64) = (-35.2345, 47.1234);

/// Writes one point named "Aid 3" and another named "Aid 4" in a format and system.
fn write(path: &Path, driver: &str, epsg: Option<u32>, field: &str) {
    let driver = support::driver(driver);
    let mut dataset = driver.create_vector_only(path).unwrap();
    let srs = epsg.map(|code| {
        let mut srs = SpatialRef::from_epsg(code).unwrap();
        srs.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
        srs
    });
    let layer = dataset
        .create_layer(LayerOptions { name: "places", srs: srs.as_ref(), ..Default::default() })
        .unwrap();
    layer.create_defn_fields(&[(field, OGRFieldType::OFTString)]).unwrap();
    let mut wgs84 = SpatialRef::from_epsg(4326).unwrap();
    wgs84.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
    for (name, shift) in [("Aid 3", 0.0), ("Aid 4", 0.01)] {
        let mut geometry =
            Geometry::from_wkt(&format!("POINT ({} {})", POINT.0, POINT.1 + shift)).unwrap();
        if let Some(srs) = &srs {
            geometry.transform_inplace(&CoordTransform::new(&wgs84, srs).unwrap()).unwrap();
        }
        let mut feature = gdal::vector::Feature::new(layer.defn()).unwrap();
        let index = layer.defn().field_index(field).unwrap();
        feature.set_field(index, &FieldValue::StringValue(name.to_owned())).unwrap();
        feature.set_geometry(geometry).unwrap();
        feature.create(&layer).unwrap();
    }
}

#[track_caller]
fn is_there(path: &Path, layer: Option<&str>) {
    let found = vector::find(path, layer, "Aid 3", Wanted::Point).unwrap();
    let geo::Geometry::Point(point) = found.geometry else { panic!("{found:?}") };
    let off = (point.x() - POINT.0).abs().max((point.y() - POINT.1).abs());
    // Under a centimetre, which the text formats' decimals allow.
    assert!(off < 1e-7, "{} is {off} degrees off", path.display());
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

#[test]
fn a_file_is_read_once_for_all_that_is_asked_of_it() {
    let folder = folder();
    let mut files = VectorFiles::default();
    let mut find = |path: &Path, name: &str| files.find(path, None, name, Wanted::Point);
    // In a system of its own: what comes second goes the same way as what came first.
    let path = folder.path().join("a.gpkg");
    write(&path, "GPKG", Some(32_625), "name");
    let first = find(&path, "Aid 3").unwrap();
    std::fs::remove_file(&path).unwrap();
    let second = find(&path, "Aid 4").unwrap();
    let at = |feature: &vector::Feature| {
        let geo::Geometry::Point(point) = feature.geometry else { panic!("{feature:?}") };
        (point.x(), point.y())
    };
    approx::assert_abs_diff_eq!(at(&first).0, at(&second).0, epsilon = 1e-7);
    approx::assert_abs_diff_eq!(at(&first).1 + 0.01, at(&second).1, epsilon = 1e-7);
    let missing = find(&path, "Aid 5").unwrap_err();
    assert!(matches!(missing, VectorError::NoFeature { .. }), "{missing}");
    assert_eq!(find(&path, "Aid 3").unwrap(), first);
}

#[test]
fn more_files_than_are_kept_open_are_read_all_the_same() {
    let folder = folder();
    let paths: Vec<PathBuf> =
        (0..40).map(|number| folder.path().join(format!("{number}.geojson"))).collect();
    for path in &paths {
        write(path, "GeoJSON", Some(4326), "name");
    }
    let mut files = VectorFiles::default();
    for path in paths.iter().chain(&paths) {
        let found = files.find(path, None, "Aid 4", Wanted::Point).unwrap();
        assert_eq!(found, vector::find(path, None, "Aid 4", Wanted::Point).unwrap());
    }
}

#[test]
fn geojson_kml_geopackage_and_shapefile() {
    let folder = folder();
    for (file, driver, epsg, field) in [
        ("a.geojson", "GeoJSON", 4326, "name"),
        ("a.kml", "KML", 4326, "Name"),
        ("a.gpkg", "GPKG", 4326, "NAME"),
        ("a.shp", "ESRI Shapefile", 4326, "title"),
        // UTM zone 25 N, and Web Mercator whose metres are not true ones.
        ("utm.gpkg", "GPKG", 32625, "name"),
        ("utm.shp", "ESRI Shapefile", 32625, "name"),
        ("web.gpkg", "GPKG", 3857, "name"),
    ] {
        let path = folder.path().join(file);
        write(&path, driver, Some(epsg), field);
        is_there(&path, None);
        is_there(&path, (driver == "GPKG").then_some("places"));
    }
}

#[test]
fn gpx_waypoints_routes_and_tracks() {
    let folder = folder();
    let path = folder.path().join("a.gpx");
    std::fs::write(
        &path,
        r#"<?xml version="1.0"?>
<gpx version="1.1" creator="hand" xmlns="http://www.topografix.com/GPX/1/1">
 <wpt lat="47.1234" lon="-35.2345"><name>Aid 3</name></wpt>
 <rte><name>Course</name><rtept lat="47.1" lon="-35.2"/><rtept lat="47.2" lon="-35.3"/></rte>
 <trk><name>Shuttle</name>
  <trkseg><trkpt lat="47.1" lon="-35.2"/><trkpt lat="47.15" lon="-35.2"/></trkseg>
  <trkseg><trkpt lat="47.15" lon="-35.2"/><trkpt lat="47.2" lon="-35.2"/></trkseg></trk>
 <trk><name>Broken</name>
  <trkseg><trkpt lat="47.1" lon="-35.2"/><trkpt lat="47.15" lon="-35.2"/></trkseg>
  <trkseg><trkpt lat="47.16" lon="-35.2"/><trkpt lat="47.2" lon="-35.2"/></trkseg></trk>
</gpx>"#,
    )
    .unwrap();
    is_there(&path, None);
    let points = |name: &str| match vector::find(&path, None, name, Wanted::Line) {
        Ok(vector::Feature { geometry: geo::Geometry::LineString(line), .. }) => Ok(line.0.len()),
        other => Err(format!("{other:?}")),
    };
    assert_eq!(points("Course"), Ok(2));
    assert_eq!(points("Shuttle"), Ok(3));
    assert!(points("Broken").unwrap_err().contains("2 parts that do not join"));
    assert!(points("Aid 3").unwrap_err().contains("it is a point, and a line is needed"));
}

#[test]
fn csv_with_columns_of_latitude_and_longitude() {
    let folder = folder();
    let path = folder.path().join("a.csv");
    for header in ["Name,Lat,Lon", "title,latitude,longitude", "id,LATITUDE,LNG"] {
        std::fs::write(&path, format!("{header}\nAid 4,47.2,-35.2\nAid 3,47.1234,-35.2345\n"))
            .unwrap();
        is_there(&path, None);
    }
    // x and y could be metres of any grid.
    std::fs::write(&path, "name,y,x\nAid 3,47.1234,-35.2345\n").unwrap();
    assert!(vector::find(&path, None, "Aid 3", Wanted::Point).is_err());
    std::fs::write(&path, "name,WKT\nAid 3,POINT(1 2)\n").unwrap();
    assert!(matches!(
        vector::find(&path, None, "Aid 3", Wanted::Point),
        Err(VectorError::NoCoordinateSystem { .. })
    ));
    std::fs::write(&path, "name,lat,lon\nAid 3,147.1,-35.2\n").unwrap();
    assert!(matches!(
        vector::find(&path, None, "Aid 3", Wanted::Point),
        Err(VectorError::Coordinates { .. })
    ));
}

#[test]
fn no_coordinate_system_is_ever_assumed() {
    let folder = folder();
    let shape = folder.path().join("a.shp");
    write(&shape, "ESRI Shapefile", None, "name");
    let package = folder.path().join("a.gpkg");
    write(&package, "GPKG", None, "name");
    for path in [shape, package] {
        assert!(matches!(
            vector::find(&path, None, "Aid 3", Wanted::Point),
            Err(VectorError::NoCoordinateSystem { .. })
        ));
    }
}

/// A datum that PROJ does not know could only be moved by a guess of some 100 m.
#[test]
fn an_unknown_datum_is_not_guessed_over() {
    let folder = folder();
    let path = folder.path().join("a.shp");
    write(&path, "ESRI Shapefile", Some(4326), "name");
    std::fs::write(
        path.with_extension("prj"),
        r#"GEOGCS["Old survey",DATUM["Old_survey",SPHEROID["Bessel 1841",6377397.155,299.1528128]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]"#,
    )
    .unwrap();
    assert!(matches!(
        vector::find(&path, None, "Aid 3", Wanted::Point),
        Err(VectorError::Coordinates { .. })
    ));
}

/// Attributes and coordinate system of a Shapefile lie in files of their own.
#[test]
fn every_file_of_a_shapefile_is_listed_once() {
    let folder = folder();
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
    std::fs::copy(beside.join("hill.asc"), folder.path().join("hill.asc")).unwrap();
    write(&folder.path().join("a.shp"), "ESRI Shapefile", Some(4326), "name");
    let text = std::fs::read_to_string(beside.join("minimal.toml"))
        .unwrap()
        .replace("\"47.1234, -35.2345\"", "{ file = \"a.shp\", name = \"Aid 3\" }")
        .replace("\"47.1300 N 35.2400 W\"", "{ file = \"a.shp\", name = \"Aid 4\" }");
    let path = folder.path().join("walk.toml");
    std::fs::write(&path, text).unwrap();
    let plan = plan::read(&path, &["delta-bullington"]).unwrap();
    let mut names: Vec<_> = plan
        .vector_files
        .iter()
        .map(|file| file.path.file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    names.sort();
    assert_eq!(names, ["a.dbf", "a.prj", "a.shp", "a.shx"]);
}

#[test]
fn files_that_are_missing_or_no_vectors() {
    let folder = folder();
    let find = |file: &str| {
        vector::find(&folder.path().join(file), None, "Aid 3", Wanted::Point).unwrap_err()
    };
    assert!(matches!(find("none.gpx"), VectorError::Missing { .. }));
    for (file, bytes) in
        [("a.txt", "hello"), ("a.geojson", "{\"type\": "), ("a.gpx", "<gpx"), ("a.shp", "")]
    {
        std::fs::write(folder.path().join(file), bytes).unwrap();
        assert!(matches!(find(file), VectorError::NotVector { .. }), "{file}: {}", find(file));
    }
}

/// Geometries that are missing or hollow end in an error and not in a crash.
#[test]
fn hollow_geometries() {
    let folder = folder();
    let path = folder.path().join("a.geojson");
    for geometry in [
        "null",
        r#"{"type": "Point", "coordinates": []}"#,
        r#"{"type": "Polygon", "coordinates": []}"#,
        r#"{"type": "Polygon", "coordinates": [[]]}"#,
        r#"{"type": "MultiPolygon", "coordinates": [[]]}"#,
        r#"{"type": "MultiPolygon", "coordinates": [[[[0,0],[1,0],[1,1],[0,0]],[]],[]]}"#,
        r#"{"type": "GeometryCollection", "geometries": []}"#,
    ] {
        let text = format!(
            r#"{{"type": "FeatureCollection", "features": [{{"type": "Feature",
               "properties": {{"name": "Aid 3"}}, "geometry": {geometry}}}]}}"#
        );
        std::fs::write(&path, text).unwrap();
        for wanted in [Wanted::Point, Wanted::Line, Wanted::Area] {
            assert!(vector::find(&path, None, "Aid 3", wanted).is_err(), "{geometry}");
        }
    }
}

/// A plan in which one passage names a feature of `places.geojson`.
fn plan_with(from: &str, to: &str) -> Result<plan::Plan, plan::PlanError> {
    let folder = folder();
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
    for file in ["hill.asc", "places.geojson"] {
        std::fs::copy(beside.join(file), folder.path().join(file)).unwrap();
    }
    let text = std::fs::read_to_string(beside.join("minimal.toml")).unwrap();
    assert!(text.contains(from), "{from}");
    let path: PathBuf = folder.path().join("walk.toml");
    std::fs::write(&path, text.replacen(from, to, 1)).unwrap();
    plan::read(&path, &["delta-bullington"])
}

#[track_caller]
fn refused(feature: &str, field: &str, part: &str) {
    let error = plan_with("\"47.1234, -35.2345\"", feature).unwrap_err();
    let [problem] = error.problems() else { panic!("{error}") };
    let expected = format!("post \"Aid 1\": at.{field}");
    assert_eq!((problem.line(), problem.field()), (Some(39), expected.as_str()), "{error}");
    assert!(problem.text().contains(part), "{error}");
}

#[test]
fn a_plan_takes_places_from_a_file_and_says_so() {
    let feature = "{ file = \"places.geojson\", name = \"Elevator\" }";
    let plan = plan_with("\"47.1234, -35.2345\"", feature).unwrap();
    assert_eq!(plan.posts[0].at.latitude().value(), 47.125);
    let [file] = plan.vector_files.as_slice() else { panic!("{:?}", plan.vector_files) };
    assert!(file.path.ends_with("places.geojson"));
    assert_eq!(file.sha256.len(), 64);
}

#[test]
fn a_polygon_as_a_post_is_remarked() {
    let feature = "{ file = \"places.geojson\", name = \"Lantern field\" }";
    let plan = plan_with("\"47.1234, -35.2345\"", feature).unwrap();
    assert!(
        plan.remarks.iter().any(|r| r.about == "post \"Aid 1\": at" && r.text.contains("polygon"))
    );
}

#[test]
fn features_that_do_not_serve() {
    refused("{ file = \"places.geojson\", name = \"Elevater\" }", "name", "\"Elevator\"");
    refused("{ file = \"places.geojson\" }", "name", "this is missing here; ");
    refused("{ file = \"places.geojson\" }", "name", "\"Elevator\"");
    refused("{ file = \"places.geojson\", name = \"Twice\" }", "name", "2 features");
    refused("{ file = \"places.geojson\", name = \"Course\" }", "name", "it is a line");
    refused("{ file = \"other.geojson\", name = \"Course\" }", "file", "there is no file");
    refused("{ file = \"hill.asc\", name = \"Course\" }", "file", "not a vector file");
    refused("{ file = \"https://example.com/a.json\", name = \"x\" }", "file", "on this machine");
    refused(
        "{ file = \"places.geojson\", name = \"Elevator\", layer = \"x\" }",
        "layer",
        "no layer",
    );
}

#[test]
fn a_plan_with_every_field_is_good() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans/full.toml");
    let plan = plan::read(&path, &["delta-bullington", "free-space"]).unwrap();
    assert_eq!(plan.prediction.method, "free-space");
    assert_eq!(plan.prediction.reliability, 0.9);
    assert_eq!(plan.event.starts.to_string(), "2026-12-05T17:30:00-01:00[Atlantic/Azores]");
    assert!((plan.map.margin.value() - 1609.344).abs() < 1e-9);
    assert_eq!(plan.channels.len(), 6);
    assert_eq!(plan.posts[1].radio, Some(2));
    assert_eq!(plan.routes[0].line.0.len(), 3);
    assert!(!plan.sites[0].available);
}
