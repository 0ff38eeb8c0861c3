//! The whole choice for one channel of a plan.

use std::time::Duration;

use super::blame::{Impossible, why_impossible};
use super::digipeater::{DigipeaterChoice, Digipeaters, Room, packet_channel};
use super::greedy::{greedy, neighbours};
use super::links::{link_of, relay_chains, site_links};
use super::matrix::Inputs;
use super::own::{Given, Stacked, channels_of};
use super::problem::{Cap, Need, Problem, Set};
use super::sectors::{Sectors, sectors};
use super::solve::{Search, SolveError};
use super::sureness::{DRAWS, sureness_of_rows};
use super::{Asked, Barred, Choice, DuplexerChoice, SetScore, SitePart, Standing};
use crate::demand::{Demand, Kind};
use crate::{RankError, RefusedSite, refused_sites};
use perchline_link::{frequencies, model_error};
use perchline_plan::{Channel, ChooseInputs, Plan, Service, Site};
use perchline_power::kit::settled_site;
use perchline_power::mast::may_stand;
use perchline_power::sharing::{kept_together, on_one_roof};
use perchline_terrain::{Grid, TerrainError};
use perchline_units::Db;

/// Time for each question asked of the solver; what gap is then left is told.
const TIME: Duration = Duration::from_secs(60);

/// Sets compared in the draws at most: the best by the prediction itself.
const COMPARED: usize = 40;

/// Sets after the best that are asked for room for the digipeater.
const SETS_FOR_ROOM: usize = 20;

/// More relays that add less weighted coverage than this, and no post, add nothing: a
/// tenth of a percent, the last digit that is told (ours).
pub const ADDS_NOTHING: f64 = 1e-3;

/// Why there is no choice.
#[derive(Debug, thiserror::Error)]
pub enum ChooseError {
    /// A site or post does not fit the terrain, or the run was stopped.
    #[error(transparent)]
    Rank(#[from] RankError),
    /// The map's cells have no place on the earth.
    #[error(transparent)]
    Map(#[from] TerrainError),
    /// Not every relay has a channel of its own.
    #[error(
        "{relays} relays need a channel each, and the plan's [choose] names {channels} with the first relay's; add names to channels, or ask for fewer relays"
    )]
    TooFewChannels {
        /// Relays at hand.
        relays: usize,
        /// Channels, the first relay's among them.
        channels: usize,
    },
    /// The solver gave no answer.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// No set keeps all that is asked.
    #[error("no set of {relays} sites or fewer keeps all that the plan asks")]
    Impossible {
        /// Relays at hand.
        relays: usize,
        /// Why.
        why: Impossible,
        /// For each must-have post how near a site comes, in the plan's order.
        nearest: Vec<Nearest>,
        /// Sites that were left out for a station that the plan puts on their roof.
        barred: Vec<Barred>,
        /// Sites that were left out for a power line too near for their mast.
        refused: Box<[RefusedSite]>,
    },
}

/// How near a site comes to serving a must-have post.
#[derive(Debug, Clone, PartialEq)]
pub struct Nearest {
    /// The post.
    pub post: String,
    /// The site that may be used and does best there.
    pub site: String,
    /// Its probability of contact, 0 to 1.
    pub probability: f64,
}

