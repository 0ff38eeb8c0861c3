//! A person's own map tiles under the pages: read where they lie. The files are
//! made by others: GDAL writes MBTiles, the `pmtiles` crate PMTiles.

use crate::support;
use std::fs::File;
use std::path::Path;

use crate::support::live::{Copy, copy, serve_copy};
use gdal::raster::{Buffer, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use image::{ImageFormat, Rgba, RgbaImage};
use perchline::assessment::Assessment;
use perchline::terrain::GroundPicture;
use perchline::units::{Degrees, Position};
use pmtiles::{PmTilesWriter, TileCoord, TileType};

/// Half the width of the plane of web maps, pi times the equator's radius of
/// WGS 84 (EPSG:3857).
const HALF: f64 = std::f64::consts::PI * 6_378_137.0;

/// Side of the squares that the tiles show, in degrees.
const SQUARE: f64 = 0.004;

/// Squares in longitude and latitude, so that a place tells its colour.
fn colour(longitude: f64, latitude: f64) -> [u8; 4] {
    let even = ((longitude / SQUARE).floor() + (latitude / SQUARE).floor()).rem_euclid(2.0) < 1.0;
    if even { [200, 40, 40, 255] } else { [40, 60, 200, 255] }
}

/// Longitude and latitude of a point of the plane (EPSG method 1024, the sphere).
fn degrees(x: f64, y: f64) -> (f64, f64) {
    let radius = HALF / std::f64::consts::PI;
    ((x / radius).to_degrees(), (y / radius).sinh().atan().to_degrees())
}

/// The tile of this column and row as PNG.
fn tile(zoom: u8, column: u32, row: u32, side: u32) -> RgbaImage {
    let wide = 2.0 * HALF / f64::from(1u32 << zoom);
    RgbaImage::from_fn(side, side, |x, y| {
        let part = |at: u32| (f64::from(at) + 0.5) / f64::from(side);
        let x = -HALF + (f64::from(column) + part(x)) * wide;
        let y = HALF - (f64::from(row) + part(y)) * wide;
        let (longitude, latitude) = degrees(x, y);
        Rgba(colour(longitude, latitude))
    })
}

/// Tiles of the zoom level that hold the sample's land, and one around them.
fn around_the_sample(zoom: u8) -> impl Iterator<Item = (u32, u32)> {
    let tiles = f64::from(1u32 << zoom);
    let column = |longitude: f64| ((longitude + 180.0) / 360.0 * tiles) as u32;
    let row = |latitude: f64| {
        let up = latitude.to_radians().tan().asinh() / std::f64::consts::PI;
        ((1.0 - up) / 2.0 * tiles) as u32
    };
    let (columns, rows) = (column(-35.0)..=column(-34.80), row(47.05)..=row(46.94));
    rows.flat_map(move |row| columns.clone().map(move |column| (column, row)))
}

fn write_pmtiles(file: &Path, zooms: &[u8], kind: TileType, format: ImageFormat) {
    let mut writer = PmTilesWriter::new(kind)
        .min_zoom(zooms[0])
        .max_zoom(zooms[zooms.len() - 1])
        .create(File::create(file).unwrap())
        .unwrap();
    let mut all: Vec<_> = zooms
        .iter()
        .flat_map(|zoom| {
            around_the_sample(*zoom).map(|(c, r)| TileCoord::new(*zoom, c, r).unwrap())
        })
        .collect();
    all.sort_by_key(|at| pmtiles::TileId::from(*at).value());
    for at in all {
        let mut bytes = std::io::Cursor::new(Vec::new());
        let picture = tile(at.z(), at.x(), at.y(), 256);
        match format {
            ImageFormat::Jpeg => {
                image::DynamicImage::from(picture).into_rgb8().write_to(&mut bytes, format)
            }
            _ => picture.write_to(&mut bytes, format),
        }
        .unwrap();
        writer.add_tile(at, bytes.get_ref()).unwrap();
    }
    writer.finalize().unwrap();
}

/// The same squares through GDAL's own writer.
fn write_mbtiles(file: &Path, bands: usize) {
    let (west, north) = (-3_897_000.0, 5_955_000.0);
    let (columns, rows, pixel) = (2200_usize, 1800_usize, 12.0);
    let memory = support::driver("MEM");
    let mut source = memory.create_with_band_type::<u8, _>("", columns, rows, bands).unwrap();
    source.set_spatial_ref(&SpatialRef::from_epsg(3857).unwrap()).unwrap();
    source.set_geo_transform(&[west, pixel, 0.0, north, 0.0, -pixel]).unwrap();
    for band in 0..bands {
        let bytes = (0..columns * rows)
            .map(|i| {
                let x = west + ((i % columns) as f64 + 0.5) * pixel;
                let y = north - ((i / columns) as f64 + 0.5) * pixel;
                let (longitude, latitude) = degrees(x, y);
                colour(longitude, latitude)[band]
            })
            .collect();
        let mut buffer = Buffer::new((columns, rows), bytes);
        source.rasterband(band + 1).unwrap().write((0, 0), (columns, rows), &mut buffer).unwrap();
    }
    let driver = support::driver("MBTiles");
    let options = RasterCreationOptions::from_iter(["TILE_FORMAT=PNG"]);
    source.create_copy(&driver, file, &options).unwrap().close().unwrap();
}

fn with_tiles(name: &str) -> Copy {
    copy("ferry-lights.toml", |text| {
        text.replace("[map]\n", &format!("[map]\ntiles = \"{name}\"\n"))
    })
}

/// Share of places, well within a square, whose pixel has the square's colour.
fn agreement(opened: &Assessment, picture: &GroundPicture) -> f64 {
    let grid = opened.terrain.grid();
    let projector = grid.projector().unwrap();
    let (rows, columns, _) = picture.pixels.dim();
    let scale = columns as f64 / grid.columns() as f64;
    assert_eq!(scale, rows as f64 / grid.rows() as f64);
    let (mut asked, mut right) = (0, 0);
    for i in -9..9 {
        for j in -9..9 {
            let (longitude, latitude) =
                (-34.898 + (f64::from(i) + 0.5) * SQUARE, 46.998 + (f64::from(j) + 0.5) * SQUARE);
            // The squares' middles, whatever square the start is in.
            let middle = |v: f64| ((v / SQUARE).floor() + 0.5) * SQUARE;
            let (longitude, latitude) = (middle(longitude), middle(latitude));
            let at = Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap();
            let (column, row) = projector.to_cell(at).unwrap();
            let (x, y) = ((column * scale) as usize, (row * scale) as usize);
            if column < 0.0 || row < 0.0 || x >= columns || y >= rows {
                continue;
            }
            asked += 1;
            let wanted = colour(longitude, latitude);
            let close = (0..4).all(|b| picture.pixels[(y, x, b)].abs_diff(wanted[b]) < 30);
            right += usize::from(close);
        }
    }
    assert!(asked > 200, "{asked}");
    right as f64 / f64::from(asked as u32)
}

#[test]
fn tiles_lie_where_they_say() {
    for (name, make) in [
        (
            "png.pmtiles",
            (|f| write_pmtiles(f, &[10, 12, 13], TileType::Png, ImageFormat::Png)) as fn(&Path),
        ),
        ("jpeg.pmtiles", |f| write_pmtiles(f, &[12], TileType::Jpeg, ImageFormat::Jpeg)),
        ("webp.pmtiles", |f| write_pmtiles(f, &[11, 12], TileType::Webp, ImageFormat::WebP)),
        ("three.mbtiles", |f| write_mbtiles(f, 3)),
        ("four.mbtiles", |f| write_mbtiles(f, 4)),
    ] {
        let sample = with_tiles(name);
        make(&sample.folder.path().join(name));
        let opened = Assessment::read(&sample.plan)
            .and_then(Assessment::with_tiles)
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        let share = agreement(&opened, opened.terrain.picture().unwrap());
        assert!(share > 0.99, "{name}: {share}");
        // What a picture is drawn from is among the inputs.
        let inputs = &opened.provenance.inputs;
        assert!(inputs.iter().any(|i| i.path.ends_with(name) && i.sha256.len() == 64), "{name}");
    }
}

/// It is for the eye alone: what is computed is the same with it.
#[test]
fn tiles_change_the_land_and_nothing_else() {
    let plain = serve_copy(copy("ferry-lights.toml", |text| text));
    let sample = with_tiles("town.pmtiles");
    write_pmtiles(
        &sample.folder.path().join("town.pmtiles"),
        &[12],
        TileType::Png,
        ImageFormat::Png,
    );
    let tiled = serve_copy(sample);
    let (a, b) = (plain.settled(), tiled.settled());
    assert_eq!((&a["board"]["tiles"], &b["board"]["tiles"]), (&false.into(), &true.into()));
    assert_eq!(a["score"], b["score"]);
    assert!(plain.get("coverage.png").body == tiled.get("coverage.png").body);
    let land = image::load_from_memory(&tiled.get("land.png").body).unwrap().to_rgb8();
    // Each pixel is of one colour, or blended of both at an edge.
    let blended = |p: &image::Rgb<u8>| {
        let [r, g, b] = p.0.map(i32::from);
        (39..=61).contains(&g) && (r + b - 240).abs() <= 2
    };
    assert!(land.pixels().all(blended), "{:?}", land.pixels().find(|p| !blended(p)));
    assert!(plain.get("land.png").body != tiled.get("land.png").body);
}

#[test]
fn what_cannot_be_drawn_is_told_with_its_line() {
    let vector = |file: &Path| {
        let mut writer =
            PmTilesWriter::new(TileType::Mvt).create(File::create(file).unwrap()).unwrap();
        writer.add_tile(TileCoord::new(0, 0, 0).unwrap(), b"x").unwrap();
        writer.finalize().unwrap();
    };
    let elsewhere = |file: &Path| {
        let mut writer = PmTilesWriter::new(TileType::Png)
            .min_zoom(12)
            .max_zoom(12)
            .create(File::create(file).unwrap())
            .unwrap();
        let mut bytes = std::io::Cursor::new(Vec::new());
        tile(12, 7, 7, 256).write_to(&mut bytes, ImageFormat::Png).unwrap();
        writer.add_tile(TileCoord::new(12, 7, 7).unwrap(), bytes.get_ref()).unwrap();
        writer.finalize().unwrap();
    };
    let cut = |file: &Path| {
        write_pmtiles(file, &[12], TileType::Png, ImageFormat::Png);
        let whole = std::fs::read(file).unwrap();
        std::fs::write(file, &whole[..whole.len() / 2]).unwrap();
    };
    let junk = |file: &Path| std::fs::write(file, b"not tiles at all").unwrap();
    let none = |_: &Path| ();
    for (name, make, says) in [
        ("a.png", &junk as &dyn Fn(&Path), "ends in .mbtiles or .pmtiles"),
        ("a.pmtiles", &junk, "cannot be opened as map tiles"),
        ("a.mbtiles", &junk, "cannot be opened as map tiles"),
        ("b.pmtiles", &vector, "holds vector tiles"),
        ("c.pmtiles", &elsewhere, "has no tile where this plan's map is"),
        ("d.pmtiles", &cut, "cannot be"),
        ("e.pmtiles", &none, "there is no file"),
    ] {
        let sample = with_tiles(name);
        make(&sample.folder.path().join(name));
        let error = Assessment::read(&sample.plan)
            .and_then(Assessment::with_tiles)
            .err()
            .unwrap_or_else(|| panic!("{name}"));
        let problem = &error.problems()[0];
        assert!(problem.text().contains(says), "{name}: {error}");
        let text = std::fs::read_to_string(&sample.plan).unwrap();
        let line = 1 + text.lines().position(|l| l.starts_with("tiles = ")).unwrap();
        assert_eq!(problem.line(), Some(line), "{name}: {error}");
    }
}
