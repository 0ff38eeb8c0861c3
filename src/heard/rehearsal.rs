//! Where test calls before the event would teach most about which site is best.

use std::sync::atomic::AtomicBool;

use rayon::prelude::*;
use serde::Serialize;

use super::estimate::{Candidate, Estimate, EstimateError, estimate, plan_tests, variance_after};
use super::learn::priors;
use super::walk::{Land, Leg, PACE, round};
use perchline_link::{LinkModel, Propagator, Terminal, study};
use perchline_plan::{CARRIES, Calibration, CarriedIn, Carry, Channel, Plan, Post, Site};
use perchline_power::mast::may_stand;
use perchline_siting::demand::Demand;
use perchline_siting::{RankError, RankInputs, SiteLosses, station_on};
use perchline_terrain::{Grid, Terrain, TerrainError};
use perchline_units::{Db, Metres, Position};

/// Metres between two places on a route that are thought of.
const ALONG_ROUTES: f64 = 120.0;
/// Metres between two places in the open that are thought of.
const GRID: Metres = Metres::new(200.0);
/// Two places of the list are no nearer to each other.
const APART: Metres = Metres::new(150.0);
/// Probabilities between which the outcome of a call is open.
const OPEN: std::ops::RangeInclusive<f64> = 0.02..=0.98;
/// A place that takes more than so many shares of the time that is left for each comes
/// after all others (ours).
const FAIR_SHARES: f64 = 2.0;
/// Change of a parameter by which its weight is found.
const STEP: f64 = 1.0;

/// A place for a test call.
#[derive(Debug, Clone, Serialize)]
pub struct TestPlace {
    /// What it is: a post's name, or so far along a route.
    pub name: String,
    /// Where.
    pub at: Position,
    /// Probability, 0 to 1, that the limiting direction works there.
    pub probability: f64,
    /// The limiting direction's predicted median over what is needed.
    pub margin_db: Db,
    /// How far a call there may well be off that: the standard deviation of levels over
    /// spots, and of what the method gets wrong.
    pub spread_db: Db,
    /// Standard deviation of the lead after a call there and no other.
    pub sd_after: f64,
    /// What stands around it.
    pub environment: &'static str,
    /// Whether it is a post that has to work.
    pub must: bool,
    /// Whether it is inside a building.
    pub indoors: bool,
    /// What to ask there, in words.
    pub ask: String,
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
    /// By how much the best leads in weighted coverage, 0 to 1.
    pub lead: f64,
    /// Standard deviation of that lead before any call.
    pub sd_before: f64,
    /// The same after these calls, whatever they bring.
    pub sd_after: f64,
    /// The places.
    pub places: Vec<TestPlace>,
    /// How many places were asked for.
    pub asked_for: usize,
    /// Where the walk begins and ends: net control, or the first post.
    pub start: Option<String>,
    /// From the start to each place in turn, and back; none where no post is a start.
    pub legs: Vec<Leg>,
    /// All legs.
    pub distance_m: Metres,
    /// All legs, and the time at each place.
    pub minutes: u32,
    /// Whether anything says where water is. Where nothing does, legs are straight and
    /// nobody looked for it.
    pub water_known: bool,
    /// Posts that have to work and to which no way over land leads.
    pub not_on_foot: Vec<String>,
    /// Posts that have to work and are too far for the time, there and back.
    pub not_in_time: Vec<String>,
}

/// Minutes at a place: two calls from each of five spots, and writing them down (common
/// practice, no source).
pub const MINUTES_A_PLACE: u32 = 4;

