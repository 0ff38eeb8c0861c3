//! Elevation files as they come: formats, units, coordinate systems, voids, and broken ones.

use crate::support;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use gdal::Dataset;
use gdal::raster::{Buffer, GdalType, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use geo::{Geodesic, InterpolatePoint};
use perchline::plan::{HeightUnit, TerrainInputs};
use perchline::terrain::{Extent, PlaceError, Terrain, TerrainError};
use perchline::units::{Degrees, Metres, Position};
use tempfile::TempDir;

fn at(latitude: f64, longitude: f64) -> Position {
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
}

fn extent(south: f64, west: f64, north: f64, east: f64) -> Extent {
    Extent { south_west: at(south, west), north_east: at(north, east) }
}

fn inputs(files: &[&Path]) -> TerrainInputs {
    TerrainInputs {
        files: files.iter().map(|f| f.to_path_buf()).collect(),
        height_unit: None,
        crs: None,
        fill_gaps: false,
        cell: None,
    }
}

/// A plane that is easy to check: metres above sea level at a place.
fn plane(latitude: f64, longitude: f64) -> f64 {
    300.0 + 2000.0 * (latitude - 47.0) + 1000.0 * (longitude + 35.0)
}

/// Where the tests' rasters lie: a square of 0.1 degrees.
const SOUTH: f64 = 46.95;
const WEST: f64 = -35.05;
const SIDE: f64 = 0.1;
const CELLS: usize = 200;

/// What a test writes besides the plane.
#[derive(Clone, Copy)]
struct Made<'a> {
    driver: &'a str,
    crs: Option<u32>,
    transform: [f64; 6],
    size: (usize, usize),
    nodata: Option<f64>,
}

const GEOGRAPHIC: Made<'static> = Made {
    driver: "GTiff",
    crs: Some(4326),
    transform: [WEST, SIDE / CELLS as f64, 0.0, SOUTH + SIDE, 0.0, -SIDE / CELLS as f64],
    size: (CELLS, CELLS),
    nodata: None,
};

/// UTM zone 25 (central meridian 33 W), about the same square.
const UTM: Made<'static> = Made {
    driver: "GTiff",
    crs: Some(32625),
    transform: [342_000.0, 40.0, 0.0, 5_213_000.0, 0.0, -40.0],
    size: (240, 320),
    nodata: None,
};

impl Made<'_> {
    fn write<T: GdalType + Copy>(&self, file: &Path, value: impl Fn(usize, usize) -> T) -> PathBuf {
        let driver = support::driver("GTiff");
        let made = file.with_extension("made.tif");
        let options = RasterCreationOptions::from_iter(["COMPRESS=NONE"]);
        let (columns, rows) = self.size;
        let mut dataset = driver
            .create_with_band_type_with_options::<T, _>(&made, columns, rows, 1, &options)
            .unwrap();
        if let Some(code) = self.crs {
            dataset.set_spatial_ref(&SpatialRef::from_epsg(code).unwrap()).unwrap();
        }
        dataset.set_geo_transform(&self.transform).unwrap();
        {
            let mut band = dataset.rasterband(1).unwrap();
            band.set_no_data_value(self.nodata).unwrap();
            let values =
                (0..rows * columns).map(|i| value(i / columns, i % columns)).collect::<Vec<T>>();
            band.write((0, 0), self.size, &mut Buffer::new(self.size, values)).unwrap();
        }
        dataset.flush_cache().unwrap();
        if self.driver == "GTiff" {
            dataset.close().unwrap();
            fs::rename(&made, file).unwrap();
        } else {
            let driver = support::driver(self.driver);
            dataset.create_copy(&driver, file, &RasterCreationOptions::default()).unwrap();
        }
        file.to_owned()
    }

    /// The plane at the cells' centres, through the raster's own coordinates.
    fn write_plane(&self, file: &Path, metres_per_unit: f64) -> PathBuf {
        let grid = perchline::terrain::Grid::new(
            self.size.0,
            self.size.1,
            self.transform,
            &format!("EPSG:{}", self.crs.unwrap_or(4326)),
        )
        .unwrap();
        let projector = grid.projector().unwrap();
        self.write::<f32>(file, |row, column| {
            let centre = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
            let metres = plane(centre.latitude().value(), centre.longitude().value());
            (metres / metres_per_unit) as f32
        })
    }
}

/// An extent well inside every raster of the tests.
fn inner() -> Extent {
    extent(46.97, -35.02, 47.02, -34.98)
}

/// The greatest departure from the plane at a lattice of places.
fn worst_error(terrain: &Terrain, extent: Extent) -> f64 {
    let (low, high) = (extent.south_west, extent.north_east);
    let mut worst = 0f64;
    for i in 0..=10 {
        for j in 0..=10 {
            let mix = |a: Degrees, b: Degrees, t: i32| {
                a.value() + (b.value() - a.value()) * f64::from(t) / 10.0
            };
            let (latitude, longitude) = (
                mix(low.latitude(), high.latitude(), i),
                mix(low.longitude(), high.longitude(), j),
            );
            let ground = terrain.ground(at(latitude, longitude)).unwrap().value();
            worst = worst.max((ground - plane(latitude, longitude)).abs());
        }
    }
    worst
}

