//! What two outputs state is stated from one computation: every verb's JSON, for
//! both plans of the sample and for plans drawn at random, says the same of a
//! post, a route, a site, its hours and edges, a pack, a roof, a way without the relay
//! and what a report of the day is held against.
//! Prints
//!   figure `statements_compared` N statements
//!   figure `statements_differing` 0 statements

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use serde_json::Value;

use crate::support::{PLAN, perchline, said, write_plan_raster};

/// What is said of one thing, and by whom.
#[derive(Default)]
struct Statements {
    said: BTreeMap<String, Vec<(&'static str, Value)>>,
}

impl Statements {
    fn add(&mut self, of: String, by: &'static str, value: &Value) {
        self.said.entry(of).or_default().push((by, value.clone()));
    }

    /// How many statements were made a second time, and which of them differ.
    fn compared(&self) -> (usize, Vec<String>) {
        let mut compared = 0;
        let mut differing = Vec::new();
        for (of, all) in &self.said {
            let Some(((first_by, first), others)) = all.split_first() else { continue };
            for (by, value) in others {
                compared += 1;
                if !alike(first, value) {
                    differing.push(format!("{of}: {first_by} {first}, {by} {value}"));
                }
            }
        }
        (compared, differing)
    }
}

/// The same words, or numbers as near as the 32 bits of a map keep them.
fn alike(one: &Value, other: &Value) -> bool {
    match (one.as_f64(), other.as_f64()) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-5 * a.abs().max(1.0),
        _ => one == other,
    }
}

/// The result of a verb; nothing where the plan gives it nothing to do.
fn result(folder: &Path, plan: &str, verb: &str, more: &[&str]) -> Option<Value> {
    let arguments = [&[verb, plan, "--json"], more].concat();
    let output = perchline(folder, &arguments);
    if output.status.code() == Some(2) {
        // Refused in words that name what the plan lacks.
        assert!(said(&output).contains("the plan"), "{verb}: {}", said(&output));
        return None;
    }
    assert!(output.status.success(), "{verb}: {}", said(&output));
    let mut document: Value = serde_json::from_slice(&output.stdout).unwrap();
    Some(document["result"].take())
}

fn list(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name].as_str().unwrap_or_else(|| panic!("no {name} in {value}"))
}

/// A site of a ranking or of `coverage`.
fn site(said: &mut Statements, by: &'static str, channel: &str, site: &Value) {
    let name = text(site, "site");
    for what in ["weighted_probability", "must_posts_met", "posts_covered", "map_share", "ground_m"]
    {
        said.add(format!("{channel}, site {name}: {what}"), by, &site[what]);
    }
    for post in list(&site["posts"]) {
        let of = format!("{channel}, {name} to {}", text(post, "post"));
        directions(said, by, &of, &post["budgets"]);
        for what in ["outcome", "governing_margin_db", "probability_both_ways", "line_of_sight"] {
            said.add(format!("{of}: {what}"), by, &post[what]);
        }
    }
    for part in list(&site["areas"]).chain(list(&site["routes"])) {
        let of = format!("{channel}, {name}, {}", text(part, "name"));
        said.add(format!("{of}: share"), by, &part["share"]);
        said.add(format!("{of}: samples"), by, &part["samples"]);
    }
}

/// Both directions of a link: the level that arrives, what it is over the level
/// needed, and the share of spots in which that is enough.
fn directions(said: &mut Statements, by: &'static str, of: &str, budgets: &Value) {
    for (member, direction) in [("talk_in", "talk-in"), ("talk_out", "talk-out")] {
        let budget = &budgets[member];
        if budget.is_null() {
            continue;
        }
        let over = budget["margin_db"].as_f64().unwrap()
            + budget["reliability_allowance_db"].as_f64().unwrap();
        said.add(format!("{of}, {direction}: dBm"), by, &budget["signal_dbm"]);
        said.add(format!("{of}, {direction}: over needed"), by, &over.into());
        said.add(format!("{of}, {direction}: share"), by, &budget["share_of_locations"]);
    }
}

/// What a report from each post, in both directions, is held against.
fn debriefed(said: &mut Statements, folder: &Path, plan: &str, channel: &str, site: &Value) {
    let mut log = "post,direction,heard\n".to_owned();
    for post in list(&site["posts"]) {
        for direction in ["in", "out"] {
            log += &format!("\"{}\",{direction},yes\n", text(post, "post"));
        }
    }
    let logs = tempfile::tempdir().unwrap();
    let file = logs.path().join("log.csv");
    fs::write(&file, log).unwrap();
    let site = text(site, "site");
    let more = [file.to_str().unwrap(), "--site", site, "--channel", channel];
    let debrief = result(folder, plan, "debrief", &more).unwrap();
    for report in list(&debrief["reports"]) {
        let place = text(report, "place");
        let of = format!("{channel}, {site} to {place}, {}", text(report, "direction"));
        said.add(format!("{of}: dBm"), "debrief", &report["predicted_dbm"]);
        said.add(format!("{of}: over needed"), "debrief", &report["predicted_margin_db"]);
        said.add(format!("{of}: share"), "debrief", &report["predicted_share"]);
    }
}

