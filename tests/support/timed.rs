//! What benches time against: made-up land, written and read as files, and another
//! program's sweep of it.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

use ndarray::Array2;
use perchline::terrain::{Grid, Terrain, write_geotiff};

use super::land::{noise, scatter};

/// Side of a cell in metres.
const CELL: f64 = 30.0;

/// Where the land lies.
pub const TRANSFORM: [f64; 6] = [350_000.0, CELL, 0.0, 5_250_000.0, 0.0, -CELL];

/// The least of `runs` times in seconds.
pub fn seconds(runs: u32, mut work: impl FnMut()) -> f64 {
    (0..runs)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Height above sea level of a cell of hills of this height whose roughness falls by
/// `fall` from scale to scale, metres.
pub fn hills(column: usize, row: usize, amplitude: f64, fall: f64) -> f64 {
    let (x, y) = (column as f64, row as f64);
    let hill = |k: i32| amplitude * fall.powi(k) * noise(x, y, 200.0 / 2f64.powi(k), 7 + k as u64);
    400.0 + (0..7).map(hill).sum::<f64>()
}

/// Such hills with blocks of houses and streets between them if asked for.
pub fn land(side: usize, amplitude: f64, fall: f64, houses: bool) -> Terrain {
    let grid = Grid::new(side, side, TRANSFORM, "EPSG:32625").expect("a grid");
    let heights = Array2::from_shape_fn((side, side), |(row, column)| {
        let mut height = hills(column, row, amplitude, fall);
        if houses && column % 6 < 4 && row % 5 < 3 {
            height += 16.0 + 10.0 * scatter(column as i64 / 6, row as i64 / 5, 3);
        }
        height as f32
    });
    Terrain::from_heights(grid, heights).expect("heights that fit the grid")
}

/// The land as a raster of plain rows in `folder`, as the other program reads them
/// fastest; `None` where it is not installed.
pub fn plain_raster(terrain: &Terrain, folder: &Path) -> Option<PathBuf> {
    let (packed, input) = (folder.join("packed.tif"), folder.join("land.tif"));
    write_geotiff(&packed, terrain.grid(), terrain.heights(), "height, m", &[]).expect("a raster");
    let unpack = Command::new("gdal_translate").arg("-q").args([&packed, &input]).status();
    unpack.is_ok_and(|status| status.success()).then_some(input)
}

/// Seconds of gdal_viewshed, the whole process, on the same raster; `None`
/// where it is not installed.
pub fn viewshed_seconds(terrain: &Terrain, input: &Path) -> Option<f64> {
    let output = input.with_file_name("seen.tif");
    let [x, width, _, y, _, height] = terrain.grid().transform();
    let centre = terrain.grid().columns() as f64 / 2.0 + 0.3;
    let (ox, oy) = (x + centre * width, y + centre * height);
    let run = || {
        Command::new("gdal_viewshed")
            .args(["-q", "-cc", "0.75", "-oz", "17", "-tz", "1.4"])
            .args(["-ox", &ox.to_string(), "-oy", &oy.to_string()])
            .args([input, &output])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .is_ok_and(|status| status.success())
    };
    run().then(|| {
        seconds(3, || {
            run();
        })
    })
}