fn remarks(terrain: &Terrain) -> String {
    terrain.remarks().iter().map(|r| format!("{}: {}\n", r.about, r.text)).collect()
}

#[test]
fn geotiff_in_degrees_and_in_metres_give_the_same_ground() {
    let dir = TempDir::new().unwrap();
    for (made, name) in [(GEOGRAPHIC, "degrees.tif"), (UTM, "utm.tif")] {
        let file = made.write_plane(&dir.path().join(name), 1.0);
        let terrain = Terrain::open(&inputs(&[&file]), inner()).unwrap();
        // f32 heights of some 300 m are rounded to 15 micrometres; bilinear is exact on a
        // plane, and a plane in degrees bends by millimetres in UTM.
        let worst = worst_error(&terrain, inner());
        assert!(worst < 0.01, "{name}: {worst} m");
        assert_eq!(terrain.gap_cells(), 0);
        assert_eq!(terrain.files().len(), 1);
        assert!(remarks(&terrain).contains("taken as metres"), "{}", remarks(&terrain));
        // Only the window was read.
        assert!(terrain.grid().columns() < made.size.0 && terrain.grid().rows() < made.size.1);
    }
}

#[test]
fn files_whose_heights_lie_apart_where_they_overlap_are_told() {
    let dir = TempDir::new().unwrap();
    let first = GEOGRAPHIC.write_plane(&dir.path().join("a.tif"), 1.0);
    // The same plane 10 m higher, as over another datum: on the same cells, in
    // the window's own size and in a larger one, and on cells of its own.
    let higher = GEOGRAPHIC.write::<f32>(&dir.path().join("b.tif"), |row, column| {
        let centre = |start: f64, step: f64, cell: usize| start + step * (cell as f64 + 0.5);
        let [west, across, _, north, _, down] = GEOGRAPHIC.transform;
        (plane(centre(north, down, row), centre(west, across, column)) + 10.0) as f32
    });
    let own = Made {
        transform: [342_010.0, 20.0, 0.0, 5_213_000.0, 0.0, -20.0],
        size: (480, 640),
        ..UTM
    };
    let as_planned = own.write_plane(&dir.path().join("c.tif"), 1.0);
    // Metres told for feet: three times as high.
    let in_feet = own.write_plane(&dir.path().join("d.tif"), 1.0 / 3.280_84);
    let open = |second: &Path, cell: Option<f64>| {
        let inputs = TerrainInputs { cell: cell.map(Metres::new), ..inputs(&[&first, second]) };
        remarks(&Terrain::open(&inputs, inner()).unwrap())
    };
    for cell in [None, Some(180.0)] {
        let told = open(&higher, cell);
        assert!(told.contains("b.tif: its heights lie 10.0 m above"), "{told}");
        assert!(told.contains("at most 10.0 m"), "{told}");
        assert!(!open(&first, cell).contains("its heights lie"));
        assert!(!open(&as_planned, cell).contains("its heights lie"));
        assert!(open(&in_feet, cell).contains("d.tif: its heights lie 6"));
    }
    // Finer cells after coarse ones lose what they hold between those.
    assert!(open(&as_planned, None).contains("c.tif: its cells are not those of the first file"));
    assert!(open(&as_planned, None).contains("name this file first to keep them"));
    assert!(!open(&higher, None).contains("name this file first"));
}

#[test]
fn the_hash_is_that_of_the_file() {
    let dir = TempDir::new().unwrap();
    let file = GEOGRAPHIC.write_plane(&dir.path().join("a.tif"), 1.0);
    let terrain = Terrain::open(&inputs(&[&file]), inner()).unwrap();
    let said = std::process::Command::new("sha256sum").arg(&file).output().unwrap();
    let said = String::from_utf8(said.stdout).unwrap();
    assert_eq!(Some(terrain.files()[0].sha256.as_str()), said.split_whitespace().next());
}

#[test]
fn ascii_grid_needs_its_coordinate_system_from_the_plan() {
    let dir = TempDir::new().unwrap();
    let made = Made { driver: "AAIGrid", ..GEOGRAPHIC };
    let file = made.write_plane(&dir.path().join("grid.asc"), 1.0);
    fs::remove_file(dir.path().join("grid.prj")).unwrap();
    let mut plan = inputs(&[&file]);
    let error = Terrain::open(&plan, inner()).unwrap_err();
    assert!(matches!(error, TerrainError::NoCrs { .. }), "{error}");
    assert!(error.to_string().contains("grid.asc") && error.to_string().contains("crs ="));
    plan.crs = Some("EPSG:4326".to_owned());
    let terrain = Terrain::open(&plan, inner()).unwrap();
    // The format writes numbers with a few digits only.
    assert!(worst_error(&terrain, inner()) < 0.05);
    assert!(remarks(&terrain).contains("no coordinate system of its own"));
}

