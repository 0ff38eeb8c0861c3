//! The crew's page: sites, channels, batteries, the fallback and what can hurt.

use crate::card::{Card, order as card_order, way_entries, whole_group};
use crate::cautions::{Caution, Output, UNNAMED, cautions, is_a_roof};
use crate::channel_sheet::sheet_lines;
use crate::choose_tables::linked_sentence;
use crate::place_words::{facts, mind, not_stated};
use crate::power_tables::{POOR_CASE, lasts, not_counted, remedy, verdict};
use perchline_assessment::{DigipeaterSite, WhyThere};
use perchline_plan::{Roof, Site, SitePower, Stands};
use perchline_power::exposure::StationExposure;
use perchline_power::kit::StationKit;
use perchline_power::place::SitePlace;
use perchline_power::{CrewNeeds, LoadingLine, StationBudget};
use perchline_siting::SiteScore;

use super::carrying::sum;
use super::{BriefInputs, Entry, Section, plain, roughly, towards, words};

/// Every section that has something to say.
pub(super) fn sections(inputs: &BriefInputs<'_>) -> Vec<Section> {
    let sections = [
        Section { title: "Sites".to_owned(), entries: sites(inputs) },
        Section {
            title: "Channels, as a hand-held has them".to_owned(),
            entries: channels(inputs),
        },
        Section { title: "Batteries and what is carried".to_owned(), entries: batteries(inputs) },
        fallback(inputs),
        Section { title: "Take care".to_owned(), entries: care(inputs) },
    ];
    sections.into_iter().filter(|section| !section.entries.is_empty()).collect()
}

fn sites(inputs: &BriefInputs<'_>) -> Vec<Entry> {
    let plan = inputs.plan;
    let known = |name: &str| plan.sites.iter().find(|site| site.name == name);
    let mut entries = Vec::new();
    if let Some(site) = known(&inputs.site.site) {
        let body = format!("relay; {}", place(inputs, Some(inputs.site), site));
        entries.push(Entry::new(&*site.name, body));
        entries.extend(to_mind(inputs, inputs.places, &site.name));
    }
    entries.extend(inputs.linked.map(|linked| Entry::new("Links", linked_sentence(linked) + ".")));
    for digipeater in inputs.digipeaters {
        let Some(site) = known(&digipeater.site) else { continue };
        let same = site.name == inputs.site.site;
        let where_to = if same { "as the relay.".to_owned() } else { place(inputs, None, site) };
        let body = format!("digipeater of {}, {}; {where_to}", digipeater.channel, why(digipeater));
        entries.push(Entry::new(&*site.name, body));
        entries.extend(to_mind(inputs, &settled_of(inputs, &digipeater.channel), &site.name));
    }
    for station in &plan.power.stations {
        let Stands::On(index) = station.stands else { continue };
        let Some(site) = plan.sites.get(index) else { continue };
        let told = plan.channels.get(station.channel).is_some_and(|channel| {
            let name = &channel.name;
            *name == inputs.channel.name || inputs.digipeaters.iter().any(|d| d.channel == *name)
        });
        if !told {
            entries.push(Entry::new(&*site.name, format!("station {}", station.name)));
            let channel = plan.channels.get(station.channel).map_or("", |c| c.name.as_str());
            entries.extend(to_mind(inputs, &settled_of(inputs, channel), &site.name));
        }
    }
    entries.extend(reserve(inputs));
    let fixed = inputs.site.posts.iter().enumerate().filter_map(|(index, post)| {
        let remedy = post.remedy.as_ref()?;
        let aid = inputs.aids.get(index).and_then(Option::as_ref);
        let at_head =
            aid.filter(|aid| aid.held_at_the_head).map(|_| "the radio beside the face".to_owned());
        let spot = aid.and_then(|aid| aid.spot).map(|spot| {
            let away = roughly(plan.units, spot.distance_m);
            format!("standing {away} {} of it", towards(spot.bearing_degrees))
        });
        let mast =
            remedy.extra_mast_m.map(|extra| format!("{} more mast", plan.units.height(extra)));
        // As many other sites as are read; rank names all of them.
        let others = (!remedy.other_sites.is_empty())
            .then(|| format!("the relay on {}", words::first_of(&remedy.other_sites, 2)));
        let none = (mast.is_none() && others.is_none() && remedy.refused_by_line_m.is_none())
            .then(|| "no mast and no other site would".to_owned());
        let ways: Vec<String> =
            at_head.into_iter().chain(spot).chain(mast).chain(others).chain(none).collect();
        let refused = remedy.refused_by_line_m.map(|extra| {
            format!(
                "NO longer mast: {} more could fall into the power line",
                plan.units.height(extra)
            )
        });
        let ways: Vec<String> = ways.into_iter().chain(refused).collect();
        Some(Entry::new(
            format!("{} falls short", post.post),
            format!("{}. What should fix it: {}.", post.reason, ways.join("; ")),
        ))
    });
    entries.extend(fixed);
    entries
}

