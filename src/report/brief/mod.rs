//! The briefing: what the organiser's liaison gets, who installs nothing and has
//! a minute to read. Page one is theirs and holds no radio word; page two is the
//! crew's.
//!
//! [`Brief::of`] says everything once, in words; the page and the sheets lay it
//! out.

mod advice;
mod carrying;
mod contacts;
mod crew;
mod exchange;
pub(crate) mod page;
pub(crate) mod picture;
mod sentences;
pub(crate) mod sheets;
mod slip;
mod text;
mod times;

use serde::Serialize;

use perchline_assessment::{DigipeaterSite, Reserve, WhyThere};
use perchline_link::Outcome;
use perchline_plan::{Channel, Plan, Remark};
use perchline_power::exposure::StationExposure;
use perchline_power::kit::StationKit;
use perchline_power::place::SitePlace;
use perchline_power::{CrewNeeds, StationBudget};
use perchline_siting::choose::LinkedSites;
use perchline_siting::direct::Fallback;
use perchline_siting::{Aid, Ranking, RouteCourse, SiteScore};
use perchline_units::Position;

use super::cautions::{Caution, Output, cautions};
use super::map::MapContent;
use super::{Provenance, words};

pub use carrying::{Carrier, Carrying};
pub use contacts::ContactLine;
pub(super) use exchange::{write_geopackage, write_gpx, write_kml, write_kmz};
pub(super) use page::write_page;
pub(super) use picture::write_png;
pub(super) use sentences::{roughly, towards};
pub use sheets::Paper;
pub(super) use sheets::{
    write_a3, write_a4, write_letter, write_poster, write_slips, write_tabloid,
};
pub use slip::Slip;
pub use text::brief_screen;

/// What a briefing is made from.
#[derive(Debug, Clone, Copy)]
pub struct BriefInputs<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// The channel that the relay serves.
    pub channel: &'a Channel,
    /// How the relay's site does on it.
    pub site: &'a SiteScore,
    /// The plan's routes on their ground, in the plan's order.
    pub courses: &'a [RouteCourse],
    /// What helps at each post that fails, in the order of the site's posts.
    pub aids: &'a [Option<Aid>],
    /// All sites, best first, where they were ranked to find this one.
    pub ranking: Option<&'a Ranking>,
    /// Another site for the relay, where they were ranked.
    pub reserve: Option<&'a Reserve>,
    /// Where the digipeaters of packet channels stand.
    pub digipeaters: &'a [DigipeaterSite],
    /// From where linked relays reach the relay's site, where the plan links relays.
    pub linked: Option<&'a LinkedSites>,
    /// What everybody does without the relay.
    pub fallback: &'a Fallback,
    /// Distances to keep from antennas.
    pub exposure: &'a [StationExposure],
    /// Energy budgets of the plan's stations.
    pub power: &'a [StationBudget],
    /// What each of the plan's crews carries.
    pub crews: &'a [CrewNeeds],
    /// What goes up to each station.
    pub kits: &'a [StationKit],
    /// Each site as a place where people work, with the relay on it.
    pub places: &'a [SitePlace],
    /// The same of the sites on which the plan puts its stations.
    pub settled: &'a [SitePlace],
    /// What a person should know before trusting it.
    pub remarks: &'a [Remark],
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// What the files of a briefing are made from.
#[derive(Clone, Copy)]
pub struct BriefContent<'a> {
    /// What the briefing says.
    pub brief: &'a Brief,
    /// What it says it of.
    pub inputs: &'a BriefInputs<'a>,
    /// The map of the relay's site.
    pub map: &'a MapContent<'a>,
    /// The papers to lay sheets out for.
    pub papers: &'a [Paper],
}

/// Everything that a briefing says, in words.
#[derive(Debug, Clone, Serialize)]
pub struct Brief {
    /// The event's name.
    pub event: String,
    /// The organiser.
    pub agency: Option<String>,
    /// The day, in words.
    pub date: String,
    /// The relay's site and why it was taken.
    pub site: String,
    /// How many posts have radio, in a sentence.
    pub headline: String,
    /// When what happens.
    pub times: Vec<Entry>,
    /// Whom to call.
    pub contacts: Vec<ContactLine>,
    /// A sentence on each post, in the plan's order.
    pub posts: Vec<PostLine>,
    /// A sentence on each staging area.
    pub areas: Vec<PlaceLine>,
    /// A sentence on each route.
    pub routes: Vec<PlaceLine>,
    /// What anybody does who hears nothing, in order.
    pub silence: Vec<String>,
    /// What can hurt whoever does it.
    pub care: Vec<String>,
    /// What the plan lacks that the whole briefing suffers from.
    pub missing: Option<&'static str>,
    /// What a reader must know of any prediction.
    pub caveats: Vec<String>,
    /// The crew's page, section by section.
    pub crew: Vec<Section>,
    /// Who carries what up to each station.
    pub carrying: Vec<Carrying>,
    /// What it was made with, in a few lines.
    pub made: Vec<String>,
}

/// A word or two and what they stand for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Entry {
    /// What it is about.
    pub head: String,
    /// What there is to know.
    pub body: String,
}

