//! Rasters that are damaged, lie about their size or point elsewhere, and a
//! network that is never touched.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use crate::support::wanted::{Wanted, has_gdal};
use crate::support::{
    PLAN, UTM_25N, plan_extent, printed, said, utm_transform, write_plan_raster, write_raster,
};
use perchline::plan::TerrainInputs;
use perchline::terrain::{Terrain, TerrainError};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

fn open(file: &Path) -> Result<Terrain, TerrainError> {
    let inputs = TerrainInputs {
        files: vec![file.to_owned()],
        height_unit: None,
        crs: None,
        fill_gaps: false,
        cell: None,
    };
    Terrain::open(&inputs, plan_extent())
}

/// The error, which names the file and came soon.
fn refused(file: &Path) -> String {
    let begun = Instant::now();
    let error = open(file).expect_err("it must be refused").to_string();
    assert!(begun.elapsed() < Duration::from_secs(5), "{:?}: {error}", begun.elapsed());
    let name = file.file_name().unwrap().to_str().unwrap();
    assert!(error.contains(name), "{error}");
    assert!(!error.chars().any(char::is_control), "{error:?}");
    error
}

/// A TIFF of one band that is all header: `entries` are (tag, type, value).
fn tiff(entries: &[(u16, u16, u32)]) -> Vec<u8> {
    let mut bytes = b"II*\0\x08\0\0\0".to_vec();
    bytes.extend((entries.len() as u16).to_le_bytes());
    for (tag, kind, value) in entries {
        bytes.extend(tag.to_le_bytes());
        bytes.extend(kind.to_le_bytes());
        bytes.extend(1u32.to_le_bytes());
        bytes.extend(value.to_le_bytes());
    }
    bytes.extend([0; 64]);
    bytes
}

/// Width, height, 16 bits, compression, one strip of so many rows.
fn header(width: u32, height: u32, compression: u32, rows: u32) -> Vec<u8> {
    tiff(&[
        (256, 4, width),
        (257, 4, height),
        (258, 3, 16),
        (259, 3, compression),
        (262, 3, 1),
        (273, 4, 120),
        (277, 3, 1),
        (278, 4, rows),
        (279, 4, 16),
    ])
}

#[test]
fn headers_that_promise_the_earth_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("vast.tif");
    for (width, height, compression, rows) in [
        (1_000_000_000, 1_000_000_000, 1, 1_000_000_000),
        (1_000_000_000, 1_000_000_000, 8, 1),
        (u32::MAX, u32::MAX, 8, u32::MAX),
        (40_000, 40_000, 8, 40_000),
        (0, 0, 1, 1),
        (2_000_000_000, 1, 8, 1),
    ] {
        fs::write(&file, header(width, height, compression, rows)).unwrap();
        // Where GDAL opens it at all, a world file says where it lies.
        fs::write(folder.path().join("vast.tfw"), "1\n0\n0\n-1\n353800\n5209800\n").unwrap();
        eprintln!("{width} x {height}: {}", refused(&file));
    }
}

fn virtual_raster(side: u64, inside: &str) -> String {
    format!(
        "<VRTDataset rasterXSize=\"{side}\" rasterYSize=\"{side}\"><SRS>EPSG:32625</SRS><GeoTransform>353800, 30, 0, 5209800, 0, -30</GeoTransform><VRTRasterBand dataType=\"Float32\" band=\"1\">{inside}</VRTRasterBand></VRTDataset>"
    )
}

fn source(name: &str) -> String {
    format!(
        "<SimpleSource><SourceFilename relativeToVRT=\"0\">{name}</SourceFilename><SourceBand>1</SourceBand></SimpleSource>"
    )
}

