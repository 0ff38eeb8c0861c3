//! The two budgets against a worked example by hand (docs/link.md).

use approx::assert_abs_diff_eq;
use perchline::link::{
    Budget, Direction, LinkBudgets, LinkModel, Loss, Margins, Outcome, PathLosses, Propagator,
    RoofNoise, Terminal, feed_loss,
};
use perchline::plan::{Band, Cable, Calibration, CarriedIn, Channel, Environment, FeedLine, Plan};
use perchline::propagation::clearance::TakeOff;
use perchline::propagation::{Model, Profile, free_space};
use perchline::units::{Db, Dbi, Degrees, Megahertz, Metres};

use crate::support::{changed, read_without_terrain, worked_head};

const PLACES: &str = r#"
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
    let method = "[prediction]\nmethod = \"free-space\"";
    read_without_terrain(&changed(&(worked_head() + PLACES), &[("[prediction]", method)]))
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
        clutter: None,
        roams: false,
        environment: plan.prediction.environment,
        roof_noise: RoofNoise::default(),
        measured_noise: None,
        extra_loss: None,
        cell: Metres::new(30.0),
    };
    LinkModel::new(plan, channel, &station, &carried)
}

/// Margins as a budget line by line adds up to them.
#[track_caller]
fn assert_same_margins(quick: &Margins, full: &LinkBudgets) {
    for (quick, full) in [
        (quick.talk_in_margin, full.talk_in.margin_db),
        (quick.talk_out_margin, full.talk_out.margin_db),
    ] {
        assert_abs_diff_eq!(quick.value(), full.value(), epsilon = 1e-9);
    }
}

