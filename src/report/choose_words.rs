//! A choice of sites, and why there is none, in sentences.

use perchline_plan::UnitSystem;
use perchline_siting::RefusedSite;
use perchline_siting::choose::{
    Asked, Barred, Choice, Demand, DigipeaterChoice, Impossible, Measure, Nearest, Refusal,
};

use super::place_words::refused_mast;
use super::words;

/// Names in a sentence.
pub(super) fn listed(names: &[String]) -> String {
    match names {
        [] => "none".to_owned(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// What a set has to keep.
pub(super) fn asked(asked: &Asked, relays: usize, units: UnitSystem) -> String {
    let sites = if relays == 1 { "one site".to_owned() } else { format!("{relays} sites at most") };
    let must = match asked.must_posts.as_slice() {
        [] => None,
        posts => Some(format!(
            "{} clear both ways from {}",
            listed(posts),
            if relays == 1 { "it" } else { "one of them" }
        )),
    };
    let linked = (asked.linked && relays > 1).then(|| "the relays hear each other".to_owned());
    let doors = asked.locked_doors.map(|doors| match doors {
        0 => "no locked door".to_owned(),
        1 => "one locked door at most".to_owned(),
        more => format!("{more} locked doors at most"),
    });
    let mast = asked
        .total_mast_m
        .map(|mast| format!("{} of mast at most, all sites together", units.height(mast)));
    let map = asked.whole_area.then(|| "the whole map counted as an area of weight 1".to_owned());
    let all: Vec<_> = [Some(sites), must, linked, doors, mast, map].into_iter().flatten().collect();
    format!("Asked: {}.\n", all.join("; "))
}

/// Sites that no relay can have for a station that the plan puts there.
pub(super) fn barred(barred: &[Barred]) -> String {
    let line = |Barred { site, from, to, desense_db, by_link }: &Barred| {
        if *by_link {
            return format!(
                "Not {site}: {from} would desense {to} by {desense_db:.0} or more on one roof; put the link's antenna farther away ([choose.link] along and above), or filters between them ([station.roof] of the relay).\n"
            );
        }
        format!(
            "Not {site}: by the plan another station stands there, and {from} would desense {to} by {desense_db:.0}; perchline cosite tells what would fix it.\n"
        )
    };
    barred.iter().map(line).collect()
}

/// Sites that no relay can have for a power line.
pub(super) fn refused(refused: &[RefusedSite], units: UnitSystem) -> String {
    let line =
        |site: &RefusedSite| format!("Not {}: {}.\n", site.site, refused_mast(&site.mast, units));
    refused.iter().map(line).collect()
}

/// That so many relays are as good as more.
pub(super) fn as_good(taken: usize, most: usize) -> String {
    const NUMBERS: [&str; 4] = ["One is", "Two are", "Three are", "Four are"];
    const MORE: [&str; 4] = ["first", "second", "third", "fourth"];
    let number = |of: &[&'static str], n: usize| {
        n.checked_sub(1).and_then(|n| of.get(n)).copied().unwrap_or_default()
    };
    let more: Vec<&str> = (taken + 1..=most).map(|n| number(&MORE, n)).collect();
    format!(
        "{} as good; the {} {} nothing",
        number(&NUMBERS, taken),
        more.join(" and the "),
        if more.len() == 1 { "adds" } else { "add" }
    )
}

/// Whether another set may be better.
pub(super) fn proof(choice: &Choice) -> String {
    if choice.gap > 0.0 {
        format!(
            "Not proven: the search ran out of time, and another set may be better by {:.2} % of this at most.\n",
            choice.gap * 100.0
        )
    } else {
        "Proven: no other set that keeps what is asked has a higher weighted coverage.\n".to_owned()
    }
}

/// How a set's sites would come out if they were taken one by one.
pub(super) fn one_by_one(choice: &Choice) -> String {
    match &choice.one_by_one {
        Some(set) if set.sites == choice.first.sites => {
            "Taking the best site, then the one that adds most, gives the same.\n".to_owned()
        }
        Some(set) => format!(
            "Taking the best site, then the one that adds most, would give {}: {}.\n",
            listed(&set.sites),
            words::contact(set.weighted_probability)
        ),
        None => "Taking the best site, then the one that adds most, ends in a set that does not keep what is asked.\n".to_owned(),
    }
}

/// How sure the first place is.
pub(super) fn sureness(choice: &Choice) -> String {
    let sure = &choice.sureness;
    format!(
        "How sure: the prediction's error was drawn {} times ({:.1} on each path, half of it shared around each spot). {} stays the best of the {} nearest sets in {} of them; its weighted coverage is {} to {} in nine of ten.\n",
        sure.draws,
        sure.model_error_db,
        listed(&choice.first.sites),
        choice.standings.len(),
        sure.first_stays_first,
        words::contact(sure.low),
        words::contact(sure.high)
    )
}

/// Where the packet digipeater goes.
pub(super) fn digipeater(choice: &DigipeaterChoice) -> String {
    let measure = match choice.measure {
        Measure::BeaconsThrough => "of the trackers' beacons should get through",
        Measure::WeightedProbability => "weighted coverage",
    };
    let mut text = match &choice.site {
        Some(site) => format!(
            "Packet digipeater ({}): {}, {}, {} {measure}{}.\n",
            choice.channel,
            site.site,
            if site.shares_roof { "beside a relay" } else { "a roof without a relay" },
            words::contact(site.share),
            if choice.fixed { "; the plan puts it there" } else { "" }
        ),
        None => format!("Packet digipeater ({}): no site is left for it.\n", choice.channel),
    };
    for refused in &choice.refused {
        let why = match &refused.why {
            Refusal::Desensed { from, to, desense_db } => format!(
                "a relay stands there, and {from} would desense {to} by {desense_db:.0}; perchline cosite says what would fix it"
            ),
            Refusal::NotJudged => "a relay stands there, and the plan has no [[station]] for both, so what they do to each other is not known".to_owned(),
            Refusal::Apart => "no relay stands there, and the plan puts the digipeater beside one".to_owned(),
            Refusal::OverLimit => "with it the doors or masts would be too many".to_owned(),
        };
        text += &format!(
            "  not {} ({} {measure}): {why}.\n",
            refused.site,
            words::contact(refused.share)
        );
    }
    if let Some(room) = &choice.room {
        text += &format!(
            "  Relays on {} (weighted coverage {}) would leave it {}{}.\n",
            listed(&room.set.sites),
            words::contact(room.set.weighted_probability),
            room.site.site,
            if room.site.shares_roof { ", beside a relay" } else { "" }
        );
    }
    text
}

/// Why no set of `relays` sites keeps all that is asked, and what would do.
#[must_use]
pub fn impossible(
    relays: usize,
    why: &Impossible,
    nearest: &[Nearest],
    barred: &[Barred],
    refused: &[RefusedSite],
) -> String {
    let lines: Vec<&str> = refused.iter().map(|site| site.site.as_str()).collect();
    let lines = match lines.as_slice() {
        [] => String::new(),
        some => format!(
            ". Left out for a power line too near for their mast: {} (perchline rank says which lower mast would do)",
            some.join(", ")
        ),
    };
    let left_out = match barred {
        [] => String::new(),
        some => {
            let each: Vec<String> = some
                .iter()
                .map(|b| {
                    format!("{} ({} would desense {} by {:.0})", b.site, b.from, b.to, b.desense_db)
                })
                .collect();
            format!(". Left out for what stands on the roof beside the relay: {}", each.join(", "))
        }
    };
    let left_out = left_out + &lines;
    let sites = if relays == 1 {
        "no site".to_owned()
    } else {
        format!("no set of {relays} sites or fewer")
    };
    let reason = match why {
        Impossible::NothingUsable => {
            return match left_out.as_str() {
                "" => "no site has available = true, so there is nothing to choose from".to_owned(),
                _ => format!("no site is left to choose from{left_out}"),
            };
        }
        Impossible::Unserved(posts) => {
            let each: Vec<String> = posts
                .iter()
                .map(|post| match nearest.iter().find(|near| near.post == *post) {
                    Some(near) => format!(
                        "{post} (the best is {}, {} spots)",
                        near.site,
                        words::spots(near.probability)
                    ),
                    None => post.clone(),
                })
                .collect();
            format!(
                "no site that may be used reaches these posts with must = true in the wanted share of spots: {}. Move the post, give it a better radio, add a site, or take must = true off it",
                each.join(", ")
            )
        }
        Impossible::Conflict { either, sites } => {
            let drop: Vec<String> = either.iter().map(|demand| demand_words(*demand)).collect();
            let more = sites.map(|sites| format!("take more relays: {sites} would do"));
            match (drop.is_empty(), more) {
                (false, Some(more)) => format!("loosen {}, or {more}", drop.join(" or ")),
                (false, None) => format!("loosen {}", drop.join(" or ")),
                (true, Some(more)) => more,
                (true, None) => {
                    "dropping one demand alone does not help; loosen several of them".to_owned()
                }
            }
        }
    };
    format!("{sites} keeps all that the plan asks: {reason}{left_out}")
}

/// A demand by the plan's field.
fn demand_words(demand: Demand) -> String {
    match demand {
        Demand::Cap(field) => format!("{field} in [choose]"),
        Demand::Needs => "must = true of a post".to_owned(),
        Demand::Links => "linked in [choose]".to_owned(),
    }
}
