//! The net without a relay, as text.

use std::collections::HashMap;

use super::card::{Card, card_text};
use super::tables::table;
use super::words;
use perchline_plan::{Plan, UnitSystem};
use perchline_siting::direct::{DirectNet, PostChain, SplitBy, Way};

/// Columns of the matrix in one block: what a terminal of usual width holds.
const BLOCK: usize = 16;

/// Everything about one channel's net, its card at the end; `at_the_head` is how
/// many posts the same net with every worn radio held at the head brings to net
/// control, to compare.
#[must_use]
pub fn direct_text(
    plan: &Plan,
    net: &DirectNet,
    at_the_head: Option<usize>,
    card: &Card,
) -> String {
    let mut text = format!(
        "{}: from post to post without a relay, channel {}, {} MHz{}\n\n",
        plan.event.name,
        net.channel,
        words::megahertz(net.frequency_mhz),
        net.worn.map_or_else(String::new, |worn| format!(", every radio {worn}"))
    );
    text += &matrix(net);
    text += &chains(net, plan.units);
    text += &splits(net);
    if let Some(held) = at_the_head {
        text += &format!(
            "As carried {} of {} posts reach net control, with every radio held at the head {}: --carry head shows how.\n",
            net.reaching(),
            net.chains.len(),
            held
        );
    }
    let sides = card_text(card);
    let rule = "-".repeat(52);
    text += "\nThe card for every pocket:\n";
    for side in sides {
        text += &format!("{rule}\n{side}");
    }
    text + &rule + "\n\n"
}

/// Margins of every post at every other, in whole decibels.
fn matrix(net: &DirectNet) -> String {
    let mut text =
        "Margin in dB of the post in the row at the post in the column; below 0 fewer spots than wanted.\n"
            .to_owned();
    let numbered: Vec<(usize, &String)> = net.posts.iter().enumerate().collect();
    let margin = |from: usize, to: usize| {
        let pair = net.pair(from, to)?;
        Some(if from < to { pair.forth_margin_db } else { pair.back_margin_db })
    };
    for block in numbered.chunks(BLOCK) {
        let header = ["", "Speaks"].into_iter().map(str::to_owned);
        let header: Vec<String> =
            header.chain(block.iter().map(|(n, _)| (n + 1).to_string())).collect();
        let mut out = table(["", ""], &[]);
        out.set_header(header);
        for (number, from) in &numbered {
            let cells = block.iter().map(|(to, _)| match margin(*number, *to) {
                None => "·".to_owned(),
                Some(None) => "?".to_owned(),
                Some(Some(margin)) => format!("{:+.0}", margin.value().floor()),
            });
            let row = [(number + 1).to_string(), (*from).clone()];
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
        text += &format!("{}\n", out.trim_fmt());
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
    let mut out = table(["Post", "To net control", "Weakest link", "Straight there"], &[2, 3]);
    let places: HashMap<&String, usize> = net.posts.iter().zip(0..).collect();
    let place = |post: &String| places.get(post).copied();
    for chain in &net.chains {
        let ends = place(&chain.post).zip(place(&control.post));
        let straight = ends.and_then(|(one, other)| net.pair(one, other));
        out.add_row([
            chain.post.clone(),
            way(chain),
            chain.weakest_db.map_or_else(String::new, |margin| format!("{margin:+.1}")),
            straight.map_or_else(String::new, |p| units.distance(p.distance_m)),
        ]);
    }
    let passing: String = net
        .passing_on
        .iter()
        .map(|p| format!("{} passes on for {}.\n", p.post, p.whose.join(", ")))
        .collect();
    format!("\nNet control: {} ({why})\n{}\n{passing}", control.post, out.trim_fmt())
}

fn way(chain: &PostChain) -> String {
    let through = match chain.through.as_slice() {
        [] => "direct".to_owned(),
        posts => format!("through {}", posts.join(", then ")),
    };
    match chain.way {
        Way::Works => through,
        Way::Patchy => format!("patchy, {through}"),
        Way::Nothing => "none".to_owned(),
    }
}

/// The parts of the net, and who must not fall silent.
fn splits(net: &DirectNet) -> String {
    let mut text = match net.parts.as_slice() {
        [_] => "\nEvery post is linked to every other, if others pass words on.\n".to_owned(),
        parts => {
            let listed: String = (1..)
                .zip(parts)
                .map(|(n, part): (usize, _)| format!("  {n}. {}\n", part.join(", ")))
                .collect();
            format!("\nThe net falls into {} parts:\n{listed}", parts.len())
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
