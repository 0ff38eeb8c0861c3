//! The drawings of `choose`, `trackers` and `power`, held against what the tables say.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, OnceLock};

use crate::support::{self, perchline_long, said};
use jiff::ZonedDateTime;
use perchline::assessment::{Assessment, SiteMap};
use perchline::link::Outcome;
use perchline::plan::{ChooseInputs, GroundKind};
use perchline::report::documents::KeptOff;
use perchline::report::layers::Layers;
use perchline::report::map::choice::{self, ChoiceMap};
use perchline::report::map::trackers::{self, TrackerMap};
use perchline::report::map::{self, MapContent};
use perchline::report::palette::Lab;
use serde_json::Value;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");

/// Leaves a drawing in `target/looks/`.
fn keep(name: &str, bytes: &[u8]) {
    let looks = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/looks");
    fs::create_dir_all(&looks).unwrap();
    fs::write(looks.join(name), bytes).unwrap();
}

/// What a verb writes for the sample: a file of its folder.
fn written(arguments: &[&str], files: &[&str]) -> Vec<Vec<u8>> {
    let folder = tempfile::tempdir().unwrap();
    let output = perchline_long(folder.path(), &[arguments, &["--out", "out"]].concat());
    assert!(output.status.success(), "{}", said(&output));
    files.iter().map(|file| fs::read(folder.path().join("out").join(file)).unwrap()).collect()
}

fn assessment() -> &'static Assessment {
    static OPENED: OnceLock<Assessment> = OnceLock::new();
    OPENED.get_or_init(|| Assessment::read(Path::new(SAMPLE)).unwrap())
}

type Attributes = BTreeMap<String, String>;

/// Every element of a drawing with this name: its attributes by name, and its text.
fn elements(drawing: &str, name: &str) -> Vec<(Attributes, String)> {
    let document = roxmltree::Document::parse(drawing).unwrap();
    let nodes = document.descendants().filter(|node| node.has_tag_name(name));
    nodes
        .map(|node| {
            let attributes = node.attributes();
            let all = attributes.map(|a| (a.name().to_owned(), a.value().to_owned())).collect();
            (all, node.text().unwrap_or_default().trim().to_owned())
        })
        .collect()
}

/// Bars are as long as the hours that the JSON has: black until the pack dies in the poor
/// case, grey until it does as expected.
#[test]
fn the_bars_of_power_are_the_hours_of_its_table() {
    let files = written(&["power", SAMPLE], &["power.svg", "power.json", "power.png"]);
    keep("power.png", &files[2]);
    let drawing = String::from_utf8(files[0].clone()).unwrap();
    let document: Value = serde_json::from_slice(&files[1]).unwrap();
    let stations = document["result"]["stations"].as_array().unwrap();
    let time = |value: &Value| value.as_str().map(|at| at.parse::<ZonedDateTime>().unwrap());
    let seconds = |from: &ZonedDateTime, to: &ZonedDateTime| from.duration_until(to).as_secs_f64();
    let on = |station: &Value| time(&station["on"]).unwrap();
    let off = |station: &Value| time(&station["off"]).unwrap();
    let first = stations.iter().map(on).min().unwrap();
    let last = stations.iter().map(off).max().unwrap();
    // Tear-down is at 22:00, when the stations may be switched off.
    let whole = seconds(&first, &last);
    let bars = |fill: &str| -> Vec<[f64; 2]> {
        let all = elements(&drawing, "rect");
        let own = all
            .iter()
            .filter(|(a, _)| a.get("fill").is_some_and(|f| f == fill) && a["height"] == "46");
        own.map(|(a, _)| ["x", "width"].map(|name| a[name].parse().unwrap())).collect()
    };
    let (black, grey, empty) = (bars("#1d2433"), bars("#a9adb6"), bars("#ffffff"));
    let crews = document["result"]["crews"].as_array().unwrap().len();
    assert_eq!(black.len(), stations.len() + crews);
    for (index, station) in stations.iter().enumerate() {
        let [left, width] = empty[index];
        let wanted = seconds(&on(station), &off(station));
        assert!((width / 980.0 - wanted / whole).abs() < 1e-3, "{station}");
        assert!((left - 520.0 - 980.0 * seconds(&first, &on(station)) / whole).abs() < 0.2);
        for (bar, case) in [(&black, "poor"), (&grey, "expected")] {
            let [from, length] = bar[index];
            let dies = time(&station[case]["dies_at"]).filter(|at| *at < off(station));
            let runs = dies.map_or(wanted, |at| seconds(&on(station), &at));
            assert!((from - left).abs() < 0.1, "{case}");
            assert!((length / width - runs / wanted).abs() < 2e-3, "{case}: {station}");
        }
    }
    let texts: Vec<String> = elements(&drawing, "text").into_iter().map(|(_, t)| t).collect();
    for part in [
        "Relay",
        "dies 20:49",
        "as expected 14 % left",
        "Digipeater",
        "dies 16:45",
        "2 packs each",
        "pack dies",
        "change packs",
        "last radio down 22:00",
    ] {
        assert!(texts.iter().any(|text| text == part), "no {part} in {texts:?}");
    }
    assert_eq!(texts[0], "0 of 2 stations should run to the end in the poor case");
    let words = document["result"]["picture"].as_str().unwrap();
    assert!(words.contains("Relay, wanted 15:00 to 22:00: dies 20:49"), "{words}");
}

