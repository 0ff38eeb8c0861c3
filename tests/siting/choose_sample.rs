//! The best set of sites on the sample and on small plans: the same as a
//! ranking for one relay, the same on any number of threads, and never a silent
//! empty answer.

use std::fs;
use std::path::Path;
use std::sync::atomic::AtomicBool;

use crate::support::{PLAN, open_plan, perchline_long, printed, said, write_plan_raster};
use approx::assert_abs_diff_eq;
use perchline::link::Propagator;
use perchline::plan::{Channel, ChooseInputs, Plan, Radio, RelayLink, Service};
use perchline::power::sharing::link_on_roof;
use perchline::siting::choose::{Choice, ChooseError, Inputs, Matrix, choose};
use perchline::siting::demand::{Demand, Kind};
use perchline::siting::{Keep, RankInputs, rank};
use perchline::terrain::Terrain;
use perchline::units::{Db, Dbm, Megahertz, Metres};
use serde_json::Value;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");
const TOWN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights-town.toml");

fn chosen(plan: &Plan, terrain: &Terrain, asked: &ChooseInputs) -> Choice {
    tried(plan, terrain, asked).unwrap()
}

fn tried(plan: &Plan, terrain: &Terrain, asked: &ChooseInputs) -> Result<Choice, ChooseError> {
    let inputs = Inputs {
        plan,
        terrain,
        propagator: &Propagator::new(&plan.prediction),
        demand: &Demand::of(plan, terrain),
        site_done: &|| {},
        stop: &AtomicBool::new(false),
    };
    choose(&inputs, plan.channels.first().unwrap(), asked, None)
}

/// Both count posts, areas and routes alike, each by its own code; in the town
/// with a post indoors, whose spread is wider, and routes that cut corners of
/// houses.
#[test]
fn for_one_relay_the_choice_is_the_first_of_the_ranking() {
    for plan in [SAMPLE, TOWN] {
        choice_and_ranking_agree(open_plan(Path::new(plan)));
    }
}

fn choice_and_ranking_agree((plan, terrain): (Plan, Terrain)) {
    let asked = ChooseInputs { relays: 1, digipeater: false, ..ChooseInputs::default() };
    let choice = chosen(&plan, &terrain, &asked);
    let inputs = RankInputs {
        plan: &plan,
        terrain: &terrain,
        propagator: &Propagator::new(&plan.prediction),
        demand: &Demand::of(&plan, &terrain),
        grid: &terrain.grid().coarser(Metres::new(2000.0)).unwrap(),
        row_done: &|| {},
        stop: &AtomicBool::new(false),
    };
    let (ranking, _) = rank(&inputs, plan.channels.first().unwrap(), Keep::None).unwrap();
    let [first, second, ..] = ranking.sites.as_slice() else { panic!("{ranking:?}") };
    // Only a site that keeps the must-have posts can come second.
    assert_eq!(choice.runner_up.is_some(), second.must_posts_met);
    let second = choice.runner_up.as_ref().map(|set| (second, set));
    for (site, set) in [(first, &choice.first)].into_iter().chain(second) {
        assert_eq!(set.sites, std::slice::from_ref(&site.site));
        assert_abs_diff_eq!(set.weighted_probability, site.weighted_probability, epsilon = 1e-12);
        assert_eq!(set.posts_covered, site.posts_covered);
    }
    // A post's only relay is its first; its margin is that of the ranking.
    for (sector, post) in choice.sectors.posts.iter().zip(&first.posts) {
        let duty = sector.first.as_ref().unwrap();
        assert_abs_diff_eq!(
            duty.governing_margin_db.value(),
            post.governing_margin_db.unwrap().value(),
            epsilon = 1e-4
        );
        assert_eq!((duty.outcome, &sector.reserve), (post.outcome, &None));
    }
}

