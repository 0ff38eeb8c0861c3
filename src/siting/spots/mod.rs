//! Spots that nobody listed: the best places for a station on the whole map.
//!
//! One sweep from each demand point serves every cell, since loss is the same
//! both ways (`screen`). The best cells, and every roof, are then scored on
//! exact paths (`exact`), best first, until no cell left can be better by more
//! than the sweep was found to be off, or the work set aside is used up; what
//! may be left is reported as a gap. `docs/spots.md` says what that rests on.

mod bound;
mod demand;
mod exact;
mod ground;
mod pick;
mod screen;

use crate::demand::Demand;
use std::sync::atomic::{self, AtomicBool};

use geo::{Distance, Geodesic};
use rayon::prelude::*;
use serde::Serialize;

use perchline_link::{Propagator, Terminal};
use perchline_plan::{Channel, Plan, Roads, Roof as SiteRoof, Site};
use perchline_power::mast::{clear_of_lines, may_stand};
use perchline_power::sharing::roof_noise;
use perchline_propagation::{METHODS, SweptForm, default_method};
use perchline_terrain::{Grid, PlaceError, Terrain, TerrainError};
use perchline_units::{Metres, Position};

pub use bound::Bound;

use demand::demand_points;
use exact::{Scored, Scorer, Spot as Place, Stands};
use ground::{OpenGround, may_reach_a_line, roofs, rounded, slope};
use pick::{Found, spread};
use screen::{Screen, Sweeps};

use super::SiteScore;
use super::rank::{RankError, RankInputs, better_first, score_without_map};

/// Spots in the list.
const LISTED: usize = 10;

/// What a search for spots is made from.
pub struct SpotTask<'a> {
    /// The plan; its `search` says where and how.
    pub plan: &'a Plan,
    /// Its terrain.
    pub terrain: &'a Terrain,
    /// The propagation method.
    pub propagator: &'a Propagator,
    /// What is to be served.
    pub demand: &'a Demand,
    /// The cells of the map.
    pub grid: &'a Grid,
    /// Called once for each demand point, as [`points_sampled`](crate::demand::points_sampled) counts them.
    pub swept: &'a (dyn Fn() + Sync),
    /// Set to end early.
    pub stop: &'a AtomicBool,
}

/// Why a search came to nothing.
#[derive(Debug, thiserror::Error)]
pub enum SpotError {
    /// A post or site does not fit the terrain, or the run was stopped.
    #[error(transparent)]
    Rank(#[from] RankError),
    /// The area cannot be brought to the map, or a path has no profile.
    #[error(transparent)]
    Place(#[from] PlaceError),
    /// The area cannot be brought to the map.
    #[error(transparent)]
    Terrain(#[from] TerrainError),
    /// Nowhere to stand.
    #[error(
        "search: inside: there is no open ground and no roof in it; it must hold at least one cell of the map without building, trees, water or gap, and clear of the power lines that the sites state"
    )]
    NoGround,
}

/// The best spots and what they rest on.
#[derive(Debug, Clone, Serialize)]
pub struct SpotSearch {
    /// The channel's name.
    pub channel: String,
    /// Best first, as a ranking orders sites.
    pub spots: Vec<Spot>,
    /// The best site of the plan that may be used, for comparison.
    pub best_listed: Option<Rank>,
    /// How far the best can be from the best there is.
    pub bound: Bound,
    /// Points that stood for posts, areas and routes.
    pub demand_points: usize,
    /// Cells of open ground that were searched.
    pub open_cells: usize,
    /// Roofs that were searched.
    pub roofs: usize,
    /// Open cells that were refused: an antenna there could fall into a power line that
    /// the plan states for a site.
    pub cells_by_lines: usize,
    /// Roofs that were refused for the same reason.
    pub roofs_by_lines: usize,
    /// The method by which cells were screened, where it is not the plan's.
    pub screened_by: Option<&'static str>,
    /// The part of the map that was searched, with a score for each cell.
    #[serde(skip)]
    pub field: Field,
}

/// Scores of the cells that were searched.
#[derive(Debug, Clone)]
pub struct Field {
    /// Where the cells are.
    pub grid: Grid,
    /// Weighted probability by the sweeps over the demand points, 0 to 1, row
    /// by row; NaN where nobody may stand or a cell was given up early.
    pub score: Vec<f32>,
    /// Whether a cell is open ground inside the area.
    pub open: Vec<bool>,
}

/// One spot.
#[derive(Debug, Clone, Serialize)]
pub struct Spot {
    /// How it does, its name as the lines for the plan have it.
    #[serde(flatten)]
    pub rank: Rank,
    /// Weighted probability over the demand points of the search, 0 to 1.
    pub on_demand_points: f64,
    /// The same by the sweeps, where it is open ground.
    pub by_the_sweep: Option<f64>,
    /// What it stands on.
    pub stands_on: StandsOn,
    /// Height of the antenna above that.
    pub mast_m: Metres,
    /// It has to stand farther than this from any power line; whether one is there, is
    /// not known but near sites that state theirs.
    pub clear_of_lines_m: Metres,
    /// Rise over run of the ground around, 0 for level; nothing where a gap or
    /// the rim is a cell away.
    pub slope: Option<f64>,
    /// Distance to the nearest road of the plan's file, where it names one.
    pub to_road_m: Option<Metres>,
    /// The nearest site of the plan, where one is nearer than spots are to
    /// each other.
    pub near_site: Option<String>,
}

/// How a spot or a site does, on everything that a ranking counts but the map.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rank {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub at: Position,
    /// Height of the ground above sea level.
    pub ground_m: Metres,
    /// Height of the antenna above the ground.
    pub antenna_above_ground_m: Metres,
    /// Weighted coverage: the probability of both directions over posts, areas and routes,
    /// 0 to 1.
    pub weighted_probability: f64,
    /// Must-have posts that do not work both ways.
    pub missed_must_posts: Vec<String>,
    /// Number of posts that work both ways.
    pub posts_covered: usize,
    /// Number of posts that count.
    pub posts: usize,
}

