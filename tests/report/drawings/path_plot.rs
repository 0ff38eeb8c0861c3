use perchline::link::{End, Outcome, PathStudy};
use perchline::plan::{Service, UnitSystem};
use perchline::propagation::clearance::TakeOff;
use perchline::propagation::{Edge, EffectiveEarth, Profile};
use perchline::report::answers::Against;
use perchline::report::path_plot::{self, PathPlot};
use perchline::units::{Db, Degrees, Megahertz, Metres};

use super::town::{budgets, keep, position, provenance};

/// A link over `hills` hills on the way down from a roof.
fn study(length: f64, hills: usize, outcome: Outcome, margin: f64) -> PathStudy {
    let points = 400;
    let distance: Vec<f64> =
        (0..=points).map(|i| length * f64::from(i) / f64::from(points)).collect();
    let tops: Vec<(f64, f64)> = (0..hills)
        .map(|i| (length * (0.25 + 0.6 * i as f64 / hills.max(1) as f64), 70.0 + 25.0 * i as f64))
        .collect();
    let height: Vec<f64> = distance
        .iter()
        .map(|d| {
            let hill = |(at, top): &(f64, f64)| top * (-((d - at) / (0.07 * length)).powi(2)).exp();
            20.0 + 4.0 * (d / length * 40.0).sin() + tops.iter().map(hill).sum::<f64>()
        })
        .collect();
    let edges = tops
        .iter()
        .map(|(at, top)| Edge {
            distance: Metres::new(*at),
            height: Metres::new(20.0 + top),
            nu: 1.37,
            loss: Db::new(16.2),
        })
        .collect();
    let (from, to) = (position(36.15, -33.01), position(36.17, -32.95));
    let end = |name: &str, at, ground: f64, antenna: f64| End {
        name: name.to_owned(),
        at,
        ground: Metres::new(ground),
        antenna: Metres::new(antenna),
    };
    PathStudy {
        from: end("Grain elevator", from, *height.first().unwrap(), 41.0),
        to: end("Back of the ridge", to, *height.last().unwrap(), 1.0),
        channel: "Event net".to_owned(),
        service: Service::Relay {
            input: Megahertz::new(147.9),
            output: Megahertz::new(147.3),
            station: 0,
        },
        method: "three-edge",
        distance: Metres::new(length),
        bearing: from.bearing(to),
        profile: Profile::new(distance, height).unwrap(),
        earth: EffectiveEarth::default(),
        clearance: None,
        take_off: TakeOff { at_transmitter: Degrees::new(0.1), at_receiver: Degrees::new(2.0) },
        edges,
        free_space: Db::new(92.0),
        diffraction: Db::new(22.0),
        leaves: Db::new(0.0),
        woods: None,
        obstacle_gain: None,
        budgets: budgets(outcome, margin),
    }
}

fn svg(study: &PathStudy, units: UnitSystem) -> String {
    path_plot::draw_svg(&PathPlot {
        study,
        against: &Against::default(),
        units,
        provenance: &provenance(),
    })
}

fn png(study: &PathStudy, units: UnitSystem) -> Vec<u8> {
    path_plot::draw(&PathPlot {
        study,
        against: &Against::default(),
        units,
        provenance: &provenance(),
    })
    .unwrap()
}

#[test]
fn a_link_behind_a_hill_is_drawn() {
    let study = study(5_640.0, 2, Outcome::Patchy, -3.4);
    keep("path-two-edges.png", &png(&study, UnitSystem::Metric));
}

/// Texts of a drawing, in the order drawn.
fn texts(study: &PathStudy, units: UnitSystem) -> Vec<String> {
    svg(study, units)
        .split("<text")
        .skip(1)
        .filter_map(|t| Some(t.split_once('>')?.1.split_once("</text")?.0.trim().to_owned()))
        .collect()
}

#[test]
fn the_plot_says_which_way_is_weaker_and_by_how_much() {
    let words = texts(&study(5_640.0, 2, Outcome::Patchy, -3.4), UnitSystem::Metric);
    for wanted in [
        "Both ways: falls short, 79 of 100 spots, 95 wanted. Limiting direction: talk-in (Back of the \
         ridge to Grain elevator), margin -3.4 dB.",
        "147.900 MHz · the limiting direction",
        "Margin: short by, dB",
        "−3.4",
        "Edge 2",
        "first Fresnel zone at 147.300 MHz",
    ] {
        assert!(words.iter().any(|w| w == wanted), "{wanted} is missing: {words:#?}");
    }
}