/// The best set of sites for the relays of `channel` under what `asked` says,
/// which may differ from the plan's own; the whole map counts if its `grid` is
/// given.
///
/// # Errors
/// [`ChooseError`] if a site or post does not fit the terrain, the run is
/// stopped, or no set keeps all that is asked.
pub fn choose(
    inputs: &Inputs<'_>,
    channel: &Channel,
    asked: &ChooseInputs,
    grid: Option<&Grid>,
) -> Result<Choice, ChooseError> {
    let plan = inputs.plan;
    let demand = match grid {
        Some(grid) => inputs.demand.clone().with_map(grid)?,
        None => inputs.demand.clone(),
    };
    let channels = channels_of(plan, channel, asked)?;
    let mut all = Stacked::of(inputs, channels, &demand)?;
    let barred = barred_rows(plan, &all, asked);
    all.bar(&barred.iter().map(|(row, _)| *row).collect::<Vec<_>>());
    let barred: Vec<Barred> = barred.into_iter().map(|(_, barred)| barred).collect();
    let mut problem = problem(plan, channel, asked, &all, &demand);
    for (index, usable) in problem.usable.iter_mut().enumerate() {
        *usable &= all.is_usable(index);
    }
    all.weigh(&demand, asked.relays, &musts(plan, &demand));
    let all = all;
    let mut links = Vec::new();
    if asked.linked {
        let (each, linked) = site_links(inputs, channel, asked.link)?;
        links = each;
        problem.links = Some(linked);
    }
    let mut of_all = Search::new(&problem, TIME);
    let Some(best) = all.best(&problem, &mut of_all, &[], &[])? else {
        let why = why_impossible(&problem)?;
        let nearest = nearest(plan, channel, &all, &demand);
        let (relays, refused) = (asked.relays, refused_sites(plan, channel).into_boxed_slice());
        return Err(ChooseError::Impossible { relays, why, nearest, barred, refused });
    };
    let fewer = with_fewer(&problem, &all)?;
    let scored_rows = |rows: &[usize]| score(plan, &all, &problem, &demand, rows);
    let scored_by = |given: &Given| scored_rows(&given.rows);
    let with_fewer: Vec<_> = fewer.iter().map(|given| given.as_ref().map(scored_by)).collect();
    let most = scored_by(&best);
    let adds_nothing = with_fewer
        .iter()
        .position(|set| set.as_ref().is_some_and(|set| is_as_good(set, &most)))
        .filter(|place| place + 1 < best.found.set.len());
    // As if no more relays than these were at hand.
    let reduced = adds_nothing.map(|place| {
        let mut reduced = problem.clone();
        reduced.most = place + 1;
        reduced
    });
    let problem = reduced.as_ref().unwrap_or(&problem);
    let mut search = if reduced.is_some() { Search::new(problem, TIME) } else { of_all };
    let first = match reduced {
        Some(_) => all.best(problem, &mut search, &[], &[])?.unwrap_or(best),
        None => best,
    };
    let Given { found: first, rows } = &first;
    let set = &first.set;
    let runner_up = all.best(problem, &mut search, &[], std::slice::from_ref(set))?;
    let without_each = set
        .iter()
        .map(|site| all.best(problem, &mut search, &[*site], &[]))
        .collect::<Result<Vec<_>, _>>()?;

    let with_duplexers = all
        .by_duplexer()
        .map(|(isolation, all)| {
            with_duplexer(inputs, (channel, asked), &demand, problem, (all, isolation), rows)
        })
        .collect::<Result<Vec<_>, SolveError>>()?;
    // A set whose channels can't be given out so that it keeps all that is asked has
    // no score.
    let scored = |set: &Set| Some(scored_rows(&all.given(problem, set)?.0));
    let mut relay_channels = relay_channels(plan, channel, set.len());
    let parts = set.iter().zip(rows).zip(&without_each).filter_map(|((site, row), found)| {
        let place = plan.sites.get(*site)?;
        let others: Vec<usize> = rows.iter().copied().filter(|other| other != row).collect();
        let in_order = relay_channels.next();
        let own = all.channel(*row).filter(|_| !all.is_single()).map(|c| c.name.clone());
        Some(SitePart {
            site: place.name.clone(),
            channel: own.or(in_order),
            link_desense: all.link_desense(plan, link_of(asked), *row),
            locked: place.locked,
            mast_m: place.mast,
            alone: all.value(problem, &[*row]),
            adds: first.value - all.value(problem, &others),
            without: found.as_ref().map(scored_by),
        })
    });
    let compared = compared(
        problem,
        set,
        without_each.iter().flatten().chain(&runner_up).map(|given| given.found.set.clone()),
    );
    let compared: Vec<Set> =
        compared.iter().filter_map(|set| Some(all.given(problem, set)?.0)).collect();
    let error =
        model_error(&plan.prediction, frequencies(&channel.service), inputs.terrain.spacing());
    let rows_of_sites = (&all.matrix, plan.sites.len());
    let sure = sureness_of_rows(rows_of_sites, &demand, error, &compared, DRAWS);
    let musts: Vec<bool> = plan.posts.iter().map(|post| post.must).collect();
    let names: Vec<String> = plan.sites.iter().map(|site| site.name.clone()).collect();
    let in_set = |name: &String| {
        names.iter().position(|known| known == name).is_some_and(|site| set.contains(&site))
    };
    let packet = packet_channel(plan).filter(|_| asked.digipeater);
    let digipeater = packet
        .map(|packet| {
            let sites = Digipeaters::of(inputs, &demand, packet)?;
            let beside = |rows: &[usize]| sites.beside(problem, &relays_on(&all, rows));
            let of_set = |set: &Set| Some(beside(&all.given(problem, set)?.0));
            with_room(beside(rows), &mut search, set, of_set, scored)
        })
        .transpose()?;
    // Rows are named by their sites.
    let row_names: Vec<String> = names.iter().cycle().take(all.rows()).cloned().collect();
    let sectors = sectors(&all.matrix, &demand, (&musts, asked.balance), rows, &row_names);
    links.retain(|link| in_set(&link.from) && in_set(&link.to));
    let control = control_site(plan, &sectors);
    Ok(Choice {
        channel: channel.name.clone(),
        own_channels: !all.is_single(),
        relays: asked.relays,
        candidates: problem.usable.iter().filter(|usable| **usable).count(),
        spots: demand.samples.len(),
        asked: Asked {
            must_posts: problem.needs.iter().map(|need| need.name.clone()).collect(),
            linked: asked.linked,
            locked_doors: asked.locked_doors,
            total_mast_m: asked.total_mast,
            whole_area: grid.is_some(),
        },
        barred,
        refused: refused_sites(plan, channel),
        adds_nothing: adds_nothing.map(|_| most),
        gap: first.gap(),
        runner_up: runner_up.as_ref().map(scored_by),
        with_fewer,
        with_duplexers,
        one_by_one: greedy(problem).as_ref().and_then(scored),
        sites: parts.collect(),
        chains: relay_chains(&links, &names, &control),
        links,
        standings: compared
            .iter()
            .zip(&sure.wins)
            .map(|(rows, wins)| Standing { set: scored_rows(rows), first_in: *wins })
            .collect(),
        sureness: sure,
        sectors,
        digipeater,
        first: scored_rows(rows),
    })
}

