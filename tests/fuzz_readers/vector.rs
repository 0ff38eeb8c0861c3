//! Vector files. A case begins with a line `EXTENSION ASKED NAME`; the rest is
//! the file. What is asked: `point`, `line`, `area`, `lines` or `footprints`.

use std::fmt::Write as _;
use std::path::Path;

use gdal::spatial_ref::SpatialRef;
use gdal::vector::{
    Defn, Feature, FieldValue, LayerAccess, LayerOptions, OGRFieldType, OGRwkbGeometryType, ToGdal,
};
use geo::{CoordsIter, Geometry, Rect, Validation, coord};
use perchline::vector::{self, Wanted};

use super::harness::{Reader, Seen, file, must, scratch, seeds, words};
use super::mutate::{HOSTILE, NUMBERS};
use super::random::Random;

const TOKENS: &[&str] = &[
    "{\"type\":\"Feature\",\"properties\":{\"name\":\"A\"},\"geometry\":",
    "{\"type\":\"Point\",\"coordinates\":[-34.9,47.0]}",
    "\"Point\"",
    "\"LineString\"",
    "\"Polygon\"",
    "\"MultiPoint\"",
    "\"MultiLineString\"",
    "\"MultiPolygon\"",
    "\"GeometryCollection\"",
    "\"Topology\"",
    "\"geometries\":[",
    "\"coordinates\":",
    "\"geometry\":null",
    "\"properties\":null",
    "\"crs\":{\"type\":\"name\",\"properties\":{\"name\":\"EPSG:3857\"}},",
    "\"crs\":null,",
    "\"name\"",
    "\"title\"",
    "\"id\":",
    "\"height\":",
    "\"building:levels\":",
    "\"A\"",
    "[[[",
    "]]]",
    "[[",
    "]]",
    "[",
    "]",
    "[]",
    "[null]",
    "[-34.9,47.0]",
    "[-34.9,47.0,12,4]",
    "{",
    "}",
    ",",
    ":",
    "null",
    "true",
    "1e400",
    "-1e400",
    "180.1",
    "\"12 m\"",
    "\"3;4\"",
    "POINT EMPTY",
    "POLYGON((0 0,1 1,1 0,0 1,0 0))",
    "CURVEPOLYGON(CIRCULARSTRING(0 0,1 1,2 0,1 -1,0 0))",
    "GEOMETRYCOLLECTION(",
    "TIN(((0 0,0 1,1 1,0 0)))",
    "POINT(nan nan)",
    "POINT ZM(1 2 3 4)",
    "TRIANGLE((0 0,0 1,1 1,0 0))",
    "<Placemark>",
    "</Placemark>",
    "<coordinates>",
    "</coordinates>",
    "-34.9,47.0,0 ",
    "<Point>",
    "<gx:Track>",
    "<NetworkLink><href>http://127.0.0.1/x</href></NetworkLink>",
    "<ExtendedData>",
    "<wpt lat=\"47\" lon=\"-34.9\">",
    "<trkpt",
    "<rtept",
    "&a;",
    "&b;",
    "<!DOCTYPE kml [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;\">]>",
    "<!ENTITY x SYSTEM \"file:///etc/passwd\">",
    "lat",
    "lon",
    "WKT",
    ";",
    "\t",
    "\"\"",
];

/// Files that are the same for every case, beside which one is another.
struct Beside {
    folder: tempfile::TempDir,
}

pub fn reader() -> Reader<'static> {
    let beside = Beside { folder: scratch() };
    let places = file("tests/plans/places.geojson");
    let with = |head: &str, content: &[u8]| [head.as_bytes(), b"\n", content].concat();
    let mut all = vec![
        with("geojson point Elevator", &places),
        with("geojson line Course", &places),
        with("geojson area Lantern field", &places),
        with("geojson lines -", &places),
        with("geojson footprints -", &places),
    ];
    all.extend(seeds("vectors"));
    all.push(with("gpkg point Inn", &made("GPKG", "a.gpkg", beside.folder.path())));
    made("ESRI Shapefile", "beside.shp", beside.folder.path());
    let shape =
        |end: &str| std::fs::read(beside.folder.path().join(format!("beside.{end}"))).unwrap();
    all.push(with("shp point Inn", &shape("shp")));
    all.push(with("dbf point Inn", &shape("dbf")));
    all.push(with("shx point Inn", &shape("shx")));
    Reader {
        name: "vectors",
        seeds: all,
        tokens: TOKENS,
        fresh,
        strict: true,
        check: Box::new(move |case| check(&beside, case)),
    }
}

