//! How much mast a site needs: coverage against the height of the antenna.

use std::sync::atomic;

use rayon::prelude::*;
use serde::Serialize;

use perchline_coverage::sweep::{MapShare, map_shares};
use perchline_coverage::{cover, sweep_falls_short};
use perchline_link::{LinkModel, Outcome, Propagator, Terminal};
use perchline_plan::{Channel, Environment, FeedLine, Site};
use perchline_power::mast::line_forbids;
use perchline_profile::Profile;
use perchline_terrain::PlaceError;
use perchline_units::{Db, Metres, Position};

use super::demand::{Kind, Sample, Target};
use super::over_samples::over_samples;
use super::rank::{RankError, RankInputs};
use super::station_on;
use super::stretch::{Contact, share_score};

/// Steps in which heights are tried: a mast is set up no finer.
pub const STEP: Metres = Metres::new(1.0);

/// Weighted probability, 0 to 1, below which another metre is said to add
/// little: 1 of 100.
pub const WORTH: f64 = 0.01;

/// How one site does with masts of different heights.
#[derive(Debug, Clone, Serialize)]
pub struct MastStudy {
    /// The site's name.
    pub site: String,
    /// Whether the plan lets it be used.
    pub available: bool,
    /// Height of the roof or ground that the mast stands on, above the ground.
    pub roof_above_ground_m: Metres,
    /// The mast that the plan gives the site.
    pub planned_mast_m: Metres,
    /// One entry a height, lowest first; none for a height that the site's power line
    /// refuses.
    pub heights: Vec<MastScore>,
    /// The nearest power line, where the plan states it for the site.
    pub power_line_m: Option<Metres>,
    /// The least of the heights asked for that the line refuses, and with it all that
    /// are higher: an antenna there could reach the line in its fall
    /// ([`perchline_power::mast::clear_of_lines`]).
    pub refused_from_m: Option<Metres>,
    /// The least height beyond which no single further step adds
    /// [`WORTH`] of weighted probability or more.
    pub knee_m: Metres,
    /// The least height at which every must-have post works both ways, if any
    /// of those tried does; zero where the plan has none.
    pub all_must_posts_from_m: Option<Metres>,
    /// Must-have posts that do not work at the greatest height that is not refused;
    /// none where every height is.
    pub still_missing: Vec<Missing>,
}

/// How a site does with one mast.
#[derive(Debug, Clone, Serialize)]
pub struct MastScore {
    /// Height of the antenna above the roof.
    pub mast_m: Metres,
    /// Weighted coverage: the probability of both directions over posts, areas and routes,
    /// 0 to 1, as a ranking has it.
    pub weighted_probability: f64,
    /// Whether every must-have post works both ways.
    pub must_posts_met: bool,
    /// Number of posts that work both ways.
    pub posts_covered: usize,
    /// Share of the map's known cells that work both ways, 0 to 1; nothing where it was
    /// not asked for.
    pub map_share: Option<f64>,
}

/// A must-have post that no height serves.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Missing {
    /// The post's name.
    pub post: String,
    /// What both ways lack at the greatest height; nothing where terrain is
    /// missing on the way.
    pub missing_db: Option<Db>,
}

/// Whether the share of the map is worked out at each height. No other figure of a study
/// depends on it, and it takes nearly all of the time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MapShares {
    /// At every height.
    Counted,
    /// At none.
    LeftOut,
}

/// The heights that are tried, from the roof itself up to `highest` in steps
/// of [`STEP`].
#[must_use]
pub fn heights(highest: Metres) -> Vec<Metres> {
    let steps = (highest.value() / STEP.value() + 1e-9).floor().clamp(1.0, 1000.0) as u32;
    (0..=steps).map(|step| STEP * f64::from(step)).collect()
}