/// Sites and channels on which no relay can stand, by their numbers, and why.
fn barred_rows(
    plan: &Plan,
    all: &Stacked<'_>,
    asked: &ChooseInputs,
) -> Vec<((usize, usize), Barred)> {
    let each = all.channels.iter().enumerate();
    let by_stations = each.flat_map(|(number, channel)| {
        barred(plan, channel).into_iter().map(move |(site, barred)| ((site, number), barred))
    });
    by_stations.chain(all.barred_by_link(plan, link_of(asked))).collect()
}

/// The relays of a set with their channels, by the places of their sites.
fn relays_on<'p>(all: &Stacked<'p>, rows: &[usize]) -> Vec<(usize, &'p Channel)> {
    rows.iter().filter_map(|row| Some((all.site(*row), all.channel(*row)?))).collect()
}

/// The posts that have to be served, with their places among the spots.
fn musts(plan: &Plan, demand: &Demand) -> Vec<(String, usize)> {
    let posts = plan.posts.iter().zip(demand.of_kind(Kind::Post));
    let musts = posts.filter(|(post, _)| post.must);
    musts.map(|(post, target)| (post.name.clone(), target.samples.start)).collect()
}

/// The choice solved again with one duplexer, of as many sites at most as `rows` has,
/// and what becomes of those; `problem` is that of the sites.
fn with_duplexer(
    inputs: &Inputs<'_>,
    (channel, asked): (&Channel, &ChooseInputs),
    demand: &Demand,
    problem: &Problem,
    (mut all, isolation_db): (Stacked<'_>, Db),
    rows: &[usize],
) -> Result<DuplexerChoice, SolveError> {
    let plan = inputs.plan;
    let musts = musts(plan, demand);
    all.weigh(demand, asked.relays, &musts);
    let mut tried = self::problem(plan, channel, asked, &all, demand);
    tried.most = rows.len();
    tried.usable.clone_from(&problem.usable);
    tried.links.clone_from(&problem.links);
    let best = all.best(&tried, &mut Search::new(&tried, TIME), &[], &[])?;
    let scored = |rows: &[usize]| score(plan, &all, &tried, demand, rows);
    let serves = |(_, spot): &(String, usize)| rows.iter().any(|row| all.works(*row, *spot));
    Ok(DuplexerChoice {
        isolation_db,
        best: best.as_ref().map(|given| scored(&given.rows)),
        first: scored(rows),
        keeps_what_is_asked: musts.iter().all(serves),
    })
}

/// Site of the relay that net control uses; none where the plan names no net control.
fn control_site(plan: &Plan, sectors: &Sectors) -> String {
    let control = plan.posts.iter().find(|post| post.net_control);
    let sector = control.and_then(|post| sectors.posts.iter().find(|s| s.post == post.name));
    sector.and_then(|sector| Some(sector.first.as_ref()?.site.clone())).unwrap_or_default()
}

/// Whether more relays that come to `most` add nothing to this set.
fn is_as_good(set: &SetScore, most: &SetScore) -> bool {
    set.posts_covered >= most.posts_covered
        && most.weighted_probability - set.weighted_probability < ADDS_NOTHING
}

/// Sites on which the plan puts the station of another channel that a relay of
/// `channel` desenses, or is desensed by, more than is accepted. What the plan keeps
/// beside each other stays so.
fn barred(plan: &Plan, channel: &Channel) -> Vec<(usize, Barred)> {
    let may = |site: &Site| may_stand(plan, channel, site);
    let sites = plan.sites.iter().enumerate().filter(|(_, site)| may(site));
    let barred = |(place, site)| Some((place, barred_from(plan, channel, place, site)?));
    sites.filter_map(barred).collect()
}

fn barred_from(plan: &Plan, channel: &Channel, place: usize, site: &Site) -> Option<Barred> {
    let there = plan.power.stations.iter().filter(|station| {
        !plan.is_channel(station.channel, channel)
            && settled_site(plan, station).is_some_and(|settled| settled.name == site.name)
    });
    let others = there.filter_map(|station| plan.channels.get(station.channel));
    let pair = others
        .filter(|other| !kept_together(plan, [channel, other]))
        .filter_map(|other| on_one_roof(plan, [channel, other], place))
        .flatten()
        .find(|pair| pair.is_too_much())?;
    Some(Barred {
        site: site.name.clone(),
        from: pair.from,
        to: pair.to,
        desense_db: pair.desense_db,
        by_link: false,
    })
}

/// A channel for each relay, if the plan has enough: the one predicted, then the
/// others in the plan's order.
fn relay_channels<'p>(
    plan: &'p Plan,
    channel: &'p Channel,
    relays: usize,
) -> impl Iterator<Item = String> + 'p {
    let others = plan.channels.iter().filter(|other| {
        matches!(other.service, Service::Relay { .. }) && other.name != channel.name
    });
    let enough = others.clone().count() + 1 >= relays;
    [channel].into_iter().chain(others).filter(move |_| enough).map(|c| c.name.clone())
}

