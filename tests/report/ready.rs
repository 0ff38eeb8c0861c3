//! Whether to go: plans whose verdict is known beforehand, and drawn plans of
//! which every finding is held against what its verb computes by itself.

use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

use crate::support::powered::{DIGIPEATER, PACKET};
use crate::support::{PLAN, SIMPLEX, as_printed, changed, perchline_long, write_plan_raster};
use perchline::assessment::{
    Assessment, Decided, Fix, Gravity, Matter, Readiness, UnknownMatter, Verdict,
};
use perchline::plan::Carry;
use perchline::power::place::SiteFact;
use perchline::power::{crew_needs, station_budgets};
use perchline::report::ready::Ready;
use perchline::siting::direct::{DirectLinks, Fallback, Held};
use perchline::siting::{Keep, SiteScore, rank, score_without_map};
use perchline::units::{Db, Hours, Metres};

/// A relay on a pack that outlasts the evening, at 20 °C, its duplexer measured.
const POWERED: &str = r#"
[[pack]]
name = "large pack"
chemistry = "lifepo4"
cells = 4
capacity = "60 Ah"

[[station]]
name = "Relay"
channel = "Event"
currents = { transmit = "6 A", receive = "700 mA", standby = "400 mA" }
traffic = { keyed = "25 %", listening = "10 %" }
[station.supply]
pack = "large pack"
cutoff = "11.0 V"
kept_at = "20 °C"
[station.roof]
duplexer = "90 dB"
"#;

/// A telephone in place of the radio.
const CONTACT: &str = r#"
[[contact]]
name = "Radio lead"
phone = "555-0117"
"#;

/// Posts 1.6 km apart on a plain that hand-helds span too: everything works.
fn sound() -> String {
    let near = changed(PLAN, &[("\"47.010, -34.885\"", "\"47.002, -34.898\"")]);
    format!("{near}{SIMPLEX}{POWERED}{CONTACT}")
}

fn plain(_: usize, _: usize) -> f32 {
    40.0
}

/// A plan over ground of these heights.
fn opened(text: &str, height: impl Fn(usize, usize) -> f32) -> Assessment {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), height);
    let file = folder.path().join("plan.toml");
    fs::write(&file, text).unwrap();
    Assessment::read(&file).unwrap()
}

/// What is found of a plan.
fn judged(assessment: &Assessment) -> Readiness {
    let grid = assessment.map_grid().unwrap();
    let stop = AtomicBool::new(false);
    let inputs = assessment.rank_inputs(&grid, &|| (), &stop);
    let channel = assessment.plan.channels.iter().find(|channel| channel.is_relay()).unwrap();
    assessment.readiness(&inputs, channel, None).unwrap()
}

/// The verdict, with what stands against it and the fixes, one a line.
fn told(text: &str, height: impl Fn(usize, usize) -> f32) -> (Verdict, String) {
    let assessment = opened(text, height);
    let readiness = judged(&assessment);
    let ready = Ready::of(&assessment.plan, &readiness);
    let line = |line: &perchline::report::ready::Line| {
        format!("{} -> {}\n", line.says, line.fix.as_deref().unwrap_or("none"))
    };
    (readiness.verdict, ready.reasons.iter().map(line).collect())
}

fn expect(text: &str, height: impl Fn(usize, usize) -> f32, verdict: Verdict, parts: &[&str]) {
    let (found, reasons) = told(text, height);
    assert_eq!(found, verdict, "{reasons}");
    assert_eq!(reasons.lines().count(), parts.len(), "{reasons}");
    for (part, line) in parts.iter().zip(reasons.lines()) {
        for piece in part.split(" .. ") {
            assert!(line.contains(piece), "no {piece:?} in {line}");
        }
    }
}

#[test]
fn a_sound_plan_goes() {
    expect(&sound(), plain, Verdict::Go, &[]);
}

#[test]
fn go_says_how_much_that_is_not_known_could_turn_it() {
    let assessment = opened(&sound(), plain);
    let readiness = judged(&assessment);
    let turning = readiness.unknowns.iter().filter(|unknown| unknown.could_turn).count();
    let headline = Ready::of(&assessment.plan, &readiness).headline;
    let told = match turning {
        // Nobody has walked it.
        0 => panic!("a plan that nobody has walked knows everything"),
        1 => "one thing not known could turn it".to_owned(),
        many => format!("{many} things not known could turn it"),
    };
    assert!(headline.starts_with("GO: ") && headline.contains(&told), "{headline}");
    let mut known = readiness;
    known.unknowns.retain(|unknown| !unknown.could_turn);
    let headline = Ready::of(&assessment.plan, &known).headline;
    assert_eq!(headline, "GO: nothing stands against it in the poor case.");
}

