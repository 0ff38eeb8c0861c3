//! What a plan comes to: computed when it is first asked for, once, and then read
//! by whatever tells of it.

use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use serde::Serialize;

use super::Assessment;
use super::studies::Studies;
use perchline_coverage::Coverage;
use perchline_plan::{Channel, Plan, Remark, Service, Site, Station, Traffic};
use perchline_power::exposure::{StationExposure, exposures};
use perchline_power::kit::{StationKit, settled_site, station_kits};
use perchline_power::mast::{WindLoad, wind_loads};
use perchline_power::place::{SitePlace, site_place};
use perchline_power::products::{
    ChannelChange, Emitter, Hit, Listener, emitters, harmonics, listeners, products,
    smallest_change,
};
use perchline_power::sharing::{
    DuplexerNeed, Interference, Roofmates, duplexer_needs, kept_together, roofs, worst_on_one_roof,
};
use perchline_power::{
    CrewNeeds, PowerError, StationBudget, after, each_station_budget, gaps, needs_of_each_crew,
    without_temperature,
};
use perchline_siting::demand::Demand;
use perchline_siting::{
    RankError, RankInputs, Ranking, RouteCourse, SiteScore, look_elsewhere, score,
};
use perchline_units::Db;

/// Results that were computed.
#[derive(Default)]
pub(super) struct Results {
    demand: OnceLock<Demand>,
    courses: OnceLock<Vec<RouteCourse>>,
    energy: OnceLock<Energy>,
    cosite: OnceLock<CositeFindings>,
    /// The last map of a site: channel and site by their names.
    map: Mutex<Option<(String, String, Arc<SiteMap>)>>,
    pub(super) studies: Studies,
}

/// What the plan's stations and crews draw, as far as it can be worked out.
#[derive(Debug, Clone)]
pub struct Energy {
    /// Budgets of the stations that can be worked out, in the plan's order.
    pub stations: Vec<StationBudget>,
    /// Needs of the crews that can be worked out, in the plan's order.
    pub crews: Vec<CrewNeeds>,
    /// Why others have none: stations first, then crews.
    pub lacking: Vec<PowerError>,
    /// What goes up to each station, by person and by trip.
    pub kits: Vec<StationKit>,
    /// What the forecast does not cover of all that leans on it.
    pub gaps: Vec<Remark>,
}

impl Energy {
    fn of(plan: &Plan, expected: &[Option<Traffic>]) -> Self {
        let mut lacking = Vec::new();
        let stations = kept(each_station_budget(plan, expected), &mut lacking);
        let crews = kept(needs_of_each_crew(plan), &mut lacking);
        Self { stations, crews, lacking, kits: station_kits(plan), gaps: forecast_gaps(plan) }
    }

    /// Whether there is neither a budget nor a need.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.stations.is_empty() && self.crews.is_empty()
    }

    /// Stations and crews of whose packs nobody knows whether they last.
    #[must_use]
    pub fn not_known(&self) -> Vec<&str> {
        self.lacking.iter().filter_map(PowerError::name).collect()
    }

    /// How many of them are stations.
    #[must_use]
    pub fn stations_not_known(&self) -> usize {
        self.lacking.iter().filter(|error| error.is_of_a_station()).count()
    }

    /// Remarks for what stands without these results too: gaps of the forecast,
    /// and why budgets are missing.
    #[must_use]
    pub fn remarks(&self) -> Vec<Remark> {
        self.gaps.iter().cloned().chain(self.lacking.iter().map(lacking)).collect()
    }
}

/// Those that could be worked out; why the others could not goes to `lacking`.
fn kept<T>(each: Vec<Result<T, PowerError>>, lacking: &mut Vec<PowerError>) -> Vec<T> {
    each.into_iter().filter_map(|one| one.map_err(|error| lacking.push(error)).ok()).collect()
}

/// Why there is no budget.
fn lacking(error: &PowerError) -> Remark {
    Remark { about: "power".to_owned(), text: error.to_string() }
}