/// Links from post to post without a relay: as `direct` has them, and what a report
/// from one to the other is held against.
fn between(said: &mut Statements, folder: &Path, plan: &str) {
    /// Links of each channel that are compared.
    const MOST: usize = 5;
    let Some(direct) = result(folder, plan, "direct", &[]) else { return };
    let mut log = "from,to,channel,direction,heard\n".to_owned();
    let mut links = 0;
    for net in list(&direct["nets"]) {
        let channel = text(net, "channel");
        let pairs: Vec<&Value> = list(&net["pairs"]).collect();
        for pair in pairs.iter().step_by(pairs.len().div_ceil(MOST).max(1)) {
            let (from, to) = (text(pair, "from"), text(pair, "to"));
            for (speaks, listens, margin) in
                [(from, to, "forth_margin_db"), (to, from, "back_margin_db")]
            {
                let of = format!("{channel}, {speaks} to {listens}: margin");
                said.add(of, "direct", &pair[margin]);
            }
            // As people write it: who spoke first, whatever the plan's order.
            log += &format!("\"{to}\",\"{from}\",{channel},both,yes\n");
            links += 1;
        }
    }
    if links == 0 {
        return;
    }
    let logs = tempfile::tempdir().unwrap();
    let file = logs.path().join("log.csv");
    fs::write(&file, log).unwrap();
    let debrief = result(folder, plan, "debrief", &[file.to_str().unwrap()]).unwrap();
    for report in list(&debrief["reports"]) {
        let (channel, place, to) =
            (text(report, "channel"), text(report, "place"), text(report, "to"));
        let of = match text(report, "direction") {
            "talk-in" => format!("{channel}, {place} to {to}"),
            _ => format!("{channel}, {to} to {place}"),
        };
        let margin = &report["predicted_margin_with_allowance_db"];
        said.add(format!("{of}: margin"), "debrief", margin);
    }
}

/// Whom each post calls when the relay is gone, and how that goes: as the chains
/// of `direct` have it.
fn chains(said: &mut Statements, net: &Value) {
    let (channel, control) = (text(net, "channel"), text(&net["net_control"], "post"));
    let mut without = Vec::new();
    for chain in list(&net["chains"]) {
        let (post, way) = (text(chain, "post"), text(chain, "way"));
        if way == "nothing" {
            without.push(post);
        }
        let through = list(&chain["through"]).map(|p| p.as_str().unwrap());
        let calls: Vec<&str> = through.chain([control]).collect();
        let calls = if way == "nothing" { Value::Null } else { calls.into() };
        said.add(format!("without a relay, {channel}: {post} calls"), "direct", &calls);
        said.add(format!("without a relay, {channel}: {post}, way"), "direct", &way.into());
    }
    let of = format!("without a relay, {channel}: no way from");
    said.add(of, "direct", &without.into());
}

/// The posts that a call goes through, each with the channel on which it is called
/// where the call says it.
fn hops(call: &str, channels: &[String]) -> Vec<(String, Option<String>)> {
    let hops: Vec<&str> = match call.split_once(", who relays through ") {
        Some((first, rest)) => {
            let (others, control) = rest.rsplit_once(" to ").unwrap();
            std::iter::once(first).chain(others.split(", ")).chain([control]).collect()
        }
        None => call.split(", who relays to ").collect(),
    };
    let hop = |hop: &str| {
        let on = channels.iter().find_map(|channel| {
            Some((hop.strip_suffix(&format!(" on {channel}"))?.to_owned(), Some(channel.clone())))
        });
        on.unwrap_or_else(|| (hop.to_owned(), None))
    };
    hops.into_iter().map(hop).collect()
}

/// Whom lines of a card or of the briefing have posts call: the posts, the calls, and
/// how they go.
type Called<'l> = (Vec<&'l str>, Vec<(String, Option<String>)>, &'static str);

