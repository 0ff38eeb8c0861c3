//! Every candidate site against every spot, each over its own exact path.

use crate::trackers::TrackerInputs;
use std::sync::atomic::{AtomicBool, Ordering};

use ndarray::{Array2, ArrayView1, Axis};
use rayon::prelude::*;

use crate::assumed::{margins_by, with_duplexers};
use crate::demand::{Demand, Kind, Target};
use crate::{RankError, station_on};
use perchline_link::{LinkModel, Outcome, Propagator, Spread, Terminal};
use perchline_plan::{Channel, Plan, Site};
use perchline_power::sharing::DUPLEXERS_TRIED;
use perchline_profile::Profile;
use perchline_terrain::{PlaceError, Terrain};
use perchline_units::{Db, Position};

/// Parts into which a site's spots are cut for the threads, and the fewest spots
/// of a part.
const PARTS: usize = 16;
const FEWEST: usize = 64;

/// What one site is to one spot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// Probability that both ways work, 0 to 1; none where terrain is missing
    /// on the way.
    pub probability: f64,
    /// Median level of talk-in over what it needs, dB; NaN where terrain is
    /// missing on the way.
    pub talk_in_over: f32,
    /// The same of talk-out.
    pub talk_out_over: f32,
    /// What it comes to.
    pub outcome: Outcome,
}

impl Contact {
    const UNKNOWN: Self = Self {
        probability: 0.0,
        talk_in_over: f32::NAN,
        talk_out_over: f32::NAN,
        outcome: Outcome::Unknown,
    };
}

/// What every candidate site is to every spot.
#[derive(Debug, Clone)]
pub struct Matrix {
    /// A row a site in the plan's order, a column a spot. A site that is not
    /// available was not asked.
    pub contacts: Array2<Contact>,
    /// How levels scatter around their medians, one a spot: a post indoors has
    /// a wider spread than the others.
    pub spreads: Vec<Spread>,
    /// Share of spots that is wanted.
    pub reliability: f64,
    /// The same contacts with each duplexer that is tried; none where the plan states
    /// one.
    pub with_duplexers: Vec<(Db, Array2<Contact>)>,
}

/// What a site is to a spot as the plan has it, then with each duplexer that is tried.
type Contacts = [Contact; 1 + DUPLEXERS_TRIED.len()];

/// What a matrix is made from.
#[derive(Clone, Copy)]
pub struct Inputs<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Its terrain.
    pub terrain: &'a Terrain,
    /// The propagation method.
    pub propagator: &'a Propagator,
    /// What is to be served.
    pub demand: &'a Demand,
    /// Called once for each site that is done.
    pub site_done: &'a (dyn Fn() + Sync),
    /// Set to end early.
    pub stop: &'a AtomicBool,
}

impl Matrix {
    /// Asks every site that may be used for every spot.
    ///
    /// # Errors
    /// [`RankError`] when a site or post does not fit the terrain or the run is
    /// stopped. A spot behind a gap is no error: it counts as not reached.
    pub fn of(inputs: &Inputs<'_>, channel: &Channel, demand: &Demand) -> Result<Self, RankError> {
        let plan = inputs.plan;
        let shape = (plan.sites.len(), demand.samples.len());
        let unknown = || Array2::from_elem(shape, Contact::UNKNOWN);
        let mut contacts = unknown();
        let mut desensed: Vec<(Db, Array2<Contact>)> = Vec::new();
        let posts = plan
            .posts
            .iter()
            .map(|post| Terminal::at_post(plan, channel, post, inputs.terrain))
            .collect::<Result<Vec<_>, _>>()?;
        let mut known: Option<(Vec<Spread>, f64)> = None;
        let rows = contacts.axis_iter_mut(Axis(0)).enumerate();
        for (site, (number, mut row)) in plan.sites.iter().zip(rows) {
            let station = station_on(plan, channel, site, inputs.terrain)?;
            let with_duplexers = with_duplexers(plan, channel, &station);
            for (place, tried) in with_duplexers.iter().enumerate() {
                if place == desensed.len() {
                    desensed.push((tried.isolation(), unknown()));
                }
            }
            let models: Vec<TargetModels> = demand
                .targets
                .iter()
                .enumerate()
                .map(|(index, target)| {
                    let anywhere;
                    let carried = match (target.kind, posts.get(index)) {
                        (Kind::Post, Some(post)) => post,
                        _ => {
                            let environment = target.environment;
                            anywhere = Terminal::anywhere(plan, channel, environment, site.at);
                            &anywhere
                        }
                    };
                    TargetModels {
                        own: LinkModel::new(plan, channel, &station, carried),
                        desensed: with_duplexers
                            .iter()
                            .map(|tried| tried.model(plan, channel, carried))
                            .collect(),
                    }
                })
                .collect();
            known.get_or_insert_with(|| {
                let each = demand.targets.iter().zip(&models);
                let spreads = each.flat_map(|(t, model)| vec![model.own.spread(); t.samples.len()]);
                (spreads.collect(), plan.prediction.reliability)
            });
            if !site.available {
                continue;
            }
            let found = inputs.contacts(site, &models, demand)?;
            for (cell, [own, ..]) in row.iter_mut().zip(&found) {
                *cell = *own;
            }
            for (place, (_, contacts)) in desensed.iter_mut().enumerate() {
                let row = contacts.row_mut(number);
                for (cell, contact) in row.into_iter().zip(&found) {
                    *cell = contact.get(1 + place).copied().unwrap_or(Contact::UNKNOWN);
                }
            }
            if inputs.stop.load(Ordering::Relaxed) {
                return Err(RankError::Stopped);
            }
            (inputs.site_done)();
        }
        let (spreads, reliability) = known.ok_or(RankError::Stopped)?;
        Ok(Self { contacts, spreads, reliability, with_duplexers: desensed })
    }