/// A verdict that hangs on must-have posts alone says at which others radio fails: as many
/// as the ranking has, by their names, whether it is go or not.
#[test]
fn the_verdict_says_at_how_many_posts_radio_fails() {
    let mut told = 0;
    for file in ["ferry-lights.toml", "ferry-lights-town.toml"] {
        let plan = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain").join(file);
        let assessment = Assessment::read(&plan).unwrap();
        let readiness = judged(&assessment);
        let line = Ready::of(&assessment.plan, &readiness).without.unwrap();
        let (works, of) = readiness.places[0].posts.unwrap();
        assert!(
            line.starts_with(&format!("Do not count on radio at {} of {of} posts: ", of - works))
        );
        let best = &readiness.places[0];
        let channel = assessment.plan.channels.iter().find(|c| c.name == best.channel).unwrap();
        let never = std::sync::atomic::AtomicBool::new(false);
        let inputs = assessment.rank_inputs(assessment.terrain.grid(), &|| (), &never);
        let order = assessment.order(&inputs, channel).unwrap();
        let site = order.sites.iter().find(|site| site.site == best.site).unwrap();
        for post in site.posts.iter().filter(|post| !post.outcome.works()) {
            assert!(line.contains(&post.post), "{line} lacks {}", post.post);
            told += 1;
        }
    }
    assert!(told > 4, "{told}");
    let assessment = opened(&sound(), plain);
    assert_eq!(Ready::of(&assessment.plan, &judged(&assessment)).without, None);
}

/// 0.25 x 6 A + 0.10 x 0.7 A + 0.65 x 0.4 A are 1.83 A, and 4 Ah last little over
/// two of the four hours.
#[test]
fn a_pack_that_dies_is_a_condition_with_a_larger_one() {
    let text = changed(&sound(), &[("60 Ah", "4 Ah")]);
    let parts = ["Relay: its pack DIES at .. -> Bring a pack of at least "];
    expect(&text, plain, Verdict::GoIf, &parts);
}

#[test]
fn packs_that_lie_ready_are_changed_in() {
    let text = changed(
        &sound(),
        &[("60 Ah", "4 Ah"), ("cutoff = \"11.0 V\"", "cutoff = \"11.0 V\"\nspares = 9")],
    );
    let parts = ["Relay: its pack DIES at .. -> Charge the spare packs tonight and change by "];
    expect(&text, plain, Verdict::GoIf, &parts);
}

/// No pack of four cells holds 13.0 V under load: LiFePO4 rests at 13.2 V.
#[test]
fn a_pack_that_no_size_mends_stops() {
    let text =
        changed(&sound(), &[("cutoff = \"11.0 V\"", "cutoff = \"12.79 V\"\nlead = \"1 ohm\"")]);
    expect(&text, plain, Verdict::No, &["Relay: its pack DIES at .. -> none"]);
}

/// What is known of a battery never makes the verdict better than knowing nothing of it.
#[test]
fn a_pack_of_which_nobody_knows_how_cold_it_gets_is_a_condition() {
    let text = changed(&sound(), &[("kept_at = \"20 °C\"\n", "")]);
    let parts = ["Relay: the plan does not say how cold its pack gets .. -> Add a [forecast]"];
    expect(&text, plain, Verdict::GoIf, &parts);
}

/// Each station is judged by itself: one whose pack is kept warm is not told of.
#[test]
fn only_packs_without_a_temperature_are_told_of() {
    let supply = "[station.supply]\npack = \"large pack\"\ncutoff = \"11.0 V\"\n";
    let text = sound() + PACKET + DIGIPEATER + supply;
    let (verdict, reasons) = told(&text, plain);
    assert_eq!(verdict, Verdict::GoIf, "{reasons}");
    let cold: Vec<&str> = reasons.lines().filter(|line| line.contains("how cold")).collect();
    assert!(cold.len() == 1 && cold[0].starts_with("Digipeater:"), "{reasons}");
}

#[test]
fn frequencies_that_are_placeholders_are_a_condition() {
    let text = changed(&sound(), &[("kind = \"relay\"", "kind = \"relay\"\nplaceholder = true")]);
    let parts = ["Event: the frequencies are placeholders .. -> Set the frequencies"];
    expect(&text, plain, Verdict::GoIf, &parts);
}

/// Without a crew nobody has looked at hand-held batteries, and that is said.
#[test]
fn a_plan_without_crews_says_that_hand_helds_were_not_looked_at() {
    let unknown = |text: &str| {
        let readiness = judged(&opened(text, plain));
        readiness.unknowns.iter().any(|unknown| unknown.matter == UnknownMatter::HandHelds)
    };
    assert!(unknown(&sound()));
}

#[test]
fn a_relay_of_whose_battery_nothing_is_known_is_a_condition() {
    let text = sound().replace(POWERED, "");
    let parts = ["the plan says nothing of its station's battery .. -> Add a [[station]]"];
    expect(&text, plain, Verdict::GoIf, &parts);
}

#[test]
fn without_a_simplex_channel_the_telephone_has_to_do() {
    let text = sound().replace(SIMPLEX, "");
    let parts =
        ["no simplex channel .. -> Give everybody the telephone number of Radio lead, 555-0117."];
    expect(&text, plain, Verdict::GoIf, &parts);
    let text = text.replace(CONTACT, "");
    expect(&text, plain, Verdict::GoIf, &["no simplex channel .. -> Agree on somebody who"]);
}

#[test]
fn no_site_that_may_be_used_stops() {
    let text = sound().replace("[[site]]\n", "[[site]]\navailable = false\n");
    expect(&text, plain, Verdict::No, &["may not be used .. -> none"]);
}