/// How `site` does with each of the masts of `heights` (lowest first, above the
/// roof) for the station of `channel`.
///
/// Every post, area and route is scored as a ranking does, on exact paths, but
/// each path's profile is traced once for all heights; the map is one sweep. Heights
/// from which the mast could fall into the power line that the plan states for the
/// site are refused: nothing is computed for them.
///
/// # Errors
/// [`RankError`] when the site or a post does not fit the terrain or the run
/// is stopped. A post behind a gap is no error: it does not work.
pub fn mast_study(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    site: &Site,
    heights: &[Metres],
    map: MapShares,
) -> Result<MastStudy, RankError> {
    let RankInputs { plan, terrain, propagator, demand, stop, .. } = *inputs;
    let refused_from_m = heights.iter().copied().find(|mast| line_forbids(site, *mast));
    let allowed = heights.iter().take_while(|mast| !line_forbids(site, **mast)).count();
    let heights = heights.get(..allowed).unwrap_or_default();
    let demand = demand.on_channel(plan, channel);
    let post_targets: Vec<&Target> = demand.of_kind(Kind::Post).collect();
    let stations = stations(inputs, channel, site, heights)?;
    let family = |carried: &Terminal| -> Vec<LinkModel> {
        stations.iter().map(|s| LinkModel::new(plan, channel, s, carried)).collect()
    };
    let anywhere = |environment: Option<Environment>| {
        family(&Terminal::anywhere(plan, channel, environment, site.at))
    };
    let shares = match map {
        MapShares::Counted => shares_of_map(inputs, &anywhere(None)),
        MapShares::LeftOut => Ok(Vec::new()),
    };
    let shares = shares.map_err(|source| RankError::Path {
        from: site.name.clone(),
        to: "the map".to_owned(),
        source,
    })?;
    if stop.load(atomic::Ordering::Relaxed) {
        return Err(RankError::Stopped);
    }
    let posts: Vec<Result<Option<Vec<Heard>>, RankError>> = plan
        .posts
        .par_iter()
        .map(|post| {
            let carried = Terminal::at_post(plan, channel, post, terrain)?;
            let path = |source| RankError::Path {
                from: format!("site \"{}\"", site.name),
                to: format!("post \"{}\"", post.name),
                source,
            };
            match terrain.profile(site.at, carried.at) {
                Ok(profile) => {
                    Ok(Some(at_every_height(propagator, &family(&carried), &profile, carried.at)))
                }
                Err(PlaceError::Gap { .. }) => Ok(None),
                Err(source) => Err(path(source)),
            }
        })
        .collect();
    // Of several that fail the first is told.
    let posts = posts.into_iter().collect::<Result<Vec<_>, RankError>>()?;
    let shared = |environment, samples: &[Sample]| {
        let models = anywhere(environment);
        // A sample off the terrain is not known, as in a ranking.
        let at_samples = over_samples(terrain, site.at, samples, |sample, profile| {
            at_every_height(propagator, &models, profile, sample.at)
        });
        (0..heights.len())
            .map(|height| {
                let contacts: Vec<Contact> = at_samples
                    .iter()
                    .map(|all| all.as_ref()?.get(height).map(|h| (h.probability, h.outcome)))
                    .collect();
                share_score("", samples, &contacts).probability
            })
            .collect::<Vec<f64>>()
    };
    let groups: Vec<(f64, Vec<f64>)> = demand
        .targets
        .iter()
        .filter(|target| target.kind != Kind::Post)
        .map(|target| (target.weight, shared(target.environment, demand.samples_of(target))))
        .collect();
    let total = demand.total_weight();
    let scores: Vec<MastScore> = heights
        .iter()
        .enumerate()
        .map(|(index, mast)| {
            let heard = |post: &Option<Vec<Heard>>| post.as_ref()?.get(index).copied();
            let from_posts: f64 = post_targets
                .iter()
                .zip(&posts)
                .map(|(p, all)| p.weight * heard(all).map_or(0.0, |h| h.probability))
                .sum();
            let from_groups: f64 = groups.iter().filter_map(|(w, p)| Some(w * p.get(index)?)).sum();
            let works = |all: &Option<Vec<Heard>>| heard(all).is_some_and(|h| h.outcome.works());
            MastScore {
                mast_m: *mast,
                weighted_probability: (from_posts + from_groups) / total,
                must_posts_met: post_targets
                    .iter()
                    .zip(&posts)
                    .all(|(p, all)| !p.must || works(all)),
                posts_covered: post_targets
                    .iter()
                    .zip(&posts)
                    .filter(|(p, all)| p.weight > 0.0 && works(all))
                    .count(),
                map_share: shares.get(index).map(|share| share.share()),
            }
        })
        .collect();
    let still_missing = post_targets
        .iter()
        .zip(&posts)
        .filter(|(post, _)| post.must && !heights.is_empty())
        .filter_map(|(post, all)| {
            let last = all.as_ref().and_then(|all| all.last());
            let missing_db = last.map(|heard| heard.missing);
            (!last.is_some_and(|heard| heard.outcome.works()))
                .then(|| Missing { post: post.name.clone(), missing_db })
        })
        .collect();
    Ok(MastStudy {
        site: site.name.clone(),
        available: site.available,
        roof_above_ground_m: station_on(plan, channel, site, terrain)?.antenna - site.mast,
        planned_mast_m: site.mast,
        power_line_m: site.power_line,
        refused_from_m,
        knee_m: knee(&scores),
        all_must_posts_from_m: scores.iter().find(|s| s.must_posts_met).map(|s| s.mast_m),
        heights: scores,
        still_missing,
    })
}

