//! What integration tests share: small rasters, small plans, running the program.

#![allow(dead_code, reason = "each test file uses a part")]

pub mod browser;
pub mod disk;
pub mod heard;
pub mod held;
pub mod hostile;
pub mod land;
pub mod live;
pub mod national;
pub mod powered;
pub mod real;
pub mod timed;
pub mod wanted;

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use gdal::DriverManager;
use gdal::raster::{Buffer, GdalType, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use perchline::plan::{self, Plan};
use perchline::propagation::METHODS;
use perchline::report::{COLUMNS, columns};
use perchline::terrain::{Extent, Terrain};
use perchline::units::{Degrees, Position};

/// A format of GDAL to write with, whether or not the library reads it: what was
/// taken off the register comes back onto it.
pub fn driver(name: &str) -> gdal::Driver {
    DriverManager::get_driver_by_name(name).unwrap_or_else(|_| {
        DriverManager::register_all();
        DriverManager::get_driver_by_name(name).unwrap()
    })
}

/// A new GeoTIFF of `side` by `side` cells of so many metres, around the places of
/// `PLAN`.
pub fn new_raster<T: GdalType>(
    file: &Path,
    side: usize,
    cell: f64,
    options: &[&str],
) -> gdal::Dataset {
    let options = RasterCreationOptions::from_iter(options.iter().copied());
    let mut dataset = driver("GTiff")
        .create_with_band_type_with_options::<T, _>(file, side, side, 1, &options)
        .expect("a disk with room");
    let reach = side as f64 / 2.0 * cell;
    dataset
        .set_geo_transform(&utm_transform(356_000.0 - reach, 5_207_500.0 + reach, cell))
        .expect("a transform");
    let system = SpatialRef::from_epsg(UTM_25N).expect("a known system");
    dataset.set_spatial_ref(&system).expect("a system");
    dataset
}

/// The plan in this file, by every method there is.
pub fn read_plan(file: &Path) -> Plan {
    let methods: Vec<_> = METHODS.iter().map(|m| m.name()).collect();
    plan::read(file, &methods).unwrap()
}

/// The terrain that a plan asks for, with what stands on it.
pub fn open_terrain(plan: &Plan) -> Terrain {
    let extent = Extent::around(plan.extent_points(), plan.map.margin).unwrap();
    Terrain::open(&plan.terrain, extent).unwrap().with_surroundings(plan).unwrap()
}

/// Both.
pub fn open_plan(file: &Path) -> (Plan, Terrain) {
    let plan = read_plan(file);
    let terrain = open_terrain(&plan);
    (plan, terrain)
}

/// A GeoTIFF of `columns` x `rows` cells in this coordinate system, heights by
/// (column, row); `crs` none leaves it without one.
pub fn write_raster(
    path: &Path,
    (columns, rows): (usize, usize),
    transform: [f64; 6],
    crs: Option<u32>,
    nodata: Option<f64>,
    height: impl Fn(usize, usize) -> f32,
) {
    let driver = DriverManager::get_driver_by_name("GTiff").unwrap();
    let mut dataset = driver.create_with_band_type::<f32, _>(path, columns, rows, 1).unwrap();
    dataset.set_geo_transform(&transform).unwrap();
    if let Some(code) = crs {
        dataset.set_spatial_ref(&SpatialRef::from_epsg(code).unwrap()).unwrap();
    }
    let mut band = dataset.rasterband(1).unwrap();
    band.set_no_data_value(nodata).unwrap();
    let heights: Vec<f32> = (0..rows)
        .flat_map(|r| (0..columns).map(move |c| (c, r)))
        .map(|(c, r)| height(c, r))
        .collect();
    let mut buffer = Buffer::new((columns, rows), heights);
    band.write((0, 0), (columns, rows), &mut buffer).unwrap();
}

/// Lower-left corner near 47 N 34.9 W in UTM zone 25 N, cells of 30 m.
pub const UTM_25N: u32 = 32625;

/// The transform of a raster whose top-left corner is (easting, northing).
pub const fn utm_transform(easting: f64, northing: f64, cell: f64) -> [f64; 6] {
    [easting, cell, 0.0, northing, 0.0, -cell]
}

/// A plan over `terrain.tif` with two posts and two sites near 47 N 34.9 W;
/// `edit` may change its text.
pub fn plan_text(edit: impl Fn(String) -> String) -> String {
    edit(PLAN.to_owned())
}

/// The plan that [`plan_text`] starts from.
pub const PLAN: &str = r#"[event]
name = "Test run"
starts = 2026-12-05T16:30:00
ends = 2026-12-05T20:30:00
time_zone = "UTC"

[terrain]
files = ["terrain.tif"]

[map]
margin = "100 m"

[[radio]]
name = "hand-held"
power = "5 W"
antenna = { gain = "-5 dBd", pattern = "dipole" }
sensitivity = "0.25 uV"
bandwidth = "12.5 kHz"
carry = "shoulder"

[[radio]]
name = "relay"
power = "25 W"
antenna = { gain = "3 dBd", pattern = "collinear" }
feed_line = { type = "RG-213", length = "10 m" }
filter_loss = "1.5 dB"
sensitivity = "0.25 uV"
bandwidth = "12.5 kHz"

[[channel]]
name = "Event"
kind = "relay"
input = "147.6 MHz"
output = "147.0 MHz"
station = "relay"
carried = "hand-held"

[[post]]
name = "Aid 1"
at = "47.000, -34.900"

[[post]]
name = "Aid 2"
at = "47.010, -34.885"
must = true

[[site]]
name = "Hotel"
at = "47.004, -34.890"
roof = "20 m above ground"
mast = "3 m"

[[site]]
name = "Silo"
at = "47.008, -34.905"
roof = "30 m above ground"
mast = "3 m"
"#;

/// [`PLAN`] down to its channel: no posts and no sites.
pub fn plan_head() -> &'static str {
    &PLAN[..PLAN.find("\n[[post]]").unwrap()]
}

