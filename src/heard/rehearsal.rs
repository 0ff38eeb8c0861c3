//! Where test calls before the event would teach most about which site is best.

use std::sync::atomic::AtomicBool;

use rayon::prelude::*;
use serde::Serialize;

use super::estimate::{Candidate, Estimate, EstimateError, estimate, plan_tests, variance_after};
use super::learn::priors;
use perchline_link::{LinkModel, Propagator, Terminal, study};
use perchline_plan::{CARRIES, Calibration, Carry, Channel, Plan, Site, Surroundings};
use perchline_siting::demand::Demand;
use perchline_siting::{RankError, RankInputs, score_without_map, station_on};
use perchline_terrain::{Grid, Terrain};
use perchline_units::{Db, Metres, Position};

/// Metres between two places on a route that are thought of.
const ALONG_ROUTES: f64 = 120.0;
/// Metres between two places in the open that are thought of.
const GRID: Metres = Metres::new(200.0);
/// Two places of the list are no nearer to each other.
const APART: Metres = Metres::new(150.0);
/// Probabilities between which the outcome of a call is open.
const OPEN: std::ops::RangeInclusive<f64> = 0.02..=0.98;
/// Change of a parameter by which its weight is found.
const STEP: f64 = 1.0;

/// A place for a test call.
#[derive(Debug, Clone, Serialize)]
pub struct TestPlace {
    /// What it is: a post's name, or so far along a route.
    pub name: String,
    /// Where.
    pub at: Position,
    /// Probability, 0 to 1, that the weaker way works there.
    pub probability: f64,
    /// The weaker way's predicted median over what is needed.
    pub margin_db: Db,
    /// What stands around it.
    pub surroundings: &'static str,
}

/// A list of places for test calls, in the order of a walk.
#[derive(Debug, Clone, Serialize)]
pub struct Rehearsal {
    /// The channel.
    pub channel: String,
    /// The site to call: the best.
    pub site: String,
    /// The site that it is held against: the next best; nothing where there is
    /// none.
    pub rival: Option<String>,
    /// By how much the best leads in weighted contact, 0 to 1.
    pub lead: f64,
    /// Standard deviation of that lead before any call.
    pub sd_before: f64,
    /// The same after these calls, whatever they bring.
    pub sd_after: f64,
    /// The places.
    pub places: Vec<TestPlace>,
}

/// Why there is no list.
#[derive(Debug, thiserror::Error)]
pub enum RehearsalError {
    /// Sites cannot be scored.
    #[error(transparent)]
    Rank(#[from] RankError),
    /// The statistics fail.
    #[error(transparent)]
    Estimate(#[from] EstimateError),
    /// There is nothing to choose.
    #[error("the plan has no site that may be used")]
    NoSite,
}

/// What a rehearsal is planned from.
pub struct Task<'a> {
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
    /// Set to end early.
    pub stop: &'a AtomicBool,
}

impl Task<'_> {
    /// The `count` places whose calls to the best site lessen most what is not
    /// known of its lead over the next best: posts, and places along routes and
    /// roads; where too few of them have an open outcome, open ground too.
    /// Fewer where there are no more.
    ///
    /// The lead depends on the offsets, body losses and the model's error that
    /// reports could correct; each is as uncertain as before any report, and
    /// the lead's change with each is found by changing it.
    ///
    /// # Errors
    /// [`RehearsalError`] when no site can be scored.
    pub fn plan(&self, channel: &Channel, count: usize) -> Result<Rehearsal, RehearsalError> {
        let (best, rival) = self.best_two(channel)?;
        let held = estimate(&[], &priors(self.plan))?;
        let gradient = self.gradient(channel, best, rival)?;
        let lead = self.lead(self.plan, channel, best, rival)?;
        let station =
            station_on(self.plan, channel, best, self.terrain).map_err(RankError::from)?;
        let mut places = self.places(channel, &station);
        if open_and_apart(&places, count) < count {
            places.extend(self.open_ground(channel, &station));
        }
        let candidates: Vec<Candidate> = places.iter().map(|(_, candidate)| *candidate).collect();
        // All in the order in which they help, then those that lie apart.
        let order = plan_tests(&candidates, &gradient, &held, candidates.len().min(count * 8))?;
        // A call whose outcome is sure teaches nothing: such places are left out.
        let open = |index: &usize| {
            places.get(*index).is_some_and(|(place, _)| OPEN.contains(&place.probability))
        };
        let mut chosen: Vec<usize> = Vec::new();
        for index in order.into_iter().filter(open) {
            let Some((place, _)) = places.get(index) else { continue };
            let near = |other: &usize| {
                places.get(*other).is_some_and(|(o, _)| o.at.distance(place.at) < APART)
            };
            if chosen.len() < count && !chosen.iter().any(near) {
                chosen.push(index);
            }
        }
        let taken: Vec<Candidate> =
            chosen.iter().filter_map(|i| candidates.get(*i).copied()).collect();
        let deviation = |list: &[Candidate], held: &Estimate| {
            variance_after(list, &gradient, held).map(|v| v.max(0.0).sqrt())
        };
        let places = chosen.iter().filter_map(|i| places.get(*i)).map(|(p, _)| p.clone());
        Ok(Rehearsal {
            channel: channel.name.clone(),
            site: best.name.clone(),
            rival: rival.map(|site| site.name.clone()),
            lead,
            sd_before: deviation(&[], &held)?,
            sd_after: deviation(&taken, &held)?,
            places: walk(places.collect(), self.start()),
        })
    }

