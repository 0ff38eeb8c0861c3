//! Scoring every candidate site and putting the best first.

use std::cmp::Ordering;
use std::sync::atomic::{self, AtomicBool};

use rayon::prelude::*;

use perchline_coverage::{Coverage, cover, cover_all};
use perchline_link::{
    LinkBudgets, LinkModel, Margins, Outcome, Propagator, Terminal, TerminalError, study,
    study_over,
};
use perchline_plan::{Channel, Plan, Post, Site};
use perchline_power::mast::{line_forbids, may_stand, refused_mast};
use perchline_profile::Profile;
use perchline_terrain::{Grid, PlaceError, Terrain, Tracer};
use perchline_units::{Db, Metres};

use super::against::losses;
use super::assumed::{self, PostWorks, Served, contact_by, margins_of, with_duplexers};
use super::demand::{Demand, Kind, Sample};
use super::fix::extra_mast;
use super::over_samples::{in_a_row, over_samples};
use super::reason::reason;
use super::station_on;
use super::stretch::{Contact, EachWay, route_score, share_score};
use super::{PostScore, Ranking, Remedy, SiteScore};

/// What a ranking is made from.
pub struct RankInputs<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Its terrain.
    pub terrain: &'a Terrain,
    /// The propagation method.
    pub propagator: &'a Propagator,
    /// What is to be served.
    pub demand: &'a Demand,
    /// The cells of the map.
    pub grid: &'a Grid,
    /// Called once for each row of each site's map.
    pub row_done: &'a (dyn Fn() + Sync),
    /// Set to end early.
    pub stop: &'a AtomicBool,
}

/// Why a ranking could not be made.
#[derive(Debug, thiserror::Error)]
pub enum RankError {
    /// A site or a post can't stand where the plan puts it.
    #[error(transparent)]
    Terminal(#[from] TerminalError),
    /// A path has no profile.
    #[error("{from} to {to}: {source}")]
    Path {
        /// One end.
        from: String,
        /// The other.
        to: String,
        /// What is wrong.
        #[source]
        source: PlaceError,
    },
    /// It was stopped.
    #[error("stopped before it was complete")]
    Stopped,
}

/// Which sites' coverages a ranking keeps: each takes memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// The best site's.
    Best,
    /// Every site's.
    All,
    /// None.
    None,
}

impl Keep {
    /// How many it keeps of so many sites' coverages: those of the best.
    #[must_use]
    pub const fn of(self, sites: usize) -> usize {
        match self {
            Self::Best => 1,
            Self::All => sites,
            Self::None => 0,
        }
    }
}

/// Links between a site and a post whose budgets a ranking keeps line by line;
/// they are most of what there is to say of a link.
pub const PAIRS_IN_FULL: usize = 5000;

/// Of how many sites, the best, a ranking over so many posts keeps every budget:
/// one, and as many as [`PAIRS_IN_FULL`] allows.
#[must_use]
pub fn sites_in_full(posts: usize) -> usize {
    (PAIRS_IN_FULL / posts.max(1)).max(1)
}

/// Scores every site of the plan for the station of `channel`, best first, with
/// the coverages that `keep` asks for, and the budgets of the best sites.
///
/// Order: sites that may be used before those that may not, by the plan or for a power
/// line too near for the mast; then those that meet every must-have post; then by weighted coverage over
/// posts, areas and routes, on a packet channel over those that trackers pass
/// ([`Demand::on_channel`]); then by the worst post's margin; then by name.
///
/// # Errors
/// [`RankError`] when a site or post does not fit the terrain or the run is
/// stopped. A post behind a gap is no error: its outcome is unknown.
pub fn rank(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    keep: Keep,
) -> Result<(Ranking, Vec<Coverage>), RankError> {
    let mut mapped = Mapped::of(order(inputs, channel)?, keep);
    for site in &inputs.plan.sites {
        mapped.add(site, map_site(inputs, channel, site)?);
    }
    Ok(mapped.done())
}

/// The same for several channels, with each site's coverages, one a channel, out of
/// `map`, which may have some at hand.
///
/// # Errors
/// [`RankError`] as for [`rank`], and whatever `map` ends in.
pub fn rank_by_maps(
    inputs: &RankInputs<'_>,
    channels: &[&Channel],
    keep: Keep,
    mut map: impl FnMut(&Site) -> Result<Vec<Coverage>, RankError>,
) -> Result<Vec<(Ranking, Vec<Coverage>)>, RankError> {
    let orders = channels.iter().map(|channel| order(inputs, channel));
    let mut mapped =
        orders.map(|order| Ok(Mapped::of(order?, keep))).collect::<Result<Vec<_>, RankError>>()?;
    for site in &inputs.plan.sites {
        for (mapped, coverage) in mapped.iter_mut().zip(map(site)?) {
            mapped.add(site, coverage);
        }
    }
    Ok(mapped.into_iter().map(Mapped::done).collect())
}

