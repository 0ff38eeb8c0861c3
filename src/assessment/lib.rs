//! A plan opened: read, checked, on its terrain, with everything a person
//! should know before trusting what comes of it.

mod contradictions;
mod digipeater;
mod fit;
mod foremost;
mod moment;
mod need;
mod provenance;
mod readiness;
mod remarks;
mod results;
mod studies;

pub use digipeater::{DigipeaterSite, WhyThere};
pub use moment::{
    CrewNow, Door, Happening, LossNow, Moment, NotKnown, Phase, PostNow, RouteNow, Shift, SiteNow,
    Stands, StationNow, TimeStop, Underway,
};
pub use need::{Holds, Need, Survey};
pub use provenance::{Provenance, digest, digest_of_parts, fixed_time, now};
pub use readiness::{
    Bar, BarKind, Decided, FallbackReach, Finding, Fix, Gravity, Matter, Readiness, ReadinessError,
    Standing, Step, Stood, Thinnest, Timeline, TrackerHeard, Unknown, UnknownMatter, Verdict,
    pack_fix,
};
pub use results::{CositeFindings, Energy, Reserve, RoofConflict, SiteMap, power_lacks};
pub use studies::Ranked;

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use perchline_link::{Propagator, building_remarks};
use perchline_plan::{self as plan, Plan, PlanError, Remark};
use perchline_propagation::METHODS;
use perchline_siting::RankInputs;
use perchline_terrain::{Grid, Terrain, TerrainError};
use perchline_units::Position;
use results::Results;

/// A plan with its terrain, ready to be worked on.
#[derive(Clone)]
pub struct Assessment {
    /// The plan.
    pub plan: Plan,
    /// Its terrain, with buildings and woods.
    pub terrain: Arc<Terrain>,
    /// Its propagation method.
    pub propagator: Propagator,
    /// What makes results of it.
    pub provenance: Provenance,
    /// Everything a person should know before trusting a result.
    pub remarks: Vec<Remark>,
    /// How many of them, the first, stand above every result.
    foremost: usize,
    /// What it comes to, as far as anybody asked.
    results: Arc<Results>,
}

/// Reads a plan; see [`plan::read`].
///
/// # Errors
/// [`PlanError`] with every problem found.
pub fn read(file: &Path) -> Result<Plan, PlanError> {
    plan::read(file, &methods())
}

/// Reads the text of a plan that is, or may be, kept in `file`; see
/// [`plan::read_text`].
///
/// # Errors
/// [`PlanError`] with every problem found.
pub fn read_text(file: &Path, text: &str) -> Result<Plan, PlanError> {
    plan::read_text(file, text, &methods())
}

fn methods() -> Vec<&'static str> {
    METHODS.iter().map(|m| m.name()).collect()
}

impl Assessment {
    /// Reads a plan and opens it.
    ///
    /// # Errors
    /// [`PlanError`] with everything that is wrong with it.
    pub fn read(file: &Path) -> Result<Self, PlanError> {
        Self::new(read(file)?, &[])
    }

    /// Opens a plan with the terrain around its places, and around `more` of
    /// them.
    ///
    /// # Errors
    /// [`PlanError`] where the terrain cannot be read, or where something lies
    /// off it, each with its line.
    pub fn new(plan: Plan, more: &[Position]) -> Result<Self, PlanError> {
        let survey = Survey::of(&plan, more, 0)?;
        Self::surveyed(plan, survey)
    }

    /// The same with the terrain that was surveyed for it.
    ///
    /// # Errors
    /// [`PlanError`] as for [`Assessment::new`].
    pub fn surveyed(plan: Plan, survey: Survey) -> Result<Self, PlanError> {
        let terrain = Terrain::surveyed(survey.terrain)
            .map_err(|error| plan.terrain_error(error.to_string()))?;
        let terrain = terrain.with_surroundings(&plan).map_err(|error| {
            let (table, field) = error.place();
            let problem = plan.table_problem(table, field, error.to_string());
            PlanError::new(&plan.file, vec![problem])
        })?;
        Self::on(plan, Arc::new(terrain))
    }

