//! What buildings at 2 m cost over a town of 3 by 3 km: the plan and its
//! footprints read, burnt, and one site mapped on every cell of the surface.
//! Prints the time and the most memory that the whole took.

use std::fmt::Write;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use ndarray::Array2;
use perchline::coverage;
use perchline::link::{LinkModel, Propagator, Terminal};
use perchline::terrain::{Extent, Grid, Terrain};
use perchline::{plan, propagation};

#[path = "../tests/support/mod.rs"]
mod support;

/// West and north edge of the town in UTM zone 25, metres.
const CORNER: (f64, f64) = (354_500.0, 5_209_000.0);
const SIDE: f64 = 3000.0;

fn main() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    support::write_raster(
        &folder.path().join("terrain.tif"),
        (340, 340),
        support::utm_transform(CORNER.0 - 200.0, CORNER.1 + 200.0, 10.0),
        Some(support::UTM_25N),
        None,
        |column, row| 60.0 + 15.0 * (column as f32 / 40.0).sin() * (row as f32 / 55.0).cos(),
    );
    let metres = Grid::new(1, 1, [CORNER.0, 1.0, 0.0, CORNER.1, 0.0, -1.0], "EPSG:32625")
        .and_then(|grid| grid.projector())
        .expect("the zone is known");
    let place = |x: f64, y: f64| {
        let at = metres.to_position(x, y).expect("on earth");
        (at.latitude().value(), at.longitude().value())
    };
    std::fs::write(folder.path().join("town.geojson"), footprints(&place)).expect("room for it");
    let spot = |x: f64, y: f64| {
        let (latitude, longitude) = place(x, y);
        format!("{latitude:.6}, {longitude:.6}")
    };
    let tables = "[buildings]\nfiles = [\"town.geojson\"]\ncell = \"2 m\"\n\n[map]";
    let text = support::PLAN
        .replace("margin = \"100 m\"", "margin = \"0 m\"")
        .replace("[map]", tables)
        .replace("47.000, -34.900", &spot(0.0, 0.0))
        .replace("47.010, -34.885", &spot(SIDE, SIDE))
        .replace("47.004, -34.890", &spot(1500.0, 1500.0))
        .replace("47.008, -34.905", &spot(1000.0, 2000.0));
    let file = folder.path().join("plan.toml");
    std::fs::write(&file, text).expect("room for it");

    let started = Instant::now();
    let methods: Vec<_> = propagation::METHODS.iter().map(|m| m.name()).collect();
    let plan = plan::read(&file, &methods).expect("no problem found in the plan");
    let extent = Extent::around(plan.extent_points(), plan.map.margin).expect("it has places");
    let terrain = Terrain::open(&plan.terrain, extent)
        .expect("the raster is sound")
        .with_surroundings(&plan)
        .expect("the footprints are sound");
    let burnt = started.elapsed();
    let channel = plan.channels.first().expect("it has a channel");
    let site = plan.sites.first().expect("it has a site");
    let station = Terminal::at_site(&plan, channel, site, &terrain).expect("it stands");
    let carried = Terminal::anywhere(&plan, channel, None, site.at);
    let model = LinkModel::new(&plan, channel, &station, &carried);
    let propagator = Propagator::new(&plan.prediction);
    let stop = AtomicBool::new(false);
    let map = coverage::cover(&terrain, terrain.grid(), &model, &propagator, &|| {}, &stop)
        .expect("the station stands on the terrain");
    let cells = map.outcome.len();
    assert!(cells > 2_200_000 && map.unknown_cells < cells / 100, "{cells} {}", map.unknown_cells);
    println!("figure town_2m_seconds {:.1} s", started.elapsed().as_secs_f64());
    println!("figure town_2m_burning_seconds {:.1} s", burnt.as_secs_f64());
    println!("figure town_2m_footprints {} buildings", COUNT * COUNT);
    if let Some(gigabytes) = peak_gigabytes() {
        println!("figure town_2m_gigabytes {gigabytes:.2} GB");
    }

    // Woods on every other garden, once as trees that waves run through, once
    // as solid as houses.
    let houses = terrain.cover().expect("it has houses").to_owned();
    let trees = Array2::from_shape_fn(houses.dim(), |(row, column)| {
        let garden = (row / 40 + column / 40) % 2 == 0;
        if garden && houses[(row, column)] == 0.0 { 14.0 } else { 0.0 }
    });
    let solid = terrain.with_cover(houses + &trees).expect("the same cells");
    let wooded = solid.clone().with_woods(trees).expect("the same cells");
    let map = |terrain: &Terrain| {
        let started = Instant::now();
        coverage::cover(terrain, terrain.grid(), &model, &propagator, &|| {}, &stop)
            .expect("the station stands on the terrain");
        started.elapsed().as_secs_f64()
    };
    let least = |terrain| (0..3).map(|_| map(terrain)).fold(f64::INFINITY, f64::min);
    println!("figure town_woods_costs {:.2} times", least(&wooded) / least(&solid));
}

/// Buildings along each side of the town.
const COUNT: usize = 75;

/// Squares and oblongs of 2 to 6 storeys, 40 m apart.
fn footprints(place: &dyn Fn(f64, f64) -> (f64, f64)) -> String {
    let mut text = "{\"type\": \"FeatureCollection\", \"features\": [\n".to_owned();
    for index in 0..COUNT * COUNT {
        let (x, y) = ((index % COUNT) as f64 * 40.0, (index / COUNT) as f64 * 40.0);
        let (width, depth) = (12.0 + (index % 5) as f64 * 3.0, 10.0 + (index % 7) as f64 * 2.0);
        let ring: Vec<String> =
            [(0.0, 0.0), (0.0, depth), (width, depth), (width, 0.0), (0.0, 0.0)]
                .iter()
                .map(|(dx, dy)| {
                    let (latitude, longitude) = place(x + 10.0 + dx, y + 10.0 + dy);
                    format!("[{longitude:.7},{latitude:.7}]")
                })
                .collect();
        let comma = if index == 0 { "" } else { ",\n" };
        write!(
            text,
            "{comma}{{\"type\": \"Feature\", \"properties\": {{\"building:levels\": \"{}\"}}, \"geometry\": {{\"type\": \"Polygon\", \"coordinates\": [[{}]]}}}}",
            2 + index % 5,
            ring.join(",")
        )
        .expect("a String takes all");
    }
    text + "]}\n"
}

/// The most memory that this process has held, where the system tells.
fn peak_gigabytes() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes * 1024.0 / 1e9)
}