/// A wall of 900 m around the must-have post, on every side: no site, mast or
/// carry reaches into it, and neither does anybody by simplex.
#[test]
fn a_must_have_post_in_a_pit_stops() {
    let text = changed(&sound(), &[("\"47.002, -34.898\"", "\"46.993, -34.898\"")]);
    let (verdict, reasons) = told(&text, pit);
    assert_eq!(verdict, Verdict::No, "{reasons}");
    assert!(reasons.contains("Aid 2 (must have): no contact expected"), "{reasons}");
    assert!(reasons.lines().next().unwrap().ends_with("-> none"), "{reasons}");
    // The fallback is asked about too, and fails as well.
    assert!(
        reasons.contains("If the relay dies nobody reaches net control on Direct"),
        "{reasons}"
    );
}

/// Cells around 46.993 N 34.898 W, column 63.2 and row 122.2 of the raster, are at
/// 40 m, the wall around them is at 940 m and so wide that nobody walks out of it.
fn pit(column: usize, row: usize) -> f32 {
    let away = (column as f32 - 63.2).hypot(row as f32 - 122.2);
    if (2.5..24.0).contains(&away) { 940.0 } else { 40.0 }
}

/// With one watt from the hip the must-have post falls short, with the radio at
/// the head it works: the measured body losses of docs/link.md are 12 dB apart.
#[test]
fn a_radio_at_the_head_is_the_cheapest_fix() {
    let weak = |watts: &str| {
        let power = format!("power = \"{watts}\"");
        changed(
            &sound(),
            &[("power = \"5 W\"", &power), ("carry = \"shoulder\"", "carry = \"hip\"")],
        )
    };
    let found = ["1 W", "0.5 W", "0.2 W", "0.1 W", "0.05 W", "0.02 W", "0.01 W", "0.005 W"]
        .into_iter()
        .map(|watts| told(&weak(watts), plain))
        .find(|(_, reasons)| reasons.contains("Aid 2 (must have)"))
        .unwrap();
    assert_eq!(found.0, Verdict::GoIf, "{}", found.1);
    assert!(found.1.contains("-> Hold the radio beside the face"), "{}", found.1);
}

/// Each of two must-have posts is walled in with one site.
#[test]
fn two_relays_do_what_one_can_not() {
    let text = changed(
        &sound(),
        &[
            ("at = \"47.000, -34.900\"", "at = \"47.0075, -34.9045\"\nmust = true"),
            ("\"47.002, -34.898\"", "\"47.0045, -34.8905\""),
        ],
    );
    // A wall between the hotel in the east and the silo in the west.
    let wall = |column: usize, _: usize| if (60..76).contains(&column) { 900.0 } else { 40.0 };
    let (verdict, reasons) = told(&text, wall);
    assert_eq!(verdict, Verdict::GoIf, "{reasons}");
    assert!(reasons.contains("-> Put a relay on each of Hotel and Silo"), "{reasons}");
    let one = text + "\n[choose]\nrelays = 1\n";
    let (verdict, reasons) = told(&one, wall);
    assert_eq!(verdict, Verdict::No, "{reasons}");
}

/// A digipeater with its antenna two metres from the relay's, on the relay's band.
#[test]
fn an_overloaded_front_end_on_one_roof_is_a_condition() {
    let packet = changed(PACKET, &[("144.8 MHz", "147.55 MHz")]);
    let supply =
        "[station.supply]\npack = \"large pack\"\ncutoff = \"11.0 V\"\nkept_at = \"20 °C\"\n";
    let roof = "[station.roof]\neast = \"2 m\"\n";
    let text = sound() + &packet + DIGIPEATER + supply + roof;
    let (verdict, reasons) = told(&text, plain);
    assert_eq!(verdict, Verdict::GoIf, "{reasons}");
    assert!(reasons.contains("Digipeater desenses Relay by"), "{reasons}");
    assert!(reasons.contains("front end is overloaded"), "{reasons}");
}

/// One class for all of a plan is somebody's judgement: of the next denser one it is told
/// which posts fall, as a plan that states that one has it.
#[test]
fn a_class_of_surroundings_is_told_as_a_judgement() {
    let stated = |class: &str, watts: &str| {
        let settled = "channel = \"Event\"\nsite = \"Hotel\"\ncurrents";
        let changes = [
            ("power = \"5 W\"", format!("power = \"{watts}\"")),
            ("channel = \"Event\"\ncurrents", settled.to_owned()),
        ];
        let changes = changes.each_ref().map(|(from, to)| (*from, to.as_str()));
        let text = changed(&sound(), &changes);
        opened(&format!("{text}\n[prediction]\nsurroundings = \"{class}\"\n"), plain)
    };
    let failing = |class: &str, watts: &str| -> Vec<String> {
        let assessment = stated(class, watts);
        let grid = assessment.map_grid().unwrap();
        let stop = AtomicBool::new(false);
        let inputs = assessment.rank_inputs(&grid, &|| (), &stop);
        let site = assessment.plan.sites.iter().find(|site| site.name == "Hotel").unwrap();
        let score = score_without_map(&inputs, &assessment.plan.channels[0], site, None).unwrap();
        let posts = score.posts.iter().filter(|post| !post.outcome.works());
        posts.map(|post| post.post.clone()).collect()
    };
    let mut turned = 0;
    for watts in ["5 W", "1 W", "0.2 W", "0.05 W", "0.02 W"] {
        for (class, next) in [("open", "village"), ("village", "suburb"), ("suburb", "town")] {
            let readiness = judged(&stated(class, watts));
            let found = readiness.unknowns.iter().find_map(|unknown| match &unknown.matter {
                UnknownMatter::Class { class, denser, lost } => {
                    Some((unknown, *class, *denser, lost))
                }
                _ => None,
            });
            let (unknown, told, denser, lost) = found.unwrap();
            assert_eq!((told, denser), (class, Some(next)));
            let before = failing(class, watts);
            let mut after = failing(next, watts);
            after.retain(|post| !before.contains(post));
            assert_eq!(*lost, after, "{class} at {watts}");
            assert_eq!(unknown.could_turn, lost.iter().any(|post| post == "Aid 2"));
            assert_eq!(unknown.settled_by, unknown.could_turn.then_some(Fix::NameBuildings));
            turned += usize::from(unknown.could_turn);
        }
    }
    assert!(turned > 0, "no class turned anything");
    let town = judged(&stated("town", "5 W"));
    let densest =
        |matter: &UnknownMatter| matches!(matter, UnknownMatter::Class { denser: None, .. });
    assert!(town.unknowns.iter().any(|unknown| densest(&unknown.matter)));
}

