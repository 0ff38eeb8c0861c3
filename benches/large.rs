//! Plans of the size of a city's marathon on its laser-scanned ground, each at a
//! quarter, a half and the whole of its size: what the program takes of the processor
//! and holds of the memory, and how that grows as the size doubles.
//!
//! Prints `figure large_CASE_seconds`, `large_CASE_gigabytes` and `large_CASE_growth`,
//! the factor of user CPU time for a doubling, and fails where a case grows faster than
//! n log n. Names of cases after `--` make it those alone.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use perchline::terrain::{Grid, Projector};
use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

#[path = "../tests/support/mod.rs"]
mod support;

/// n log n grows by less than this as n doubles from a thousand on, and times of one
/// run scatter by a tenth.
const MOST_GROWTH: f64 = 2.3;

/// How often each size is run; the least time counts, so that other work on the machine
/// shows less.
const RUNS: usize = 2;

/// A second of the processor that a run takes whatever its size, at the most: where a
/// case takes less in all there is nothing to see of its growth.
const UNSEEN: f64 = 0.5;

/// West and south edge of what the plans lie on, in UTM zone 25, metres.
const CORNER: (f64, f64) = (354_000.0, 5_204_000.0);

/// What is measured.
struct Case {
    name: &'static str,
    /// Its whole size.
    size: usize,
    /// Makes the files of one of so many in the folder, and says what is run.
    write: fn(&Ground, usize) -> Vec<String>,
}

const CASES: [Case; 9] = [
    Case { name: "posts", size: 500, write: posts },
    Case { name: "sites", size: 200, write: sites },
    Case { name: "pairs", size: 100_000, write: pairs },
    Case { name: "post_pairs", size: 124_750, write: post_pairs },
    Case { name: "route", size: 100_000, write: route },
    Case { name: "footprints", size: 200_000, write: footprints },
    Case { name: "surface", size: 16_000_000, write: surface },
    Case { name: "log", size: 100_000, write: log },
    Case { name: "raster", size: 1_600_000_000, write: raster },
];

fn main() {
    let wanted: Vec<String> =
        std::env::args().skip(1).filter(|argument| !argument.starts_with('-')).collect();
    let mut too_fast = Vec::new();
    for case in CASES {
        if !wanted.is_empty() && !wanted.iter().any(|name| name == case.name) {
            continue;
        }
        let Case { name, size, write } = case;
        let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a folder");
        let ground = Ground::new(folder.path());
        let runs = [size / 4, size / 2, size].map(|size| {
            let arguments = write(&ground, size);
            let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
            let run = (0..RUNS)
                .map(|_| Run::of(folder.path(), &arguments))
                .reduce(Run::least)
                .expect("one run at least");
            eprintln!("{name} of {size}: {:.2} s, {:.2} GB", run.seconds, run.gigabytes);
            run
        });
        let [quarter, _, whole] = runs;
        println!("figure large_{name}_seconds {:.1} s", whole.seconds);
        println!("figure large_{name}_gigabytes {:.2} GB", whole.gigabytes);
        let growth = (whole.seconds / quarter.seconds.max(0.01)).sqrt();
        println!("figure large_{name}_growth {growth:.2} times");
        if growth > MOST_GROWTH && whole.seconds > UNSEEN {
            too_fast.push(format!("{name}: {growth:.2}"));
        }
    }
    assert!(too_fast.is_empty(), "these grow faster than n log n: {too_fast:?}");
}

/// What a run took.
struct Run {
    /// User CPU time.
    seconds: f64,
    /// The most memory that it held.
    gigabytes: f64,
}

impl Run {
    fn of(folder: &Path, arguments: &[&str]) -> Self {
        let before = children_seconds();
        let held = support::held::by_a_run(folder, arguments).expect("Linux tells");
        Self { seconds: children_seconds() - before, gigabytes: held / 1e9 }
    }
}

impl Run {
    /// The less of both in time, the more in memory.
    fn least(self, other: Self) -> Self {
        Self {
            seconds: self.seconds.min(other.seconds),
            gigabytes: self.gigabytes.max(other.gigabytes),
        }
    }
}

