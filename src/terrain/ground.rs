//! Heights of the window, while they come out of the files.

use gdal::raster::reproject;
use ndarray::{Array2, ArrayView2, ArrayViewMut2, Zip, s};

use super::geotiff::memory_dataset;
use super::means::Means;
use super::mosaic::{MOST_CELLS, bounding, larger, rim};
use super::overlap::Overlap;
use super::tile::{Rect, Tile};
use super::{Grid, TerrainError};
use perchline_units::Metres;

/// Heights of the window while files are read.
pub(super) enum WindowHeights {
    Cells { rect: Rect, heights: Array2<f32>, from: Array2<u16> },
    Larger { rect: Rect, factor: usize, means: Box<Means> },
}

impl WindowHeights {
    pub fn new(rect: Rect, factor: usize) -> Self {
        let shape = (rect.rows, rect.columns);
        if factor <= 1 {
            let heights = Array2::from_elem(shape, f32::NAN);
            return Self::Cells { rect, heights, from: Array2::default((0, 0)) };
        }
        let origin = (rect.column * factor as isize, rect.row * factor as isize);
        Self::Larger { rect, factor, means: Box::new(Means::new(factor, origin, shape)) }
    }

    /// Lays a file's own cells, the first of which is the frame's cell
    /// `offset`, under what is there of `part` of the window, and compares them
    /// with it.
    pub fn read(
        &mut self,
        tile: &mut Tile,
        offset: (isize, isize),
        part: Rect,
    ) -> Result<Overlap, TerrainError> {
        let mut overlap = Overlap::default();
        match self {
            Self::Cells { rect, heights, .. } => {
                let mut target = heights.slice_mut(inside(*rect, part));
                let source =
                    Rect { column: part.column - offset.0, row: part.row - offset.1, ..part };
                tile.strips(source, |first, strip| {
                    let target = target.slice_mut(s![first..first + strip.nrows(), ..]);
                    overlap.join(lay_under(target, &strip));
                })?;
            }
            Self::Larger { factor, means, .. } => {
                let side = *factor as isize;
                let low = (part.column * side - offset.0, part.row * side - offset.1);
                let high =
                    (low.0 + part.columns as isize * side, low.1 + part.rows as isize * side);
                let corner = |(column, row): (isize, isize)| (column as f64, row as f64);
                let Some(source) = Rect::around(corner(low), corner(high), tile.rect()) else {
                    return Ok(overlap);
                };
                let first_cell = (source.column + offset.0, source.row + offset.1);
                tile.strips(source, |first, strip| {
                    means.add((first_cell.0, first_cell.1 + first as isize), &strip);
                })?;
                overlap = means.next_file();
            }
        }
        Ok(overlap)
    }

    /// Lays heights of the window's own cells under what is there of `part`,
    /// and compares them with it. The cells that have their height from there are
    /// noted as those of file `number`.
    pub fn lay(&mut self, part: Rect, laid: &Array2<f32>, number: u16) -> Overlap {
        match self {
            Self::Cells { rect, heights, from } => {
                if from.is_empty() {
                    *from = Array2::default(heights.dim());
                }
                let target = heights.slice(inside(*rect, part));
                Zip::from(from.slice_mut(inside(*rect, part))).and(target).and(laid).for_each(
                    |from, target, laid| {
                        if target.is_nan() && !laid.is_nan() {
                            *from = number;
                        }
                    },
                );
                lay_under(heights.slice_mut(inside(*rect, part)), &laid.view())
            }
            Self::Larger { rect, means, .. } => {
                means.add_larger(place_in(*rect, part), &laid.view())
            }
        }
    }

    /// The heights, and for each cell the number of the file that it is from; no
    /// cells where no file was numbered.
    pub fn heights(self) -> (Array2<f32>, Array2<u16>) {
        match self {
            Self::Cells { heights, from, .. } => (heights, from),
            Self::Larger { means, .. } => (means.heights(), Array2::default((0, 0))),
        }
    }
}

/// Row and column of the first cell of a part of the window.
pub(super) fn place_in(rect: Rect, part: Rect) -> (usize, usize) {
    ((part.row - rect.row) as usize, (part.column - rect.column) as usize)
}

fn inside(
    rect: Rect,
    part: Rect,
) -> ndarray::SliceInfo<[ndarray::SliceInfoElem; 2], ndarray::Ix2, ndarray::Ix2> {
    let (top, left) = place_in(rect, part);
    s![top..top + part.rows, left..left + part.columns]
}

