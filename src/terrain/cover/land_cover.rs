//! A land-cover raster brought to the cells of the surface.

use std::collections::BTreeMap;
use std::path::Path;

use gdal::Dataset;
use gdal::raster::{ColorInterpretation, GdalDataType};
use ndarray::Array2;

use super::CoverError;
use super::buildings::some_of;
use crate::mosaic::MOST_CELLS;
use crate::raster_file::{self, Refused};
use crate::tile::Rect;
use crate::{Extent, Grid, TerrainError};
use perchline_confine::Reading;
use perchline_plan::{CoverClass, CoverKind, LandCoverInputs, Remark};

/// Code of a cell without a class.
const NO_CLASS: u16 = u16::MAX;

/// Cells between two that are converted exactly; those between are
/// interpolated. Over so few a map projection bends by far less than a cell.
const LATTICE: usize = 32;

/// Class codes on the cells of a surface.
pub(super) struct LandCover<'a> {
    inputs: &'a LandCoverInputs,
    codes: Array2<u16>,
    pub remarks: Vec<Remark>,
}

impl<'a> LandCover<'a> {
    /// Reads the class of each cell of `grid`: that of the raster's cell which
    /// holds its centre.
    pub fn read(inputs: &'a LandCoverInputs, grid: &Grid) -> Result<Self, CoverError> {
        let source = Source::open(&inputs.file)?;
        let lattice = Lattice::between(grid, &source.grid)?;
        let sheet = source.read(lattice.reach())?;
        let mut codes = Array2::from_elem((grid.rows(), grid.columns()), NO_CLASS);
        for ((row, column), code) in codes.indexed_iter_mut() {
            let (x, y) = lattice.at(column, row);
            *code = sheet.as_ref().and_then(|sheet| sheet.at(x, y)).unwrap_or(NO_CLASS);
        }
        let mut cover = Self { inputs, codes, remarks: Vec::new() };
        cover.tell(grid.bounds()?)?;
        Ok(cover)
    }

    /// The class of a cell; `None` where there is none or its code is unknown.
    pub fn class(&self, row: usize, column: usize) -> Option<&'a CoverClass> {
        let code = *self.codes.get((row, column))?;
        if code == NO_CLASS { None } else { self.inputs.mapping.class(code) }
    }

    /// The cells of water.
    pub fn water(&self) -> Array2<bool> {
        self.codes.map(|code| {
            *code != NO_CLASS
                && self.inputs.mapping.class(*code).is_some_and(|c| c.kind == CoverKind::Water)
        })
    }

    /// Cells of a kind.
    pub fn share(&self, kind: CoverKind) -> f64 {
        let known = |code: u16| self.inputs.mapping.class(code).is_some_and(|c| c.kind == kind);
        let cells = self.codes.iter().filter(|code| **code != NO_CLASS && known(**code)).count();
        cells as f64 / self.codes.len().max(1) as f64
    }

    fn tell(&mut self, window: Extent) -> Result<(), CoverError> {
        let total = self.codes.len();
        let mut counts: BTreeMap<u16, usize> = BTreeMap::new();
        for code in &self.codes {
            *counts.entry(*code).or_default() += 1;
        }
        let without = counts.remove(&NO_CLASS).unwrap_or(0);
        if without == total {
            let file = self.inputs.file.clone();
            return Err(CoverError::NoLandCover { file, window: Box::new(window) });
        }
        let mut say = |text: String| {
            let about = self.inputs.file.display().to_string();
            self.remarks.push(Remark { about, text });
        };
        if without > 0 {
            say(format!(
                "{without} of {total} cells ({:.2} %) have no land cover: the raster does not reach them or has no data there; nothing is taken to stand on them",
                100.0 * without as f64 / total as f64
            ));
        }
        let unknown: Vec<String> = counts
            .iter()
            .filter(|(code, _)| self.inputs.mapping.class(**code).is_none())
            .map(|(code, cells)| format!("{code} in {cells} cells"))
            .collect();
        if !unknown.is_empty() {
            say(format!(
                "{} class codes are not in the mapping \"{}\" and count as bare ground ({}); name them in a mapping file of your own",
                unknown.len(),
                self.inputs.mapping.title,
                some_of(unknown)
            ));
        }
        Ok(())
    }
}

/// The land-cover raster, open.
struct Source {
    dataset: Dataset,
    grid: Grid,
    file: std::path::PathBuf,
}

impl Source {
    fn open(file: &Path) -> Result<Self, CoverError> {
        let unfit = |reason: String| CoverError::NotLandCover { file: file.to_owned(), reason };
        let dataset = raster_file::open(file).map_err(|refused| match refused {
            Refused::Special => unfit("not a file on this disk".to_owned()),
            Refused::Missing(error) => unfit(format!("it cannot be opened ({error})")),
            Refused::Overrun(overrun) => TerrainError::Overrun(Box::new(overrun)).into(),
            Refused::NotARaster(reason) | Refused::Unfit(reason) => {
                unfit(format!("it cannot be opened ({reason})"))
            }
        })?;
        let band = dataset.rasterband(1).map_err(|_| unfit("it has no band".to_owned()))?;
        use ColorInterpretation::{BlueBand, CyanBand, GreenBand, RedBand, YCbCrSpaceYBand};
        let colour = band.color_interpretation();
        if matches!(colour, RedBand | GreenBand | BlueBand | CyanBand | YCbCrSpaceYBand) {
            return Err(unfit(format!("it is a picture (band 1 is {})", colour.name())));
        }
        if band.band_type() == GdalDataType::Unknown {
            return Err(unfit("it holds complex numbers".to_owned()));
        }
        let transform =
            dataset.geo_transform().map_err(|_| unfit("it has no georeference".to_owned()))?;
        let crs = dataset.projection();
        if crs.is_empty() {
            return Err(unfit("it has no coordinate system".to_owned()));
        }
        let (columns, rows) = dataset.raster_size();
        let grid = Grid::new(columns, rows, transform, &crs)?;
        Ok(Self { grid, file: file.to_owned(), dataset })
    }

