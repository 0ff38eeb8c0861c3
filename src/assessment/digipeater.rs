//! Where the digipeater of a packet channel stands beside a relay that has its site.

use serde::Serialize;

use super::Assessment;
use perchline_plan::{Channel, Plan, Stands};
use perchline_power::sharing::on_one_roof;
use perchline_siting::{Keep, RankError, RankInputs};

/// The site of a digipeater.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DigipeaterSite {
    /// Its channel.
    pub channel: String,
    /// The site.
    pub site: String,
    /// How that was decided.
    pub why: WhyThere,
}

/// Why a digipeater stands where it does.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WhyThere {
    /// The plan says so.
    Plan,
    /// The plan puts it beside the relay.
    BesideTheRelay,
    /// It is the best of the sites that may be used.
    Best {
        /// Of so many sites.
        of: usize,
    },
    /// It is the best of those on which it and the relay do not disturb each other.
    ApartFromTheRelay {
        /// Of so many sites.
        of: usize,
    },
}

impl Assessment {
    /// Where the digipeater of `channel` stands while the relay of `relay` stands on
    /// the site of this name: where the plan puts it, else on the best site of its
    /// ranking, but on none where the two disturb each other more than is accepted.
    /// Nothing where no site is left.
    ///
    /// # Errors
    /// [`RankError`] as for [`Assessment::ranking`].
    pub fn digipeater_site(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        relay: &Channel,
        relay_site: &str,
    ) -> Result<Option<DigipeaterSite>, RankError> {
        let plan = &self.plan;
        let found = |site: &str, why| DigipeaterSite {
            channel: channel.name.clone(),
            site: site.to_owned(),
            why,
        };
        match stands(plan, channel, relay) {
            Planned::On(site) => return Ok(Some(found(&site, WhyThere::Plan))),
            Planned::BesideTheRelay => {
                return Ok(Some(found(relay_site, WhyThere::BesideTheRelay)));
            }
            Planned::Open => {}
        }
        let ranked = self.ranking(inputs, channel, Keep::None)?;
        let sites = || ranked.ranking.sites.iter().filter(|site| site.available);
        let of = ranked.ranking.sites.len();
        let disturbed = is_disturbed(plan, [relay, channel], relay_site);
        let free = |site: &str| site != relay_site || !disturbed;
        let best = sites().next().filter(|best| free(&best.site));
        let best = best.map(|best| found(&best.site, WhyThere::Best { of }));
        let apart = || {
            let apart = sites().find(|site| free(&site.site))?;
            Some(found(&apart.site, WhyThere::ApartFromTheRelay { of }))
        };
        Ok(best.or_else(apart))
    }
}

/// Where a plan puts a digipeater.
enum Planned {
    On(String),
    BesideTheRelay,
    Open,
}

fn stands(plan: &Plan, channel: &Channel, relay: &Channel) -> Planned {
    let stations = &plan.power.stations;
    let of = |channel: &Channel| stations.iter().position(|s| plan.is_channel(s.channel, channel));
    let Some(station) = of(channel) else { return Planned::Open };
    let root = |index: usize| match stations.get(index).map(|station| station.stands) {
        Some(Stands::Beside(other)) => other,
        _ => index,
    };
    if of(relay).is_some_and(|relay| root(relay) == root(station)) {
        return Planned::BesideTheRelay;
    }
    match stations.get(root(station)).map(|station| station.stands) {
        Some(Stands::On(site)) => {
            plan.sites.get(site).map_or(Planned::Open, |site| Planned::On(site.name.clone()))
        }
        _ => Planned::Open,
    }
}

/// Whether the stations of two channels disturb each other on this site more than is
/// accepted.
fn is_disturbed(plan: &Plan, channels: [&Channel; 2], site: &str) -> bool {
    let place = plan.sites.iter().position(|known| known.name == site);
    let pairs = place.and_then(|site| on_one_roof(plan, channels, site)).unwrap_or_default();
    pairs.iter().any(|pair| pair.missing_db.is_some() || pair.overloaded)
}