/// A line from each post that works to the relay that the table gives it, in that relay's
/// dash; none from a post that does not.
#[test]
fn the_map_of_a_choice_leads_each_post_to_its_relay() {
    let opened = assessment();
    let plan = &opened.plan;
    let grid = opened.map_grid().unwrap();
    let relief = opened.terrain.hillshade().unwrap();
    let asked = ChooseInputs { relays: 2, ..plan.choose };
    let chosen =
        opened.choice(&plan.channels[0], &asked, &grid, &|| {}, &AtomicBool::new(false)).unwrap();
    let layers = Layers { plan, terrain: &opened.terrain, relief: &relief, grid: &grid };
    let content = ChoiceMap { layers, choice: &chosen, provenance: &opened.provenance };
    keep("choice.png", &choice::draw(&content).unwrap());
    let drawing = choice::draw_svg(&content).unwrap();
    // Lines to relays: their ink on their casing, each from its post to its relay.
    let ends: Vec<([f64; 4], String)> = elements(&drawing, "path")
        .into_iter()
        .filter(|(a, _)| a.get("stroke-width").is_some_and(|w| w == "2.6"))
        .filter_map(|(a, _)| {
            let numbers: Vec<f64> = a["d"]
                .trim_start_matches('M')
                .split(['L', ' '])
                .map(|n| n.parse().ok())
                .collect::<Option<Vec<f64>>>()?;
            let ends = <[f64; 4]>::try_from(numbers).ok()?;
            Some((ends, a.get("stroke-dasharray").cloned().unwrap_or_default()))
        })
        .collect();
    let served: Vec<&str> = chosen
        .sectors
        .posts
        .iter()
        .filter_map(|sector| sector.first.as_ref().filter(|duty| duty.outcome.works()))
        .map(|duty| duty.site.as_str())
        .collect();
    assert_eq!(ends.len(), served.len());
    assert_eq!(served.len(), chosen.first.posts_covered);
    for (place, site) in chosen.first.sites.iter().enumerate() {
        let own: Vec<&([f64; 4], String)> = ends
            .iter()
            .zip(&served)
            .filter(|(_, s)| **s == site.as_str())
            .map(|(e, _)| e)
            .collect();
        assert!(!own.is_empty(), "{site} serves nobody");
        let dash = ["", "16 8"][place];
        for (line, own_dash) in &own {
            assert_eq!((line[2], line[3]), (own[0].0[2], own[0].0[3]), "{site}");
            assert_eq!(own_dash, dash, "{site}");
        }
    }
    let texts: Vec<String> = elements(&drawing, "text").into_iter().map(|(_, t)| t).collect();
    assert_eq!(texts[0], "Relays on Hospital and Ridge overlook");
    for part in [
        "15 of 16",
        "Not: Aid 6.",
        "A Hospital",
        "B Ridge overlook",
        "Digipeater",
        "Which relay serves what",
    ] {
        assert!(texts.iter().any(|text| text == part), "no {part} in {texts:?}");
    }
    assert!(!texts.iter().any(|text| text.contains('…')), "{texts:?}");
    let words = choice::in_words(&chosen);
    assert!(words.contains("Not: Aid 6.") && words.contains("Hospital serves "), "{words}");
}

