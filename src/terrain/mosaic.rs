//! The working window, put together from the plan's files.

use gdal::GeoTransformEx;
use ndarray::Array2;

use super::ground::{Resampled, Source, WindowHeights, check_size, place_in, warp};
use super::overlap::Overlap;
use super::own_cells::{OwnCells, OwnFile};
use super::tile::{Rect, Tile, remark};
use super::{Extent, Grid, MissingTiles, Projector, TerrainError, folder, gaps};
use perchline_plan::{InputFile, Remark, TerrainInputs};
use perchline_units::{Degrees, Metres, Position};

/// The most cells of a window: 600 MB as f32, and a few times that in results.
pub(super) const MOST_CELLS: u64 = 150_000_000;

/// Tiles whose pixels are within this of the window's, in cells, are read
/// without resampling.
const ALIGNED: f64 = 0.01;

/// Points on each side of a rectangle whose outline is converted.
const RIM_STEPS: usize = 20;

/// What was read.
pub(super) struct Mosaic {
    pub grid: Grid,
    pub heights: Array2<f32>,
    /// Files on another grid.
    pub own_cells: Option<OwnCells>,
    pub files: Vec<InputFile>,
    pub remarks: Vec<Remark>,
    /// The rectangle around all files, where PROJ can place them.
    pub covered: Option<Extent>,
    /// Squares of which folders of elevation lack something.
    pub missing: Option<MissingTiles>,
}

/// The plan's elevation files, open, and where in them the window lies: no
/// height is read yet.
pub struct TerrainSurvey {
    /// What was asked for, and whether gaps are filled.
    extent: Extent,
    fill_gaps: bool,
    tiles: Vec<Tile>,
    /// The cells of the window, so many of the file's along a side.
    frame: Grid,
    factor: usize,
    /// The side of a cell that was asked for.
    asked: Option<Metres>,
    footprints: Vec<Option<Footprint>>,
    rect: Rect,
    remarks: Vec<Remark>,
    /// Squares of which folders of elevation lack something.
    missing: Option<MissingTiles>,
}

impl TerrainSurvey {
    /// Opens the plan's elevation files and finds the window that covers
    /// `extent`.
    ///
    /// # Errors
    /// [`TerrainError`] as for [`super::Terrain::open`].
    pub fn of(inputs: &TerrainInputs, extent: Extent) -> Result<Self, TerrainError> {
        let mut tiles = Vec::new();
        let mut folders = Vec::new();
        for file in &inputs.files {
            if folder::is_one(file) {
                let mut found = folder::search(file, inputs, extent)?;
                tiles.append(&mut found.tiles);
                folders.push(found);
            } else {
                tiles.push(Tile::open(file, inputs)?);
            }
        }
        let (mut remarks, missing) = folder::settle(&folders, &tiles, extent)?;
        let first = tiles.first().ok_or(TerrainError::NoFiles)?;
        let fine = frame(first)?;
        let factor = factor(&fine, inputs.cell)?;
        let frame = larger(&fine, factor)?;
        let projector = fine.projector()?;
        let footprints: Vec<_> =
            tiles.iter().map(|tile| footprint(&fine, &projector, tile, factor)).collect();
        let rect = window(&frame.projector()?, &footprints, &tiles, extent, &mut remarks)?;
        let (fill_gaps, asked) = (inputs.fill_gaps, inputs.cell);
        Ok(Self {
            extent,
            fill_gaps,
            tiles,
            frame,
            factor,
            asked,
            footprints,
            rect,
            remarks,
            missing,
        })
    }

    /// Bytes of archives that are held unpacked while the window is read.
    #[must_use]
    pub fn held_bytes(&self) -> u64 {
        self.tiles.iter().map(Tile::held_bytes).sum()
    }

    /// The window's cells.
    #[must_use]
    pub fn grid(&self) -> Grid {
        cells(&self.frame, self.rect)
    }

    /// The most cells that are held at once, beside the window's, for a file
    /// that has to be resampled.
    ///
    /// # Errors
    /// [`TerrainError`] when PROJ cannot place a file on the earth.
    pub fn resampled_cells(&self) -> Result<f64, TerrainError> {
        let cells = |(part, source): &(Rect, Source)| source.cells() + part.cells() as f64;
        Ok(self.sources()?.iter().map(cells).fold(0.0, f64::max))
    }

    /// Cells of files on another grid that are kept beside the window's.
    ///
    /// # Errors
    /// [`TerrainError`] when PROJ cannot place a file on the earth.
    pub fn own_cells(&self) -> Result<f64, TerrainError> {
        if self.factor > 1 {
            return Ok(0.0);
        }
        Ok(self.sources()?.into_iter().map(|(_, source)| source.cells()).sum())
    }