/// What nobody has said of a site could close it; what the plan says is not asked for.
#[test]
fn what_a_plan_does_not_say_of_its_site_is_not_known() {
    let hotel = "roof = \"20 m above ground\"\nmast = \"3 m\"";
    let asked = |fields: &str| {
        let settled = "channel = \"Event\"\nsite = \"Hotel\"\ncurrents";
        let changes = [
            (hotel, format!("{hotel}\n{fields}")),
            ("channel = \"Event\"\ncurrents", settled.to_owned()),
        ];
        let changes = changes.each_ref().map(|(from, to)| (*from, to.as_str()));
        let readiness = judged(&opened(&changed(&sound(), &changes), plain));
        let found = readiness.unknowns.into_iter().find_map(|unknown| match unknown.matter {
            UnknownMatter::Site { site, what } => {
                Some((site, what, unknown.could_turn, unknown.settled_by))
            }
            _ => None,
        });
        let next = readiness.next.into_iter().map(|step| step.act);
        (found, next.filter(|act| matches!(act, Fix::AskAbout { .. })).count())
    };
    let all = "open_from = 2026-12-05T08:00:00\nguardrail = \"1.2 m\"\npower_line = \"200 m\"\npower = \"none\"\nroof_load = \"300 kg/m2\"";
    assert_eq!(asked(all), (None, 0));
    let (found, steps) = asked(&changed(all, &[("power_line = \"200 m\"\n", "")]));
    let (site, what, could_turn, settled_by) = found.unwrap();
    assert_eq!((site.as_str(), what.as_slice()), ("Hotel", &[SiteFact::PowerLine][..]));
    assert!(could_turn);
    assert_eq!(settled_by, Some(Fix::AskAbout { site, what }));
    assert_eq!(steps, 1);
    // Mains or none: no answer to that closes a site.
    let (found, steps) = asked(&changed(all, &[("power = \"none\"\n", "")]));
    let (_, what, could_turn, settled_by) = found.unwrap();
    assert_eq!((what, could_turn, settled_by), (vec![SiteFact::Mains], false, None));
    assert_eq!(steps, 0);
}

/// A perfect duplexer hears what one of 70 dB does not.
#[test]
fn a_duplexer_that_is_not_stated_is_a_condition_where_it_decides() {
    let text = changed(&sound(), &[("duplexer = \"90 dB\"", "")]);
    let assessment = opened(&text, plain);
    let readiness = judged(&assessment);
    // Near the site nothing hangs on it, and it is told as not known.
    assert_eq!(readiness.verdict, Verdict::Go);
    let unknown = readiness
        .unknowns
        .iter()
        .find(|unknown| matches!(unknown.matter, UnknownMatter::Duplexer { .. }))
        .unwrap();
    assert!(!unknown.could_turn);

    let weak = ["1 W", "0.5 W", "0.2 W", "0.1 W", "0.05 W", "0.02 W", "0.01 W"];
    let decided = weak.iter().find_map(|watts| {
        let text = changed(&text, &[("power = \"5 W\"", &format!("power = \"{watts}\""))]);
        let (verdict, reasons) = told(&text, plain);
        reasons.contains("The relay's duplexer is not stated").then_some((verdict, reasons))
    });
    let (verdict, reasons) = decided.unwrap();
    assert_eq!(verdict, Verdict::GoIf, "{reasons}");
    assert!(reasons.contains("With 70 dB of isolation must-have posts fail"), "{reasons}");
    assert!(reasons.contains("-> Measure the duplexer's isolation"), "{reasons}");
}

#[test]
fn the_site_of_the_plan_is_judged_and_a_better_one_is_the_fix() {
    let text = changed(
        &sound(),
        &[("channel = \"Event\"\ncurrents", "channel = \"Event\"\nsite = \"Silo\"\ncurrents")],
    );
    // A wall around the silo in the west.
    let wall = |column: usize, _: usize| if (48..58).contains(&column) { 900.0 } else { 40.0 };
    let readiness = judged(&opened(&text, wall));
    assert_eq!(readiness.places[0].decided, Decided::Plan);
    assert_eq!(readiness.places[0].site, "Silo");
    let (verdict, reasons) = told(&text, wall);
    assert_eq!(verdict, Verdict::GoIf, "{reasons}");
    assert!(reasons.contains("-> Put the station of channel Event on Hotel"), "{reasons}");
}

