//! Where the digipeater of a packet channel stands beside a relay that has its site.

use std::sync::atomic::AtomicBool;

use serde::Serialize;

use super::Assessment;
use perchline_plan::{Channel, Site, Traffic};
use perchline_power::kit::settled_site;
use perchline_power::sharing::{kept_together, worst_on_one_roof};
use perchline_siting::trackers::digipeater_traffic;
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
    /// How busy each of the plan's stations is as expected, where that differs from the
    /// poor case: a digipeater whose traffic is counted and whose site is settled hears
    /// its trackers by the probabilities of their routes.
    pub(super) fn expected_traffic(&self) -> Vec<Option<Traffic>> {
        let plan = &self.plan;
        let mut expected = vec![None; plan.power.stations.len()];
        for (index, channel) in plan.channels.iter().enumerate() {
            let stations = plan.power.stations.iter().enumerate();
            let on: Vec<_> = stations.filter(|(_, station)| station.channel == index).collect();
            let sites: Vec<_> = on.iter().map(|(_, s)| settled_site(plan, s)).collect();
            let counted = |place: usize| on.get(place).is_some_and(|(_, s)| s.traffic.is_counted);
            if !sites.iter().enumerate().any(|(place, site)| site.is_some() && counted(place)) {
                continue;
            }
            let stop = AtomicBool::new(false);
            let heard = digipeater_traffic(&self.tracker_inputs(&stop), channel, &sites);
            // Where nothing can be told of a site all is heard, as in the poor case.
            let Ok(heard) = heard else { continue };
            for ((place, station), traffic) in on.iter().zip(heard) {
                if let Some(expected) =
                    expected.get_mut(*place).filter(|_| station.traffic.is_counted)
                {
                    *expected = Some(traffic);
                }
            }
        }
        expected
    }

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
        let sites = || order.sites.iter().filter(|site| site.may_be_used());
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
