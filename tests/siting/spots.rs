//! Spots that nobody listed: held to a brute force over every cell on exact
//! paths, to what a ranking says once they are listed, and to themselves on
//! other numbers of threads.

use std::fmt::Write as _;
use std::path::Path;
use std::sync::atomic::AtomicBool;

use perchline::coverage::sweep::{Options, reach};
use perchline::link::{LinkModel, Propagator, Terminal, study};
use perchline::plan::{Channel, Plan, Roof, Site};
use perchline::report::spot_tables::site_lines;
use perchline::siting::demand::{Demand, points_sampled};
use perchline::siting::spots::{SpotError, SpotSearch, SpotTask, StandsOn, search};
use perchline::siting::{RankInputs, score};
use perchline::terrain::Terrain;
use perchline::units::{Metres, Position};

use crate::support::{open_terrain, perchline, plan_text, read_plan, said, write_plan_raster};

/// Hills of some 80 m with ridges that hide valleys from each other.
fn hills(column: usize, row: usize) -> f32 {
    let (x, y) = (column as f32 * 0.03, row as f32 * 0.03);
    let ridge = |s: f32| (1.0 - (s.sin()).abs()).powi(2);
    120.0
        + 60.0 * ridge(x * 2.1 + 0.8 * (y * 1.3).sin())
        + 35.0 * ridge(y * 2.7 + 1.1 * (x * 0.9).cos())
        + 6.0 * ((x * 11.0).sin() * (y * 9.0).cos())
}

/// Posts on hills, with weak radios so that places differ.
fn text() -> String {
    let mut text = plan_text(|text| {
        text.replace("power = \"5 W\"", "power = \"500 mW\"")
            .replace("power = \"25 W\"", "power = \"2 W\"")
            .replace("margin = \"100 m\"", "margin = \"0 m\"")
    })
    .replace("\"500 mW\"", "\"0.5 W\"");
    for (name, at, weight) in [
        ("Aid 3", "46.995, -34.905", 2),
        ("Aid 4", "47.013, -34.898", 1),
        ("Aid 5", "46.992, -34.880", 3),
    ] {
        write!(text, "\n[[post]]\nname = \"{name}\"\nat = \"{at}\"\nweight = {weight}\n").unwrap();
    }
    text
}

fn read(folder: &Path, text: &str) -> Plan {
    let file = folder.join("plan.toml");
    std::fs::write(&file, text).unwrap();
    read_plan(&file)
}

fn find(plan: &Plan, terrain: &Terrain) -> Result<SpotSearch, SpotError> {
    let propagator = Propagator::new(&plan.prediction);
    let demand = Demand::of(plan, terrain);
    let stop = AtomicBool::new(false);
    let grid = terrain.grid();
    let task = SpotTask {
        plan,
        terrain,
        propagator: &propagator,
        demand: &demand,
        grid,
        swept: &|| (),
        stop: &stop,
    };
    search(&task, &plan.channels[0])
}

/// A site on open ground.
fn on_ground(plan: &Plan, at: Position) -> Site {
    Site {
        name: "Cell".to_owned(),
        at,
        roof: Roof::AboveGround(Metres::new(0.0)),
        mast: plan.search.mast,
        ..plan.sites[0].clone()
    }
}

/// Probability of each post from a site on exact paths, and whether must-have
/// posts work, through the same door as `perchline path`.
fn exact(
    plan: &Plan,
    terrain: &Terrain,
    channel: &Channel,
    site: &Site,
) -> Option<(Vec<f64>, bool)> {
    let propagator = Propagator::new(&plan.prediction);
    let station = Terminal::at_site(plan, channel, site, terrain).ok()?;
    let mut must = true;
    let all = plan.posts.iter().map(|post| {
        let carried = Terminal::at_post(plan, channel, post, terrain).unwrap();
        let model = LinkModel::new(plan, channel, &station, &carried);
        let study = study(terrain, &propagator, &model, channel).unwrap();
        must &= !post.must || study.budgets.outcome.works();
        study.budgets.probability
    });
    Some((all.collect(), must))
}

