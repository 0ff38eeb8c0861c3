//! Files from a stranger, read by the real program: it ends soon, in words, has
//! written nothing, changed none of its inputs and called nobody.
//!
//! Everything here was found by hand; what is made by the thousand is in
//! tests/fuzz_files.

use crate::support;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{ErrorKind, Read, Seek, SeekFrom, Write};
use std::net::{TcpListener, UdpSocket};
use std::os::unix::fs::{FileTypeExt, symlink};
use std::os::unix::process::ExitStatusExt;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use crate::support::wanted::Wanted;
use crate::support::{PLAN, printed, said, write_plan_raster};
use perchline::vector::{FieldKind, FieldValue, Shape, Table, write_geopackage};
use rusqlite::Connection;

/// How long a file may hold a run up here, seconds, and how long a run may take in
/// all before it counts as hung: a debug build on a busy machine.
const FILE_TIME: &str = "4";
const HUNG: Duration = Duration::from_secs(60);

/// A folder with a plan, a file outside that has to stay as it is, and sockets
/// that nobody may touch.
struct Trap {
    folder: tempfile::TempDir,
    outside: tempfile::TempDir,
    server: TcpListener,
    datagrams: UdpSocket,
}

const PRECIOUS: &str = "#!/bin/sh\n# what starts with the session\n";