    fn score(&self, plan: &Plan, channel: &Channel, site: &Site) -> Result<f64, RankError> {
        let propagator = Propagator::new(&plan.prediction);
        let inputs = RankInputs {
            plan,
            terrain: self.terrain,
            propagator: &propagator,
            demand: self.demand,
            grid: self.grid,
            row_done: &|| (),
            stop: self.stop,
        };
        Ok(score_without_map(&inputs, channel, site, 0.0)?.weighted_probability)
    }

    /// The best site and the next best of those that may be used.
    fn best_two(&self, channel: &Channel) -> Result<(&Site, Option<&Site>), RehearsalError> {
        let mut scored = Vec::new();
        for site in self.plan.sites.iter().filter(|s| s.available) {
            scored.push((self.score(self.plan, channel, site)?, site));
        }
        scored.sort_by(|(a, _), (b, _)| b.total_cmp(a));
        let mut sites = scored.into_iter().map(|(_, site)| site);
        let best = sites.next().ok_or(RehearsalError::NoSite)?;
        Ok((best, sites.next()))
    }

    /// By how much the best leads; its own score where there is no other.
    fn lead(
        &self,
        plan: &Plan,
        channel: &Channel,
        best: &Site,
        rival: Option<&Site>,
    ) -> Result<f64, RankError> {
        let other = match rival {
            Some(site) => self.score(plan, channel, site)?,
            None => 0.0,
        };
        Ok(self.score(plan, channel, best)? - other)
    }

    /// How the lead changes with each parameter: offsets, body losses, and the
    /// logarithm of the model's error.
    fn gradient(
        &self,
        channel: &Channel,
        best: &Site,
        rival: Option<&Site>,
    ) -> Result<Vec<f64>, RankError> {
        let priors = priors(self.plan);
        let sigma = priors.sigma.median;
        let start = self.plan.prediction.calibration.clone().unwrap_or(Calibration::NONE);
        let with = |change: &dyn Fn(&mut Calibration, f64)| -> Result<f64, RankError> {
            let mut lead = [0.0; 2];
            for (lead, sign) in lead.iter_mut().zip([-STEP, STEP]) {
                let mut calibration = start.clone();
                calibration.model_error = Some(sigma);
                change(&mut calibration, sign);
                let mut plan = self.plan.clone();
                plan.prediction.calibrate(calibration);
                *lead = self.lead(&plan, channel, best, rival)?;
            }
            let [down, up] = lead;
            Ok((up - down) / (2.0 * STEP))
        };
        let mut gradient = Vec::new();
        for index in 0..Surroundings::ALL.len() {
            gradient.push(with(&|calibration, step| {
                if let Some(offset) = calibration.offsets.get_mut(index) {
                    *offset += Db::new(step);
                }
            })?);
        }
        for index in 0..CARRIES.len() {
            gradient.push(with(&|calibration, step| {
                if let Some(body) = calibration.bodies.get_mut(index) {
                    *body += Db::new(step);
                }
            })?);
        }
        // A step of the logarithm is a factor; a tenth of one is small enough.
        let by_ln = with(&|calibration, step| {
            calibration.model_error = Some(sigma * (0.1 * step).exp());
        })?;
        gradient.push(by_ln / 0.1);
        Ok(gradient)
    }

    /// Places that are thought of, with the weaker way from each.
    fn places(&self, channel: &Channel, station: &Terminal) -> Vec<(TestPlace, Candidate)> {
        let posts = self.plan.posts.iter().filter_map(|post| {
            let end = Terminal::at_post(self.plan, channel, post, self.terrain).ok()?;
            self.place(channel, station, post.name.clone(), &end)
        });
        let routes = self.plan.routes.iter().map(|route| (route.name.as_str(), &route.line));
        let roads = self.plan.search.roads.iter().flat_map(|roads| &roads.lines);
        let along = routes.chain(roads.map(|line| ("a road", line))).flat_map(|(name, line)| {
            every(line).into_iter().filter_map(move |(walked, at)| {
                let end = Terminal::standing(self.plan, channel, "", at, self.terrain).ok()?;
                let along = self.plan.units.distance(walked);
                self.place(channel, station, format!("{name}, {along} along"), &end)
            })
        });
        posts.chain(along).collect()
    }