#[test]
fn virtual_rasters_that_point_elsewhere_are_refused() {
    // A server that would see any attempt.
    let server = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    server.set_nonblocking(true).unwrap();
    let port = server.local_addr().unwrap().port();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("points.vrt");
    let host = format!("127.0.0.1:{port}");
    for name in [
        format!("/vsicurl/http://{host}/a.tif"),
        format!("&#47;vsicurl/http:&#x2f;/{host}/a.tif"),
        format!("/VSICURL?url=http%3A%2F%2F{host}%2Fa.tif"),
        "/vsis3/bucket/a.tif".to_owned(),
        "/vsigs/bucket/a.tif".to_owned(),
        "/vsiaz/bucket/a.tif".to_owned(),
        "/vsihdfs/a.tif".to_owned(),
        "/vsistdin/".to_owned(),
        "/vsizip/a.zip/a.tif".to_owned(),
        "/vsitar//vsigzip/a.tgz/a.tif".to_owned(),
        "/vsisubfile/0_100,/etc/hostname".to_owned(),
        format!("http://{host}/a.tif"),
        format!("WMS:http://{host}/wms"),
        "/dev/zero".to_owned(),
        "/proc/self/mem".to_owned(),
        format!("&lt;VRTDataset&gt;&lt;SourceFilename&gt;/vsicurl/http://{host}/a"),
    ] {
        for inside in [
            source(&name),
            source(&name).replace("SimpleSource", "ComplexSource"),
            source(&name)
                .replace("SourceFilename relativeToVRT=\"0\"", "SourceDataset")
                .replace("</SourceFilename>", "</SourceDataset>"),
        ] {
            fs::write(&file, virtual_raster(150, &inside)).unwrap();
            let words = refused(&file);
            assert!(words.contains("refers to"), "{words}");
        }
        assert!(server.accept().is_err(), "{name} reached the network");
    }
    // What only speaks of an address is read.
    let there = folder.path().join("there.tif");
    write_plan_raster(&there, |_, _| 40.0);
    let words = "<Metadata><MDI key=\"from\">https://example.org/a.tif</MDI></Metadata><!-- http://x --><VRTRasterBand";
    let text =
        virtual_raster(150, &source(there.to_str().unwrap())).replace("<VRTRasterBand", words);
    fs::write(&file, text).unwrap();
    assert!(open(&file).is_ok(), "{}", open(&file).unwrap_err());
    // Other descriptions that GDAL would follow to a server.
    for text in [
        format!(
            "<GDAL_WMS><Service name=\"TMS\"><ServerUrl>http://{host}/</ServerUrl></Service></GDAL_WMS>"
        ),
        format!("<GDAL_WMTS><GetCapabilitiesUrl>http://{host}/</GetCapabilitiesUrl></GDAL_WMTS>"),
        format!("<WCS_GDAL><ServiceURL>http://{host}/</ServiceURL></WCS_GDAL>"),
        format!(
            "{{\"type\":\"FeatureCollection\",\"stac_version\":\"1.0.0\",\"features\":[{{\"assets\":{{\"a\":{{\"href\":\"http://{host}/\"}}}}}}]}}"
        ),
    ] {
        fs::write(&file, text).unwrap();
        refused(&file);
        assert!(server.accept().is_err(), "reached the network");
    }
}

/// One virtual raster inside another: the inner one's sources are opened by
/// GDAL alone.
#[test]
fn a_virtual_raster_inside_another_reaches_no_network() {
    let server = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    server.set_nonblocking(true).unwrap();
    let port = server.local_addr().unwrap().port();
    let folder = tempfile::tempdir().unwrap();
    let outer = folder.path().join("outer.vrt");
    for inner in ["/vsicurl/http", "/vsicurl_streaming/http", "http", "NETCDF:http", "PG:http"] {
        let inside = source(&format!("{inner}://127.0.0.1:{port}/a.tif"));
        let name = folder.path().join("inner.vrt");
        fs::write(&name, virtual_raster(150, &inside)).unwrap();
        fs::write(&outer, virtual_raster(150, &source(name.to_str().unwrap()))).unwrap();
        refused(&outer);
        assert!(server.accept().is_err(), "{inner} reached the network");
    }
}

#[test]
fn vast_or_endless_virtual_rasters_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 40.0);
    let file = folder.path().join("vast.vrt");
    // All of it is asked for: the window is larger than memory.
    let text =
        virtual_raster(2_147_483_647, &source(folder.path().join("terrain.tif").to_str().unwrap()))
            .replace(", 30, 0, 5209800, 0, -30", ", 0.00001, 0, 5209800, 0, -0.00001");
    fs::write(&file, text).unwrap();
    let words = refused_for(&file);
    assert!(words.contains("[terrain] cell"), "{words}");
    // One that refers to itself.
    let own = source(file.to_str().unwrap());
    fs::write(&file, virtual_raster(150, &own)).unwrap();
    refused(&file);
}

