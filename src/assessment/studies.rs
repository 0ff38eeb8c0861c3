//! What sites come to: rankings, masts, sets of sites, spots, trackers. Each is
//! computed when it is first asked for and then shared by whatever tells of it.

use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex, PoisonError};

use perchline_coverage::Coverage;
use perchline_plan::{Channel, ChooseInputs, Service, Site};
use perchline_siting::choose::{
    Choice, ChooseError, Inputs, LinkedSites, SiteLink, choose, links_of_plan,
};
use perchline_siting::direct::{DirectLinks, DirectNet, Fallback, Held};
use perchline_siting::masts::{MapShares, MastStudy, heights, mast_study};
use perchline_siting::spots::{SpotError, SpotSearch, SpotTask, search};
use perchline_siting::trackers::{TrackerInputs, TrackerStudy, tracker_study};
use perchline_siting::{Keep, RankError, RankInputs, Ranking, map_site, order, rank, rank_by_maps};
use perchline_terrain::Grid;
use perchline_units::Metres;

use super::Assessment;

/// Values by what they were asked for.
pub(super) struct Memo<K, V>(Mutex<Vec<(K, Arc<V>)>>);

impl<K, V> Default for Memo<K, V> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

impl<K: PartialEq, V> Memo<K, V> {
    /// The value for `key`, made if it is the first time. Only one thread at a
    /// time makes values.
    fn get_or<E>(&self, key: K, make: impl FnOnce() -> Result<V, E>) -> Result<Arc<V>, E> {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, value)) = known.iter().find(|(of, _)| *of == key) {
            return Ok(Arc::clone(value));
        }
        let value = Arc::new(make()?);
        known.push((key, Arc::clone(&value)));
        Ok(value)
    }
}

/// The sites of a channel, best first, with the maps that were to be kept.
#[derive(Debug)]
pub struct Ranked {
    /// The ranking.
    pub ranking: Ranking,
    /// Maps of the first sites of it.
    pub coverages: Vec<Coverage>,
}

/// Channel, cell of its maps, maps kept.
type RankKey = (String, Grid, Keep);
/// Channel, sites that have a digipeater beside those of the plan.
type TrackerKey = (String, Vec<String>);
/// Channel, site, cell of its maps, greatest height, whether maps are counted.
type MastKey = (String, String, Grid, Metres, MapShares);
/// Channel, how radios are held.
type LinksKey = (String, Held);

/// Studies that were made.
#[derive(Default)]
pub(super) struct Studies {
    rankings: Memo<RankKey, Ranked>,
    orders: Memo<String, Ranking>,
    bests: Memo<(String, Grid), Ranked>,
    trackers: Memo<TrackerKey, TrackerStudy>,
    masts: Memo<MastKey, MastStudy>,
    links: Memo<LinksKey, DirectLinks>,
    fallbacks: Memo<Held, Fallback>,
    choices: Memo<(String, ChooseInputs), Choice>,
    site_links: Memo<String, Vec<SiteLink>>,
    spots: Memo<(String, Grid), SpotSearch>,
}

impl Assessment {
    /// The plan's sites for `channel`, best first; see [`rank`].
    ///
    /// # Errors
    /// [`RankError`] when a site or post does not fit the terrain, or the run was
    /// stopped.
    pub fn ranking(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        keep: Keep,
    ) -> Result<Arc<Ranked>, RankError> {
        self.ranking_with(inputs, channel, keep, || {
            let (ranking, coverages) = rank(inputs, channel, keep)?;
            Ok(Ranked { ranking, coverages })
        })
    }

    /// The same for several channels, with each site's maps, one a channel, out of
    /// `map`, which may have some at hand.
    ///
    /// # Errors
    /// [`RankError`] as for [`Assessment::ranking`], and whatever `map` ends in.
    pub fn rankings_by_maps(
        &self,
        inputs: &RankInputs<'_>,
        channels: &[&Channel],
        keep: Keep,
        map: impl FnMut(&Site) -> Result<Vec<Coverage>, RankError>,
    ) -> Result<Vec<Arc<Ranked>>, RankError> {
        let made = rank_by_maps(inputs, channels, keep, map)?;
        let made = made.into_iter().map(|(ranking, coverages)| Ranked { ranking, coverages });
        let told = channels.iter().zip(made);
        told.map(|(channel, made)| self.ranking_with(inputs, channel, keep, || Ok(made))).collect()
    }