impl Trap {
    fn new() -> Self {
        let server = TcpListener::bind("127.0.0.1:0").unwrap();
        server.set_nonblocking(true).unwrap();
        let datagrams = UdpSocket::bind("127.0.0.1:0").unwrap();
        datagrams.set_nonblocking(true).unwrap();
        let trap = Self {
            folder: tempfile::tempdir().unwrap(),
            outside: tempfile::tempdir().unwrap(),
            server,
            datagrams,
        };
        fs::write(trap.precious(), PRECIOUS).unwrap();
        trap.terrain("terrain.tif");
        trap.plan(|text| text);
        trap
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn precious(&self) -> PathBuf {
        self.outside.path().join("start-up")
    }

    fn host(&self) -> String {
        self.server.local_addr().unwrap().to_string()
    }

    fn terrain(&self, name: &str) {
        write_plan_raster(&self.path(name), |c, r| (40 + c % 20 + r % 7) as f32);
    }

    fn plan(&self, edit: impl Fn(String) -> String) {
        fs::write(self.path("plan.toml"), edit(PLAN.to_owned())).unwrap();
    }

    /// The plan with another elevation file.
    fn plan_on(&self, file: &str) {
        self.plan(|text| text.replace("\"terrain.tif\"", &format!("'{file}'")));
    }

    fn write(&self, name: &str, content: impl AsRef<[u8]>) {
        fs::write(self.path(name), content).unwrap();
    }

    fn pipe(&self, name: &str) {
        let made = Command::new("mkfifo").arg(self.path(name)).status().unwrap();
        assert!(made.success());
    }

    /// Everything that is read, by name.
    fn inputs(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        let entries = fs::read_dir(self.folder.path()).unwrap().map(|e| e.unwrap().path());
        entries
            .filter(|path| !path.ends_with("out"))
            .map(|path| {
                let kind = fs::symlink_metadata(&path).unwrap().file_type();
                let content = if kind.is_file() {
                    fs::read(&path).unwrap()
                } else {
                    format!("{kind:?} {}", kind.is_fifo()).into_bytes()
                };
                (path, content)
            })
            .collect()
    }

    /// Runs a verb on the plan, and holds it to every promise but whether it
    /// succeeds.
    fn run(&self, verb: &[&str]) -> Output {
        self.run_in(FILE_TIME, verb)
    }

    /// The same, where a file may take so many seconds.
    fn run_in(&self, file_time: &str, verb: &[&str]) -> Output {
        drop(fs::remove_dir_all(self.path("out")));
        let before = self.inputs();
        let begun = Instant::now();
        let mut child = Command::new(env!("CARGO_BIN_EXE_perchline"))
            .args(verb)
            .args(["plan.toml", "--out", "out", "--file-time", file_time])
            .current_dir(self.folder.path())
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (mut stdout, mut stderr) = (child.stdout.take().unwrap(), child.stderr.take().unwrap());
        let reader = std::thread::spawn(move || {
            let mut text = Vec::new();
            stdout.read_to_end(&mut text).unwrap();
            text
        });
        let errors = std::thread::spawn(move || {
            let mut text = Vec::new();
            stderr.read_to_end(&mut text).unwrap();
            text
        });
        let status = loop {
            if let Some(status) = child.try_wait().unwrap() {
                break status;
            }
            if begun.elapsed() > HUNG {
                child.kill().unwrap();
                panic!("{verb:?} hung on {:?}", before.keys());
            }
            std::thread::sleep(Duration::from_millis(10));
        };
        let output =
            Output { status, stdout: reader.join().unwrap(), stderr: errors.join().unwrap() };
        assert_eq!(status.signal(), None, "{verb:?}: {}", said(&output));
        assert_eq!(fs::read_to_string(self.precious()).unwrap(), PRECIOUS, "written outside");
        assert_eq!(fs::read_dir(self.outside.path()).unwrap().count(), 1, "made outside");
        assert_eq!(self.inputs(), before, "inputs changed");
        let nobody = |error: std::io::Error| assert_eq!(error.kind(), ErrorKind::WouldBlock);
        nobody(self.server.accept().expect_err("called a server"));
        nobody(self.datagrams.recv(&mut [0; 9]).expect_err("sent a datagram"));
        if !status.success() {
            assert_eq!(status.code(), Some(2), "{}", said(&output));
            let left = self.path("out").exists()
                && fs::read_dir(self.path("out")).unwrap().next().is_some();
            assert!(!left, "something was written");
            assert!(said(&output).len() < 20_000, "{} bytes of words", said(&output).len());
        }
        output
    }

    /// What it says where it refuses.
    fn refused(&self, says: &str) -> String {
        let output = self.run(&["check"]);
        assert_eq!(output.status.code(), Some(2), "{}", printed(&output));
        let words = said(&output);
        assert!(words.contains(says), "{says:?} is not in {words:?}");
        words
    }

    fn accepted(&self) -> String {
        let output = self.run(&["check"]);
        assert!(output.status.success(), "{}", said(&output));
        printed(&output)
    }
}

/// A virtual raster of the plan's land with these elements in its band.
fn virtual_raster(inside: &str) -> String {
    format!(
        "<VRTDataset rasterXSize=\"150\" rasterYSize=\"150\"><SRS>EPSG:32625</SRS><GeoTransform>353800, 30, 0, 5209800, 0, -30</GeoTransform><VRTRasterBand dataType=\"Float32\" band=\"1\">{inside}</VRTRasterBand></VRTDataset>"
    )
}

fn source(name: &str) -> String {
    format!(
        "<SimpleSource><SourceFilename relativeToVRT=\"1\">{name}</SourceFilename><SourceBand>1</SourceBand></SimpleSource>"
    )
}

/// A caching raster that writes what it reads into a file of its choice.
fn caching(trap: &Trap) -> String {
    format!(
        "<MRF_META><CachedSource><Source>{}</Source></CachedSource><Raster><Size x=\"150\" y=\"150\" c=\"1\"/><PageSize x=\"150\" y=\"150\" c=\"1\"/><Compression>NONE</Compression><DataType>Float32</DataType><DataFile>{}</DataFile><IndexFile>{}</IndexFile></Raster><GeoTags><BoundingBox minx=\"353800\" miny=\"5205300\" maxx=\"358300\" maxy=\"5209800\"/><Projection>EPSG:32625</Projection></GeoTags></MRF_META>",
        trap.path("terrain.tif").display(),
        trap.precious().display(),
        trap.outside.path().join("index").display()
    )
}

#[test]
fn a_caching_raster_behind_a_virtual_one_writes_nothing() {
    let trap = Trap::new();
    trap.write("cache.mrf", caching(&trap));
    trap.write("terrain.vrt", virtual_raster(&source("cache.mrf")));
    trap.plan_on("terrain.vrt");
    trap.run(&["rank"]);
    trap.plan_on("cache.mrf");
    trap.refused("cache.mrf");
}

#[test]
fn a_caching_raster_as_a_mask_writes_nothing() {
    let trap = Trap::new();
    trap.write("terrain.tif.msk", caching(&trap));
    trap.write(
        "terrain.tif.msk.aux.xml",
        "<PAMDataset><Metadata><MDI key=\"INTERNAL_MASK_FLAGS_1\">2</MDI></Metadata></PAMDataset>",
    );
    trap.refused("terrain.tif.msk");
}

/// The same as land cover.
#[test]
fn a_caching_raster_under_land_cover_writes_nothing() {
    let trap = Trap::new();
    trap.write("cache.mrf", caching(&trap));
    trap.write("cover.vrt", virtual_raster(&source("cache.mrf")));
    let cover = "\n[land_cover]\nfile = \"cover.vrt\"\nclasses = \"global-10\"\n";
    trap.plan(|text| text.replace("\n[map]\n", &format!("{cover}\n[map]\n")));
    trap.run(&["check"]);
    trap.terrain("cover.tif");
    trap.write("cover.msk", caching(&trap));
    trap.plan(|text| {
        text.replace("\n[map]\n", &format!("{}\n[map]\n", cover.replace("vrt", "tif")))
    });
    trap.refused("cover.msk");
}

#[test]
fn addresses_in_memory_are_not_read() {
    let trap = Trap::new();
    for name in [
        "MEM:::DATAPOINTER=4096,PIXELS=1200,LINES=900,DATATYPE=Byte",
        "MEM:::DATAPOINTER=0x1000,PIXELS=150,LINES=150,DATATYPE=Float32",
    ] {
        let named = source(name).replace("relativeToVRT=\"1\"", "relativeToVRT=\"0\"");
        trap.write("terrain.vrt", virtual_raster(&named));
        trap.plan_on("terrain.vrt");
        trap.refused("refers to");
        // A file of that name is none either.
        trap.plan_on(name);
        trap.run(&["check"]);
    }
}

#[test]
fn pipes_are_not_waited_for() {
    let trap = Trap::new();
    trap.pipe("pipe");
    trap.write("terrain.vrt", virtual_raster(&source("pipe")));
    trap.plan_on("terrain.vrt");
    trap.refused("a pipe");
    for name in ["terrain.hgt", "N47W035.hgt", "terrain.dem", "terrain.bil", "terrain.asc"] {
        let trap = Trap::new();
        trap.pipe(name);
        trap.plan_on(name);
        trap.refused(name);
    }
    for end in ["tif.msk", "tif.aux.xml", "aux", "aux.xml", "prj", "tfw", "tif.ovr", "hdr"] {
        let trap = Trap::new();
        trap.pipe(&format!("terrain.{end}"));
        trap.refused(&format!("terrain.{end}"));
    }
    let place = "at = { file = \"places.csv\", name = \"Aid 1\" }";
    for end in ["prj", "cpg", "dbf", "shx", "csvt"] {
        let trap = Trap::new();
        trap.write("places.csv", "name,lat,lon\nAid 1,47.000,-34.900\n");
        trap.plan(|text| text.replace("at = \"47.000, -34.900\"", place));
        trap.accepted();
        trap.pipe(&format!("places.{end}"));
        trap.refused(&format!("places.{end}"));
    }
    // The plan itself, and what it may name beside rasters and vectors.
    let trap = Trap::new();
    fs::remove_file(trap.path("plan.toml")).unwrap();
    trap.pipe("plan.toml");
    let begun = Instant::now();
    trap.refused("took longer than");
    assert!(begun.elapsed() > Duration::from_secs(3));
}

#[test]
fn devices_are_not_read_along() {
    for (end, device) in [("prj", "/dev/zero"), ("aux.xml", "/dev/zero"), ("tfw", "/dev/tty")] {
        let trap = Trap::new();
        symlink(device, trap.path(&format!("terrain.{end}"))).unwrap();
        trap.refused(&format!("terrain.{end}"));
    }
    // Nor a plain file of zeros without an end in sight.
    let trap = Trap::new();
    File::create(trap.path("terrain.prj")).unwrap().set_len(4 << 30).unwrap();
    let words = {
        fs::write(trap.path("small"), "").unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_perchline"))
            .args(["check", "plan.toml"])
            .current_dir(trap.folder.path())
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(2));
        said(&output)
    };
    assert!(words.contains("terrain.prj"), "{words}");
}