/// Loss from a spot to a post is the loss from the post to the spot: the turned
/// sweep agrees with exact paths traced from the spot.
#[test]
fn the_turned_sweep_is_the_same_both_ways() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    let plan = read(folder.path(), &text());
    let terrain = open_terrain(&plan);
    let channel = &plan.channels[0];
    let propagator = Propagator::new(&plan.prediction);
    let grid = terrain.grid();
    let projector = grid.projector().unwrap();
    let stop = AtomicBool::new(false);
    let mut off = Vec::new();
    for (number, post) in plan.posts.iter().enumerate() {
        let site = on_ground(&plan, plan.sites[0].at);
        let station = Terminal::at_site(&plan, channel, &site, &terrain).unwrap();
        let carried = Terminal::at_post(&plan, channel, post, &terrain).unwrap();
        let model = LinkModel::new(&plan, channel, &station, &carried);
        let swept = reach(&terrain, grid, &model, &propagator, &Options::default(), &stop).unwrap();
        for cell in (number..grid.rows() * grid.columns()).step_by(37) {
            let (row, column) = (cell / grid.columns(), cell % grid.columns());
            let at = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
            // The outer half of a rim cell has no height to trace from.
            let Some((all, _)) = exact(&plan, &terrain, channel, &on_ground(&plan, at)) else {
                continue;
            };
            off.push((f64::from(swept[(row, column)]) - all[number]).abs());
        }
    }
    assert!(off.len() > 500, "{}", off.len());
    off.sort_by(f64::total_cmp);
    let rank = |share: f64| off[(share * (off.len() - 1) as f64) as usize];
    // A decibel is worth 7 of 100 at most under a spread of 5.6 dB.
    assert!(rank(0.5) < 0.002 && rank(0.99) < 0.07, "{} {}", rank(0.5), rank(0.99));
}

/// Every cell on exact paths: the best found is the best there is or within the
/// reported gap, and nothing exceeds the bound.
#[test]
fn the_best_of_a_brute_force_is_found() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    let plan = read(folder.path(), &text());
    let terrain = open_terrain(&plan);
    let channel = &plan.channels[0];
    let found = find(&plan, &terrain).unwrap();
    assert_eq!(found.demand_points, plan.posts.len());
    assert_eq!(found.demand_points, points_sampled(&plan, Some(plan.search.samples), false));
    let grid = terrain.grid();
    let projector = grid.projector().unwrap();
    let total: f64 = plan.posts.iter().map(|p| p.weight).sum();
    let mut best = (0.0f64, false);
    let mut scores = Vec::new();
    for cell in 0..grid.rows() * grid.columns() {
        let (row, column) = (cell / grid.columns(), cell % grid.columns());
        let at = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
        let Some((all, must)) = exact(&plan, &terrain, channel, &on_ground(&plan, at)) else {
            continue;
        };
        let score = plan.posts.iter().zip(&all).map(|(p, q)| p.weight * q).sum::<f64>() / total;
        scores.push(score);
        if (must, score) > (best.1, best.0) {
            best = (score, must);
        }
    }
    scores.sort_by(f64::total_cmp);
    // A place like any other is much worse, or the test would say nothing.
    let median = scores[scores.len() / 2];
    assert!(median < best.0 - 0.1, "{median} {}", best.0);
    let bound = &found.bound;
    assert_eq!(found.spots[0].rank.missed_must_posts.is_empty(), best.1);
    // Spots are written to a tenth of a metre, brute force is not.
    assert!(best.0 <= bound.upper + 1e-3, "{} over {bound:?}", best.0);
    assert!(bound.best >= best.0 / (1.0 + bound.gap_percent / 100.0) - 1e-3, "{bound:?}");
    assert!(bound.gap_percent < 1.0, "{bound:?}");
    // The spots keep apart.
    for (number, one) in found.spots.iter().enumerate() {
        for other in &found.spots[number + 1..] {
            assert!(one.rank.at.distance(other.rank.at) >= plan.search.keep_apart);
        }
    }
}

/// The lines for the plan, pasted into it, make a site that a ranking scores
/// just as the search did.
fn listed_scores_the_same(folder: &Path, text: &str, found: &SpotSearch, plan: &Plan) {
    for spot in found.spots.iter().take(3) {
        let listed = read(folder, &format!("{text}\n{}", site_lines(plan, spot)));
        let terrain = open_terrain(&listed);
        let propagator = Propagator::new(&listed.prediction);
        let stop = AtomicBool::new(false);
        let inputs = RankInputs {
            plan: &listed,
            terrain: &terrain,
            propagator: &propagator,
            demand: &Demand::of(&listed, &terrain),
            grid: terrain.grid(),
            row_done: &|| (),
            stop: &stop,
        };
        let site = listed.sites.iter().find(|s| s.name == spot.rank.name).unwrap();
        let (ranked, _) = score(&inputs, &listed.channels[0], site).unwrap();
        let off = (ranked.weighted_probability - spot.rank.weighted_probability).abs();
        assert!(off < 1e-9, "{}: off by {off}", spot.rank.name);
        assert_eq!(ranked.posts_covered, spot.rank.posts_covered);
        assert_eq!(ranked.antenna_above_ground_m, spot.rank.antenna_above_ground_m);
        if let Some(swept) = spot.by_the_sweep {
            assert!((swept - spot.on_demand_points).abs() < 0.07);
        }
    }
}

