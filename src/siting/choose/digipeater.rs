//! Where the packet digipeater goes once the relays have their sites.

use serde::Serialize;

use super::matrix::{Inputs, Matrix};
use super::problem::{Problem, Set};
use crate::RankError;
use crate::demand::Demand;
use crate::trackers::tracker_study;
use perchline_plan::{Channel, Plan, Service, Stands};
use perchline_power::mast::may_stand;
use perchline_power::sharing::on_one_roof;

/// Where the digipeater goes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DigipeaterChoice {
    /// Its channel.
    pub channel: String,
    /// What its sites are compared by.
    pub measure: Measure,
    /// Its site; nothing if every one is refused.
    pub site: Option<DigipeaterSite>,
    /// Whether the plan fixes the site, so that nothing was chosen.
    pub fixed: bool,
    /// Sites that would be better but are refused, best first.
    pub refused: Vec<Refused>,
    /// The best set of relay sites that leaves the digipeater one, if the best
    /// of all does not.
    pub room: Option<Room>,
}

/// Relay sites that leave the digipeater a site.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Room {
    /// The relays' sites.
    pub set: super::SetScore,
    /// The digipeater's.
    pub site: DigipeaterSite,
}

/// What a digipeater's sites are compared by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measure {
    /// Share of all trackers' beacons that get through.
    BeaconsThrough,
    /// Weighted coverage over posts, areas and routes.
    WeightedProbability,
}

/// A site for the digipeater.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DigipeaterSite {
    /// The site.
    pub site: String,
    /// How good it is by the [`Measure`], 0 to 1.
    pub share: f64,
    /// Whether a relay stands on it too.
    pub shares_roof: bool,
}

/// A site that is refused.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Refused {
    /// The site.
    pub site: String,
    /// How good it would be by the [`Measure`], 0 to 1.
    pub share: f64,
    /// Why it is refused.
    pub why: Refusal,
}

/// Why a site is refused to the digipeater.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Refusal {
    /// A relay stands there and one of the two would be desensed more than is accepted.
    Desensed {
        /// The station that transmits.
        from: String,
        /// The station that is desensed.
        to: String,
        /// By how much.
        desense_db: perchline_units::Db,
    },
    /// A relay stands there and the plan has no station for one of the two, so
    /// nobody can say what they do to each other.
    NotJudged,
    /// No relay stands there, and the plan puts the digipeater beside a relay.
    Apart,
    /// With it the set would no longer stay under a limit.
    OverLimit,
}

/// The sites for the digipeater of a channel, the best first.
pub(super) struct Digipeaters<'a> {
    plan: &'a Plan,
    channel: &'a Channel,
    measure: Measure,
    order: Vec<(usize, f64)>,
    fixed: bool,
}

impl<'a> Digipeaters<'a> {
    /// Compares the sites that may be used, or takes the one that the plan
    /// fixes.
    pub(super) fn of(
        inputs: &Inputs<'a>,
        demand: &Demand,
        channel: &'a Channel,
    ) -> Result<Self, RankError> {
        let plan = inputs.plan;
        let (measure, mut order) = shares(inputs, demand, channel)?;
        let fixed = match stands(plan, channel) {
            Some(Stands::On(site)) => Some(site),
            _ => None,
        };
        let may = |site: usize| plan.sites.get(site).is_some_and(|s| may_stand(plan, channel, s));
        order.retain(|(site, _)| may(*site) && fixed.is_none_or(|fixed| fixed == *site));
        order.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        Ok(Self { plan, channel, measure, order, fixed: fixed.is_some() })
    }

    /// The best site for it beside relays, each the place of its site and its channel.
    pub(super) fn beside(
        &self,
        problem: &Problem,
        relays: &[(usize, &Channel)],
    ) -> DigipeaterChoice {
        let name =
            |site: usize| self.plan.sites.get(site).map_or_else(String::new, |s| s.name.clone());
        let (mut refused, mut chosen) = (Vec::new(), None);
        for (site, share) in &self.order {
            match refusal(self.plan, problem, relays, self.channel, *site) {
                Some(why) => refused.push(Refused { site: name(*site), share: *share, why }),
                None => {
                    let shares_roof = relays.iter().any(|(relay, _)| relay == site);
                    chosen = Some(DigipeaterSite { site: name(*site), share: *share, shares_roof });
                    break;
                }
            }
        }
        DigipeaterChoice {
            channel: self.channel.name.clone(),
            measure: self.measure,
            site: chosen,
            fixed: self.fixed,
            refused,
            room: None,
        }
    }
}

/// How good each site is.
fn shares(
    inputs: &Inputs<'_>,
    demand: &Demand,
    channel: &Channel,
) -> Result<(Measure, Vec<(usize, f64)>), RankError> {
    let plan = inputs.plan;
    if plan.trackers_on(channel).next().is_some() {
        // What one more digipeater brings where there is none.
        let study = tracker_study(&inputs.siting(), channel, &[])?;
        let place = |name: &str| plan.sites.iter().position(|site| site.name == name);
        let shares = study.one_more.iter().filter_map(|one| Some((place(&one.site)?, one.gain)));
        return Ok((Measure::BeaconsThrough, shares.collect()));
    }
    let matrix = Matrix::of(inputs, channel, demand)?;
    let alone = Problem::new(matrix.chances(), demand.weights(), 1);
    let shares = (0..alone.candidates()).map(|site| (site, alone.value(&[site])));
    Ok((Measure::WeightedProbability, shares.collect()))
}

/// Why the digipeater can't have this site, if it can't.
fn refusal(
    plan: &Plan,
    problem: &Problem,
    relays: &[(usize, &Channel)],
    channel: &Channel,
    site: usize,
) -> Option<Refusal> {
    let there = relays.iter().find(|(relay, _)| *relay == site);
    // The plan wants the two together: with a relay, and `cosite` tells what comes of it.
    if matches!(stands(plan, channel), Some(Stands::Beside(_))) {
        return there.is_none().then_some(Refusal::Apart);
    }
    let Some((_, relay)) = there else {
        let with: Set = relays.iter().map(|(relay, _)| *relay).chain([site]).collect();
        let over = problem.caps.iter().any(|cap| cap.sum(&with) > cap.most + 1e-9);
        return over.then_some(Refusal::OverLimit);
    };
    let Some(pairs) = on_one_roof(plan, [relay, channel], site) else {
        return Some(Refusal::NotJudged);
    };
    pairs.into_iter().find(|pair| pair.is_too_much()).map(|pair| Refusal::Desensed {
        from: pair.from,
        to: pair.to,
        desense_db: pair.desense_db,
    })
}

/// Where the plan puts the station of a channel.
fn stands(plan: &Plan, channel: &Channel) -> Option<Stands> {
    plan.power.stations.iter().find(|s| plan.is_channel(s.channel, channel)).map(|s| s.stands)
}

/// The packet channel that wants a digipeater: the plan's first.
pub(super) fn packet_channel(plan: &Plan) -> Option<&Channel> {
    plan.channels.iter().find(|channel| matches!(channel.service, Service::Packet { .. }))
}
