//! The losses from one site to all that is served: what stays as it is while bodies,
//! surroundings and the method's error are corrected.

use rayon::prelude::*;

use super::demand::Kind;
use super::over_samples::over_samples;
use super::rank::{RankError, RankInputs};
use super::station_on;
use super::stretch::mean;
use perchline_link::{LinkModel, PathLosses, Terminal};
use perchline_plan::{Channel, Environment, Plan, Post, Site};
use perchline_terrain::{PlaceError, Terrain};

/// The losses from a site to every post, and to every point of areas and routes.
pub struct SiteLosses<'a> {
    site: &'a Site,
    /// One a post; nothing where terrain is missing on the way.
    posts: Vec<Option<PathLosses>>,
    /// One a sample of each area and route, in the demand's order.
    samples: Vec<Vec<Option<PathLosses>>>,
}

impl<'a> SiteLosses<'a> {
    /// Those of the station of `channel` on a site.
    ///
    /// # Errors
    /// [`RankError`] when the site or a post does not fit the terrain. A post behind a
    /// gap is no error: its losses are not known.
    pub fn of(
        inputs: &RankInputs<'_>,
        channel: &Channel,
        site: &'a Site,
    ) -> Result<Self, RankError> {
        let RankInputs { plan, terrain, propagator, demand, .. } = *inputs;
        let ends = Ends::of(plan, terrain, channel, site)?;
        let post = |post: &Post| {
            let model = ends.at_post(post)?;
            let carried = model.carried().at;
            match terrain.profile(ends.station.at, carried) {
                Ok(profile) => Ok(Some(model.losses_over(propagator, &profile, carried))),
                Err(PlaceError::Gap { .. }) => Ok(None),
                Err(source) => Err(RankError::Path {
                    from: format!("site \"{}\"", site.name),
                    to: format!("post \"{}\"", post.name),
                    source,
                }),
            }
        };
        let posts: Vec<Result<Option<PathLosses>, RankError>> =
            plan.posts.par_iter().map(post).collect();
        let wide = demand.targets.iter().filter(|target| target.kind != Kind::Post);
        let samples = wide.map(|target| {
            let model = ends.anywhere(target.environment);
            let samples = demand.samples_of(target);
            over_samples(terrain, ends.station.at, samples, |sample, profile| {
                model.losses_over(propagator, profile, sample.at)
            })
        });
        Ok(Self {
            site,
            samples: samples.collect(),
            posts: posts.into_iter().collect::<Result<_, _>>()?,
        })
    }

    /// The site.
    #[must_use]
    pub const fn site(&self) -> &'a Site {
        self.site
    }

    /// The site's weighted coverage, 0 to 1, as a ranking has it. The
    /// plan of `inputs` is the one that the losses are of, with other corrections.
    ///
    /// # Errors
    /// [`RankError`] when the site or a post does not fit the terrain.
    pub fn weighted_probability(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
    ) -> Result<f64, RankError> {
        let RankInputs { plan, terrain, demand, .. } = *inputs;
        let ends = Ends::of(plan, terrain, channel, self.site)?;
        let demand = demand.on_channel(plan, channel);
        let post = |(post, losses): (&Post, &Option<PathLosses>)| {
            let model = ends.at_post(post)?;
            let model = model.at(model.carried().at);
            let chance = |losses| model.probability(&model.assess(losses));
            Ok(losses.as_ref().map_or(0.0, chance))
        };
        let posts = plan.posts.iter().zip(&self.posts).map(post);
        let mut probabilities = posts.collect::<Result<Vec<f64>, RankError>>()?;
        let wide = demand.targets.iter().filter(|target| target.kind != Kind::Post);
        probabilities.extend(wide.zip(&self.samples).map(|(target, losses)| {
            let samples = demand.samples_of(target);
            let model = ends.anywhere(target.environment);
            let chances = samples.iter().zip(losses).map(|(sample, losses)| {
                Some(model.probability(&model.at(sample.at).assess(losses.as_ref()?)))
            });
            mean(samples, chances)
        }));
        let weights = demand.targets.iter().map(|target| target.weight);
        let weighted: f64 = weights.zip(probabilities).map(|(w, p)| w * p).sum();
        Ok(weighted / demand.total_weight())
    }
}

/// The ends of links from a site.
struct Ends<'a> {
    plan: &'a Plan,
    terrain: &'a Terrain,
    channel: &'a Channel,
    site: &'a Site,
    station: Terminal,
}

impl<'a> Ends<'a> {
    fn of(
        plan: &'a Plan,
        terrain: &'a Terrain,
        channel: &'a Channel,
        site: &'a Site,
    ) -> Result<Self, RankError> {
        let station = station_on(plan, channel, site, terrain)?;
        Ok(Self { plan, terrain, channel, site, station })
    }

    fn at_post(&self, post: &Post) -> Result<LinkModel, RankError> {
        let carried = Terminal::at_post(self.plan, self.channel, post, self.terrain)?;
        Ok(LinkModel::new(self.plan, self.channel, &self.station, &carried))
    }

    fn anywhere(&self, environment: Option<Environment>) -> LinkModel {
        let carried = Terminal::anywhere(self.plan, self.channel, environment, self.site.at);
        LinkModel::new(self.plan, self.channel, &self.station, &carried)
    }
}