const GRID: &str =
    "ncols 150\nnrows 150\nxllcorner 353800\nyllcorner 5205300\ncellsize 30\nNODATA_value -9999\n";

#[test]
fn broken_ascii_grids_are_refused() {
    let trap = Trap::new();
    trap.plan(|text| text.replace("[\"terrain.tif\"]", "[\"terrain.asc\"]\ncrs = \"EPSG:32625\""));
    let rows = "40 ".repeat(150) + "\n";
    trap.write("terrain.asc", GRID.to_owned() + &rows.repeat(150));
    trap.accepted();
    for (cells, says) in [
        (rows.repeat(149), "of its 22500 cells"),
        (String::new(), "of its 22500 cells"),
        (rows.repeat(149) + &"x".repeat(9000), "more than 64 letters"),
        (rows.replace(' ', ",").repeat(150), "more than 64 letters"),
        ("40, ".repeat(22_500), "where a number"),
        ("1".repeat(50_000_000), "more than 64 letters"),
        ("\0".repeat(100_000), "more than 64 letters"),
    ] {
        trap.write("terrain.asc", GRID.to_owned() + &cells);
        trap.refused(says);
    }
    for head in ["ncols 150\n", "ncols 99999999999\nnrows 99999999999\n", "nrows 1 ncols"] {
        trap.write("terrain.asc", head);
        trap.refused("terrain.asc");
    }
}