    /// The same out of `make`, which may have it at hand.
    ///
    /// # Errors
    /// Whatever `make` ends in.
    pub fn ranking_with(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        keep: Keep,
        make: impl FnOnce() -> Result<Ranked, RankError>,
    ) -> Result<Arc<Ranked>, RankError> {
        let key = (channel.name.clone(), inputs.grid.clone(), keep);
        self.results.studies.rankings.get_or(key, make)
    }

    /// The same order without a map; see [`order`].
    ///
    /// # Errors
    /// [`RankError`] as for [`Assessment::ranking`].
    pub fn order(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
    ) -> Result<Arc<Ranking>, RankError> {
        self.results.studies.orders.get_or(channel.name.clone(), || order(inputs, channel))
    }

    /// The same order with the map of its first site, and no other.
    ///
    /// # Errors
    /// [`RankError`] as for [`Assessment::ranking`].
    pub fn best(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
    ) -> Result<Arc<Ranked>, RankError> {
        let order = self.order(inputs, channel)?;
        let key = (channel.name.clone(), inputs.grid.clone());
        self.results.studies.bests.get_or(key, || {
            let mut ranking = Ranking::clone(&order);
            let mut coverages = Vec::new();
            if let Some(first) = ranking.sites.first_mut()
                && let Some(site) = self.plan.sites.iter().find(|site| site.name == first.site)
            {
                let coverage = map_site(inputs, channel, site)?;
                first.map_share = Some(coverage.working_share());
                coverages.push(coverage);
            }
            Ok(Ranked { ranking, coverages })
        })
    }

    /// What digipeaters on these sites, or the plan's, hear on `channel`; see
    /// [`tracker_study`].
    ///
    /// # Errors
    /// [`RankError`] when a site or route does not fit the terrain, or the run was
    /// stopped.
    pub fn trackers(
        &self,
        channel: &Channel,
        sites: &[&Site],
        stop: &AtomicBool,
    ) -> Result<Arc<TrackerStudy>, RankError> {
        let key = (channel.name.clone(), sites.iter().map(|s| s.name.clone()).collect());
        let study = || tracker_study(&self.tracker_inputs(stop), channel, sites);
        self.results.studies.trackers.get_or(key, study)
    }

    /// What is studied of trackers and digipeaters.
    pub(super) fn tracker_inputs<'a>(&'a self, stop: &'a AtomicBool) -> TrackerInputs<'a> {
        let Self { plan, terrain, propagator, .. } = self;
        TrackerInputs { plan, terrain, propagator, demand: self.demand(), stop }
    }

    /// What masts up to the plan's highest bring a site on `channel`; see
    /// [`mast_study`].
    ///
    /// # Errors
    /// [`RankError`] when the site or a post does not fit the terrain, or the run
    /// was stopped.
    pub fn masts(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        site: &Site,
        map: MapShares,
    ) -> Result<Arc<MastStudy>, RankError> {
        let highest = self.plan.masts.highest;
        let key = (channel.name.clone(), site.name.clone(), inputs.grid.clone(), highest, map);
        self.results
            .studies
            .masts
            .get_or(key, || mast_study(inputs, channel, site, &heights(highest), map))
    }

    /// What everybody does without the relay, with radios held so: the first channel,
    /// the nets, the groups and how words get to net control.
    ///
    /// # Errors
    /// [`RankError`] when a post does not fit the terrain.
    pub fn fallback(&self, held: Held) -> Result<Arc<Fallback>, RankError> {
        let links = self.links(held)?;
        // However radios are held to compare, it is one channel that is told.
        let first = match held {
            Held::Fallback => Fallback::first_channel(&self.plan, &links),
            _ => Fallback::first_channel(&self.plan, &self.links(Held::Fallback)?),
        };
        self.results.studies.fallbacks.get_or(held, || Ok(Fallback::of(&self.plan, &links, first)))
    }