    /// What is resampled: the part of the window that each such file lies in, and
    /// what it is made from.
    fn sources(&self) -> Result<Vec<(Rect, Source)>, TerrainError> {
        let mut sources = Vec::new();
        for (tile, footprint) in self.tiles.iter().zip(&self.footprints) {
            if footprint.is_some_and(|f| f.aligned.is_some()) {
                continue;
            }
            let Some(part) = part(*footprint, self.rect) else { continue };
            if let Some(source) = Source::of(tile, &cells(&self.frame, part), self.factor)? {
                sources.push((part, source));
            }
        }
        Ok(sources)
    }

    /// Reads the window.
    pub(super) fn read(mut self) -> Result<Mosaic, TerrainError> {
        let (grid, rect, factor, extent) = (self.grid(), self.rect, self.factor, self.extent);
        check_size(rect, &grid)?;
        let mut remarks = std::mem::take(&mut self.remarks);
        let mut files = Vec::new();
        let mut own = Vec::new();
        let mut ground = WindowHeights::new(rect, factor);
        for (tile, footprint) in self.tiles.iter_mut().zip(&self.footprints) {
            let Some(part) = part(*footprint, rect) else {
                remarks
                    .push(remark(&tile.file, "not needed: it lies outside the window".to_owned()));
                continue;
            };
            let overlap = match footprint.as_ref().and_then(|f| f.aligned) {
                Some(offset) => ground.read(tile, offset, part)?,
                None => {
                    let found = warp(tile, &cells(&self.frame, part), factor)?;
                    tile.remarks.push(resampled(tile, &self.frame, factor)?);
                    match found {
                        Some(Resampled { heights, from }) => {
                            // Numbers from 1 on, as far as they go.
                            let number = u16::try_from(own.len() + 1).unwrap_or(0);
                            if factor == 1 && number > 0 {
                                let (first, size) = (place_in(rect, part), heights.dim());
                                let first = (first.1, first.0);
                                let from = (&from.0, from.1);
                                own.push(OwnFile::new(from, &grid, first, (size.1, size.0))?);
                            }
                            ground.lay(part, &heights, number)
                        }
                        None => Overlap::default(),
                    }
                }
            };
            tile.remarks.extend(overlap.told(&tile.file));
            let file = tile.input_file()?;
            // An archive may hold several.
            if !files.contains(&file) {
                files.push(file);
            }
            remarks.append(&mut tile.remarks);
        }
        let (mut heights, from) = ground.heights();
        if heights.iter().all(|h| h.is_nan()) {
            let names: Vec<_> = files.iter().map(|f| f.path.display().to_string()).collect();
            return Err(TerrainError::AllVoid {
                files: names.join(", "),
                extent: Box::new(extent),
            });
        }
        let (width, height) = grid.cell_size()?;
        if let Some(asked) = self.asked.filter(|_| factor == 1) {
            remarks.push(Remark {
                about: "terrain".to_owned(),
                text: format!(
                    "the plan's [terrain] cell is {asked:.1}; the first file's own cells are the nearest to it: {width:.1} x {height:.1}"
                ),
            });
        }
        if factor > 1 {
            remarks.push(Remark {
                about: "terrain".to_owned(),
                text: format!(
                    "each cell ({width:.1} x {height:.1}) is the mean of {factor} x {factor} of the first file's, as the plan's [terrain] cell asks: crests are lower than they are"
                ),
            });
        }
        remarks.extend(gaps::report(&grid, &mut heights, self.fill_gaps)?);
        let covered =
            self.tiles.iter().filter_map(|tile| tile.grid.bounds().ok()).reduce(Extent::union);
        let own_cells = OwnCells::new(from, own);
        Ok(Mosaic { grid, heights, own_cells, files, remarks, covered, missing: self.missing })
    }
}

/// What is told of a file whose cells are not those of the window's `frame`.
fn resampled(tile: &Tile, frame: &Grid, factor: usize) -> Result<Remark, TerrainError> {
    let mut text = if factor == 1 {
        "its cells are not those of the first file: paths and coverage take its heights from its own cells, relief and contours from these resampled (bilinear)"
    } else {
        "its cells are not those of the first file: resampled to them (bilinear)"
    }
    .to_owned();
    let side = |grid: &Grid| -> Result<f64, TerrainError> {
        let (width, height) = grid.cell_size()?;
        Ok(width.min(height).value())
    };
    if side(&tile.grid)? < FINER * side(frame)? {
        text += "; they are finer, and crests and roofs between points a cell of the first file apart are lost: name this file first to keep them";
    }
    Ok(remark(&tile.file, text))
}

/// A file's cells are finer if they are less than this share of the first's.
const FINER: f64 = 0.7;