fn calls_of<'l>(lines: &'l [String], channels: &[String]) -> Vec<Called<'l>> {
    let mut found = Vec::new();
    for line in lines {
        let Some((posts, rest)) = line.split_once(": ") else { continue };
        let posts = posts.split(", ").collect();
        // A channel on which all calls are made is named before them.
        let all_on = channels.iter().find_map(|channel| {
            Some((channel, rest.strip_prefix(&format!("on {channel}, call "))?))
        });
        let called = all_on.map(|(_, rest)| rest).or_else(|| rest.strip_prefix("call "));
        if let Some(rest) = called {
            let (call, after) = rest.split_once('.').unwrap();
            let way = if after.contains("Patchy") { "patchy" } else { "works" };
            let mut hops = hops(call, channels);
            if let Some((channel, _)) = all_on {
                hops.iter_mut().for_each(|(_, on)| *on = Some(channel.clone()));
            }
            found.push((posts, hops, way));
        } else if rest.starts_with("no radio path") {
            found.push((posts, Vec::new(), "nothing"));
        }
    }
    found
}

/// The same as lines of a card have it, one a group of posts.
fn called(said: &mut Statements, by: &'static str, channel: &str, lines: &[String]) {
    let mut without: Vec<&str> = Vec::new();
    for (posts, calls, way) in calls_of(lines, &[]) {
        let calls: Vec<String> = calls.into_iter().map(|(post, _)| post).collect();
        let calls = if way == "nothing" { Value::Null } else { calls.into() };
        for post in posts {
            if way == "nothing" {
                without.push(post);
            }
            said.add(format!("without a relay, {channel}: {post} calls"), by, &calls);
            said.add(format!("without a relay, {channel}: {post}, way"), by, &way.into());
        }
    }
    said.add(format!("without a relay, {channel}: no way from"), by, &without.into());
}

/// How words get to net control over channels: as `direct` has it.
fn ways(said: &mut Statements, direct: &Value) {
    let mut without = Vec::new();
    for way in list(&direct["ways"]) {
        let (post, how) = (text(way, "post"), text(way, "way"));
        if how == "nothing" {
            without.push(post);
        }
        let call = |call| format!("{} on {}", text(call, "post"), text(call, "channel"));
        let calls: Vec<String> = list(&way["calls"]).map(call).collect();
        said.add(format!("without a relay: {post} calls"), "direct", &calls.into());
        said.add(format!("without a relay: {post}, way"), "direct", &how.into());
    }
    said.add("without a relay: no way from".to_owned(), "direct", &without.into());
}

/// The same as lines have it, with `first` where a call names no channel.
fn ways_called(
    said: &mut Statements,
    by: &'static str,
    (first, channels): (&str, &[String]),
    lines: &[String],
) {
    for (posts, calls, how) in calls_of(lines, channels) {
        let calls: Vec<String> = calls
            .into_iter()
            .map(|(post, on)| format!("{post} on {}", on.as_deref().unwrap_or(first)))
            .collect();
        for post in posts {
            said.add(format!("without a relay: {post} calls"), by, &calls.clone().into());
            said.add(format!("without a relay: {post}, way"), by, &how.into());
        }
    }
}

/// Through whom net control's own card has it reach others: turned around, through
/// whom their words come.
fn reached(said: &mut Statements, lines: &[String]) {
    for line in lines {
        let Some((how, posts)) = line.split_once(": ") else { continue };
        let (how, way) = match how.strip_suffix(", patchy") {
            Some(how) => (how, "patchy"),
            None if how == "No radio path" => (how, "nothing"),
            None => (how, "works"),
        };
        let through: Vec<&str> = match how.strip_prefix("Through ") {
            Some(through) => through.split(", ").collect(),
            None if ["Direct", "No radio path"].contains(&how) => Vec::new(),
            None => continue,
        };
        let through: Vec<&str> = through.into_iter().rev().collect();
        for post in posts.trim_end_matches('.').split(", ") {
            said.add(format!("without a relay: {post}, way"), "net control's card", &way.into());
            // Channels are not named there.
            let of = format!("without a relay: {post} through");
            said.add(of, "net control's card", &through.clone().into());
        }
    }
}