/// A small file by GDAL's own writer.
fn made(driver: &str, name: &str, folder: &Path) -> Vec<u8> {
    let path = folder.join(name);
    let earth = SpatialRef::from_epsg(4326).unwrap();
    let mut dataset = super::support::driver(driver).create_vector_only(&path).unwrap();
    let layer = dataset
        .create_layer(LayerOptions {
            name: "beside",
            srs: Some(&earth),
            ty: OGRwkbGeometryType::wkbPoint,
            options: None,
        })
        .unwrap();
    layer
        .create_defn_fields(&[("name", OGRFieldType::OFTString), ("height", OGRFieldType::OFTReal)])
        .unwrap();
    let definition = Defn::from_layer(&layer);
    for (number, name) in ["Inn", "Mill"].iter().enumerate() {
        let mut feature = Feature::new(&definition).unwrap();
        let point = geo::point! { x: -34.9 + number as f64 / 100.0, y: 47.0 };
        feature.set_geometry(point.to_gdal().unwrap()).unwrap();
        feature.set_field(0, &FieldValue::StringValue((*name).to_owned())).unwrap();
        feature.set_field(1, &FieldValue::RealValue(4.5)).unwrap();
        feature.create(&layer).unwrap();
    }
    dataset.close().unwrap();
    std::fs::read(path).unwrap()
}

fn fresh(random: &mut Random) -> Vec<u8> {
    let asked = random.pick(&["point", "line", "area", "lines", "footprints"]);
    let mut text = format!("geojson {asked} A\n{{\"type\":\"FeatureCollection\",\"features\":[");
    if random.one_in(6) {
        text = format!("csv {asked} A\nname,lat,lon,WKT\n");
        for _ in 0..random.between(1, 4) {
            let _ =
                writeln!(text, "A,{},{},\"{}\"", number(random), number(random), wkt(random, 3));
        }
        return text.into_bytes();
    }
    for feature in 0..random.between(1, 4) {
        if feature > 0 {
            text.push(',');
        }
        let name = if random.one_in(5) { "\"B\"".to_owned() } else { "\"A\"".to_owned() };
        let height = match random.below(5) {
            0 => random.pick(NUMBERS).to_owned(),
            1 => "[1,{\"a\":null}]".to_owned(),
            2 => format!("\"{} m\"", random.below(300)),
            3 => "null".to_owned(),
            _ => format!("\"{}\"", random.pick(HOSTILE)),
        };
        let key = random.pick(&["height", "building:levels", "levels", "id", "name", "x"]);
        let _ = write!(
            text,
            "{{\"type\":\"Feature\",\"properties\":{{\"name\":{name},\"{key}\":{height}}},\"geometry\":"
        );
        geometry(&mut text, random, 4);
        text.push('}');
    }
    text.push_str("]}");
    text.into_bytes()
}

fn number(random: &mut Random) -> String {
    if random.one_in(12) {
        return random.pick(NUMBERS).to_owned();
    }
    format!(
        "{:.3}",
        if random.one_in(2) { random.number(-35.0, -34.8) } else { random.number(46.9, 47.1) }
    )
}

fn place(random: &mut Random) -> (f64, f64) {
    // Coarse steps: points coincide and lines cross.
    (
        -34.9 + f64::from(random.below(5) as u32) / 100.0,
        47.0 + f64::from(random.below(5) as u32) / 100.0,
    )
}

fn coordinate(random: &mut Random) -> String {
    let (x, y) = place(random);
    match random.below(30) {
        0 => "[]".to_owned(),
        1 => "[null,null]".to_owned(),
        2 => format!("[{x}]"),
        3 => format!("[{x},{y},{}]", random.pick(NUMBERS)),
        4 => format!("[{},{}]", random.pick(NUMBERS), random.pick(NUMBERS)),
        _ => format!("[{x:.2},{y:.2}]"),
    }
}

fn ring(random: &mut Random) -> String {
    let mut points: Vec<String> = (0..random.below(7)).map(|_| coordinate(random)).collect();
    if !random.one_in(6) {
        points.extend(points.first().cloned());
    }
    format!("[{}]", points.join(","))
}

fn listed(random: &mut Random, most: usize, one: fn(&mut Random) -> String) -> String {
    let parts: Vec<String> = (0..random.below(most + 1)).map(|_| one(random)).collect();
    format!("[{}]", parts.join(","))
}

fn geometry(text: &mut String, random: &mut Random, depth: usize) {
    let polygon = |random: &mut Random| listed(random, 3, ring);
    let _ = match random.below(9) {
        0 => write!(text, "{{\"type\":\"Point\",\"coordinates\":{}}}", coordinate(random)),
        1 => write!(text, "{{\"type\":\"LineString\",\"coordinates\":{}}}", ring(random)),
        2 | 3 => write!(text, "{{\"type\":\"Polygon\",\"coordinates\":{}}}", polygon(random)),
        4 => write!(text, "{{\"type\":\"MultiPoint\",\"coordinates\":{}}}", ring(random)),
        5 => write!(
            text,
            "{{\"type\":\"MultiLineString\",\"coordinates\":{}}}",
            listed(random, 3, ring)
        ),
        6 => write!(
            text,
            "{{\"type\":\"MultiPolygon\",\"coordinates\":{}}}",
            listed(random, 3, |random| listed(random, 2, ring))
        ),
        7 if depth > 0 => {
            text.push_str("{\"type\":\"GeometryCollection\",\"geometries\":[");
            for part in 0..random.below(3) {
                if part > 0 {
                    text.push(',');
                }
                geometry(text, random, depth - 1);
            }
            write!(text, "]}}")
        }
        _ => write!(text, "null"),
    };
}