#[test]
fn a_coordinate_system_that_contradicts_the_plan_is_an_error() {
    let dir = TempDir::new().unwrap();
    let file = UTM.write_plane(&dir.path().join("utm.tif"), 1.0);
    let mut plan = inputs(&[&file]);
    plan.crs = Some("EPSG:32625".to_owned());
    assert!(Terrain::open(&plan, inner()).is_ok());
    plan.crs = Some("EPSG:32626".to_owned());
    let error = Terrain::open(&plan, inner()).unwrap_err();
    assert!(matches!(error, TerrainError::CrsConflict { .. }), "{error}");
    plan.crs = Some("nonsense".to_owned());
    let error = Terrain::open(&plan, inner()).unwrap_err();
    assert!(matches!(error, TerrainError::Crs { .. }), "{error}");
    assert!(error.to_string().contains("nonsense"));
}

/// An SRTM tile of one degree at three arc seconds: big-endian i16, no header.
fn write_hgt(file: &Path, value: impl Fn(usize, usize) -> i16) {
    let bytes: Vec<u8> =
        (0..1201 * 1201).flat_map(|i| value(i / 1201, i % 1201).to_be_bytes()).collect();
    fs::write(file, bytes).unwrap();
}

#[test]
fn srtm_tiles_lie_where_their_name_says_and_their_voids_are_gaps() {
    let dir = TempDir::new().unwrap();
    let file = dir.path().join("N46W036.hgt");
    // Row 0 is at 47 N, column 0 at 36 W; samples are at whole multiples of 3 seconds.
    write_hgt(&file, |row, column| {
        if (600..603).contains(&row) && (600..604).contains(&column) {
            -32768
        } else {
            (row + column) as i16
        }
    });
    let wanted = extent(46.4, -35.6, 46.6, -35.4);
    let terrain = Terrain::open(&inputs(&[&file]), wanted).unwrap();
    let ground = terrain.ground(at(46.55, -35.55)).unwrap().value();
    // 0.45 degrees south of 47 N is row 540, 0.45 degrees east of 36 W is column 540.
    assert!((ground - 1080.0).abs() < 1e-3, "{ground}");
    assert_eq!(terrain.gap_cells(), 12);
    assert!(remarks(&terrain).contains("12 of "), "{}", remarks(&terrain));
    assert!(!remarks(&terrain).contains("taken as metres"), "HGT states its unit");
    let error = terrain.ground(at(46.4992, -35.4992)).unwrap_err();
    assert!(matches!(error, PlaceError::Gap { .. }), "{error}");
    let error = terrain.profile(at(46.55, -35.55), at(46.45, -35.45)).unwrap_err();
    assert!(matches!(error, PlaceError::Gap { .. }), "{error}");
}

#[test]
fn gaps_are_filled_only_when_asked_and_never_silently() {
    let dir = TempDir::new().unwrap();
    let file = dir.path().join("N46W036.hgt");
    write_hgt(&file, |row, column| if row == 600 && column == 600 { -32768 } else { 250 });
    let mut plan = inputs(&[&file]);
    plan.fill_gaps = true;
    let wanted = extent(46.45, -35.55, 46.55, -35.45);
    let terrain = Terrain::open(&plan, wanted).unwrap();
    assert_eq!(terrain.gap_cells(), 0);
    assert_eq!(terrain.ground(at(46.5, -35.5)).unwrap().value(), 250.0);
    assert!(remarks(&terrain).contains("1 of them were filled"), "{}", remarks(&terrain));
}

#[test]
fn a_void_of_minus_32768_counts_even_if_undeclared() {
    let dir = TempDir::new().unwrap();
    let file = GEOGRAPHIC.write::<i16>(&dir.path().join("a.tif"), |row, column| {
        if row == 100 && column == 100 { -32768 } else { 10 }
    });
    let terrain = Terrain::open(&inputs(&[&file]), inner()).unwrap();
    assert_eq!(terrain.gap_cells(), 1);
    assert!(remarks(&terrain).contains("does not declare it"), "{}", remarks(&terrain));
}

#[test]
fn nan_and_declared_nodata_are_gaps() {
    let dir = TempDir::new().unwrap();
    let made = Made { nodata: Some(-9999.0), ..GEOGRAPHIC };
    let file = made.write::<f32>(&dir.path().join("a.tif"), |row, column| match (row, column) {
        (100, 100) => f32::NAN,
        (100, 101) => -9999.0,
        _ => 10.0,
    });
    assert_eq!(Terrain::open(&inputs(&[&file]), inner()).unwrap().gap_cells(), 2);
}

#[test]
fn an_undeclared_void_value_or_a_wrong_band_is_refused() {
    let dir = TempDir::new().unwrap();
    for wrong in [-9999.0, 29_000.0] {
        let file = GEOGRAPHIC.write::<f32>(&dir.path().join("a.tif"), |row, column| {
            if row == 100 && column == 100 { wrong } else { 10.0 }
        });
        let error = Terrain::open(&inputs(&[&file]), inner()).unwrap_err();
        assert!(matches!(error, TerrainError::Implausible { cells: 1, .. }), "{error}");
        assert!(error.to_string().contains("a.tif"));
    }
}

#[test]
fn all_nodata_is_an_error() {
    let dir = TempDir::new().unwrap();
    let made = Made { nodata: Some(0.0), ..GEOGRAPHIC };
    let file = made.write::<i16>(&dir.path().join("empty.tif"), |_, _| 0);
    let error = Terrain::open(&inputs(&[&file]), inner()).unwrap_err();
    assert!(matches!(error, TerrainError::AllVoid { .. }), "{error}");
    assert!(error.to_string().contains("empty.tif"));
}