/// As on maps: the last line, whole, below the caveats and above the edge.
#[test]
fn the_plot_says_what_made_it() {
    let study = study(5_640.0, 2, Outcome::Patchy, -3.4);
    let mut made = provenance();
    for (inputs, lines) in [(1, 1), (40, 7)] {
        made.inputs.resize(inputs, made.inputs[0].clone());
        let content = PathPlot {
            study: &study,
            against: &Against::default(),
            units: UnitSystem::Metric,
            provenance: &made,
        };
        let drawing = path_plot::draw_svg(&content);
        let number = |text: &str, name: &str| {
            let (_, rest) = text.split_once(&format!(" {name}=\"")).unwrap();
            rest.split_once('"').unwrap().0.parse::<f64>().unwrap()
        };
        let height = number(drawing.split_once("<svg").unwrap().1, "height");
        // The name of the axis of heights is turned and has no y.
        let has_y = |text: &&str| text.split_once('>').unwrap().0.contains(" y=");
        let mut texts: Vec<&str> = drawing.split("<text").skip(1).filter(has_y).collect();
        texts.sort_by(|a, b| number(a, "y").total_cmp(&number(b, "y")));
        let said: Vec<&str> = texts
            .iter()
            .map(|t| t.split_once('>').unwrap().1.split_once("</text").unwrap().0.trim())
            .collect();
        let first = said.iter().position(|text| text.starts_with("Made ")).unwrap();
        assert_eq!(said[first..].join(" "), made.line());
        assert_eq!(said.len() - first, lines);
        let caveats = said.iter().position(|text| text.ends_with("receiver's input.")).unwrap();
        assert!(number(texts[caveats], "y") + 20.0 <= number(texts[first], "y"), "{drawing}");
        assert!(number(texts[said.len() - 1], "y") <= height - 20.0);
    }
}

/// Bulge in the middle: d squared over 8a, a = 4/3 of 6371 km; 40 km give 23.5 m
/// (ITU-R P.526 section 4, the height of the earth's curve over the chord).
#[test]
fn a_long_link_shows_the_curve_of_the_earth() {
    let study = study(40_000.0, 1, Outcome::NoContact, -31.0);
    keep("path-long.png", &png(&study, UnitSystem::Metric));
    let words = texts(&study, UnitSystem::Metric);
    let key = "ground, lifted by the earth's curve at k = 1.33: 23.5 m in the middle";
    assert!(words.iter().any(|w| w == key), "{words:#?}");
}

#[test]
fn a_clear_link_in_feet_and_miles_is_drawn() {
    let study = study(3_000.0, 0, Outcome::Strong, 14.0);
    keep("path-clear-us.png", &png(&study, UnitSystem::Us));
    let words = texts(&study, UnitSystem::Us);
    assert!(words.iter().any(|w| w == "The method counted no edge on this path."));
    assert!(
        words.iter().any(|w| w.ends_with("miles")) && !words.iter().any(|w| w.ends_with(" km"))
    );
}

#[test]
fn many_edges_and_hostile_names_keep_their_places() {
    let mut study = study(12_000.0, 9, Outcome::OneWay, -12.0);
    study.from.name = "<b>Roof</b> & stairs of the old ".repeat(5);
    study.to.name = "\u{202e}x\0".to_owned();
    keep("path-many-edges.png", &png(&study, UnitSystem::Metric));
    let drawing = svg(&study, UnitSystem::Metric);
    assert!(!drawing.contains("<b>") && !drawing.contains('\0'));
    assert!(texts(&study, UnitSystem::Metric).iter().any(|w| w == "Edge 9"));
}

#[test]
fn the_shortest_profile_is_drawn() {
    let mut study = study(100.0, 0, Outcome::Strong, 40.0);
    study.profile = Profile::new(vec![0.0, 12.0], vec![5.0, 5.0]).unwrap();
    study.distance = Metres::new(12.0);
    keep("path-short.png", &png(&study, UnitSystem::Metric));
}
