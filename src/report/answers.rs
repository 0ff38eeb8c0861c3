//! The answer of a verb in three lines at most: what comes out, what fails, what to
//! do. Everything else stands below it.

use perchline_assessment::{Assessment, CositeFindings, Energy, Fix, RoofConflict, pack_fix};
use perchline_heard::rehearsal::Rehearsal;
use perchline_link::{Outcome, PathStudy};
use perchline_plan::{Channel, Plan, Service, Site, UnitSystem};
use perchline_power::StationBudget;
use perchline_power::mast::{RefusedMast, refused_mast};
use perchline_siting::choose::Choice;
use perchline_siting::direct::{Fallback, Way};
use perchline_siting::masts::MastStudy;
use perchline_siting::spots::SpotSearch;
use perchline_siting::trackers::{TrackerScore, TrackerStudy};
use perchline_siting::{PostScore, RankError, Ranking, SiteScore, at_once};
use perchline_units::{Db, Metres};
use serde::Serialize;

use super::debrief::DebriefDocument;
use super::documents::KeptOff;
use super::place_words::lower_mast;
use super::power_tables::clock;
use super::spot_tables::position;
use super::text_lines::wrapped;
use super::tracker_tables::minutes;
use super::words::{self, capital};

/// Letters in a line.
const COLUMNS: usize = 80;
/// One more digipeater that gets less of all beacons through is not proposed (ours).
const WORTH_A_DIGIPEATER: f64 = 0.01;
/// Names in a line; the rest is counted.
const NAMED: usize = 3;

/// Lines of an answer, an empty one behind them.
fn answer(lines: &[String]) -> String {
    let lines = lines.iter().filter(|line| !line.is_empty());
    let all: String =
        lines.flat_map(|line| wrapped(line, COLUMNS, 2)).map(|line| line + "\n").collect();
    all + "\n"
}

/// The first few of some names.
fn few<S: AsRef<str>>(names: &[S]) -> String {
    words::first_of(names, NAMED)
}

/// Of `rank`: the site for each station, which posts fail from that of the first, and
/// what to do.
#[must_use]
pub fn ranked(plan: &Plan, rankings: &[&Ranking], conflicts: &[RoofConflict]) -> String {
    let proposals: Vec<Proposal<'_>> =
        rankings.iter().filter_map(|ranking| Proposal::of(plan, ranking, conflicts)).collect();
    let Some(first) = proposals.first() else {
        return answer(&["No site to rank.".to_owned()]);
    };
    let alone = proposals.len() == 1;
    let bests: Vec<String> = proposals
        .iter()
        .enumerate()
        .map(|(place, proposal)| {
            let alike = proposals.iter().filter(|p| p.station == proposal.station).count();
            proposal.words(alike > 1, place > 0)
        })
        .collect();
    let site = first.site;
    let whose = if alone { String::new() } else { format!("{}: ", capital(first.station)) };
    let serves = format!("{whose}{}{}", should_work(site), fails(site));
    answer(&[
        format!("Best: {}.", bests.join("; ")),
        serves,
        match &site.refused_mast {
            Some(mast) => format!("To do: another mast or site; {}.", lower_mast(mast, plan.units)),
            None => fix(site, plan.units),
        },
    ])
}

/// Where a ranking puts its station.
struct Proposal<'r> {
    /// What the station is: "relay", "digipeater".
    station: &'static str,
    channel: &'r str,
    site: &'r SiteScore,
    /// What is in the way there that no other site avoids.
    conflict: bool,
}

impl<'r> Proposal<'r> {
    fn of(plan: &Plan, ranking: &'r Ranking, conflicts: &[RoofConflict]) -> Option<Self> {
        let channel = plan.channels.iter().find(|c| c.name == ranking.channel)?;
        Some(Self {
            station: words::station(channel.service),
            channel: &ranking.channel,
            site: RoofConflict::proposed(conflicts, ranking)?,
            conflict: RoofConflict::of(conflicts, ranking).is_some_and(|c| c.instead.is_none()),
        })
    }