/// Why a digipeater stands where it does.
fn why(digipeater: &DigipeaterSite) -> String {
    match digipeater.why {
        WhyThere::Plan => "where the plan puts it".to_owned(),
        WhyThere::BesideTheRelay => "beside the relay as the plan says".to_owned(),
        WhyThere::Best { of } => format!("the best of {of} sites for it"),
        WhyThere::ApartFromTheRelay { of } => {
            format!(
                "the best of {of} sites, the relay's left out: there the two disturb each other"
            )
        }
    }
}

/// What to mind on a site, and what the plan does not say of it.
fn to_mind(inputs: &BriefInputs<'_>, places: &[SitePlace], site: &str) -> Vec<Entry> {
    let Some(place) = places.iter().find(|place| place.site == site) else { return Vec::new() };
    let told = mind(place, inputs.plan.units);
    let told = (!told.is_empty()).then(|| Entry::new(format!("Mind on {site}"), told.join(" ")));
    let unknown = not_stated(place).map(|text| Entry::new(format!("Ask about {site}"), text));
    told.into_iter().chain(unknown).collect()
}

/// The places of the stations of a channel that the plan puts somewhere.
fn settled_of(inputs: &BriefInputs<'_>, channel: &str) -> Vec<SitePlace> {
    let plan = inputs.plan;
    let stations =
        plan.power.stations.iter().filter(|station| {
            plan.channels.get(station.channel).is_some_and(|c| c.name == channel)
        });
    let names: Vec<&String> = stations.map(|station| &station.name).collect();
    let on = |place: &&SitePlace| {
        place.access.station.as_ref().is_some_and(|station| names.contains(&station))
    };
    inputs.settled.iter().filter(on).cloned().collect()
}

/// The next best site for the relay, with how it does.
fn next_best<'a>(inputs: &BriefInputs<'a>) -> Option<(&'a SiteScore, &'a Site)> {
    let next = inputs.reserve?.next.as_ref()?;
    let score = inputs.ranking?.sites.iter().find(|score| score.site == *next)?;
    Some((score, inputs.plan.sites.iter().find(|site| site.name == *next)?))
}

/// The same in words; better sites that are closed at times are no reserve, and are
/// named.
fn reserve(inputs: &BriefInputs<'_>) -> Vec<Entry> {
    let closed = inputs.reserve.map_or(&[][..], |reserve| reserve.closed.as_slice());
    let next = next_best(inputs).map(|(score, site)| {
        let body = format!(
            "the next best{}, with {} of {} posts; {}",
            if closed.is_empty() { "" } else { " that is open until tear-down" },
            score.posts_covered,
            score.posts.len(),
            place(inputs, Some(score), site)
        );
        Entry::new(format!("If that fails, {}", site.name), body)
    });
    next.into_iter().chain(no_reserve(closed)).collect()
}

/// Sites that somebody does not get up to all the time.
fn no_reserve(closed: &[String]) -> Option<Entry> {
    let why = "not open from switching on to tear-down (perchline rank tells the hours)";
    (!closed.is_empty()).then(|| Entry::new("No reserve", format!("{}: {why}.", closed.join(", "))))
}

/// A site for whoever goes there.
fn place(inputs: &BriefInputs<'_>, score: Option<&SiteScore>, site: &Site) -> String {
    let units = inputs.plan.units;
    let stands = match site.roof {
        Roof::OfBuilding => "mast on the building's roof".to_owned(),
        Roof::AboveGround(_) | Roof::AboveSea(_) => "mast".to_owned(),
    };
    let mast = format!("{stands} {}", units.height(site.mast));
    let antenna = score.map_or_else(
        || mast.clone(),
        |score| {
            let height = units.height(score.antenna_above_ground_m);
            format!("antenna {height} above the ground, {mast}")
        },
    );
    let (latitude, longitude) = (site.at.latitude().value(), site.at.longitude().value());
    let mut parts = vec![format!("{latitude:.5}, {longitude:.5}"), antenna];
    if !site.available {
        parts.push("NOT AVAILABLE by the plan".to_owned());
    }
    if site.locked {
        parts.push("locked, somebody with a key has to come".to_owned());
    }
    parts.extend(inputs.places.iter().find(|p| p.site == site.name).into_iter().flat_map(facts));
    let said = [&site.access, &site.notes].into_iter().flatten();
    parts.extend(said.map(|text| plain(text).trim_end_matches('.').to_owned()));
    parts.join("; ") + "."
}