    /// The same with each duplexer that is tried, as if the plan stated it.
    pub(super) fn by_duplexer(&self) -> impl Iterator<Item = (Db, Self)> + '_ {
        self.with_duplexers.iter().map(|(isolation, contacts)| {
            let with = Self {
                contacts: contacts.clone(),
                spreads: self.spreads.clone(),
                reliability: self.reliability,
                with_duplexers: Vec::new(),
            };
            (*isolation, with)
        })
    }

    /// Location allowance at a spot.
    #[must_use]
    pub fn allowance(&self, spot: usize) -> Db {
        self.spreads.get(spot).map_or(Db::new(0.0), |s| s.allowance(self.reliability))
    }

    /// What a site, by its place in the plan, is to every spot.
    #[must_use]
    pub fn site(&self, site: usize) -> Option<ArrayView1<'_, Contact>> {
        (site < self.contacts.nrows()).then(|| self.contacts.row(site))
    }

    /// Probabilities with a row a spot and a column a site.
    #[must_use]
    pub fn chances(&self) -> Array2<f64> {
        let shape = (self.contacts.ncols(), self.contacts.nrows());
        Array2::from_shape_fn(shape, |(spot, site)| {
            self.contacts.get((site, spot)).map_or(0.0, |contact| contact.probability)
        })
    }
}

impl<'a> Inputs<'a> {
    /// What a study of trackers needs of them.
    pub(super) fn siting(&self) -> TrackerInputs<'a> {
        let Self { plan, terrain, propagator, demand, stop, .. } = *self;
        TrackerInputs { plan, terrain, propagator, demand, stop }
    }

    /// What a site is to every spot; a model a target.
    fn contacts(
        &self,
        site: &Site,
        models: &[TargetModels],
        demand: &Demand,
    ) -> Result<Vec<Contacts>, RankError> {
        let spots: Vec<(&Target, &TargetModels, Position)> = demand
            .targets
            .iter()
            .zip(models)
            .flat_map(|(target, model)| {
                let spots = demand.samples.get(target.samples.clone()).unwrap_or_default();
                spots.iter().map(move |spot| {
                    // A post inside a footprint stands on the street beside it.
                    let is_post = target.kind == Kind::Post;
                    (target, model, if is_post { model.own.carried().at } else { spot.at })
                })
            })
            .collect();
        let of_part = |part: &[(&Target, &TargetModels, Position)]| {
            let failed = |target: &Target, source| RankError::Path {
                from: format!("site \"{}\"", site.name),
                to: target.name.clone(),
                source,
            };
            let Some((first, ..)) = part.first() else { return Ok(Vec::new()) };
            let mut tracer =
                self.terrain.tracer(site.at).map_err(|source| failed(first, source))?;
            let mut profile = Profile::default();
            part.iter()
                .map(|(target, model, at)| match tracer.trace(*at, &mut profile) {
                    _ if self.stop.load(Ordering::Relaxed) => Err(RankError::Stopped),
                    Ok(()) => Ok(contact(self.propagator, model, &profile, *at)),
                    Err(PlaceError::Gap { .. }) => Ok(UNKNOWN),
                    Err(PlaceError::Outside { .. }) if target.kind != Kind::Post => Ok(UNKNOWN),
                    Err(source) => Err(failed(target, source)),
                })
                .collect::<Result<Vec<_>, _>>()
        };
        let size = spots.len().div_ceil(PARTS).max(FEWEST);
        let parts = spots.par_chunks(size).map(of_part).collect::<Result<Vec<_>, _>>()?;
        Ok(parts.into_iter().flatten().collect())
    }
}

/// The link of a site and a target.
struct TargetModels {
    /// As the plan has it.
    own: LinkModel,
    /// With each duplexer that is tried.
    desensed: Vec<LinkModel>,
}

const UNKNOWN: Contacts = [Contact::UNKNOWN; 1 + DUPLEXERS_TRIED.len()];

/// One path.
fn contact(
    propagator: &Propagator,
    models: &TargetModels,
    profile: &Profile,
    at: Position,
) -> Contacts {
    let own = &models.own;
    let assessment = own.assess_over(propagator, profile, at);
    let mut found = UNKNOWN;
    let each = [own].into_iter().chain(&models.desensed);
    for (contact, model) in found.iter_mut().zip(each) {
        let margins = margins_by(own, model, &assessment);
        let (talk_in, talk_out) = model.over_needed(&margins);
        *contact = Contact {
            probability: model.probability(&margins),
            talk_in_over: talk_in.value() as f32,
            talk_out_over: talk_out.value() as f32,
            outcome: model.outcome(&margins),
        };
    }
    found
}