#[test]
fn dted_is_read() {
    let dir = TempDir::new().unwrap();
    // DTED level 1: cells of 3 seconds centred on whole multiples, one degree, 1201 x 1201.
    let cell = 1.0 / 1200.0;
    let made = Made {
        driver: "DTED",
        crs: Some(4326),
        transform: [-36.0 - cell / 2.0, cell, 0.0, 47.0 + cell / 2.0, 0.0, -cell],
        size: (1201, 1201),
        nodata: None,
    };
    let file = made.write::<i16>(&dir.path().join("n46.dt1"), |row, column| (row + column) as i16);
    let terrain = Terrain::open(&inputs(&[&file]), extent(46.4, -35.6, 46.6, -35.4)).unwrap();
    let ground = terrain.ground(at(46.55, -35.55)).unwrap().value();
    assert!((ground - 1080.0).abs() < 1e-3, "{ground}");
}

#[test]
fn feet_become_metres_and_a_contradiction_is_an_error() {
    let dir = TempDir::new().unwrap();
    let file = GEOGRAPHIC.write_plane(&dir.path().join("feet.tif"), 0.3048);
    let mut plan = inputs(&[&file]);
    plan.height_unit = Some(HeightUnit::Foot);
    let terrain = Terrain::open(&plan, inner()).unwrap();
    assert!(worst_error(&terrain, inner()) < 0.01);
    assert!(!remarks(&terrain).contains("taken as metres"));

    // The same file through a VRT that states its unit.
    let vrt = |unit: &str| {
        let file = dir.path().join("unit.vrt");
        fs::write(&file, vrt_text("feet.tif", CELLS, CELLS, GEOGRAPHIC.transform, unit)).unwrap();
        file
    };
    let stated = vrt("<UnitType>ft</UnitType>");
    let terrain = Terrain::open(&inputs(&[&stated]), inner()).unwrap();
    assert!(worst_error(&terrain, inner()) < 0.01);
    let mut plan = inputs(&[&stated]);
    plan.height_unit = Some(HeightUnit::Metre);
    let error = Terrain::open(&plan, inner()).unwrap_err();
    assert!(matches!(error, TerrainError::UnitConflict { .. }), "{error}");
    let odd = vrt("<UnitType>fathom</UnitType>");
    let error = Terrain::open(&inputs(&[&odd]), inner()).unwrap_err();
    assert!(matches!(error, TerrainError::UnknownUnit { .. }), "{error}");
    assert!(error.to_string().contains("fathom"));
}

#[test]
fn a_band_scale_and_offset_are_applied() {
    let dir = TempDir::new().unwrap();
    GEOGRAPHIC.write::<i16>(&dir.path().join("tenths.tif"), |_, _| 2500);
    let file = dir.path().join("scaled.vrt");
    let tags = "<UnitType>m</UnitType><Offset>7</Offset><Scale>0.1</Scale>";
    fs::write(&file, vrt_text("tenths.tif", CELLS, CELLS, GEOGRAPHIC.transform, tags)).unwrap();
    let terrain = Terrain::open(&inputs(&[&file]), inner()).unwrap();
    let ground = terrain.ground(at(47.0, -35.0)).unwrap().value();
    assert!((ground - 257.0).abs() < 1e-4, "{ground}");
    assert_eq!(remarks(&terrain), "");
}

/// A virtual raster with one source laid at its first cell.
fn vrt_text(
    source: &str,
    columns: usize,
    rows: usize,
    transform: [f64; 6],
    band_tags: &str,
) -> String {
    let numbers: Vec<_> = transform.iter().map(f64::to_string).collect();
    format!(
        r#"<VRTDataset rasterXSize="{columns}" rasterYSize="{rows}">
  <SRS>EPSG:4326</SRS>
  <GeoTransform>{}</GeoTransform>
  <VRTRasterBand dataType="Float32" band="1">{band_tags}
    <SimpleSource>
      <SourceFilename relativeToVRT="1">{source}</SourceFilename><SourceBand>1</SourceBand>
      <SrcRect xOff="0" yOff="0" xSize="{CELLS}" ySize="{CELLS}"/>
      <DstRect xOff="0" yOff="0" xSize="{CELLS}" ySize="{CELLS}"/>
    </SimpleSource>
  </VRTRasterBand>
</VRTDataset>"#,
        numbers.join(", ")
    )
}

#[test]
fn a_vast_virtual_raster_is_read_only_where_needed_and_its_holes_are_gaps() {
    let dir = TempDir::new().unwrap();
    GEOGRAPHIC.write_plane(&dir.path().join("tile.tif"), 1.0);
    let file = dir.path().join("national.vrt");
    let text = vrt_text("tile.tif", 100_000, 100_000, GEOGRAPHIC.transform, "");
    fs::write(&file, text).unwrap();
    let begun = Instant::now();
    let terrain = Terrain::open(&inputs(&[&file]), inner()).unwrap();
    assert!(worst_error(&terrain, inner()) < 0.01);
    // The whole raster would be 40 GB.
    assert!(begun.elapsed() < Duration::from_secs(5), "{:?}", begun.elapsed());

    // East of the tile the VRT refers to nothing; GDAL reads that as 0 m.
    let terrain = Terrain::open(&inputs(&[&file]), extent(46.97, -35.0, 47.02, -34.9)).unwrap();
    let error = terrain.ground(at(47.0, -34.92)).unwrap_err();
    assert!(matches!(error, PlaceError::Gap { .. }), "{error}");
    assert!(terrain.ground(at(47.0, -34.96)).is_ok());
    assert!(remarks(&terrain).contains("covered by none"), "{}", remarks(&terrain));
}