/// A link between two masts does not know which one the plan names first: loss
/// is the same both ways, and equal stations send and hear alike. The two
/// frequencies change places, by half a percent.
#[test]
fn a_link_from_roof_to_roof_is_the_same_from_either_end() {
    let (plan, terrain) = open_plan(Path::new(SAMPLE));
    let asked = ChooseInputs { relays: 4, linked: true, digipeater: false, ..plan.choose };
    let asked = ChooseInputs { locked_doors: None, total_mast: None, ..asked };
    let mut compared = 0;
    // Of all sites, and without each of the best ones: more links than one.
    for left_out in [None, Some("Hospital"), Some("Ridge overlook")] {
        let mut plan = plan.clone();
        for site in &mut plan.sites {
            site.available &= left_out != Some(site.name.as_str());
        }
        let forth = chosen(&plan, &terrain, &asked);
        plan.sites.reverse();
        let back = chosen(&plan, &terrain, &asked);
        compared += forth.links.len();
        for link in &forth.links {
            let same =
                back.links.iter().find(|l| (&l.to, &l.from) == (&link.from, &link.to)).unwrap();
            let margin = |link: &perchline::siting::choose::SiteLink| {
                link.governing_margin_db.unwrap().value()
            };
            assert_abs_diff_eq!(margin(link), margin(same), epsilon = 0.3);
            assert_eq!(link.outcome, same.outcome);
        }
        // And the choice itself does not know the plan's order either.
        let sorted = |choice: &Choice| {
            let mut sites = choice.first.sites.clone();
            sites.sort();
            sites
        };
        assert_eq!(sorted(&forth), sorted(&back));
    }
    assert!(compared >= 3, "{compared}");
}

#[test]
fn what_is_asked_is_kept_and_asking_less_never_costs() {
    let (plan, terrain) = open_plan(Path::new(SAMPLE));
    let asked = ChooseInputs { digipeater: false, ..plan.choose };
    let choice = chosen(&plan, &terrain, &asked);
    let site = |name: &String| plan.sites.iter().find(|site| site.name == *name).unwrap();
    let sets = choice.standings.iter().map(|standing| &standing.set);
    let others = choice.sites.iter().filter_map(|part| part.without.as_ref());
    for set in sets.chain(others).chain(&choice.runner_up) {
        assert!(set.sites.len() <= 2);
        assert!(set.sites.iter().filter(|name| site(name).locked).count() <= 1, "{set:?}");
        let masts: f64 = set.sites.iter().map(|name| site(name).mast.value()).sum();
        assert!(masts <= plan.choose.total_mast.unwrap().value() + 1e-9, "{set:?}");
        assert!(set.weighted_probability <= choice.first.weighted_probability, "{set:?}");
    }
    assert_eq!(choice.gap, 0.0);
    assert_eq!(choice.asked.must_posts.len(), plan.posts.iter().filter(|p| p.must).count());
    let wins: u32 = choice.standings.iter().map(|standing| standing.first_in).sum();
    assert_eq!(wins, choice.sureness.draws);
    assert_eq!(choice.standings.first().unwrap().first_in, choice.sureness.first_stays_first);
    assert!(choice.sureness.low < choice.sureness.high);
    let loads: usize = choice.sectors.loads.iter().map(|load| load.posts).sum();
    assert_eq!(loads, plan.posts.len());
    let free = ChooseInputs { locked_doors: None, total_mast: None, linked: false, ..asked };
    let freer = chosen(&plan, &terrain, &free);
    assert!(freer.first.weighted_probability >= choice.first.weighted_probability);
    let more = chosen(&plan, &terrain, &ChooseInputs { relays: 3, ..free });
    assert!(more.first.weighted_probability >= freer.first.weighted_probability);
    assert_eq!(more.with_fewer.last().unwrap().as_ref(), Some(&freer.first));
}

fn result(output: &std::process::Output) -> Value {
    assert!(output.status.success(), "{}", said(output));
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    document["result"]["choice"].clone()
}

#[test]
fn threads_do_not_change_the_answer_and_files_hold_what_is_printed() {
    let folder = tempfile::tempdir().unwrap();
    let run = |arguments: &[&str]| {
        perchline_long(folder.path(), &[&["choose", SAMPLE], arguments].concat())
    };
    let one = run(&["--threads", "1", "--json", "--whole-area", "--out", "out"]);
    let two = run(&["--threads", "2", "--json", "--whole-area"]);
    assert_eq!(printed(&one), printed(&two));
    assert_eq!(fs::read(folder.path().join("out/choice.json")).unwrap(), one.stdout);
    let choice = result(&one);
    assert_eq!(choice["relays"], 2);
    assert_eq!(choice["asked"]["whole_area"], true);
    let wide = choice["sectors"]["wide"].as_array().unwrap();
    assert_eq!(wide.last().unwrap()["kind"], "map");
    // The digipeater has a roof of its own or one that co-site allows.
    let packet = &choice["digipeater"];
    assert!(packet["site"]["site"].is_string() && packet["room"].is_null(), "{packet}");
    let text = fs::read_to_string(folder.path().join("out/choice.txt")).unwrap();
    for part in ["Best: ", "Proven: ", "Next best: ", "How sure: ", "Packet digipeater"] {
        assert!(text.contains(part), "{part:?} is not in {text}");
    }
}