impl Rank {
    fn of(score: &SiteScore) -> Self {
        Self {
            name: score.site.clone(),
            at: score.at,
            ground_m: score.ground_m,
            antenna_above_ground_m: score.antenna_above_ground_m,
            weighted_probability: score.weighted_probability,
            missed_must_posts: score.missed_must_posts().into_iter().map(str::to_owned).collect(),
            posts_covered: score.posts_covered,
            posts: score.counted_posts().count(),
        }
    }
}

/// What a spot stands on.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum StandsOn {
    /// Open ground.
    Ground,
    /// A building's roof.
    Roof {
        /// What the footprint's file calls the building.
        building: String,
        /// Its height above the ground.
        height_m: Metres,
    },
}

/// Searches the plan's area for the best spots for the station of `channel`.
///
/// The result does not depend on the number of threads.
///
/// # Errors
/// [`SpotError`] when a post does not fit the terrain, the area holds nothing
/// to stand on, or the run is stopped.
pub fn search(task: &SpotTask<'_>, channel: &Channel) -> Result<SpotSearch, SpotError> {
    let SpotTask { plan, terrain, propagator, grid, swept, stop, .. } = *task;
    let station = open_ground_station(task, channel)?;
    let demand = demand_points(task, channel, &station).map_err(RankError::from)?;
    let area = plan.search.inside.as_ref();
    let mast = plan.search.mast;
    let mut ground = OpenGround::of(terrain, grid, area)?.ok_or(SpotError::NoGround)?;
    let cells_by_lines = ground.keep_off_lines(plan, mast)?;
    let (by_lines, roofs): (Vec<_>, Vec<_>) =
        roofs(terrain, area).into_iter().partition(|roof| may_reach_a_line(plan, roof.at, mast));
    let open: Vec<usize> =
        ground.open.iter().enumerate().filter(|(_, open)| **open).map(|(cell, _)| cell).collect();
    if open.is_empty() && roofs.is_empty() {
        return Err(SpotError::NoGround);
    }
    let scorer = Scorer { terrain, propagator, demand: &demand };
    let mut hunt = Hunt { task, scorer, ground: &ground, found: Vec::new() };
    // Coarse first: cells far apart give a floor under which nothing is looked
    // at twice, and a fair sample of the sweep's error.
    let coarse = every(&open, COARSE);
    hunt.cells(&coarse, f64::NEG_INFINITY)?;
    hunt.roofs(&roofs)?;
    // Methods without a swept form are screened by the one that is nearest.
    let screener = match propagator.method.swept() {
        Some(_) => *propagator,
        None => Propagator {
            method: METHODS
                .iter()
                .copied()
                .find(|m| m.swept() == Some(SweptForm::DeltaBullington))
                .unwrap_or_else(default_method),
            ..*propagator
        },
    };
    let sweeps = Sweeps {
        terrain,
        ground: &ground,
        demand: &demand,
        propagator: &screener,
        reliability: plan.prediction.reliability,
        swept,
        stop,
    };
    let screen = sweeps.run(hunt.floor())?;
    hunt.check()?;
    let bound = hunt.close_in(&screen, &open)?;
    let best = spread(&hunt.found, plan.search.keep_apart, LISTED);
    let spots = hunt.rank(channel, &best, &roofs, &screen)?;
    let score = ground
        .open
        .iter()
        .zip(&screen.score)
        .map(|(open, score)| if *open { *score } else { f32::NAN })
        .collect();
    Ok(SpotSearch {
        channel: channel.name.clone(),
        spots,
        best_listed: best_listed(task, channel)?,
        bound,
        demand_points: demand.len(),
        open_cells: open.len(),
        roofs: roofs.len(),
        cells_by_lines,
        roofs_by_lines: by_lines.len(),
        screened_by: propagator.method.swept().is_none().then(|| screener.method.name()),
        field: Field { grid: ground.grid.clone(), score, open: ground.open.clone() },
    })
}