/// A ranking whose sites are being mapped.
struct Mapped {
    ranking: Ranking,
    /// Of how many sites, the best, the coverage is kept.
    kept: usize,
    coverages: Vec<Option<Coverage>>,
}

impl Mapped {
    fn of(ranking: Ranking, keep: Keep) -> Self {
        let coverages = ranking.sites.iter().map(|_| None).collect();
        Self { kept: keep.of(ranking.sites.len()), ranking, coverages }
    }

    fn add(&mut self, site: &Site, coverage: Coverage) {
        let sites = &mut self.ranking.sites;
        let Some(place) = sites.iter().position(|score| score.site == site.name) else { return };
        if let Some(score) = sites.get_mut(place) {
            score.map_share = Some(coverage.working_share());
        }
        if let Some(known) = self.coverages.get_mut(place).filter(|_| place < self.kept) {
            *known = Some(coverage);
        }
    }

    fn done(self) -> (Ranking, Vec<Coverage>) {
        (self.ranking, self.coverages.into_iter().flatten().collect())
    }
}

/// The ranking without a map: what orders sites are posts, areas and routes, over
/// paths of their own.
///
/// # Errors
/// [`RankError`] as for [`rank`]; of several the first site's.
pub fn order(inputs: &RankInputs<'_>, channel: &Channel) -> Result<Ranking, RankError> {
    let in_full = sites_in_full(inputs.plan.posts.len());
    let mut sites: Vec<SiteScore> = Vec::with_capacity(inputs.plan.sites.len());
    // No more at a time than may keep every budget.
    for some in inputs.plan.sites.chunks(in_full) {
        let scored: Vec<Result<SiteScore, RankError>> =
            some.par_iter().map(|site| score_without_map(inputs, channel, site, None)).collect();
        for score in scored {
            sites.push(score?);
        }
        if inputs.stop.load(atomic::Ordering::Relaxed) {
            return Err(RankError::Stopped);
        }
        // One that is behind so many now stays behind them.
        best_first(&mut sites, in_full);
    }
    Ok(ranking_of(inputs, channel, sites))
}

/// The same of sites that were scored before, in whatever order, each by
/// [`score_without_map`]; the budgets of the best are worked out anew, and the
/// coverages that are kept.
///
/// # Errors
/// [`RankError`] as for [`rank`].
pub fn rank_scored(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    keep: Keep,
    mut sites: Vec<SiteScore>,
) -> Result<(Ranking, Vec<Coverage>), RankError> {
    let in_full = sites_in_full(inputs.plan.posts.len());
    best_first(&mut sites, in_full);
    for site in sites.iter_mut().take(in_full) {
        *site = score_in_full(inputs, channel, site)?;
    }
    let kept = sites.iter().take(keep.of(sites.len()));
    let coverages = kept
        .filter_map(|score| inputs.plan.sites.iter().find(|site| site.name == score.site))
        .map(|site| map_site(inputs, channel, site))
        .collect::<Result<Vec<_>, _>>()?;
    Ok((ranking_of(inputs, channel, sites), coverages))
}

/// Puts sites in order; only the first `in_full` keep the budgets of their posts.
fn best_first(sites: &mut [SiteScore], in_full: usize) {
    sites.sort_by(better_first);
    for site in sites.iter_mut().skip(in_full) {
        site.posts.iter_mut().for_each(|post| post.budgets = None);
    }
}

/// What is told of sites, best first, beside their own scores.
fn ranking_of(inputs: &RankInputs<'_>, channel: &Channel, mut sites: Vec<SiteScore>) -> Ranking {
    name_other_sites(&mut sites);
    let with_duplexers = assumed::rankings(&sites);
    let counted = inputs.demand.on_channel(inputs.plan, channel);
    let routes: Vec<bool> = counted.of_kind(Kind::Route).map(|route| route.weight > 0.0).collect();
    let losses = losses(&sites, &routes);
    Ranking { channel: channel.name.clone(), sites, losses, with_duplexers }
}