/// Whom the slip of each post has it call, and for whom it relays.
fn slips(said: &mut Statements, direct: &Value, brief: &Value) {
    let first = text(&direct["first_channel"], "channel");
    for post in list(&brief["posts"]) {
        let name = text(post, "name");
        for step in list(&post["slip"]["silent"]).map(|step| step.as_str().unwrap()) {
            let own = [format!("call {name}"), format!("Telephone {name},")];
            assert!(!own.iter().any(|own| step.contains(own)), "{name} is told: {step}");
            let call = step.strip_prefix("Change to channel ").and_then(|s| s.split_once(" and "));
            let call = call.or_else(|| step.strip_prefix("For ")?.split_once(": "));
            let Some((_, call)) = call else { continue };
            let line = if step.contains("no radio path") {
                format!("{name}: no radio path")
            } else {
                format!("{name}: {call}")
            };
            ways_called(said, "slip", (first, &channels(direct)), &[line]);
        }
        let steps = list(&post["slip"]["silent"]).map(|step| step.as_str().unwrap());
        let relays: Vec<&str> = steps
            .filter_map(|step| step.strip_prefix("Relay for ")?.strip_suffix('.'))
            .flat_map(|posts| posts.split(", "))
            .collect();
        let through = |way: &&Value| {
            let calls: Vec<&Value> = list(&way["calls"]).collect();
            calls.iter().rev().skip(1).any(|call| call["post"] == name)
        };
        let whose: Vec<&str> =
            list(&direct["ways"]).filter(through).map(|way| text(way, "post")).collect();
        said.add(format!("{name} relays for"), "slip", &relays.into());
        said.add(format!("{name} relays for"), "direct", &whose.into());
        // Where the relay does not work, whom to call in its place is the same post.
        let agreed = list(&post["advice"]).find_map(|advice| {
            advice.as_str().unwrap().strip_prefix("Agree with ")?.split_once(" that it listens")
        });
        if let Some((other, _)) = agreed {
            let way = list(&direct["ways"]).find(|way| way["post"] == name).unwrap();
            said.add(format!("{name}: agrees with"), "brief", &other.into());
            said.add(format!("{name}: agrees with"), "direct", &way["calls"][0]["post"]);
        }
    }
}

/// Lines of a card, those that go on after a blank joined.
fn joined(lines: &[&str]) -> Vec<String> {
    let mut whole: Vec<String> = Vec::new();
    for line in lines {
        match (line.strip_prefix(' '), whole.last_mut()) {
            (Some(rest), Some(last)) => *last += &format!(" {rest}"),
            _ => whole.push((*line).to_owned()),
        }
    }
    whole
}

/// The first line of a card, and its lines without those that every side repeats:
/// the first, the channel with the event, a side's number, the foot.
fn card(text: &str) -> (String, Vec<String>) {
    let mut body = Vec::new();
    let mut first = String::new();
    for side in text.split("\n\n") {
        let lines: Vec<&str> = side.lines().collect();
        let starts: Vec<usize> = (0..lines.len()).filter(|n| !lines[*n].starts_with(' ')).collect();
        first = joined(&lines[..starts[1]]).remove(0);
        let repeated: Vec<usize> =
            starts.iter().copied().filter(|n| lines[*n].starts_with("Side ")).collect();
        // A line may go on from one side to the next.
        let second = starts[1] + 1;
        let from = repeated.first().map_or(second, |n| n + 1);
        body.extend(&lines[from..*starts.last().unwrap()]);
    }
    (first, joined(&body))
}

/// What is done without a relay: as `direct` has it, its cards, and the briefing's
/// two pages.
fn without_relay(said: &mut Statements, folder: &Path, plan: &str, brief: &Value) {
    let out = tempfile::tempdir().unwrap();
    let arguments = ["--out", out.path().to_str().unwrap()];
    let Some(direct) = result(folder, plan, "direct", &arguments) else { return };
    ways(said, &direct);
    let grouped = list(&direct["groups"]).next().is_some();
    if !grouped {
        channel_cards(said, out.path(), &direct);
    }
    first_steps(said, &direct, brief);
    let first = &direct["first_channel"];
    if first.is_null() {
        return;
    }
    if grouped {
        group_cards(said, out.path(), &direct);
    }
    slips(said, &direct, brief);
    let page = list(&brief["crew"]).find(|s| text(s, "title").starts_with("If the relay falls"));
    let page = page.unwrap();
    let channel = text(first, "channel");
    said.add(format!("without a relay, {channel}: title"), "brief, crew", &page["title"]);
    let lines: Vec<String> = list(&page["entries"])
        .map(|entry| format!("{}: {}", text(entry, "head"), text(entry, "body")))
        .collect();
    ways_called(said, "brief, crew", (channel, &channels(&direct)), &lines);
    if !grouped {
        called(said, "brief, crew", channel, &lines);
        said.add(format!("without a relay, {channel}: lines"), "brief, crew", &lines.into());
    }
}

/// The channels that a result of `direct` tells of.
fn channels(direct: &Value) -> Vec<String> {
    let all = list(&direct["nets"]).chain(list(&direct["groups"]));
    all.map(|one| text(one, "channel").to_owned()).collect()
}

/// The cards of a plan without groups: one a channel.
fn channel_cards(said: &mut Statements, out: &Path, direct: &Value) {
    let first = direct["first_channel"]["channel"].as_str();
    for net in list(&direct["nets"]) {
        chains(said, net);
        let channel = text(net, "channel");
        let stem = channel.to_lowercase().replace(' ', "-");
        let sides = fs::read_to_string(out.join(format!("card-{stem}.txt"))).unwrap();
        let (top, lines) = card(&sides);
        let title = top.replace(": ", &format!(": {channel}, "));
        said.add(format!("without a relay, {channel}: title"), "card", &title.into());
        called(said, "card", channel, &lines);
        if first == Some(channel) {
            ways_called(said, "card", (channel, &channels(direct)), &lines);
        }
        said.add(format!("without a relay, {channel}: lines"), "card", &lines.into());
    }
}