    /// The same in words; with its channel where it is not the only station of its
    /// kind, with its posts where no line below has them.
    fn words(&self, named: bool, with_posts: bool) -> String {
        let site = self.site;
        let of = if named { format!(" of {}", self.channel) } else { String::new() };
        let may = match (site.available, &site.refused_mast) {
            (false, _) => " (NOT AVAILABLE)",
            (true, Some(_)) => " (NOT AS PLANNED: power line too near)",
            (true, None) if self.conflict => " (NOT BOTH there)",
            (true, None) => "",
        };
        let failing: Vec<&str> = failing(site).iter().map(|post| post.post.as_str()).collect();
        let without =
            if failing.is_empty() { String::new() } else { format!(", not {}", few(&failing)) };
        let posts = if with_posts {
            format!(" ({} of {} posts{without})", site.posts_covered, site.counted_posts().count())
        } else {
            String::new()
        };
        format!("{}{of} on {}{may}{posts}", self.station, site.site)
    }
}

/// How many of a site's posts should work.
fn should_work(site: &SiteScore) -> String {
    format!("{} of {} posts should work.", site.posts_covered, site.counted_posts().count())
}

/// Posts that fail from a site, those that must work first, then the worst.
fn failing(site: &SiteScore) -> Vec<&PostScore> {
    let margin = |post: &PostScore| post.governing_margin_db.map_or(f64::MIN, Db::value);
    let mut failing: Vec<&PostScore> =
        site.counted_posts().filter(|post| !post.outcome.works()).collect();
    failing.sort_by(|a, b| b.must.cmp(&a.must).then(margin(a).total_cmp(&margin(b))));
    failing
}

/// Those by name, the worst marked; the one with least in hand where none fails.
fn fails(site: &SiteScore) -> String {
    let is_worst = |post: &PostScore| site.worst_post.as_deref() == Some(post.post.as_str());
    let failing = failing(site);
    let name = |post: &&PostScore| match (post.must, is_worst(post) && failing.len() > 1) {
        (true, true) => format!("{} (MUST HAVE, worst)", post.post),
        (true, false) => format!("{} (MUST HAVE)", post.post),
        (false, true) => format!("{} (worst)", post.post),
        (false, false) => post.post.clone(),
    };
    let names: Vec<String> = failing.iter().map(name).collect();
    if !names.is_empty() {
        return format!(" Not: {}.", few(&names));
    }
    let thinnest = site.counted_posts().find(|post| is_worst(post));
    let margin = thinnest.and_then(|post| Some((post, post.governing_margin_db?)));
    margin.map_or_else(String::new, |(post, margin)| {
        format!(" Thinnest: {}, margin {margin:+.1}.", post.post)
    })
}

/// What fixes a must-have post that fails; else what comes next. Another site for the
/// sake of a post that need not work would cost others.
fn fix(site: &SiteScore, units: UnitSystem) -> String {
    let must = failing(site).into_iter().find(|post| post.must);
    let Some((post, remedy)) = must.and_then(|post| Some((post, post.remedy.as_ref()?))) else {
        return "To do: test calls (perchline rehearse), then perchline ready.".to_owned();
    };
    let mast = remedy.extra_mast_m.map(|extra| format!("{} more mast", units.height(extra)));
    let other = remedy.other_sites.first().map(|other| format!("another site, {other}"));
    let ways: Vec<String> = mast.into_iter().chain(other).collect();
    if ways.is_empty() {
        return format!("To do: no mast and no site fixes {}; move it or telephone.", post.post);
    }
    format!("To do for {}: {}.", post.post, ways.join(", or "))
}

/// What keeps a station off a site, as `rank` has it, whatever it would serve from
/// there.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Against {
    /// Whether the plan says that the site may not be used.
    pub not_available: bool,
    /// The mast that a power line forbids.
    pub refused_mast: Option<RefusedMast>,
    /// The station that has the roof and with which it does not go.
    pub conflict: Option<RoofConflict>,
}