/// Tells each failing post of `score`, made by [`score`] alone, from which other
/// usable sites it works.
///
/// # Errors
/// [`RankError`] as for [`rank`].
pub fn look_elsewhere(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    score: &mut SiteScore,
) -> Result<(), RankError> {
    let plan = inputs.plan;
    let failing: Vec<&Post> = {
        let posts = plan.posts.iter().zip(&score.posts);
        posts.filter(|(_, scored)| scored.remedy.is_some()).map(|(post, _)| post).collect()
    };
    let others: Vec<&Site> =
        plan.sites.iter().filter(|s| may_stand(plan, channel, s) && s.name != score.site).collect();
    let work_from = |site: &Site| -> Result<Vec<bool>, RankError> {
        let station = station_on(plan, channel, site, inputs.terrain)?;
        let works = |post: &&Post| Ok(score_post(inputs, channel, &station, post)?.outcome.works());
        failing.iter().map(works).collect()
    };
    let found: Vec<Result<Vec<bool>, RankError>> =
        others.par_iter().map(|site| work_from(site)).collect();
    for (site, works) in others.iter().zip(found) {
        let remedies = score.posts.iter_mut().filter_map(|post| post.remedy.as_mut());
        for (remedy, _) in remedies.zip(works?).filter(|(_, works)| *works) {
            remedy.also(&site.name);
        }
    }
    Ok(())
}

/// The order of a ranking.
pub(super) fn better_first(a: &SiteScore, b: &SiteScore) -> Ordering {
    b.may_be_used()
        .cmp(&a.may_be_used())
        .then(b.available.cmp(&a.available))
        .then(b.must_posts_met.cmp(&a.must_posts_met))
        .then(b.weighted_probability.total_cmp(&a.weighted_probability))
        .then_with(|| worst_margin(b).total_cmp(&worst_margin(a)))
        .then_with(|| a.site.cmp(&b.site))
}

/// Scores one site for the station of `channel`, with its coverage.
///
/// # Errors
/// [`RankError`] as for [`rank`].
pub fn score(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    site: &Site,
) -> Result<(SiteScore, Coverage), RankError> {
    let coverage = map_site(inputs, channel, site)?;
    let share = Some(coverage.working_share());
    Ok((score_without_map(inputs, channel, site, share)?, coverage))
}

/// Coverage of the station of `channel` on a site.
///
/// # Errors
/// [`RankError`] when the site does not fit the terrain or the run is stopped.
pub fn map_site(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    site: &Site,
) -> Result<Coverage, RankError> {
    let RankInputs { plan, terrain, propagator, grid, row_done, stop, .. } = *inputs;
    let model = map_model(plan, terrain, channel, site)?;
    whole(inputs, site, cover(terrain, grid, &model, propagator, row_done, stop))
}

/// Coverages of the stations of several channels on a site, in the channels' order:
/// those whose antennas are at the same heights share one pass over the terrain.
///
/// # Errors
/// [`RankError`] as for [`map_site`].
pub fn map_site_on(
    inputs: &RankInputs<'_>,
    channels: &[&Channel],
    site: &Site,
) -> Result<Vec<Coverage>, RankError> {
    let RankInputs { plan, terrain, propagator, grid, row_done, stop, .. } = *inputs;
    let models = channels.iter().map(|channel| map_model(plan, terrain, channel, site));
    let models = models.collect::<Result<Vec<_>, _>>()?;
    whole(inputs, site, cover_all(terrain, grid, &models, propagator, row_done, stop))
}

/// What was mapped of a site, unless it failed or the run was stopped meanwhile.
fn whole<T>(
    inputs: &RankInputs<'_>,
    site: &Site,
    mapped: Result<T, PlaceError>,
) -> Result<T, RankError> {
    let mapped = mapped.map_err(|source| RankError::Path {
        from: site.name.clone(),
        to: "the map".to_owned(),
        source,
    })?;
    if inputs.stop.load(atomic::Ordering::Relaxed) {
        return Err(RankError::Stopped);
    }
    Ok(mapped)
}

/// The link between the station of `channel` on a site and a carried radio
/// anywhere on the map.
///
/// # Errors
/// [`TerminalError`] when the site does not fit the terrain.
pub fn map_model(
    plan: &Plan,
    terrain: &Terrain,
    channel: &Channel,
    site: &Site,
) -> Result<LinkModel, TerminalError> {
    let station = station_on(plan, channel, site, terrain)?;
    let carried = Terminal::anywhere(plan, channel, None, site.at);
    Ok(LinkModel::new(plan, channel, &station, &carried))
}