/// A frequency as people read it: three digits, a fourth where there is one.
fn megahertz(mhz: f64) -> String {
    let digits = format!("{mhz:.4}");
    digits.strip_suffix('0').unwrap_or(&digits).to_owned()
}

/// The cards of a plan with groups: on each the first channel is the same, and whom
/// posts call is what `direct` says.
fn group_cards(said: &mut Statements, out: &Path, direct: &Value) {
    let first = &direct["first_channel"];
    let channel = text(first, "channel");
    let named = channels(direct);
    let on_top = format!("{} MHz", megahertz(first["frequency_mhz"].as_f64().unwrap()));
    said.add("first channel's frequency".to_owned(), "direct", &on_top.into());
    let mut cards = 0;
    for entry in fs::read_dir(out).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if !name.starts_with("card-") || !name.ends_with(".txt") {
            continue;
        }
        let (top, lines) = card(&fs::read_to_string(&path).unwrap());
        let on_top = top.rsplit_once(": ").unwrap().1;
        said.add("first channel's frequency".to_owned(), "card", &on_top.into());
        if name == "card-net-control.txt" {
            reached(said, &lines);
        } else {
            ways_called(said, "card", (channel, &named), &lines);
        }
        cards += 1;
    }
    assert!(cards > 2 * list(&direct["groups"]).count(), "{cards} cards");
    for way in list(&direct["ways"]) {
        let calls: Vec<&str> = list(&way["calls"]).map(|call| text(call, "post")).collect();
        let through = calls.split_last().map_or(&[][..], |(_, through)| through);
        let of = format!("without a relay: {} through", text(way, "post"));
        said.add(of, "direct", &through.into());
    }
}

/// What the briefing's first page has everybody do who hears nothing.
fn first_steps(said: &mut Statements, direct: &Value, brief: &Value) {
    let steps: Vec<&str> = list(&brief["silence"]).map(|step| step.as_str().unwrap()).collect();
    let changed = steps.iter().find_map(|step| step.strip_prefix("Change to channel "));
    let changed = changed.and_then(|change| change.split_once(" ("));
    let first = &direct["first_channel"];
    let of = "the channel that everybody changes to first".to_owned();
    said.add(of.clone(), "direct", &first["channel"]);
    said.add(of, "brief", &changed.map(|(channel, _)| channel).into());
    let Some((channel, rest)) = changed else { return };
    let (frequency, rest) = rest.split_once(") and call ").unwrap();
    let title = format!("If the relay falls silent: {channel}, {frequency} MHz");
    said.add(format!("without a relay, {channel}: title"), "brief", &title.into());
    let control = rest.split_once(", or the post").unwrap().0;
    let of = format!("without a relay, {channel}: net control");
    said.add(of.clone(), "direct", &first["net_control"]);
    said.add(of, "brief", &control.into());
    let without = steps.iter().find_map(|step| {
        step.strip_prefix("At ")?.split_once(": no radio path to ").map(|(posts, _)| posts)
    });
    let without: Vec<&str> = without.iter().flat_map(|posts| posts.split(", ")).collect();
    said.add("without a relay: no way from".to_owned(), "brief", &without.into());
    for group in list(&direct["groups"]).filter(|group| group["channel"] != first["channel"]) {
        let name = text(group, "group");
        let step = steps.iter().find_map(|step| step.strip_prefix(&format!("{name}: ")));
        let of = format!("group {name}: channel and whom to call");
        said.add(of.clone(), "brief", &step.into());
        let control = text(&group["net"]["net_control"], "post");
        let mhz = group["frequency_mhz"].as_f64().unwrap();
        let channel = text(group, "channel");
        let mhz = megahertz(mhz);
        let wanted = format!("then channel {channel} ({mhz}), call {control}.");
        said.add(of, "direct", &wanted.into());
    }
}

/// A station's budget, wherever it stands.
fn budgets(said: &mut Statements, by: &'static str, stations: &Value) {
    for station in list(stations) {
        let name = text(station, "station");
        for case in ["expected", "poor", "good"] {
            for what in ["dies_at", "run_time_h", "left_at_end"] {
                said.add(format!("{name}, {case}: {what}"), by, &station[case][what]);
            }
        }
        said.add(format!("{name}: average_a"), by, &station["average_a"]);
    }
}

