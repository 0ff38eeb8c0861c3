//! The two budgets against a worked example by hand (docs/link.md).

use approx::assert_abs_diff_eq;
use perchline::link::{Direction, LinkModel, Loss, Outcome, PathLosses, Terminal};
use perchline::plan::{self, Channel, Environment, Plan};
use perchline::propagation::clearance::TakeOff;
use perchline::propagation::{Model, free_space};
use perchline::units::{Db, Degrees, Megahertz, Metres};

const PLAN: &str = r#"
[event]
name = "Worked example"
starts = 2026-12-05T16:30:00
ends = 2026-12-05T20:30:00
time_zone = "UTC"
[terrain]
files = ["none.tif"]
[prediction]
method = "free-space"
audio_quality = "3.4"
environment = "residential"
[[radio]]
name = "hand-held"
power = "5 W"
antenna = { gain = "-5 dBd", pattern = "dipole" }
sensitivity = "0.25 uV"
bandwidth = "12.5 kHz"
carry = "shoulder"
[[radio]]
name = "relay"
power = "25 W"
antenna = { gain = "0 dBd", pattern = "dipole" }
feed_line = { loss = "1 dB" }
filter_loss = "1.5 dB"
sensitivity = "0.25 uV"
bandwidth = "12.5 kHz"
[[channel]]
name = "Event"
kind = "relay"
input = "147.6 MHz"
output = "147.0 MHz"
station = "relay"
carried = "hand-held"
[[post]]
name = "Post"
at = "47.0, -34.9"
[[site]]
name = "Roof"
at = "47.04, -34.9"
roof = "14 m above ground"
mast = "3 m"
"#;

fn example() -> Plan {
    let folder = tempfile::tempdir().unwrap();
    // The reader wants the file to be there; these budgets do without its heights.
    std::fs::write(folder.path().join("none.tif"), "").unwrap();
    let file = folder.path().join("plan.toml");
    std::fs::write(&file, PLAN).unwrap();
    plan::read(&file, &["free-space"]).unwrap()
}

fn model(plan: &Plan) -> LinkModel {
    let channel: &Channel = &plan.channels[0];
    let site = &plan.sites[0];
    let carried = Terminal::anywhere(plan, channel, None, plan.posts[0].at);
    let relay = plan.radios.iter().find(|r| r.name == "relay").unwrap();
    let station = Terminal {
        name: site.name.clone(),
        at: site.at,
        ground: Metres::new(0.0),
        antenna: Metres::new(17.0),
        radio: relay.clone(),
        carry: None,
        indoors: None,
        environment: plan.prediction.environment,
        roof_noise: None,
        cell: Metres::new(30.0),
    };
    LinkModel::new(plan, channel, &station, &carried)
}

fn five_kilometres(model: &LinkModel) -> PathLosses {
    let (input, output) = model.frequencies();
    let loss = |f: Megahertz| Loss {
        free_space: free_space::loss(f, Metres::new(5000.0)),
        diffraction: Db::new(0.0),
        leaves: Db::new(0.0),
        model: Model::Method("free-space"),
    };
    let level = Degrees::new(0.0);
    PathLosses {
        talk_in: loss(input),
        talk_out: loss(output),
        take_off: TakeOff { at_transmitter: level, at_receiver: level },
        woods: None,
    }
}

/// Source: the table of docs/link.md, added up by hand.
#[test]
fn talk_in_follows_the_worked_example() {
    let plan = example();
    let model = model(&plan);
    let budgets = model.budgets(&five_kilometres(&model));
    let budget = &budgets.talk_in;
    assert_eq!(budget.direction, Direction::TalkIn);
    assert_abs_diff_eq!(budget.power_dbm.value(), 36.99, epsilon = 0.005);
    let levels: Vec<f64> = budget.lines.iter().map(|l| l.level_dbm.value()).collect();
    for (found, by_hand) in
        levels.iter().zip([29.99, 27.14, -62.67, -62.67, -60.52, -61.52, -63.02])
    {
        assert_abs_diff_eq!(*found, by_hand, epsilon = 0.015);
    }
    assert_eq!(levels.len(), 7);
    assert_abs_diff_eq!(budget.noise.receiver_dbm.value(), -126.03, epsilon = 0.01);
    assert_abs_diff_eq!(budget.noise.environment_dbm.value(), -125.14, epsilon = 0.01);
    assert_abs_diff_eq!(budget.noise.total_dbm.value(), -122.55, epsilon = 0.01);
    assert_abs_diff_eq!(budget.required_dbm.value(), -96.55, epsilon = 0.01);
    assert_abs_diff_eq!(budget.reliability_allowance_db.value(), 9.21, epsilon = 0.005);
    assert_abs_diff_eq!(budget.margin_db.value(), 24.32, epsilon = 0.02);
    assert_eq!(budgets.outcome, Outcome::Strong);
}