/// A roof that closes at 20:00 is no good at tear-down at 20:30, unless its key
/// holder comes; 3 m of mast beside a line 2 m away is refused, and the other roof
/// taken.
#[test]
fn a_roof_s_hours_and_a_power_line_are_conditions() {
    let hotel = "roof = \"20 m above ground\"\nmast = \"3 m\"";
    let hours = "open_from = 2026-12-05T08:00:00\nopen_until = 2026-12-05T20:00:00\nkey_holder = \"Night manager\"\nphone = \"555-0165\"";
    let closed = changed(&sound(), &[(hotel, &format!("{hotel}\n{hours}"))]);
    let on_hotel = |text: &str| {
        changed(
            text,
            &[("channel = \"Event\"\ncurrents", "channel = \"Event\"\nsite = \"Hotel\"\ncurrents")],
        )
    };
    let parts = [
        "Hotel (Event): .. 20:00 .. -> Agree with Night manager (555-0165) that you get up to Hotel before 16:30 and stay until after 20:30.",
    ];
    expect(&on_hotel(&closed), plain, Verdict::GoIf, &parts);
    let near = changed(&sound(), &[(hotel, &format!("{hotel}\npower_line = \"2 m\""))]);
    let parts = [
        "Hotel (Event): .. A power line 2.0 m away .. -> Put the station of channel Event on Silo.",
    ];
    expect(&on_hotel(&near), plain, Verdict::GoIf, &parts);
    // The bar shows the roof's hours.
    let assessment = opened(&on_hotel(&closed), plain);
    let readiness = judged(&assessment);
    let roof = readiness.timeline.bars.iter().find(|bar| bar.name == "Hotel").unwrap();
    assert_eq!(roof.to.strftime("%H:%M").to_string(), "20:00");
}

/// A plan drawn at random: ground, places, powers, packs.
fn drawn(number: u64) -> (String, impl Fn(usize, usize) -> f32) {
    let mut random = Pcg64Mcg::seed_from_u64(number);
    let mut draw = |from: f64, to: f64| {
        from + (to - from) * (random.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    };
    let at = |of: &mut dyn FnMut(f64, f64) -> f64| {
        format!("\"{:.4}, {:.4}\"", of(46.9985, 47.0125), of(-34.9055, -34.8845))
    };
    let (one, two) = (at(&mut draw), at(&mut draw));
    let watts = format!("power = \"{:.4} W\"", 5.0 * 10f64.powf(draw(-3.5, 0.0)));
    let capacity = format!("\"{:.0} Ah\"", draw(4.0, 40.0));
    let roof = format!("roof = \"{:.0} m above ground\"", draw(3.0, 40.0));
    let carry = ["carry = \"shoulder\"", "carry = \"hip\"", "carry = \"head\""];
    // One of three.
    let carry = carry[draw(0.0, 2.999) as usize];
    let cell = format!("margin = \"100 m\"\ncell = \"{:.0} m\"", draw(60.0, 150.0));
    let mut text = changed(
        &format!("{PLAN}{SIMPLEX}{POWERED}"),
        &[
            ("\"47.000, -34.900\"", &one),
            ("\"47.010, -34.885\"", &two),
            ("power = \"5 W\"", &watts),
            ("\"60 Ah\"", &capacity),
            ("roof = \"20 m above ground\"", &roof),
            ("carry = \"shoulder\"", carry),
            ("margin = \"100 m\"", &cell),
        ],
    );
    if draw(0.0, 1.0) < 0.5 {
        text = text.replace("duplexer = \"90 dB\"", "");
    }
    if draw(0.0, 1.0) < 0.3 {
        text += CONTACT;
    }
    // One relay on its mast, as it is.
    if draw(0.0, 1.0) < 0.4 {
        text += "\n[choose]\nrelays = 1\n\n[masts]\nhighest = \"3 m\"\n";
    }
    text += &format!(
        "\n[[post]]\nname = \"Net Control\"\nat = {}\nmust = true\nnet_control = true\n\n[[route]]\nname = \"Course\"\nline = [{}, {}, {}]\n",
        at(&mut draw),
        at(&mut draw),
        at(&mut draw),
        at(&mut draw),
    );
    let (high, wide) = (draw(2.0, 200.0), draw(8.0, 30.0));
    (text, move |column, row| {
        let (x, y) = (column as f64 / wide, row as f64 / (wide * 0.8));
        (80.0 + high * (x.sin() * y.cos())) as f32
    })
}

/// What the verbs compute of a plan, each by itself.
struct Verbs<'a> {
    assessment: &'a Assessment,
    readiness: &'a Readiness,
    ready: &'a Ready,
    score: SiteScore,
}