/// Each route is drawn in the stretches that the study has, each with its own pens, and
/// the legend has those that occur.
#[test]
fn the_map_of_trackers_draws_each_stretch_as_it_is_heard() {
    let (_folder, weak) = weak();
    let mut seen = std::collections::BTreeSet::new();
    for opened in [assessment(), &weak] {
        seen.extend(stretches_are_drawn(opened));
    }
    let all = ["FewerThanHalf", "HalfOrMore", "NearlyAll"].map(str::to_owned);
    assert_eq!(seen.into_iter().collect::<Vec<_>>(), all);
}

/// The sample with trackers so weak that routes have silent stretches.
fn weak() -> (support::live::Copy, Assessment) {
    let copy = support::live::copy("ferry-lights.toml", |text| {
        let (before, after) = text.split_once("name = \"tracker\"").unwrap();
        let after = after.replacen("power = \"5 W\"", "power = \"0.01 W\"", 1);
        format!("{before}name = \"tracker\"{after}")
    });
    let opened = Assessment::read(&copy.plan).unwrap();
    (copy, opened)
}

/// Holds the map of each site's digipeater to its study; what stretches there were.
fn stretches_are_drawn(opened: &Assessment) -> Vec<String> {
    let plan = &opened.plan;
    let grid = opened.map_grid().unwrap();
    let relief = opened.terrain.hillshade().unwrap();
    let packet = plan.channels.iter().find(|c| plan.trackers_on(c).next().is_some()).unwrap();
    let layers = Layers { plan, terrain: &opened.terrain, relief: &relief, grid: &grid };
    let mut drawn = Vec::new();
    for site in &plan.sites {
        let study = opened.trackers(packet, &[site], &AtomicBool::new(false)).unwrap();
        let content =
            TrackerMap { layers, study: &study, kept_off: &[], provenance: &opened.provenance };
        let drawing = trackers::draw_svg(&content).unwrap();
        keep(&format!("trackers-{}.png", site.name), &trackers::draw(&content).unwrap());
        let least =
            study.trackers.iter().min_by(|a, b| a.along.heard.total_cmp(&b.along.heard)).unwrap();
        let count = |name: &str| {
            let stretches = &least.along.stretches;
            stretches.iter().filter(|s| format!("{:?}", s.hearing) == name).count()
        };
        let paths = elements(&drawing, "path");
        let inner = |width: &str, stroke: &str, dash: &str| {
            paths
                .iter()
                .filter(|(a, _)| {
                    let is =
                        |name: &str, value: &str| a.get(name).map_or("", String::as_str) == value;
                    is("stroke-width", width)
                        && is("stroke", stroke)
                        && is("stroke-dasharray", dash)
                })
                .count()
        };
        assert_eq!(inner("5", "#8a2846", ""), count("NearlyAll"), "{}", site.name);
        assert_eq!(inner("5", "#ffffff", "11 8"), count("HalfOrMore"), "{}", site.name);
        assert_eq!(inner("12", "#1d2433", ""), count("FewerThanHalf"), "{}", site.name);
        let texts: Vec<String> = elements(&drawing, "text").into_iter().map(|(_, t)| t).collect();
        for (name, meaning) in [
            ("NearlyAll", "Nearly all beacons heard: 95 of 100"),
            ("HalfOrMore", "Half of them or more"),
            ("FewerThanHalf", "Fewer than half: silent"),
        ] {
            let told = texts.iter().any(|text| text == meaning);
            let any = study
                .trackers
                .iter()
                .any(|t| t.along.stretches.iter().any(|s| format!("{:?}", s.hearing) == name));
            assert_eq!(told, any, "{}: {meaning}", site.name);
        }
        assert!(texts[0].ends_with("of beacons or more should get through"), "{texts:?}");
        assert!(!texts.iter().take(6).any(|text| text.contains('…')), "{texts:?}");
        drawn.extend(least.along.stretches.iter().map(|s| format!("{:?}", s.hearing)));
    }
    drawn
}

