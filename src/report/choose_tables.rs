//! The best set of sites, as text.

use comfy_table::Table;
use perchline_plan::{Plan, UnitSystem};
use perchline_power::place::SitePlace;
use perchline_siting::choose::{
    Choice, DuplexerChoice, LinkedSites, RelayChain, SetScore, SiteLink,
};

pub use super::choose_words::impossible;
use super::choose_words::{
    as_good, asked, barred, digipeater, listed, one_by_one, proof, refused, sureness,
};
use super::place_words::place_lines;
use super::screen::{Rows, Screen};
use super::sector_tables::sector_screen;
use super::tables::{printed, table};
use super::words;

/// Sites of a set that a screen shows before anything else of them.
const MOST: usize = 4;

/// Sets shown with how often each came out best.
const STANDINGS: usize = 6;

/// Everything about the choice for one channel.
#[must_use]
pub fn choice_screen(plan: &Plan, choice: &Choice, places: &[SitePlace]) -> Screen {
    let units = plan.units;
    let head = format!(
        "Sites for {} on channel {}, from {} that may be used\n",
        if choice.relays == 1 { "a relay".to_owned() } else { format!("{} relays", choice.relays) },
        choice.channel,
        choice.candidates
    );
    let mut text = asked(&choice.asked, choice.relays, units);
    text += &format!("\nBest: {}\n", headline(choice, &choice.first));
    text += &barred(&choice.barred);
    let taken = choice.first.sites.len();
    if let Some(most) = &choice.adds_nothing {
        text += &format!("{}: {}.\n", as_good(taken, most.sites.len()), headline(choice, most));
    } else if taken < choice.relays {
        text += &format!(
            "Only {taken} of {} sites are taken: no further one adds anything that the limits allow.\n",
            choice.relays
        );
    }
    text += &proof(choice);
    text += &match &choice.runner_up {
        Some(set) => format!("Next best: {}\n", headline(choice, set)),
        None => "There is no other set that keeps what is asked.\n".to_owned(),
    };
    text += &with_duplexers(choice);
    text += &one_by_one(choice);
    let packet =
        choice.digipeater.as_ref().and_then(|p| Some((&p.channel, &p.site.as_ref()?.site)));
    let taken_up = |place: &SitePlace| {
        (place.channel == choice.channel && choice.first.sites.contains(&place.site))
            || packet == Some((&place.channel, &place.site))
    };
    let (of_set, others): (Vec<&SitePlace>, Vec<&SitePlace>) =
        places.iter().partition(|place| taken_up(place));
    // A screen has what to mind there; the long form the doors and what is not known too.
    let told = |places: Vec<&SitePlace>| {
        place_lines(&places.into_iter().cloned().collect::<Vec<_>>(), units, |_| false)
    };
    let taken_sites = choice.sites.iter().map(|_| true);
    let beside = beside_the_link(plan, choice);
    let standing = format!("\n{}{}", sureness(choice), standings(choice));
    let mut screen = Screen::default()
        .long_only("", format!("{}\n", plan.event.name))
        .both(head + &refused(&choice.refused, units))
        .long_only("what was asked, the next best, and the proof", text)
        .both("\n")
        .rows(
            Rows::of("", parts(choice, units), "sites")
                .failing(taken_sites, "sites")
                .at_least(MOST),
        )
        .short_only(told(of_set))
        .long_only(
            if others.is_empty() { "" } else { "other places" },
            place_lines(places, units, taken_up),
        )
        .and(links(choice, units))
        .both(beside)
        .long_only("fewer relays", numbers(choice))
        .long_only("how sure it is", standing)
        .both("\n")
        .and(sector_screen(&choice.sectors));
    if let Some(packet) = &choice.digipeater {
        let told = digipeater(packet);
        let first = told.split_inclusive('\n').next().unwrap_or_default().to_owned();
        screen = screen.short_only(first).long_only("why the digipeater goes there", told);
    }
    let has_channels = choice.sites.iter().all(|part| part.channel.is_some());
    if taken > 1 && has_channels {
        let given: Vec<String> = choice
            .sites
            .iter()
            .map(|part| format!("{} {}", part.site, part.channel.as_deref().unwrap_or_default()))
            .collect();
        screen = screen.both(if choice.own_channels {
            format!(
                "Channels: {}. Each relay was predicted on its own; of the ways to give them out this is the best.\n",
                given.join(", ")
            )
        } else {
            format!(
                "Channels, given out in the plan's order: {}. All relays were predicted on {}.\n",
                given.join(", "),
                choice.channel
            )
        });
    } else if taken > 1 {
        screen = screen.both("Each relay needs a channel of its own, or its own tone where they do not overlap: ask your coordinator. All were predicted on the channel above.\n");
    }
    screen.both("\n")
}

