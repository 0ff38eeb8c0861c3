//! Everybody without a relay, as text.

use std::collections::HashMap;

use super::card::{Card, card_text};
use super::group_tables::way_words;
use super::tables::{printed, table};
use super::words;
use perchline_plan::{Plan, UnitSystem};
use perchline_siting::direct::{DirectNet, Fallback, SplitBy, Terms, WordsWay};

/// Columns of the matrix in one block: what a terminal of usual width holds.
const BLOCK: usize = 12;

/// The first channel, and what all that follows holds for.
#[must_use]
pub fn first_text(fallback: &Fallback) -> String {
    let Some(first) = &fallback.first else {
        return "First channel when the relay is silent: none. No simplex channel brings any post to net control.\n\n".to_owned();
    };
    let why = if first.stated {
        "as the plan says"
    } else {
        "most posts reach net control on it; [fallback] first = \"...\" would say another"
    };
    format!(
        "First channel when the relay is silent: {}, {} MHz ({why}). {} listens there at once.\n\n",
        first.channel,
        words::megahertz(first.frequency_mhz),
        first.net_control
    )
}

/// How radios are held and which audio is wanted, in words.
#[must_use]
pub fn terms_words(terms: &Terms) -> String {
    let Some(held) = terms.held else {
        return format!("DAQ {}, radios worn as with the relay", terms.audio_quality);
    };
    let mut but: Vec<(&str, Vec<&str>)> = Vec::new();
    for (post, how) in &terms.but_at {
        match but.iter_mut().find(|(known, _)| known == how) {
            Some((_, posts)) => posts.push(post),
            None => but.push((how, vec![post])),
        }
    }
    let but: String =
        but.iter().map(|(how, posts)| format!(", {how} at {}", posts.join(", "))).collect();
    format!("DAQ {}, radios {held}{but}", terms.audio_quality)
}

/// Everything about one channel's net; `compared` is the same net with radios worn
/// as with the relay.
#[must_use]
pub fn direct_text(plan: &Plan, net: &DirectNet, compared: Option<&DirectNet>) -> String {
    let mut text = format!(
        "{}: from post to post without a relay, channel {}, {} MHz, {}\n\n",
        plan.event.name,
        net.channel,
        words::megahertz(net.frequency_mhz),
        terms_words(&net.terms)
    );
    text += &matrix(net);
    text += &chains(net, plan.units);
    text += &splits(net);
    if let Some(worn) = compared {
        text += &format!(
            "Held so, {} of {} posts should reach {}; worn as with the relay, at DAQ {}, {} should (--carry hip shows how).\n",
            net.reaching(),
            net.chains.len(),
            net.net_control.post,
            worn.terms.audio_quality,
            worn.reaching()
        );
    }
    text + "\n"
}

/// Cards as they lie in a pocket.
#[must_use]
pub fn cards_text<'c>(cards: impl IntoIterator<Item = &'c Card>) -> String {
    let rule = "-".repeat(52);
    let mut text = "The cards for every pocket:\n".to_owned();
    for side in cards.into_iter().flat_map(card_text) {
        text += &format!("{rule}\n{side}");
    }
    text + &rule + "\n\n"
}

