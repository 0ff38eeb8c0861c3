//! Line of sight over real hills, against `gdal_viewshed` (GDAL's own program).
//!
//! The hills are a public-domain USGS tile that the matplotlib wheel on PyPI
//! carries; `tests/fetch-real-elevation.sh` puts it into target/test-data.

use std::path::{Path, PathBuf};
use std::process::Command;

use gdal::raster::{Buffer, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use gdal::{Dataset, DriverManager};
use ndarray::Array2;
use perchline::plan::{HeightUnit, TerrainInputs};
use perchline::propagation::clearance::{clearance, line_of_sight};
use perchline::propagation::{self, Profile};
use perchline::terrain::{Extent, Grid, Terrain};
use perchline::units::{Degrees, Megahertz, Metres, Position};
use rayon::prelude::*;
use tempfile::TempDir;

use crate::support::real::ridges;
use crate::support::wanted::{Wanted, has_gdal};

/// Heights above ground of the observer and of every target, metres.
const OBSERVER: f64 = 12.0;
const TARGET: f64 = 2.0;

/// Any frequency: line of sight does not depend on it.
const FREQUENCY: Megahertz = Megahertz::new(147.0);

fn data() -> Option<PathBuf> {
    let file =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("target/test-data/jacksboro_fault_dem.npz");
    if !file.exists() {
        Wanted::Elevation.is_missing(&format!("there is no {}", file.display()));
        return None;
    }
    has_gdal(&["gdal_viewshed", "gdalwarp"]).then_some(file)
}

/// The tile as a GeoTIFF in degrees.
fn geotiff(npz: &Path, file: &Path) {
    let (heights, transform) = ridges(npz);
    assert_eq!(heights.dim(), (344, 403));
    let driver = DriverManager::get_driver_by_name("GTiff").unwrap();
    let options = RasterCreationOptions::default();
    let size = (403, 344);
    let mut dataset = driver
        .create_with_band_type_with_options::<i16, _>(file, size.0, size.1, 1, &options)
        .unwrap();
    // NAD 83, as USGS elevation is, within a metre or two of WGS 84.
    dataset.set_spatial_ref(&SpatialRef::from_epsg(4269).unwrap()).unwrap();
    dataset.set_geo_transform(&transform).unwrap();
    let mut buffer = Buffer::new(size, heights.iter().copied().collect());
    dataset.rasterband(1).unwrap().write((0, 0), size, &mut buffer).unwrap();
    dataset.close().unwrap();
}

fn run(program: &str, arguments: &[&str], files: [&Path; 2]) {
    let out = Command::new(program).args(arguments).args(files).output().unwrap();
    assert!(out.status.success(), "{program}: {}", String::from_utf8_lossy(&out.stderr));
}

fn open(file: &Path) -> Terrain {
    let at = |latitude, longitude| {
        Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
    };
    let inputs = TerrainInputs {
        files: vec![file.to_owned()],
        height_unit: Some(HeightUnit::Metre),
        crs: None,
        fill_gaps: false,
        cell: None,
    };
    let extent = Extent { south_west: at(36.0, -85.0), north_east: at(37.0, -84.0) };
    Terrain::open(&inputs, extent).unwrap()
}

/// What `gdal_viewshed` sees from a cell, k = 4/3 (curvature coefficient 3/4).
fn gdal_view(dem: &Path, terrain: &Terrain, cell: (usize, usize), folder: &Path) -> Array2<bool> {
    let [left, width, _, top, _, height] = terrain.grid().transform();
    let x = (left + (cell.0 as f64 + 0.5) * width).to_string();
    let y = (top + (cell.1 as f64 + 0.5) * height).to_string();
    let (oz, tz) = (OBSERVER.to_string(), TARGET.to_string());
    let out = folder.join("seen.tif");
    let arguments =
        ["-q", "-ox", &x, "-oy", &y, "-oz", &oz, "-tz", &tz, "-cc", "0.75", "-vv", "1", "-iv", "0"];
    run("gdal_viewshed", &arguments, [dem, &out]);
    let dataset = Dataset::open(&out).unwrap();
    let seen = dataset.rasterband(1).unwrap().read_band_as::<u8>().unwrap();
    let ((columns, rows), cells) = seen.into_shape_and_vec();
    Array2::from_shape_vec((rows, columns), cells.iter().map(|c| *c == 1).collect()).unwrap()
}

/// What one cell comes to here.
#[derive(Clone, Copy)]
struct View {
    seen: bool,
    /// How far the worst point stays under the line, in metres; negative if blocked.
    clear: f64,
}

/// The same with profiles and [`line_of_sight`].
fn our_view(terrain: &Terrain, cell: (usize, usize)) -> Array2<View> {
    let grid: &Grid = terrain.grid();
    let centre = |column: usize| column as f64 + 0.5;
    let from = grid.projector().unwrap().to_position(centre(cell.0), centre(cell.1)).unwrap();
    let rows: Vec<Vec<View>> = (0..grid.rows())
        .into_par_iter()
        .map(|row| {
            let mut tracer = terrain.tracer(from).unwrap();
            let projector = grid.projector().unwrap();
            let mut profile = Profile::default();
            let view = |column: usize| {
                if (column, row) == cell {
                    return View { seen: true, clear: OBSERVER };
                }
                let to = projector.to_position(centre(column), centre(row)).unwrap();
                tracer.trace(to, &mut profile).unwrap();
                let path = propagation::Path::new(
                    &profile,
                    Metres::new(OBSERVER),
                    Metres::new(TARGET),
                    FREQUENCY,
                );
                let clear = clearance(&path).map_or(TARGET, |c| c.worst_clearance.value());
                View { seen: line_of_sight(&path), clear }
            };
            (0..grid.columns()).map(view).collect()
        })
        .collect();
    Array2::from_shape_vec((grid.rows(), grid.columns()), rows.concat()).unwrap()
}

/// Whether a cell of `grid` sees the observer's over another raster of the same ground.
fn seen_from(
    over: &Terrain,
    grid: &Terrain,
    observer: (usize, usize),
    (row, column): (usize, usize),
) -> bool {
    let projector = grid.grid().projector().unwrap();
    let place = |column: usize, row: usize| {
        projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap()
    };
    let profile = over.profile(place(observer.0, observer.1), place(column, row)).unwrap();
    let (up, target) = (Metres::new(OBSERVER), Metres::new(TARGET));
    line_of_sight(&propagation::Path::new(&profile, up, target, FREQUENCY))
}

/// Whether any cell around sees what this one does not, or the other way.
fn at_a_boundary(view: &Array2<View>, (row, column): (usize, usize)) -> bool {
    let here = view[(row, column)].seen;
    let around = |i: usize| i.saturating_sub(1)..=i + 1;
    around(row)
        .flat_map(|r| around(column).map(move |c| (r, c)))
        .filter_map(|cell| view.get(cell))
        .any(|v| v.seen != here)
}

#[test]
fn line_of_sight_agrees_with_gdal_viewshed() {
    let Some(npz) = data() else { return };
    let dir = TempDir::new().unwrap();
    let (degrees, dem) = (dir.path().join("degrees.tif"), dir.path().join("utm.tif"));
    geotiff(&npz, &degrees);
    let warp =
        "-q -t_srs EPSG:32616 -tr 80 80 -te 732000 4037640 760800 4068200 -r bilinear -ot Float32";
    run("gdalwarp", &warp.split(' ').collect::<Vec<_>>(), [&degrees, &dem]);
    let terrain = open(&dem);
    assert_eq!(terrain.heights().dim(), (382, 360));
    assert_eq!(terrain.gap_cells(), 0);

    // The same ground in cells a quarter as wide, to judge where the two differ: a
    // profile on it has four points where ours has one.
    let dense = dir.path().join("dense.tif");
    run("gdalwarp", &"-q -tr 20 20 -r bilinear".split(' ').collect::<Vec<_>>(), [&dem, &dense]);
    let dense = open(&dense);

    // From the highest summit, from a middling flank and from a valley floor.
    let highest = terrain
        .heights()
        .indexed_iter()
        .max_by(|a, b| a.1.total_cmp(b.1))
        .map(|((row, column), _)| (column, row))
        .unwrap();
    let (mut cells, mut agree, mut either, mut both) = (0usize, 0usize, 0usize, 0usize);
    let (mut at_boundary, mut near, mut confirmed, mut apart) = (0usize, 0usize, 0usize, vec![]);
    for observer in [highest, (120, 250), (250, 120)] {
        let reference = gdal_view(&dem, &terrain, observer, dir.path());
        let ours = our_view(&terrain, observer);
        assert_eq!(reference.dim(), ours.dim());
        for (cell, view) in ours.indexed_iter() {
            cells += 1;
            either += usize::from(view.seen || reference[cell]);
            both += usize::from(view.seen && reference[cell]);
            if view.seen == reference[cell] {
                agree += 1;
                continue;
            }
            at_boundary += usize::from(at_a_boundary(&ours, cell));
            near += usize::from(view.clear.abs() < 5.0);
            confirmed += usize::from(seen_from(&dense, &terrain, observer, cell) == view.seen);
            apart.push(view.clear.abs());
        }
    }
    let percent = |part: usize, whole: usize| 100.0 * part as f64 / whole as f64;
    let rest = apart.len();
    apart.sort_by(f64::total_cmp);
    let share = percent(agree, cells);
    let overlap = percent(both, either);
    let confirmed = percent(confirmed, rest);
    println!("figure viewshed_agreement_percent {share:.2} %");
    println!("figure viewshed_seen_by_both_of_either_percent {overlap:.1} %");
    println!("figure viewshed_rest_confirmed_by_denser_profile_percent {confirmed:.1} %");
    println!("figure viewshed_rest_within_5_m_percent {:.1} %", percent(near, rest));
    println!("figure viewshed_rest_at_boundary_percent {:.1} %", percent(at_boundary, rest));
    println!("figure viewshed_rest_median_m {:.2} m", apart[rest / 2]);
    // gdal_viewshed carries the horizon from cell to cell and interpolates it each time (Wang,
    // Robinson and White 2000, as its documentation says); profiles look at the ground itself.
    // So the two part where it is a near thing, which is under 1 % of the cells here. Where
    // they part, a denser profile must side with ours far more often than not.
    assert!(share > 98.5, "{share} %");
    assert!(overlap > 90.0, "{overlap} %");
    assert!(confirmed > 70.0, "{confirmed} %");
}