/// Source: the second table of docs/link.md, added up by hand.
#[test]
fn talk_out_follows_the_worked_example() {
    let plan = example();
    let model = model(&plan);
    let budgets = model.budgets(&five_kilometres(&model));
    let budget = &budgets.talk_out;
    assert_eq!(budget.direction, Direction::TalkOut);
    assert_eq!(budget.frequency_mhz, Megahertz::new(147.0));
    assert_abs_diff_eq!(budget.power_dbm.value(), 43.98, epsilon = 0.005);
    let levels: Vec<f64> = budget.lines.iter().map(|l| l.level_dbm.value()).collect();
    for (found, by_hand) in levels.iter().zip([42.98, 41.48, 43.63, -46.14, -46.14, -48.99, -55.99])
    {
        assert_abs_diff_eq!(*found, by_hand, epsilon = 0.015);
    }
    assert_eq!(levels.len(), 7);
    assert_abs_diff_eq!(budget.noise.receiver_dbm.value(), -126.03, epsilon = 0.01);
    assert_abs_diff_eq!(budget.noise.environment_dbm.value(), -127.59, epsilon = 0.01);
    assert_abs_diff_eq!(budget.noise.total_dbm.value(), -123.73, epsilon = 0.01);
    assert_abs_diff_eq!(budget.required_dbm.value(), -97.73, epsilon = 0.01);
    assert_abs_diff_eq!(budget.margin_db.value(), 32.53, epsilon = 0.02);
}

/// What docs/link.md says a city costs the radios of the worked example. By
/// hand: 4.3 dB over residential, then added to the receiver's -126.03 dBm.
#[test]
fn a_city_costs_what_the_docs_say() {
    let mut plan = example();
    plan.prediction.environment = Environment::City;
    let model = model(&plan);
    let budgets = model.budgets(&five_kilometres(&model));
    for (name, budget, by_hand) in [
        ("city_noise_cost_relay_db", &budgets.talk_in, 6.34),
        ("city_noise_cost_hand_held_db", &budgets.talk_out, 4.59),
    ] {
        let cost = budget.noise.environment_cost_db.value();
        println!("\nfigure {name} {cost:.2} dB");
        assert_abs_diff_eq!(cost, by_hand, epsilon = 0.01);
    }
}

#[test]
fn the_quick_form_and_the_budget_agree() {
    let plan = example();
    let model = model(&plan);
    let mut path = five_kilometres(&model);
    for extra in [0.0, 12.5, 24.0, 31.0, 60.0] {
        path.talk_in.diffraction = Db::new(extra);
        path.talk_out.diffraction = Db::new(extra * 0.9);
        let quick = model.assess(&path);
        let full = model.budgets(&path);
        assert_abs_diff_eq!(
            quick.talk_in_margin.value(),
            full.talk_in.margin_db.value(),
            epsilon = 1e-9
        );
        assert_abs_diff_eq!(
            quick.talk_out_margin.value(),
            full.talk_out.margin_db.value(),
            epsilon = 1e-9
        );
        assert_abs_diff_eq!(
            quick.talk_out_signal.value(),
            full.talk_out.signal_dbm.value(),
            epsilon = 1e-9
        );
        assert_eq!(model.outcome(&quick), full.outcome);
    }
}

/// A relay with five times the power talks out further than it hears: common
/// practice, no source. The weaker way must govern and be named.
#[test]
fn the_weaker_way_governs() {
    let plan = example();
    let model = model(&plan);
    let budgets = model.budgets(&five_kilometres(&model));
    let lower = budgets.talk_in.margin_db.min(budgets.talk_out.margin_db);
    assert_eq!(budgets.governing_budget().margin_db, lower);
    assert_eq!(budgets.governing, Direction::TalkIn);
}

/// At the median level exactly half of the spots work, by definition.
#[test]
fn half_of_the_spots_work_at_the_required_level() {
    let plan = example();
    let model = model(&plan);
    let mut path = five_kilometres(&model);
    let spare = model.budgets(&path).talk_in;
    path.talk_in.diffraction = spare.margin_db + spare.reliability_allowance_db;
    let budget = model.budgets(&path).talk_in;
    assert_abs_diff_eq!(budget.share_of_locations, 0.5, epsilon = 1e-6);
    path.talk_in.diffraction = spare.margin_db;
    let budget = model.budgets(&path).talk_in;
    assert_abs_diff_eq!(budget.share_of_locations, 0.95, epsilon = 1e-6);
    assert_abs_diff_eq!(budget.margin_db.value(), 0.0, epsilon = 1e-9);
}