impl Against {
    /// Of the station of `channel` on a site.
    ///
    /// # Errors
    /// [`RankError`] when a site or post does not fit the terrain.
    pub fn of(assessment: &Assessment, channel: &Channel, site: &Site) -> Result<Self, RankError> {
        Ok(Self {
            not_available: !site.available,
            refused_mast: refused_mast(&assessment.plan, channel, site),
            conflict: assessment.conflict_on(channel, site)?,
        })
    }

    /// What is in the way, with what to do, each in a sentence; nothing if nothing is.
    pub(super) fn told(&self, site: &str, units: UnitSystem) -> Option<[String; 2]> {
        if self.not_available {
            return Some([
                format!("{site} is NOT AVAILABLE, the plan says."),
                "To do: another site (perchline rank).".to_owned(),
            ]);
        }
        if let Some(mast) = &self.refused_mast {
            return Some([
                format!("NO MAST as planned on {site}: the power line is too near."),
                format!("To do: another mast or site; {}.", lower_mast(mast, units)),
            ]);
        }
        let conflict = self.conflict.as_ref()?;
        let other = conflict.instead.as_ref().map_or_else(
            || "To do: separate or filter the two (perchline cosite).".to_owned(),
            |other| format!("To do: take {other} (perchline rank), or filter (perchline cosite)."),
        );
        Some([format!("NOT on {site}: there {}.", words::desenses(conflict)), other])
    }
}

/// Of `path`: whether it works, what limits it and what to do; what keeps the station
/// off the site comes before all.
#[must_use]
pub fn path(study: &PathStudy, against: &Against, units: UnitSystem) -> String {
    let link = format!("{} to {} on {}", study.from.name, study.to.name, study.channel);
    answer(&verdict(study, against, units, &link))
}

/// The same for the head of a drawing that names the link by itself: what comes out.
pub(super) fn path_verdict(study: &PathStudy, against: &Against, units: UnitSystem) -> String {
    let [first, second, _] = verdict(study, against, units, "Both ways");
    format!("{first} {second}")
}

/// What comes of a link, what limits it, what to do.
fn verdict(study: &PathStudy, against: &Against, units: UnitSystem, link: &str) -> [String; 3] {
    let budgets = &study.budgets;
    let margin = budgets.governing_budget().margin_db;
    let (spots, wanted) = (words::spots(budgets.probability), words::per_hundred(budgets.wanted));
    let works = budgets.outcome.works();
    if let Some([why, to_do]) = against.told(&study.from.name, units) {
        let alone = if works { "should work in" } else { "would fall short," };
        return [why, format!("{link} without that: {alone} {spots} spots."), to_do];
    }
    let first = if works {
        format!("{link}: should work in {spots} spots.")
    } else {
        format!("{link}: falls short, {spots} spots, {wanted} wanted.")
    };
    let limits = format!("{}, margin {margin:+.1}", words::ends_of(study, budgets.governing));
    let both = at_once(study).filter(|_| !works);
    let both = both.map_or_else(String::new, |lacks| format!(", both ways at once -{lacks}"));
    let missing = budgets.missing_db;
    let to_do = match (budgets.outcome, study.service) {
        (Outcome::Strong | Outcome::Clear, _) => {
            "To do: a test call from there before anyone relies on it.".to_owned()
        }
        (_, Service::Simplex { .. }) => {
            format!("To do: {missing:.1} more: radios at the head, or a post that relays.")
        }
        _ => format!(
            "To do: {missing:.1} more: radio at the head, more mast, other site (perchline rank)."
        ),
    };
    [first, format!("Limiting direction: {limits}{both}."), to_do]
}

/// The tracker of which the smallest share of beacons gets through.
pub(super) fn heard_least<'a>(studies: &[&'a TrackerStudy]) -> Option<&'a TrackerScore> {
    let scores = studies.iter().flat_map(|study| &study.trackers);
    scores.min_by(|a, b| a.through.total_cmp(&b.through))
}

