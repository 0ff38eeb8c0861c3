//! Every tracker against every digipeater.

use std::sync::atomic::{AtomicBool, Ordering};

use super::duty::{Heard as HeardBeacons, traffic};
use super::{
    AlongRoute, Background, ChannelLoad, Digipeater, HeardBy, OneMore, Piece, Senders,
    TrackerScore, TrackerStudy,
};
use crate::demand::{Demand, Sample};
use crate::over_samples::over_samples;
use crate::{RankError, station_on};
use perchline_link::{LinkModel, Propagator, Terminal, TerminalError, study};
use perchline_plan::{Channel, Plan, Site, Tracker, Traffic};
use perchline_power::mast::may_stand;
use perchline_profile::Profile;
use perchline_terrain::Terrain;
use perchline_units::{Metres, Seconds};

/// What trackers are studied from.
#[derive(Clone, Copy)]
pub struct TrackerInputs<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Its terrain.
    pub terrain: &'a Terrain,
    /// The propagation method.
    pub propagator: &'a Propagator,
    /// What is to be served, routes among it.
    pub demand: &'a Demand,
    /// Set to end early.
    pub stop: &'a AtomicBool,
}

/// The same for one channel.
struct Inputs<'a> {
    plan: &'a Plan,
    terrain: &'a Terrain,
    propagator: &'a Propagator,
    demand: &'a Demand,
    channel: &'a Channel,
    stop: &'a AtomicBool,
}

/// How likely a beacon from each spot of a route is heard; nothing where
/// terrain is missing on the way.
type Heard = Vec<Option<f64>>;

/// A tracker, the spots of its route, and what each site hears of them.
struct Watched<'a> {
    tracker: &'a Tracker,
    route: &'a str,
    spots: Vec<Sample>,
    by_site: Vec<Heard>,
}

/// The trackers of the plan on `channel` with digipeaters on `sites`, and with
/// one more on each other site that may be used.
///
/// A beacon is heard when the tracker reaches the digipeater; the share of
/// locations of that link is its probability. Several digipeaters are counted
/// by the best placed one for each spot.
///
/// # Errors
/// [`RankError`] when a site does not fit the terrain or `stop` was set. Spots behind a gap
/// are no error: they count as not heard.
pub fn tracker_study(
    given: &TrackerInputs<'_>,
    channel: &Channel,
    sites: &[&Site],
) -> Result<TrackerStudy, RankError> {
    let TrackerInputs { plan, terrain, propagator, demand, stop } = *given;
    let inputs = Inputs { plan, terrain, propagator, demand, channel, stop };
    let is_set = |site: &Site| sites.iter().any(|s| s.name == site.name);
    let others: Vec<&Site> =
        plan.sites.iter().filter(|s| may_stand(plan, channel, s) && !is_set(s)).collect();
    let stations = sites
        .iter()
        .chain(&others)
        .map(|site| station_on(plan, channel, site, terrain))
        .collect::<Result<Vec<_>, TerminalError>>()?;
    let watched = inputs.watch(&stations);
    if stop.load(Ordering::Relaxed) {
        return Err(RankError::Stopped);
    }

    let set: Vec<usize> = (0..sites.len()).collect();
    let scores = score(&watched, &set, channel);
    let mut one_more: Vec<OneMore> = others
        .iter()
        .enumerate()
        .map(|(index, site)| {
            let with: Vec<usize> = set.iter().copied().chain([sites.len() + index]).collect();
            let (trackers, _) = score(&watched, &with, channel);
            let gain = |of: fn(&TrackerScore) -> f64| {
                over_all(&watched, &trackers, of) - over_all(&watched, &scores.0, of)
            };
            OneMore {
                site: site.name.clone(),
                heard_gain: gain(|score| score.along.heard),
                gain: gain(|score| score.through),
                trackers,
            }
        })
        .collect();
    one_more.sort_by(|a, b| b.gain.total_cmp(&a.gain).then(a.site.cmp(&b.site)));
    Ok(TrackerStudy {
        channel: channel.name.clone(),
        digipeaters: sites
            .iter()
            .zip(&stations)
            .enumerate()
            .map(|(index, (site, station))| {
                Ok(Digipeater {
                    site: site.name.clone(),
                    available: site.available,
                    heard_an_hour: heard_an_hour(&watched, index),
                    repeats: channel.repeats(sites.len()),
                    to_net_control: inputs.to_net_control(station)?,
                })
            })
            .collect::<Result<_, TerminalError>>()?,
        trackers: scores.0,
        load: scores.1,
        one_more,
    })
}

