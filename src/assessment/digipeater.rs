//! Where the digipeater of a packet channel stands beside a relay that has its site.

use serde::Serialize;

use super::Assessment;
use perchline_plan::{Channel, Site};
use perchline_power::kit::settled_site;
use perchline_power::sharing::{kept_together, worst_on_one_roof};
use perchline_siting::{RankError, RankInputs};

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
    /// The site on which the plan puts the station of `channel`, if it does.
    pub(super) fn settled(&self, channel: &Channel) -> Option<&Site> {
        let stations = &self.plan.power.stations;
        let station = stations.iter().find(|s| self.plan.is_channel(s.channel, channel))?;
        settled_site(&self.plan, station)
    }

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
        if kept_together(plan, [channel, relay]) {
            return Ok(Some(found(relay_site, WhyThere::BesideTheRelay)));
        }
        if let Some(site) = self.settled(channel) {
            return Ok(Some(found(&site.name, WhyThere::Plan)));
        }
        let order = self.order(inputs, channel)?;
        let sites = || order.sites.iter().filter(|site| site.available);
        let of = order.sites.len();
        let place = plan.sites.iter().position(|known| known.name == relay_site);
        let disturbed =
            place.and_then(|site| worst_on_one_roof(plan, [relay, channel], site)).is_some();
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