#[test]
fn a_spot_once_listed_ranks_as_the_search_said() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    // With an area and a route, of which the search itself sees samples only.
    let text = text()
        + "\n[[area]]\nname = \"Field\"\noutline = [\"47.002, -34.895\", \"47.002, -34.892\", \"47.004, -34.892\"]\n\n[[route]]\nname = \"Course\"\nline = [\"46.996, -34.904\", \"47.006, -34.890\", \"47.009, -34.884\"]\n";
    let plan = read(folder.path(), &text);
    let found = find(&plan, &open_terrain(&plan)).unwrap();
    assert_eq!(found.demand_points, 5 + 2 * plan.search.samples);
    listed_scores_the_same(folder.path(), &text, &found, &plan);
    // Of ten spots the first is no worse than the best site that the plan lists.
    let listed = found.best_listed.as_ref().unwrap().weighted_probability;
    assert!(found.spots.len() == 10 && found.spots[0].rank.weighted_probability > listed - 0.05);
}

#[test]
fn roofs_are_searched_and_stand_on_the_roof() {
    let folder = tempfile::tempdir().unwrap();
    // A plain on which a tower is worth more than any ground.
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 60.0);
    let building = |id: &str, height: f64, latitude: f64, longitude: f64| {
        let (n, e) = (latitude + 0.0002, longitude + 0.0003);
        format!(
            "{{\"type\": \"Feature\", \"properties\": {{\"id\": \"{id}\", \"height\": {height}}}, \"geometry\": {{\"type\": \"Polygon\", \"coordinates\": [[[{longitude},{latitude}],[{e},{latitude}],[{e},{n}],[{longitude},{n}],[{longitude},{latitude}]]]}}}}"
        )
    };
    let town = [
        building("tower", 45.0, 47.0042, -34.8921),
        building("barn", 7.0, 47.0060, -34.8950),
        building("store", 14.0, 46.9995, -34.8870),
    ];
    std::fs::write(
        folder.path().join("town.geojson"),
        format!("{{\"type\": \"FeatureCollection\", \"features\": [{}]}}", town.join(",")),
    )
    .unwrap();
    let text = text().replace(
        "[map]",
        "[buildings]\nfiles = [\"town.geojson\"]\ncell = \"10 m\"\n\n[search]\nmast = \"3 m\"\nkeep_apart = \"150 m\"\n\n[map]",
    );
    let plan = read(folder.path(), &text);
    let found = find(&plan, &open_terrain(&plan)).unwrap();
    assert_eq!(found.roofs, 3);
    let best = &found.spots[0];
    assert!(
        matches!(&best.stands_on, StandsOn::Roof { building, .. } if building == "tower"),
        "{best:?}"
    );
    assert_eq!(best.rank.antenna_above_ground_m, Metres::new(48.0));
    listed_scores_the_same(folder.path(), &text, &found, &plan);
}

#[test]
fn the_number_of_threads_does_not_show_and_an_area_holds_its_spots() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    let text = text().replace(
        "[map]",
        "[search]\ninside = [\"46.998, -34.900\", \"46.998, -34.885\", \"47.008, -34.885\", \"47.008, -34.900\"]\n\n[map]",
    );
    let plan = read(folder.path(), &text);
    let terrain = open_terrain(&plan);
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| serde_json::to_string(&find(&plan, &terrain).unwrap()).unwrap())
    };
    let one = run(1);
    assert_eq!(one, run(3));
    let found = find(&plan, &terrain).unwrap();
    for spot in &found.spots {
        let (latitude, longitude) =
            (spot.rank.at.latitude().value(), spot.rank.at.longitude().value());
        assert!((46.998..=47.008).contains(&latitude) && (-34.9..=-34.885).contains(&longitude));
    }
}