impl Verbs<'_> {
    /// Holds one finding against its verb. Returns how many statements that were.
    fn hold(&self, matter: &Matter, fix: Option<&Fix>, says: &str) -> usize {
        let plan = &self.assessment.plan;
        match matter {
            Matter::Post { post, must, outcome, probability, missing_db, short_db, limiting } => {
                let budgets = self.score.posts.iter().find(|p| p.post == *post);
                let budgets = budgets.unwrap().budgets.as_ref();
                assert_eq!(*limiting, budgets.map(|budgets| budgets.governing));
                let score = self.score.posts.iter().find(|p| p.post == *post).unwrap();
                assert_eq!((must, outcome), (&score.must, &score.outcome));
                assert_eq!(probability, &score.probability);
                let missing = score.remedy.as_ref().map(|remedy| remedy.missing_db);
                assert_eq!(missing_db, &missing);
                // What is told is the margin that tables have, turned round.
                let margin = score.governing_margin_db.unwrap();
                let told = if margin < Db::new(0.0) { -margin } else { missing.unwrap() };
                assert_eq!(*short_db, Some(told));
                let short = format!("{told:.1} short");
                assert!(says.contains(post.as_str()) && says.contains(&short), "{says}");
                6
            }
            Matter::Route { route, share, gap } => {
                let score = self.score.routes.iter().find(|r| r.share.name == *route).unwrap();
                assert_eq!(share, &score.share.share);
                assert_eq!(gap, &score.longest_gap);
                2
            }
            Matter::Pack { station, dies_at, early_h, off, expected_dies_at } => {
                let budgets = station_budgets(plan).unwrap();
                let budget = budgets.iter().find(|b| b.station == *station).unwrap();
                assert_eq!(Some(dies_at), budget.poor.dies_at.as_ref());
                assert_eq!(off, &budget.off);
                assert_eq!(Some(-early_h.value()), budget.poor.margin_h.map(Hours::value));
                assert_eq!(expected_dies_at.is_some(), !budget.expected.lasts());
                let clock = dies_at.strftime("%H:%M").to_string();
                assert!(says.contains(&clock), "{clock} in {says}");
                5
            }
            Matter::OnlyJust { station, left } => {
                let budgets = station_budgets(plan).unwrap();
                let budget = budgets.iter().find(|b| b.station == *station).unwrap();
                assert!(budget.poor.lasts());
                assert_eq!(left, &budget.poor.left_at_end);
                2
            }
            Matter::Spares { crew, packs_each, .. } => {
                let needs = crew_needs(plan).unwrap();
                let needs = needs.iter().find(|needs| needs.crew == *crew).unwrap();
                assert_eq!(packs_each, &needs.packs_each);
                1
            }
            Matter::CutOff { channel, net_control, must, others } => {
                let Assessment { terrain, propagator, .. } = self.assessment;
                let simplex = plan.channels.iter().filter(|channel| !channel.has_station());
                let links: Vec<_> = simplex
                    .map(|on| DirectLinks::of(plan, terrain, propagator, on, Held::Fallback))
                    .map(|links| Arc::new(links.unwrap()))
                    .collect();
                let first = Fallback::first_channel(plan, &links);
                let fallback = Fallback::of(plan, &links, first);
                let on = fallback.first.as_ref().unwrap();
                assert_eq!((channel, net_control), (&on.channel, &on.net_control));
                let cut: Vec<&str> = fallback.cut_off().collect();
                assert_eq!(must.iter().chain(others).count(), cut.len());
                assert!(must.iter().chain(others).all(|post| cut.contains(&post.as_str())));
                2
            }
            Matter::NoFallback { channels } => {
                assert_eq!(channels.as_slice(), ["Direct"]);
                let fallback = self.assessment.fallback(Held::Fallback).unwrap();
                assert!(fallback.first.is_none());
                1
            }
            Matter::Duplexer { isolation_db, posts_covered, perfect_posts, .. } => {
                let tried =
                    self.score.duplexers.iter().find(|d| d.isolation == *isolation_db).unwrap();
                assert!(!tried.must_posts_met && self.score.must_posts_met);
                assert_eq!(posts_covered, &tried.posts_covered);
                assert_eq!(perfect_posts, &self.score.posts_covered);
                2
            }
            other => panic!("no drawn plan has {other:?} with {fix:?}"),
        }
    }

    /// Does what a fix says, and looks whether it helps.
    fn fixed(&self, fix: &Fix) -> usize {
        let mut plan = self.assessment.plan.clone();
        let site = &self.readiness.places[0].site;
        match fix {
            Fix::HoldAtHead { posts } => {
                for post in plan.posts.iter_mut().filter(|post| posts.contains(&post.name)) {
                    post.carry = Some(Carry::Head);
                }
                let score = scored(self.assessment, plan, site);
                for post in score.posts.iter().filter(|post| posts.contains(&post.post)) {
                    assert!(post.outcome.works(), "{} at the head: {:?}", post.post, post.outcome);
                }
                posts.len()
            }
            Fix::MoreMast { site: on, extra_m } => {
                assert_eq!(on, site);
                let mast = &mut plan.sites.iter_mut().find(|s| s.name == *site).unwrap().mast;
                *mast += *extra_m;
                assert!(*mast <= plan.masts.highest);
                let before = self.score.posts_covered;
                assert!(scored(self.assessment, plan, site).posts_covered > before);
                1
            }
            Fix::MovePost { post, distance_m, bearing_degrees } => {
                assert!(*distance_m <= Metres::new(600.0));
                let moved = plan.posts.iter_mut().find(|p| p.name == *post).unwrap();
                let to = moved.at.destination(*bearing_degrees, *distance_m);
                moved.at = to;
                let score = scored(self.assessment, plan, site);
                let score = score.posts.iter().find(|p| p.post == *post).unwrap();
                assert!(score.outcome.works(), "{post} moved: {:?}", score.outcome);
                1
            }
            Fix::LargerPack { capacity_ah, left_in_poor_case, .. } => {
                let pack = &mut plan.power.packs[0];
                (pack.capacity, pack.age_years) = (*capacity_ah, 0.0);
                let budget = station_budgets(&plan).unwrap().remove(0);
                assert!(budget.poor.lasts(), "{fix:?}");
                let left = budget.poor.left_at_end;
                approx::assert_abs_diff_eq!(left, *left_in_poor_case, epsilon = 1e-9);
                2
            }
            Fix::OtherSite { site, .. } => {
                assert!(scored(self.assessment, plan, site).must_posts_met);
                1
            }
            Fix::MoreRelays { sites } => {
                let scores: Vec<SiteScore> =
                    sites.iter().map(|site| scored(self.assessment, plan.clone(), site)).collect();
                for (index, post) in plan.posts.iter().enumerate().filter(|(_, post)| post.must) {
                    let works = scores.iter().any(|score| score.posts[index].outcome.works());
                    assert!(works, "{} on {sites:?}", post.name);
                }
                1
            }
            _ => 0,
        }
    }
}