    /// The net of the channel that everybody changes to when the relay falls silent;
    /// nothing where no simplex channel brings any post to net control and the plan
    /// names none.
    ///
    /// # Errors
    /// [`RankError`] when a post does not fit the terrain.
    pub fn first_channel(&self) -> Result<Option<Arc<DirectNet>>, RankError> {
        Ok(self.fallback(Held::Fallback)?.first_net().map(Arc::clone))
    }

    /// Every two posts on each simplex channel, in the plan's order.
    fn links(&self, held: Held) -> Result<Vec<Arc<DirectLinks>>, RankError> {
        let Self { plan, terrain, propagator, .. } = self;
        let known = &self.results.studies.links;
        let simplex = plan.channels.iter().filter(|channel| !channel.has_station());
        simplex
            .map(|channel| {
                let key = (channel.name.clone(), held);
                known.get_or(key, || DirectLinks::of(plan, terrain, propagator, channel, held))
            })
            .collect()
    }

    /// The best set of sites for the relays of `channel`; see [`choose`]. The whole
    /// map counts where `asked` says so, on the cells of `grid`.
    ///
    /// # Errors
    /// [`ChooseError`] as for [`choose`].
    pub fn choice(
        &self,
        channel: &Channel,
        asked: &ChooseInputs,
        grid: &Grid,
        site_done: &(dyn Fn() + Sync),
        stop: &AtomicBool,
    ) -> Result<Arc<Choice>, ChooseError> {
        let Self { plan, terrain, propagator, .. } = self;
        let demand = self.demand();
        let inputs = Inputs { plan, terrain, propagator, demand, site_done, stop };
        let map = asked.whole_area.then_some(grid);
        self.results
            .studies
            .choices
            .get_or((channel.name.clone(), *asked), || choose(&inputs, channel, asked, map))
    }

    /// How words would get to a relay on the site `to` from linked relays on the other
    /// sites; nothing where the plan does not link relays of `channel`.
    ///
    /// # Errors
    /// [`RankError`] when a site does not fit the terrain, or the run was stopped.
    pub fn linked_sites(
        &self,
        channel: &Channel,
        to: &str,
        stop: &AtomicBool,
    ) -> Result<Option<LinkedSites>, RankError> {
        let Self { plan, terrain, propagator, .. } = self;
        let asked = &plan.choose;
        let is_relay = matches!(channel.service, Service::Relay { .. });
        let mut named = asked.channel.iter().chain(asked.channels.iter().flatten()).peekable();
        let asked_of = named.peek().is_none() || named.any(|c| plan.is_channel(*c, channel));
        if !asked.linked || asked.relays < 2 || !is_relay || !asked_of {
            return Ok(None);
        }
        let site_done = &|| ();
        let inputs = Inputs { plan, terrain, propagator, demand: self.demand(), site_done, stop };
        let links = &self.results.studies.site_links;
        let links = links.get_or(channel.name.clone(), || links_of_plan(&inputs, channel))?;
        Ok(Some(LinkedSites::of(plan, channel, &links, to)))
    }

    /// Spots that nobody listed, for the station of `channel`; see [`search`].
    ///
    /// # Errors
    /// [`SpotError`] as for [`search`].
    pub fn spots(
        &self,
        channel: &Channel,
        grid: &Grid,
        swept: &(dyn Fn() + Sync),
        stop: &AtomicBool,
    ) -> Result<Arc<SpotSearch>, SpotError> {
        let Self { plan, terrain, propagator, .. } = self;
        let demand = self.demand();
        let task = SpotTask { plan, terrain, propagator, demand, grid, swept, stop };
        self.results
            .studies
            .spots
            .get_or((channel.name.clone(), grid.clone()), || search(&task, channel))
    }
}