    /// The codes of a rectangle of fractional cells; `None` outside the raster.
    fn read(&self, (low, high): ((f64, f64), (f64, f64))) -> Result<Option<Sheet>, CoverError> {
        let all = Rect { column: 0, row: 0, columns: self.grid.columns(), rows: self.grid.rows() };
        // No knot has a place on the raster: the rectangle is inside out.
        if low.0 > high.0 || low.1 > high.1 {
            return Ok(None);
        }
        let Some(rect) = Rect::around(low, high, all) else { return Ok(None) };
        if rect.cells() > MOST_CELLS {
            return Err(CoverError::NotLandCover {
                file: self.file.clone(),
                reason: format!(
                    "it has {} x {} cells where the plan needs it, too many to read",
                    rect.columns, rect.rows
                ),
            });
        }
        let reading = Reading::begin(&self.file, "reading its classes").of_cells(rect.cells());
        let read = || -> gdal::errors::Result<_> {
            let band = self.dataset.rasterband(1)?;
            let (start, size) = ((rect.column, rect.row), (rect.columns, rect.rows));
            // Every code up to 65535 is exact as f32.
            let values = band.read_as::<f32>(start, size, size, None)?;
            let mask = if band.mask_flags()?.is_all_valid() {
                Vec::new()
            } else {
                let mask = band.open_mask_band()?;
                mask.read_as::<u8>(start, size, size, None)?.into_shape_and_vec().1
            };
            Ok((values, mask))
        };
        let (values, mask) = read().map_err(|source| TerrainError::Read {
            file: self.file.clone(),
            source: Box::new(source),
        })?;
        reading.check().map_err(|e| TerrainError::Overrun(Box::new(e)))?;
        let valid = mask.iter().map(|m| *m != 0).chain(std::iter::repeat(true));
        let mut fractions = 0usize;
        let codes = values
            .data()
            .iter()
            .zip(valid)
            .map(|(&value, valid)| {
                if !valid || value.is_nan() {
                    return NO_CLASS;
                }
                if value.fract() != 0.0 || !(0.0..f32::from(NO_CLASS)).contains(&value) {
                    fractions += 1;
                    return NO_CLASS;
                }
                value as u16
            })
            .collect();
        if fractions > 0 {
            return Err(CoverError::NotLandCover {
                file: self.file.clone(),
                reason: format!(
                    "{fractions} cells hold values that are no class codes (whole numbers from 0 to 65534)"
                ),
            });
        }
        Ok(Some(Sheet { rect, codes }))
    }
}

/// A rectangle of codes.
struct Sheet {
    rect: Rect,
    codes: Vec<u16>,
}

impl Sheet {
    /// The code of the cell that holds a fractional (column, row).
    fn at(&self, x: f64, y: f64) -> Option<u16> {
        let column = usize::try_from(x.floor() as isize - self.rect.column).ok()?;
        let row = usize::try_from(y.floor() as isize - self.rect.row).ok()?;
        if column >= self.rect.columns {
            return None;
        }
        self.codes.get(row * self.rect.columns + column).copied()
    }
}

/// Where the centres of one grid's cells lie on another.
struct Lattice {
    columns: usize,
    knots: Vec<(f64, f64)>,
}

impl Lattice {
    fn between(from: &Grid, to: &Grid) -> Result<Self, CoverError> {
        let columns = from.columns().div_ceil(LATTICE) + 1;
        let rows = from.rows().div_ceil(LATTICE) + 1;
        let places: Vec<_> = (0..rows)
            .flat_map(|row| (0..columns).map(move |column| (column, row)))
            .map(|(c, r)| ((c * LATTICE) as f64 + 0.5, (r * LATTICE) as f64 + 0.5))
            .collect();
        let onto = to.projector()?;
        let knots = from
            .projector()?
            .to_positions(&places)?
            .into_iter()
            // Where the raster's system does not reach there is no class.
            .map(|at| onto.to_cell(at).unwrap_or((f64::NAN, f64::NAN)))
            .collect();
        Ok(Self { columns, knots })
    }

    /// Fractional cell of the centre of cell (column, row); NaN where there is none.
    fn at(&self, column: usize, row: usize) -> (f64, f64) {
        let (left, top) = (column / LATTICE, row / LATTICE);
        let share = |index: usize| (index % LATTICE) as f64 / LATTICE as f64;
        let (right, down) = (share(column), share(row));
        let knot = |c: usize, r: usize| {
            self.knots.get(r * self.columns + c).copied().unwrap_or((f64::NAN, f64::NAN))
        };
        let mix =
            |a: (f64, f64), b: (f64, f64), t: f64| (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t);
        mix(
            mix(knot(left, top), knot(left + 1, top), right),
            mix(knot(left, top + 1), knot(left + 1, top + 1), right),
            down,
        )
    }

    /// The rectangle around all knots, with a border against rounding.
    fn reach(&self) -> ((f64, f64), (f64, f64)) {
        let start = ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
        let (low, high) = self
            .knots
            .iter()
            .filter(|knot| !knot.0.is_nan())
            .fold(start, |(low, high), &(x, y)| {
                ((low.0.min(x), low.1.min(y)), (high.0.max(x), high.1.max(y)))
            });
        ((low.0 - 1.0, low.1 - 1.0), (high.0 + 1.0, high.1 + 1.0))
    }
}