/// When sites are open against when they are needed, and what to mind on each.
fn places(said: &mut Statements, by: &'static str, places: &Value) {
    for place in list(places) {
        let of = format!("{}, on {}", text(place, "channel"), text(place, "site"));
        said.add(format!("{of}: hindrances"), by, &place["access"]["hindrances"]);
        said.add(format!("{of}: changes missed"), by, &place["changes_missed"]);
        let told: Vec<&str> = list(&place["mind"]).map(|line| line.as_str().unwrap()).collect();
        said.add(format!("{of}: to mind"), by, &told.join(" ").into());
    }
}

/// The same on the briefing's crew page, of the relay's site.
fn place_of_brief(said: &mut Statements, brief: &Value, channel: &str, site: &str) {
    let page = list(&brief["crew"]).find(|section| text(section, "title") == "Sites").unwrap();
    let head = format!("Mind on {site}");
    let told = list(&page["entries"]).find(|entry| text(entry, "head") == head);
    let told = told.map_or("", |entry| text(entry, "body"));
    said.add(format!("{channel}, on {site}: to mind"), "brief, crew", &told.into());
}

/// Everything that the verbs say of a plan in `folder`.
fn statements(folder: &Path, plan: &str) -> Statements {
    let mut said = Statements::default();
    let ranked = result(folder, plan, "rank", &["--maps", "none"]).unwrap();
    for ranking in list(&ranked["rankings"]) {
        list(&ranking["sites"]).for_each(|s| site(&mut said, "rank", text(ranking, "channel"), s));
    }
    budgets(&mut said, "rank", &ranked["power"]);
    places(&mut said, "rank", &ranked["places"]);
    let ranking = &ranked["rankings"][0];
    let (channel, best) = (text(ranking, "channel"), &ranking["sites"][0]);
    let best_name = text(best, "site");

    let covered =
        result(folder, plan, "coverage", &["--site", best_name, "--channel", channel]).unwrap();
    site(&mut said, "coverage", channel, &covered["site"]);
    let works: f64 = list(&covered["shares"])
        .filter(|share| ["strong", "clear"].contains(&share[0].as_str().unwrap()))
        .map(|share| share[1].as_f64().unwrap())
        .sum();
    let unknown: f64 = list(&covered["shares"])
        .filter(|share| share[0] == "unknown")
        .map(|share| share[1].as_f64().unwrap())
        .sum();
    let of_known = works / (1.0 - unknown);
    said.add(
        format!("{channel}, site {best_name}: map_share"),
        "coverage, classes",
        &of_known.into(),
    );

    for post in list(&best["posts"]) {
        let name = text(post, "post");
        let arguments = ["--from", best_name, "--to", name, "--channel", channel];
        let path = result(folder, plan, "path", &arguments).unwrap();
        let of = format!("{channel}, {best_name} to {name}");
        let budgets = &path["budgets"];
        directions(&mut said, "path", &of, budgets);
        said.add(format!("{of}: outcome"), "path", &budgets["outcome"]);
        said.add(format!("{of}: line_of_sight"), "path", &path["line_of_sight"]);
        said.add(format!("{of}: probability_both_ways"), "path", &budgets["probability_both_ways"]);
        let governing = text(budgets, "governing").replace('-', "_");
        said.add(format!("{of}: governing_margin_db"), "path", &budgets[&governing]["margin_db"]);
    }

    debriefed(&mut said, folder, plan, channel, best);
    between(&mut said, folder, plan);

    let brief = result(folder, plan, "brief", &["--channel", channel]).unwrap();
    without_relay(&mut said, folder, plan, &brief);
    place_of_brief(&mut said, &brief, channel, best_name);
    // Of a site that there is something to mind on, as if the relay stood there.
    let minded = list(&ranked["places"])
        .find(|place| place["channel"] == channel && list(&place["mind"]).next().is_some());
    if let Some(site) = minded.map(|place| text(place, "site")) {
        let brief = result(folder, plan, "brief", &["--channel", channel, "--site", site]).unwrap();
        place_of_brief(&mut said, &brief, channel, site);
    }
    for post in list(&brief["posts"]) {
        let of = format!("{channel}, {best_name} to {}: outcome", text(post, "name"));
        said.add(of, "brief", &post["outcome"]);
    }

    readiness(&mut said, folder, plan, channel, best_name);

    let choice = result(folder, plan, "choose", &["--channel", channel, "--relays", "1"]);
    if let Some(choice) = choice {
        let first = &choice["choice"]["first"];
        let of = format!("{channel}, site {}", first["sites"][0].as_str().unwrap());
        said.add(format!("{of}: weighted_probability"), "choose", &first["weighted_probability"]);
        said.add(format!("{of}: posts_covered"), "choose", &first["posts_covered"]);
        places(&mut said, "choose", &choice["places"]);
    }

    if let Some(masts) = result(folder, plan, "masts", &["--site", best_name, "--channel", channel])
    {
        let site = &masts["sites"][0];
        let planned = list(&site["heights"]).find(|h| h["mast_m"] == site["planned_mast_m"]);
        if let Some(height) = planned {
            for what in ["weighted_probability", "must_posts_met", "posts_covered", "map_share"] {
                let of = format!("{channel}, site {best_name}: {what}");
                said.add(of, "masts", &height[what]);
            }
        }
    }

    if let Some(power) = result(folder, plan, "power", &[]) {
        budgets(&mut said, "power", &power["stations"]);
        places(&mut said, "power", &power["places"]);
        for station in list(&power["stations"]).filter(|s| !s["beacons_an_hour"].is_null()) {
            let of = format!("channel {}: beacons an hour", text(station, "channel"));
            said.add(of, "power", &station["beacons_an_hour"]);
        }
    }
    if let Some(trackers) = result(folder, plan, "trackers", &["--site", best_name]) {
        for study in list(&trackers["channels"]) {
            let of = format!("channel {}: beacons an hour", text(study, "channel"));
            said.add(of, "trackers", &study["load"]["packets_an_hour"]);
        }
    }
    roofs(folder, plan, &ranked, &mut said);
    said
}