/// What a plan with stations or crews lacks for their power budgets: gaps of the
/// forecast, and why there are no budgets. Nothing is worked out for it but these.
#[must_use]
pub fn power_lacks(plan: &Plan) -> Vec<Remark> {
    forecast_gaps(plan).into_iter().chain(without_temperature(plan).iter().map(lacking)).collect()
}

/// What shares a roof and the air.
#[derive(Debug, Serialize)]
pub struct CositeFindings {
    /// Stations that share a roof.
    pub roofs: Vec<Roofmates>,
    /// What each relay needs of its duplexer.
    pub duplexers: Vec<DuplexerNeed>,
    /// Who transmits.
    pub emitters: Vec<Emitter>,
    /// Who receives.
    pub listeners: Vec<Listener>,
    /// Intermodulation products that fall into a channel.
    pub products: Vec<Hit>,
    /// Harmonics that fall into a channel.
    pub harmonics: Vec<Hit>,
    /// The smallest change of one channel that clears them.
    pub change: Option<ChannelChange>,
    /// Distances to keep from antennas.
    pub exposure: Vec<StationExposure>,
    /// Wind on masts.
    pub masts: Vec<WindLoad>,
}

impl CositeFindings {
    fn of(plan: &Plan) -> Self {
        let (emitters, listeners) = (emitters(plan), listeners(plan));
        Self {
            roofs: roofs(plan),
            duplexers: duplexer_needs(plan),
            products: products(&emitters, &listeners),
            harmonics: harmonics(&emitters, &listeners),
            change: smallest_change(plan),
            exposure: exposures(plan),
            masts: wind_loads(plan),
            emitters,
            listeners,
        }
    }
}

/// Another site for a station.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reserve {
    /// The best that is open from switching on to tear-down.
    pub next: Option<String>,
    /// Better ones that are not, best first.
    pub closed: Vec<String>,
}

/// How a site does, with its map.
#[derive(Debug, Clone)]
pub struct SiteMap {
    /// Its score.
    pub score: SiteScore,
    /// Its coverage.
    pub coverage: Coverage,
}

/// Two channels whose rankings begin with the same site, where their stations
/// disturb each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoofConflict {
    /// The site.
    pub site: String,
    /// The station that transmits.
    pub from: String,
    /// The station that it desenses.
    pub to: String,
    /// By how much; more where its front end is overloaded.
    pub desense_db: Db,
    /// Whether the front end is overloaded.
    pub overloaded: bool,
    /// The channel that has another site to go to.
    pub channel: String,
    /// Whether the plan keeps the two beside each other, whatever the site.
    pub kept_together: bool,
    /// The best site for it on which that does not happen; nothing if there is
    /// none, or the two are kept together.
    pub instead: Option<String>,
}

impl Assessment {
    /// What is to be served, by which weight, and the points that stand for it.
    #[must_use]
    pub fn demand(&self) -> &Demand {
        self.results.demand.get_or_init(|| Demand::of(&self.plan, &self.terrain))
    }

    /// The plan's routes on their ground, in the plan's order.
    #[must_use]
    pub fn courses(&self) -> &[RouteCourse] {
        let course = || RouteCourse::all(&self.plan, &self.terrain, self.demand());
        self.results.courses.get_or_init(course)
    }

    /// What stations and crews draw.
    #[must_use]
    pub fn energy(&self) -> &Energy {
        self.results.energy.get_or_init(|| Energy::of(&self.plan, &self.expected_traffic()))
    }

    /// A site as a place where people work, with the station of `channel` on it: its
    /// hours against the station's, its edge, lines near by, what its roof bears.
    #[must_use]
    pub fn site_place(&self, channel: &Channel, site: &Site) -> SitePlace {
        let stations = &self.plan.power.stations;
        let station = stations.iter().find(|s| self.plan.is_channel(s.channel, channel));
        let budget = station
            .and_then(|station| self.energy().stations.iter().find(|b| b.station == station.name));
        site_place(&self.plan, (&channel.name, station), site, budget)
    }

    /// The same of every station that the plan puts on a site, in its order.
    #[must_use]
    pub fn settled_places(&self) -> Vec<SitePlace> {
        let plan = &self.plan;
        let stations = plan.power.stations.iter();
        let of = |station: &Station| {
            Some((plan.channels.get(station.channel)?, settled_site(plan, station)?))
        };
        stations.filter_map(of).map(|(channel, site)| self.site_place(channel, site)).collect()
    }