/// Why there is no list.
#[derive(Debug, thiserror::Error)]
pub enum RehearsalError {
    /// Sites cannot be scored.
    #[error(transparent)]
    Rank(#[from] RankError),
    /// The statistics fail.
    #[error(transparent)]
    Estimate(#[from] EstimateError),
    /// The ground cannot be walked over.
    #[error(transparent)]
    Ground(#[from] TerrainError),
    /// There is nothing to choose.
    #[error("the plan has no site that may be used")]
    NoSite,
}

/// How much of a walk there may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Most {
    /// Places to call from.
    pub places: usize,
    /// Minutes, the time at the places included.
    pub minutes: u32,
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
    /// Places for calls to the best site. A third of them, or one, are the posts
    /// that have to work and are least certain to, indoors too; the others are those
    /// that lessen most what is not known of its lead over the next best: posts, and
    /// places along routes and roads; where too few of them have an open outcome, open
    /// ground too. All are reached on foot from the start and in the time there is. Fewer
    /// than `most` where there are no more.
    ///
    /// The lead depends on the offsets, body losses and the model's error that
    /// reports could correct; each is as uncertain as before any report, and
    /// the lead's change with each is found by changing it.
    ///
    /// # Errors
    /// [`RehearsalError`] when no site can be scored.
    pub fn plan(&self, channel: &Channel, most: Most) -> Result<Rehearsal, RehearsalError> {
        let count = most.places;
        let two = self.best_two(channel)?;
        let (best, rival) = (two.best.site(), two.rival.as_ref().map(SiteLosses::site));
        let held = estimate(&[], &priors(self.plan))?;
        let gradient = self.gradient(channel, &two)?;
        let lead = self.lead(self.plan, channel, &two)?;
        let station =
            station_on(self.plan, channel, best, self.terrain).map_err(RankError::from)?;
        let routes = self.plan.routes.iter().map(|route| &route.line);
        let land = Land::of(self.terrain, routes)?;
        let from_start = self.start().and_then(|start| land.ways(start.at));
        let on_foot = |at: Position| from_start.as_ref().is_none_or(|ways| land.leads_to(ways, at));
        let start = self.start().map(|post| post.at);
        // There and back in a straight line: what takes longer is not thought of.
        let in_time = |at: Position| {
            start.is_none_or(|start| {
                Straight::from(start).with(at).minutes() <= f64::from(most.minutes)
            })
        };
        let mut places = self.places(channel, &station);
        let must_where = |out: &dyn Fn(Position) -> bool| -> Vec<String> {
            let must = places.iter().filter(|(place, _)| place.must && out(place.at));
            must.map(|(place, _)| place.name.clone()).collect()
        };
        let not_on_foot = must_where(&|at| !on_foot(at));
        let not_in_time = must_where(&|at| on_foot(at) && !in_time(at));
        places.retain(|(place, _)| on_foot(place.at) && in_time(place.at));
        if open_and_apart(&places, count) < count {
            let mut open = self.open_ground(channel, &station);
            open.retain(|(place, _)| on_foot(place.at) && in_time(place.at));
            places.extend(open);
        }
        let candidates: Vec<Candidate> = places.iter().map(|(_, candidate)| *candidate).collect();
        // All in the order in which they help, then those that lie apart.
        let order = plan_tests(&candidates, &gradient, &held, candidates.len().min(count * 16))?;
        // A call whose outcome is sure teaches nothing: such places are left out.
        let open = |index: &usize| {
            places.get(*index).is_some_and(|(place, _)| OPEN.contains(&place.probability))
        };
        let at = |index: usize| places.get(index).map(|(place, _)| place.at);
        let mut chosen: Vec<usize> = Vec::new();
        let mut straight = start.map(Straight::from);
        let minutes_of = |walk: &Option<Straight>| walk.as_ref().map_or(0.0, Straight::minutes);
        // Takes one more if there is time for it, and it takes no more than so many
        // shares of what is left for each.
        let mut take = |chosen: &mut Vec<usize>, next: usize, shares: f64| {
            if chosen.len() >= count || chosen.contains(&next) {
                return;
            }
            let longer = straight.as_ref().zip(at(next)).map(|(walk, at)| walk.with(at));
            let (now, then) = (minutes_of(&straight), minutes_of(&longer));
            let left = f64::from(most.minutes) - now;
            let share = left / count.saturating_sub(chosen.len()).max(1) as f64;
            if then - now <= left.min(share * shares) {
                chosen.push(next);
                straight = longer;
            }
        };
        for index in least_certain(&places).take(count.div_ceil(3)) {
            take(&mut chosen, index, f64::INFINITY);
        }
        let order: Vec<usize> = order.into_iter().filter(open).collect();
        // One far place takes the time of many near ones: it comes last.
        for shares in [FAIR_SHARES, f64::INFINITY] {
            for index in order.iter().copied() {
                let near = |other: &usize| {
                    at(*other).zip(at(index)).is_some_and(|(o, here)| o.distance(here) < APART)
                };
                if !chosen.iter().any(near) {
                    take(&mut chosen, index, shares);
                }
            }
        }
        let deviation = |list: &[Candidate], held: &Estimate| {
            variance_after(list, &gradient, held).map(|v| v.max(0.0).sqrt())
        };
        let own = chosen.iter().filter_map(|i| places.get(*i)).map(|(place, call)| {
            Ok(TestPlace { sd_after: deviation(&[*call], &held)?, ..place.clone() })
        });
        let own = own.collect::<Result<Vec<TestPlace>, EstimateError>>()?;
        let round = self.round(&land, &own);
        // Over land it may take longer: what helps least is left out.
        let (walked, legs, minutes) = loop {
            let own = own.get(..chosen.len()).unwrap_or_default();
            let (walked, legs) = round.walk(&land, own);
            let minutes = minutes(&legs, walked.len());
            if minutes <= most.minutes || chosen.pop().is_none() {
                break (walked, legs, minutes);
            }
        };
        let taken: Vec<Candidate> =
            chosen.iter().filter_map(|i| candidates.get(*i).copied()).collect();
        let distance = legs.iter().fold(Metres::new(0.0), |sum, leg| sum + leg.distance_m);
        Ok(Rehearsal {
            channel: channel.name.clone(),
            site: best.name.clone(),
            rival: rival.map(|site| site.name.clone()),
            lead,
            sd_before: deviation(&[], &held)?,
            sd_after: deviation(&taken, &held)?,
            places: walked,
            asked_for: count,
            start: self.start().map(|post| post.name.clone()),
            legs,
            distance_m: distance,
            minutes,
            water_known: self.terrain.knows_water(),
            not_on_foot,
            not_in_time,
        })
    }

    fn inputs<'t>(&'t self, plan: &'t Plan) -> RankInputs<'t> {
        RankInputs {
            plan,
            terrain: self.terrain,
            propagator: self.propagator,
            demand: self.demand,
            grid: self.grid,
            row_done: &|| (),
            stop: self.stop,
        }
    }

    /// The best site and the next best of those that may be used.
    fn best_two(&self, channel: &Channel) -> Result<BestTwo<'_>, RehearsalError> {
        let inputs = self.inputs(self.plan);
        let may = |site: &&Site| may_stand(self.plan, channel, site);
        let sites: Vec<&Site> = self.plan.sites.iter().filter(may).collect();
        // Of many sites the losses are let go of at once.
        let scored: Vec<Result<f64, RankError>> = sites
            .par_iter()
            .map(|site| {
                SiteLosses::of(&inputs, channel, site)?.weighted_probability(&inputs, channel)
            })
            .collect();
        let scored = scored.into_iter().collect::<Result<Vec<f64>, RankError>>()?;
        let mut order: Vec<(f64, &Site)> = scored.into_iter().zip(sites.iter().copied()).collect();
        order.sort_by(|(a, _), (b, _)| b.total_cmp(a));
        let mut sites = order.into_iter().map(|(_, site)| site);
        let best = sites.next().ok_or(RehearsalError::NoSite)?;
        let rival = sites.next().map(|site| SiteLosses::of(&inputs, channel, site)).transpose()?;
        Ok(BestTwo { best: SiteLosses::of(&inputs, channel, best)?, rival })
    }

    /// By how much the best leads; its own score where there is no other.
    fn lead(&self, plan: &Plan, channel: &Channel, two: &BestTwo<'_>) -> Result<f64, RankError> {
        let inputs = self.inputs(plan);
        let other = match &two.rival {
            Some(rival) => rival.weighted_probability(&inputs, channel)?,
            None => 0.0,
        };
        Ok(two.best.weighted_probability(&inputs, channel)? - other)
    }

    /// How the lead changes with each parameter: offsets, body losses, and the
    /// logarithm of the model's error.
    fn gradient(&self, channel: &Channel, two: &BestTwo<'_>) -> Result<Vec<f64>, RankError> {
        let sigma = priors(self.plan).sigma.median;
        let mut start = self.plan.prediction.calibration.clone().unwrap_or(Calibration::NONE);
        start.model_error = Some(sigma);
        // Each parameter less by a step, and more.
        let mut changed: Vec<[Calibration; 2]> = Vec::new();
        let mut with = |change: &dyn Fn(&mut Calibration, f64)| {
            changed.push([-STEP, STEP].map(|step| {
                let mut calibration = start.clone();
                change(&mut calibration, step);
                calibration
            }));
        };
        for index in 0..CarriedIn::ALL.len() {
            with(&|calibration, step| {
                if let Some(offset) = calibration.offsets.get_mut(index) {
                    *offset += Db::new(step);
                }
            });
        }
        for index in 0..CARRIES.len() {
            with(&|calibration, step| {
                if let Some(body) = calibration.bodies.get_mut(index) {
                    *body += Db::new(step);
                }
            });
        }
        // A step of the logarithm is a factor; a tenth of one is small enough.
        with(&|calibration, step| calibration.model_error = Some(sigma * (0.1 * step).exp()));
        let lead = |calibration: &Calibration| {
            let mut plan = self.plan.clone();
            plan.prediction.calibrate(calibration.clone());
            self.lead(&plan, channel, two)
        };
        let slopes: Vec<Result<f64, RankError>> = changed
            .par_iter()
            .map(|[down, up]| Ok((lead(up)? - lead(down)?) / (2.0 * STEP)))
            .collect();
        let mut gradient = slopes.into_iter().collect::<Result<Vec<f64>, RankError>>()?;
        if let Some(by_ln) = gradient.last_mut() {
            *by_ln /= 0.1;
        }
        Ok(gradient)
    }

    /// Places that are thought of, with the limiting direction from each.
    fn places(&self, channel: &Channel, station: &Terminal) -> Vec<(TestPlace, Candidate)> {
        let of_post = |post: &Post| {
            let end = Terminal::at_post(self.plan, channel, post, self.terrain).ok()?;
            let (mut place, candidate) = self.place(channel, station, post.name.clone(), &end)?;
            place.must = post.must;
            Some((place, candidate))
        };
        let routes = self.plan.routes.iter().map(|route| (route.name.as_str(), &route.line));
        let roads = self.plan.search.roads.iter().flat_map(|roads| &roads.lines);
        let lines: Vec<_> = routes.chain(roads.map(|line| ("beside a road", line))).collect();
        let along = lines.par_iter().flat_map_iter(|(name, line)| {
            every(line).into_iter().map(move |(walked, at)| (*name, walked, at))
        });
        let of_line = |(name, walked, at): (&str, Metres, Position)| {
            if self.terrain.is_afloat(at) {
                return None;
            }
            let end = Terminal::standing(self.plan, channel, "", at, self.terrain).ok()?;
            let along = self.plan.units.distance(walked);
            self.place(channel, station, format!("{name}, {along} along"), &end)
        };
        let along: Vec<_> = along.collect();
        let posts = self.plan.posts.par_iter().filter_map(of_post);
        posts.chain(along.into_par_iter().filter_map(of_line)).collect()
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
        let (frequency, _) = model.frequencies();
        let study = study(self.terrain, self.propagator, &model, channel).ok()?;
        let weaker = study.budgets.governing_budget();
        let margin = weaker.over_needed();
        let candidate = Candidate {
            class: end.carried_in().index(),
            carry: end.table_carry(frequency).map(Carry::index),
            margin,
            local: model.spread().without(model.model_error()),
        };
        let place = TestPlace {
            name,
            at: end.at,
            probability: weaker.share_of_locations,
            margin_db: margin,
            spread_db: model.spread().deviation(),
            // Worked out for those that are chosen.
            sd_after: f64::NAN,
            environment: end.carried_in().word(),
            must: false,
            indoors: end.indoors.is_some(),
            ask: ask(end),
        };
        Some((place, candidate))
    }

    /// Where the walk begins: net control, or the first post.
    fn start(&self) -> Option<&Post> {
        let posts = &self.plan.posts;
        posts.iter().find(|p| p.net_control).or(posts.first())
    }

    /// The ways between the start and so many places.
    fn round(&self, land: &Land<'_>, places: &[TestPlace]) -> Round<'_> {
        let start = self.start();
        let stops = start.map(|start| start.at).into_iter();
        let stops: Vec<Position> = stops.chain(places.iter().map(|place| place.at)).collect();
        let over = if start.is_none() {
            Vec::new()
        } else {
            // What cannot be walked was left out; a start that is afloat has straight legs.
            stops.par_iter().map(|from| land.ways_to(*from, &stops)).collect()
        };
        Round { start: start.map(|start| start.name.as_str()), over }
    }
}

/// The two sites that the calls tell apart.
struct BestTwo<'a> {
    best: SiteLosses<'a>,
    rival: Option<SiteLosses<'a>>,
}

/// The ways between the start of a walk and its places, each to each.
struct Round<'a> {
    /// Where it begins; nothing where the plan has no post.
    start: Option<&'a str>,
    /// The way from each stop to each, the start first.
    over: Vec<Vec<Vec<Position>>>,
}