/// Refuses rectangles of more cells than a window may have.
pub(super) fn check_size(rect: Rect, grid: &Grid) -> Result<(), TerrainError> {
    if rect.cells() <= MOST_CELLS {
        return Ok(());
    }
    let (width, height) = grid.cell_size()?;
    let factor = (rect.cells() as f64 / MOST_CELLS as f64).sqrt().ceil();
    Err(TerrainError::TooLarge {
        columns: rect.columns as u64,
        rows: rect.rows as u64,
        gigabytes: rect.cells() as f64 * size_of::<f32>() as f64 / 1e9,
        limit: MOST_CELLS / 1_000_000,
        cell: Metres::new((width.min(height).value() * factor).ceil()),
    })
}

/// Puts heights where the window has none yet, and compares them elsewhere.
fn lay_under(target: ArrayViewMut2<'_, f32>, heights: &ArrayView2<'_, f32>) -> Overlap {
    let mut overlap = Overlap::default();
    Zip::from(target).and(heights).for_each(|target, &height| {
        if target.is_nan() {
            *target = height;
        } else {
            overlap.add(f64::from(*target), f64::from(height));
        }
    });
    overlap
}

/// A part of a file on the window's cells, and on those that it was resampled from.
pub(super) struct Resampled {
    pub heights: Array2<f32>,
    pub from: (Grid, Array2<f32>),
}

/// A file resampled to these cells of the window, each of `factor` of the first
/// file's a side; `None` where the file has nothing there.
pub(super) fn warp(
    tile: &mut Tile,
    part: &Grid,
    factor: usize,
) -> Result<Option<Resampled>, TerrainError> {
    let Some(Source { rect, means }) = Source::of(tile, part, factor)? else {
        return Ok(None);
    };
    let window = tile.grid.window(rect.column, rect.row, rect.columns, rect.rows);
    let (from, heights) = if means > 1 {
        (larger(&window, means)?, tile.read_means(rect, means)?)
    } else {
        check_size(rect, &window)?;
        (window, tile.read(rect)?)
    };
    let empty = Array2::from_elem((part.rows(), part.columns()), f32::NAN);
    let crs = super::grid::spatial_ref(part.crs())?;
    let resample = || -> gdal::errors::Result<_> {
        let mut source = memory_dataset(heights.view())?;
        source.set_spatial_ref(&tile.crs)?;
        source.set_geo_transform(&from.transform())?;
        let mut result = memory_dataset(empty.view())?;
        result.set_spatial_ref(&crs)?;
        result.set_geo_transform(&part.transform())?;
        reproject(&source, &result)?;
        result.rasterband(1)?.read_band_as::<f32>()
    };
    let (_, cells) = resample()
        .map_err(|source| TerrainError::Gdal {
            doing: "resampling an elevation file",
            source: Box::new(source),
        })?
        .into_shape_and_vec();
    let shape = (part.rows(), part.columns());
    let resampled = Array2::from_shape_vec(shape, cells)
        .map_err(|_| TerrainError::Shape { found: (0, 0), grid: shape })?;
    Ok(Some(Resampled { heights: resampled, from: (from, heights) }))
}

/// What a file is resampled from.
pub(super) struct Source {
    /// The file's cells that are needed, with a border for resampling.
    rect: Rect,
    /// How many of them a side are made one before.
    means: usize,
}

impl Source {
    /// What these cells of the window, each of `factor` of the first file's a
    /// side, need of a file; `None` where it has nothing there.
    pub fn of(tile: &Tile, part: &Grid, factor: usize) -> Result<Option<Self>, TerrainError> {
        // Means of half the window's cells keep what bilinear steps would jump over.
        let side = |(width, height): (Metres, Metres)| width.max(height).value();
        let (wanted, own) = (side(part.cell_size()?), side(tile.grid.cell_size()?));
        let means = if factor > 1 { (wanted / own / 2.0).max(1.0) as usize } else { 1 };
        let border = 2.0 * means as f64;
        let outline = rim((0.0, 0.0), (part.columns() as f64, part.rows() as f64));
        let projector = tile.grid.projector()?;
        let cells: Vec<_> = part
            .projector()?
            .to_positions(&outline)?
            .into_iter()
            .filter_map(|at| projector.to_cell(at).ok())
            .collect();
        if cells.is_empty() {
            return Ok(None);
        }
        let (low, high) = bounding(cells);
        let low = (low.0 - border, low.1 - border);
        let high = (high.0 + border, high.1 + border);
        Ok(Rect::around(low, high, tile.rect()).map(|rect| Self { rect, means }))
    }

    /// Cells that are held of it.
    pub fn cells(&self) -> f64 {
        self.rect.cells() as f64 / (self.means * self.means) as f64
    }
}