/// User CPU time of all programs that this one has run to their end: the sixteenth
/// field of /proc/self/stat, in hundredths of a second (proc_pid_stat(5)).
fn children_seconds() -> f64 {
    let text = std::fs::read_to_string("/proc/self/stat").expect("Linux tells");
    // The second field, the name in brackets, may hold blanks.
    let fields = text.rsplit_once(')').expect("a name in brackets").1;
    let ticks = fields.split_whitespace().nth(13).and_then(|field| field.parse::<f64>().ok());
    ticks.expect("a number") / 100.0
}

/// A folder for plans, and degrees for metres from [`CORNER`].
struct Ground {
    folder: PathBuf,
    projector: Projector,
}

impl Ground {
    fn new(folder: &Path) -> Self {
        let metres = Grid::new(1, 1, [CORNER.0, 1.0, 0.0, CORNER.1, 0.0, -1.0], "EPSG:32625");
        let projector = metres.and_then(|grid| grid.projector()).expect("the zone is known");
        Self { folder: folder.to_owned(), projector }
    }

    /// Latitude and longitude so many metres east and north of the corner.
    fn degrees(&self, x: f64, y: f64) -> (f64, f64) {
        let at = self.projector.to_position(x, -y).expect("on earth");
        (at.latitude().value(), at.longitude().value())
    }

    fn text(&self, (x, y): (f64, f64)) -> String {
        let (latitude, longitude) = self.degrees(x, y);
        format!("{latitude:.6}, {longitude:.6}")
    }

    fn file(&self, name: &str, text: &str) {
        std::fs::write(self.folder.join(name), text).expect("a disk with room");
    }

    /// Rolling ground of so many metres a side, and a kilometre more all around, in
    /// cells of this size.
    fn raster(&self, side: f64, cell: f64) {
        let around = 1000.0;
        let cells = ((side + 2.0 * around) / cell).ceil() as usize;
        let north = CORNER.1 + side + around;
        support::write_raster(
            &self.folder.join("terrain.tif"),
            (cells, cells),
            support::utm_transform(CORNER.0 - around, north, cell),
            Some(support::UTM_25N),
            None,
            |column, row| {
                let (x, y) = (column as f32 * cell as f32, row as f32 * cell as f32);
                60.0 + 25.0 * (x / 270.0).sin() * (y / 420.0).cos()
            },
        );
    }

    /// A plan of these posts and sites, in metres from the corner, with tables of its
    /// own; every spot of the map counts in cells of 50 m.
    fn plan(&self, posts: &[(f64, f64)], sites: &[(f64, f64)], tables: &str) {
        let head = support::plan_head()
            .replace("[map]\nmargin = \"100 m\"", "[map]\nmargin = \"100 m\"\ncell = \"50 m\"");
        let mut text = format!("{head}\n{tables}");
        for (number, at) in posts.iter().enumerate() {
            let control = if number == 0 { "net_control = true\n" } else { "" };
            let at = self.text(*at);
            let _ = write!(text, "\n[[post]]\nname = \"Post {number}\"\nat = \"{at}\"\n{control}");
        }
        for (number, at) in sites.iter().enumerate() {
            // Above the houses of the town: a lower antenna is followed to every cell by itself.
            let roof = 20 + number % 20;
            let at = self.text(*at);
            let _ = write!(
                text,
                "\n[[site]]\nname = \"Site {number}\"\nat = \"{at}\"\nroof = \"{roof} m above ground\"\nmast = \"3 m\"\n"
            );
        }
        self.file("plan.toml", &text);
    }