    /// What shares a roof and the air.
    #[must_use]
    pub fn cosite(&self) -> &CositeFindings {
        self.results.cosite.get_or_init(|| CositeFindings::of(&self.plan))
    }

    /// What one site comes to on `channel`, with its coverage on the cells of
    /// `inputs`, and which other sites would serve the posts that it does not.
    /// The last one is kept.
    ///
    /// # Errors
    /// [`RankError`] when the site or a post does not fit the terrain, or the
    /// run was stopped.
    pub fn site_map(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        site: &Site,
    ) -> Result<Arc<SiteMap>, RankError> {
        let mut last = self.results.map.lock().unwrap_or_else(PoisonError::into_inner);
        let known = last.as_ref().filter(|(on, of, map)| {
            *on == channel.name && *of == site.name && map.coverage.grid == *inputs.grid
        });
        if let Some((.., map)) = known {
            return Ok(Arc::clone(map));
        }
        let (mut score, coverage) = score(inputs, channel, site)?;
        look_elsewhere(inputs, channel, &mut score)?;
        let map = Arc::new(SiteMap { score, coverage });
        *last = Some((channel.name.clone(), site.name.clone(), Arc::clone(&map)));
        Ok(map)
    }

    /// The best site of a ranking beside this one that may be used and that somebody
    /// gets up to until tear-down, and the better ones that are closed by then.
    #[must_use]
    pub fn reserve(&self, ranking: &Ranking, channel: &Channel, site: &str) -> Reserve {
        let mut reserve = Reserve::default();
        for score in ranking.sites.iter().filter(|s| s.may_be_used() && s.site != site) {
            let known = self.plan.sites.iter().find(|known| known.name == score.site);
            let Some(known) = known else { continue };
            if self.site_place(channel, known).access.open_throughout() {
                reserve.next = Some(score.site.clone());
                break;
            }
            reserve.closed.push(score.site.clone());
        }
        reserve
    }

    /// Where rankings of several channels begin with the same site, and what the
    /// stations do to each other there is more than is accepted.
    #[must_use]
    pub fn roof_conflicts(&self, rankings: &[&Ranking]) -> Vec<RoofConflict> {
        let plan = &self.plan;
        let channel = |ranking: &Ranking| plan.channels.iter().find(|c| c.name == ranking.channel);
        let is_relay = |c: &Channel| matches!(c.service, Service::Relay { .. });
        let mut conflicts = Vec::new();
        for (place, one) in rankings.iter().enumerate() {
            for other in rankings.iter().skip(place + 1) {
                let (Some(a), Some(b)) = (channel(one), channel(other)) else { continue };
                // The relay keeps the best site; of two relays the first.
                let (stays, goes, ranking) =
                    if is_relay(b) && !is_relay(a) { (b, a, one) } else { (a, b, other) };
                conflicts.extend(self.conflict([one, other], [stays, goes], ranking));
            }
        }
        conflicts
    }