    /// The same with the plan's map tiles on its terrain, for what draws pages;
    /// as it is where the plan names none.
    ///
    /// # Errors
    /// [`PlanError`] where the tiles cannot be drawn.
    pub fn with_tiles(self) -> Result<Self, PlanError> {
        if self.plan.map.tiles.is_none() {
            return Ok(self);
        }
        let Self { plan, terrain, .. } = self;
        let terrain = Arc::unwrap_or_clone(terrain);
        let terrain = terrain.with_tiles(plan.map.tiles.as_deref()).map_err(|error| {
            let problem = plan.table_problem("map", "tiles", error.to_string());
            PlanError::new(&plan.file, vec![problem])
        })?;
        Self::on(plan, Arc::new(terrain))
    }

    /// Another state of the plan: on the same terrain where that still holds
    /// what the plan asks for, on terrain read anew, without tiles, otherwise.
    ///
    /// # Errors
    /// [`PlanError`] as for [`Assessment::new`].
    pub fn revised(&self, plan: Plan) -> Result<Self, PlanError> {
        let old = &self.plan;
        let same = plan.terrain == old.terrain
            && plan.buildings == old.buildings
            && plan.land_cover == old.land_cover
            && plan.water == old.water
            && plan.place_names == old.place_names
            && plan.map == old.map
            && plan.vector_files == old.vector_files
            && plan.extent_points().all(|at| self.terrain.bounds().contains(at));
        if same { Self::on(plan, Arc::clone(&self.terrain)) } else { Self::new(plan, &[]) }
    }

    fn on(plan: Plan, terrain: Arc<Terrain>) -> Result<Self, PlanError> {
        let propagator = Propagator::new(&plan.prediction);
        fit::noise_floors(&plan)?;
        fit::stand_on_terrain(&plan, &terrain)?;
        let strays = fit::strays(&plan, &terrain)?;
        let provenance = Provenance::of(&plan, &terrain, &propagator);
        let foremost = foremost::remarks(&plan, &terrain);
        let leading = foremost.len();
        let remarks = foremost
            .into_iter()
            .chain(plan.remarks.iter().cloned())
            .chain(terrain.remarks().iter().cloned())
            .chain(building_remarks(&plan, &terrain))
            .chain(strays)
            .chain(remarks::names_elsewhere(&plan, &terrain))
            .chain(remarks::range_remarks(&plan, &propagator))
            .chain(remarks::climate_remark(&propagator))
            .map(|remark| remarks::without_folders(remark, &plan, &provenance.inputs))
            .collect();
        Ok(Self {
            plan,
            terrain,
            propagator,
            provenance,
            remarks,
            foremost: leading,
            results: Arc::default(),
        })
    }

    /// The remarks that stand above every result: they may turn it over.
    #[must_use]
    pub fn foremost(&self) -> &[Remark] {
        self.remarks.get(..self.foremost).unwrap_or_default()
    }

    /// The other remarks.
    #[must_use]
    pub fn further_remarks(&self) -> &[Remark] {
        self.remarks.get(self.foremost..).unwrap_or_default()
    }

    /// The cells of the coverage maps.
    ///
    /// # Errors
    /// [`TerrainError`] when the plan's cells do not suit the terrain's.
    pub fn map_grid(&self) -> Result<Grid, TerrainError> {
        let grid = self.terrain.grid();
        match self.plan.map.cell {
            Some(cell) => grid.coarser(cell),
            None => Ok(grid.clone()),
        }
    }

    /// What sites are ranked from, on the cells of `grid`.
    pub fn rank_inputs<'a>(
        &'a self,
        grid: &'a Grid,
        row_done: &'a (dyn Fn() + Sync),
        stop: &'a AtomicBool,
    ) -> RankInputs<'a> {
        RankInputs {
            plan: &self.plan,
            terrain: &self.terrain,
            propagator: &self.propagator,
            demand: self.demand(),
            grid,
            row_done,
            stop,
        }
    }
}