/// What keeps a digipeater off a site stands whole over its map, and no promise does.
#[test]
fn a_digipeater_beside_the_relay_is_promised_nothing() {
    let (_copy, opened) = weak();
    let plan = &opened.plan;
    let grid = opened.map_grid().unwrap();
    let relief = opened.terrain.hillshade().unwrap();
    let packet = plan.channels.iter().find(|c| plan.trackers_on(c).next().is_some()).unwrap();
    let layers = Layers { plan, terrain: &opened.terrain, relief: &relief, grid: &grid };
    let mut denied = 0;
    for site in &plan.sites {
        let kept_off: Vec<KeptOff<'_>> =
            KeptOff::of(&opened, packet, site).unwrap().into_iter().collect();
        let study = opened.trackers(packet, &[site], &AtomicBool::new(false)).unwrap();
        let provenance = &opened.provenance;
        let content = TrackerMap { layers, study: &study, kept_off: &kept_off, provenance };
        let drawing = trackers::draw_svg(&content).unwrap();
        let texts: Vec<String> = elements(&drawing, "text").into_iter().map(|(_, t)| t).collect();
        let begun = format!("NOT on {}: there ", site.name);
        let whole = texts.iter().any(|text| text.starts_with(&begun) && text.ends_with('.'));
        assert_eq!(whole, !kept_off.is_empty(), "{texts:?}");
        let promised = texts.iter().any(|text| text.contains("should get through"));
        assert_eq!(promised, kept_off.is_empty(), "{texts:?}");
        denied += kept_off.len();
    }
    assert!(denied == 1, "{denied} sites are denied");
}

/// The sample, and the town with houses and water.
fn both() -> [&'static Assessment; 2] {
    static TOWN: OnceLock<(support::live::Copy, Assessment)> = OnceLock::new();
    let (_, town) = TOWN.get_or_init(|| {
        let copy = support::live::copy("ferry-lights-town.toml", |text| text);
        let opened = Assessment::read(&copy.plan).unwrap();
        (copy, opened)
    });
    [assessment(), town]
}

/// What a map is drawn from: the shaded relief, and the coverage of the first site on the
/// first channel.
fn covered(opened: &Assessment) -> (ndarray::Array2<u8>, Arc<SiteMap>) {
    let grid = opened.map_grid().unwrap();
    let never = AtomicBool::new(false);
    let inputs = opened.rank_inputs(&grid, &|| (), &never);
    let (channel, site) = (&opened.plan.channels[0], &opened.plan.sites[0]);
    let made = opened.site_map(&inputs, channel, site).unwrap();
    (opened.terrain.hillshade().unwrap(), made)
}

fn map_of<'a>(
    opened: &'a Assessment,
    (relief, made): &'a (ndarray::Array2<u8>, Arc<SiteMap>),
) -> MapContent<'a> {
    MapContent::of(opened, relief, &opened.plan.channels[0].name, &made.score, &made.coverage)
}

