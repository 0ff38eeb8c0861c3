//! Folders of elevation: what is taken, what is passed over, what is missing.

use std::fs;
use std::io::Write;
use std::path::Path;

use perchline::plan::TerrainInputs;
use perchline::terrain::{Extent, Terrain, TerrainError, covered_by};
use perchline::units::Metres;

use crate::support::{
    PLAN, UTM_25N, perchline, place, printed, said, utm_transform, write_plan_raster, write_raster,
};

/// Side of a one-degree tile of three arc seconds, cells.
const SIDE: usize = 1201;

/// A one-degree tile as the shuttle radar mission has it: whole metres, the most
/// significant byte first, from the north-western corner.
fn hgt(height: i16) -> Vec<u8> {
    (0..SIDE * SIDE).flat_map(|_| height.to_be_bytes()).collect()
}

/// The sample's place, on both sides of 47 north.
fn extent() -> Extent {
    Extent { south_west: place(46.98, -34.92), north_east: place(47.02, -34.88) }
}

fn open(folder: &Path) -> Result<Terrain, TerrainError> {
    let inputs = TerrainInputs {
        files: vec![folder.to_owned()],
        height_unit: None,
        crs: None,
        fill_gaps: false,
        cell: None,
    };
    Terrain::open(&inputs, extent())
}

fn zipped(file: &Path, name: &str, content: &[u8]) {
    let mut archive = zip::ZipWriter::new(fs::File::create(file).unwrap());
    archive.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
    archive.write_all(content).unwrap();
    archive.finish().unwrap();
}

fn remarks(terrain: &Terrain) -> String {
    terrain.remarks().iter().map(|r| format!("{}: {}\n", r.about, r.text)).collect()
}

#[test]
fn tiles_of_a_folder_are_joined_packed_or_not() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::create_dir(at("inner")).unwrap();
    fs::write(at("inner/N46W035.hgt"), hgt(100)).unwrap();
    zipped(&at("N47W035.SRTMGL3.hgt.zip"), "N47W035.hgt", &hgt(300));
    // Not needed, and by its name known to be: it is not even opened.
    fs::write(at("N10E010.hgt"), "no raster").unwrap();
    fs::write(at("readme.txt"), "what else lies there").unwrap();
    let terrain = open(folder.path()).unwrap();
    for (latitude, height) in [(46.985, 100.0), (47.015, 300.0)] {
        assert_eq!(terrain.ground(place(latitude, -34.9)).unwrap(), Metres::new(height));
    }
    assert_eq!(terrain.missing_tiles(), None);
    assert_eq!(terrain.gap_cells(), 0);
    let names: Vec<_> =
        terrain.files().iter().map(|f| f.path.file_name().unwrap().to_owned()).collect();
    assert_eq!(names, ["N47W035.SRTMGL3.hgt.zip", "N46W035.hgt"]);
    assert!(remarks(&terrain).contains("1 rasters in it lie elsewhere"), "{}", remarks(&terrain));
    // What the system's own program says of the archive.
    let said = std::process::Command::new("sha256sum").arg(&terrain.files()[0].path).output();
    let said = String::from_utf8(said.unwrap().stdout).unwrap();
    assert_eq!(said.split_whitespace().next(), Some(terrain.files()[0].sha256.as_str()));
}

#[test]
fn a_missing_tile_is_named() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("N46W035.hgt"), hgt(100)).unwrap();
    let terrain = open(folder.path()).unwrap();
    let missing = terrain.missing_tiles().unwrap().to_string();
    assert_eq!(missing, "N47W035.hgt or Copernicus_DSM_COG_10_N47_00_W035_00_DEM.tif");
    assert!(remarks(&terrain).contains(&missing), "{}", remarks(&terrain));
}

#[test]
fn an_empty_folder_names_all_that_is_missing() {
    let folder = tempfile::tempdir().unwrap();
    for path in [folder.path().to_owned(), folder.path().join("none/")] {
        let error = open(&path).unwrap_err().to_string();
        for name in ["N46W035.hgt", "Copernicus_DSM_COG_10_N47_00_W035_00_DEM.tif"] {
            assert!(error.contains(name), "{error}");
        }
    }
    let error = open(folder.path()).unwrap_err().to_string();
    assert!(error.contains("holds no elevation"), "{error}");
    let error = open(&folder.path().join("none/")).unwrap_err().to_string();
    assert!(error.contains("no such folder"), "{error}");
    assert_eq!(covered_by(folder.path()).unwrap(), None);
}