impl Round<'_> {
    /// The first places of the round in the order of a walk from the start and back to
    /// it, and its legs.
    fn walk(&self, land: &Land<'_>, places: &[TestPlace]) -> (Vec<TestPlace>, Vec<Leg>) {
        let Some(start) = self.start else { return (places.to_vec(), Vec::new()) };
        let stops: Vec<&str> =
            std::iter::once(start).chain(places.iter().map(|place| place.name.as_str())).collect();
        let over = |a: usize, b: usize| -> &[Position] {
            self.over.get(a).and_then(|ways| ways.get(b)).map_or(&[], Vec::as_slice)
        };
        let metres: Vec<Vec<f64>> = (0..stops.len())
            .map(|a| (0..stops.len()).map(|b| length(over(a, b))).collect())
            .collect();
        let order = round(&metres);
        let tour = std::iter::once(0).chain(order.iter().copied()).chain(std::iter::once(0));
        let tour: Vec<usize> = tour.collect();
        let name = |stop: usize| stops.get(stop).copied().unwrap_or_default();
        let legs = tour
            .windows(2)
            .filter_map(|pair| match pair {
                [a, b] if a != b => Some(land.leg(name(*a), name(*b), over(*a, *b).to_vec())),
                _ => None,
            })
            .collect();
        let ordered = order.iter().filter_map(|stop| places.get(stop.checked_sub(1)?)).cloned();
        (ordered.collect(), legs)
    }
}