/// The digipeater's choice; if the best set leaves it no site, with the best set
/// that does, of the next few.
fn with_room(
    choice: DigipeaterChoice,
    search: &mut Search<'_>,
    first: &Set,
    beside: impl Fn(&Set) -> Option<DigipeaterChoice>,
    scored: impl Fn(&Set) -> Option<SetScore>,
) -> Result<DigipeaterChoice, ChooseError> {
    let mut known = vec![first.clone()];
    while choice.site.is_none() && known.len() <= SETS_FOR_ROOM {
        let Some(next) = search.best_but(&[], &known)? else { break };
        if let Some(site) = beside(&next.set).and_then(|choice| choice.site)
            && let Some(set) = scored(&next.set)
        {
            return Ok(DigipeaterChoice { room: Some(Room { set, site }), ..choice });
        }
        known.push(next.set);
    }
    Ok(choice)
}

/// The plan's sites as candidates, with all that is asked but links.
fn problem(
    plan: &Plan,
    channel: &Channel,
    asked: &ChooseInputs,
    all: &Stacked<'_>,
    demand: &Demand,
) -> Problem {
    let mut problem = Problem::new(all.chances(), demand.weights(), asked.relays);
    problem.usable = plan.sites.iter().map(|site| may_stand(plan, channel, site)).collect();
    if let Some(doors) = asked.locked_doors {
        let costs = plan.sites.iter().map(|site| f64::from(u8::from(site.locked))).collect();
        problem.caps.push(Cap { field: "locked_doors", costs, most: f64::from(doors) });
    }
    if let Some(mast) = asked.total_mast {
        let costs = plan.sites.iter().map(|site| site.mast.value()).collect();
        problem.caps.push(Cap { field: "total_mast", costs, most: mast.value() });
    }
    problem.needs = musts(plan, demand)
        .into_iter()
        .map(|(name, spot)| {
            let served_by = (0..plan.sites.len()).map(|site| all.serves(site, spot)).collect();
            Need { name, served_by }
        })
        .collect();
    problem
}