fn five_kilometres(model: &LinkModel) -> PathLosses {
    let (input, output) = model.frequencies();
    let loss = |f: Megahertz| Loss {
        free_space: free_space::loss(f, Metres::new(5000.0)),
        diffraction: Db::new(0.0),
        leaves: Db::new(0.0),
        streets: Db::new(0.0),
        rows: Db::new(0.0),
        model: Model::Method("free-space"),
    };
    let level = Degrees::new(0.0);
    PathLosses {
        talk_in: loss(input),
        talk_out: loss(output),
        take_off: TakeOff { at_transmitter: level, at_receiver: level },
        woods: None,
        streets: None,
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
    assert_abs_diff_eq!(budget.noise.environment_dbm.value(), -124.75, epsilon = 0.01);
    assert_abs_diff_eq!(budget.noise.total_dbm.value(), -122.33, epsilon = 0.01);
    assert_abs_diff_eq!(budget.required_dbm.value(), -96.33, epsilon = 0.01);
    assert_abs_diff_eq!(budget.reliability_allowance_db.value(), 9.21, epsilon = 0.005);
    assert_abs_diff_eq!(budget.margin_db.value(), 24.10, epsilon = 0.02);
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
    assert_abs_diff_eq!(budget.noise.environment_dbm.value(), -127.20, epsilon = 0.01);
    assert_abs_diff_eq!(budget.noise.total_dbm.value(), -123.57, epsilon = 0.01);
    assert_abs_diff_eq!(budget.required_dbm.value(), -97.57, epsilon = 0.01);
    assert_abs_diff_eq!(budget.margin_db.value(), 32.37, epsilon = 0.02);
}

/// What docs/link.md says a city costs the radios of the worked example. By
/// hand: 4.06 dB over residential with the sky, then added to the receiver's -126.03 dBm.
#[test]
fn a_city_costs_what_the_docs_say() {
    let mut plan = example();
    plan.prediction.environment = Environment::City;
    let model = model(&plan);
    let budgets = model.budgets(&five_kilometres(&model));
    for (name, budget, by_hand) in [
        ("city_noise_cost_relay_db", &budgets.talk_in, 6.45),
        ("city_noise_cost_hand_held_db", &budgets.talk_out, 4.69),
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
        assert_same_margins(&quick, &full);
        assert_abs_diff_eq!(
            quick.talk_out_signal.value(),
            full.talk_out.signal_dbm.value(),
            epsilon = 1e-9
        );
        assert_eq!(model.outcome(&quick), full.outcome);
    }
}

/// A relay with five times the power talks out further than it hears: common
/// practice, no source. The limiting direction must govern and be named.
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

/// The classes as docs/link.md words them, at their very bounds.
#[test]
fn an_outcome_begins_at_its_bound() {
    let (none, under) = (Db::new(0.0), Db::new(-0.001));
    for (probability, better, outcome) in [
        (0.99, none, Outcome::Strong),
        (0.989_999, none, Outcome::Clear),
        (0.95, none, Outcome::Clear),
        (0.949_999, none, Outcome::Patchy),
        (0.5, none, Outcome::Patchy),
        (0.499_999, none, Outcome::OneWay),
        (0.499_999, under, Outcome::NoContact),
        (0.0, none, Outcome::OneWay),
    ] {
        assert_eq!(Outcome::of(probability, better, 0.95), outcome, "{probability} {better}");
    }
    // Where more than 99 of 100 are wanted whatever is clear is strong.
    assert_eq!(Outcome::of(0.995, none, 0.999), Outcome::Patchy);
    assert_eq!(Outcome::of(0.999, none, 0.999), Outcome::Strong);
    // The least probability of a class is in it, and no class works below.
    for outcome in Outcome::ALL {
        for reliability in [0.8, 0.95, 0.999] {
            if let Some(least) = outcome.from_probability(reliability) {
                let of = Outcome::of(least, none, reliability);
                assert_eq!(of.from_probability(reliability), Some(least), "{outcome:?}");
                assert!(of >= outcome);
                assert!(Outcome::of(least - 1e-9, none, reliability) < of);
            }
        }
        let decided = matches!(outcome, Outcome::Patchy | Outcome::Clear | Outcome::Strong);
        assert_eq!(outcome.from_probability(0.95).is_some(), decided, "{outcome:?}");
        assert_eq!(outcome.works(), matches!(outcome, Outcome::Clear | Outcome::Strong));
    }
}

/// A margin of nothing is the wanted level, the wanted share and what the table
/// for maps gives, whichever way one asks.
#[test]
fn the_wanted_level_is_where_the_margin_ends() {
    let plan = example();
    let model = model(&plan);
    let mut path = five_kilometres(&model);
    let spare = model.assess(&path);
    path.talk_out.diffraction = spare.talk_out_margin;
    let there = model.assess(&path);
    assert_abs_diff_eq!(there.talk_out_margin.value(), 0.0, epsilon = 1e-9);
    assert_abs_diff_eq!(
        there.talk_out_signal.value(),
        model.talk_out_wanted().value(),
        epsilon = 1e-9
    );
    assert_eq!((model.reliability(), plan.prediction.reliability), (0.95, 0.95));
    assert_eq!(model.allowance(), model.spread().allowance(0.95));
    assert_eq!(there.governing_margin(), there.talk_out_margin);
    // Talk-in, 25 dB better, fails nowhere else: the wanted share of 95 %.
    assert_abs_diff_eq!(model.probability(&there), 0.95, epsilon = 1e-4);
    assert_eq!(model.budgets(&path).governing, Direction::TalkOut);
    // Just as weak both ways: some spots fail for one of the two alone.
    path.talk_in.diffraction = model.assess(&path).talk_in_margin;
    let there = model.assess(&path);
    let level = model.budgets(&path);
    assert!((0.91..0.94).contains(&level.probability), "{}", level.probability);
    let margins = (there.talk_in_margin.value() as f32, there.talk_out_margin.value() as f32);
    let (by_table, outcome) = model.chances().of(margins.0, margins.1);
    assert_abs_diff_eq!(f64::from(by_table), level.probability, epsilon = 1e-4);
    assert_eq!((outcome, level.outcome), (Outcome::Patchy, Outcome::Patchy));
    let (talk_in, talk_out) = (level.talk_in.margin_db, level.talk_out.margin_db);
    assert_abs_diff_eq!(talk_in.value(), talk_out.value(), epsilon = 1e-9);
    assert!(level.missing_db > Db::new(0.0) && level.missing_db < Db::new(3.0));
    assert_abs_diff_eq!(
        level.talk_in.over_needed().value(),
        model.allowance().value(),
        epsilon = 1e-9
    );
}

/// Over level ground of 5 km: the quick form over a profile is the budget over
/// the losses of that profile.
#[test]
fn a_profile_comes_to_the_same_as_its_losses() {
    let plan = example();
    let model = model(&plan);
    let ground = Profile::new(vec![0.0, 2500.0, 5000.0], vec![30.0, 20.0, 30.0]).unwrap();
    let propagator = Propagator::new(&plan.prediction);
    let (station, carried) = (model.station().antenna, model.carried().antenna);
    assert_eq!((station, carried), (Metres::new(17.0), Metres::new(1.4)));
    let losses = propagator.losses(&ground, station, carried, model.frequencies());
    let over = model.assess_over(&propagator, &ground, plan.posts[0].at);
    assert_eq!(over, model.assess(&losses));
    let by_hand = five_kilometres(&model).talk_in.total();
    assert_abs_diff_eq!(losses.talk_in.total().value(), by_hand.value(), epsilon = 1e-3);
}

/// Leaves are a line of their own, with their depth; where they cost nothing
/// there is none.
#[test]
fn leaves_are_a_line_of_the_budget() {
    let plan = example();
    let model = model(&plan);
    let mut path = five_kilometres(&model);
    let bare = model.budgets(&path).talk_out;
    path.woods = Some(Metres::new(80.0));
    assert_eq!(model.budgets(&path).talk_out.lines, bare.lines);
    path.talk_out.leaves = Db::new(3.5);
    let leafy = model.budgets(&path).talk_out;
    let lines: Vec<_> = leafy.lines.iter().filter(|l| l.label.contains("leaves")).collect();
    let [line] = lines.as_slice() else { panic!("{:?}", leafy.lines) };
    assert_eq!((line.label.as_str(), line.change_db), ("80 m of leaves (P.833)", Db::new(-3.5)));
    assert_abs_diff_eq!((bare.margin_db - leafy.margin_db).value(), 3.5, epsilon = 1e-9);
    let beyond = path.talk_out.beyond_free_space() + path.talk_out.free_space;
    assert_eq!(path.talk_out.total(), beyond);
    assert_eq!(path.talk_out.beyond_free_space(), Db::new(3.5));
}

/// What was learned of this environment is added both ways, what was learned
/// of a body taken; nothing is written where nothing was learned.
#[test]
fn what_was_learned_is_a_line_each() {
    let mut plan = example();
    let path = five_kilometres(&model(&plan));
    let before = model(&plan).budgets(&path);
    let mut offsets = [Db::new(0.0); 5];
    offsets[CarriedIn::Open(Environment::Residential).index()] = Db::new(-4.0);
    let bodies = [Db::new(9.0), Db::new(2.5), Db::new(9.0)];
    let learned = |offsets, bodies| Some(Calibration { offsets, bodies, model_error: None });
    plan.prediction.calibration = learned(offsets, bodies);
    let after = model(&plan).budgets(&path);
    for (before, after) in [(&before.talk_in, &after.talk_in), (&before.talk_out, &after.talk_out)]
    {
        let lines: Vec<_> = after.lines.iter().filter(|l| l.label.starts_with("learned")).collect();
        let mut changes: Vec<_> = lines.iter().map(|l| (&*l.label, l.change_db.value())).collect();
        changes.sort_by_key(|(label, _)| *label);
        let body = "learned: radios worn at the shoulder";
        assert_eq!(changes, [(body, -2.5), ("learned: this environment", -4.0)]);
        assert_abs_diff_eq!((before.margin_db - after.margin_db).value(), 6.5, epsilon = 1e-9);
        assert_eq!(after.lines.len(), before.lines.len() + 2);
    }
    plan.prediction.calibration = learned([Db::new(0.0); 5], [Db::new(0.0); 3]);
    assert_eq!(model(&plan).budgets(&path), before);
    // A loss that the plan states is the plan's, whatever was learned of others.
    plan.prediction.calibration = learned([Db::new(0.0); 5], bodies);
    plan.radios[0].body_loss = Some(Db::new(7.0));
    plan.radios[1].body_loss = Some(Db::new(7.0));
    let stated = model(&plan).budgets(&path);
    assert!(stated.talk_in.lines.iter().all(|l| !l.label.starts_with("learned")));
}

/// A line says which cable it is and how long, and costs what the cable does;
/// a line that costs nothing is left out. RG-213: 6.4 dB a 100 m at 100 MHz
/// (typical, from memory).
#[test]
fn a_cable_is_named_in_the_budget() {
    let mut plan = example();
    let path = five_kilometres(&model(&plan));
    let cable = Cable::named("RG-213").unwrap();
    let relay = plan.radios.iter().position(|r| r.name == "relay").unwrap();
    plan.radios[relay].feed_line = FeedLine::Cable { cable, length: Metres::new(10.0) };
    let loss = feed_loss(&plan.radios[relay], Megahertz::new(100.0));
    assert_abs_diff_eq!(loss.value(), 0.64, epsilon = 0.01);
    let budget = model(&plan).budgets(&path).talk_out;
    let line = &budget.lines[0];
    assert_eq!(line.label, "feed line, 10.0 m of RG-213");
    let at_147 = cable.loss(Metres::new(10.0), Megahertz::new(147.0));
    assert_eq!(line.change_db, -at_147);
    plan.radios[relay].feed_line = FeedLine::None;
    plan.radios[relay].filter_loss = Db::new(0.0);
    let bare = model(&plan).budgets(&path).talk_out;
    assert!(bare.lines[0].label.starts_with("antenna, "), "{:?}", bare.lines);
    assert_abs_diff_eq!(
        (bare.margin_db - budget.margin_db).value(),
        at_147.value() + 1.5,
        epsilon = 1e-9
    );
}

/// What an antenna wastes against a dipole lessens the noise from outside too;
/// what it gains does not add to it (ITU-R P.372 section 2, factor lc).
#[test]
fn a_short_antenna_hears_less_noise_and_a_long_one_no_more() {
    let mut plan = example();
    let path = five_kilometres(&model(&plan));
    let mut heard = |over_dipole: f64| {
        let gain = Dbi::new(2.15 + over_dipole);
        plan.radios.iter_mut().for_each(|radio| radio.antenna.gain = gain);
        model(&plan).budgets(&path).talk_out.noise.environment_dbm.value()
    };
    let dipole = heard(0.0);
    assert_abs_diff_eq!(heard(-5.0), dipole - 5.0, epsilon = 1e-6);
    assert_abs_diff_eq!(heard(3.0), dipole, epsilon = 1e-6);
}

/// A relay that hears in one band and sends in another: by hand, the budget of
/// talk-in has the gains and the body loss of the first, that of talk-out those of
/// the second.
#[test]
fn each_direction_has_the_antenna_of_its_own_band() {
    let plan = example();
    let before = model(&plan).budgets(&five_kilometres(&model(&plan)));
    let mut banded = plan.clone();
    let (input, output) = model(&plan).frequencies();
    assert!(output < input, "the relay's output is the lower one");
    let middle = Megahertz::new(0.5 * (input.value() + output.value()));
    for (name, over_dipole, body_loss) in [("hand-held", -1.0, Some(2.0)), ("relay", 3.0, None)] {
        let radio = banded.radios.iter_mut().find(|radio| radio.name == name).unwrap();
        radio.bands = vec![Band {
            from: output,
            to: middle,
            gain: Some(Dbi::new(2.15 + over_dipole)),
            body_loss: body_loss.map(Db::new),
        }];
    }
    let model = model(&banded);
    let after = model.budgets(&five_kilometres(&model));
    assert_eq!(after.talk_in.lines, before.talk_in.lines);
    let gain = |budget: &Budget, name: &str| {
        let label = format!("antenna, {name}");
        budget.lines.iter().find(|line| line.label == label).unwrap().change_db.value()
    };
    assert_abs_diff_eq!(gain(&after.talk_out, "hand-held"), 1.15, epsilon = 1e-9);
    assert_abs_diff_eq!(gain(&after.talk_out, "Roof"), 5.15, epsilon = 1e-9);
    let body = after.talk_out.lines.iter().find(|l| l.label.starts_with("body")).unwrap();
    assert_abs_diff_eq!(body.change_db.value(), -2.0, epsilon = 1e-9);
    // What is assessed is what the budget adds up to.
    assert_same_margins(&model.assess(&five_kilometres(&model)), &after);
}
