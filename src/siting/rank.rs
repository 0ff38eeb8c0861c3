//! Scoring every candidate site and putting the best first.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::coverage::{Coverage, cover};
use crate::link::{LinkModel, Propagator, Terminal, TerminalError, study};
use crate::plan::{Channel, Plan, Post, Site};
use crate::terrain::{Grid, PlaceError, Terrain};

use super::demand::{Sample, area_samples, route_samples};
use super::fix::extra_mast;
use super::reason::reason;
use super::{PostScore, Ranking, Remedy, ShareScore, SiteScore};

/// What a ranking is made from.
pub struct RankInputs<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Its terrain.
    pub terrain: &'a Terrain,
    /// The propagation method.
    pub propagator: &'a Propagator,
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
    #[error("stopped before the ranking was complete; nothing was written")]
    Stopped,
}

/// Scores every site of the plan for the station of `channel`, best first,
/// each with its coverage.
///
/// Order: sites that may be used before those that may not; then those that
/// meet every must-have post; then by weighted share of posts, areas and
/// routes; then by the worst post's margin; then by name.
///
/// # Errors
/// [`RankError`] when a site or post is off the terrain or a path to a post
/// crosses a gap.
pub fn rank(
    inputs: &RankInputs<'_>,
    channel: &Channel,
) -> Result<(Ranking, Vec<Coverage>), RankError> {
    let plan = inputs.plan;
    let mut scored = plan
        .sites
        .iter()
        .map(|site| score(inputs, channel, site))
        .collect::<Result<Vec<_>, _>>()?;
    scored.sort_by(|(a, _), (b, _)| {
        b.available
            .cmp(&a.available)
            .then(b.must_posts_met.cmp(&a.must_posts_met))
            .then(b.weighted_share.total_cmp(&a.weighted_share))
            .then(worst_margin(b).total_cmp(&worst_margin(a)))
            .then(a.site.cmp(&b.site))
    });
    let (mut sites, coverages): (Vec<_>, Vec<_>) = scored.into_iter().unzip();
    name_other_sites(&mut sites);
    Ok((Ranking { channel: channel.name.clone(), sites }, coverages))
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
    let RankInputs { plan, terrain, propagator, grid, row_done, stop } = *inputs;
    let station = Terminal::at_site(plan, channel, site, terrain)?;
    let model_anywhere = |environment| {
        let carried = Terminal::anywhere(plan, channel, environment, site.at);
        LinkModel::new(plan, channel, &station, &carried)
    };
    let coverage =
        cover(terrain, grid, &model_anywhere(None), propagator, row_done, stop).map_err(
            |source| RankError::Path { from: site.name.clone(), to: "the map".to_owned(), source },
        )?;
    if stop.load(Ordering::Relaxed) {
        return Err(RankError::Stopped);
    }
    let posts = plan
        .posts
        .par_iter()
        .map(|post| score_post(inputs, channel, &station, post))
        .collect::<Result<Vec<_>, _>>()?;
    let share = |name: &str, environment, samples: Vec<Sample>| {
        share_score(inputs, &model_anywhere(environment), name, &samples)
    };
    let areas: Vec<_> =
        plan.areas.iter().map(|a| share(&a.name, a.environment, area_samples(a))).collect();
    let routes: Vec<_> =
        plan.routes.iter().map(|r| share(&r.name, r.environment, route_samples(r))).collect();
    let weights = plan
        .posts
        .iter()
        .map(|p| p.weight)
        .chain(plan.areas.iter().map(|a| a.weight))
        .chain(plan.routes.iter().map(|r| r.weight));
    let shares = posts
        .iter()
        .map(|p| f64::from(u8::from(p.outcome.works())))
        .chain(areas.iter().map(|a| a.share))
        .chain(routes.iter().map(|r| r.share));
    let total: f64 = weights.clone().sum();
    let weighted_share = weights.zip(shares).map(|(w, s)| w * s).sum::<f64>() / total;
    let worst = posts
        .iter()
        .min_by(|a, b| a.governing_margin_db.value().total_cmp(&b.governing_margin_db.value()));
    Ok((
        SiteScore {
            site: site.name.clone(),
            at: site.at,
            available: site.available,
            ground_m: station.ground,
            antenna_above_ground_m: station.antenna,
            weighted_share,
            must_posts_met: posts.iter().all(|p| !p.must || p.outcome.works()),
            posts_covered: posts.iter().filter(|p| p.outcome.works()).count(),
            worst_post: worst.map(|p| p.post.clone()),
            posts,
            areas,
            routes,
            map_share: coverage.working_share(),
        },
        coverage,
    ))
}