/// What is said where no route has a silent stretch.
pub(super) const NO_SILENCE: &str = "No silent stretch on any route.";

/// The silent stretch in which a tracker is longest, if there is one.
pub(super) fn longest_silence(studies: &[&TrackerStudy], units: UnitSystem) -> Option<String> {
    let scores = studies.iter().flat_map(|study| &study.trackers);
    let silent = scores.filter_map(|score| Some((score, score.along.longest_silence()?)));
    let (score, silence) = silent.reduce(|a, b| if b.1.lasts_s > a.1.lasts_s { b } else { a })?;
    Some(format!(
        "Longest silence: {} from {} to {} of {}, {}.",
        score.tracker,
        units.distance(silence.from_m),
        units.distance(silence.to_m),
        score.route,
        minutes(silence.lasts_s)
    ))
}

/// Of `trackers`: what keeps a digipeater off its site, then who is heard least, where
/// nobody knows for longest, what one more digipeater brings.
#[must_use]
pub fn tracked(studies: &[&TrackerStudy], kept_off: &[KeptOff<'_>], units: UnitSystem) -> String {
    let in_the_way = kept_off.iter().find_map(|kept| kept.against.told(kept.site, units));
    let Some(least) = heard_least(studies) else {
        return answer(&["No tracker is on any packet channel.".to_owned()]);
    };
    let mut sites: Vec<&str> = Vec::new();
    for digipeater in studies.iter().flat_map(|study| &study.digipeaters) {
        if !sites.contains(&digipeater.site.as_str()) {
            sites.push(&digipeater.site);
        }
    }
    let without = if in_the_way.is_some() { " without that" } else { "" };
    let first = format!(
        "Digipeater on {}{without}: {} of the beacons of {}, heard least, should get through.",
        sites.join(" and "),
        words::percent(least.through),
        least.tracker
    );
    if let Some([why, to_do]) = in_the_way {
        return answer(&[why, first, to_do]);
    }
    let Some(second) = longest_silence(studies, units) else {
        return answer(&[
            first,
            NO_SILENCE.to_owned(),
            "To do: go the routes once with a tracker before anyone relies on it.".to_owned(),
        ]);
    };
    let more = studies.iter().filter_map(|study| study.one_more.first());
    let more = more.filter(|more| more.gain >= WORTH_A_DIGIPEATER);
    let third = match more.reduce(|a, b| if b.gain > a.gain { b } else { a }) {
        Some(more) => format!(
            "To do: one more digipeater on {} gets {} more through.",
            more.site,
            words::percent(more.gain)
        ),
        None => "To do: a radio operator there; no further digipeater brings much.".to_owned(),
    };
    answer(&[first, second, third])
}

/// Of `debrief`: what it comes to, and where the changes for the next plan are.
#[must_use]
pub fn debriefed(document: &DebriefDocument) -> String {
    let to_do = match document.changes.len() {
        0 => "To do: nothing for the next plan; keep the log.".to_owned(),
        1 => "To do: 1 change for the next plan, with the lines to paste (--out DIR).".to_owned(),
        n => format!("To do: {n} changes for the next plan, with lines to paste (--out DIR)."),
    };
    answer(&[document.headline.clone(), to_do])
}

/// Of `direct`: where everybody goes, who is cut off, what to do before.
#[must_use]
pub fn without_relay(fallback: &Fallback) -> String {
    let Some(first) = &fallback.first else {
        return answer(&[
            "Relay silent: no simplex channel brings any post to net control.".to_owned(),
            "To do: give everybody a telephone number, or keep a spare relay ready.".to_owned(),
        ]);
    };
    let cut_off: Vec<&str> = fallback.cut_off().collect();
    let patchy = fallback.ways.iter().filter(|way| way.way == Way::Patchy);
    let patchy: Vec<&str> = patchy.map(|way| way.post.as_str()).collect();
    let mut fails = Vec::new();
    if !patchy.is_empty() {
        fails.push(format!("From some spots only: {}.", few(&patchy)));
    }
    if !cut_off.is_empty() {
        fails.push(format!("No radio path: {}.", few(&cut_off)));
    }
    fails.push("Not walked.".to_owned());
    let fails = fails.join(" ");
    answer(&[
        format!(
            "Everybody changes to {}, {} MHz: {} of {} posts should reach {}.",
            first.channel,
            words::megahertz(first.frequency_mhz),
            fallback.reaching(),
            fallback.ways.len(),
            first.net_control
        ),
        fails,
        "To do: a card into every pocket (--out DIR), and call round on it once before.".to_owned(),
    ])
}

/// Of `power`: who dies first in the poor case, what crews need, what to do.
#[must_use]
pub fn power(energy: &Energy) -> String {
    let budgets = &energy.stations;
    let dying: Vec<&StationBudget> = dying(budgets).collect();
    let first = packs_last(budgets);
    let crews: Vec<String> = energy
        .crews
        .iter()
        .map(|crew| match (crew.packs_each, crew.spares_total) {
            (Some(1), _) => format!("{} 1 pack each", crew.crew),
            (Some(each), Some(spares)) => {
                format!("{} {each} packs each, {spares} spare in all", crew.crew)
            }
            _ => format!("{}: no number of packs lasts the shift", crew.crew),
        })
        .collect();
    let crews =
        if crews.is_empty() { String::new() } else { format!("Crews: {}.", crews.join("; ")) };
    let fixes: Vec<String> = dying
        .iter()
        .filter_map(|budget| {
            let by = budget.changes.first().map(|at| clock(at, &budget.on));
            let (name, by) = (&budget.station, by.unwrap_or_default());
            match pack_fix(budget)? {
                Fix::LargerPack { capacity_ah, or_change_by, .. } if or_change_by.is_empty() => {
                    Some(format!("for {name} a pack of {capacity_ah:.1}"))
                }
                Fix::LargerPack { capacity_ah, .. } => {
                    Some(format!("for {name} a pack of {capacity_ah:.1} or a change by {by}"))
                }
                _ => Some(format!("for {name} a change of packs by {by}")),
            }
        })
        .chain((!energy.lacking.is_empty()).then(|| KNOW_THE_COLD.to_owned()))
        .collect();
    let to_do = if !fixes.is_empty() {
        format!("To do: {}.", fixes.join("; "))
    } else if !dying.is_empty() {
        "To do: no pack of these cells does; other cells or less load (--long).".to_owned()
    } else {
        "To do: run one pack down at home; these are typical curves.".to_owned()
    };
    let not_known = packs_not_known(energy);
    answer(&[first, not_known, crews, to_do])
}

/// What settles how long a pack lasts of which nothing says how warm it is.
const KNOW_THE_COLD: &str =
    "add a [forecast] with from and hourly, or kept_at where a pack is kept indoors";

/// Of whose packs nothing is known, in a sentence; nothing where all are known.
pub(super) fn packs_not_known(energy: &Energy) -> String {
    let names = energy.not_known();
    if names.is_empty() {
        return String::new();
    }
    format!("NOT KNOWN of {}: nothing says how warm the pack is.", few(&names))
}

/// Stations whose packs die in the poor case.
fn dying(budgets: &[StationBudget]) -> impl Iterator<Item = &StationBudget> {
    budgets.iter().filter(|budget| !budget.poor.lasts())
}

/// Whether the packs of stations last, in a sentence; nothing where there are none.
pub(super) fn packs_last(budgets: &[StationBudget]) -> String {
    if budgets.is_empty() {
        return String::new();
    }
    let each: Vec<String> = dying(budgets)
        .map(|budget| {
            let at = budget.poor.dies_at.as_ref();
            let at = at.map_or_else(|| "?".to_owned(), |at| clock(at, &budget.on));
            format!(
                "{} DIES at {at}, needed until {}",
                budget.station,
                clock(&budget.off, &budget.on)
            )
        })
        .collect();
    if each.is_empty() {
        let names: Vec<&str> = budgets.iter().map(|b| b.station.as_str()).collect();
        return format!("Should run to the end in the poor case too: {}.", few(&names));
    }
    format!("In the poor case {}.", each.join("; "))
}

/// Where the relays of a choice stand.
pub(super) fn relays_on(choice: &Choice) -> String {
    let sites = &choice.first.sites;
    let relays = if sites.len() == 1 { "relay" } else { "relays" };
    format!("{relays} on {}", sites.join(" and "))
}

/// The posts that no relay of a choice serves, if there are any.
pub(super) fn left_out(choice: &Choice) -> Option<String> {
    let posts = choice.sectors.posts.iter();
    let fails =
        posts.filter(|sector| !sector.first.as_ref().is_some_and(|duty| duty.outcome.works()));
    let fails: Vec<&str> = fails.map(|sector| sector.post.as_str()).collect();
    (!fails.is_empty()).then(|| format!("Not: {}.", few(&fails)))
}

/// Of `choose`: the set, what it leaves out, what comes next.
#[must_use]
pub fn chosen(choice: &Choice) -> String {
    let set = &choice.first;
    let first = format!(
        "Best: {}; {} of {} posts should work.",
        relays_on(choice),
        set.posts_covered,
        choice.sectors.posts.len(),
    );
    let fails = left_out(choice).map_or_else(String::new, |fails| format!("{fails} "));
    let spare = match choice.relays.saturating_sub(set.sites.len()) {
        0 => "",
        1 => "One more relay adds nothing within the limits. ",
        _ => "More relays add nothing within the limits. ",
    };
    let next = choice.runner_up.as_ref().map_or_else(
        || "No other set keeps what is asked.".to_owned(),
        |next| format!("Next best: {}, {} posts.", next.sites.join(" and "), next.posts_covered),
    );
    let to_do = if set.sites.len() > 1 {
        "To do: ask the owners, and your coordinator for the channels (below)."
    } else {
        "To do: ask the owner, then test calls (perchline rehearse)."
    };
    answer(&[first, format!("{fails}{spare}{next}"), to_do.to_owned()])
}

/// Of `coverage`: how much one site serves, what fails, what to do; what keeps the
/// station off the site comes before all.
#[must_use]
pub fn covered(channel: &str, site: &SiteScore, against: &Against, units: UnitSystem) -> String {
    let map = site
        .map_share
        .map_or_else(String::new, |share| format!(", {} of the map", words::percent(share)));
    let serves = |when: &str| {
        format!(
            "{} for {channel}{when}: {} of {} posts should work{map}.",
            site.site,
            site.posts_covered,
            site.counted_posts().count()
        )
    };
    match against.told(&site.site, units) {
        Some([why, to_do]) => answer(&[why, serves(" without that"), to_do]),
        None => answer(&[serves(""), fails(site).trim_start().to_owned(), fix(site, units)]),
    }
}

/// Of `masts`: the best site at its planned mast, which heights a power line refuses,
/// what to look for.
#[must_use]
pub fn masts(studies: &[&MastStudy], units: UnitSystem) -> String {
    let planned = |study: &MastStudy| {
        let heights = study.heights.iter().rev();
        heights
            .into_iter()
            .find(|s| s.mast_m <= study.planned_mast_m)
            .map(|s| s.weighted_probability)
    };
    let open = studies.iter().filter(|study| study.available);
    let best =
        open.filter_map(|study| Some((study, planned(study)?))).max_by(|a, b| a.1.total_cmp(&b.1));
    let first = best.map_or_else(
        || "No site may have its planned mast.".to_owned(),
        |(study, probability)| {
            format!(
                "Best at its planned mast: {}, {} (knee {}), coverage {}.",
                study.site,
                units.height(study.planned_mast_m),
                units.height(study.knee_m),
                words::contact(probability)
            )
        },
    );
    let refused: Vec<String> = studies
        .iter()
        .filter_map(|study| {
            Some(format!("{} from {} on", study.site, units.height(study.refused_from_m?)))
        })
        .collect();
    let refused = if refused.is_empty() {
        String::new()
    } else {
        format!("REFUSED by a power line: {}.", few(&refused))
    };
    let unknown: Vec<&str> = studies
        .iter()
        .filter(|study| study.power_line_m.is_none())
        .map(|study| study.site.as_str())
        .collect();
    let to_do = if unknown.is_empty() {
        "To do: no more mast than the knee.".to_owned()
    } else {
        format!("To do: look for power lines at {}.", few(&unknown))
    };
    answer(&[first, refused, to_do])
}

/// Of `search`: the best spot against the best listed site, what it misses, what to do.
#[must_use]
pub fn spots(search: &SpotSearch) -> String {
    let Some(best) = search.spots.first() else {
        return answer(&["No spot was found.".to_owned()]);
    };
    let listed = search.best_listed.as_ref().map_or_else(String::new, |listed| {
        let coverage = words::contact(listed.weighted_probability);
        format!(
            "Best listed site: {}, {} of {} posts, {coverage}. ",
            listed.name, listed.posts_covered, listed.posts
        )
    });
    let rank = &best.rank;
    let misses = if rank.missed_must_posts.is_empty() {
        String::new()
    } else {
        format!("The spot misses must-have {}.", few(&rank.missed_must_posts))
    };
    answer(&[
        format!(
            "Best spot: {}, {} of {} posts should work, coverage {}.",
            position(rank.at),
            rank.posts_covered,
            rank.posts,
            words::contact(rank.weighted_probability)
        ),
        (listed + &misses).trim_end().to_owned(),
        "To do: go and look by daylight, and ask the owner; nobody has.".to_owned(),
    ])
}

/// Of `cosite`: who disturbs whom, what falls into a channel, what to do.
#[must_use]
pub fn shared(findings: &CositeFindings, units: UnitSystem) -> String {
    let pairs =
        findings.roofs.iter().flat_map(|roof| roof.pairs.iter().map(move |pair| (roof, pair)));
    let worst = pairs
        .filter(|(_, pair)| pair.is_too_much())
        .max_by(|(_, a), (_, b)| a.desense_db.value().total_cmp(&b.desense_db.value()));
    let first = worst.map_or_else(
        || "On no shared roof does a station desense another too much.".to_owned(),
        |(roof, pair)| {
            // A roof that nothing puts them on together is only looked at.
            let (when, desenses) = if roof.settled {
                ("On one roof", "desenses")
            } else {
                ("If they shared a roof,", "would desense")
            };
            format!("{when} {} {desenses} {} by {:.0}.", pair.from, pair.to, pair.desense_db)
        },
    );
    let inside =
        findings.products.iter().chain(&findings.harmonics).filter(|hit| hit.inside).count();
    let second = match inside {
        0 => "No intermodulation product or harmonic falls inside a channel.".to_owned(),
        n => format!("Intermodulation products and harmonics inside a channel: {n}."),
    };
    let keep =
        findings.exposure.iter().map(|around| around.uncontrolled.keep_m).reduce(Metres::max);
    let third = keep.map_or_else(String::new, |keep| {
        let keep = units.height(keep);
        format!("To do: rope off {keep} around antennas, or as the table says for each.")
    });
    answer(&[first, second, third])
}

/// Of `rehearse`: how far, how long, with whom.
#[must_use]
pub fn walk(rehearsal: &Rehearsal, units: UnitSystem) -> String {
    answer(&[
        format!(
            "{} places for test calls to {}: {}, {} h {:02} min on foot.",
            rehearsal.places.len(),
            rehearsal.site,
            units.distance(rehearsal.distance_m),
            rehearsal.minutes / 60,
            rehearsal.minutes % 60
        ),
        format!("To do: two people walk, one answers from {}.", rehearsal.site),
    ])
}