/// A set in one line.
fn headline(choice: &Choice, set: &SetScore) -> String {
    format!(
        "{}: {} of {} posts clear both ways, weighted coverage {}",
        listed(&set.sites),
        set.posts_covered,
        choice.sectors.posts.len(),
        words::contact(set.weighted_probability)
    )
}

/// What a duplexer that is not perfect leaves of the choice, where the plan states
/// none.
fn with_duplexers(choice: &Choice) -> String {
    let line = |tried: &DuplexerChoice| {
        let isolation = format!("{:.0}", tried.isolation_db);
        let first = if tried.keeps_what_is_asked {
            format!(
                "these sites serve {} posts, weighted coverage {}",
                tried.first.posts_covered,
                words::contact(tried.first.weighted_probability)
            )
        } else {
            "these sites no longer serve every must-have post".to_owned()
        };
        let best = match &tried.best {
            None => "no set keeps what is asked".to_owned(),
            Some(set) if set.sites == choice.first.sites => "they stay the best".to_owned(),
            Some(set) => format!("the best set is {}", headline(choice, set)),
        };
        format!("With {isolation} of isolation {first}; {best}.\n")
    };
    let lines: String = choice.with_duplexers.iter().map(line).collect();
    if lines.is_empty() {
        return lines;
    }
    format!("The relay's duplexer is not stated and was taken as perfect.\n{lines}")
}

/// What each site is good for.
fn parts(choice: &Choice, units: UnitSystem) -> Table {
    let mut out = table(
        [
            "Site",
            "Coverage alone",
            "Adds to the rest",
            "Door",
            "Mast",
            "Best without it",
            "Coverage then",
        ],
        &[1, 2, 4, 6],
    );
    for part in &choice.sites {
        let (without, contact) = match &part.without {
            Some(set) => (listed(&set.sites), words::contact(set.weighted_probability)),
            None => ("no other set".to_owned(), String::new()),
        };
        out.add_row([
            part.site.clone(),
            words::contact(part.alone),
            if choice.sites.len() > 1 { added(part.adds) } else { String::new() },
            if part.locked { "locked" } else { "open" }.to_owned(),
            units.height(part.mast_m),
            without,
            contact,
        ]);
    }
    out
}

/// The frequencies of a link, one where both directions share it.
fn on(link: &SiteLink) -> String {
    let [there, back] = link.frequencies_mhz.map(words::megahertz);
    if there == back { there } else { format!("{there} / {back}") }
}

/// What the relays are to each other.
fn links(choice: &Choice, units: UnitSystem) -> Screen {
    if choice.links.is_empty() {
        return Screen::default();
    }
    let mut out =
        table(["Link from relay to relay", "MHz", "Distance", "Outcome", "Margin"], &[1, 2, 4]);
    for link in &choice.links {
        out.add_row([
            format!("{} to {}", link.from, link.to),
            on(link),
            units.distance(link.distance_m),
            words::short(link.outcome).to_owned(),
            link.governing_margin_db.map_or_else(String::new, |margin| format!("{margin:+.1}")),
        ]);
    }
    let chains = choice.chains.iter().map(|chain| {
        let RelayChain { from, to, .. } = chain;
        format!("{from} links to {to}, net control's relay: {}.\n", over_links(chain))
    });
    Screen::default().rows(Rows::of("\n", out, "links")).both(chains.collect::<String>())
}

/// The sites between two relays, from the first to the last; nothing where the link is
/// direct.
fn through(chain: &RelayChain) -> Option<String> {
    let between = &chain.through;
    (!between.is_empty()).then(|| format!("through {}", between.join(", then ")))
}