/// Margins of every post at every other, in whole decibels.
fn matrix(net: &DirectNet) -> String {
    let mut text =
        "Margin in dB, whole ones rounded down: the row's post transmits, the column's\nreceives. Below 0 it works in fewer spots than wanted.\n"
            .to_owned();
    let numbered: Vec<(usize, &String)> = net.posts.iter().enumerate().collect();
    let margin = |from: usize, to: usize| {
        let pair = net.pair(from, to)?;
        Some(if from < to { pair.forth_margin_db } else { pair.back_margin_db })
    };
    for block in numbered.chunks(BLOCK) {
        let header = ["", "From (row) to (column)"].into_iter().map(str::to_owned);
        let header: Vec<String> =
            header.chain(block.iter().map(|(n, _)| (n + 1).to_string())).collect();
        let mut out = table(["", ""], &[]);
        out.set_header(header);
        for (number, from) in &numbered {
            let cells = block.iter().map(|(to, _)| match margin(*number, *to) {
                None => "·".to_owned(),
                Some(None) => "?".to_owned(),
                // A sum with nothing has no sign where it is nothing.
                Some(Some(margin)) => format!("{:+.0}", margin.value().floor() + 0.0),
            });
            let away = if net.stay.contains(from) { "" } else { " *" };
            let row = [(number + 1).to_string(), format!("{from}{away}")];
            out.add_row(row.into_iter().chain(cells).collect::<Vec<_>>());
        }
        for (index, column) in out.column_iter_mut().enumerate() {
            if index != 1 {
                column.set_cell_alignment(comfy_table::CellAlignment::Right);
            }
            if index > 1 {
                column.set_padding((0, 1));
            }
        }
        text += &format!("{}\n", printed(&out));
    }
    text
}

/// How each post's words get to net control.
fn chains(net: &DirectNet, units: UnitSystem) -> String {
    let control = &net.net_control;
    let why = if control.stated {
        "as the plan says"
    } else {
        "proposed: the best connected post; say net_control = true at the right one"
    };
    let mut out = table(
        ["Post", "To net control", "Both ways, weakest link", "Distance to net control"],
        &[2, 3],
    );
    let places: HashMap<&String, usize> = net.posts.iter().zip(0..).collect();
    let place = |post: &String| places.get(post).copied();
    for chain in net.ways() {
        let ends = place(&chain.post).zip(place(&control.post));
        let straight = ends.and_then(|(one, other)| net.pair(one, other));
        out.add_row([
            chain.post.clone(),
            way(&chain),
            chain.weakest_db.map_or_else(String::new, |margin| format!("{margin:+.1}")),
            straight.map_or_else(String::new, |p| units.distance(p.distance_m)),
        ]);
    }
    let passing: String = net
        .passing_on
        .iter()
        .map(|p| format!("{} relays for {}.\n", p.post, p.whose.join(", ")))
        .collect();
    let away = net.posts.len() - net.stay.len();
    let away = if away == 0 {
        String::new()
    } else {
        "* It stays on its group's channel, changes to this one to call, and relays nothing here.\n"
            .to_owned()
    };
    format!("{away}\nNet control: {} ({why})\n{}\n{passing}", control.post, printed(&out))
}

fn way(way: &WordsWay) -> String {
    let through = way.through().collect::<Vec<_>>().join(", then ");
    way_words(way.way, if through.is_empty() { None } else { Some(&through) })
}

/// The parts of the net, and who must not fall silent.
fn splits(net: &DirectNet) -> String {
    let all =
        if net.stay.len() == net.posts.len() { "Every post" } else { "Every post that stays" };
    let mut text = match net.parts.as_slice() {
        [] | [_] => format!("\n{all} is linked to every other, if others relay.\n"),
        parts => {
            let listed: String = (1..)
                .zip(parts)
                .map(|(n, part): (usize, _)| format!("  {n}. {}\n", part.join(", ")))
                .collect();
            let patchy = match net.parts_with_patchy.len() {
                1 => "; over patchy links it holds together".to_owned(),
                patchy if patchy < parts.len() => format!("; over patchy links too, into {patchy}"),
                _ => String::new(),
            };
            format!("\nThe net falls into {} parts{patchy}:\n{listed}", parts.len())
        }
    };
    for SplitBy { post, parts } in &net.cuts {
        let parts: Vec<String> = parts.iter().map(|part| part.join(", ")).collect();
        text += &format!("If {post} goes silent the net splits into: {}.\n", parts.join(" / "));
    }
    if net.cuts.is_empty() {
        text += "No single post's silence splits it further.\n";
    }
    text
}