#[test]
fn virtual_rasters_do_not_multiply() {
    let trap = Trap::new();
    trap.plan_on("terrain.vrt");
    // Four sources each, ten deep: a million in all.
    trap.write("v0.vrt", virtual_raster(&source("terrain.tif").repeat(4)));
    for depth in 1..10 {
        let copies: String = (0..4).map(|_| source(&format!("v{}.vrt", depth - 1))).collect();
        trap.write(&format!("v{depth}.vrt"), virtual_raster(&copies));
    }
    trap.write("terrain.vrt", virtual_raster(&source("v9.vrt")));
    trap.refused("inside each other");
    // The same by different names, within the depth that is read.
    for depth in 0..3 {
        for copy in 0..40 {
            let below: String = (0..40)
                .map(|below| match depth {
                    0 => source("terrain.tif"),
                    _ => source(&format!("w{}-{below}.vrt", depth - 1)),
                })
                .collect();
            trap.write(&format!("w{depth}-{copy}.vrt"), virtual_raster(&below));
        }
    }
    let all: String = (0..40).map(|copy| source(&format!("w2-{copy}.vrt"))).collect();
    trap.write("terrain.vrt", virtual_raster(&all));
    trap.refused("files");
    let kernel = "<KernelFilteredSource><SourceFilename relativeToVRT=\"1\">terrain.tif</SourceFilename><Kernel><Size>3001</Size><Coefs>1</Coefs></Kernel></KernelFilteredSource>";
    trap.write("terrain.vrt", virtual_raster(kernel));
    trap.refused("KernelFilteredSource");
    let vast = "<SimpleSource><SourceFilename relativeToVRT=\"1\">terrain.tif</SourceFilename><SourceBand>1</SourceBand><SrcRect xOff=\"0\" yOff=\"0\" xSize=\"1000000000\" ySize=\"1000000000\"/><DstRect xOff=\"0\" yOff=\"0\" xSize=\"150\" ySize=\"150\"/></SimpleSource>";
    trap.write("terrain.vrt", virtual_raster(vast));
    trap.refused("one cell of more than");
    trap.write(
        "terrain.vrt",
        virtual_raster(
            &vast.replace("<SimpleSource>", "<SimpleSource resampling=\"cubicspline\">"),
        ),
    );
    trap.refused("resampling");
    let many: String = (0..100_000).map(|n| source(&format!("t{n}.tif"))).collect();
    trap.write("terrain.vrt", virtual_raster(&many));
    trap.run(&["check"]);
}

/// A virtual raster inside another: names count from where the library takes
/// them, whichever of the two is asked.
#[test]
fn names_inside_virtual_rasters_count_from_one_place() {
    let trap = Trap::new();
    fs::create_dir(trap.path("deep")).unwrap();
    fs::rename(trap.path("terrain.tif"), trap.path("deep/land.tif")).unwrap();
    trap.write("deep/inner.vrt", virtual_raster(&source("land.tif")));
    trap.write("terrain.vrt", virtual_raster(&source("deep/inner.vrt")));
    trap.plan_on("terrain.vrt");
    trap.accepted();
    // From the working folder: there is no such file.
    let own = source("land.tif").replace("relativeToVRT=\"1\"", "relativeToVRT=\"0\"");
    trap.write("deep/inner.vrt", virtual_raster(&own));
    let output = trap.run(&["rank"]);
    assert_eq!(output.status.code(), Some(2), "{}", printed(&output));
    // A caching one is found from there too.
    trap.write("land.tif", caching(&trap));
    trap.run(&["rank"]);
}