#[test]
fn a_window_that_does_not_fit_is_refused_with_its_size() {
    let dir = TempDir::new().unwrap();
    GEOGRAPHIC.write_plane(&dir.path().join("tile.tif"), 1.0);
    let file = dir.path().join("national.vrt");
    fs::write(&file, vrt_text("tile.tif", 100_000, 100_000, GEOGRAPHIC.transform, "")).unwrap();
    let error = Terrain::open(&inputs(&[&file]), extent(30.0, -35.0, 47.0, -20.0)).unwrap_err();
    assert!(matches!(error, TerrainError::TooLarge { .. }), "{error}");
    let text = error.to_string();
    assert!(text.contains("margin") && text.contains("GB"), "{text}");
    // What it says would fit does, as far as cells go: then there is too much to read.
    let cell: f64 =
        text.split("cell = \"").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    let larger = TerrainInputs { cell: Some(Metres::new(cell)), ..inputs(&[&file]) };
    let error = Terrain::open(&larger, extent(30.0, -35.0, 47.0, -20.0)).err();
    assert!(!matches!(error, Some(TerrainError::TooLarge { .. })), "{error:?}");
}

/// The mean of a plane over a square is its value in the middle.
#[test]
fn larger_cells_have_the_mean_of_the_files_cells() {
    let dir = TempDir::new().unwrap();
    let larger = |files: &[&Path], cell: f64| {
        let inputs = TerrainInputs { cell: Some(Metres::new(cell)), ..inputs(files) };
        Terrain::open(&inputs, inner()).unwrap()
    };
    let utm = UTM.write_plane(&dir.path().join("utm.tif"), 1.0);
    let own = Terrain::open(&inputs(&[&utm]), inner()).unwrap();
    let terrain = larger(&[&utm], 160.0);
    let (width, height) = terrain.grid().cell_size().unwrap();
    assert!((width.value() - 160.0).abs() < 0.2 && (height.value() - 160.0).abs() < 0.2);
    assert!(terrain.grid().columns() <= own.grid().columns() / 4 + 5);
    assert!(worst_error(&terrain, inner()) < 0.05, "{}", worst_error(&terrain, inner()));
    assert_eq!(terrain.gap_cells(), 0);
    assert!(remarks(&terrain).contains("mean of 4 x 4"), "{}", remarks(&terrain));
    // Never finer than the file, and never silently another cell.
    assert_eq!(larger(&[&utm], 3.0).grid(), own.grid());
    assert!(remarks(&larger(&[&utm], 3.0)).contains("own cells are the nearest"));
    assert_eq!(larger(&[&utm], 45.0).grid(), own.grid());
    // Another system: its means are brought to the larger cells.
    let degrees = GEOGRAPHIC.write_plane(&dir.path().join("degrees.tif"), 1.0);
    let west = Made { size: (40, 320), ..UTM }.write_plane(&dir.path().join("west.tif"), 1.0);
    let joined = larger(&[&west, &degrees], 160.0);
    assert_eq!(joined.gap_cells(), 0, "{}", remarks(&joined));
    assert!(worst_error(&joined, inner()) < 0.5, "{}", worst_error(&joined, inner()));
    // Tiles whose sizes no larger cell divides join without a seam.
    let [x, dx, _, y, _, dy] = UTM.transform;
    let left = Made { size: (111, 320), ..UTM }.write_plane(&dir.path().join("left.tif"), 1.0);
    let right = Made { size: (129, 320), transform: [x + 111.0 * dx, dx, 0.0, y, 0.0, dy], ..UTM };
    let right = right.write_plane(&dir.path().join("right.tif"), 1.0);
    let tiles = larger(&[&left, &right], 160.0);
    assert_eq!(tiles.gap_cells(), 0, "{}", remarks(&tiles));
    assert!(worst_error(&tiles, inner()) < 0.05, "{}", worst_error(&tiles, inner()));
}

#[test]
fn a_larger_cell_is_a_gap_where_most_of_it_is() {
    let dir = TempDir::new().unwrap();
    let holed = Made { nodata: Some(-9999.0), ..UTM };
    let file = holed.write::<f32>(&dir.path().join("holed.tif"), |row, column| {
        // Of each 4 x 4 cells the first row or the first three are missing.
        let missing = if column < 150 { 1 } else { 3 };
        if row % 4 < missing { -9999.0 } else { 80.0 }
    });
    let inputs = TerrainInputs { cell: Some(Metres::new(160.0)), ..inputs(&[&file]) };
    let terrain = Terrain::open(&inputs, inner()).unwrap();
    let (gaps, cells) = (terrain.gap_cells(), terrain.heights().len());
    assert!(gaps > cells / 4 && gaps < 3 * cells / 4, "{gaps} of {cells}");
    assert!(terrain.heights().iter().all(|h| h.is_nan() || *h == 80.0));
}