/// Cells of the coarse look.
const COARSE: usize = 300;

/// About `count` of `cells`, evenly.
fn every(cells: &[usize], count: usize) -> Vec<usize> {
    let step = (cells.len() / count.max(1)).max(1);
    cells.iter().skip(step / 2).step_by(step).copied().collect()
}

/// The station on a mast on open ground; its place does not matter.
fn open_ground_station(task: &SpotTask<'_>, channel: &Channel) -> Result<Terminal, SpotError> {
    let plan = task.plan;
    let somewhere = plan.sites.first().map(|s| s.at).or(plan.posts.first().map(|p| p.at));
    let site = as_site(plan, "the spot", somewhere.ok_or(SpotError::NoGround)?, false);
    // Its neighbours on the roof are those of a site of its own.
    let with_site = with_sites(plan, vec![site.clone()]);
    Ok(Terminal::at_site(plan, channel, &site, task.terrain)
        .map_err(RankError::from)?
        .with_roof_noise(roof_noise(&with_site, channel, &site)))
}

/// A spot as a site of the plan.
fn as_site(plan: &Plan, name: &str, at: Position, on_roof: bool) -> Site {
    Site {
        name: name.to_owned(),
        at,
        roof: if on_roof { SiteRoof::OfBuilding } else { SiteRoof::AboveGround(Metres::new(0.0)) },
        mast: plan.search.mast,
        tall: false,
        locked: false,
        available: true,
        open_from: None,
        open_until: None,
        key_holder: None,
        phone: None,
        guardrail: None,
        power: None,
        power_line: None,
        roof_load: None,
        access: None,
        notes: None,
        environment: plan.search.environment,
    }
}

/// The plan with more sites.
fn with_sites(plan: &Plan, more: Vec<Site>) -> Plan {
    let mut plan = plan.clone();
    plan.sites.extend(more);
    plan
}

/// The best of the plan's own sites that may be used.
fn best_listed(task: &SpotTask<'_>, channel: &Channel) -> Result<Option<Rank>, RankError> {
    let inputs = inputs(task, task.plan);
    let may = |site: &&Site| may_stand(task.plan, channel, site);
    let usable: Vec<&Site> = task.plan.sites.iter().filter(may).collect();
    let mut scores = all_scores(&inputs, channel, &usable)?;
    scores.sort_by(better_first);
    Ok(scores.first().map(Rank::of))
}

/// How sites do, in their order; of several that fail the first is told.
fn all_scores(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    sites: &[&Site],
) -> Result<Vec<SiteScore>, RankError> {
    let scores: Vec<Result<SiteScore, RankError>> =
        sites.par_iter().map(|site| score_without_map(inputs, channel, site, None)).collect();
    scores.into_iter().collect()
}

fn inputs<'a>(task: &SpotTask<'a>, plan: &'a Plan) -> RankInputs<'a> {
    RankInputs {
        plan,
        terrain: task.terrain,
        propagator: task.propagator,
        demand: task.demand,
        grid: task.grid,
        row_done: &|| (),
        stop: task.stop,
    }
}

/// A search under way.
struct Hunt<'a> {
    task: &'a SpotTask<'a>,
    scorer: Scorer<'a>,
    ground: &'a OpenGround,
    found: Vec<Found>,
}

