//! The window of terrain that a plan needs, in memory.

use std::path::Path;
use std::sync::{Arc, OnceLock};

use ndarray::{Array2, ArrayView2};

use super::contours::KnownLines;
use super::cover::Standing;
use super::mosaic::TerrainSurvey;
use super::own_cells::{OwnCells, OwnGround};
use super::tracer::Sampler;
use super::{
    Extent, Grid, GroundPicture, MissingTiles, PlaceError, TerrainError, TilesError, Tracer,
    surface_model,
};
use perchline_plan::{InputFile, Remark, TerrainInputs};
use perchline_profile::Profile;
use perchline_units::{Metres, Position};

/// The window of terrain that a plan needs, in memory.
#[derive(Debug, Clone)]
pub struct Terrain {
    grid: Grid,
    bounds: Extent,
    /// The rectangle around all elevation files, of which the window is a part.
    pub(super) covered: Extent,
    /// Squares of which the plan's folders of elevation lack something.
    pub(super) missing: Option<MissingTiles>,
    /// The smaller side of a cell on the ground, in metres.
    spacing: f64,
    heights: Array2<f32>,
    /// Files on another grid.
    pub(super) own_cells: Option<Arc<OwnCells>>,
    /// What stands on the ground, metres, 0 where it is bare; and both together.
    cover: Option<Cover>,
    /// The buildings among it, in order of ascending height.
    pub(super) buildings: Arc<Standing>,
    /// Cells of open water, where something says so.
    pub(super) water: Option<Array2<bool>>,
    /// Whether they count as sea.
    pub(super) sea: bool,
    /// What a person already has of the ground, where the plan names it.
    picture: Option<Arc<GroundPicture>>,
    /// Contours and shores, once they were asked for.
    pub(super) lines: KnownLines,
    /// The lowest and the highest height, likewise.
    range: OnceLock<Option<(Metres, Metres)>>,
    gap_cells: usize,
    pub(super) files: Vec<InputFile>,
    pub(super) remarks: Vec<Remark>,
}

#[derive(Debug, Clone)]
struct Cover {
    cover: Array2<f32>,
    surface: Array2<f32>,
    woods: Option<Woods>,
}

/// How much of the cover is trees, and the surface without them: the ground's
/// own where nothing else stands on it.
#[derive(Debug, Clone)]
struct Woods {
    trees: Array2<f32>,
    cleared: Option<Array2<f32>>,
}

impl Terrain {
    /// Reads the window that covers `extent` out of the plan's elevation files.
    ///
    /// The window's coordinate system and cells are those of the first file;
    /// other files are resampled to it where theirs differ, and their own cells
    /// kept for paths. Only the window is read. Where files overlap the first that has
    /// a height wins. Nothing is fetched from a network.
    ///
    /// # Errors
    /// [`TerrainError`] names the file and what to do about it.
    pub fn open(inputs: &TerrainInputs, extent: Extent) -> Result<Self, TerrainError> {
        Self::surveyed(TerrainSurvey::of(inputs, extent)?)
    }

    /// The same out of files that are open already.
    ///
    /// # Errors
    /// [`TerrainError`] names the file and what to do about it.
    pub fn surveyed(survey: TerrainSurvey) -> Result<Self, TerrainError> {
        let mosaic = survey.read()?;
        let mut terrain = Self::from_heights(mosaic.grid, mosaic.heights)?;
        terrain.own_cells = mosaic.own_cells.map(Arc::new);
        terrain.files = mosaic.files;
        terrain.remarks = mosaic.remarks;
        terrain.covered = mosaic.covered.unwrap_or(terrain.bounds);
        terrain.missing = mosaic.missing;
        let cells = terrain.grid.cell_size()?;
        terrain.remarks.extend(surface_model::told(terrain.heights.view(), cells));
        Ok(terrain)
    }

    /// Terrain from heights above sea level in metres, NaN where there is a
    /// gap, row 0 at the grid's top.
    ///
    /// # Errors
    /// [`TerrainError::Shape`] when heights and grid differ in size,
    /// [`TerrainError::Projection`] when the grid does not lie on the earth.
    pub fn from_heights(grid: Grid, heights: Array2<f32>) -> Result<Self, TerrainError> {
        if heights.dim() != (grid.rows(), grid.columns()) {
            return Err(TerrainError::Shape {
                found: heights.dim(),
                grid: (grid.rows(), grid.columns()),
            });
        }
        // Profiles index the heights as one row after another.
        let heights = if heights.is_standard_layout() {
            heights
        } else {
            heights.as_standard_layout().into_owned()
        };
        let (width, height) = grid.cell_size()?;
        let bounds = grid.bounds()?;
        Ok(Self {
            bounds,
            covered: bounds,
            missing: None,
            spacing: width.min(height).value(),
            gap_cells: heights.iter().filter(|h| h.is_nan()).count(),
            grid,
            heights,
            own_cells: None,
            cover: None,
            buildings: Arc::default(),
            water: None,
            sea: false,
            picture: None,
            lines: KnownLines::default(),
            range: OnceLock::new(),
            files: Vec::new(),
            remarks: Vec::new(),
        })
    }

