//! Whether relays hear each other from roof to roof.

use std::sync::atomic::Ordering;

use ndarray::Array2;
use rayon::prelude::*;
use serde::Serialize;

use super::matrix::Inputs;
use crate::direct::LinkGraph;
use crate::rank::{RankError, budgets_between};
use perchline_link::{LinkModel, Outcome, Terminal, frequencies};
use perchline_plan::{Channel, ChooseInputs, Plan, RelayLink, Service, Site};
use perchline_power::mast::may_stand;
use perchline_units::{Db, Megahertz, Metres};

/// Two sites, mast to mast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteLink {
    /// One site.
    pub from: String,
    /// The other.
    pub to: String,
    /// Frequencies of both directions: of the link's own radios one.
    pub frequencies_mhz: [Megahertz; 2],
    /// Ground distance.
    pub distance_m: Metres,
    /// What it comes to, both ways counted.
    pub outcome: Outcome,
    /// The lower of the two margins; nothing where terrain is missing on the way.
    pub governing_margin_db: Option<Db>,
}

/// By how much the radio of the link and the relay on the same roof desense each other.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LinkDesense {
    /// The link's receiver by the relay's transmitter.
    pub link_db: Db,
    /// The relay's receiver by the link's transmitter.
    pub relay_db: Db,
}

/// How words get from one relay of the set to that of net control: a chain is as good
/// as the weakest of its links.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RelayChain {
    /// The relay's site.
    pub from: String,
    /// Sites of the relays in between, nearest to it first.
    pub through: Vec<String>,
    /// Site of the relay that net control uses.
    pub to: String,
    /// The margin of the weakest link.
    pub weakest_db: Option<Db>,
}

/// How words would get to the relay on one site from another on each of the others,
/// where the plan links its relays.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LinkedSites {
    /// The relay's channel.
    pub channel: String,
    /// The site whose relay they get to.
    pub to: String,
    /// Chains of links that work, in the plan's order of the sites they begin at.
    pub chains: Vec<RelayChain>,
    /// Sites that may be used and have no such chain.
    pub without: Vec<String>,
}

impl LinkedSites {
    /// Of the sites of `plan` that may be used, over `links`, to the site `to`.
    #[must_use]
    pub fn of(plan: &Plan, channel: &Channel, links: &[SiteLink], to: &str) -> Self {
        let may = |site: &Site| may_stand(plan, channel, site) || site.name == to;
        let usable = plan.sites.iter().filter(|site| may(site));
        let sites: Vec<String> = usable.map(|site| site.name.clone()).collect();
        let chains = relay_chains(links, &sites, to);
        let reaches = |site: &String| site == to || chains.iter().any(|c| c.from == *site);
        let without = sites.iter().filter(|site| !reaches(site)).cloned().collect();
        Self { channel: channel.name.clone(), to: to.to_owned(), chains, without }
    }
}

/// Every two sites that may be used, mast to mast, by the radios with which the plan
/// links the relays of `channel`: the links among which [`choose`](super::choose)
/// chooses.
///
/// # Errors
/// [`RankError`] when a site does not fit the terrain, or the run was stopped.
pub fn links_of_plan(inputs: &Inputs<'_>, channel: &Channel) -> Result<Vec<SiteLink>, RankError> {
    Ok(site_links(inputs, channel, link_of(&inputs.plan.choose).copied())?.0)
}

/// The radios of the link, where the relays are to be linked by such.
pub(super) fn link_of(asked: &ChooseInputs) -> Option<&RelayLink> {
    asked.link.as_ref().filter(|_| asked.linked)
}

/// The chain from each of `sites` to that of `control` over links that work; a site
/// without one has none.
pub(super) fn relay_chains(links: &[SiteLink], sites: &[String], control: &str) -> Vec<RelayChain> {
    let place = |name: &str| sites.iter().position(|site| site == name);
    let Some(to) = place(control) else { return Vec::new() };
    let working = links
        .iter()
        .filter(|link| link.outcome.works())
        .filter_map(|link| Some((place(&link.from)?, place(&link.to)?, link.governing_margin_db?)));
    let chains = LinkGraph::new(sites.len(), working).chains(to);
    let named = |place: &usize| sites.get(*place).cloned();
    chains
        .into_iter()
        .flatten()
        .filter(|chain| chain.links() > 0)
        .filter_map(|chain| match chain.places.as_slice() {
            [from, through @ .., to] => Some(RelayChain {
                from: named(from)?,
                through: through.iter().filter_map(named).collect(),
                to: named(to)?,
                weakest_db: chain.weakest,
            }),
            _ => None,
        })
        .collect()
}

/// What runs from roof to roof: the plan's own radios for that on their frequency, or
/// the relays of `channel` on theirs.
fn between(link: Option<RelayLink>, channel: &Channel) -> Channel {
    let Some(link) = link else { return channel.clone() };
    let RelayLink { radio: station, frequency, .. } = link;
    let service = Service::Relay { input: frequency, output: frequency, station };
    Channel { service, ..channel.clone() }
}

/// Every two sites that may be used, and whether they hear each other as the
/// plan demands: the radios of the link on both masts, or the station of `channel`
/// on its frequencies.
pub(super) fn site_links(
    inputs: &Inputs<'_>,
    channel: &Channel,
    link: Option<RelayLink>,
) -> Result<(Vec<SiteLink>, Array2<bool>), RankError> {
    let sites = &inputs.plan.sites;
    let channel = &between(link, channel);
    let stations = sites
        .iter()
        .map(|site| Terminal::at_site(inputs.plan, channel, site, inputs.terrain))
        .collect::<Result<Vec<_>, _>>()?;
    let pairs: Vec<(usize, usize)> = (0..sites.len())
        .flat_map(|a| (a + 1..sites.len()).map(move |b| (a, b)))
        .filter(|(a, b)| [a, b].iter().all(|s| sites.get(**s).is_some_and(|s| s.available)))
        .collect();
    let links = pairs
        .par_iter()
        .filter_map(|(a, b)| Some((stations.get(*a)?, stations.get(*b)?)))
        .map(|(a, b)| {
            if inputs.stop.load(Ordering::Relaxed) {
                return Err(RankError::Stopped);
            }
            site_link(inputs, channel, a, b)
        })
        .collect::<Result<Vec<_>, _>>()?;
    let mut linked = Array2::from_elem((sites.len(), sites.len()), false);
    for ((a, b), link) in pairs.iter().zip(&links) {
        for place in [(*a, *b), (*b, *a)] {
            if let Some(cell) = linked.get_mut(place) {
                *cell = link.outcome.works();
            }
        }
    }
    Ok((links, linked))
}

fn site_link(
    inputs: &Inputs<'_>,
    channel: &Channel,
    from: &Terminal,
    to: &Terminal,
) -> Result<SiteLink, RankError> {
    let model = LinkModel::new(inputs.plan, channel, from, to);
    let budgets = budgets_between(inputs.terrain, inputs.propagator, &model, channel, "site")?;
    Ok(SiteLink {
        from: from.name.clone(),
        to: to.name.clone(),
        frequencies_mhz: {
            let (there, back) = frequencies(&channel.service);
            [there, back]
        },
        distance_m: from.at.distance(to.at),
        outcome: budgets.as_ref().map_or(Outcome::Unknown, |b| b.outcome),
        governing_margin_db: budgets.as_ref().map(|b| b.governing_budget().margin_db),
    })
}