fn channels(inputs: &BriefInputs<'_>) -> Vec<Entry> {
    sheet_lines(inputs.plan)
        .into_iter()
        .map(|line| {
            let frequencies = if line.receive == line.transmit {
                format!("receive and transmit {} MHz", line.receive)
            } else {
                format!("receive {} MHz, transmit {} MHz", line.receive, line.transmit)
            };
            let tone = match line.tone.as_str() {
                "none" => "no tone".to_owned(),
                tone => format!("tone {tone}"),
            };
            let users =
                if line.users.is_empty() { String::new() } else { format!(". {}", line.users) };
            let body = format!("{frequencies}, {tone}, {}. {}{users}.", line.mode, line.function);
            Entry::new(line.channel, body)
        })
        .collect()
}

fn batteries(inputs: &BriefInputs<'_>) -> Vec<Entry> {
    let stations = inputs.power.iter().map(|budget| station(inputs, budget));
    let kits = inputs.kits.iter().map(kit);
    let mut entries: Vec<Entry> =
        stations.chain(kits).chain(inputs.crews.iter().map(crew)).collect();
    if let Some((head, body)) = POOR_CASE.split_once(": ").filter(|_| !entries.is_empty()) {
        entries.push(Entry::new(head, body));
    }
    entries
}

/// What goes up to a station, and whether the people who carry get it up.
fn kit(kit: &StationKit) -> Entry {
    let piece = |line: &LoadingLine| match line.count {
        1 => line.what.clone(),
        more => format!("{more} x {}", line.what),
    };
    let pieces: Vec<String> = kit.lines.iter().map(piece).collect();
    let left_out = not_counted(kit).map_or_else(String::new, |told| format!(" {told}"));
    let body = format!("{}. {}{left_out}", pieces.join("; "), sum(kit));
    Entry::new(format!("Up to {}", kit.station), body)
}

/// How a station's battery does and what keeps it on the air, as `power` and `ready`
/// say it.
fn station(inputs: &BriefInputs<'_>, budget: &StationBudget) -> Entry {
    let at = |moment| crate::power_tables::clock(moment, &inputs.plan.event.starts);
    let fix = remedy(budget).map_or_else(String::new, |fix| format!(" {fix}"));
    let body = format!(
        "on {} to {}, {} x {}: {}{fix}",
        at(&budget.on),
        at(&budget.off),
        budget.packs,
        budget.pack,
        verdict(budget)
    );
    Entry::new(&*budget.station, body)
}

fn crew(crew: &CrewNeeds) -> Entry {
    let packs = crew.packs_each.map_or_else(
        || "no number of packs lasts the shift".to_owned(),
        |packs| if packs == 1 { "1 pack each".to_owned() } else { format!("{packs} packs each") },
    );
    let spares = match crew.spares_total {
        None | Some(0) => String::new(),
        Some(spares) => format!(", {spares} spare in all"),
    };
    let body = format!(
        "{} people for {}. A pack runs {} in the poor case, {} as expected: {packs}{spares}.",
        crew.people,
        crew.shift_h.clock(),
        lasts(crew.poor_pack_lasts_h),
        lasts(crew.pack_lasts_h)
    );
    Entry::new(&*crew.crew, body)
}

/// Who calls whom without the relay, as on the cards; without a first channel, that
/// of the first net.
fn fallback(inputs: &BriefInputs<'_>) -> Section {
    let fallback = inputs.fallback;
    let Some(net) = fallback.first_net().or(fallback.nets.first()) else {
        return Section { title: String::new(), entries: Vec::new() };
    };
    let card = Card::of(inputs.plan, net, fallback.first.as_ref(), inputs.provenance);
    let title = format!("{}: {}, {} MHz", card.title, plain(&card.channel), card.frequency);
    let entries = if fallback.groups.is_empty() {
        card.entries
    } else {
        let ways = way_entries(&fallback.ways, Some(&net.channel));
        let order = fallback.first.as_ref().map(|first| card_order(first, net));
        order.into_iter().chain(fallback.groups.iter().map(whole_group)).chain(ways).collect()
    };
    let entries = entries.iter().map(|e| Entry::new(&*e.head, &*e.body)).collect();
    Section { title, entries }
}