/// The part of the window that a file lies in.
fn part(footprint: Option<Footprint>, rect: Rect) -> Option<Rect> {
    footprint.map_or(Some(rect), |f| Rect::around(f.low, f.high, rect))
}

/// A rectangle of the frame's cells as a grid.
fn cells(frame: &Grid, rect: Rect) -> Grid {
    frame.window(rect.column, rect.row, rect.columns, rect.rows)
}

/// How many of the first file's cells make a side of one of the window's.
fn factor(fine: &Grid, cell: Option<Metres>) -> Result<usize, TerrainError> {
    let Some(cell) = cell else { return Ok(1) };
    let (width, height) = fine.cell_size()?;
    // A file's cell of 1 m is 1.0004 m on the ground.
    let wanted = (cell.value() / width.min(height).value()).round();
    Ok(wanted.clamp(1.0, 10_000.0) as usize)
}

/// Cells of `factor` times the side over the same rectangle, and what more the
/// last of a side needs.
pub(super) fn larger(fine: &Grid, factor: usize) -> Result<Grid, TerrainError> {
    let side = factor as f64;
    let [x, x_column, x_row, y, y_column, y_row] = fine.transform();
    Grid::new(
        fine.columns().div_ceil(factor),
        fine.rows().div_ceil(factor),
        [x, x_column * side, x_row * side, y, y_column * side, y_row * side],
        fine.crs(),
    )
}

/// The cells that the window is cut from: the first file's own, made upright
/// with row 0 in the north if they are not.
fn frame(first: &Tile) -> Result<Grid, TerrainError> {
    let [_, x_column, x_row, _, y_column, y_row] = first.grid.transform();
    if x_row == 0.0 && y_column == 0.0 && x_column > 0.0 && y_row < 0.0 {
        return Ok(first.grid.clone());
    }
    let (width, height) = (x_column.hypot(y_column), x_row.hypot(y_row));
    let (columns, rows) = (first.grid.columns() as f64, first.grid.rows() as f64);
    let corners = [(0.0, 0.0), (columns, 0.0), (0.0, rows), (columns, rows)]
        .map(|(column, row)| first.grid.transform().apply(column, row));
    let (low, high) = bounding(corners);
    Grid::new(
        ((high.0 - low.0) / width).round().max(1.0) as usize,
        ((high.1 - low.1) / height).round().max(1.0) as usize,
        [low.0, width, 0.0, high.1, 0.0, -height],
        first.grid.crs(),
    )
}

/// Where a file lies, in cells of the frame.
#[derive(Debug, Clone, Copy)]
struct Footprint {
    low: (f64, f64),
    high: (f64, f64),
    /// The first file's cell that is this file's first, if the cells are the same.
    aligned: Option<(isize, isize)>,
}

/// `None` when the first file's coordinate system does not reach all of the
/// file's rim, as with a raster of the whole earth: it may then lie anywhere.
fn footprint(fine: &Grid, projector: &Projector, tile: &Tile, factor: usize) -> Option<Footprint> {
    let Footprint { low, high, aligned } = fine_footprint(fine, projector, tile)?;
    let side = factor as f64;
    let larger = |(column, row): (f64, f64)| (column / side, row / side);
    Some(Footprint { low: larger(low), high: larger(high), aligned })
}

/// The same in cells of the first file.
fn fine_footprint(frame: &Grid, projector: &Projector, tile: &Tile) -> Option<Footprint> {
    let (columns, rows) = (tile.grid.columns() as f64, tile.grid.rows() as f64);
    if super::grid::spatial_ref(frame.crs()).is_ok_and(|crs| crs == tile.crs) {
        let inverse = frame.transform().invert().ok()?;
        let in_frame = |column, row| {
            let (x, y) = tile.grid.transform().apply(column, row);
            inverse.apply(x, y)
        };
        let corners = [(0.0, 0.0), (columns, 0.0), (0.0, rows), (columns, rows)]
            .map(|(column, row)| in_frame(column, row));
        let (low, high) = bounding(corners);
        let (column, row) = (low.0.round(), low.1.round());
        let near = |found: (f64, f64), wanted: (f64, f64)| {
            (found.0 - wanted.0).abs() < ALIGNED && (found.1 - wanted.1).abs() < ALIGNED
        };
        let aligned = near(in_frame(0.0, 0.0), (column, row))
            && near(in_frame(columns, rows), (column + columns, row + rows))
            && near(in_frame(0.0, rows), (column, row + rows));
        return Some(if aligned {
            Footprint {
                low: (column, row),
                high: (column + columns, row + rows),
                aligned: Some((column as isize, row as isize)),
            }
        } else {
            Footprint { low, high, aligned: None }
        });
    }
    let rim = tile.grid.projector().ok()?.to_positions(&rim((0.0, 0.0), (columns, rows))).ok()?;
    let cells: Option<Vec<_>> = rim.into_iter().map(|at| projector.to_cell(at).ok()).collect();
    let (low, high) = bounding(cells?);
    Some(Footprint { low, high, aligned: None })
}

