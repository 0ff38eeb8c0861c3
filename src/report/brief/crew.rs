//! The crew's page: sites, channels, batteries, the fallback and what can hurt.

use crate::card::Card;
use crate::channel_sheet::sheet_lines;
use crate::cosite_tables::NEAR_ANTENNAS;
use crate::place_words::{both, facts, mind, not_stated};
use crate::power_tables::{BEFORE_A_CHANGE, WITH_PACKS, verdict};
use perchline_plan::{Roof, Site, Stands};
use perchline_power::exposure::RESPONSIBILITY;
use perchline_power::kit::StationKit;
use perchline_power::place::SitePlace;
use perchline_power::{CrewNeeds, LoadingLine, StationBudget};
use perchline_siting::SiteScore;
use perchline_units::Hours;

use super::advice::way_out;
use super::{BriefInputs, Entry, Section, plain, times, words};

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
        let body = format!("relay; {}", place(inputs, inputs.site, site));
        entries.push(Entry::new(&*site.name, body));
        entries.extend(to_mind(inputs, inputs.places, &site.name));
    }
    for station in &plan.power.stations {
        let Stands::On(index) = station.stands else { continue };
        let Some(site) = plan.sites.get(index) else { continue };
        let same = plan.is_channel(station.channel, inputs.channel);
        if !same {
            entries.push(Entry::new(&*site.name, format!("station {}", station.name)));
            let own: Vec<SitePlace> = inputs
                .settled
                .iter()
                .filter(|place| place.access.station.as_ref() == Some(&station.name))
                .cloned()
                .collect();
            entries.extend(to_mind(inputs, &own, &site.name));
        }
    }
    entries.extend(reserve(inputs));
    let mended = inputs.site.posts.iter().filter_map(|post| {
        let remedy = post.remedy.as_ref()?;
        let mast =
            remedy.extra_mast_m.map(|extra| format!("{} more mast", plan.units.height(extra)));
        let others = (!remedy.other_sites.is_empty())
            .then(|| format!("the relay on {}", remedy.other_sites.join(" or ")));
        let ways: Vec<String> = mast.into_iter().chain(others).collect();
        let ways = if ways.is_empty() {
            "neither a mast nor another site".to_owned()
        } else {
            ways.join("; ")
        };
        Some(Entry::new(
            format!("{} falls short", post.post),
            format!("{}. What mends it: {ways}.", post.reason),
        ))
    });
    entries.extend(mended);
    entries
}

/// What to mind on a site, and what the plan does not say of it.
fn to_mind(inputs: &BriefInputs<'_>, places: &[SitePlace], site: &str) -> Vec<Entry> {
    let Some(place) = places.iter().find(|place| place.site == site) else { return Vec::new() };
    let told = mind(place, inputs.plan.units);
    let told = (!told.is_empty()).then(|| Entry::new(format!("Mind on {site}"), told.join(" ")));
    let unknown = not_stated(place).map(|text| Entry::new(format!("Ask about {site}"), text));
    told.into_iter().chain(unknown).collect()
}

/// The best other site that somebody gets up to until tear-down; better ones that are
/// closed by then are no reserve, and are named.
fn reserve(inputs: &BriefInputs<'_>) -> Vec<Entry> {
    let Some(ranking) = inputs.ranking else { return Vec::new() };
    let others = ranking.sites.iter().filter(|s| s.available && s.site != inputs.site.site);
    let known = |score: &SiteScore| {
        let site = inputs.plan.sites.iter().find(|site| site.name == score.site);
        site.zip(inputs.places.iter().find(|place| place.site == score.site))
    };
    let mut closed: Vec<&str> = Vec::new();
    for score in others {
        let Some((site, at)) = known(score) else { continue };
        if !at.access.open_throughout() {
            closed.push(&site.name);
            continue;
        }
        let body = format!(
            "the next best{}, with {} of {} posts; {}",
            if closed.is_empty() { "" } else { " that is open until tear-down" },
            score.posts_covered,
            score.posts.len(),
            place(inputs, score, site)
        );
        let next = Entry::new(format!("If that fails, {}", site.name), body);
        return [next].into_iter().chain(no_reserve(&closed)).collect();
    }
    no_reserve(&closed).into_iter().collect()
}

/// Sites that somebody does not get up to all the time.
fn no_reserve(closed: &[&str]) -> Option<Entry> {
    let why = "not open from switching on to tear-down (perchline rank tells the hours)";
    (!closed.is_empty()).then(|| Entry::new("No reserve", format!("{}: {why}.", closed.join(", "))))
}

/// A site for whoever goes there.
fn place(inputs: &BriefInputs<'_>, score: &SiteScore, site: &Site) -> String {
    let units = inputs.plan.units;
    let stands = match site.roof {
        Roof::OfBuilding => "mast on the building's roof".to_owned(),
        Roof::AboveGround(_) | Roof::AboveSea(_) => "mast".to_owned(),
    };
    let mut parts = vec![
        format!("{:.5}, {:.5}", site.at.latitude().value(), site.at.longitude().value()),
        format!(
            "antenna {} above the ground, {stands} {}",
            units.height(score.antenna_above_ground_m),
            units.height(site.mast)
        ),
    ];
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
                format!("{} MHz both ways", line.receive)
            } else {
                format!("listen {} MHz, send {} MHz", line.receive, line.transmit)
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
    stations.chain(kits).chain(inputs.crews.iter().map(crew)).collect()
}