/// How a site does by a plan that was changed.
fn scored(assessment: &Assessment, plan: perchline::plan::Plan, site: &str) -> SiteScore {
    let assessment = assessment.revised(plan).unwrap();
    let grid = assessment.map_grid().unwrap();
    let stop = AtomicBool::new(false);
    let inputs = assessment.rank_inputs(&grid, &|| (), &stop);
    let channel = assessment.plan.channels.iter().find(|channel| channel.is_relay()).unwrap();
    let site = assessment.plan.sites.iter().find(|s| s.name == site).unwrap();
    score_without_map(&inputs, channel, site, None).unwrap()
}

/// Prints
///   figure `ready_statements_held` N statements
#[test]
fn every_finding_of_drawn_plans_is_what_its_verb_says() {
    let mut held = 0;
    let mut verdicts = [0; 3];
    for number in 0..300 {
        let (text, height) = drawn(number);
        let assessment = opened(&text, height);
        let readiness = judged(&assessment);
        let ready = Ready::of(&assessment.plan, &readiness);
        verdicts[readiness.verdict as usize] += 1;

        let grid = assessment.map_grid().unwrap();
        let stop = AtomicBool::new(false);
        let inputs = assessment.rank_inputs(&grid, &|| (), &stop);
        let channel = assessment.plan.channels.iter().find(|channel| channel.is_relay()).unwrap();
        let (ranking, _) = rank(&inputs, channel, Keep::None).unwrap();
        let score = ranking.sites.first().unwrap().clone();
        assert_eq!(readiness.places[0].site, score.site, "plan {number}");
        assert_eq!(readiness.places[0].posts, Some((score.posts_covered, score.posts.len())));
        let must = score.posts.iter().filter(|post| post.must);
        assert_eq!(readiness.must_posts, must.clone().count());
        let met = must.clone().filter(|post| post.outcome.works());
        assert_eq!(readiness.must_posts_met, met.clone().count());
        let thinnest = met.filter_map(|post| post.probability).reduce(f64::min);
        assert_eq!(readiness.thinnest.as_ref().map(|thin| thin.probability), thinnest);
        held += 5;

        let verbs = Verbs { assessment: &assessment, readiness: &readiness, ready: &ready, score };
        let lines = verbs.ready.reasons.iter().chain(&ready.fails).chain(&ready.told);
        let mut said: Vec<&str> = lines.map(|line| line.says.as_str()).collect();
        said.sort_unstable();
        for finding in &readiness.findings {
            let says = match &finding.matter {
                Matter::Post { post, .. } => Some(post),
                Matter::Pack { station, .. } => Some(station),
                _ => None,
            };
            let says = says
                .and_then(|name| said.iter().find(|line| line.starts_with(name.as_str())))
                .copied()
                .unwrap_or_default();
            held += verbs.hold(&finding.matter, finding.fix.as_ref(), says);
            assert_eq!(finding.gravity == Gravity::Condition, {
                finding.fix.is_some()
                    && match &finding.matter {
                        Matter::Post { must, .. } => *must,
                        Matter::CutOff { must, .. } => !must.is_empty(),
                        Matter::Pack { .. }
                        | Matter::Duplexer { .. }
                        | Matter::Spares { .. }
                        | Matter::NoFallback { .. } => true,
                        _ => false,
                    }
            });
            held += finding.fix.as_ref().map_or(0, |fix| verbs.fixed(fix));
        }
        let gravest = readiness.findings.iter().map(|finding| finding.gravity).min();
        let verdict = match gravest {
            Some(Gravity::Stops) => Verdict::No,
            Some(Gravity::Condition) => Verdict::GoIf,
            _ => Verdict::Go,
        };
        assert_eq!(readiness.verdict, verdict, "plan {number}");
    }
    // Drawn so that each verdict is there.
    assert!(verdicts.iter().all(|count| *count >= 5), "{verdicts:?}");
    println!("figure ready_statements_held {held} statements");
}