#[test]
fn elevation_of_another_place_is_told_with_both_places() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("hills.tif");
    write_raster(
        &file,
        (50, 50),
        [10.0, 0.001, 0.0, 50.0, 0.0, -0.001],
        Some(4326),
        None,
        |_, _| 5.0,
    );
    let error = open(folder.path()).unwrap_err().to_string();
    assert!(error.contains("of another place"), "{error}");
    assert!(error.contains("latitude 49.95000 to 50.00000"), "{error}");
    assert!(error.contains("latitude 46.98000 to 47.02000"), "{error}");
    // One that its name places, and nothing else.
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("N10E010.hgt"), hgt(1)).unwrap();
    let error = open(folder.path()).unwrap_err().to_string();
    assert!(error.contains("as the names of its 1 rasters say"), "{error}");
}

#[test]
fn broken_tiles_are_named_and_stop_only_a_plan_that_needs_them() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::write(at("N46W035.hgt"), hgt(100)).unwrap();
    fs::write(at("N47W035.hgt"), "cut off").unwrap();
    fs::write(at("also.tif"), "nothing").unwrap();
    fs::write(at("cut.zip"), "PK\u{3}\u{4}").unwrap();
    let error = open(folder.path()).unwrap_err().to_string();
    for name in ["N47W035.hgt", "also.tif", "cut.zip"] {
        assert!(error.contains(name), "{error}");
    }
    // The same with the tile whole: what is broken is passed over, by name.
    fs::write(at("N47W035.hgt"), hgt(300)).unwrap();
    let terrain = open(folder.path()).unwrap();
    let text = remarks(&terrain);
    assert!(text.contains("not needed") && text.contains("also.tif"), "{text}");
    assert!(text.contains("cut.zip"), "{text}");
    assert_eq!(terrain.missing_tiles(), None);
}

#[test]
fn classes_and_pictures_are_not_taken_for_heights() {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain");
    let terrain = open(&sample).unwrap();
    let names: Vec<_> =
        terrain.files().iter().map(|f| f.path.file_name().unwrap().to_owned()).collect();
    assert_eq!(names, ["ostlers-ferry.tif"]);
    assert!(remarks(&terrain).contains("land-cover.tif"), "{}", remarks(&terrain));
}

/// The finest sets the cells, whatever the names' order.
#[test]
fn the_finest_raster_of_a_folder_comes_first() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("N46W035.hgt"), hgt(100)).unwrap();
    fs::write(folder.path().join("N47W035.hgt"), hgt(100)).unwrap();
    let fine = folder.path().join("zone.tif");
    let transform = utm_transform(353_000.0, 5_209_000.0, 20.0);
    write_raster(&fine, (200, 200), transform, Some(UTM_25N), None, |_, _| 100.0);
    let terrain = open(folder.path()).unwrap();
    assert!((terrain.spacing().value() - 20.0).abs() < 0.1, "{}", terrain.spacing());
    assert!(terrain.files()[0].path.ends_with("zone.tif"));
}

/// Through the program, which shuts itself in: a folder, an archive in it, and a post
/// on the tile that is missing.
#[test]
fn the_program_reads_folders_and_names_what_a_post_lacks() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::create_dir(at("terrain")).unwrap();
    write_plan_raster(&at("terrain.tif"), crate::support::rolling);
    zipped(&at("terrain/hills.zip"), "hills.tif", &fs::read(at("terrain.tif")).unwrap());
    fs::remove_file(at("terrain.tif")).unwrap();
    fs::write(at("plan.toml"), PLAN.replace("terrain.tif", "terrain/")).unwrap();
    let check = perchline(folder.path(), &["check", "plan.toml"]);
    assert!(check.status.success(), "{}", said(&check));
    assert!(printed(&check).starts_with("No problem found in the plan"));
    let far = PLAN.replace("terrain.tif", "terrain/").replace("47.010, -34.885", "48.010, -34.885");
    fs::write(at("plan.toml"), far).unwrap();
    let check = perchline(folder.path(), &["check", "plan.toml"]);
    assert_eq!(check.status.code(), Some(2));
    let told = said(&check);
    assert!(told.contains("post \"Aid 2\": at") && told.contains("N48W035.hgt"), "{told}");
}

/// A link out of the folder, and a virtual raster in it that refers elsewhere, may be
/// read too.
#[test]
fn the_program_follows_what_a_folder_refers_to() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::create_dir_all(at("event/terrain")).unwrap();
    fs::create_dir(at("store")).unwrap();
    write_plan_raster(&at("store/hills.tif"), crate::support::rolling);
    std::os::unix::fs::symlink(at("store/hills.tif"), at("event/terrain/linked.tif")).unwrap();
    fs::write(at("event/plan.toml"), PLAN.replace("terrain.tif", "terrain/")).unwrap();
    let check = perchline(folder.path(), &["check", "event/plan.toml"]);
    assert!(check.status.success(), "{}", said(&check));
}