/// A small plan on flat ground with `edit` done to its text, and what `choose`
/// says of it.
fn small(edit: impl Fn(String) -> String, arguments: &[&str]) -> std::process::Output {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
    fs::write(folder.path().join("plan.toml"), edit(PLAN.to_owned())).unwrap();
    perchline_long(folder.path(), &[&["choose", "plan.toml"], arguments].concat())
}

/// Asserts that the changed plan has no choice, for a reason that says this.
#[track_caller]
fn impossible(edit: impl Fn(String) -> String, parts: &[&str]) {
    let output = small(edit, &[]);
    assert_eq!(output.status.code(), Some(2), "{}", printed(&output));
    assert!(output.stdout.is_empty());
    for part in [&["plan.toml: no "], parts].concat() {
        assert!(said(&output).contains(part), "{part:?} is not in {}", said(&output));
    }
}

#[test]
fn an_impossible_demand_is_named() {
    let asked = |lines: &'static str| move |plan: String| format!("{plan}\n[choose]\n{lines}\n");
    impossible(
        asked("total_mast = \"2 m\""),
        &["keeps all that the plan asks: loosen total_mast in [choose]"],
    );
    let locked = |plan: String| plan.replace("mast = \"3 m\"", "mast = \"3 m\"\nlocked = true");
    impossible(
        |plan| asked("locked_doors = 0")(locked(plan)),
        &["loosen locked_doors in [choose]"],
    );
    let both = "locked_doors = 0\ntotal_mast = \"2 m\"";
    impossible(|plan| asked(both)(locked(plan)), &["loosen several"]);
    // A whisper of a relay reaches no post.
    impossible(
        |plan| plan.replace("\"25 W\"", "\"-30 dBm\""),
        &["must = true", "Aid 2 (the best is ", " of 100 spots)"],
    );
    impossible(
        |plan| plan.replace("mast = \"3 m\"", "mast = \"3 m\"\navailable = false"),
        &["no site has available = true"],
    );
}

#[test]
fn a_plan_without_choose_takes_two_relays_and_one_is_enough_where_it_is() {
    let choice = result(&small(|plan| plan, &["--json"]));
    assert_eq!((&choice["relays"], &choice["digipeater"]), (&Value::from(2), &Value::Null));
    assert_eq!(choice["candidates"], 2);
    let single = result(&small(|plan| plan, &["--json", "--relays", "1"]));
    assert_eq!(single["first"]["sites"].as_array().unwrap().len(), 1);
    assert_eq!(single["with_fewer"], Value::Array(vec![]));
    let refused = small(|plan| plan, &["--relays", "5"]);
    assert_eq!(refused.status.code(), Some(2));
    let simplex = small(|plan| plan, &["--channel", "Nothing"]);
    assert!(said(&simplex).contains("no channel \"Nothing\""), "{}", said(&simplex));
}

/// A link by this radio, its antenna so far above the relay's.
fn link_on(radio: usize, frequency: Megahertz, above: Option<Metres>) -> RelayLink {
    RelayLink { radio, frequency, along: None, above }
}

/// The sample with a second relay channel in the 70 cm band, where paths differ by
/// several decibels from those at 2 m.
fn with_a_second_channel() -> (Plan, Terrain) {
    let (mut plan, terrain) = open_plan(Path::new(SAMPLE));
    let first = plan.channels.first().unwrap().clone();
    let Service::Relay { station, .. } = first.service else { panic!("{first:?}") };
    let [input, output] = [449.5, 444.5].map(Megahertz::new);
    let service = Service::Relay { input, output, station };
    plan.channels.push(Channel { name: "Relay 70 cm".to_owned(), service, ..first });
    (plan, terrain)
}