/// Through which sites words get from one relay to another, and its weakest link.
fn over_links(chain: &RelayChain) -> String {
    let through = through(chain).unwrap_or_else(|| "directly".to_owned());
    let weakest = if chain.through.is_empty() { "margin" } else { "weakest link" };
    let margin = chain.weakest_db.map(|margin| format!(", {weakest} {margin:+.1}"));
    through + &margin.unwrap_or_default()
}

/// From which sites a linked relay reaches the one on the site that they are asked of.
#[must_use]
pub fn linked_lines(linked: &LinkedSites) -> String {
    let reach = |chain: &RelayChain| format!("  {}: {}\n", chain.from, over_links(chain));
    let without = |site: &String| format!("  {site}: no radio path from roof to roof\n");
    let chains = linked.chains.iter().map(reach);
    let lines: String = chains.chain(linked.without.iter().map(without)).collect();
    format!("A second relay would link to the one on {} from\n{lines}", linked.to)
}

/// The same in one sentence.
#[must_use]
pub fn linked_sentence(linked: &LinkedSites) -> String {
    let reach = |chain: &RelayChain| {
        let through = through(chain).map_or_else(String::new, |through| format!(" {through}"));
        let margin = chain.weakest_db.map(|margin| format!(" ({margin:+.0})"));
        format!("{}{through}{}", chain.from, margin.unwrap_or_default())
    };
    let chains: Vec<String> = linked.chains.iter().map(reach).collect();
    let without = (!linked.without.is_empty())
        .then(|| format!("no radio path from {}", linked.without.join(", ")));
    let reached = (!chains.is_empty())
        .then(|| format!("a second relay can be linked to it from {}", chains.join(", ")));
    reached.into_iter().chain(without).collect::<Vec<_>>().join("; ")
}

/// What the radio of the link and the relay beside it do to each other.
fn beside_the_link(plan: &Plan, choice: &Choice) -> String {
    if choice.links.is_empty() || plan.choose.link.is_none() {
        return String::new();
    }
    let told: Vec<String> = choice
        .sites
        .iter()
        .filter_map(|part| Some((part, part.link_desense?)))
        .map(|(part, desense)| {
            format!(
                "{}: the link's radio desenses the relay by {:.1}, the relay the link's radio by {:.1}",
                part.site, desense.relay_db, desense.link_db
            )
        })
        .collect();
    if told.is_empty() {
        return "What the link's radio and the relay on the same roof do to each other is not known: the plan does not say how far apart their antennas are ([choose.link] along and above).\n".to_owned();
    }
    format!("{}.\n", told.join("; "))
}

/// The best set for each number of relays.
fn numbers(choice: &Choice) -> String {
    if choice.with_fewer.is_empty() {
        return String::new();
    }
    let mut out = table(
        ["Relays", "Best sites that keep what is asked", "Posts clear", "Coverage", "More"],
        &[0, 2, 3, 4],
    );
    let most = choice.adds_nothing.as_ref().unwrap_or(&choice.first);
    let all = choice.with_fewer.iter().map(Option::as_ref).chain([Some(most)]);
    let mut before: Option<f64> = None;
    for (relays, set) in (1..).zip(all) {
        let Some(set) = set else {
            let none = "none keeps what is asked".to_owned();
            out.add_row([format!("{relays}"), none, String::new(), String::new(), String::new()]);
            continue;
        };
        let contact = set.weighted_probability;
        out.add_row([
            relays.to_string(),
            listed(&set.sites),
            set.posts_covered.to_string(),
            words::contact(contact),
            before.map_or_else(String::new, |before| added(contact - before)),
        ]);
        before = Some(contact);
    }
    format!("\n{}\n", printed(&out))
}

/// How the nearest sets stood.
fn standings(choice: &Choice) -> String {
    let mut out =
        table(["Set", "Coverage", &format!("Best in, of {}", choice.sureness.draws)], &[1, 2]);
    let mut by_wins: Vec<_> = choice.standings.iter().collect();
    by_wins.sort_by_key(|standing| std::cmp::Reverse(standing.first_in));
    for standing in by_wins.iter().take(STANDINGS).filter(|s| s.first_in > 0) {
        out.add_row([
            listed(&standing.set.sites),
            words::contact(standing.set.weighted_probability),
            standing.first_in.to_string(),
        ]);
    }
    format!("{}\n", printed(&out))
}

/// What a site adds, in tenths of a percent.
fn added(share: f64) -> String {
    format!("{:+.1} %", share * 100.0)
}