#[test]
fn two_tiles_in_different_systems_join_without_a_step() {
    let dir = TempDir::new().unwrap();
    // The western half in UTM, the whole in degrees under it.
    let west = Made { size: (120, 320), ..UTM }.write_plane(&dir.path().join("west.tif"), 1.0);
    let whole = GEOGRAPHIC.write_plane(&dir.path().join("whole.tif"), 1.0);
    for files in [[&west, &whole], [&whole, &west]] {
        let terrain = Terrain::open(&inputs(&[files[0], files[1]]), inner()).unwrap();
        assert_eq!(terrain.gap_cells(), 0);
        let worst = worst_error(&terrain, inner());
        // 3 cm on this slope of 2 % stand for a shift of 1.5 m, a 25th of a cell.
        assert!(worst < 0.04, "{worst} m");
        assert_eq!(terrain.files().len(), 2);
        assert!(remarks(&terrain).contains("resampled"), "{}", remarks(&terrain));
    }
}

/// A height of 100 to 130 m that no neighbour tells.
fn crest(row: usize, column: usize) -> f64 {
    100.0 + (row * 7919 + column * 104_729) as f64 % 31.0
}

/// Bilinear between the centres of `GEOGRAPHIC`, by hand.
fn between_crests(at: Position) -> f64 {
    let step = SIDE / CELLS as f64;
    let x = (at.longitude().value() - WEST) / step - 0.5;
    let y = (SOUTH + SIDE - at.latitude().value()) / step - 0.5;
    let (column, row) = (x.floor() as usize, y.floor() as usize);
    let (right, down) = (x.fract(), y.fract());
    let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
    mix(
        mix(crest(row, column), crest(row, column + 1), right),
        mix(crest(row + 1, column), crest(row + 1, column + 1), right),
        down,
    )
}

/// The terrain as its window's cells alone have it.
fn of_window(terrain: &Terrain) -> Terrain {
    Terrain::from_heights(terrain.grid().clone(), terrain.heights().to_owned()).unwrap()
}

#[test]
fn a_tile_on_another_grid_is_sampled_from_its_own_cells() {
    let dir = TempDir::new().unwrap();
    // The west in UTM, level; rough ground in degrees beyond it.
    let west =
        Made { size: (120, 320), ..UTM }.write::<f32>(&dir.path().join("west.tif"), |_, _| 90.0);
    let whole = GEOGRAPHIC.write::<f32>(&dir.path().join("whole.tif"), |r, c| crest(r, c) as f32);
    let terrain = Terrain::open(&inputs(&[&west, &whole]), inner()).unwrap();
    let resampled = of_window(&terrain);
    let (mut worst, mut lost) = (0f64, 0f64);
    for step in 0..400 {
        let share = f64::from(step) / 400.0;
        let place = at(46.972 + 0.046 * share, -34.999 + 0.018 * (17.0 * share).fract());
        let own = between_crests(place);
        worst = worst.max((terrain.ground(place).unwrap().value() - own).abs());
        lost = lost.max((resampled.ground(place).unwrap().value() - own).abs());
    }
    // The way from grid to grid is known to a hundredth of a cell at worst.
    assert!(worst < 0.05, "{worst} m");
    assert!(lost > 5.0, "the window alone would do: {lost} m");

    // A path has them too, and the level ground before it.
    let (from, to) = (at(46.98, -35.018), at(47.01, -34.982));
    let profile = terrain.profile(from, to).unwrap();
    let length = from.distance(to).value();
    assert_eq!(profile.heights().first(), Some(&90.0));
    let mut beyond = 0;
    for (distance, height) in profile.distances().iter().zip(profile.heights()) {
        let point = Geodesic.point_at_ratio_between(from.point(), to.point(), distance / length);
        let place = Position::from_point(point).unwrap();
        if place.longitude().value() > -35.0 {
            // A path is off by a fiftieth of a cell, and these crests are steep.
            let own = between_crests(place);
            assert!((height - own).abs() < 0.3, "{place:?}: {height} against {own}");
            beyond += 1;
        }
    }
    assert!(beyond > 30, "{beyond} of {}", profile.heights().len());
}

#[test]
fn the_first_tile_wins_and_its_voids_fall_through() {
    let dir = TempDir::new().unwrap();
    let made = Made { nodata: Some(-1.0), ..GEOGRAPHIC };
    let first =
        made.write::<i16>(&dir.path().join("first.tif"), |row, _| if row < 100 { 10 } else { -1 });
    let second = GEOGRAPHIC.write::<i16>(&dir.path().join("second.tif"), |_, _| 20);
    let terrain = Terrain::open(&inputs(&[&first, &second]), inner()).unwrap();
    assert_eq!(terrain.gap_cells(), 0);
    assert_eq!(terrain.ground(at(47.01, -35.0)).unwrap().value(), 10.0);
    assert_eq!(terrain.ground(at(46.99, -35.0)).unwrap().value(), 20.0);
}