fn score_post(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    station: &Terminal,
    post: &Post,
) -> Result<PostScore, RankError> {
    let RankInputs { plan, terrain, propagator, .. } = *inputs;
    let carried = Terminal::at_post(plan, channel, post, terrain)?;
    let model = LinkModel::new(plan, channel, station, &carried);
    let study =
        study(terrain, propagator, &model, &channel.name).map_err(|source| RankError::Path {
            from: format!("site \"{}\"", station.name),
            to: format!("post \"{}\"", post.name),
            source,
        })?;
    let outcome = study.budgets.outcome;
    let missing = -study.budgets.governing_budget().margin_db;
    let remedy = (!outcome.works()).then(|| Remedy {
        missing_db: missing,
        extra_mast_m: extra_mast(&study, propagator, &model),
        other_sites: Vec::new(),
    });
    Ok(PostScore {
        post: post.name.clone(),
        at: post.at,
        must: post.must,
        distance_m: study.distance,
        line_of_sight: study.clearance.is_none_or(|c| c.line_of_sight),
        outcome,
        governing_margin_db: study.budgets.governing_budget().margin_db,
        reason: reason(&study, plan.units),
        budgets: study.budgets,
        remedy,
    })
}

/// Share of `samples` that works both ways; a sample whose path crosses a gap
/// counts as not working.
fn share_score(
    inputs: &RankInputs<'_>,
    model: &LinkModel,
    name: &str,
    samples: &[Sample],
) -> ShareScore {
    let works = |sample: &Sample| {
        let profile = inputs.terrain.profile(model.station().at, sample.at).ok()?;
        let (station, carried) = (model.station().antenna, model.carried().antenna);
        let losses = inputs.propagator.losses(&profile, station, carried, model.frequencies());
        Some(model.outcome(&model.assess(&losses)).works())
    };
    let results: Vec<_> = samples.par_iter().map(works).collect();
    let total: f64 = samples.iter().map(|s| s.weight).sum();
    let working: f64 = samples
        .iter()
        .zip(&results)
        .filter(|(_, works)| **works == Some(true))
        .map(|(sample, _)| sample.weight)
        .sum();
    ShareScore {
        name: name.to_owned(),
        share: if total > 0.0 { working / total } else { 0.0 },
        samples: samples.len(),
        unknown: results.iter().filter(|r| r.is_none()).count(),
    }
}

fn worst_margin(site: &SiteScore) -> f64 {
    site.posts.iter().map(|p| p.governing_margin_db.value()).fold(f64::INFINITY, f64::min)
}

/// Tells each failing post which other usable sites would serve it.
fn name_other_sites(sites: &mut [SiteScore]) {
    let working: Vec<(String, Vec<bool>)> = sites
        .iter()
        .filter(|s| s.available)
        .map(|s| (s.site.clone(), s.posts.iter().map(|p| p.outcome.works()).collect()))
        .collect();
    for site in sites {
        for (index, post) in site.posts.iter_mut().enumerate() {
            if let Some(remedy) = &mut post.remedy {
                remedy.other_sites = working
                    .iter()
                    .filter(|(name, works)| *name != site.site && works.get(index) == Some(&true))
                    .map(|(name, _)| name.clone())
                    .collect();
            }
        }
    }
}
