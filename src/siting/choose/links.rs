//! Whether relays hear each other from roof to roof.

use std::sync::atomic::Ordering;

use ndarray::Array2;
use rayon::prelude::*;
use serde::Serialize;

use super::matrix::Inputs;
use crate::rank::{RankError, budgets_between};
use perchline_link::{LinkModel, Outcome, Terminal};
use perchline_plan::Channel;
use perchline_units::{Db, Metres};

/// Two sites, mast to mast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteLink {
    /// One site.
    pub from: String,
    /// The other.
    pub to: String,
    /// Ground distance.
    pub distance_m: Metres,
    /// What it comes to, both ways counted.
    pub outcome: Outcome,
    /// The lower of the two margins; nothing where terrain is missing on the way.
    pub governing_margin_db: Option<Db>,
}

/// Every two sites that may be used, and whether they hear each other as the
/// plan demands: the station of `channel` on both masts, on its frequencies.
pub(super) fn site_links(
    inputs: &Inputs<'_>,
    channel: &Channel,
) -> Result<(Vec<SiteLink>, Array2<bool>), RankError> {
    let sites = &inputs.plan.sites;
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
        distance_m: from.at.distance(to.at),
        outcome: budgets.as_ref().map_or(Outcome::Unknown, |b| b.outcome),
        governing_margin_db: budgets.as_ref().map(|b| b.governing_budget().margin_db),
    })
}
