//! GeoPackages with programs in them.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::PathBuf;

use rusqlite::Connection;

use super::As;
use super::pieces::{Pieces, Random};

pub fn make(random: &mut Random, pieces: &Pieces) -> (PathBuf, As) {
    let name = random.pick(&["main.gpkg", "main.geojson", "main.shp", "main.gpkg"]);
    let file = pieces.folder.join(name);
    let mut bytes = pieces.package.clone();
    if random.one_in(3) {
        // A page of the file at least.
        random.damage(&mut bytes);
    }
    fs::write(&file, &bytes).unwrap();
    if random.one_in(4) {
        // As good as it is.
    } else if let Ok(connection) = Connection::open(&file) {
        for _ in 0..1 + random.below(3) {
            // What the file does not take is no case.
            drop(connection.execute_batch(&statement(random, pieces)));
        }
    }
    let end = random.pick(&["-wal", "-journal", "-shm"]);
    let side = pieces.folder.join(format!("{name}{end}"));
    match random.below(12) {
        0 => drop(fs::write(side, [&b"\x37\x7f\x06\x82"[..], &[7; 100]].concat())),
        1 => drop(fs::hard_link(&pieces.pipe, side)),
        2 => drop(symlink("/dev/zero", side)),
        _ => {}
    }
    (file, random.pick(&[As::Footprints, As::Lines, As::Place, As::Terrain]))
}

fn statement(random: &mut Random, pieces: &Pieces) -> String {
    let size = random.pick(&["10", "1000000", "900000000", "2147483647"]);
    let big = match random.below(6) {
        0 => format!("zeroblob({size})"),
        1 => format!("hex(zeroblob({size}))"),
        2 => format!("printf('%.*c', {size}, 'x')"),
        3 => "(WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c) SELECT count(*) FROM c)".to_owned(),
        4 => format!("load_extension('{}')", pieces.precious.display()),
        _ => "randomblob(100)".to_owned(),
    };
    let list = "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES ('v', 'features', 'v', 4326); INSERT INTO gpkg_geometry_columns VALUES ('v', 'geom', 'POINT', 4326, 0, 0);";
    match random.below(17) {
        0 => format!("CREATE VIEW v AS SELECT 1 AS fid, {big} AS geom, 'Aid 1' AS name;{list}"),
        1 => format!(
            "CREATE VIEW v AS WITH RECURSIVE c(fid) AS (SELECT 1 UNION ALL SELECT fid + 1 FROM c) SELECT fid, NULL AS geom, 'Aid 1' AS name FROM c;{list}"
        ),
        2 => format!("CREATE VIEW v AS SELECT fid, geom, name FROM places;{list}"),
        3 => format!("ALTER TABLE places ADD COLUMN big AS ({big})"),
        4 => format!("UPDATE places SET name = {big}"),
        5 => format!("UPDATE places SET geom = {big}"),
        6 => format!(
            "UPDATE gpkg_spatial_ref_sys SET definition = '{}'",
            pieces.crs(random).replace('\'', "")
        ),
        7 => format!(
            "UPDATE gpkg_contents SET min_x = {}, max_y = '{}'",
            random.below(9),
            random.extreme()
        ),
        8 => format!(
            "CREATE VIRTUAL TABLE w USING {}",
            random.pick(&["rtree(id, a, b)", "fts5(a)", "csv(filename='/etc/passwd')", "dbstat"])
        ),
        9 => "CREATE TRIGGER t AFTER INSERT ON places BEGIN SELECT load_extension('x'); END"
            .to_owned(),
        10 => format!(
            "UPDATE gpkg_geometry_columns SET table_name = '{}', srs_id = {}",
            random
                .pick(&["sqlite_master", "v", "places'; DROP TABLE places; --"])
                .replace('\'', "''"),
            random.pick(&["-1", "0", "999999"])
        ),
        11 => "DROP TABLE gpkg_spatial_ref_sys".to_owned(),
        12 => format!(
            "UPDATE houses SET geom = x'47500001E6100000{}'",
            [
                "01030000000100000000000080",
                "0107000000FFFFFFFF",
                "010100000000000000000000000000F07F"
            ][random.below(3)]
        ),
        13 => format!(
            "PRAGMA user_version = {}; PRAGMA application_id = {}",
            random.below(99_999),
            random.below(99_999)
        ),
        14 => format!(
            "INSERT INTO gpkg_extensions VALUES ('places', NULL, '{}', 'x', 'read-write')",
            random.pick(&["gpkg_rtree_index", "gdal_aspatial", "gpkg_webp"])
        ),
        15 => (0..200).map(|n| format!("CREATE TABLE t{n} (a);")).collect(),
        _ => format!(
            "INSERT INTO places (geom, name) SELECT geom, name || '{}' FROM places",
            random.extreme()
        ),
    }
}
