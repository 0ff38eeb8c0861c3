//! What may turn a result over, and so stands above it.

use perchline_plan::{Channel, Plan, Remark};
use perchline_power::sharing::{Interference, duplexer_is_assumed, heard_on};
use perchline_terrain::Terrain;

use super::contradictions;

/// The remarks that stand above every result.
pub(super) fn remarks(plan: &Plan, terrain: &Terrain) -> Vec<Remark> {
    let desense = plan.channels.iter().flat_map(|channel| desense_remarks(plan, channel));
    let assumed = plan.channels.iter().filter_map(|channel| duplexer_remark(plan, channel));
    let contradictions = contradictions::zone_remark(plan)
        .into_iter()
        .chain(contradictions::cell_remark(plan, terrain));
    placeholder_remark(plan)
        .into_iter()
        .chain(contradictions)
        .chain(desense)
        .chain(assumed)
        .collect()
}

/// Channels whose frequencies are nobody's yet.
pub(crate) fn placeholders(plan: &Plan) -> Vec<String> {
    let channels = plan.channels.iter().filter(|channel| channel.placeholder);
    channels.map(|channel| channel.name.clone()).collect()
}

/// That frequencies are nobody's yet.
fn placeholder_remark(plan: &Plan) -> Option<Remark> {
    let names: Vec<String> =
        placeholders(plan).into_iter().map(|channel| format!("\"{channel}\"")).collect();
    (!names.is_empty()).then(|| Remark {
        about: format!("channel {}", names.join(", ")),
        text: "the frequencies are placeholders: set those that your coordinator gives you, then delete placeholder = true"
            .to_owned(),
    })
}

/// That the relay's duplexer counts as perfect, where the plan states none.
fn duplexer_remark(plan: &Plan, channel: &Channel) -> Option<Remark> {
    duplexer_is_assumed(plan, channel).then(|| Remark {
        about: format!("channel \"{}\"", channel.name),
        text: "its duplexer is not stated and counts as perfect. State it in [[station]]: \
               roof = { duplexer = \"85 dB\" }"
            .to_owned(),
    })
}

/// Who desenses the station of `channel` from the same roof, with the fix.
fn desense_remarks(plan: &Plan, channel: &Channel) -> Vec<Remark> {
    let mut worst: Vec<(Interference, Vec<&str>)> = Vec::new();
    for site in &plan.sites {
        let heard = heard_on(plan, channel, site).unwrap_or_default();
        for pair in heard.into_iter().filter(|p| p.separation.is_some() && p.missing_db.is_some()) {
            match worst.iter_mut().find(|(known, _)| known.from == pair.from) {
                Some((known, sites)) => {
                    sites.push(&site.name);
                    if pair.desense_db > known.desense_db {
                        *known = pair;
                    }
                }
                None => worst.push((pair, vec![&site.name])),
            }
        }
    }
    let all = plan.sites.len();
    worst.into_iter().map(|(pair, sites)| desense_remark(plan, &pair, &sites, all)).collect()
}

fn desense_remark(plan: &Plan, pair: &Interference, sites: &[&str], all: usize) -> Remark {
    let place = match sites {
        some if some.len() == all => String::new(),
        [one] => format!(" on {one}"),
        [one, more @ ..] => format!(" on {one} and {} more", more.len()),
        [] => String::new(),
    };
    let counted = if pair.is_seldom() {
        "margins and outcomes are those of the rest of the time, probabilities count both"
    } else {
        "every result counts it as always there"
    };
    Remark {
        about: format!("station \"{}\"", pair.to),
        text: format!(
            "your own {} desenses it by {:.0}{place} while it sends ({} of the time); {counted}; \
             {}",
            pair.from,
            pair.desense_db,
            whole_percent(pair.keyed),
            fix(plan, pair)
        ),
    }
}

/// What would bring the desense down to what is accepted.
fn fix(plan: &Plan, pair: &Interference) -> String {
    let height = |metres| plan.units.height(metres);
    let apart = match (pair.move_along_m, pair.move_up_m) {
        (Some(along), Some(up)) => format!(
            "separate them by {} more along the roof, or by {} more in height, or filter",
            height(along),
            height(up)
        ),
        (Some(along), None) => {
            format!("separate them by {} more along the roof, or filter", height(along))
        }
        (None, Some(up)) => format!("separate them by {} more in height, or filter", height(up)),
        (None, None) => "filter, or put them on two sites".to_owned(),
    };
    if pair.on_channel {
        "they share a channel, where no filter helps: perchline cosite".to_owned()
    } else {
        format!("{apart}: perchline cosite")
    }
}

fn whole_percent(share: f64) -> String {
    if share < 0.01 { "less than 1 %".to_owned() } else { format!("{:.0} %", share * 100.0) }
}
