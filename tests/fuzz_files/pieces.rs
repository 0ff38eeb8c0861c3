//! What cases are made of.

use std::fs;
use std::path::{Path, PathBuf};

use perchline::vector::{FieldKind, FieldValue, Shape, Table, write_geopackage};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

use super::support::{UTM_25N, utm_transform, write_raster};

/// Choices that follow from a seed and a number.
pub struct Random(Pcg64Mcg);

impl Random {
    pub fn of(seed: u64, case: u64) -> Self {
        Self(Pcg64Mcg::seed_from_u64(seed ^ case.wrapping_mul(0x9E37_79B9_7F4A_7C15)))
    }

    pub fn below(&mut self, most: usize) -> usize {
        (self.0.next_u64() % most.max(1) as u64) as usize
    }

    pub fn one_in(&mut self, many: usize) -> bool {
        self.below(many) == 0
    }

    pub fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())].clone()
    }

    /// A number that may be anything.
    pub fn extreme(&mut self) -> String {
        let plain = self.below(400);
        match self.below(12) {
            0 => "-1".to_owned(),
            1 => "2147483647".to_owned(),
            2 => "-2147483648".to_owned(),
            3 => "99999999999999999999".to_owned(),
            4 => "1e308".to_owned(),
            5 => "nan".to_owned(),
            6 => "inf".to_owned(),
            7 => "0".to_owned(),
            8 => "0.0000001".to_owned(),
            9 => String::new(),
            _ => plain.to_string(),
        }
    }

    /// Bytes changed, cut, doubled.
    pub fn damage(&mut self, bytes: &mut Vec<u8>) {
        for _ in 0..1 + self.below(8) {
            if bytes.is_empty() {
                return;
            }
            // Mostly near an end, where heads and directories lie.
            let place = match self.below(3) {
                0 => self.below(bytes.len()),
                1 => self.below(bytes.len().min(700)),
                _ => bytes.len() - 1 - self.below(bytes.len().min(700)),
            };
            match self.below(8) {
                0 => bytes.truncate(place),
                1 => {
                    let end = (place + self.below(64)).min(bytes.len());
                    let part = bytes[place..end].to_vec();
                    bytes.splice(place..place, part);
                }
                2 => bytes[place] = 0,
                3 => bytes[place] = 255,
                4 => bytes[place] ^= 1 << self.below(8),
                _ => bytes[place] = self.below(256) as u8,
            }
        }
    }
}