/// Scores a site of whose map no more than the share that works is known.
///
/// # Errors
/// [`RankError`] as for [`rank`].
pub fn score_without_map(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    site: &Site,
    map_share: Option<f64>,
) -> Result<SiteScore, RankError> {
    let RankInputs { plan, terrain, demand, .. } = *inputs;
    let demand = demand.on_channel(plan, channel);
    let station = station_on(plan, channel, site, terrain)?;
    let model_anywhere = |environment| {
        let carried = Terminal::anywhere(plan, channel, environment, site.at);
        LinkModel::new(plan, channel, &station, &carried)
    };
    let mut posts = score_posts(inputs, channel, &station)?;
    for (post, target) in posts.iter_mut().zip(demand.of_kind(Kind::Post)) {
        post.counts = target.weight > 0.0;
        post.must = target.must;
    }
    let desensed = with_duplexers(plan, channel, &station);
    let contacts = |environment, samples: &[Sample]| {
        let carried = Terminal::anywhere(plan, channel, environment, site.at);
        let others: Vec<_> = desensed.iter().map(|d| d.model(plan, channel, &carried)).collect();
        sample_contacts(inputs, &model_anywhere(environment), &others, samples)
    };
    let mut shares_with = Vec::new();
    let areas: Vec<_> = demand
        .of_kind(Kind::Area)
        .map(|area| {
            let samples = demand.samples_of(area);
            let (plain, with, _) = contacts(area.environment, samples);
            shares_with
                .push(with.iter().map(|c| share_score("", samples, c).probability).collect());
            share_score(&area.name, samples, &plain)
        })
        .collect();
    let routes: Vec<_> = demand
        .of_kind(Kind::Route)
        .map(|route| {
            let samples = demand.samples_of(route);
            let (plain, with, each_way) = contacts(route.environment, samples);
            shares_with
                .push(with.iter().map(|c| share_score("", samples, c).probability).collect());
            route_score(&route.name, samples, &plain, &each_way)
        })
        .collect();
    let plain = model_anywhere(None);
    let carried = Terminal::anywhere(plan, channel, None, site.at);
    let duplexers = desensed
        .iter()
        .enumerate()
        .map(|(index, desensed)| {
            let other = desensed.model(plan, channel, &carried);
            let served = served_with(&posts, &shares_with, index, (&plain, &other));
            let weights = demand.targets.iter().map(|target| target.weight);
            desensed.score(weights.zip(served), demand.total_weight())
        })
        .collect();
    let weights = demand.targets.iter().map(|target| target.weight);
    let probabilities = posts
        .iter()
        .map(|p| p.probability.unwrap_or(0.0))
        .chain(areas.iter().map(|a| a.probability))
        .chain(routes.iter().map(|r| r.share.probability));
    let weighted = weights.zip(probabilities).map(|(w, p)| w * p).sum::<f64>();
    let counted = || posts.iter().filter(|post| post.counts);
    let worst = counted().min_by(|a, b| margin_or_least(a).total_cmp(&margin_or_least(b)));
    Ok(SiteScore {
        site: site.name.clone(),
        at: site.at,
        available: site.available,
        refused_mast: refused_mast(plan, channel, site),
        ground_m: station.ground,
        antenna_above_ground_m: station.antenna,
        weighted_probability: weighted / demand.total_weight(),
        must_posts_met: posts.iter().all(|p| !p.must || p.outcome.works()),
        posts_covered: counted().filter(|p| p.outcome.works()).count(),
        worst_post: worst.map(|p| p.post.clone()),
        posts,
        areas,
        routes,
        map_share,
        duplexers,
    })
}

pub(super) fn score_post(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    station: &Terminal,
    post: &Post,
) -> Result<PostScore, RankError> {
    let mut tracer = tracer(inputs, station, post)?;
    score_by(&mut tracer, inputs, channel, station, post)
}

/// How these posts of the plan do with the station of `channel` on `site`, without the
/// rest of a ranking.
///
/// # Errors
/// [`RankError`] when the site or a post does not fit the terrain.
pub fn score_some_posts(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    site: &Site,
    posts: &[&Post],
) -> Result<Vec<PostScore>, RankError> {
    let station = station_on(inputs.plan, channel, site, inputs.terrain)?;
    posts.iter().map(|post| score_post(inputs, channel, &station, post)).collect()
}

