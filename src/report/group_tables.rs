//! Groups without a relay, as text.

use super::direct_tables::terms_words;
use super::screen::{Rows, Screen};
use super::tables::{printed, table};
use super::words;
use perchline_plan::{Plan, UnitSystem};
use perchline_power::two_radios::{FARTHEST, TwoRadios};
use perchline_siting::direct::{
    BridgeScore, BridgeSide, DirectNet, Fallback, GroupNet, Way, WordsWay,
};

/// A way in words, through those named.
pub(super) fn way_words(way: Way, through: Option<&str>) -> String {
    let through = through.map_or_else(|| "direct".to_owned(), |posts| format!("through {posts}"));
    match way {
        Way::Works => through,
        Way::Patchy => format!("patchy, {through}"),
        Way::Nothing => "none".to_owned(),
    }
}

/// Everything about one group: who hears whom on its channel, how words get to
/// its net control and to the event's, and who bridges it.
#[must_use]
pub fn group_text(plan: &Plan, fallback: &Fallback, group: &GroupNet) -> String {
    let kit =
        group.carries.as_ref().map_or_else(String::new, |crew| format!(", kit of crew {crew}"));
    let terms =
        group.net.as_ref().map_or_else(String::new, |net| format!(", {}", terms_words(&net.terms)));
    let mut text = format!(
        "Group {}: channel {}, {} MHz{terms}; head {}{kit}\n",
        group.group,
        group.channel,
        words::megahertz(group.frequency_mhz),
        group.head
    );
    if let Some(net) = &group.net {
        text += &net_control(net);
        text += &who_hears_whom(fallback, group, net);
    }
    if group.people > 0 {
        text += &format!(
            "{} at no post: where they are is not known, so nothing is predicted for them.\n",
            if group.people == 1 {
                "1 person".to_owned()
            } else {
                format!("{} people", group.people)
            }
        );
    }
    for bridge in &group.bridges {
        text += &bridge_text(plan.units, group, bridge);
    }
    if group.bridges.is_empty() && is_apart(fallback, group) {
        text +=
            "Nobody bridges it: words get to net control only by changing to the first channel.\n";
    }
    text + "\n"
}

/// Whether a group is on another channel than the first.
fn is_apart(fallback: &Fallback, group: &GroupNet) -> bool {
    fallback.first.as_ref().is_some_and(|first| first.channel != group.channel)
}

fn net_control(net: &DirectNet) -> String {
    let why = if net.net_control.stated {
        ""
    } else {
        " (proposed: the best connected of its posts; say net_control = \"...\" in the group)"
    };
    format!("Net control of the group: {}{why}\n", net.net_control.post)
}

/// Whom each post on the channel hears and is heard by, and how its words get on; of
/// a group on the first channel, where everybody is, its own posts alone.
fn who_hears_whom(fallback: &Fallback, group: &GroupNet, net: &DirectNet) -> String {
    let mut out = table(
        ["Post", "Clear both ways", "Patchy", "To the group's net control", "To net control"],
        &[],
    );
    let apart = is_apart(fallback, group);
    let is_shown = |post: &&String| apart || group.posts.contains(post);
    for (place, post) in net.posts.iter().enumerate().filter(|(_, post)| is_shown(post)) {
        let with = |wanted: fn(&perchline_link::Outcome) -> bool| {
            let heard = (0..net.posts.len())
                .filter(|other| net.pair(place, *other).is_some_and(|pair| wanted(&pair.outcome)));
            let names: Vec<&str> = heard
                .filter_map(|other| net.posts.get(other))
                .filter(is_shown)
                .map(String::as_str)
                .collect();
            if names.is_empty() { "nobody".to_owned() } else { names.join(", ") }
        };
        let whose = if group.posts.contains(post) { "" } else { " (not of the group)" };
        out.add_row([
            format!("{post}{whose}"),
            with(|outcome| outcome.works()),
            with(|outcome| *outcome == perchline_link::Outcome::Patchy),
            to_group(net, post),
            to_event(fallback, post),
        ]);
    }
    format!("{}\n", printed(&out))
}

fn to_group(net: &DirectNet, post: &str) -> String {
    let way = net.chains.iter().find(|chain| chain.post == post);
    way.map_or_else(
        || "is it".to_owned(),
        |chain| {
            let through = chain.through.join(", then ");
            way_words(chain.way, if through.is_empty() { None } else { Some(&through) })
        },
    )
}

