//! Files of map tiles. A case begins with a line that is the file's ending.

use std::io::Cursor;
use std::path::{Path, PathBuf};

use gdal::raster::{Buffer, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use gdal::vector::sql::Dialect;
use gdal::{Dataset, DatasetOptions, GdalOpenFlags};
use image::{ImageFormat, Rgba, RgbaImage};
use perchline::terrain::Terrain;
use pmtiles::{Compression, PmTilesWriter, TileCoord, TileId, TileType};

use super::harness::{Reader, Seen, must, scratch, words};
use super::random::Random;
use super::support::{PLAN, open_plan, write_plan_raster};

const TOKENS: &[&str] = &[
    "PMTiles\u{3}",
    "\0\0\0\0\0\0\0\0",
    "\0",
    "\u{1}",
    "\u{2}",
    "\u{4}",
    "\u{7f}",
    "IHDR",
    "IDAT",
    "IEND",
    "tiles",
    "metadata",
    "minzoom",
    "maxzoom",
    "format",
    "png",
    "jpg",
    "pbf",
    "bounds",
    "zoom_level",
    "SQLite format 3\0",
    "pmtiles\n",
    "mbtiles\n",
    "CREATE TABLE",
    "12",
    "30",
    "255",
];

/// Half the width of the plane of web maps in metres (EPSG:3857).
const HALF: f64 = std::f64::consts::PI * 6_378_137.0;

pub fn reader() -> Reader<'static> {
    let (folder, terrain) = ground();
    let with = |head: &str, content: Vec<u8>| [head.as_bytes(), b"\n", &content].concat();
    let seeds = vec![
        with("pmtiles", archive(folder.path(), Compression::None, 13)),
        with("pmtiles", archive(folder.path(), Compression::Gzip, 12)),
        with("mbtiles", database(folder.path(), 100.0)),
    ];
    let files: [PathBuf; 2] = ["case.pmtiles", "case.mbtiles"].map(|name| folder.path().join(name));
    Reader {
        name: "tiles",
        seeds,
        tokens: TOKENS,
        fresh,
        strict: true,
        check: Box::new(move |case| {
            let _keep = &folder;
            check(&files, &terrain, case)
        }),
    }
}

/// Column and row of the tile that holds the middle of the map.
fn tile_of(zoom: u8) -> (u32, u32) {
    let tiles = f64::from(1u32 << zoom);
    let up = 47.0005_f64.to_radians().tan().asinh() / std::f64::consts::PI;
    (((-34.8995 + 180.0) / 360.0 * tiles) as u32, ((1.0 - up) / 2.0 * tiles) as u32)
}

/// A few cells of ground.
fn ground() -> (tempfile::TempDir, Terrain) {
    let folder = scratch();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 20.0);
    let plan = folder.path().join("plan.toml");
    // Places near each other: few cells, whose work is not what is looked at here.
    let text = PLAN
        .replace("47.010, -34.885", "47.001, -34.899")
        .replace("47.004, -34.890", "47.0005, -34.8995")
        .replace("47.008, -34.905", "47.0008, -34.9005");
    std::fs::write(&plan, text).unwrap();
    let (_, terrain) = open_plan(&plan);
    (folder, terrain)
}

/// Tiles around 47 N 34.9 W.
fn archive(folder: &Path, compression: Compression, zoom: u8) -> Vec<u8> {
    let file = folder.join("made.pmtiles");
    let mut writer = PmTilesWriter::new(TileType::Png)
        .min_zoom(zoom)
        .max_zoom(zoom)
        .internal_compression(compression)
        .create(std::fs::File::create(&file).unwrap())
        .unwrap();
    let (column, row) = tile_of(zoom);
    let mut all: Vec<TileCoord> = (row - 1..=row + 1)
        .flat_map(|r| (column - 1..=column + 1).map(move |c| (c, r)))
        .map(|(c, r)| TileCoord::new(zoom, c, r).unwrap())
        .collect();
    all.sort_by_key(|at| TileId::from(*at).value());
    for at in all {
        let shade = (at.x() * 37 + at.y() * 11) as u8;
        let mut bytes = Cursor::new(Vec::new());
        RgbaImage::from_pixel(16, 16, Rgba([shade, 40, 200, 255]))
            .write_to(&mut bytes, ImageFormat::Png)
            .unwrap();
        writer.add_tile(at, bytes.get_ref()).unwrap();
    }
    writer.finalize().unwrap();
    std::fs::read(file).unwrap()
}