/// How near the sites come to serving each must-have post.
fn nearest(plan: &Plan, channel: &Channel, all: &Stacked<'_>, demand: &Demand) -> Vec<Nearest> {
    let posts = demand.of_kind(Kind::Post);
    let musts = plan.posts.iter().zip(posts).filter(|(post, _)| post.must);
    musts
        .filter_map(|(post, target)| {
            let chance = |site| all.probability(site, target.samples.start);
            let may = |site: &Site| may_stand(plan, channel, site);
            let usable = plan.sites.iter().enumerate().filter(|(_, site)| may(site));
            let (site, probability) = usable
                .filter_map(|(index, site)| Some((site, chance(index)?)))
                .fold(None, |best, next| match best {
                    Some((_, known)) if known >= next.1 => best,
                    _ => Some(next),
                })?;
            Some(Nearest { post: post.name.clone(), site: site.name.clone(), probability })
        })
        .collect()
}

/// The best set for each smaller number of relays, from one on.
fn with_fewer(problem: &Problem, all: &Stacked<'_>) -> Result<Vec<Option<Given>>, SolveError> {
    (1..problem.most)
        .map(|most| {
            let mut fewer = problem.clone();
            fewer.most = most;
            all.best(&fewer, &mut Search::new(&fewer, TIME), &[], &[])
        })
        .collect()
}

/// The sets that the draws compare: the first, then those next to it, to others
/// that were found and to their neighbours, the best by the prediction first.
fn compared(problem: &Problem, first: &Set, others: impl Iterator<Item = Set>) -> Vec<Set> {
    let mut near: Vec<Set> = others.collect();
    near.extend(neighbours(problem, first).filter(|set| problem.allows(set)));
    near.sort();
    near.dedup();
    near.retain(|set| set != first);
    let mut valued: Vec<(f64, Set)> =
        near.into_iter().map(|set| (problem.value(&set), set)).collect();
    valued.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    let others = valued.into_iter().map(|(_, set)| set).take(COMPARED - 1);
    [first.clone()].into_iter().chain(others).collect()
}

/// How a set does whose rows are these.
fn score(
    plan: &Plan,
    all: &Stacked<'_>,
    problem: &Problem,
    demand: &Demand,
    rows: &[usize],
) -> SetScore {
    let posts = demand.of_kind(Kind::Post);
    let covered = posts.filter(|post| rows.iter().any(|row| all.works(*row, post.samples.start)));
    let site = |row: &usize| Some(plan.sites.get(all.site(*row))?.name.clone());
    SetScore {
        sites: rows.iter().filter_map(site).collect(),
        weighted_probability: all.value(problem, rows),
        posts_covered: covered.count(),
    }
}