/// The error, whatever it names, soon.
fn refused_for(file: &Path) -> String {
    let begun = Instant::now();
    let error = open(file).expect_err("it must be refused").to_string();
    assert!(begun.elapsed() < Duration::from_secs(5), "{error}");
    error
}

#[test]
fn pipes_devices_and_folders_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("pipe.tif");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    assert!(refused(&pipe).contains("neither a file nor a folder"));
    assert!(refused(Path::new("/dev/zero")).contains("neither a file nor a folder"));
    refused(folder.path());
}

/// Cut short anywhere, or with bytes changed anywhere, a raster is read or
/// refused with words.
#[test]
fn damaged_rasters_are_read_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let whole = folder.path().join("whole.tif");
    write_raster(
        &whole,
        (150, 150),
        utm_transform(353_800.0, 5_209_800.0, 30.0),
        Some(UTM_25N),
        Some(-9999.0),
        |c, r| (c + r) as f32,
    );
    let small: PathBuf = folder.path().join("small.tif");
    let mut sources = vec![fs::read(&whole).unwrap()];
    if has_gdal(&["gdal_translate"]) {
        let translated = Command::new("gdal_translate")
            .args(["-q", "-co", "COMPRESS=DEFLATE", "-co", "TILED=YES", "-co", "PREDICTOR=3"])
            .args([&whole, &small])
            .status();
        assert!(translated.unwrap().success());
        sources.push(fs::read(&small).unwrap());
    }
    let mut random = Pcg64Mcg::seed_from_u64(7);
    let mut pick = |most: usize| random.next_u64() as usize % most.max(1);
    let file = folder.path().join("damaged.tif");
    let (mut read, mut not) = (0, 0);
    for bytes in &sources {
        for case in 0..1500 {
            let mut bytes = bytes.clone();
            if case % 3 == 0 {
                bytes.truncate(pick(bytes.len()));
            } else {
                // Mostly in the directory, which lies at an end of the file.
                for _ in 0..1 + pick(6) {
                    let place = match pick(3) {
                        0 => pick(bytes.len()),
                        1 => pick(bytes.len().min(700)),
                        _ => bytes.len() - 1 - pick(bytes.len().min(700)),
                    };
                    bytes[place] = match pick(4) {
                        0 => 0,
                        1 => 255,
                        2 => bytes[place] ^ (1 << pick(8)),
                        _ => pick(256) as u8,
                    };
                }
            }
            fs::write(&file, &bytes).unwrap();
            let begun = Instant::now();
            match open(&file) {
                Ok(terrain) => {
                    assert!(
                        terrain
                            .heights()
                            .iter()
                            .all(|h| h.is_nan() || (-500.0..=9000.0).contains(h))
                    );
                    read += 1;
                }
                Err(error) => {
                    assert!(!error.to_string().is_empty());
                    not += 1;
                }
            }
            if begun.elapsed() > Duration::from_secs(5) {
                let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join("slow.tif");
                fs::copy(&file, &kept).unwrap();
                panic!("case {case} took {:?}, see {}", begun.elapsed(), kept.display());
            }
        }
    }
    eprintln!("{read} read, {not} refused");
    assert!(read > 100 && not > 100, "{read} read, {not} refused");
}

/// The main job asks the system for no socket, whatever the environment says
/// about fetching grids.
#[test]
fn the_program_opens_no_socket() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |c, r| (c % 40 + r % 30) as f32);
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    for verb in ["rank", "brief"] {
        let output = Command::new("strace")
            .args(["-f", "-qq", "-e", "trace=socket,connect", "-o", "trace.txt"])
            .args([env!("CARGO_BIN_EXE_perchline"), verb, "plan.toml", "--out", "out"])
            .env("PROJ_NETWORK", "ON")
            .env("GDAL_HTTP_PROXY", "127.0.0.1:9")
            .current_dir(folder.path())
            .output();
        let output = match output {
            Ok(output) if said(&output).contains("strace:") => {
                return Wanted::Trace.is_missing(&said(&output));
            }
            Ok(output) => output,
            Err(error) => return Wanted::Trace.is_missing(&format!("strace: {error}")),
        };
        assert!(output.status.success(), "{}", said(&output));
        assert!(printed(&output).contains("wrote"));
        let trace = fs::read_to_string(folder.path().join("trace.txt")).unwrap();
        assert!(!trace.contains("socket("), "{trace}");
    }
}
