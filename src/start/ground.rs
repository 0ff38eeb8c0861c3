//! The elevation of the place, and heights on it where a relay could stand.

use std::path::{Path, PathBuf};

use ndarray::ArrayView2;
use perchline_plan::{Remark, TerrainInputs};
use perchline_terrain::{
    Extent, MissingTiles, Terrain, TerrainError, TerrainSurvey, covered_by, may_be_elevation,
};
use perchline_units::{Metres, Position};

use super::StartError;
use super::places::{Places, middle_of};

/// The most heights that are suggested.
const MOST_SUGGESTED: usize = 4;

/// Suggested heights are at least so far apart, and none is a height that rises
/// nowhere above what lies this near: our choice.
const APART: Metres = Metres::new(300.0);
const AROUND: Metres = Metres::new(100.0);

/// The most cells that a first plan works with: some seconds a map. Beyond it the
/// plan states larger ones.
const MOST_CELLS: f64 = 20e6;

/// The most cells of a first map, about: as many as the sample's has. Beyond it the
/// plan states larger ones for maps; posts are computed as finely as ever.
const MOST_MAP_CELLS: f64 = 150e3;

/// The terrain of a first plan.
pub(super) struct Ground {
    terrain: Terrain,
    /// The side of a cell that the plan states, where the file's own are too many.
    pub cell: Option<Metres>,
    /// The side of a cell of its maps, where the terrain's are too many for a first look.
    pub map_cell: Option<Metres>,
}

/// The middle of an elevation file, or of all in a folder, and how far from there it
/// reaches in every direction; `None` where it cannot be placed.
pub(super) fn middle_of_file(elevation: &Path) -> Result<Option<(Position, Metres)>, StartError> {
    let Some(covered) = covered_by(elevation).map_err(Box::new)? else { return Ok(None) };
    let Some(middle) = middle_of(covered) else { return Ok(None) };
    let (corner, other) = (covered.south_west, covered.north_east);
    let side = |latitude, longitude| Position::new(latitude, longitude).ok();
    let north = side(other.latitude(), middle.longitude());
    let west = side(middle.latitude(), corner.longitude());
    let reach = [north, west].into_iter().flatten().map(|at| middle.distance(at));
    // Not to the rim: the plan's margin has to fit.
    let reach = reach.fold(Metres::new(f64::INFINITY), Metres::min) * 0.6;
    Ok(Some((middle, reach)))
}

/// Elevation that lies in a folder: each file that can be placed, and each folder in it
/// that holds such. What cannot be read is left out.
#[must_use]
pub fn elevation_in(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let is_hidden = |path: &PathBuf| {
        path.file_name().is_none_or(|name| name.to_string_lossy().starts_with('.'))
    };
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    paths.retain(|path| !is_hidden(path) && (path.is_dir() || may_be_elevation(path)));
    paths.sort();
    paths.retain(|path| covered_by(path).is_ok_and(|covered| covered.is_some()));
    paths
}

impl Ground {
    /// Reads what the plan will need of it.
    pub fn open(elevation: &Path, extent: Extent, places: &Places) -> Result<Self, StartError> {
        let inputs = |cell| TerrainInputs {
            files: vec![elevation.to_owned()],
            height_unit: None,
            crs: None,
            fill_gaps: false,
            cell,
        };
        let survey = TerrainSurvey::of(&inputs(None), extent).map_err(Box::new)?;
        let cell = larger_cell(&survey).map_err(Box::new)?;
        let survey = match cell {
            Some(_) => TerrainSurvey::of(&inputs(cell), extent).map_err(Box::new)?,
            None => survey,
        };
        let terrain = Terrain::surveyed(survey).map_err(Box::new)?;
        let posts = places.posts.iter().map(|post| (&post.name, post.at));
        let sites = places.sites.iter().map(|site| (&site.name, site.at));
        for (name, at) in posts.chain(sites) {
            if let Err(error) = terrain.ground(at) {
                let what = format!("\"{name}\"");
                return Err(StartError::Off { what, reason: error.to_string() });
            }
        }
        let map_cell = map_cell(&terrain);
        Ok(Self { terrain, cell, map_cell })
    }

    /// Whether roofs and trees seem to be in the heights already.
    pub fn is_built(&self) -> bool {
        self.terrain.looks_built()
    }

    /// Tiles that a folder of elevation lacks.
    pub fn missing(&self) -> Option<&MissingTiles> {
        self.terrain.missing_tiles()
    }

    /// The files that it was read from.
    pub fn files(&self) -> Vec<PathBuf> {
        self.terrain.files().iter().map(|file| file.path.clone()).collect()
    }

    /// What a person should know of it.
    pub fn remarks(&self) -> &[Remark] {
        self.terrain.remarks()
    }