#[test]
fn vector_files_that_take_for_ever_are_stopped() {
    let place = "at = { file = \"places.geojson\", name = \"Aid 1\" }";
    let trap = Trap::new();
    trap.plan(|text| text.replace("at = \"47.000, -34.900\"", place));
    let mut text = "{\"type\":\"FeatureCollection\",\"features\":[".to_owned();
    for feature in 0..400 {
        text += if feature == 0 { "" } else { "," };
        text += "{\"type\":\"Feature\",\"geometry\":{\"type\":\"Point\",\"coordinates\":[-34.9,47.0]},\"properties\":{\"name\":\"Aid 1\"";
        for property in 0..400 {
            write!(text, ",\"p{feature}-{property}\":1").unwrap();
        }
        text += "}}";
    }
    trap.write("places.geojson", text + "]}");
    trap.refused("places.geojson");

    let trap = Trap::new();
    trap.plan(|text| text.replace("at = \"47.000, -34.900\"", &place.replace("geojson", "kml")));
    let folder = "<Folder><name>f</name><Placemark><name>Aid 1</name><Point><coordinates>-34.9,47.0</coordinates></Point></Placemark></Folder>";
    trap.write(
        "places.kml",
        format!(
            "<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document>{}</Document></kml>",
            folder.repeat(60_000)
        ),
    );
    trap.refused("places.kml");

    let trap = Trap::new();
    let corners: Vec<String> = (0..1_000_000)
        .map(|n| {
            let (angle, far) = (f64::from(n) * 0.37, 0.001 + 0.003 * f64::from(n % 7) / 7.0);
            format!("[{:.7},{:.7}]", -34.89 + far * angle.cos(), 47.005 + far * angle.sin())
        })
        .collect();
    trap.write(
        "houses.geojson",
        format!(
            "{{\"type\":\"FeatureCollection\",\"features\":[{{\"type\":\"Feature\",\"properties\":{{\"height\":9}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{},{}]]}}}}]}}",
            corners.join(","),
            corners[0]
        ),
    );
    trap.plan(|text| {
        text.replace(
            "\n[map]\n",
            "\n[buildings]\nfiles = [\"houses.geojson\"]\ndefault_height = \"6 m\"\n\n[map]\n",
        )
    });
    // A debug build takes seconds to read what it then leaves out.
    let output = trap.run_in("50", &["check"]);
    assert_eq!(output.status.code(), Some(2), "{}", printed(&output));
    let words = said(&output);
    assert!(words.contains("houses.geojson: no footprint lies where"), "{words}");
}

#[test]
fn xml_declares_no_entities() {
    let place = "at = { file = \"places.kml\", name = \"Aid 1\" }";
    let trap = Trap::new();
    trap.plan(|text| text.replace("at = \"47.000, -34.900\"", place));
    trap.write("places.kml", format!("<?xml version=\"1.0\"?><!DOCTYPE kml [<!ENTITY a SYSTEM \"{}\">]><kml><Placemark><name>Aid 1</name><description>&a;</description><Point><coordinates>-34.9,47.0</coordinates></Point></Placemark></kml>", trap.precious().display()));
    trap.refused("DOCTYPE");
    trap.write(
        "places.kml",
        format!(
            "<kml><NetworkLink><Link><href>http://{}/a.kml</href></Link></NetworkLink></kml>",
            trap.host()
        ),
    );
    trap.run(&["check"]);
}

/// A GeoPackage with the post "Aid 1", and what `change` makes of it.
fn package(trap: &Trap, change: impl Fn(&Connection)) {
    let file = trap.path("places.gpkg");
    drop(fs::remove_file(&file));
    let table = Table {
        name: "places",
        shape: Shape::Points,
        fields: vec![("name", FieldKind::Text)],
        features: vec![(
            geo::Point::new(-34.9, 47.0).into(),
            vec![FieldValue::Text("Aid 1".to_owned())],
        )],
    };
    write_geopackage(&file, &[table], &[], "2026-01-01T00:00:00Z").unwrap();
    let connection = Connection::open(&file).unwrap();
    change(&connection);
    drop(connection);
    trap.plan(|text| {
        text.replace(
            "at = \"47.000, -34.900\"",
            "at = { file = \"places.gpkg\", name = \"Aid 1\" }",
        )
    });
}