/// Every post of the plan; of several that fail the first is told.
fn score_posts(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    station: &Terminal,
) -> Result<Vec<PostScore>, RankError> {
    let posts = &inputs.plan.posts;
    let some = |posts: &[Post]| {
        let Some(first) = posts.first() else { return Ok(Vec::new()) };
        let mut tracer = tracer(inputs, station, first)?;
        posts.iter().map(|post| score_by(&mut tracer, inputs, channel, station, post)).collect()
    };
    let parts: Vec<Result<Vec<PostScore>, RankError>> =
        posts.par_chunks(in_a_row(posts.len())).map(some).collect();
    let mut scores = Vec::with_capacity(posts.len());
    for part in parts {
        scores.extend(part?);
    }
    Ok(scores)
}

/// What traces profiles from the station, to this post first.
fn tracer<'a>(
    inputs: &RankInputs<'a>,
    station: &Terminal,
    post: &Post,
) -> Result<Tracer<'a>, RankError> {
    inputs.terrain.tracer(station.at).map_err(|source| no_profile(station, post, source))
}

fn no_profile(station: &Terminal, post: &Post, source: PlaceError) -> RankError {
    RankError::Path {
        from: format!("site \"{}\"", station.name),
        to: format!("post \"{}\"", post.name),
        source,
    }
}

fn score_by(
    tracer: &mut Tracer<'_>,
    inputs: &RankInputs<'_>,
    channel: &Channel,
    station: &Terminal,
    post: &Post,
) -> Result<PostScore, RankError> {
    let RankInputs { plan, terrain, propagator, .. } = *inputs;
    let carried = Terminal::at_post(plan, channel, post, terrain)?;
    let model = LinkModel::new(plan, channel, station, &carried);
    let score = PostScore {
        post: post.name.clone(),
        at: post.at,
        must: post.must,
        counts: true,
        distance_m: station.at.distance(post.at),
        line_of_sight: None,
        outcome: Outcome::Unknown,
        probability: None,
        sure: None,
        governing_margin_db: None,
        budgets: None,
        reason: String::new(),
        remedy: None,
    };
    let mut profile = Profile::default();
    let study = match tracer.trace(carried.at, &mut profile) {
        Ok(()) => study_over(profile, propagator, &model, channel),
        Err(gap @ PlaceError::Gap { .. }) => {
            return Ok(PostScore { reason: format!("not known: {gap}"), ..score });
        }
        Err(source) => return Err(no_profile(station, post, source)),
    };
    let outcome = study.budgets.outcome;
    let margin = study.budgets.governing_budget().margin_db;
    let remedy = (!outcome.works()).then(|| {
        let site = plan.sites.iter().find(|site| site.name == station.name);
        let may_fall = |extra: &Metres| site.is_some_and(|s| line_forbids(s, s.mast + *extra));
        let extra = extra_mast(&study, propagator, &model);
        Remedy {
            missing_db: study.budgets.missing_db,
            extra_mast_m: extra.filter(|extra| !may_fall(extra)),
            refused_by_line_m: extra.filter(may_fall),
            other_sites: Vec::new(),
            more_other_sites: 0,
        }
    });
    Ok(PostScore {
        line_of_sight: Some(study.clearance.is_none_or(|c| c.line_of_sight)),
        outcome,
        probability: Some(study.budgets.probability),
        sure: Some(study.budgets.sure),
        governing_margin_db: Some(margin),
        reason: reason(&study, plan.units),
        budgets: Some(Box::new(study.budgets)),
        remedy,
        ..score
    })
}

/// Both budgets between two terminals of this kind, `"site"` or `"post"`, by
/// `model`; nothing where terrain is missing on the way.
pub(super) fn budgets_between(
    terrain: &Terrain,
    propagator: &Propagator,
    model: &LinkModel,
    channel: &Channel,
    kind: &str,
) -> Result<Option<LinkBudgets>, RankError> {
    match study(terrain, propagator, model, channel) {
        Ok(study) => Ok(Some(study.budgets)),
        Err(PlaceError::Gap { .. }) => Ok(None),
        Err(source) => {
            let [from, to] =
                [model.station(), model.carried()].map(|end| format!("{kind} \"{}\"", end.name));
            Err(RankError::Path { from, to, source })
        }
    }
}

