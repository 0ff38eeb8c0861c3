//! What is to be served: posts, areas, routes and, if wanted, the whole map,
//! each as the spots that stand for it.

use std::ops::Range;

use serde::Serialize;

use crate::demand::{area_samples, on_the_street, route_samples};
use perchline_plan::{Environment, Plan};
use perchline_terrain::{Grid, Terrain, TerrainError};
use perchline_units::{Metres, Position};

/// Cells along the longer side of the map when the whole of it counts.
const MAP_CELLS: f64 = 50.0;

/// Weight of the whole map: that of an area for which the plan states none.
const MAP_WEIGHT: f64 = 1.0;

/// What some spots stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A post.
    Post,
    /// A staging area.
    Area,
    /// A route.
    Route,
    /// The whole map.
    Map,
}

/// Something to be served.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// What it is.
    pub kind: Kind,
    /// Its name.
    pub name: String,
    /// Its weight.
    pub weight: f64,
    /// Noise around it in place of the plan's.
    pub environment: Option<Environment>,
    /// Which of the spots are its own.
    pub spots: Range<usize>,
}

/// A spot that stands for a target or a part of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Where it is.
    pub at: Position,
    /// Its part of the target, 0 to 1.
    pub part: f64,
}

/// Everything to be served, in the plan's order: posts, areas, routes, map.
#[derive(Debug, Clone, Default)]
pub struct Targets {
    /// The targets.
    pub list: Vec<Target>,
    /// Their spots.
    pub spots: Vec<Spot>,
}

impl Targets {
    /// Those of a plan; the map too where its `grid` is given.
    ///
    /// # Errors
    /// [`TerrainError`] when the grid has no place on the earth.
    pub fn of(plan: &Plan, terrain: &Terrain, grid: Option<&Grid>) -> Result<Self, TerrainError> {
        let mut targets = Self::default();
        for post in &plan.posts {
            targets.add(Kind::Post, &post.name, post.weight, post.environment, [(post.at, 1.0)]);
        }
        for area in &plan.areas {
            let spots =
                on_the_street(area_samples(area), terrain).into_iter().map(|s| (s.at, s.weight));
            targets.add(Kind::Area, &area.name, area.weight, area.environment, spots);
        }
        for route in &plan.routes {
            let spots =
                on_the_street(route_samples(route), terrain).into_iter().map(|s| (s.at, s.weight));
            targets.add(Kind::Route, &route.name, route.weight, route.environment, spots);
        }
        if let Some(grid) = grid {
            let spots = centres(grid)?.into_iter().map(|at| (at, 1.0));
            targets.add(Kind::Map, "Whole map", MAP_WEIGHT, None, spots);
        }
        Ok(targets)
    }

    fn add(
        &mut self,
        kind: Kind,
        name: &str,
        weight: f64,
        environment: Option<Environment>,
        spots: impl IntoIterator<Item = (Position, f64)>,
    ) {
        let spots: Vec<_> = spots.into_iter().collect();
        let total: f64 = spots.iter().map(|(_, weight)| weight).sum();
        let start = self.spots.len();
        self.spots.extend(spots.iter().map(|(at, weight)| Spot { at: *at, part: weight / total }));
        let spots = start..self.spots.len();
        self.list.push(Target { kind, name: name.to_owned(), weight, environment, spots });
    }

    /// The weight of each spot.
    #[must_use]
    pub fn weights(&self) -> Vec<f64> {
        self.list
            .iter()
            .flat_map(|target| {
                let spots = self.spots.get(target.spots.clone()).unwrap_or_default();
                spots.iter().map(|spot| target.weight * spot.part)
            })
            .collect()
    }
}

/// Spots that stand for all that a plan names, and for the whole map where it
/// counts.
#[must_use]
pub fn spots_to_serve(plan: &Plan, whole_area: bool) -> usize {
    let areas = plan.areas.iter().map(|area| area_samples(area).len());
    let routes = plan.routes.iter().map(|route| route_samples(route).len());
    let map = if whole_area { (MAP_CELLS * MAP_CELLS) as usize } else { 0 };
    plan.posts.len() + areas.sum::<usize>() + routes.sum::<usize>() + map
}

/// Centres of the map's cells, made so coarse that there are few.
fn centres(grid: &Grid) -> Result<Vec<Position>, TerrainError> {
    let (width, height) = grid.cell_size()?;
    let side = (width.value() * grid.columns() as f64).max(height.value() * grid.rows() as f64);
    let coarse = grid.coarser(Metres::new(side / MAP_CELLS))?;
    let cells: Vec<_> = (0..coarse.rows())
        .flat_map(|row| (0..coarse.columns()).map(move |column| (column, row)))
        .map(|(column, row)| (column as f64 + 0.5, row as f64 + 0.5))
        .collect();
    coarse.projector()?.to_positions(&cells)
}