/// The same by GDAL's own writer.
fn database(folder: &Path, pixel: f64) -> Vec<u8> {
    let file = folder.join("made.mbtiles");
    let x = -34.8995_f64 / 180.0 * HALF;
    let y = 47.0005_f64.to_radians().tan().asinh() / std::f64::consts::PI * HALF;
    let memory = super::support::driver("MEM");
    let mut source = memory.create_with_band_type::<u8, _>("", 64, 64, 3).unwrap();
    source.set_spatial_ref(&SpatialRef::from_epsg(3857).unwrap()).unwrap();
    source
        .set_geo_transform(&[x - 30.0 * pixel, pixel, 0.0, y + 30.0 * pixel, 0.0, -pixel])
        .unwrap();
    for band in 1..=3 {
        let mut buffer = Buffer::new((64, 64), vec![40 * band as u8; 64 * 64]);
        source.rasterband(band).unwrap().write((0, 0), (64, 64), &mut buffer).unwrap();
    }
    let driver = super::support::driver("MBTiles");
    let options = RasterCreationOptions::from_iter(["TILE_FORMAT=PNG"]);
    source.create_copy(&driver, &file, &options).unwrap().close().unwrap();
    std::fs::read(file).unwrap()
}

/// A head of version 3 with numbers by chance, most of them small.
fn fresh(random: &mut Random) -> Vec<u8> {
    let mut bytes = b"pmtiles\nPMTiles\x03".to_vec();
    for _ in 0..11 {
        let number = match random.below(6) {
            0 => random.word(),
            1 => u64::MAX >> random.below(40),
            _ => random.below(300) as u64,
        };
        bytes.extend_from_slice(&number.to_le_bytes());
    }
    // Clustered, compressions, kind of tile, least and greatest zoom.
    for most in [2, 5, 5, 6, 32, 32] {
        bytes.push(if random.one_in(8) { random.word() as u8 } else { random.below(most) as u8 });
    }
    for _ in 0..random.between(20, 300) {
        bytes.push(if random.one_in(3) { random.word() as u8 } else { random.below(5) as u8 });
    }
    bytes
}

/// One tile, far finer than the map and large, would be put on a sheet of
/// billions of pixels.
#[test]
fn large_tiles_at_a_fine_zoom_are_refused() {
    let (folder, terrain) = ground();
    let file = folder.path().join("fine.pmtiles");
    let mut writer = PmTilesWriter::new(TileType::Png)
        .min_zoom(21)
        .max_zoom(21)
        .create(std::fs::File::create(&file).unwrap())
        .unwrap();
    let mut bytes = Cursor::new(Vec::new());
    RgbaImage::from_pixel(1024, 1024, Rgba([9, 40, 200, 255]))
        .write_to(&mut bytes, ImageFormat::Png)
        .unwrap();
    let (column, row) = tile_of(21);
    writer.add_tile(TileCoord::new(21, column, row).unwrap(), bytes.get_ref()).unwrap();
    writer.finalize().unwrap();
    let said = terrain.with_tiles(Some(&file)).unwrap_err().to_string();
    assert!(said.contains("far too fine"), "{said}");
}

/// The same in a database whose bounds span the map.
#[test]
fn a_database_of_fine_tiles_alone_is_refused() {
    let (folder, terrain) = ground();
    let (made, file) = (folder.path().join("fine.db"), folder.path().join("fine.mbtiles"));
    std::fs::write(&made, database(folder.path(), 0.04)).unwrap();
    let flags = GdalOpenFlags::GDAL_OF_VECTOR | GdalOpenFlags::GDAL_OF_UPDATE;
    let drivers = ["SQLite"];
    let options = DatasetOptions {
        open_flags: flags,
        allowed_drivers: Some(&drivers),
        ..DatasetOptions::default()
    };
    let database = Dataset::open_ex(&made, options).unwrap();
    let bounds = "UPDATE metadata SET value = '-35,46.9,-34.8,47.1' WHERE name = 'bounds'";
    database.execute_sql(bounds, None, Dialect::DEFAULT).unwrap();
    database.close().unwrap();
    std::fs::rename(&made, &file).unwrap();
    let said = terrain.with_tiles(Some(&file)).unwrap_err().to_string();
    assert!(said.contains("far too fine"), "{said}");
}

fn check(files: &[PathBuf; 2], terrain: &Terrain, case: &[u8]) -> Result<Seen, String> {
    let end = case.iter().position(|b| *b == b'\n').unwrap_or(case.len());
    let content = case.get(end + 1..).unwrap_or_default();
    let file = &files[usize::from(&case[..end] == b"mbtiles")];
    std::fs::write(file, content).unwrap();
    match terrain.clone().with_tiles(Some(file)) {
        Ok(terrain) => {
            let picture = terrain.picture().ok_or("no picture")?;
            let (rows, columns, bands) = picture.pixels.dim();
            must(bands == 4 && rows <= 4000 && columns <= 4000, || {
                format!("a picture of {rows} by {columns}, {bands}")
            })?;
            Ok(Seen::Accepted)
        }
        Err(error) => words(&error.to_string()).map(|()| Seen::Refused),
    }
}