/// Metres of a way.
fn length(way: &[Position]) -> f64 {
    way.iter().zip(way.iter().skip(1)).map(|(a, b)| a.distance(*b).value()).sum()
}

/// Minutes of legs, and of the time at so many places.
fn minutes(legs: &[Leg], places: usize) -> u32 {
    let standing = u32::try_from(places).unwrap_or(u32::MAX).saturating_mul(MINUTES_A_PLACE);
    legs.iter().map(|leg| leg.minutes).fold(standing, u32::saturating_add)
}

/// A round from a start over places in straight lines on level ground.
struct Straight {
    /// The start, and the places.
    stops: Vec<Position>,
    /// Metres from each to each.
    metres: Vec<Vec<f64>>,
}

impl Straight {
    fn from(start: Position) -> Self {
        Self { stops: vec![start], metres: vec![vec![0.0]] }
    }

    /// The same over one more place.
    fn with(&self, place: Position) -> Self {
        let (mut stops, mut metres) = (self.stops.clone(), self.metres.clone());
        for (row, stop) in metres.iter_mut().zip(&stops) {
            row.push(stop.distance(place).value());
        }
        stops.push(place);
        metres.push(stops.iter().map(|stop| place.distance(*stop).value()).collect());
        Self { stops, metres }
    }