/// The window in cells of the frame: the extent with one cell around it, cut
/// to what the files cover.
fn window(
    projector: &Projector,
    footprints: &[Option<Footprint>],
    tiles: &[Tile],
    extent: Extent,
    remarks: &mut Vec<Remark>,
) -> Result<Rect, TerrainError> {
    let elsewhere = || TerrainError::Elsewhere {
        wanted: Box::new(extent),
        covered: covered(tiles),
        hint: if looks_swapped(tiles, extent) {
            "; latitude and longitude look swapped: the other way round the plan is inside"
        } else {
            "; check the files, and the positions for a wrong sign or swapped numbers"
        },
    };
    let (south_west, north_east) = (extent.south_west, extent.north_east);
    let low = (south_west.longitude().value(), south_west.latitude().value());
    let high = (north_east.longitude().value(), north_east.latitude().value());
    let wanted: Vec<_> = rim(low, high)
        .into_iter()
        .filter_map(|(x, y)| Position::new(Degrees::new(y), Degrees::new(x)).ok())
        .filter_map(|at| projector.to_cell(at).ok())
        .collect();
    if wanted.is_empty() {
        return Err(elsewhere());
    }
    let (low, high) = bounding(wanted);
    let everywhere = (f64::NEG_INFINITY, f64::INFINITY);
    let reach = |low_of: fn(&Footprint) -> f64, high_of: fn(&Footprint) -> f64| {
        footprints.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), footprint| {
            let (from, to) = footprint.as_ref().map_or(everywhere, |f| (low_of(f), high_of(f)));
            (low.min(from), high.max(to))
        })
    };
    let (left, right) = reach(|f| f.low.0, |f| f.high.0);
    let (top, bottom) = reach(|f| f.low.1, |f| f.high.1);
    let cut_low = ((low.0 - 1.0).max(left), (low.1 - 1.0).max(top));
    let cut_high = ((high.0 + 1.0).min(right), (high.1 + 1.0).min(bottom));
    let all = Rect {
        column: isize::MIN / 4,
        row: isize::MIN / 4,
        columns: usize::MAX / 4,
        rows: usize::MAX / 4,
    };
    let touches = footprints.iter().any(|footprint| {
        footprint.is_none_or(|f| {
            f.low.0 < high.0 && f.high.0 > low.0 && f.low.1 < high.1 && f.high.1 > low.1
        })
    });
    let rect = Rect::around(cut_low, cut_high, all).filter(|_| touches).ok_or_else(elsewhere)?;
    if low.0 < left || low.1 < top || high.0 > right || high.1 > bottom {
        remarks.push(Remark {
            about: "terrain".to_owned(),
            text: format!(
                "the map with its margin ({extent}) reaches beyond the elevation files; it is cut to what they cover"
            ),
        });
    }
    Ok(rect)
}

/// What each file covers, in words.
fn covered(tiles: &[Tile]) -> String {
    let words: Vec<_> = tiles
        .iter()
        .map(|tile| match tile.grid.bounds() {
            Ok(bounds) => format!("{bounds} ({})", tile.file.display()),
            Err(_) => format!("a place unknown to PROJ ({})", tile.file.display()),
        })
        .collect();
    words.join(" and ")
}

fn looks_swapped(tiles: &[Tile], extent: Extent) -> bool {
    let swap = |at: Position| Position::new(at.longitude(), at.latitude()).ok();
    let (Some(low), Some(high)) = (swap(extent.south_west), swap(extent.north_east)) else {
        return false;
    };
    tiles
        .iter()
        .filter_map(|tile| tile.grid.bounds().ok())
        .any(|bounds| bounds.contains(low) || bounds.contains(high))
}

/// Points all around a rectangle.
pub(super) fn rim(low: (f64, f64), high: (f64, f64)) -> Vec<(f64, f64)> {
    (0..=RIM_STEPS)
        .map(|i| i as f64 / RIM_STEPS as f64)
        .flat_map(|t| {
            let (x, y) = (low.0 + t * (high.0 - low.0), low.1 + t * (high.1 - low.1));
            [(x, low.1), (x, high.1), (low.0, y), (high.0, y)]
        })
        .collect()
}

/// The least and the greatest of each coordinate.
pub(super) fn bounding(points: impl IntoIterator<Item = (f64, f64)>) -> ((f64, f64), (f64, f64)) {
    points.into_iter().fold(
        ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY)),
        |(low, high), (x, y)| ((low.0.min(x), low.1.min(y)), (high.0.max(x), high.1.max(y))),
    )
}