/// Every map has the contours with their heights, the water and the roads of the plan's
/// files, its names of the ground, and says what they are.
#[test]
fn every_map_has_the_land_and_its_names() {
    let mut told = Vec::new();
    for opened in both() {
        let plan = &opened.plan;
        let ground = covered(opened);
        let content = map_of(opened, &ground);
        let grid = opened.map_grid().unwrap();
        let layers = Layers { plan, terrain: &opened.terrain, relief: &ground.0, grid: &grid };
        let packet = plan.channels.iter().find(|c| plan.trackers_on(c).next().is_some()).unwrap();
        let study = opened.trackers(packet, &[&plan.sites[0]], &AtomicBool::new(false)).unwrap();
        let tracked =
            TrackerMap { layers, study: &study, kept_off: &[], provenance: &opened.provenance };
        let file = plan.file.file_stem().unwrap().to_str().unwrap();
        keep(&format!("land-{file}.png"), &map::draw(&content).unwrap());
        let interval = layers.contour_interval().unwrap().value();
        for (kind, drawing) in [
            ("coverage", map::draw_svg(&content).unwrap()),
            ("trackers", trackers::draw_svg(&tracked).unwrap()),
        ] {
            let texts = elements(&drawing, "text");
            let heights: Vec<f64> = texts
                .iter()
                .filter(|(a, text)| a["font-size"] == "15" && text.parse::<f64>().is_ok())
                .map(|(_, text)| text.parse().unwrap())
                .collect();
            let (low, high) = opened.terrain.height_range().unwrap();
            assert!(heights.len() > 5, "{kind}: {heights:?}");
            for height in &heights {
                assert!((low.value()..=high.value()).contains(height), "{kind}: {height}");
                assert!((height / interval).fract().abs() < 1e-9, "{kind}: {height}");
            }
            let has = |wanted: &str| texts.iter().any(|(_, text)| text == wanted);
            assert!(has(&format!("Contours every {interval:.0} m")), "{kind}");
            assert_eq!(has("Road"), plan.search.roads.is_some(), "{kind}");
            assert_eq!(has("Open water"), opened.terrain.has_water(), "{kind}");
            told.push((has("Open water"), has("Road")));
            // Names are slanted and have a rim of paper; water has a tone of its own.
            let named: Vec<&(Attributes, String)> =
                texts.iter().filter(|(a, _)| a.contains_key("paint-order")).collect();
            assert!(named.len() >= 8, "{kind}: {named:?}");
            for (attributes, text) in named {
                let known = plan.place_names.as_ref().unwrap().found.names.iter();
                let own = known.clone().find(|name| name.name == *text);
                let own = own.unwrap_or_else(|| panic!("{kind}: {text} is no name of the plan"));
                assert_eq!(attributes["font-style"], "oblique");
                let is_water = own.kind == GroundKind::Water;
                assert_eq!(attributes["fill"] == "#3f6a88", is_water, "{kind}: {text}");
            }
            assert!(has("Ostler's Ferry") && has("River Lode"), "{kind}: {texts:?}");
        }
    }
    assert!(told.iter().any(|(water, _)| *water) && told.iter().any(|(_, road)| *road), "{told:?}");
}

/// The lines of the land leave the classes what they are: of each class most pixels of the
/// map keep their very colour, and in grey its lightness stays nearer to its own than half
/// way to the next class.
#[test]
fn the_land_leaves_the_classes_readable() {
    for opened in both() {
        let ground = covered(opened);
        let content = map_of(opened, &ground);
        let drawing = map::draw_svg(&content).unwrap();
        let drawn = image::load_from_memory(&map::draw(&content).unwrap()).unwrap().to_rgb8();
        // The classes alone are the first picture of the drawing.
        let (attributes, _) = elements(&drawing, "image").swap_remove(0);
        let data = attributes["href"].split_once("base64,").unwrap().1;
        let bytes = base64::Engine::decode(&base64::engine::general_purpose::STANDARD, data);
        let plain = image::load_from_memory(&bytes.unwrap()).unwrap().to_rgb8();
        let side = |name: &str| attributes[name].parse::<f64>().unwrap() as u32;
        let (left, top) = (side("x"), side("y"));
        let coverage = &ground.1.coverage;
        let grey = |pixel: &image::Rgb<u8>| Lab::from_rgb(pixel.0).lightness;
        let mut found: BTreeMap<Outcome, (f64, f64, f64, f64)> = BTreeMap::new();
        for (x, y, pixel) in plain.enumerate_pixels() {
            let cell = |at: u32, of: u32, cells: usize| {
                ((f64::from(at) + 0.5) / f64::from(of) * cells as f64) as usize
            };
            let (rows, columns) = coverage.outcome.dim();
            let at = (cell(y, plain.height(), rows), cell(x, plain.width(), columns));
            let shown = drawn.get_pixel(left + x, top + y);
            let sums = found.entry(coverage.outcome[at]).or_default();
            sums.0 += 1.0;
            sums.1 += f64::from(u8::from(shown == pixel));
            sums.2 += grey(pixel);
            sums.3 += grey(shown);
        }
        let light: Vec<(Outcome, f64, f64)> = found
            .iter()
            .filter(|(_, sums)| sums.0 > 20_000.0)
            .map(|(outcome, (count, kept, plain, shown))| {
                assert!(kept / count > 0.6, "{outcome:?} keeps {kept} of {count} pixels");
                (*outcome, plain / count, shown / count)
            })
            .collect();
        assert!(light.len() >= 4, "{light:?}");
        for (outcome, plain, shown) in &light {
            let others = light.iter().filter(|(other, ..)| other != outcome);
            let next = others.map(|(_, other, _)| (other - plain).abs()).fold(f64::MAX, f64::min);
            assert!((shown - plain).abs() < next / 2.0, "{outcome:?}: {light:?}");
        }
    }
}