#[test]
fn an_upside_down_or_turned_raster_gives_the_same_ground() {
    let dir = TempDir::new().unwrap();
    let step = SIDE / CELLS as f64;
    let upside_down = Made { transform: [WEST, step, 0.0, SOUTH, 0.0, step], ..GEOGRAPHIC };
    // Columns run north, rows run east.
    let turned = Made { transform: [WEST, 0.0, step, SOUTH, step, 0.0], ..GEOGRAPHIC };
    for (made, name) in [(upside_down, "down.tif"), (turned, "turned.tif")] {
        let file = made.write_plane(&dir.path().join(name), 1.0);
        let terrain = Terrain::open(&inputs(&[&file]), inner()).unwrap();
        let worst = worst_error(&terrain, inner());
        assert!(worst < 0.01, "{name}: {worst} m");
    }
}

#[test]
fn a_map_that_reaches_beyond_the_files_is_cut_and_told() {
    let dir = TempDir::new().unwrap();
    let file = GEOGRAPHIC.write_plane(&dir.path().join("a.tif"), 1.0);
    let terrain = Terrain::open(&inputs(&[&file]), extent(46.9, -35.2, 47.0, -35.0)).unwrap();
    assert!(remarks(&terrain).contains("reaches beyond"), "{}", remarks(&terrain));
    let error = terrain.ground(at(46.93, -35.1)).unwrap_err();
    assert!(matches!(error, PlaceError::Outside { swapped: false, .. }), "{error}");
    assert!(error.to_string().contains("46.93000, -35.10000"), "{error}");
}

#[test]
fn swapped_latitude_and_longitude_are_recognised() {
    let dir = TempDir::new().unwrap();
    let file = GEOGRAPHIC.write_plane(&dir.path().join("a.tif"), 1.0);
    let terrain = Terrain::open(&inputs(&[&file]), inner()).unwrap();
    let error = terrain.ground(at(-35.0, 47.0)).unwrap_err();
    assert!(matches!(error, PlaceError::Outside { swapped: true, .. }), "{error}");
    assert!(error.to_string().contains("swapped"), "{error}");
    let error = Terrain::open(&inputs(&[&file]), extent(-35.02, 46.97, -34.98, 47.02)).unwrap_err();
    assert!(matches!(error, TerrainError::Elsewhere { .. }), "{error}");
    assert!(error.to_string().contains("swapped"), "{error}");
    let error = Terrain::open(&inputs(&[&file]), extent(10.0, 10.0, 11.0, 11.0)).unwrap_err();
    assert!(error.to_string().contains("a.tif") && !error.to_string().contains("inside"));
}

#[test]
fn bad_files_are_named_and_told_apart() {
    let dir = TempDir::new().unwrap();
    let open = |file: &Path| Terrain::open(&inputs(&[file]), inner()).unwrap_err();

    let error = Terrain::open(&inputs(&[]), inner()).unwrap_err();
    assert!(matches!(error, TerrainError::NoFiles), "{error}");

    let error = open(&dir.path().join("absent.tif"));
    assert!(matches!(error, TerrainError::Missing { .. }), "{error}");
    assert!(error.to_string().contains("absent.tif"));

    let text = dir.path().join("notes.txt");
    fs::write(&text, "roof keys are with the caretaker").unwrap();
    let error = open(&text);
    assert!(matches!(error, TerrainError::NotARaster { .. }), "{error}");
    assert!(error.to_string().contains("notes.txt"));
    assert!(matches!(open(dir.path()), TerrainError::Folder { .. }));

    let empty = dir.path().join("empty.tif");
    fs::write(&empty, "").unwrap();
    assert!(matches!(open(&empty), TerrainError::NotARaster { .. }));

    let bare = Made { crs: None, ..GEOGRAPHIC };
    let error = open(&bare.write_plane(&dir.path().join("bare.tif"), 1.0));
    assert!(matches!(error, TerrainError::NoCrs { .. }), "{error}");

    let cut = GEOGRAPHIC.write_plane(&dir.path().join("cut.tif"), 1.0);
    let bytes = fs::read(&cut).unwrap();
    fs::write(&cut, &bytes[..bytes.len() / 3]).unwrap();
    let error = open(&cut);
    assert!(matches!(error, TerrainError::Read { .. }), "{error}");
    assert!(error.to_string().contains("cut.tif"));

    let nowhere = dir.path().join("nowhere.tif");
    let (memory, tiff) = (support::driver("MEM"), support::driver("GTiff"));
    let picture = memory.create_with_band_type::<u8, _>("", 4, 4, 1).unwrap();
    picture.create_copy(&tiff, &nowhere, &RasterCreationOptions::default()).unwrap();
    let error = open(&nowhere);
    assert!(matches!(error, TerrainError::NoGeoreference { .. }), "{error}");

    let colours = memory.create_with_band_type::<u8, _>("", 4, 4, 3).unwrap();
    let file = dir.path().join("photo.tif");
    let rgb = RasterCreationOptions::from_iter(["PHOTOMETRIC=RGB"]);
    colours.create_copy(&tiff, &file, &rgb).unwrap();
    let error = open(&file);
    assert!(matches!(error, TerrainError::BadBand { .. }), "{error}");
    // Formats of pictures are not read at all.
    let png = dir.path().join("photo.png");
    image::RgbImage::new(4, 4).save(&png).unwrap();
    let error = open(&png);
    assert!(matches!(error, TerrainError::NotARaster { .. }), "{error}");
    assert!(error.to_string().contains("photo.png"), "{error}");
}