/// How busy the digipeaters of `channel` on these sites are, by the probabilities with
/// which they hear its trackers at first hand; one without a site hears all.
///
/// # Errors
/// [`RankError`] as for [`tracker_study`].
pub fn digipeater_traffic(
    given: &TrackerInputs<'_>,
    channel: &Channel,
    sites: &[Option<&Site>],
) -> Result<Vec<Traffic>, RankError> {
    let TrackerInputs { plan, terrain, propagator, demand, stop } = *given;
    let inputs = Inputs { plan, terrain, propagator, demand, channel, stop };
    let stations = sites
        .iter()
        .flatten()
        .map(|site| station_on(plan, channel, site, terrain))
        .collect::<Result<Vec<_>, TerminalError>>()?;
    let watched = inputs.watch(&stations);
    if stop.load(Ordering::Relaxed) {
        return Err(RankError::Stopped);
    }
    let heard: Vec<HeardBeacons> = watched
        .iter()
        .map(|w| {
            let mut placed = 0..stations.len();
            let by_site = |site: &Option<&Site>| match site.and_then(|_| placed.next()) {
                Some(place) => w.heard_by(place),
                None => 1.0,
            };
            HeardBeacons {
                a_second: f64::from(w.tracker.count) / w.tracker.every.value(),
                packet: w.tracker.packet,
                by: sites.iter().map(by_site).collect(),
            }
        })
        .collect();
    Ok(traffic(&heard, channel, sites.len()))
}

impl<'a> Inputs<'a> {
    /// Every tracker of the channel before every station.
    fn watch(&self, stations: &[Terminal]) -> Vec<Watched<'a>> {
        let plan = self.plan;
        let mut watched: Vec<Watched<'a>> = Vec::new();
        for tracker in plan.trackers_on(self.channel) {
            let Some(route) = plan.routes.get(tracker.route) else { continue };
            let alike = |w: &&Watched<'_>| {
                (w.tracker.route, w.tracker.radio, w.tracker.mount)
                    == (tracker.route, tracker.radio, tracker.mount)
            };
            let (spots, by_site) = match watched.iter().find(alike) {
                Some(known) => (known.spots.clone(), known.by_site.clone()),
                None => {
                    let spots = self.demand.route(tracker.route).to_vec();
                    let heard = |station| self.heard(station, tracker, &spots);
                    let by_site = stations.iter().map(heard).collect();
                    (spots, by_site)
                }
            };
            watched.push(Watched { tracker, route: &route.name, spots, by_site });
        }
        watched
    }

    /// How likely `station` hears a beacon from each of `spots`.
    fn heard(&self, station: &Terminal, tracker: &Tracker, spots: &[Sample]) -> Heard {
        let share = |spot: &Sample, profile: &Profile| {
            if self.stop.load(Ordering::Relaxed) {
                return None;
            }
            let carried = Terminal::on_tracker(self.plan, tracker, spot.at)?;
            let model = LinkModel::new(self.plan, self.channel, station, &carried);
            let assessment = model.assess_over(self.propagator, profile, spot.at);
            Some(model.talk_in_share(&assessment))
        };
        let heard = over_samples(self.terrain, station.at, spots, share);
        heard.into_iter().map(Option::flatten).collect()
    }

    /// Whether the station's packets reach who reads them.
    fn to_net_control(&self, station: &Terminal) -> Result<Option<HeardBy>, TerminalError> {
        let Some(post) = self.plan.posts.iter().find(|post| post.net_control) else {
            return Ok(None);
        };
        let reader = Terminal::at_post(self.plan, self.channel, post, self.terrain)?;
        let model = LinkModel::new(self.plan, self.channel, station, &reader);
        let study = study(self.terrain, self.propagator, &model, self.channel);
        let share = study.ok().map(|s| s.budgets.talk_out.share_of_locations);
        Ok(Some(HeardBy { post: post.name.clone(), share }))
    }
}