    /// The highest places inside the rectangle around all others, apart from each
    /// other, each with its height above sea level; highest first.
    pub fn heights_near(&self, places: &Places) -> Vec<(Position, Metres)> {
        let Some(around) = Extent::around(places.positions(), AROUND) else { return Vec::new() };
        let block = (AROUND.value() / self.terrain.spacing().value()).ceil().max(3.0) as usize;
        let Ok(projector) = self.terrain.grid().projector() else { return Vec::new() };
        let place = |peak: &Peak| {
            let at = projector.to_position(peak.column as f64 + 0.5, peak.row as f64 + 0.5).ok()?;
            around.contains(at).then_some((at, Metres::new(peak.height.into())))
        };
        let peaks = peaks(self.terrain.heights(), block);
        let mut heights: Vec<_> = peaks.iter().filter_map(place).collect();
        let middle = middle_of(around);
        let from_middle = |at: Position| middle.map_or(0.0, |m| m.distance(at).value());
        // Of equal heights, as on a plain, the nearest to the middle.
        heights.sort_by(|(a, high), (b, higher)| {
            higher
                .value()
                .total_cmp(&high.value())
                .then(from_middle(*a).total_cmp(&from_middle(*b)))
        });
        let across = around.south_west.distance(around.north_east);
        let apart = APART.max(across * 0.125);
        let mut chosen: Vec<(Position, Metres)> = Vec::new();
        for (at, height) in heights {
            if chosen.len() < MOST_SUGGESTED && chosen.iter().all(|(c, _)| c.distance(at) >= apart)
            {
                chosen.push((at, height));
            }
        }
        chosen
    }
}

/// The side of larger cells, where the file's own are too many.
fn larger_cell(survey: &TerrainSurvey) -> Result<Option<Metres>, TerrainError> {
    let grid = survey.grid();
    let cells = grid.columns() as f64 * grid.rows() as f64;
    if cells <= MOST_CELLS {
        return Ok(None);
    }
    let (width, height) = grid.cell_size()?;
    let side = width.min(height).value() * (cells / MOST_CELLS).sqrt();
    Ok(Some(Metres::new(side.ceil())))
}

/// The side of larger cells of maps: whole cells of the terrain together.
fn map_cell(terrain: &Terrain) -> Option<Metres> {
    let grid = terrain.grid();
    let cells = grid.columns() as f64 * grid.rows() as f64;
    let together = (cells / MOST_MAP_CELLS).sqrt().ceil();
    // No map takes cells of more than a kilometre.
    let side = (terrain.spacing() * together).value().round().min(1000.0);
    (together > 1.0 && side >= 1.0).then(|| Metres::new(side))
}

/// A cell that no cell of its block, nor of those around it, is higher than.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Peak {
    row: usize,
    column: usize,
    height: f32,
}

/// The highest cell of each square block of so many cells a side, where no block
/// around it has a higher one.
fn peaks(heights: ArrayView2<'_, f32>, block: usize) -> Vec<Peak> {
    let blocks = (heights.nrows().div_ceil(block), heights.ncols().div_ceil(block));
    let mut highest: Vec<Option<Peak>> = vec![None; blocks.0 * blocks.1];
    for ((row, column), &height) in heights.indexed_iter() {
        let place = (row / block) * blocks.1 + column / block;
        let Some(own) = highest.get_mut(place).filter(|_| height.is_finite()) else { continue };
        if own.is_none_or(|own| height > own.height) {
            *own = Some(Peak { row, column, height });
        }
    }
    let at = |row: usize, column: usize| highest.get(row * blocks.1 + column).copied().flatten();
    let is_peak = |peak: &Peak| {
        let (row, column) = (peak.row / block, peak.column / block);
        let rows = row.saturating_sub(1)..(row + 2).min(blocks.0);
        rows.flat_map(|r| {
            (column.saturating_sub(1)..(column + 2).min(blocks.1)).map(move |c| (r, c))
        })
        .filter_map(|(r, c)| at(r, c))
        .all(|other| other.height <= peak.height)
    };
    highest.iter().flatten().filter(|peak| is_peak(peak)).copied().collect()
}

#[cfg(test)]
mod tests {
    use ndarray::Array2;

    use super::*;

    #[test]
    fn peaks_are_those_that_nothing_near_rises_above() {
        let hills = Array2::from_shape_fn((90, 60), |(row, column)| {
            let bump = |r: f32, c: f32, h: f32| {
                let (dr, dc) = (row as f32 - r, column as f32 - c);
                (h - dr.hypot(dc)).max(0.0)
            };
            bump(20.0, 20.0, 30.0) + bump(70.0, 45.0, 20.0)
        });
        let found: Vec<_> =
            peaks(hills.view(), 5).into_iter().filter(|peak| peak.height > 1.0).collect();
        let places: Vec<_> = found.iter().map(|peak| (peak.row, peak.column)).collect();
        assert_eq!(places, [(20, 20), (70, 45)]);
    }

    #[test]
    fn gaps_are_no_peaks_and_a_slope_has_its_end() {
        let slope =
            Array2::from_shape_fn(
                (20, 20),
                |(row, column)| {
                    if row == 0 { f32::NAN } else { column as f32 }
                },
            );
        let found = peaks(slope.view(), 4);
        assert!(found.iter().all(|peak| peak.column == 19 && peak.row > 0), "{found:?}");
        assert!(peaks(Array2::from_elem((5, 5), f32::NAN).view(), 3).is_empty());
    }
}