    /// The same ground with a picture out of the plan's file of map tiles; as it
    /// is where the plan names none.
    ///
    /// # Errors
    /// [`TilesError`] when the file cannot be drawn.
    pub fn with_tiles(mut self, tiles: Option<&Path>) -> Result<Self, TilesError> {
        let Some(file) = tiles else { return Ok(self) };
        let picture = super::tiles::picture(file, &self.grid)?;
        let input = InputFile::of(file)
            .map_err(|e| TilesError::Open { file: file.to_owned(), reason: e.to_string() })?;
        self.files.push(input);
        self.picture = Some(Arc::new(picture));
        Ok(self)
    }

    /// A picture of the ground, spanning the grid; nothing without map tiles.
    #[must_use]
    pub fn picture(&self) -> Option<&GroundPicture> {
        self.picture.as_deref()
    }

    /// The same ground with buildings and trees on it: their height above the
    /// ground in metres for every cell of the grid, 0 where it is bare. Ground
    /// stays what it is; paths run over what stands on it.
    ///
    /// # Errors
    /// [`TerrainError::Shape`] when the cover and the grid differ in size.
    pub fn with_cover(mut self, cover: Array2<f32>) -> Result<Self, TerrainError> {
        let cover = self.layer(cover)?;
        let surface = &self.heights + &cover;
        self.cover = Some(Cover { cover, surface, woods: None });
        Ok(self)
    }

    /// The same cover, part of which is trees: for every cell so many metres
    /// of it, from the top; what is more than the cover counts as all of it.
    /// Waves run through trees at a price, and through nothing else.
    ///
    /// # Errors
    /// [`TerrainError::Shape`] when the trees and the grid differ in size.
    pub fn with_woods(mut self, trees: Array2<f32>) -> Result<Self, TerrainError> {
        let mut trees = self.layer(trees)?;
        let Some(cover) = &mut self.cover else { return Ok(self) };
        trees.zip_mut_with(&cover.cover, |trees, cover| *trees = trees.min(*cover));
        let any = trees.iter().any(|trees| *trees > 0.0);
        let all = trees == cover.cover;
        let cleared = (any && !all).then(|| &cover.surface - &trees);
        cover.woods = any.then_some(Woods { trees, cleared });
        Ok(self)
    }

    /// Heights over the ground as profiles index them: one row after another,
    /// a height that is none standing for nothing.
    fn layer(&self, heights: Array2<f32>) -> Result<Array2<f32>, TerrainError> {
        if heights.dim() != self.heights.dim() {
            return Err(TerrainError::Shape {
                found: heights.dim(),
                grid: (self.grid.rows(), self.grid.columns()),
            });
        }
        let heights = heights.mapv_into(|h| if h > 0.0 && h.is_finite() { h } else { 0.0 });
        Ok(if heights.is_standard_layout() {
            heights
        } else {
            heights.as_standard_layout().into_owned()
        })
    }