    /// What keeps the station of `channel` off a site: a relay that has it, or a station
    /// of the same kind whose channel comes first, and the two disturb each other there.
    /// Told of one site as [`Assessment::roof_conflicts`] tells it of the best.
    ///
    /// # Errors
    /// [`RankError`] as for [`Assessment::ranking`].
    pub fn conflict_on(
        &self,
        channel: &Channel,
        site: &Site,
    ) -> Result<Option<RoofConflict>, RankError> {
        let plan = &self.plan;
        let never = AtomicBool::new(false);
        let inputs = &self.rank_inputs(self.terrain.grid(), &|| (), &never);
        let Some(place) = plan.sites.iter().position(|known| known.name == site.name) else {
            return Ok(None);
        };
        let is_relay = |c: &Channel| matches!(c.service, Service::Relay { .. });
        let before = plan.channels.iter().take_while(|c| c.name != channel.name).count();
        let stays = |(index, other): &(usize, &Channel)| {
            let (other, own) = (is_relay(other), is_relay(channel));
            (other && !own) || (other == own && *index < before)
        };
        let others = plan.channels.iter().enumerate().filter(|(_, c)| c.has_station());
        for (_, other) in others.filter(stays) {
            let both = [other, channel];
            // What the plan itself puts on one roof is in every margin already.
            let is_here = |c: &Channel| self.settled(c).is_some_and(|s| s.name == site.name);
            if kept_together(plan, both) || (is_here(other) && is_here(channel)) {
                continue;
            }
            let Some(pair) = worst_on_one_roof(plan, both, place) else { continue };
            let has_it = match self.settled(other) {
                Some(settled) => settled.name == site.name,
                None => {
                    let order = self.order(inputs, other)?;
                    order.sites.first().is_some_and(|best| best.site == site.name)
                }
            };
            if has_it {
                let order = self.order(inputs, channel)?;
                return Ok(Some(moved(plan, both, &site.name, pair, &order)));
            }
        }
        Ok(None)
    }

    /// The same for two channels; `ranking` is of the one that goes elsewhere.
    fn conflict(
        &self,
        both: [&Ranking; 2],
        [stays, goes]: [&Channel; 2],
        ranking: &Ranking,
    ) -> Option<RoofConflict> {
        let plan = &self.plan;
        let place = |name: &str| plan.sites.iter().position(|site| site.name == name);
        let [best, other] = both.map(|r| r.sites.first());
        let (best, other) = (best?, other?);
        if best.site != other.site {
            return None;
        }
        let pair = worst_on_one_roof(plan, [stays, goes], place(&best.site)?)?;
        Some(moved(plan, [stays, goes], &best.site, pair, ranking))
    }
}

/// What two stations do to each other on a site, and where the second goes by its
/// ranking.
fn moved(
    plan: &Plan,
    [stays, goes]: [&Channel; 2],
    site: &str,
    pair: Interference,
    ranking: &Ranking,
) -> RoofConflict {
    let kept_together = kept_together(plan, [stays, goes]);
    // Anywhere but on this roof they stand apart.
    let other = ranking.sites.iter().find(|s| s.site != site && s.may_be_used());
    RoofConflict {
        site: site.to_owned(),
        from: pair.from,
        to: pair.to,
        desense_db: pair.desense_db,
        overloaded: pair.overloaded,
        channel: goes.name.clone(),
        kept_together,
        instead: other.filter(|_| !kept_together).map(|other| other.site.clone()),
    }
}

impl RoofConflict {
    /// The site that a ranking proposes: its first, or, where the station of another
    /// channel keeps it off that one, the next best.
    #[must_use]
    pub fn proposed<'r>(conflicts: &[Self], ranking: &'r Ranking) -> Option<&'r SiteScore> {
        let first = ranking.sites.first()?;
        let conflict = Self::of(conflicts, ranking);
        let instead = conflict.and_then(|conflict| conflict.instead.as_ref());
        let other = instead.and_then(|name| ranking.sites.iter().find(|s| s.site == *name));
        Some(other.unwrap_or(first))
    }

    /// What keeps the station of a ranking off its first site.
    #[must_use]
    pub fn of<'c>(conflicts: &'c [Self], ranking: &Ranking) -> Option<&'c Self> {
        let first = ranking.sites.first()?;
        conflicts.iter().find(|c| c.channel == ranking.channel && c.site == first.site)
    }
}

/// What the forecast does not cover of all that leans on it.
fn forecast_gaps(plan: &Plan) -> Vec<Remark> {
    let Some(forecast) = &plan.power.forecast else { return Vec::new() };
    let stations = plan.power.stations.iter().filter(|s| s.supply.kept_at.is_none());
    let crews = plan.power.crews.iter().filter(|c| c.kept_at.is_none());
    let spans = stations
        .map(|s| (s.on.clone(), s.off.clone()))
        .chain(crews.map(|c| (plan.event.starts.clone(), after(&plan.event.starts, c.shift))));
    let whole = spans.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
    whole.map_or_else(Vec::new, |(from, to)| gaps(forecast, (&from, &to), plan.units))
}