    /// Places in the open all over the map, for want of better ones.
    fn open_ground(&self, channel: &Channel, station: &Terminal) -> Vec<(TestPlace, Candidate)> {
        let (Ok(projector), Ok((side, _))) = (self.grid.projector(), self.grid.cell_size()) else {
            return Vec::new();
        };
        // Some dozen cells, or one.
        let step = (GRID.value() / side.value()).round().clamp(1.0, 1000.0) as usize;
        let cells: Vec<(f64, f64)> = (step / 2..self.grid.rows())
            .step_by(step)
            .flat_map(|row| {
                (step / 2..self.grid.columns())
                    .step_by(step)
                    .map(move |column| (column as f64 + 0.5, row as f64 + 0.5))
            })
            .collect();
        let Ok(places) = projector.to_positions(&cells) else { return Vec::new() };
        places
            .par_iter()
            .filter(|at| self.terrain.building(**at).is_none() && !self.terrain.is_afloat(**at))
            .filter_map(|at| {
                let end = Terminal::standing(self.plan, channel, "", *at, self.terrain).ok()?;
                let near = self.plan.posts.iter().min_by(|a, b| {
                    a.at.distance(*at).value().total_cmp(&b.at.distance(*at).value())
                })?;
                let away = self.plan.units.distance(near.at.distance(*at));
                let name = format!("open ground, {away} from {}", near.name);
                self.place(channel, station, name, &end)
            })
            .collect()
    }

    fn place(
        &self,
        channel: &Channel,
        station: &Terminal,
        name: String,
        end: &Terminal,
    ) -> Option<(TestPlace, Candidate)> {
        let model = LinkModel::new(self.plan, channel, station, end);
        let study = study(self.terrain, self.propagator, &model, channel).ok()?;
        let weaker = study.budgets.governing_budget();
        let margin = weaker.over_needed();
        let candidate = Candidate {
            class: end.surroundings().index(),
            carry: end.table_carry().map(Carry::index),
            margin,
            local: model.spread().without(model.model_error()),
        };
        let place = TestPlace {
            name,
            at: end.at,
            probability: weaker.share_of_locations,
            margin_db: margin,
            surroundings: end.surroundings().word(),
        };
        Some((place, candidate))
    }

    /// Where the walk begins: net control, or the first post.
    fn start(&self) -> Option<Position> {
        let posts = &self.plan.posts;
        posts.iter().find(|p| p.net_control).or(posts.first()).map(|p| p.at)
    }
}

/// Places along a line, a fixed distance apart, with how far along they are.
fn every(line: &geo::LineString) -> Vec<(Metres, Position)> {
    let places: Vec<Position> =
        line.points().filter_map(|p| Position::from_point(p).ok()).collect();
    let (mut found, mut walked, mut next) = (Vec::new(), 0.0, ALONG_ROUTES);
    for pair in places.windows(2) {
        let [from, to] = pair else { continue };
        let length = from.distance(*to).value();
        while next <= walked + length {
            if let Ok(at) = from.on_the_way(*to, (next - walked) / length) {
                found.push((Metres::new(next), at));
            }
            next += ALONG_ROUTES;
        }
        walked += length;
    }
    found
}

/// How many of the places have an open outcome and lie apart, up to `most`.
fn open_and_apart(places: &[(TestPlace, Candidate)], most: usize) -> usize {
    let mut found: Vec<Position> = Vec::new();
    for (place, _) in places.iter().filter(|(p, _)| OPEN.contains(&p.probability)) {
        if found.len() < most && !found.iter().any(|at| at.distance(place.at) < APART) {
            found.push(place.at);
        }
    }
    found.len()
}

/// The places in the order of a walk: always to the nearest that is left.
fn walk(mut places: Vec<TestPlace>, start: Option<Position>) -> Vec<TestPlace> {
    let mut order = Vec::new();
    let mut here = start;
    while !places.is_empty() {
        let next = here.map_or(0, |here| {
            let away = |place: &TestPlace| here.distance(place.at).value();
            (0..places.len())
                .min_by(|a, b| {
                    let of = |i: &usize| places.get(*i).map_or(f64::INFINITY, away);
                    of(a).total_cmp(&of(b))
                })
                .unwrap_or(0)
        });
        let place = places.remove(next);
        here = Some(place.at);
        order.push(place);
    }
    order
}