/// What goes up to a station, and whether the people who carry get it up.
fn kit(kit: &StationKit) -> Entry {
    let piece = |line: &LoadingLine| match line.count {
        1 => line.what.clone(),
        more => format!("{more} x {}", line.what),
    };
    let pieces: Vec<String> = kit.lines.iter().map(piece).collect();
    let trips = if kit.can_be_carried() {
        let trips = if kit.trips == 1 { "trip" } else { "trips" };
        format!("{} {trips} for {} people", kit.trips, kit.carriers)
    } else {
        format!("NOT TO BE CARRIED by {} people (perchline power tells why)", kit.carriers)
    };
    let body = format!("{}. {} in all, {trips}.", pieces.join("; "), both(kit.weight_kg));
    Entry::new(format!("Up to {}", kit.station), body)
}

fn station(inputs: &BriefInputs<'_>, budget: &StationBudget) -> Entry {
    let at = |moment| crate::power_tables::clock(moment, &inputs.plan.event.starts);
    let mut body = format!(
        "on {} to {}, {} x {}. {}",
        at(&budget.on),
        at(&budget.off),
        budget.packs,
        budget.pack,
        verdict(budget)
    );
    if !budget.changes.is_empty() {
        let changes: Vec<String> = budget.changes.iter().map(at).collect();
        let short = match budget.sets_short() {
            0 => String::new(),
            sets => format!(" ({sets} more to bring)"),
        };
        body += &format!(" Change packs by {}{short}.", changes.join(", "));
    }
    Entry::new(&*budget.station, body)
}

fn crew(crew: &CrewNeeds) -> Entry {
    let lasts = crew.pack_lasts_h.map_or_else(|| "more than a day".to_owned(), Hours::clock);
    let packs = crew.packs_each.map_or_else(
        || "no number of packs lasts the shift".to_owned(),
        |packs| format!("{packs} each"),
    );
    let spares = crew.spares_total.map_or_else(String::new, |n| format!(", {n} spare in all"));
    let body = format!(
        "{} people for {}; a pack lasts {lasts}: {packs}{spares}.",
        crew.people,
        crew.shift_h.clock()
    );
    Entry::new(&*crew.crew, body)
}

/// Who calls whom without the relay, as on the card of the channel that the
/// liaison's page names; where that names none, of the first.
fn fallback(inputs: &BriefInputs<'_>) -> Section {
    let Some(net) = way_out(inputs).or(inputs.nets.first().copied()) else {
        return Section { title: String::new(), entries: Vec::new() };
    };
    let card = Card::of(inputs.plan, net, inputs.provenance);
    Section {
        title: format!("{}: {}, {} MHz", card.title, plain(&card.channel), card.frequency),
        entries: card.entries.iter().map(|e| Entry::new(&*e.head, &*e.body)).collect(),
    }
}

fn care(inputs: &BriefInputs<'_>) -> Vec<Entry> {
    let units = inputs.plan.units;
    let mut entries = Vec::new();
    let relay = times::relay(inputs).map(|budget| budget.station.clone());
    let keep = inputs.exposure.iter().find(|e| Some(&e.station) == relay.as_ref());
    if let Some(around) = keep {
        entries.push(Entry::new(
            "Antenna",
            format!(
                "anybody stays {} away from the relay's antenna while it may send, the crew {}. {NEAR_ANTENNAS} {RESPONSIBILITY}",
                units.height(around.public.keep_m),
                units.height(around.informed.keep_m)
            ),
        ));
    } else if let Some(line) = words::CAUTIONS.first() {
        entries.push(Entry::new("Antenna", *line));
    }
    if let Some(line) = words::CAUTIONS.get(1) {
        entries.push(Entry::new("Roof, wires, storm", *line));
    }
    entries.push(Entry::new(
        "Batteries",
        format!("{WITH_PACKS} Cold takes from them: keep spares warm, in an inner pocket."),
    ));
    if inputs.power.iter().any(|budget| !budget.changes.is_empty()) {
        entries.push(Entry::new("Changing packs", BEFORE_A_CHANGE));
    }
    entries.push(Entry::new("Before all", words::LOCAL_CODES));
    entries
}

/// What it was made with.
pub(super) fn made(inputs: &BriefInputs<'_>) -> Vec<String> {
    let provenance = inputs.provenance;
    let files: Vec<String> = provenance
        .inputs
        .iter()
        .map(|input| {
            let name = input.path.file_name().map(|n| n.to_string_lossy().into_owned());
            let digest: String = input.sha256.chars().take(12).collect();
            format!("{} ({digest})", plain(&name.unwrap_or_default()))
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