#[test]
fn a_second_band_is_ignored_aloud() {
    let dir = TempDir::new().unwrap();
    let file = dir.path().join("two.tif");
    let driver = support::driver("GTiff");
    let mut dataset = driver.create_with_band_type::<f32, _>(&file, CELLS, CELLS, 2).unwrap();
    dataset.set_spatial_ref(&SpatialRef::from_epsg(4326).unwrap()).unwrap();
    dataset.set_geo_transform(&GEOGRAPHIC.transform).unwrap();
    dataset.rasterband(1).unwrap().fill(5.0, None).unwrap();
    dataset.close().unwrap();
    let terrain = Terrain::open(&inputs(&[&file]), inner()).unwrap();
    assert!(remarks(&terrain).contains("2 bands"), "{}", remarks(&terrain));
}

#[test]
fn remote_files_are_refused_and_a_virtual_raster_cannot_fetch_them() {
    for path in ["/vsicurl/http://127.0.0.1/a.tif", "http://127.0.0.1/a.tif", "WMS:http://x"] {
        let error = Terrain::open(&inputs(&[Path::new(path)]), inner()).unwrap_err();
        assert!(matches!(error, TerrainError::Special { .. }), "{error}");
    }
    // A server that would see any attempt.
    let server = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    server.set_nonblocking(true).unwrap();
    let port = server.local_addr().unwrap().port();
    let dir = TempDir::new().unwrap();
    let file = dir.path().join("remote.vrt");
    for scheme in ["/vsicurl/http", "/vsicurl_streaming/http", "http"] {
        let source = format!("{scheme}://127.0.0.1:{port}/a.tif");
        let text = vrt_text(&source, CELLS, CELLS, GEOGRAPHIC.transform, "")
            .replace("relativeToVRT=\"1\"", "relativeToVRT=\"0\"");
        fs::write(&file, text).unwrap();
        let error = Terrain::open(&inputs(&[&file]), inner()).unwrap_err();
        assert!(error.to_string().contains("remote.vrt"), "{scheme}: {error}");
        let seen = server.accept();
        assert!(seen.is_err(), "{scheme} reached the network");
    }
}

#[test]
fn a_written_margin_raster_reads_back() {
    let dir = TempDir::new().unwrap();
    let file = UTM.write_plane(&dir.path().join("utm.tif"), 1.0);
    let terrain = Terrain::open(&inputs(&[&file]), inner()).unwrap();
    let mut values = terrain.heights().to_owned();
    values[(0, 0)] = f32::NAN;
    let out = dir.path().join("margin.tif");
    perchline::terrain::write_geotiff(
        &out,
        terrain.grid(),
        values.view(),
        "margin in dB",
        &[("SITE", "Hotel <b>")],
    )
    .unwrap();
    let dataset = Dataset::open(&out).unwrap();
    assert_eq!(dataset.geo_transform().unwrap(), terrain.grid().transform());
    assert_eq!(dataset.spatial_ref().unwrap().auth_code().unwrap(), 32625);
    use gdal::Metadata;
    assert_eq!(dataset.metadata_item("SITE", "").as_deref(), Some("Hotel <b>"));
    let band = dataset.rasterband(1).unwrap();
    assert_eq!(band.description().unwrap(), "margin in dB");
    assert!(band.no_data_value().unwrap().is_nan());
    let read = band.read_band_as::<f32>().unwrap();
    assert!(read.data()[0].is_nan());
    assert!(read.data().iter().zip(values.iter()).skip(1).all(|(a, b)| a == b));
    let wrong = ndarray::Array2::zeros((2, 2));
    let error = perchline::terrain::write_geotiff(&out, terrain.grid(), wrong.view(), "", &[]);
    assert!(matches!(error, Err(TerrainError::Shape { .. })));
    let absent = dir.path().join("no/such/folder.tif");
    let error = perchline::terrain::write_geotiff(&absent, terrain.grid(), values.view(), "", &[]);
    assert!(matches!(error, Err(TerrainError::Write { .. })));
}

#[test]
fn the_relief_is_lit_from_the_north_west() {
    let dir = TempDir::new().unwrap();
    // A ridge from south-west to north-east: its north-west flank is the bright one.
    let file = UTM.write::<f32>(&dir.path().join("ridge.tif"), |row, column| {
        700.0 - 4.0 * ((row as f32 - 160.0) + (column as f32 - 120.0)).abs()
    });
    let mut plan = inputs(&[&file]);
    plan.height_unit = Some(HeightUnit::Metre);
    let terrain = Terrain::open(&plan, extent(46.95, -35.05, 47.05, -34.9)).unwrap();
    let shades = terrain.hillshade().unwrap();
    assert_eq!(shades.dim(), terrain.heights().dim());
    let (rows, columns) = shades.dim();
    assert!(shades[(20, 20)] > shades[(rows - 20, columns - 20)] + 20, "{shades}");
}