fn to_event(fallback: &Fallback, post: &str) -> String {
    let way = fallback.ways.iter().find(|way| way.post == post);
    match way {
        Some(way) => on_channels(fallback, way),
        None if fallback.first.as_ref().is_some_and(|first| first.net_control == post) => {
            "is it".to_owned()
        }
        None => "none".to_owned(),
    }
}

/// A way with the channels on which it goes.
fn on_channels(fallback: &Fallback, way: &WordsWay) -> String {
    let first = fallback.first.as_ref().map(|first| first.channel.as_str());
    let on_first = way.calls.iter().all(|call| Some(call.channel.as_str()) == first);
    let through: Vec<String> = way
        .calls
        .iter()
        .take(way.calls.len().saturating_sub(1))
        .map(|call| match on_first {
            true => call.post.clone(),
            false => format!("{} on {}", call.post, call.channel),
        })
        .collect();
    let through = through.join(", then ");
    let words = way_words(way.way, if through.is_empty() { None } else { Some(&through) });
    match way.calls.last() {
        Some(last) if !on_first => format!("{words}, on {}", last.channel),
        _ => words,
    }
}

fn bridge_text(units: UnitSystem, group: &GroupNet, bridge: &BridgeScore) -> String {
    let Some(to) = &bridge.to else {
        return format!("Bridge {}: to the first channel, and there is none.\n", bridge.who);
    };
    let mut text = format!("Bridge {} to {to}", bridge.who);
    if !bridge.at_post {
        return text + ": where this person is is not known, so nobody counts on it.\n";
    }
    let sides: Vec<String> =
        [&bridge.own, &bridge.other].into_iter().flatten().map(side_text).collect();
    text += &format!(": {}.\n", sides.join("; "));
    if bridge.own.is_none() {
        text += &format!("  No other post of {} is there to bridge.\n", group.group);
    }
    if let Some(radios) = &bridge.two_radios {
        text += &two_radios_text(units, radios);
    }
    text
}

fn side_text(side: &BridgeSide) -> String {
    let works = side.works.join(", ");
    let patchy = format!("from some spots only {}", side.patchy.join(", "));
    let reached = match (side.works.is_empty(), side.patchy.is_empty()) {
        (true, true) => "NOBODY".to_owned(),
        (false, true) => works,
        (true, false) => format!("{} from some spots only", side.patchy.join(", ")),
        (false, false) => format!("{works}, and {patchy}"),
    };
    format!("on {} it should reach {reached}", side.channel)
}

/// What two radios of a bridge do to each other.
fn two_radios_text(units: UnitSystem, radios: &TwoRadios) -> String {
    let more = if radios.overloaded { " or more, its front end overloaded" } else { "" };
    let apart = match radios.needed_m {
        Some(needed) => format!("two people {} apart should hear both", units.distance(needed)),
        None => format!(
            "two people would have to stand more than {} apart to hear both",
            units.distance(FARTHEST)
        ),
    };
    format!(
        "  Its two radios are {:.0} kHz apart: {} from each other the one that sends desenses the other by {:.0}{more}. Listen on both, transmit on one at a time, say so first; {apart}.\n",
        radios.offset.value(),
        units.distance(radios.apart_m),
        radios.desense_db
    )
}

/// Which posts get words to the event's net control, all of them in one table; for a
/// screen alone where the plan has no groups, for the net tells it at length then.
#[must_use]
pub fn ways_screen(plan: &Plan, fallback: &Fallback) -> Screen {
    let Some(first) = fallback.first.as_ref() else { return Screen::default() };
    let group_of = |post: &str| {
        let post = plan.posts.iter().position(|known| known.name == post)?;
        Some(plan.group_of(post)?.name.as_str())
    };
    let mut out = table(["Post", "Group", "To net control", "Both ways, weakest link"], &[3]);
    for way in &fallback.ways {
        out.add_row([
            way.post.clone(),
            group_of(&way.post).unwrap_or("none").to_owned(),
            on_channels(fallback, way),
            way.weakest_db.map_or_else(String::new, |margin| format!("{margin:+.1}")),
        ]);
    }
    let title = format!(
        "How each post's words get to {}, on {} if no channel is named:\n{} of {} posts should reach it over links that work\n",
        first.net_control,
        first.channel,
        fallback.reaching(),
        fallback.ways.len(),
    );
    let fails = fallback.ways.iter().map(|way| way.way != Way::Works);
    let rows = Rows::of(title, out, "that should reach it")
        .failing(fails, "cut off or patchy")
        .called("posts");
    if fallback.groups.is_empty() {
        return Screen::default().short_rows(rows);
    }
    Screen::default().rows(rows).both("\n")
}