/// The least height beyond which no step adds [`WORTH`] or more.
fn knee(scores: &[MastScore]) -> Metres {
    let steps = scores.iter().zip(scores.iter().skip(1));
    let last = steps
        .filter(|(low, high)| high.weighted_probability - low.weighted_probability >= WORTH)
        .map(|(_, high)| high.mast_m)
        .next_back();
    last.or(scores.first().map(|s| s.mast_m)).unwrap_or(Metres::new(0.0))
}

/// The station with each mast. Where the plan says so its cable grows with it.
fn stations(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    site: &Site,
    heights: &[Metres],
) -> Result<Vec<Terminal>, RankError> {
    let plan = inputs.plan;
    heights
        .iter()
        .map(|mast| {
            let site_with = Site { mast: *mast, ..site.clone() };
            let station = station_on(plan, channel, &site_with, inputs.terrain)?;
            Ok(if plan.masts.feed_line_grows {
                with_longer_line(station, *mast - site.mast)
            } else {
                station
            })
        })
        .collect()
}

/// The same station with a cable longer by `more`; no shorter than a metre.
fn with_longer_line(mut station: Terminal, more: Metres) -> Terminal {
    if let FeedLine::Cable { cable, length } = station.radio.feed_line {
        let length = (length + more).max(Metres::new(1.0));
        station.radio.feed_line = FeedLine::Cable { cable, length };
    }
    station
}

/// How much of the map works with each of the models: by one sweep, or a map a height
/// where houses or the sea count that the sweep does not know.
fn shares_of_map(
    inputs: &RankInputs<'_>,
    models: &[LinkModel],
) -> Result<Vec<MapShare>, PlaceError> {
    let RankInputs { terrain, propagator, grid, row_done, stop, .. } = *inputs;
    if !models.iter().any(|model| sweep_falls_short(terrain, model, propagator)) {
        return map_shares(terrain, grid, models, propagator, row_done, stop);
    }
    let share = |model| {
        let map = cover(terrain, grid, model, propagator, row_done, stop)?;
        let working = map.outcome.iter().filter(|outcome| outcome.works()).count();
        Ok(MapShare { working, known: map.outcome.len() - map.unknown_cells })
    };
    models.iter().map(share).collect()
}

/// A link at one height.
#[derive(Debug, Clone, Copy)]
struct Heard {
    probability: f64,
    outcome: Outcome,
    missing: Db,
}

/// The link to one place by every station of a family over one profile.
fn at_every_height(
    propagator: &Propagator,
    models: &[LinkModel],
    profile: &Profile,
    to: Position,
) -> Vec<Heard> {
    let heard = models.iter().map(|model| {
        let assessment = model.assess_over(propagator, profile, to);
        let (talk_in, talk_out) = model.over_needed(&assessment);
        Heard {
            probability: model.probability(&assessment),
            outcome: model.outcome(&assessment),
            missing: assessment.spread.missing(talk_in, talk_out, model.reliability()),
        }
    });
    heard.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(values: &[f64]) -> Vec<MastScore> {
        let score = |(index, value): (usize, &f64)| MastScore {
            mast_m: STEP * index as f64,
            weighted_probability: *value,
            must_posts_met: false,
            posts_covered: 0,
            map_share: None,
        };
        values.iter().enumerate().map(score).collect()
    }

    #[test]
    fn the_knee_is_where_no_further_metre_is_worth_it() {
        assert_eq!(knee(&curve(&[0.5, 0.6, 0.7, 0.705, 0.709])), Metres::new(2.0));
        // A step that clears an edge late counts, however flat it was before.
        assert_eq!(knee(&curve(&[0.5, 0.501, 0.502, 0.6, 0.6])), Metres::new(3.0));
        assert_eq!(knee(&curve(&[0.9, 0.901, 0.899])), Metres::new(0.0));
        assert_eq!(knee(&curve(&[0.1, 0.2, 0.3])), Metres::new(2.0));
        assert_eq!(knee(&[]), Metres::new(0.0));
    }

    #[test]
    fn heights_run_from_the_roof_to_the_limit() {
        let all = heights(Metres::new(15.0));
        assert_eq!(
            (all.len(), all.first(), all.last()),
            (16, Some(&Metres::new(0.0)), Some(&Metres::new(15.0)))
        );
        assert_eq!(heights(Metres::new(3.7)).last(), Some(&Metres::new(3.0)));
    }
}