/// Every pair of sites with its channels given out both ways, one by one: the choice is
/// the best of them, names the channel of each relay, and is proven.
#[test]
fn relays_with_channels_of_their_own_are_each_predicted_on_theirs() {
    let (plan, terrain) = with_a_second_channel();
    let second = plan.channels.len() - 1;
    let asked = ChooseInputs {
        relays: 2,
        digipeater: false,
        channels: [Some(second), None, None],
        linked: false,
        locked_doors: None,
        total_mast: None,
        ..plan.choose
    };
    let choice = chosen(&plan, &terrain, &asked);
    let demand = Demand::of(&plan, &terrain);
    let inputs = Inputs {
        plan: &plan,
        terrain: &terrain,
        propagator: &Propagator::new(&plan.prediction),
        demand: &demand,
        site_done: &|| {},
        stop: &AtomicBool::new(false),
    };
    let [two, seventy] = [0, second].map(|channel| {
        let channel = plan.channels.get(channel).unwrap();
        Matrix::of(&inputs, channel, &demand).unwrap()
    });
    let weights = demand.weights();
    let total: f64 = weights.iter().sum();
    let musts: Vec<usize> = plan
        .posts
        .iter()
        .zip(demand.of_kind(Kind::Post))
        .filter(|(post, _)| post.must)
        .map(|(_, target)| target.samples.start)
        .collect();
    let usable = |site: &usize| plan.sites[*site].available;
    let mut best = (0.0, [0, 0]);
    for on_two in (0..plan.sites.len()).filter(usable) {
        for on_seventy in (0..plan.sites.len()).filter(usable).filter(|site| *site != on_two) {
            let at = |spot: usize| {
                [&two.contacts[(on_two, spot)], &seventy.contacts[(on_seventy, spot)]]
            };
            if !musts.iter().all(|spot| at(*spot).iter().any(|contact| contact.outcome.works())) {
                continue;
            }
            let contact =
                |spot: usize| at(spot).map(|c| c.probability).into_iter().fold(0.0, f64::max);
            let value: f64 =
                weights.iter().enumerate().map(|(spot, weight)| weight * contact(spot)).sum();
            if value / total > best.0 {
                best = (value / total, [on_two, on_seventy]);
            }
        }
    }
    assert!(choice.own_channels);
    assert_eq!(choice.gap, 0.0, "{choice:?}");
    assert_abs_diff_eq!(choice.first.weighted_probability, best.0, epsilon = 2e-6);
    let given = |channel: &str| {
        let part = choice.sites.iter().find(|part| part.channel.as_deref() == Some(channel));
        plan.sites.iter().position(|site| Some(&site.name) == part.map(|part| &part.site))
    };
    let found = [given(&plan.channels[0].name), given("Relay 70 cm")];
    assert_eq!(found, best.1.map(Some));
    // A second relay alone on the band that it does not have would be another choice.
    let one_band = chosen(&plan, &terrain, &ChooseInputs { channels: [None; 3], ..asked });
    assert!(!one_band.own_channels);
    assert!(one_band.first.weighted_probability != choice.first.weighted_probability);
}

/// Three relays and two channels: nobody guesses on what the third runs.
#[test]
fn more_relays_than_channels_are_refused() {
    let (plan, terrain) = with_a_second_channel();
    let channels = [Some(plan.channels.len() - 1), None, None];
    let asked = ChooseInputs { relays: 3, channels, ..plan.choose };
    let error = tried(&plan, &terrain, &asked).unwrap_err();
    assert!(error.to_string().contains("3 relays need a channel each"), "{error}");
}

/// The radio of the link against the relay on the same roof. By hand, 2 W at 446.05 MHz
/// with the antenna 8 m above: 28 + 40 log(8 / 0.672) = 71.0 dB between the antennas, so
/// -38 dBm less the lines at the relay, which is no overload; on one spot no isolation
/// is credited, the relay is overloaded, and no site is left.
#[test]
fn a_link_radio_that_desenses_the_relay_is_refused() {
    let (mut plan, terrain) = open_plan(Path::new(SAMPLE));
    let relay = plan.radios.iter().find(|radio| radio.name == "portable relay").unwrap().clone();
    plan.radios.push(Radio { name: "link".to_owned(), power: Dbm::new(33.0), ..relay });
    let radio = plan.radios.len() - 1;
    let frequency = Megahertz::new(446.05);
    let asked = |above: Option<f64>| ChooseInputs {
        relays: 2,
        linked: true,
        digipeater: false,
        link: Some(link_on(radio, frequency, above.map(Metres::new))),
        ..plan.choose
    };
    let unknown = chosen(&plan, &terrain, &asked(None));
    assert!(unknown.sites.iter().all(|part| part.link_desense.is_none()));

    let apart = asked(Some(8.0));
    let link = apart.link.unwrap();
    let pairs = link_on_roof(&plan, &plan.channels[0], &link, &plan.sites[0]).unwrap();
    let [_, into_relay] = pairs.as_slice() else { panic!("{pairs:?}") };
    assert_abs_diff_eq!(into_relay.isolation_db.value(), 71.0, epsilon = 0.1);
    let level = into_relay.level_dbm.value();
    assert!((-50.0..=-38.0).contains(&level), "{level}");
    let told = chosen(&plan, &terrain, &apart);
    assert!(told.barred.iter().all(|barred| !barred.by_link), "{:?}", told.barred);
    for part in &told.sites {
        let desense = part.link_desense.unwrap();
        assert!(desense.relay_db.value() <= 1.0 && desense.link_db.value() <= 1.0, "{desense:?}");
    }

    let refused = tried(&plan, &terrain, &asked(Some(0.0))).unwrap_err();
    let ChooseError::Impossible { barred, .. } = refused else { panic!("{refused}") };
    let usable = plan.sites.iter().filter(|site| site.available).count();
    assert_eq!(barred.iter().filter(|barred| barred.by_link).count(), usable);
}