/// The screen of the sample fits 80 columns and begins with the verdict, which is one
/// sheet; its route is another.
#[test]
fn the_sample_is_told_on_one_screen_and_one_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let plan = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");
    let output = perchline_long(folder.path(), &["ready", plan, "--out", "out"]);
    assert!(output.status.success());
    let text = as_printed(&output);
    assert!(
        text.starts_with("Ferry Lights half marathon, Saturday 5 December 2026: GO, IF"),
        "{text}"
    );
    for line in text.lines().filter(|line| !line.starts_with("wrote ")) {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for part in ["Must-have posts", "If the relay dies", "poor case", "Not known", "Take care"] {
        assert!(text.contains(part), "no {part}");
    }
    let pdf = lopdf::Document::load(folder.path().join("out/ready-a4.pdf")).unwrap();
    assert_eq!(pdf.get_pages().len(), 2);
    let words_of =
        |page: u32| -> String { pdf.extract_text(&[page]).unwrap().split_whitespace().collect() };
    let words = words_of(1);
    for part in ["GO,IFthese", "Digipeater", "Takecare", "Page1of2"] {
        assert!(words.contains(part), "no {part} in\n{words}");
    }
    assert!(!words.contains("morelinesarein"), "{words}");
    // The stretches are those that the briefing of the same site tells.
    let routes = words_of(2);
    for part in ["Radioalongtheroutes", "Halfmarathon,", "Page2", "Postsontheway"] {
        assert!(routes.contains(part), "no {part} in\n{routes}");
    }
    let brief = perchline_long(folder.path(), &["brief", plan]);
    let brief: String = as_printed(&brief).split_whitespace().collect();
    let stretches = routes.split("Stretcheswithoutradiobothways:").nth(1).unwrap();
    let stretches = stretches.split("Minutesarethose").next().unwrap();
    let told: Vec<&str> = stretches.trim_end_matches('.').split(';').collect();
    assert!(told.len() > 1, "{stretches}");
    for gap in told {
        let (_, gap) = gap.split_once(':').unwrap();
        let gap = gap.split(",and").next().unwrap();
        assert!(brief.contains(gap), "no {gap} in\n{brief}");
    }
}

/// A plan without routes has the verdict alone, on the paper of its units; whoever asks
/// gets another, and only that.
#[test]
fn the_verdict_is_on_the_paper_of_the_plan_s_units_or_that_was_asked_for() {
    use crate::support::live::copy;
    let made = |text: &dyn Fn(String) -> String, more: &[&str]| {
        let sample = copy("ferry-lights.toml", text);
        let asked = [&["ready", "plan.toml", "--out", "out"], more].concat();
        let output = perchline_long(sample.folder.path(), &asked);
        assert!(output.status.success(), "{}", crate::support::said(&output));
        let mut found: Vec<(String, usize)> = std::fs::read_dir(sample.folder.path().join("out"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|ending| ending == "pdf"))
            .map(|path| {
                let pages = lopdf::Document::load(&path).unwrap().get_pages().len();
                (path.file_name().unwrap().to_str().unwrap().to_owned(), pages)
            })
            .collect();
        found.sort();
        found
    };
    let named = |files: &[(&str, usize)]| -> Vec<(String, usize)> {
        files.iter().map(|(name, pages)| ((*name).to_owned(), *pages)).collect()
    };
    let us = |text: String| text + "\n[report]\nunits = \"us\"\n";
    assert_eq!(made(&us, &[]), named(&[("ready-letter.pdf", 2)]));
    assert_eq!(made(&us, &["--paper", "a4"]), named(&[("ready-a4.pdf", 2)]));
    let bare = |text: String| {
        let trackers = text.find("# --- packet trackers").unwrap();
        let sites = text.find("# --- candidate sites").unwrap();
        let route = text.find("[[route]]").unwrap();
        let traffic =
            "currents = { transmit = \"1.4 A\", receive = \"200 mA\", standby = \"60 mA\" }";
        let own = "\ntraffic = { heard = \"280 /h\", repeated = \"280 /h\", packet = \"0.9 s\" }";
        assert!(route < trackers && text.contains(traffic));
        let text = format!("{}{}", &text[..route], &text[sites..]);
        text.replace(traffic, &format!("{traffic}{own}"))
    };
    let both = ["--paper", "both", "--paper", "a3", "--paper", "tabloid"];
    assert_eq!(
        made(&bare, &both),
        named(&[
            ("ready-a3.pdf", 1),
            ("ready-a4.pdf", 1),
            ("ready-letter.pdf", 1),
            ("ready-tabloid.pdf", 1),
        ])
    );
}

/// The verdict is the poor case's: nothing but the wanted share of spots changes.
#[test]
fn a_stricter_share_of_spots_never_makes_a_better_verdict() {
    for number in [3, 17, 40, 77] {
        let (text, height) = drawn(number);
        let with = |share: &str| {
            let text = format!("{text}\n[prediction]\nreliability = \"{share}\"\n");
            judged(&opened(&text, &height)).verdict
        };
        assert!(with("80 %") <= with("95 %"), "plan {number}");
        assert!(with("95 %") <= with("99 %"), "plan {number}");
    }
}

/// Margins in the words are those of the thinnest must-have post.
#[test]
fn the_thinnest_post_is_told_with_its_margin() {
    let assessment = opened(&sound(), plain);
    let readiness = judged(&assessment);
    let thin = readiness.thinnest.as_ref().unwrap();
    assert_eq!(thin.post, "Aid 2");
    let margin: Db = thin.margin_db.unwrap();
    let ready = Ready::of(&assessment.plan, &readiness);
    let line = format!("{margin:.1} in hand");
    assert!(ready.must.iter().any(|says| says.contains(&line)), "{:?}", ready.must);
}