/// What a briefing says of a post.
#[derive(Debug, Clone, Serialize)]
pub struct PostLine {
    /// Its number on the map.
    pub number: usize,
    /// Its name.
    pub name: String,
    /// Where it is.
    pub at: Position,
    /// Whether the event leans on it.
    pub must: bool,
    /// What the radio comes to there.
    pub outcome: Outcome,
    /// The same in a sentence.
    pub sentence: String,
    /// What to do where it does not work; nothing where it does.
    pub advice: Vec<String>,
    /// What the person there takes along.
    pub slip: Slip,
}

/// What a briefing says of an area or a route.
#[derive(Debug, Clone, Serialize)]
pub struct PlaceLine {
    /// Its name.
    pub name: String,
    /// Whether radio works all over it.
    pub works: bool,
    /// How much of it works, in a sentence.
    pub sentence: String,
    /// What to do where it does not; nothing where it works all over.
    pub advice: Vec<String>,
}

/// A part of the crew's page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Section {
    /// What it is about.
    pub title: String,
    /// What it says; an entry without a head continues the one before.
    pub entries: Vec<Entry>,
}

impl Entry {
    pub(crate) fn new(head: impl Into<String>, body: impl Into<String>) -> Self {
        let head = plain(&head.into());
        Self { head: head.trim_end_matches(':').to_owned(), body: plain(&body.into()) }
    }
}

impl Brief {
    /// The briefing on one site.
    #[must_use]
    pub fn of(inputs: &BriefInputs<'_>) -> Self {
        let (plan, site) = (inputs.plan, inputs.site);
        let event = &plan.event;
        let posts: Vec<PostLine> = site
            .posts
            .iter()
            .enumerate()
            .map(|(index, post)| PostLine {
                number: index + 1,
                name: plain(&post.post),
                at: post.at,
                must: post.must,
                outcome: post.outcome,
                sentence: sentences::post(plan, post),
                advice: advice::post(inputs, index, post),
                slip: Slip::of(inputs, post),
            })
            .collect();
        Self {
            event: plain(&event.name),
            agency: event.agency.as_deref().map(plain),
            date: event.starts.strftime("%A %-d %B %Y").to_string(),
            site: chosen(inputs),
            headline: sentences::headline(&site.posts),
            times: times::times(inputs),
            contacts: contacts::lines(plan),
            posts,
            areas: site.areas.iter().map(|area| sentences::area(inputs, area)).collect(),
            routes: site
                .routes
                .iter()
                .zip(inputs.courses)
                .map(|(route, course)| sentences::route(inputs, route, course))
                .collect(),
            silence: advice::silence(inputs),
            care: cautions(plan, Output::Liaison).into_iter().map(Caution::said).collect(),
            missing: words::heading_for_all(plan.houses()),
            caveats: words::foot(plan.houses()).iter().map(|c| (*c).to_owned()).collect(),
            crew: crew::sections(inputs),
            carrying: carrying::carrying(inputs),
            made: crew::made(inputs)
                .into_iter()
                .chain(words::heading(plan.houses()).map(str::to_owned))
                .collect(),
        }
    }
}

/// Where the relay stands and how that was decided.
fn chosen(inputs: &BriefInputs<'_>) -> String {
    let site = plain(&inputs.site.site);
    let relay = match inputs.ranking {
        Some(ranking) if ranking.sites.len() > 1 => {
            format!("The relay stands on {site}, the best of {} places.", ranking.sites.len())
        }
        _ => format!("The relay stands on {site}."),
    };
    // Why it stands there is the crew's.
    let digipeaters = inputs.digipeaters.iter().map(digipeater);
    std::iter::once(relay).chain(digipeaters).collect::<Vec<_>>().join(" ")
}

/// Where a digipeater stands.
fn digipeater(digipeater: &DigipeaterSite) -> String {
    match digipeater.why {
        WhyThere::BesideTheRelay => "The digipeater stands beside it.".to_owned(),
        WhyThere::Plan | WhyThere::Best { .. } | WhyThere::ApartFromTheRelay { .. } => {
            format!("The digipeater stands on {}.", plain(&digipeater.site))
        }
    }
}

/// A text out of a plan in one line, without marks that turn the direction of
/// what follows and without control characters, for readers that obey them.
#[must_use]
pub(super) fn plain(text: &str) -> String {
    // The last two are no characters at all, and no XML may hold them.
    let banned = |c: char| super::typeface::turns(c) || matches!(c, '\u{fffe}' | '\u{ffff}');
    let harmless = text.chars().filter(|c| !banned(*c));
    let spaced: String = harmless.map(|c| if c.is_control() { ' ' } else { c }).collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A text with its first letter small, for the middle of a sentence; one that
/// begins with several capitals is left.
pub(super) fn lower(text: &str) -> String {
    let mut letters = text.chars();
    match (letters.next(), letters.next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            first.to_lowercase().chain(std::iter::once(second)).chain(letters).collect()
        }
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_turn_the_text_around() {
        assert_eq!(plain("Aid\u{202e}3 \u{200f}x\u{2066}\n\tB\u{7}"), "Aid3 x B");
        assert_eq!(plain("<b>Łódź 渡口</b>"), "<b>Łódź 渡口</b>");
    }
}