#[test]
fn databases_are_data() {
    let trap = Trap::new();
    package(&trap, |_| ());
    trap.accepted();
    let list = "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES ('v', 'features', 'v', 4326); INSERT INTO gpkg_geometry_columns VALUES ('v', 'geom', 'POINT', 4326, 0, 0);";
    for view in [
        "CREATE VIEW v AS WITH RECURSIVE c(fid) AS (SELECT 1 UNION ALL SELECT fid + 1 FROM c) SELECT fid, NULL AS geom, 'Aid 1' AS name FROM c WHERE fid < 0",
        "CREATE VIEW v AS SELECT 1 AS fid, zeroblob(900000000) AS geom, 'Aid 1' AS name",
        "CREATE VIEW v AS SELECT fid, hex(zeroblob(400000000)) AS name, geom FROM places",
    ] {
        package(&trap, |connection| connection.execute_batch(&format!("{view};{list}")).unwrap());
        trap.refused("view \"v\"");
    }
    package(&trap, |connection| {
        connection
            .execute_batch(&format!("CREATE VIEW v AS SELECT fid, geom, name FROM places;{list}"))
            .unwrap();
    });
    trap.run(&["check"]);
    package(&trap, |connection| {
        connection
            .execute_batch("ALTER TABLE places ADD COLUMN big AS (zeroblob(900000000))")
            .unwrap();
    });
    trap.refused("computed");
}

/// What another program has written and not yet put in its place stays as it is.
#[test]
fn a_stale_log_beside_a_database_changes_nothing() {
    let trap = Trap::new();
    package(&trap, |_| ());
    let writer = Connection::open(trap.path("places.gpkg")).unwrap();
    writer
        .execute_batch("PRAGMA journal_mode = WAL; PRAGMA wal_autocheckpoint = 0; CREATE TABLE notes (a); INSERT INTO notes VALUES ('x');")
        .unwrap();
    // As after a crash: the log stays.
    for end in ["", "-wal", "-shm"] {
        fs::copy(trap.path(&format!("places.gpkg{end}")), trap.path(&format!("stale.gpkg{end}")))
            .unwrap();
    }
    drop(writer);
    trap.plan(|text| {
        text.replace("at = \"47.000, -34.900\"", "at = { file = \"stale.gpkg\", name = \"Aid 1\" }")
    });
    trap.refused("-wal");
    // One that is marked so, without a log: nothing is made beside it.
    fs::remove_file(trap.path("stale.gpkg-wal")).unwrap();
    fs::remove_file(trap.path("stale.gpkg-shm")).unwrap();
    trap.accepted();
}

#[test]
fn coordinate_systems_are_not_fetched() {
    let trap = Trap::new();
    let address = format!("http://{}/crs.wkt", trap.host());
    for crs in [
        address.clone(),
        format!("{address}#a"),
        format!("/vsicurl/{address}"),
        trap.precious().display().to_string(),
        format!("+proj=longlat +nadgrids=/vsicurl/{address}"),
        format!("+init={address}"),
        format!("urn:ogc:def:crs:{address}"),
    ] {
        trap.plan(|text| {
            text.replace("[\"terrain.tif\"]", &format!("[\"terrain.tif\"]\ncrs = '{crs}'"))
        });
        trap.refused("coordinate system");
    }
    let place = "at = { file = \"places.geojson\", name = \"Aid 1\" }";
    trap.plan(|text| text.replace("at = \"47.000, -34.900\"", place));
    for crs in [
        format!(
            "{{\"type\":\"link\",\"properties\":{{\"href\":\"{address}\",\"type\":\"proj4\"}}}}"
        ),
        format!("{{\"type\":\"url\",\"properties\":{{\"url\":\"{address}\"}}}}"),
        format!("{{\"type\":\"name\",\"properties\":{{\"name\":\"{address}\"}}}}"),
        "{\"type\":\"name\",\"properties\":{\"name\":\"EPSG:4711471\"}}".to_owned(),
        "null".to_owned(),
    ] {
        trap.write("places.geojson", format!("{{\"type\":\"FeatureCollection\",\"crs\":{crs},\"features\":[{{\"type\":\"Feature\",\"properties\":{{\"name\":\"Aid 1\"}},\"geometry\":{{\"type\":\"Point\",\"coordinates\":[-34.9,47.0]}}}}]}}"));
        trap.refused("places.geojson");
    }
}