/// A method without a swept form is screened by another and scored by itself.
#[test]
fn other_methods_are_screened_and_then_scored_by_themselves() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    let text = text().replace("[map]", "[prediction]\nmethod = \"epstein-peterson\"\n\n[map]");
    let plan = read(folder.path(), &text);
    let found = find(&plan, &open_terrain(&plan)).unwrap();
    assert_eq!(found.screened_by, Some("delta-bullington"));
    listed_scores_the_same(folder.path(), &text, &found, &plan);
}

#[test]
fn the_verb_writes_everything_or_says_what_is_wrong() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    let roads = "{\"type\": \"FeatureCollection\", \"features\": [{\"type\": \"Feature\", \"properties\": {}, \"geometry\": {\"type\": \"LineString\", \"coordinates\": [[-34.9, 47.0], [-34.89, 47.01]]}}]}";
    std::fs::write(folder.path().join("roads.geojson"), roads).unwrap();
    let text = text().replace("[map]", "[search]\nroads = \"roads.geojson\"\n\n[map]");
    std::fs::write(folder.path().join("plan.toml"), &text).unwrap();
    let run = perchline(folder.path(), &["search", "plan.toml", "--mast", "20 ft", "--out", "out"]);
    assert!(run.status.success(), "{}", said(&run));
    let file = |name: &str| std::fs::read_to_string(folder.path().join("out").join(name)).unwrap();
    let json: serde_json::Value = serde_json::from_str(&file("spots.json")).unwrap();
    let spots = json["result"]["search"]["spots"].as_array().unwrap();
    assert_eq!(spots.len(), 10);
    assert!(spots.iter().all(|s| s["to_road_m"].as_f64().is_some()));
    assert!((spots[0]["mast_m"].as_f64().unwrap() - 6.096).abs() < 1e-9);
    let features: serde_json::Value = serde_json::from_str(&file("spots.geojson")).unwrap();
    assert_eq!(features["features"].as_array().unwrap().len(), 10);
    assert_eq!(file("spots.toml").matches("[[site]]").count(), 10);
    let spots = file("spots.txt").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(spots.contains("nobody has asked its owner"));
    let png = std::fs::read(folder.path().join("out/spots.png")).unwrap();
    assert!(png.starts_with(b"\x89PNG"));

    for (arguments, words) in [
        (vec!["search", "plan.toml", "--mast", "6", "--out", "no"], "has no unit"),
        (vec!["search", "plan.toml", "--mast", "600 m", "--out", "no"], "0.5 to 60 m"),
        (
            vec!["search", "plan.toml", "--inside", "Nowhere", "--out", "no"],
            "has no area \"Nowhere\"",
        ),
    ] {
        let run = perchline(folder.path(), &arguments);
        assert_eq!(run.status.code(), Some(2), "{}", said(&run));
        assert!(said(&run).contains(words), "{}", said(&run));
        assert!(!folder.path().join("no").exists());
    }
    std::fs::write(
        folder.path().join("roads.geojson"),
        roads
            .replace("LineString", "Point")
            .replace("[[-34.9, 47.0], [-34.89, 47.01]]", "[-34.9, 47.0]"),
    )
    .unwrap();
    let run = perchline(folder.path(), &["search", "plan.toml"]);
    assert_eq!(run.status.code(), Some(2));
    assert!(said(&run).contains("has no line in it"), "{}", said(&run));
}

/// A site states a line 90 m away, which may pass any place 90 m from it: where a mast
/// of 6 m could reach it in its fall (6 + 1.5 + 3.05 = 10.55 m) no spot is proposed,
/// and what is left out is counted.
#[test]
fn no_spot_lies_where_a_stated_power_line_may_pass() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    let free = read(folder.path(), &text());
    let lined = text().replace("mast = \"3 m\"", "mast = \"3 m\"\npower_line = \"90 m\"");
    let lined = read(folder.path(), &lined.replace("[map]", "[search]\nmast = \"6 m\"\n\n[map]"));
    let terrain = open_terrain(&lined);
    let (before, after) = (find(&free, &terrain).unwrap(), find(&lined, &terrain).unwrap());
    assert!(after.cells_by_lines > 0 && before.cells_by_lines == 0);
    assert_eq!(before.open_cells, after.open_cells + after.cells_by_lines);
    for spot in &after.spots {
        for site in &lined.sites {
            let off = (site.at.distance(spot.rank.at).value() - 90.0).abs();
            assert!(off > 10.4, "{} is {off:.1} m off the line of {}", spot.rank.name, site.name);
        }
    }
}