/// What `ready` says of posts, routes, packs and the fallback.
fn readiness(said: &mut Statements, folder: &Path, plan: &str, channel: &str, best: &str) {
    let ready = result(folder, plan, "ready", &["--channel", channel, "--site", best]).unwrap();
    for finding in list(&ready["readiness"]["findings"]) {
        let matter = &finding["matter"];
        match text(matter, "kind") {
            "post" => {
                let of = format!("{channel}, {best} to {}", text(matter, "post"));
                said.add(format!("{of}: outcome"), "ready", &matter["outcome"]);
                let probability = &matter["probability"];
                said.add(format!("{of}: probability_both_ways"), "ready", probability);
                // What is told as short is the margin, unless either way alone would do.
                if matter["short_db"] != matter["missing_db"] {
                    let margin = -matter["short_db"].as_f64().unwrap();
                    said.add(format!("{of}: governing_margin_db"), "ready", &margin.into());
                }
            }
            kind @ ("area" | "route") => {
                let of = format!("{channel}, {best}, {}: share", text(matter, kind));
                said.add(of, "ready", &matter["share"]);
            }
            "pack" => {
                let of = format!("{}, poor: dies_at", text(matter, "station"));
                said.add(of, "ready", &matter["dies_at"]);
            }
            _ => {}
        }
    }
    for bar in list(&ready["readiness"]["timeline"]["bars"]).filter(|bar| bar["kind"] == "station")
    {
        let of = format!("{}, poor: left_at_end", text(bar, "name"));
        said.add(of, "ready", &bar["left_in_poor_case"]);
    }
}

/// The margin from roof to roof of relays that are linked.
fn links(said: &mut Statements, ranked: &Value, choice: &Value) {
    let between = |one: &str, other: &str| {
        let mut ends = [one, other];
        ends.sort_unstable();
        format!("link of {} and {}", ends[0], ends[1])
    };
    for linked in list(&ranked["linked"]).filter(|l| l["channel"] == choice["channel"]) {
        for chain in list(&linked["chains"]).filter(|c| list(&c["through"]).next().is_none()) {
            let of = between(text(chain, "from"), text(chain, "to"));
            said.add(of, "rank", &chain["weakest_db"]);
        }
    }
    for link in list(&choice["links"]).filter(|l| ["strong", "clear"].contains(&text(l, "outcome")))
    {
        let of = between(text(link, "from"), text(link, "to"));
        said.add(of, "choose", &link["governing_margin_db"]);
    }
}

/// By how much one station desenses another on the roof of a site, whose noise
/// counts too; a site that is still open has the plan's.
fn roofs(folder: &Path, plan: &str, ranked: &Value, said: &mut Statements) {
    let of = |site: &Value, pair: &Value| {
        format!("on {site} {} desenses {}", text(pair, "from"), text(pair, "to"))
    };
    let Some(cosite) = result(folder, plan, "cosite", &[]) else { return };
    for roof in list(&cosite["roofs"]) {
        for pair in list(&roof["pairs"]) {
            said.add(of(&roof["site"], pair), "cosite", &pair["desense_db"]);
        }
    }
    for conflict in list(&ranked["roof_conflicts"]) {
        said.add(of(&conflict["site"], conflict), "rank", &conflict["desense_db"]);
    }
    let Some(choice) = result(folder, plan, "choose", &[]) else { return };
    links(said, ranked, &choice["choice"]);
    for refused in list(&choice["choice"]["digipeater"]["refused"]) {
        let why = &refused["why"]["desensed"];
        if !why.is_null() {
            said.add(of(&refused["site"], why), "choose", &why["desense_db"]);
        }
    }
}