/// Names of another place are on no map, and a remark says so; the plan's names that a map
/// has room for are on it, the others on none.
#[test]
fn names_of_another_place_are_told() {
    let elsewhere = support::live::copy("ferry-lights.toml", |text| {
        text.replace("place-names.geojson", "elsewhere.geojson")
    });
    let names = r#"{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"name": "Far Town"}, "geometry": {"type": "Point", "coordinates": [-30.0, 40.0]}}]}"#;
    fs::write(elsewhere.folder.path().join("elsewhere.geojson"), names).unwrap();
    let opened = Assessment::read(&elsewhere.plan).unwrap();
    let told = opened.remarks.iter().find(|remark| remark.about == "place_names: file").unwrap();
    assert!(told.text.starts_with("none of the 1 names of elsewhere.geojson"), "{}", told.text);
    let about = |remark: &perchline::plan::Remark| remark.about.starts_with("place_names");
    assert!(!assessment().remarks.iter().any(about));
}

/// With a grid in the plan every map and sheet has its lines with their numbers, and says
/// which square of 100 km they are in.
#[test]
fn the_grid_is_on_every_map() {
    let copy = support::live::copy("ferry-lights.toml", |text| {
        assert!(text.contains("[map]\n"));
        text.replace("[map]\n", "[map]\ngrid = \"utm\"\n")
    });
    let opened = Assessment::read(&copy.plan).unwrap();
    let plan = &opened.plan;
    let grid = opened.map_grid().unwrap();
    let ground = covered(&opened);
    let never = AtomicBool::new(false);
    let layers = Layers { plan, terrain: &opened.terrain, relief: &ground.0, grid: &grid };
    let packet = plan.channels.iter().find(|c| plan.trackers_on(c).next().is_some()).unwrap();
    let study = opened.trackers(packet, &[&plan.sites[0]], &never).unwrap();
    let asked = ChooseInputs { relays: 2, ..plan.choose };
    let chosen = opened.choice(&plan.channels[0], &asked, &grid, &|| {}, &never).unwrap();
    let provenance = &opened.provenance;
    for (kind, drawing) in [
        ("coverage", map::draw_svg(&map_of(&opened, &ground)).unwrap()),
        (
            "trackers",
            trackers::draw_svg(&TrackerMap { layers, study: &study, kept_off: &[], provenance })
                .unwrap(),
        ),
        ("choice", choice::draw_svg(&ChoiceMap { layers, choice: &chosen, provenance }).unwrap()),
    ] {
        let texts: Vec<String> = elements(&drawing, "text").into_iter().map(|(_, t)| t).collect();
        let square = texts.iter().any(|text| text.contains("square 25T "));
        assert!(square, "{kind}: {texts:?}");
        for number in ["53", "55", "06"] {
            assert!(texts.iter().any(|text| text == number), "{kind}: no line {number}: {texts:?}");
        }
    }
}

/// The picture of lines under a page has the plan's names of the ground too.
#[test]
fn a_page_shows_the_names_of_the_ground() {
    let opened = assessment();
    let grid = opened.map_grid().unwrap();
    let relief = opened.terrain.hillshade().unwrap();
    let mut unnamed = opened.plan.clone();
    unnamed.place_names = None;
    let pictures = [&opened.plan, &unnamed].map(|plan| {
        let layers = Layers { plan, terrain: &opened.terrain, relief: &relief, grid: &grid };
        let size = layers.size(1500).unwrap();
        let png = layers.lines(size).unwrap();
        keep("page-lines.png", &png);
        (layers.contours_shown(size), image::load_from_memory(&png).unwrap().to_rgba8())
    });
    let [(shown, named), (_, bare)] = &pictures;
    let differ = named.pixels().zip(bare.pixels()).filter(|(a, b)| a != b).count();
    assert!((3_000..100_000).contains(&differ), "{differ} pixels of names");
    // On a small picture the stronger contours stand alone, and that is told.
    let layers =
        Layers { plan: &opened.plan, terrain: &opened.terrain, relief: &relief, grid: &grid };
    assert_eq!(*shown, layers.contour_interval());
    let small = layers.contours_shown((600, 400)).unwrap();
    assert!((small.value() / layers.contour_interval().unwrap().value() - 5.0).abs() < 1e-9);
}