/// What each of `samples` comes to, what it comes to by each of `others`, whose
/// stations hear more noise, and what each direction comes to alone; nothing where a
/// path crosses a gap.
fn sample_contacts(
    inputs: &RankInputs<'_>,
    model: &LinkModel,
    others: &[LinkModel],
    samples: &[Sample],
) -> (Vec<Contact>, Vec<Vec<Contact>>, Vec<EachWay>) {
    let margins = over_samples(inputs.terrain, model.station().at, samples, |sample, profile| {
        model.assess_over(inputs.propagator, profile, sample.at)
    });
    let plain = margins
        .par_iter()
        .map(|margins| margins.as_ref().map(|m| (model.probability(m), model.outcome(m))))
        .collect();
    let with = |other: &LinkModel| {
        let contact = |m: &Option<Margins>| m.as_ref().map(|m| contact_by(model, other, m));
        margins.par_iter().map(contact).collect()
    };
    let each_way = margins.iter().map(|m| m.as_ref().map(|m| alone(model, m))).collect();
    (plain, others.iter().map(with).collect(), each_way)
}

/// What each direction comes to alone: a margin is over what the wanted share of spots
/// needs, and without its location allowance over what half of them need.
fn alone(model: &LinkModel, margins: &Margins) -> (Outcome, Outcome) {
    let (in_half, out_half) = model.over_needed(margins);
    let zero = Db::new(0.0);
    let class = |margin: Db, half: Db| {
        if margin >= zero {
            Outcome::Clear
        } else if half >= zero {
            Outcome::Patchy
        } else {
            Outcome::NoContact
        }
    };
    (class(margins.talk_in_margin, in_half), class(margins.talk_out_margin, out_half))
}

/// What posts, areas and routes come to with the duplexer of this index; of areas
/// and routes it is known already. `models` are those without and with it.
fn served_with(
    posts: &[PostScore],
    shares: &[Vec<f64>],
    index: usize,
    (plain, other): (&LinkModel, &LinkModel),
) -> Vec<Served> {
    let post = |post: &PostScore| {
        let budgets = post.budgets.as_deref();
        let contact = budgets.map(|budgets| contact_by(plain, other, &margins_of(budgets)));
        Served {
            probability: contact.map_or(0.0, |(probability, _)| probability),
            post: post.counts.then(|| PostWorks {
                must: post.must,
                works: contact.is_some_and(|(_, outcome)| outcome.works()),
            }),
        }
    };
    let share = |with: &Vec<f64>| Served {
        probability: with.get(index).copied().unwrap_or(0.0),
        post: None,
    };
    posts.iter().map(post).chain(shares.iter().map(share)).collect()
}

fn worst_margin(site: &SiteScore) -> f64 {
    site.counted_posts().map(margin_or_least).fold(f64::INFINITY, f64::min)
}

/// A post's margin in dB; what is not known counts as worst.
pub(super) fn margin_or_least(post: &PostScore) -> f64 {
    post.governing_margin_db.map_or(f64::NEG_INFINITY, Db::value)
}

/// Tells each failing post which other usable sites would serve it.
fn name_other_sites(sites: &mut [SiteScore]) {
    let posts = sites.first().map_or(0, |site| site.posts.len());
    for post in 0..posts {
        let works = |site: &SiteScore| site.posts.get(post).is_some_and(|p| p.outcome.works());
        // A site at which it fails is not among them.
        let working: Vec<String> = sites
            .iter()
            .filter(|site| site.may_be_used() && works(site))
            .map(|site| site.site.clone())
            .collect();
        for site in sites.iter_mut() {
            let failing = site.posts.get_mut(post).and_then(|post| post.remedy.as_mut());
            if let Some(remedy) = failing {
                working.iter().for_each(|name| remedy.also(name));
            }
        }
    }
}

/// Adds the budgets that a ranking of very many sites has left out to the score
/// of one.
///
/// # Errors
/// [`RankError`] as for [`rank`].
pub fn score_in_full(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    score: &SiteScore,
) -> Result<SiteScore, RankError> {
    let mut score = score.clone();
    let site = inputs.plan.sites.iter().find(|site| site.name == score.site);
    let lacks = |post: &PostScore| post.budgets.is_none() && post.probability.is_some();
    let Some(site) = site.filter(|_| score.posts.iter().any(lacks)) else { return Ok(score) };
    let station = station_on(inputs.plan, channel, site, inputs.terrain)?;
    for (known, scored) in score.posts.iter_mut().zip(score_posts(inputs, channel, &station)?) {
        known.budgets = scored.budgets;
    }
    Ok(score)
}