/// A height of 0 is a height, whether the file system stores it or a hole.
#[test]
fn holes_of_a_file_system_are_heights() {
    let trap = Trap::new();
    let dense = trap.path("dense.tif");
    support::write_raster(
        &dense,
        (150, 150),
        support::utm_transform(353_800.0, 5_209_800.0, 30.0),
        Some(support::UTM_25N),
        None,
        |_, _| 0.0,
    );
    let bytes = fs::read(&dense).unwrap();
    // The same bytes, runs of zeros left out.
    let mut sparse = File::create(trap.path("sparse.tif")).unwrap();
    for block in bytes.chunks(4096) {
        if block.iter().all(|byte| *byte == 0) {
            sparse.seek(SeekFrom::Current(block.len() as i64)).unwrap();
        } else {
            sparse.write_all(block).unwrap();
        }
    }
    sparse.set_len(bytes.len() as u64).unwrap();
    sparse.sync_all().unwrap();
    drop(sparse);
    assert_eq!(fs::read(trap.path("sparse.tif")).unwrap(), bytes);
    let told = ["dense.tif", "sparse.tif"].map(|name| {
        trap.plan_on(name);
        let output = trap.run(&["rank", "--json"]);
        assert!(output.status.success(), "{}", said(&output));
        let document: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        fs::remove_dir_all(trap.path("out")).unwrap();
        document["result"].to_string()
    });
    assert_eq!(told[0], told[1]);
}

/// The kernel refuses what a file could still bring about: the promise does not
/// rest on what this program thinks of.
#[test]
fn the_process_is_shut_in() {
    let trap = Trap::new();
    let output = Command::new(env!("CARGO_BIN_EXE_perchline")).arg("--version").output().unwrap();
    let words = printed(&output);
    assert!(words.contains("GDAL 3."), "{words}");
    if !words.contains("(Landlock and a filter") {
        return Wanted::Box.is_missing(&words);
    }
    // A plan that names a link to a folder that it has no business in: the link's
    // own folder may be read, what it leads to is a file that the plan names.
    symlink(trap.precious(), trap.path("link.tif")).unwrap();
    trap.plan_on("link.tif");
    trap.run(&["check"]);
    // Traced, it is seen to ask for the box before it opens the terrain.
    let traced = Command::new("strace")
        .args([
            "-f",
            "-qq",
            "-o",
            "trace.txt",
            "-e",
            "trace=landlock_restrict_self,seccomp,openat,socket,execve",
        ])
        .args([env!("CARGO_BIN_EXE_perchline"), "check", "plan.toml"])
        .current_dir(trap.folder.path())
        .output();
    trap.plan_on("terrain.tif");
    match traced {
        Ok(traced) if !said(&traced).contains("strace:") => {
            let trace = fs::read_to_string(trap.path("trace.txt")).unwrap();
            let first = |what: &str| trace.lines().position(|line| line.contains(what));
            let last = |what: &str| {
                trace
                    .lines()
                    .filter(|l| !l.contains("trace.txt"))
                    .enumerate()
                    .filter(|(_, line)| line.contains(what))
                    .last()
            };
            let shut = first("landlock_restrict_self(").expect("the box is entered");
            assert!(first("seccomp(").is_some(), "{trace}");
            assert!(last("link.tif").unwrap().0 > shut, "{trace}");
            assert!(!trace.contains("socket("), "{trace}");
        }
        Ok(traced) => Wanted::Trace.is_missing(&said(&traced)),
        Err(error) => Wanted::Trace.is_missing(&format!("strace: {error}")),
    }
}

/// What can be opened at all.
#[test]
fn only_the_promised_formats_are_registered() {
    let promised = [
        "AAIGrid",
        "CSV",
        "DTED",
        "EHdr",
        "ESRI Shapefile",
        "GPKG",
        "GPX",
        "GTiff",
        "GeoJSON",
        "HFA",
        "KML",
        "LIBKML",
        "SRTMHGT",
        "VRT",
        "XYZ",
    ];
    let found = perchline::confine::registered();
    let strangers: Vec<_> =
        found.iter().filter(|name| !promised.contains(&name.as_str())).collect();
    assert!(strangers.is_empty(), "{strangers:?}");
    // One may be missing in a library that was built without it, not these.
    for needed in [
        "GTiff",
        "VRT",
        "AAIGrid",
        "SRTMHGT",
        "DTED",
        "GeoJSON",
        "GPX",
        "KML",
        "GPKG",
        "ESRI Shapefile",
        "CSV",
    ] {
        assert!(found.iter().any(|name| name == needed), "{needed} is missing");
    }
}