    /// Minutes of the walk and of the time at the places: no walk takes less.
    fn minutes(&self) -> f64 {
        let between = |a: usize, b: usize| self.metres.get(a).and_then(|row| row.get(b)).copied();
        let order: Vec<usize> =
            std::iter::once(0).chain(round(&self.metres)).chain(std::iter::once(0)).collect();
        let pairs = order.iter().zip(order.iter().skip(1));
        let walked: f64 = pairs.filter_map(|(a, b)| between(*a, *b)).sum();
        let places = self.stops.len().saturating_sub(1);
        walked / PACE + places as f64 * f64::from(MINUTES_A_PLACE)
    }
}

/// The posts that have to work, those whose outcome is least certain first.
fn least_certain(places: &[(TestPlace, Candidate)]) -> impl Iterator<Item = usize> {
    let must = |(_, (place, _)): &(usize, &(TestPlace, Candidate))| place.must;
    let mut must: Vec<(usize, f64)> = places
        .iter()
        .enumerate()
        .filter(must)
        .map(|(index, (place, _))| (index, (place.probability - 0.5).abs()))
        .collect();
    must.sort_by(|(_, a), (_, b)| a.total_cmp(b));
    must.into_iter().map(|(index, _)| index)
}

/// What to ask at a place.
fn ask(end: &Terminal) -> String {
    let place = match end.indoors {
        Some(_) => "inside, doors shut, then at the nearest window",
        None => "out here",
    };
    let worn = match end.carry {
        Some(Carry::Hip) => "on the hip, then once more held at the head",
        Some(carry) => carry.words(),
        None => "as it will stand",
    };
    format!("Ask whether they hear you {place}, the radio {worn}.")
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