/// Two more posts and a group of them on the channel that reaches farther.
fn drawn_group(draw: &mut impl FnMut(f64, f64) -> f64) -> String {
    let post = |name: &str, north: f64, west: f64| {
        format!("\n[[post]]\nname = \"{name}\"\nat = \"{north:.4}, {west:.4}\"\n")
    };
    let mut place = || (draw(46.998, 47.012), draw(-34.905, -34.885));
    let (one, other) = (place(), place());
    format!(
        "{}{}\n[[group]]\nname = \"Wardens\"\nposts = [\"Ford\", \"Gate\"]\nchannel = \"Direct\"\n\
         head = \"Ford\"\nbridge = [{{ post = \"Gate\", to = \"High\" }}]\n",
        post("Ford", one.0, one.1),
        post("Gate", other.0, other.1)
    )
}

/// Small plans over hills, with heights, places and powers drawn at random, and two
/// simplex channels, the second of which may reach farther; every other one with a
/// group.
fn drawn(folder: &Path, number: u64) {
    let mut random = Pcg64Mcg::seed_from_u64(number);
    let mut draw = |from: f64, to: f64| {
        from + (to - from) * (random.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    };
    let mut text = PLAN.to_owned();
    for (old, new) in [
        (
            "roof = \"20 m above ground\"",
            format!("roof = \"{:.0} m above ground\"", draw(3.0, 40.0)),
        ),
        ("power = \"25 W\"", format!("power = \"{:.0} W\"", draw(2.0, 50.0))),
        (
            "at = \"47.000, -34.900\"",
            format!("at = \"{:.4}, {:.4}\"", draw(46.998, 47.012), draw(-34.905, -34.885)),
        ),
        (
            "at = \"47.010, -34.885\"",
            format!("at = \"{:.4}, {:.4}\"", draw(46.998, 47.012), draw(-34.905, -34.885)),
        ),
        ("margin = \"100 m\"", "margin = \"100 m\"\ncell = \"90 m\"".to_owned()),
        ("must = true", format!("weight = {:.1}", draw(0.5, 3.0))),
    ] {
        assert!(text.contains(old), "{old}");
        text = text.replacen(old, &new, 1);
    }
    text += &format!(
        "\n[[route]]\nname = \"Course\"\nline = [\"47.001, -34.899\", \"{:.4}, -34.893\", \"47.009, -34.887\"]\n",
        draw(46.999, 47.012)
    );
    for (name, frequency) in [("High", "446.1 MHz"), ("Direct", "146.55 MHz")] {
        text += &format!(
            "\n[[channel]]\nname = \"{name}\"\nkind = \"simplex\"\nfrequency = \"{frequency}\"\ncarried = \"hand-held\"\n"
        );
    }
    if number % 2 == 1 {
        text += &drawn_group(&mut draw);
    }
    let (high, wide) = (draw(5.0, 60.0), draw(8.0, 30.0));
    let (hour, rail) = (draw(17.0, 22.0).floor(), draw(0.0, 1.5));
    let doors = format!("open_until = 2026-12-05T{hour:02.0}:00:00\nguardrail = \"{rail:.1} m\"\n");
    let text = text.replacen("mast = \"3 m\"\n", &format!("mast = \"3 m\"\n{doors}"), 1);
    fs::write(folder.join("plan.toml"), text).unwrap();
    write_plan_raster(&folder.join("terrain.tif"), |column, row| {
        let (x, y) = (column as f64 / wide, row as f64 / (wide * 0.8));
        (80.0 + high * (x.sin() * y.cos())) as f32
    });
}

#[test]
fn what_is_stated_twice_is_stated_alike() {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain");
    let (mut compared, mut differing) = (0, Vec::new());
    let mut count = |whose: String, said: &Statements| {
        let (more, wrong) = said.compared();
        compared += more;
        differing.extend(wrong.into_iter().map(|line| format!("{whose}: {line}")));
    };
    for plan in ["ferry-lights.toml", "ferry-lights-town.toml"] {
        count(plan.to_owned(), &statements(&sample, plan));
    }
    for number in 0..20 {
        let folder = tempfile::tempdir().unwrap();
        drawn(folder.path(), number);
        count(format!("drawn plan {number}"), &statements(folder.path(), "plan.toml"));
    }
    println!("figure statements_compared {compared} statements");
    println!("figure statements_differing {} statements", differing.len());
    assert!(differing.is_empty(), "{}", differing.join("\n"));
    assert!(compared >= 300, "only {compared} were compared");
}