    /// A route of so many corners in a file of its own: a ring that winds three times
    /// through a square of this side, some 30 km on 6 km; and its table.
    fn ring(&self, corners: usize, side: f64) -> String {
        let mut points = String::new();
        for number in 0..corners {
            let turn = number as f64 / (corners - 1) as f64 * 3.0 * std::f64::consts::TAU;
            let reach = side * (0.25 + 0.13 * (7.0 * turn / 3.0).sin());
            let (x, y) = (side / 2.0 + reach * turn.cos(), side / 2.0 + reach * turn.sin());
            let (latitude, longitude) = self.degrees(x, y);
            let comma = if number == 0 { "" } else { "," };
            let _ = write!(points, "{comma}[{longitude:.7},{latitude:.7}]");
        }
        let text = format!(
            "{{\"type\": \"FeatureCollection\", \"features\": [{{\"type\": \"Feature\", \"properties\": {{\"name\": \"Course\"}}, \"geometry\": {{\"type\": \"LineString\", \"coordinates\": [{points}]}}}}]}}\n"
        );
        self.file("course.geojson", &text);
        "\n[[route]]\nname = \"Course\"\nline = { file = \"course.geojson\", name = \"Course\" }\n"
            .to_owned()
    }
}

/// So many places in a square of this side, always the same.
fn scattered(count: usize, side: f64, seed: u64) -> Vec<(f64, f64)> {
    let mut random = Pcg64::seed_from_u64(seed);
    (0..count).map(|_| (side * share(&mut random), side * share(&mut random))).collect()
}

/// A number from 0 to 1.
fn share(random: &mut Pcg64) -> f64 {
    (random.next_u64() >> 11) as f64 / (1u64 << 53) as f64
}

/// Side of the ground of plans that lie on no town, metres.
const SIDE: f64 = 6000.0;