/// A link with radios of their own on the relays' frequency, with a tenth of the
/// power, has 10 dB less in hand: 25 W and 2.5 W, and 0.6 MHz between the directions
/// of the relays' own is 0.04 dB.
#[test]
fn a_link_has_the_margin_of_its_own_radios() {
    let (mut plan, terrain) = open_plan(Path::new(SAMPLE));
    let asked = ChooseInputs { relays: 2, linked: true, digipeater: false, ..plan.choose };
    let own = chosen(&plan, &terrain, &asked);
    let [link] = own.links.as_slice() else { panic!("{:?}", own.links) };
    assert_eq!(link.frequencies_mhz, [147.6075, 147.0075].map(Megahertz::new));

    let relay = plan.radios.iter().find(|radio| radio.name == "portable relay").unwrap().clone();
    let weaker = Radio { name: "link".to_owned(), power: relay.power - Db::new(10.0), ..relay };
    plan.radios.push(weaker);
    let frequency = Megahertz::new(147.6075);
    let asked =
        ChooseInputs { link: Some(link_on(plan.radios.len() - 1, frequency, None)), ..asked };
    let linked = chosen(&plan, &terrain, &asked);
    assert_eq!(linked.first, own.first);
    let [weak] = linked.links.as_slice() else { panic!("{:?}", linked.links) };
    assert_eq!(weak.frequencies_mhz, [frequency; 2]);
    let margins = [link, weak].map(|link| link.governing_margin_db.unwrap().value());
    assert_abs_diff_eq!(margins[0] - margins[1], 10.0, epsilon = 0.1);

    // The chain is that of the link, and ends where net control is served.
    let [chain] = linked.chains.as_slice() else { panic!("{:?}", linked.chains) };
    let control = linked.sectors.posts.iter().find(|post| post.post == "Net Control").unwrap();
    assert_eq!(chain.to, control.first.as_ref().unwrap().site);
    assert_eq!(chain.weakest_db, weak.governing_margin_db);
    assert!(chain.through.is_empty());
}

/// On level ground each roof serves all that there is within a tenth of a percent: a
/// second relay is not proposed, and the text says so.
#[test]
fn a_second_relay_that_adds_nothing_is_not_proposed() {
    let strong = |plan: String| plan.replace("\"25 W\"", "\"100 W\"");
    let choice = result(&small(strong, &["--json"]));
    assert_eq!(choice["relays"], 2);
    assert_eq!(choice["first"]["sites"].as_array().unwrap().len(), 1, "{choice}");
    let more = &choice["adds_nothing"];
    assert_eq!(more["sites"].as_array().unwrap().len(), 2, "{choice}");
    let contact = |set: &Value| set["weighted_probability"].as_f64().unwrap();
    let gain = contact(more) - contact(&choice["first"]);
    assert!((0.0..1e-3).contains(&gain), "{gain}");
    assert_eq!(more["posts_covered"], choice["first"]["posts_covered"]);
    let text = printed(&small(strong, &[]));
    assert!(text.contains("One is as good; the second adds nothing: "), "{text}");
}

const PACKET_THERE: &str = r#"
[[channel]]
name = "Packet"
kind = "packet"
frequency = "147.5 MHz"
station = "relay"
carried = "hand-held"