/// Every tracker with digipeaters on the sites of these indices, and what that
/// makes of the channel.
fn score(
    watched: &[Watched<'_>],
    set: &[usize],
    channel: &Channel,
) -> (Vec<TrackerScore>, ChannelLoad) {
    let repeats = channel.repeats(set.len());
    let kinds: Vec<Senders> = watched
        .iter()
        .map(|w| Senders {
            count: w.tracker.count,
            every: w.tracker.every,
            packet: w.tracker.packet,
            // A digipeater repeats what it hears.
            copies: set.iter().fold(1.0, |copies, site| copies + repeats * w.heard_by(*site)),
        })
        .collect();
    // What others send is taken to be heard by every digipeater.
    let background = Background {
        a_second: channel.background_rate(),
        packet: Channel::USUAL_PACKET,
        copies: 1.0 + repeats * set.len() as f64,
    };
    let load = ChannelLoad::beside(&kinds, background);
    let scores = watched
        .iter()
        .zip(&load.lost)
        .map(|(w, lost)| {
            let tracker = w.tracker;
            let pieces = w.pieces(set, |heard| heard.fold(0.0, f64::max));
            let own_luck = w.pieces(set, |heard| 1.0 - heard.map(|h| 1.0 - h).product::<f64>());
            let along = AlongRoute::of(&pieces, tracker.speed);
            let route = pieces.last().map_or(Metres::new(0.0), |piece| piece.to);
            TrackerScore {
                tracker: tracker.name.clone(),
                route: w.route.to_owned(),
                route_m: route,
                underway_s: Seconds::new(route.value() / tracker.speed.value()),
                every_s: tracker.every,
                heard_at_most: AlongRoute::of(&own_luck, tracker.speed).heard,
                lost_to_others: *lost,
                through: along.heard * (1.0 - lost),
                along,
            }
        })
        .collect();
    (scores, load)
}

/// Beacons an hour that the site of this index hears.
fn heard_an_hour(watched: &[Watched<'_>], site: usize) -> f64 {
    let rate = |w: &Watched<'_>| f64::from(w.tracker.count) / w.tracker.every.value();
    3600.0 * watched.iter().map(|w| rate(w) * w.heard_by(site)).sum::<f64>()
}

impl Watched<'_> {
    /// Share of the beacons that the site of this index hears.
    fn heard_by(&self, site: usize) -> f64 {
        let pieces = self.pieces(&[site], |heard| heard.fold(0.0, f64::max));
        AlongRoute::of(&pieces, self.tracker.speed).heard
    }

    /// The pieces of the route with what the sites of these indices hear
    /// together.
    fn pieces(
        &self,
        set: &[usize],
        together: impl Fn(&mut dyn Iterator<Item = f64>) -> f64,
    ) -> Vec<Piece> {
        let mut along = Metres::new(0.0);
        self.spots
            .iter()
            .enumerate()
            .map(|(index, spot)| {
                let from = along;
                along += Metres::new(spot.weight);
                let known: Vec<f64> =
                    set.iter().filter_map(|site| *self.by_site.get(*site)?.get(index)?).collect();
                let heard = (!known.is_empty()).then(|| together(&mut known.iter().copied()));
                Piece { from, to: along, heard }
            })
            .collect()
    }
}

/// A share of each tracker's beacons, over all beacons of all trackers.
fn over_all(watched: &[Watched<'_>], scores: &[TrackerScore], of: fn(&TrackerScore) -> f64) -> f64 {
    let rates = watched.iter().map(|w| f64::from(w.tracker.count) / w.tracker.every.value());
    let total: f64 = rates.clone().sum();
    let sum: f64 = rates.zip(scores).map(|(rate, score)| rate * of(score)).sum();
    if total > 0.0 { sum / total } else { 0.0 }
}