fn care(inputs: &BriefInputs<'_>) -> Vec<Entry> {
    let mut entries = Vec::new();
    let changes = inputs.power.iter().any(|budget| !budget.changes.is_empty());
    let sites = sites_to_climb(inputs);
    for caution in cautions(inputs.plan, Output::Crew) {
        match caution {
            Caution::Climb if !changes => continue,
            Caution::Edge | Caution::Load if !sites.iter().any(|site| is_a_roof(site)) => continue,
            Caution::Mains if !sites.iter().any(|site| has_mains(site)) => continue,
            Caution::Generator if sites.iter().all(|site| has_mains(site)) => continue,
            _ => {}
        }
        // The head says what some texts begin with.
        let said = caution.said();
        let head = caution.name();
        let body = said.strip_prefix(head).and_then(|rest| rest.strip_prefix(": "));
        entries.push(Entry::new(head, body.unwrap_or(&said)));
        match caution {
            Caution::PowerLine => {
                entries.extend(sites.iter().filter_map(|site| wires(inputs, site)))
            }
            Caution::Antenna => entries.extend(distances(inputs)),
            _ => {}
        }
    }
    entries.push(Entry::new("Sources", format!("{UNNAMED}.")));
    entries
}

fn has_mains(site: &Site) -> bool {
    site.power == Some(SitePower::Mains)
}

/// What the plan tells of wires at a site.
fn wires(inputs: &BriefInputs<'_>, site: &Site) -> Option<Entry> {
    let units = inputs.plan.units;
    let said = [&site.access, &site.notes].into_iter().flatten();
    let said = said.flat_map(|text| text.split(['.', ';'])).filter(|part| says_line(part));
    let stated =
        site.power_line.map(|away| format!("The next power line is {} away", units.height(away)));
    let lines: Vec<String> =
        stated.into_iter().chain(said.map(|part| part.trim().to_owned())).collect();
    let head = format!("Wires at {}", site.name);
    (!lines.is_empty()).then(|| Entry::new(head, format!("{}.", lines.join(". "))))
}

/// How far to stay from each station's antenna.
fn distances(inputs: &BriefInputs<'_>) -> Vec<Entry> {
    let units = inputs.plan.units;
    let around = |exposure: &StationExposure| {
        let body = format!(
            "anybody stays {} away while it may transmit, the crew {}.",
            units.height(exposure.uncontrolled.keep_m),
            units.height(exposure.controlled.keep_m)
        );
        Entry::new(format!("Antenna of {}", exposure.station), body)
    };
    inputs.exposure.iter().map(around).collect()
}

/// The sites that the crew goes to, or may have to.
fn sites_to_climb<'a>(inputs: &BriefInputs<'a>) -> Vec<&'a Site> {
    let plan = inputs.plan;
    let stations = plan.power.stations.iter().filter_map(|station| match station.stands {
        Stands::On(site) => plan.sites.get(site).map(|site| site.name.as_str()),
        _ => None,
    });
    let named: Vec<&str> = std::iter::once(inputs.site.site.as_str())
        .chain(inputs.digipeaters.iter().map(|digipeater| digipeater.site.as_str()))
        .chain(stations)
        .chain(next_best(inputs).map(|(_, site)| site.name.as_str()))
        .collect();
    plan.sites.iter().filter(|site| named.contains(&site.name.as_str())).collect()
}

/// Whether a text tells of a power line.
fn says_line(text: &str) -> bool {
    let text = text.to_lowercase();
    ["power line", "powerline", "overhead line", "overhead wire", "high voltage"]
        .iter()
        .any(|word| text.contains(word))
}

/// What it was made with.
pub(super) fn made(inputs: &BriefInputs<'_>) -> Vec<String> {
    let provenance = inputs.provenance;
    let files: Vec<String> = provenance
        .inputs
        .iter()
        .map(|input| {
            let digest: String = input.sha256.chars().take(12).collect();
            format!("{} ({digest})", plain(&input.name()))
        })
        .collect();
    let mut lines = vec![
        format!(
            "Made {} with {} {}; method {}, effective-earth factor {:.2}, {} of 100 spots wanted.",
            provenance.made_at,
            provenance.program,
            provenance.version,
            provenance.method,
            provenance.k_factor,
            words::hundredths(provenance.reliability)
        ),
        format!("From, with the first digits of their SHA-256: {}.", files.join(", ")),
    ];
    lines.extend(
        inputs
            .remarks
            .iter()
            .map(|remark| format!("{}: {}", plain(&remark.about), plain(&remark.text))),
    );
    lines
}