fn wkt(random: &mut Random, depth: usize) -> String {
    let (x, y) = place(random);
    match random.below(10) {
        0 => "POLYGON EMPTY".to_owned(),
        1 if depth > 0 => {
            format!("GEOMETRYCOLLECTION({},{})", wkt(random, depth - 1), wkt(random, depth - 1))
        }
        2 => format!("COMPOUNDCURVE(({x} {y},1 1),CIRCULARSTRING(1 1,2 2,3 1))"),
        3 => format!("POLYHEDRALSURFACE Z(((0 0 0,0 1 0,1 1 {x},0 0 0)))"),
        4 => format!("MULTISURFACE(CURVEPOLYGON(CIRCULARSTRING({x} {y},1 1,2 0,1 -1,{x} {y})))"),
        5 => format!("LINESTRING M({x} {y} 1,{x} 47 {})", random.pick(NUMBERS)),
        6 => format!("POLYGON(({x} {y},-34.8 47.1,-34.8 {y},{x} 47.1,{x} {y}))"),
        7 => format!("POINT({} {})", random.pick(NUMBERS), random.pick(NUMBERS)),
        _ => format!("POINT({x} {y})"),
    }
}

fn check(beside: &Beside, case: &[u8]) -> Result<Seen, String> {
    let end = case.iter().position(|b| *b == b'\n').unwrap_or(case.len());
    let head = String::from_utf8_lossy(&case[..end]).into_owned();
    let content = case.get(end + 1..).unwrap_or_default();
    let mut head = head.splitn(3, ' ');
    let extension = head.next().unwrap_or("");
    let (asked, name) = (head.next().unwrap_or(""), head.next().unwrap_or("A"));
    let folder = beside.folder.path();
    let path = match extension {
        "shp" | "dbf" | "shx" => {
            for end in ["shp", "dbf", "shx", "prj"] {
                let from = folder.join(format!("beside.{end}"));
                std::fs::copy(from, folder.join(format!("case.{end}"))).unwrap();
            }
            std::fs::write(folder.join(format!("case.{extension}")), content).unwrap();
            folder.join("case.shp")
        }
        known => {
            let known =
                ["geojson", "json", "gpx", "kml", "csv", "gpkg"].into_iter().find(|k| *k == known);
            let path = folder.join(format!("file.{}", known.unwrap_or("geojson")));
            std::fs::write(&path, content).unwrap();
            path
        }
    };
    let on_earth = |geometry: &Geometry| {
        let all = geometry.coords_iter().all(|c| c.x.abs() <= 180.0 && c.y.abs() <= 90.0);
        must(all, || format!("beyond the earth: {geometry:?}"))
    };
    let refused = |error: vector::VectorError| words(&error.to_string()).map(|()| Seen::Refused);
    match asked {
        "lines" => match vector::lines(&path) {
            Ok(lines) => {
                for line in lines {
                    on_earth(&line.into())?;
                }
                Ok(Seen::Accepted)
            }
            Err(error) => refused(error),
        },
        "footprints" => {
            let within = Rect::new(coord! { x: -35.3, y: 46.9 }, coord! { x: -34.8, y: 47.2 });
            match vector::footprints(&path, within) {
                Ok(found) => {
                    for footprint in found.footprints {
                        words(&format!("building {}", footprint.id))?;
                        let outline = Geometry::from(footprint.outline);
                        must(outline.is_valid(), || format!("not valid: {outline:?}"))?;
                        on_earth(&outline)?;
                    }
                    for refused in found.refused {
                        words(&format!("building {}: {}", refused.id, refused.reason))?;
                    }
                    Ok(Seen::Accepted)
                }
                Err(error) => refused(error),
            }
        }
        _ => {
            let wanted = match asked {
                "line" => Wanted::Line,
                "area" => Wanted::Area,
                _ => Wanted::Point,
            };
            match vector::find(&path, None, name, wanted) {
                Ok(found) => {
                    on_earth(&found.geometry)?;
                    let fits = matches!(
                        (wanted, &found.geometry),
                        (Wanted::Point, Geometry::Point(_))
                            | (Wanted::Line, Geometry::LineString(_))
                            | (Wanted::Area, Geometry::Polygon(_))
                    );
                    must(fits, || format!("{:?} for {wanted:?}", found.geometry))?;
                    Ok(Seen::Accepted)
                }
                Err(error) => refused(error),
            }
        }
    }
}