impl Hunt<'_> {
    /// The value of the last spot that would be listed now; nothing below it matters.
    fn floor(&self) -> f64 {
        let best = spread(&self.found, self.task.plan.search.keep_apart, LISTED);
        match best.get(LISTED - 1) {
            Some(last) => last.worth.value(),
            None => f64::NEG_INFINITY,
        }
    }

    fn check(&self) -> Result<(), RankError> {
        if self.task.stop.load(atomic::Ordering::Relaxed) {
            Err(RankError::Stopped)
        } else {
            Ok(())
        }
    }

    /// Scores cells on exact paths.
    fn cells(&mut self, cells: &[usize], floor: f64) -> Result<(), SpotError> {
        let columns = self.ground.grid.columns().max(1);
        let centres: Vec<(f64, f64)> = cells
            .iter()
            .map(|cell| ((cell % columns) as f64 + 0.5, (cell / columns) as f64 + 0.5))
            .collect();
        let places = self.ground.grid.projector()?.to_positions(&centres)?;
        let mast = self.task.plan.search.mast;
        let spots: Vec<Place> = places
            .into_iter()
            .zip(cells)
            .map(|(at, cell)| Place { at: rounded(at), antenna: mast, stands: Stands::Cell(*cell) })
            .collect();
        self.spots(&spots, floor)
    }

    fn roofs(&mut self, roofs: &[ground::Roof]) -> Result<(), SpotError> {
        let mast = self.task.plan.search.mast;
        let spots: Vec<Place> = roofs
            .iter()
            .enumerate()
            .map(|(number, roof)| Place {
                at: roof.at,
                antenna: roof.height + mast,
                stands: Stands::Roof(number),
            })
            .collect();
        for batch in spots.chunks(BATCH) {
            self.spots(batch, self.floor())?;
        }
        Ok(())
    }

    fn spots(&mut self, spots: &[Place], floor: f64) -> Result<(), SpotError> {
        self.check()?;
        let scored = self.scorer.score(spots, floor)?;
        self.found.extend(spots.iter().zip(scored).filter_map(|(place, scored)| match scored {
            Scored::Whole(worth) => Some(Found { place: *place, worth }),
            Scored::Below => None,
        }));
        Ok(())
    }

    /// Ranks the chosen spots as sites, on everything that a ranking counts.
    fn rank(
        &self,
        channel: &Channel,
        best: &[Found],
        roofs: &[ground::Roof],
        screen: &Screen,
    ) -> Result<Vec<Spot>, SpotError> {
        let plan = self.task.plan;
        let name = |number: usize| {
            let mut name = format!("Spot {}", number + 1);
            while plan.sites.iter().any(|s| s.name.eq_ignore_ascii_case(&name)) {
                name += " new";
            }
            name
        };
        let sites: Vec<Site> = best
            .iter()
            .enumerate()
            .map(|(number, found)| {
                let on_roof = matches!(found.place.stands, Stands::Roof(_));
                as_site(plan, &name(number), found.place.at, on_roof)
            })
            .collect();
        let wider = with_sites(plan, sites.clone());
        let inputs = inputs(self.task, &wider);
        self.check()?;
        let scores = all_scores(&inputs, channel, &sites.iter().collect::<Vec<_>>())?;
        let mut spots = Vec::new();
        for (score, found) in scores.into_iter().zip(best) {
            let (stands_on, by_the_sweep) = match found.place.stands {
                Stands::Roof(number) => (
                    roofs.get(number).map_or(StandsOn::Ground, |roof| StandsOn::Roof {
                        building: roof.id.clone(),
                        height_m: roof.height,
                    }),
                    None,
                ),
                Stands::Cell(cell) => {
                    let score = screen.score.get(cell).filter(|s| !s.is_nan());
                    (StandsOn::Ground, score.map(|s| f64::from(*s)))
                }
            };
            let spot = Spot {
                rank: Rank::of(&score),
                on_demand_points: found.worth.probability,
                by_the_sweep,
                stands_on,
                mast_m: plan.search.mast,
                clear_of_lines_m: clear_of_lines(plan.search.mast),
                slope: slope(self.task.terrain, found.place.at).ok(),
                near_site: near_site(plan, found.place.at),
                to_road_m: plan.search.roads.as_ref().and_then(|r| to_road(r, found.place.at)),
            };
            spots.push((score, spot));
        }
        spots.sort_by(|(a, _), (b, _)| better_first(a, b));
        let in_order = spots.into_iter().enumerate().map(|(number, (_, mut spot))| {
            spot.rank.name = name(number);
            spot
        });
        Ok(in_order.collect())
    }
}

/// The plan's site that is nearest, if spots so near would not both be listed.
fn near_site(plan: &Plan, at: Position) -> Option<String> {
    let away = |site: &&Site| site.at.distance(at);
    let nearest = plan.sites.iter().min_by(|a, b| away(a).value().total_cmp(&away(b).value()))?;
    (away(&nearest) < plan.search.keep_apart).then(|| nearest.name.clone())
}

/// Spots that are scored between two looks at the floor.
const BATCH: usize = 256;

/// Distance to the nearest road.
fn to_road(roads: &Roads, at: Position) -> Option<Metres> {
    use geo::{Closest, HaversineClosestPoint};
    let point = at.point();
    roads
        .lines
        .iter()
        .filter_map(|line| match line.haversine_closest_point(&point) {
            Closest::Intersection(near) | Closest::SinglePoint(near) => {
                Some(Geodesic.distance(point, near))
            }
            Closest::Indeterminate => None,
        })
        .min_by(f64::total_cmp)
        .map(Metres::new)
}