    /// Heights above the ground of what stands on it, in metres, 0 where it is
    /// bare; `None` where nothing is known of it.
    #[must_use]
    pub fn cover(&self) -> Option<ArrayView2<'_, f32>> {
        self.cover.as_ref().map(|c| c.cover.view())
    }

    /// Heights above sea level of the ground with what stands on it, NaN where
    /// there is a gap: the ground's own where nothing is known to stand on it.
    #[must_use]
    pub fn surface(&self) -> ArrayView2<'_, f32> {
        self.cover.as_ref().map_or_else(|| self.heights.view(), |c| c.surface.view())
    }

    /// How much of the cover is trees, in metres; `None` where there are none.
    #[must_use]
    pub fn woods(&self) -> Option<ArrayView2<'_, f32>> {
        self.cover.as_ref()?.woods.as_ref().map(|w| w.trees.view())
    }

    /// The surface without its trees; `None` where there are none.
    #[must_use]
    pub fn cleared_surface(&self) -> Option<ArrayView2<'_, f32>> {
        let woods = self.cover.as_ref()?.woods.as_ref()?;
        Some(woods.cleared.as_ref().unwrap_or(&self.heights).view())
    }

    /// The cover one row after another; empty where nothing is known of it.
    pub(super) fn flat_cover(&self) -> &[f32] {
        self.cover.as_ref().and_then(|c| c.cover.as_slice()).unwrap_or_default()
    }

    /// The trees of it likewise.
    pub(super) fn flat_woods(&self) -> &[f32] {
        let woods = self.cover.as_ref().and_then(|c| c.woods.as_ref());
        woods.and_then(|w| w.trees.as_slice()).unwrap_or_default()
    }

    /// Where the cells lie.
    #[must_use]
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// The rectangle of latitude and longitude around all elevation files.
    #[must_use]
    pub fn covered(&self) -> Extent {
        self.covered
    }

    /// The tiles that the plan's folders of elevation lack; `None` where nothing is
    /// missing, or the plan names no folder.
    #[must_use]
    pub fn missing_tiles(&self) -> Option<&MissingTiles> {
        self.missing.as_ref()
    }

    /// Whether roofs and trees seem to be in the heights; see docs/terrain.md for the
    /// rule.
    #[must_use]
    pub fn looks_built(&self) -> bool {
        let cells = self.grid.cell_size();
        cells.is_ok_and(|cells| surface_model::told(self.heights.view(), cells).is_some())
    }

    /// The lowest and the highest height of the window above sea level; `None`
    /// if it holds nothing but gaps.
    #[must_use]
    pub fn height_range(&self) -> Option<(Metres, Metres)> {
        *self.range.get_or_init(|| {
            let heights = self.heights.iter().filter(|h| !h.is_nan());
            let none = (f32::INFINITY, f32::NEG_INFINITY);
            let (low, high) = heights.fold(none, |(low, high), &h| (low.min(h), high.max(h)));
            (low <= high).then(|| (Metres::new(low.into()), Metres::new(high.into())))
        })
    }

    /// The rectangle of latitude and longitude that holds the window.
    #[must_use]
    pub fn bounds(&self) -> Extent {
        self.bounds
    }

    /// The distance between the points of a profile: the smaller side of a cell.
    #[must_use]
    pub fn spacing(&self) -> Metres {
        Metres::new(self.spacing)
    }

    /// Heights above sea level in metres, NaN where there is a gap; row 0 is the top.
    #[must_use]
    pub fn heights(&self) -> ArrayView2<'_, f32> {
        self.heights.view()
    }

    /// The heights one row after another.
    pub(super) fn flat(&self) -> &[f32] {
        self.heights.as_slice().unwrap_or_default()
    }

    /// The ground of files on another grid than the window's, in their own cells;
    /// `None` where the window's are all there are.
    #[must_use]
    pub fn own_ground(&self) -> Option<OwnGround<'_>> {
        Some(OwnGround::new(self.own_cells.as_deref()?, Sampler::new(self)))
    }

    /// Heights above sea level of those files, each on its own cells.
    pub fn own_heights(&self) -> impl Iterator<Item = ArrayView2<'_, f32>> {
        self.own_cells.iter().flat_map(|own| own.heights())
    }

    /// Whether the window holds a file on another grid.
    pub(super) const fn has_own_cells(&self) -> bool {
        self.own_cells.is_some()
    }

    /// The ground height at a fractional cell where the window's cells give `window`.
    pub(super) fn own_height(&self, cell: (f64, f64), window: f64) -> f64 {
        self.own_cells.as_ref().map_or(window, |own| own.height(cell, window))
    }

    /// The elevation files that the window was read from, in the plan's order.
    ///
    /// Of a virtual raster (VRT) only the description file itself is hashed,
    /// not the rasters that it refers to.
    #[must_use]
    pub fn files(&self) -> &[InputFile] {
        &self.files
    }

    /// What a person should know about the elevation: gaps, guessed units, resampling.
    #[must_use]
    pub fn remarks(&self) -> &[Remark] {
        &self.remarks
    }

    /// Cells of the window that have no height.
    #[must_use]
    pub fn gap_cells(&self) -> usize {
        self.gap_cells
    }

    /// Ground height above sea level at a position, bilinear between the
    /// centres of the four nearest cells.
    ///
    /// # Errors
    /// [`PlaceError::Outside`] or [`PlaceError::Gap`] when there is no height.
    pub fn ground(&self, at: Position) -> Result<Metres, PlaceError> {
        Ok(Tracer::on_ground(self, at)?.ground())
    }

    /// Profile along the geodesic, one point a cell, ends included.
    ///
    /// # Errors
    /// [`PlaceError`] when an end or a point between has no height.
    pub fn profile(&self, from: Position, to: Position) -> Result<Profile, PlaceError> {
        let mut profile = Profile::default();
        self.tracer(from)?.trace(to, &mut profile)?;
        Ok(profile)
    }

    /// A maker of many profiles that start at one place; one a thread.
    ///
    /// # Errors
    /// [`PlaceError::Outside`] or [`PlaceError::Gap`] when the place has no height.
    pub fn tracer(&self, from: Position) -> Result<Tracer<'_>, PlaceError> {
        Tracer::new(self, from)
    }
}