[[pack]]
name = "box"
chemistry = "agm"
cells = 6
capacity = "7 Ah"

[[station]]
name = "Relay"
channel = "Event"
currents = { transmit = "6 A", receive = "700 mA", standby = "400 mA" }
traffic = { keyed = "25 %", listening = "10 %" }
supply = { pack = "box", cutoff = "10.8 V", kept_at = "10 °C" }

[[station]]
name = "Digipeater"
channel = "Packet"
site = "SITE"
currents = { transmit = "1.4 A", receive = "200 mA", standby = "60 mA" }
traffic = { heard = "120 /h", repeated = "80 /h", packet = "0.9 s" }
supply = { pack = "box", cutoff = "10.8 V", kept_at = "10 °C" }
"#;

/// The plan puts a digipeater of 25 W, 100 kHz from the relay's input, on the roof that
/// would be the relay's: the relay has to take the other one, unless the plan keeps the
/// two beside each other.
#[test]
fn no_relay_goes_where_another_station_s_desense_forbids_it() {
    let on = |site: &'static str| move |plan: String| plan + &PACKET_THERE.replace("SITE", site);
    let best = result(&small(|plan| plan, &["--json", "--relays", "1"]));
    let best = best["first"]["sites"][0].as_str().unwrap().to_owned();
    for site in ["Hotel", "Silo"] {
        let choice = result(&small(on(site), &["--json", "--relays", "1"]));
        assert_eq!(choice["barred"][0]["site"], site, "{choice}");
        assert!(choice["barred"][0]["desense_db"].as_f64().unwrap() > 1.0);
        assert_ne!(choice["first"]["sites"][0], site);
        assert_eq!(choice["digipeater"]["site"]["site"], site);
        let text = printed(&small(on(site), &["--relays", "1"]));
        assert!(text.contains(&format!("Not {site}: by the plan another station")), "{text}");
    }
    let beside =
        |plan: String| plan + &PACKET_THERE.replace("site = \"SITE\"", "beside = \"Relay\"");
    let choice = result(&small(beside, &["--json", "--relays", "1"]));
    assert_eq!(choice["barred"], Value::Array(vec![]));
    assert_eq!(choice["first"]["sites"][0], *best);
}

/// What the choice says of a duplexer that the plan does not state is what a plan that
/// states it comes to.
#[test]
fn an_assumed_duplexer_is_tried_on_the_choice() {
    let file = Path::new(SAMPLE);
    let text = fs::read_to_string(file).unwrap();
    let relay = "lead = \"30 mohm\"\n# With [station.roof]";
    assert!(text.contains(relay));
    let (plan, terrain) = open_plan(file);
    let asked = ChooseInputs { relays: 2, digipeater: false, ..plan.choose };
    let silent = chosen(&plan, &terrain, &asked);
    assert_eq!(silent.with_duplexers.len(), 2);
    for (with, isolation) in silent.with_duplexers.iter().zip([70.0, 85.0]) {
        assert_eq!(with.isolation_db.value(), isolation);
        let roof = format!(
            "lead = \"30 mohm\"\n[station.roof]\nduplexer = \"{isolation} dB\"\n# With [station.roof]"
        );
        let stated = perchline::assessment::read_text(file, &text.replace(relay, &roof)).unwrap();
        let choice = chosen(&stated, &terrain, &asked);
        assert!(choice.with_duplexers.is_empty());
        // No more sites than the first set has.
        let taken = silent.first.sites.len();
        let fewer = ChooseInputs { relays: taken, ..asked };
        let same = if taken == 2 { choice } else { chosen(&stated, &terrain, &fewer) };
        let best = with.best.as_ref().unwrap();
        let most = same.adds_nothing.as_ref().unwrap_or(&same.first);
        assert_eq!(best.sites, most.sites);
        assert_eq!(best.posts_covered, most.posts_covered);
        assert_abs_diff_eq!(best.weighted_probability, most.weighted_probability, epsilon = 1e-9);
        assert!(with.first.weighted_probability < silent.first.weighted_probability);
        assert!(with.first.weighted_probability <= best.weighted_probability + 1e-12);
    }
    let text = perchline::report::choose_tables::choice_screen(&plan, &silent, &[]).long();
    for words in ["was taken as perfect", "With 70 dB of isolation", "With 85 dB of isolation"] {
        assert!(text.contains(words), "{words}: {text}");
    }
}
