//! Vector files that lead elsewhere, multiply or lie.

use std::fs;
use std::io::Write;
use std::os::unix::fs::symlink;
use std::path::PathBuf;

use super::As;
use super::pieces::{Pieces, Random};

pub fn make(random: &mut Random, pieces: &Pieces) -> (PathBuf, As) {
    let (name, mut bytes) = match random.below(5) {
        0 => ("main.geojson", json(random, pieces).into_bytes()),
        1 => ("main.kml", kml(random, pieces).into_bytes()),
        2 => ("main.gpx", gpx(random, pieces).into_bytes()),
        3 => ("main.csv", b"name,lat,lon\nAid 1,47.0,-34.9\nAid 2,47.1,-34.8\n".to_vec()),
        _ => ("main.kmz", packed(random, pieces)),
    };
    if random.one_in(3) {
        random.damage(&mut bytes);
    }
    let file = pieces.folder.join(name);
    fs::write(&file, bytes).unwrap();
    if random.one_in(4) {
        let end = random.pick(&["csvt", "prj", "dbf", "shx", "cpg", "qix", "gfs", "xsd"]);
        let side = pieces.folder.join(format!("main.{end}"));
        match random.below(5) {
            0 => fs::hard_link(&pieces.pipe, side).unwrap(),
            1 => symlink("/dev/zero", side).unwrap(),
            2 => symlink(&pieces.precious, side).unwrap(),
            3 => fs::write(side, pieces.crs(random)).unwrap(),
            _ => fs::write(side, "\"String\",\"Real\",\"Real\"\n").unwrap(),
        }
    }
    (file, random.pick(&[As::Footprints, As::Lines, As::Place]))
}

fn json(random: &mut Random, pieces: &Pieces) -> String {
    let crs = match random.below(8) {
        0 => format!(
            "\"crs\":{{\"type\":\"name\",\"properties\":{{\"name\":\"{}\"}}}},",
            pieces.crs(random).replace('"', "")
        ),
        1 => format!(
            "\"crs\":{{\"type\":\"link\",\"properties\":{{\"href\":\"http://{}/\",\"type\":\"proj4\"}}}},",
            pieces.host
        ),
        2 => format!("\"crs\":{},", random.pick(&["null", "7", "[]", "{}"])),
        _ => String::new(),
    };
    let x = if random.one_in(6) { random.extreme() } else { "-34.9".to_owned() };
    let shape = match random.below(4) {
        0 => format!("{{\"type\":\"Point\",\"coordinates\":[{x},47.0]}}"),
        1 => format!("{{\"type\":\"LineString\",\"coordinates\":[[{x},47.0],[-34.8,47.1]]}}"),
        2 => {
            let corners: Vec<_> = (0..random.pick(&[5, 50, 500, 25_000]))
                .map(|n| {
                    format!(
                        "[{:.4},{:.4}]",
                        -34.9 + (n % 7) as f64 / 900.0,
                        47.0 + (n % 11) as f64 / 900.0
                    )
                })
                .collect();
            format!("{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}", corners.join(","))
        }
        _ => format!(
            "{}{}",
            "{\"type\":\"GeometryCollection\",\"geometries\":[".repeat(random.below(300)),
            "{}"
        ),
    };
    let many: String = (0..random.below(300)).map(|n| format!(",\"p{n}\":{n}")).collect();
    format!(
        "{{\"type\":\"FeatureCollection\",{crs}\"features\":[{{\"type\":\"Feature\",\"geometry\":{shape},\"properties\":{{\"name\":\"Aid 1\"{many}}}}}]}}"
    )
}

fn kml(random: &mut Random, pieces: &Pieces) -> String {
    let prologue = match random.below(8) {
        0 => format!("<!DOCTYPE kml [<!ENTITY a SYSTEM \"{}\">]>", pieces.precious.display()),
        1 => "<!DOCTYPE kml [<!ENTITY a 'aaaaaaaaaa'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'><!ENTITY c '&b;&b;&b;&b;&b;&b;&b;&b;'>]>".to_owned(),
        _ => String::new(),
    };
    let link = match random.below(6) {
        0 => format!(
            "<NetworkLink><Link><href>http://{}/a.kml</href></Link></NetworkLink>",
            pieces.host
        ),
        1 => format!(
            "<GroundOverlay><Icon><href>{}</href></Icon></GroundOverlay>",
            pieces.name(random)
        ),
        _ => String::new(),
    };
    let place = "<Placemark><name>Aid 1</name><description>&lt;b&gt;</description><Point><coordinates>-34.9,47.0</coordinates></Point></Placemark>";
    let depth = random.below(200);
    format!(
        "{prologue}<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document>{}{place}{}{link}</Document></kml>",
        "<Folder><name>f</name>".repeat(depth),
        "</Folder>".repeat(depth)
    )
}

fn gpx(random: &mut Random, pieces: &Pieces) -> String {
    let prologue = if random.one_in(6) {
        format!("<!DOCTYPE gpx SYSTEM \"http://{}/gpx.dtd\">", pieces.host)
    } else {
        String::new()
    };
    let points: String = (0..random.below(50))
        .map(|n| {
            format!("<trkpt lat=\"47.0{n}\" lon=\"-34.9\"><ele>{}</ele></trkpt>", random.extreme())
        })
        .collect();
    format!(
        "<?xml version=\"1.0\"?>{prologue}<gpx version=\"1.1\" creator=\"x\"><wpt lat=\"47.0\" lon=\"-34.9\"><name>Aid 1</name></wpt><trk><trkseg>{points}</trkseg></trk></gpx>"
    )
}

fn packed(random: &mut Random, pieces: &Pieces) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default();
    let name = random.pick(&["doc.kml", "../../doc.kml", "/etc/doc.kml", "doc.KML"]);
    archive.start_file(name, options).unwrap();
    archive.write_all(kml(random, pieces).as_bytes()).unwrap();
    if random.one_in(20) {
        archive.start_file("bomb", options).unwrap();
        archive.write_all(&vec![0; 20 << 20]).unwrap();
    }
    archive.finish().unwrap().into_inner()
}