/// Good files, and places that nobody may reach.
pub struct Pieces {
    /// Where cases are made.
    pub folder: PathBuf,
    /// The contents of good rasters, by ending.
    pub rasters: Vec<(&'static str, Vec<u8>)>,
    /// A good GeoPackage.
    pub package: Vec<u8>,
    /// A file outside, a pipe outside, a server.
    pub precious: PathBuf,
    pub pipe: PathBuf,
    pub host: String,
}

impl Pieces {
    pub fn make(place: &Path, folder: &Path, precious: &Path, pipe: &Path, host: String) -> Self {
        let made = place.join("made");
        fs::create_dir(&made).unwrap();
        let (columns, rows) = (70, 60);
        let transform = utm_transform(354_700.0, 5_208_400.0, 40.0);
        let height = |c: usize, r: usize| (40 + (c * 7 + r * 3) % 50) as f32;
        let tif = made.join("a.tif");
        write_raster(&tif, (columns, rows), transform, Some(UTM_25N), Some(-9999.0), height);
        let bare = made.join("b.tif");
        write_raster(&bare, (columns, rows), transform, Some(UTM_25N), None, height);
        let mut rasters = vec![("tif", fs::read(&tif).unwrap()), ("tif", fs::read(&bare).unwrap())];
        let cells = |between: &str| {
            (0..rows)
                .map(|r| {
                    let row: Vec<_> = (0..columns).map(|c| height(c, r).to_string()).collect();
                    row.join(between) + "\n"
                })
                .collect::<String>()
        };
        let grid = format!(
            "ncols {columns}\nnrows {rows}\nxllcorner 354700\nyllcorner 5206000\ncellsize 40\nNODATA_value -9999\n{}",
            cells(" ")
        );
        rasters.push(("asc", grid.into_bytes()));
        let xyz: String = (0..rows)
            .flat_map(|r| (0..columns).map(move |c| (c, r)))
            .map(|(c, r)| {
                let (x, y) = (354_720 + c * 40, 5_208_380 - r * 40);
                format!("{x} {y} {}\n", height(c, r))
            })
            .collect();
        rasters.push(("xyz", xyz.into_bytes()));
        let words: Vec<u8> = (0..rows)
            .flat_map(|r| (0..columns).flat_map(move |c| (height(c, r) as i16).to_le_bytes()))
            .collect();
        rasters.push(("bil", words));
        rasters.push(("hgt", vec![0; 1201 * 1201 * 2]));
        let package = made.join("a.gpkg");
        let row = |name: &str| {
            (geo::Point::new(-34.9, 47.0).into(), vec![FieldValue::Text(name.to_owned())])
        };
        let places = Table {
            name: "places",
            shape: Shape::Points,
            fields: vec![("name", FieldKind::Text)],
            features: vec![row("Aid 1"), row("Aid 2")],
        };
        let house = geo::Rect::new((-34.9, 47.0), (-34.899, 47.001)).to_polygon();
        let houses = Table {
            name: "houses",
            shape: Shape::Areas,
            fields: vec![("height", FieldKind::Number)],
            features: vec![(house.into(), vec![FieldValue::Number(9.0)])],
        };
        write_geopackage(&package, &[places, houses], &[], "2026-01-01T00:00:00Z").unwrap();
        let package = fs::read(&package).unwrap();
        fs::remove_dir_all(&made).unwrap();
        Self {
            folder: folder.to_owned(),
            rasters,
            package,
            precious: precious.to_owned(),
            pipe: pipe.to_owned(),
            host,
        }
    }

    /// A name that leads somewhere: into the folder or where nobody has any business.
    pub fn name(&self, random: &mut Random) -> String {
        let inside = ["a.tif", "b.vrt", "c.vrt", "d.mrf", "e.asc", "f.gpkg", "p.tif", "main.vrt"];
        let path = |name: &str| self.folder.join(name).display().to_string();
        match random.below(24) {
            0..10 => random.pick(&inside).to_owned(),
            10..13 => path(random.pick(&inside)),
            13 => self.precious.display().to_string(),
            14 => self.pipe.display().to_string(),
            15 => "MEM:::DATAPOINTER=4096,PIXELS=70,LINES=60,DATATYPE=Byte".to_owned(),
            16 => format!("http://{}/a.tif", self.host),
            17 => format!("/vsicurl/http://{}/a.tif", self.host),
            18 => random
                .pick(&[
                    "/proc/self/mem",
                    "/dev/zero",
                    "/dev/stdin",
                    "/proc/self/maps",
                    "/etc/passwd",
                ])
                .to_owned(),
            19 => format!("/vsizip/{}", path("a.tif")),
            20 => format!("GTIFF_DIR:1:{}", path("a.tif")),
            21 => format!("/vsisubfile/0_1000,{}", path("a.tif")),
            22 => format!("../{}/a.tif", self.folder.file_name().unwrap().to_string_lossy()),
            _ => random.extreme(),
        }
    }

    /// A text for a coordinate system.
    pub fn crs(&self, random: &mut Random) -> String {
        match random.below(14) {
            0..6 => "EPSG:32625".to_owned(),
            6 => format!("http://{}/crs", self.host),
            7 => format!("/vsicurl/http://{}/crs", self.host),
            8 => self.precious.display().to_string(),
            9 => self.pipe.display().to_string(),
            10 => format!("+proj=longlat +nadgrids={}", self.pipe.display()),
            11 => "+proj=utm +zone=25 +datum=WGS84".to_owned(),
            12 => "GEOGCS[\"a\",DATUM[\"b\",SPHEROID[\"c\",6378137,298]],PRIMEM[\"d\",0],UNIT[\"degree\",0.0174532925199433]]".to_owned(),
            _ => random.extreme(),
        }
    }
}