/// The same with the relay of the worked example in docs/link.md: a dipole, and a
/// stated loss before it.
pub fn worked_head() -> String {
    let antenna = r#"antenna = { gain = "0 dBd", pattern = "dipole" }"#;
    let text = changed(
        plan_head(),
        &[
            (r#"antenna = { gain = "3 dBd", pattern = "collinear" }"#, antenna),
            (r#"{ type = "RG-213", length = "10 m" }"#, r#"{ loss = "1 dB" }"#),
        ],
    );
    // By hand with the spread over places alone.
    format!("{text}\n[prediction]\nmodel_error = \"0 dB\"\n")
}

/// A text with each of these in it written as the other.
pub fn changed(text: &str, changes: &[(&str, &str)]) -> String {
    changes.iter().fold(text.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    })
}

/// Reads a plan over `terrain.tif` for those who do without its heights: the
/// reader wants the file to be there.
pub fn read_without_terrain(text: &str) -> Plan {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("terrain.tif"), "").unwrap();
    let file = folder.path().join("plan.toml");
    fs::write(&file, text).unwrap();
    read_plan(&file)
}

/// A channel to add to [`PLAN`]: hand-helds among themselves.
pub const SIMPLEX: &str = r#"
[[channel]]
name = "Direct"
kind = "simplex"
frequency = "146.58 MHz"
carried = "hand-held"
"#;

/// A place, in degrees.
pub fn place(latitude: f64, longitude: f64) -> Position {
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
}

/// What [`PLAN`] needs of the terrain.
pub fn plan_extent() -> Extent {
    Extent { south_west: place(46.999, -34.906), north_east: place(47.011, -34.884) }
}

/// Heights of rolling ground, metres: some links over it work and some do not.
pub fn rolling(column: usize, row: usize) -> f32 {
    40.0 + 25.0 * (column as f32 / 9.0).sin() * (row as f32 / 14.0).cos()
}

/// A folder with [`PLAN`] over rolling ground, [`SIMPLEX`] added, and a log of
/// two rows, on which every verb can work.
pub fn plan_and_log() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), rolling);
    fs::write(folder.path().join("plan.toml"), format!("{PLAN}{SIMPLEX}")).unwrap();
    let log = "time,post,heard\n17:00,Aid 1,yes\n17:05,Aid 2,no\n";
    fs::write(folder.path().join("log.csv"), log).unwrap();
    folder
}

/// A raster that holds the whole of [`PLAN`] with room to spare: 150 x 150
/// cells of 30 m.
pub fn write_plan_raster(path: &Path, height: impl Fn(usize, usize) -> f32) {
    // 47.005 N 34.893 W is 356 000 E 5 207 500 N of zone 25 N to a few hundred metres.
    write_raster(
        path,
        (150, 150),
        utm_transform(353_800.0, 5_209_800.0, 30.0),
        Some(UTM_25N),
        Some(-9999.0),
        height,
    );
}

/// Runs the program in `folder`.
pub fn perchline(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(arguments)
        .current_dir(folder)
        .env("SOURCE_DATE_EPOCH", "1790000000")
        .output()
        .unwrap()
}

/// The same with everything that there is to print.
pub fn perchline_long(folder: &Path, arguments: &[&str]) -> Output {
    perchline(folder, &[arguments, &["--long"]].concat())
}

/// What the program said on standard error.
pub fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// What the program printed, each sentence in one line again: lines end at 80 columns,
/// and what is left of a sentence goes on set in by two more.
pub fn printed(output: &Output) -> String {
    let mut text = String::new();
    let mut before = "";
    let mut lead = None;
    for line in as_printed(output).lines() {
        let indent = |line: &str| line.len() - line.trim_start().len();
        let next = line.split_whitespace().next().unwrap_or_default();
        let from = lead.unwrap_or_else(|| indent(before));
        let is_row = before.trim().contains("  ") || before.trim_start().starts_with('─');
        let goes_on = !before.is_empty()
            && !is_row
            && !next.is_empty()
            && indent(line) == from + 2
            && columns(before) + 1 + columns(next) > COLUMNS;
        if goes_on {
            text.pop();
            text += &format!(" {}\n", line.trim_start());
            lead = Some(from);
        } else {
            text += &format!("{line}\n");
            lead = None;
        }
        before = line;
    }
    text
}

/// What the program printed, line by line as it stands.
pub fn as_printed(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}