fn verb(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

/// `rank` with so many posts and 20 sites.
fn posts(ground: &Ground, size: usize) -> Vec<String> {
    ground.raster(SIDE, 30.0);
    ground.plan(&scattered(size, SIDE, 1), &scattered(20, SIDE, 2), "");
    verb(&["rank", "plan.toml", "--out", "out"])
}

/// `rank` with so many sites and 20 posts.
fn sites(ground: &Ground, size: usize) -> Vec<String> {
    ground.raster(SIDE, 30.0);
    ground.plan(&scattered(20, SIDE, 1), &scattered(size, SIDE, 2), "");
    verb(&["rank", "plan.toml", "--out", "out"])
}

/// `rank` with so many pairs of a post and a site, 2.5 posts to a site.
fn pairs(ground: &Ground, size: usize) -> Vec<String> {
    let sites = (size as f64 / 2.5).sqrt().round() as usize;
    ground.raster(SIDE, 30.0);
    ground.plan(&scattered(size / sites, SIDE, 1), &scattered(sites, SIDE, 2), "");
    verb(&["rank", "plan.toml", "--out", "out"])
}

/// `direct` with so many pairs of two posts.
fn post_pairs(ground: &Ground, size: usize) -> Vec<String> {
    let posts = (2.0 * size as f64).sqrt().round() as usize;
    ground.raster(SIDE, 30.0);
    ground.plan(&scattered(posts, SIDE, 1), &scattered(2, SIDE, 2), support::SIMPLEX);
    verb(&["direct", "plan.toml", "--out", "out"])
}

/// `rank` on a route of so many corners.
fn route(ground: &Ground, size: usize) -> Vec<String> {
    ground.raster(SIDE, 30.0);
    let course = ground.ring(size, SIDE);
    ground.plan(&scattered(8, SIDE, 1), &scattered(8, SIDE, 2), &course);
    verb(&["rank", "plan.toml", "--out", "out"])
}

/// `coverage` of a town of so many footprints on 12 km, a route through it.
fn footprints(ground: &Ground, size: usize) -> Vec<String> {
    let side = 12_000.0;
    let along = (size as f64).sqrt().ceil() as usize;
    let step = side / along as f64;
    let mut text = "{\"type\": \"FeatureCollection\", \"features\": [\n".to_owned();
    for number in 0..size {
        let (x, y) = ((number % along) as f64 * step, (number / along) as f64 * step);
        let width = step * (0.35 + 0.08 * (number % 5) as f64);
        let depth = step * (0.3 + 0.07 * (number % 7) as f64);
        let ring: Vec<String> =
            [(0.0, 0.0), (0.0, depth), (width, depth), (width, 0.0), (0.0, 0.0)]
                .iter()
                .map(|(east, north)| {
                    let (latitude, longitude) = ground.degrees(x + east, y + north);
                    format!("[{longitude:.7},{latitude:.7}]")
                })
                .collect();
        let comma = if number == 0 { "" } else { ",\n" };
        let _ = write!(
            text,
            "{comma}{{\"type\": \"Feature\", \"properties\": {{\"building:levels\": \"{}\"}}, \"geometry\": {{\"type\": \"Polygon\", \"coordinates\": [[{}]]}}}}",
            2 + number % 5,
            ring.join(",")
        );
    }
    ground.file("town.geojson", &(text + "]}\n"));
    ground.raster(side, 30.0);
    let town = "[buildings]\nfiles = [\"town.geojson\"]\ncell = \"5 m\"\n";
    let tables = format!("{town}{}", ground.ring(1000, side));
    ground.plan(&scattered(100, side, 1), &scattered(4, side, 2), &tables);
    verb(&["coverage", "plan.toml", "--site", "Site 0", "--out", "out"])
}

/// `coverage` of a surface of so many cells of 1 m.
fn surface(ground: &Ground, size: usize) -> Vec<String> {
    let side = (size as f64).sqrt();
    // The window ends at the plan's places and its margin.
    ground.raster(side, 1.0);
    let (near, far) = (120.0, side - 120.0);
    let corners = [(near, near), (far, far), (near, far), (far, near)];
    ground.plan(&corners, &[(side / 2.0, side / 2.0)], "");
    let file = ground.folder.join("plan.toml");
    let text = std::fs::read_to_string(&file).expect("it was written");
    ground.file("plan.toml", &text.replace("cell = \"50 m\"\n", ""));
    verb(&["coverage", "plan.toml", "--site", "Site 0", "--out", "out"])
}

/// `debrief` of a log of so many rows, half of them from posts and half of them along
/// a route of as many corners.
fn log(ground: &Ground, size: usize) -> Vec<String> {
    ground.raster(SIDE, 30.0);
    let course = ground.ring(size, SIDE);
    ground.plan(&scattered(50, SIDE, 1), &scattered(3, SIDE, 2), &course);
    let mut random = Pcg64::seed_from_u64(3);
    let mut text = "time,post,position,direction,carry,heard,daq,level\n".to_owned();
    for row in 0..size {
        let second = 14_400 * row / size;
        let time = format!(
            "2026-12-05T{:02}:{:02}:{:02}Z",
            16 + (1800 + second) / 3600,
            (1800 + second) % 3600 / 60,
            second % 60
        );
        let heard = if share(&mut random) < 0.8 { "yes" } else { "no" };
        if row % 2 == 0 {
            let post = (share(&mut random) * 50.0) as usize;
            let _ = writeln!(text, "{time},Post {post},,in,shoulder,{heard},,");
        } else {
            let turn = std::f64::consts::TAU * 3.0 * row as f64 / size as f64;
            let reach = SIDE * (0.25 + 0.13 * (7.0 * turn / 3.0).sin());
            let beside = 40.0 * (share(&mut random) - 0.5);
            let (x, y) = (
                SIDE / 2.0 + (reach + beside) * turn.cos(),
                SIDE / 2.0 + (reach + beside) * turn.sin(),
            );
            let at = ground.text((x, y));
            let _ = writeln!(text, "{time},,\"{at}\",in,shoulder,{heard},,");
        }
    }
    ground.file("log.csv", &text);
    verb(&["debrief", "plan.toml", "log.csv", "--site", "Site 0", "--out", "out"])
}

/// `coverage` in larger cells of so many cells of a raster of 40,000 x 40,000.
fn raster(ground: &Ground, size: usize) -> Vec<String> {
    let file = ground.folder.join("terrain.tif");
    if !file.exists() {
        support::national::write(&file);
    }
    let side = support::national::CELL * (size as f64).sqrt();
    let margin = format!("margin = \"{:.0} km\"\ncell = \"40 m\"\n", side / 2000.0 - 2.0);
    let text = support::PLAN
        .replace("files = [\"terrain.tif\"]\n", "files = [\"terrain.tif\"]\ncell = \"20 m\"\n")
        .replace("margin = \"100 m\"\n", &margin);
    ground.file("plan.toml", &text);
    verb(&["coverage", "plan.toml", "--site", "Hotel", "--out", "out"])
}
