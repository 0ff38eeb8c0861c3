//! One elevation file, opened and read in metres.

use std::path::{Path, PathBuf};

use gdal::raster::{ColorInterpretation, GdalDataType, RasterBand};
use gdal::spatial_ref::SpatialRef;
use gdal::{Dataset, GeoTransform, Metadata};
use ndarray::{Array2, ArrayView2, s};

use super::grid::spatial_ref;
use super::means::Means;
use super::packed::InMemory;
use super::raster_file;
use super::{Grid, TerrainError, ffi};
use perchline_confine::Reading;
use perchline_plan::{HeightUnit, InputFile, Remark, TerrainInputs};
use perchline_units::{METRES_PER_FOOT, printable};

/// Metres in one US survey foot (exact by definition).
const METRES_PER_SURVEY_FOOT: f64 = 1200.0 / 3937.0;

/// What SRTM files hold where the radar saw nothing, whether they declare it or not.
const SRTM_VOID: f64 = -32768.0;

/// Heights that land can have, in metres: the Dead Sea's shore lies near
/// -430 m, the highest summit near 8849 m.
const POSSIBLE: std::ops::RangeInclusive<f64> = -500.0..=9000.0;

/// Cells read at a time, as f64: 32 MB.
const STRIP_CELLS: usize = 4 << 20;

/// The most cells read of one file: 77,000 a side, minutes of reading.
const MOST_READ: u64 = 6_000_000_000;

/// A rectangle of cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Rect {
    pub column: isize,
    pub row: isize,
    pub columns: usize,
    pub rows: usize,
}

impl Rect {
    /// The smallest rectangle of whole cells around `low` to `high`, cut to
    /// `limit`; `None` when nothing is left.
    pub fn around(low: (f64, f64), high: (f64, f64), limit: Rect) -> Option<Self> {
        let span = |low: f64, high: f64, start: isize, count: usize| {
            let first = (low.floor() as isize).max(start);
            let last = (high.ceil() as isize).min(start.saturating_add_unsigned(count));
            // A span far off the limit may lie at the ends of all numbers.
            usize::try_from(last.saturating_sub(first)).ok().filter(|&n| n > 0).map(|n| (first, n))
        };
        let (column, columns) = span(low.0, high.0, limit.column, limit.columns)?;
        let (row, rows) = span(low.1, high.1, limit.row, limit.rows)?;
        Some(Self { column, row, columns, rows })
    }

    pub fn cells(&self) -> u64 {
        (self.columns as u64).saturating_mul(self.rows as u64)
    }
}

/// An elevation file, open.
pub(super) struct Tile {
    pub file: PathBuf,
    pub grid: Grid,
    pub crs: SpatialRef,
    pub remarks: Vec<Remark>,
    dataset: Dataset,
    to_metres: f64,
    /// What an archive held of it, which the dataset above reads.
    unpacked: Option<InMemory>,
}

impl Tile {
    pub fn open(file: &Path, inputs: &TerrainInputs) -> Result<Self, TerrainError> {
        let dataset = raster_file::open(file).map_err(|refused| refused.of(file))?;
        Self::of(file, dataset, None, inputs)
    }

    /// The raster called `name` in an archive.
    pub fn open_packed(
        archive: &Path,
        name: &str,
        inputs: &TerrainInputs,
    ) -> Result<Self, TerrainError> {
        let (dataset, memory) =
            raster_file::open_packed(archive, name).map_err(|refused| refused.of(archive))?;
        Self::of(archive, dataset, Some(memory), inputs)
    }

    fn of(
        file: &Path,
        dataset: Dataset,
        unpacked: Option<InMemory>,
        inputs: &TerrainInputs,
    ) -> Result<Self, TerrainError> {
        let mut remarks = Vec::new();
        check_band(file, &dataset, &mut remarks)?;
        let transform = dataset
            .geo_transform()
            .map_err(|_| TerrainError::NoGeoreference { file: file.to_owned() })?;
        let crs = tile_crs(file, &dataset, inputs.crs.as_deref(), &mut remarks)?;
        let grid = tile_grid(file, &dataset, transform, &crs)?;
        let to_metres = height_unit(file, &dataset, inputs.height_unit, &mut remarks)?;
        Ok(Self { file: file.to_owned(), grid, crs, remarks, dataset, to_metres, unpacked })
    }

    /// Bytes that are held of it while it is open, beside what is read.
    pub fn held_bytes(&self) -> u64 {
        self.unpacked.as_ref().map_or(0, |memory| memory.bytes)
    }

    /// Whether its values are bytes, as those of pictures and of classes are, and
    /// not heights.
    pub fn is_of_bytes(&self) -> bool {
        let band = self.dataset.rasterband(1);
        band.is_ok_and(|band| band.band_type() == GdalDataType::UInt8)
    }

    /// The file's own rectangle.
    pub fn rect(&self) -> Rect {
        Rect { column: 0, row: 0, columns: self.grid.columns(), rows: self.grid.rows() }
    }

    /// Heights of a rectangle of the file's cells in metres, NaN where it has none.
    pub fn read(&mut self, rect: Rect) -> Result<Array2<f32>, TerrainError> {
        let mut heights = Array2::from_elem((rect.rows, rect.columns), f32::NAN);
        self.strips(rect, |first, strip| {
            heights.slice_mut(s![first..first + strip.nrows(), ..]).assign(&strip);
        })?;
        Ok(heights)
    }

    /// The same in means over `factor` x `factor` cells, the last of a side
    /// over what there is.
    pub fn read_means(&mut self, rect: Rect, factor: usize) -> Result<Array2<f32>, TerrainError> {
        let shape = (rect.rows.div_ceil(factor), rect.columns.div_ceil(factor));
        let mut means = Means::new(factor, (0, 0), shape);
        self.strips(rect, |first, strip| means.add((0, first as isize), &strip))?;
        Ok(means.heights())
    }

    /// The same heights a few rows at a time, from the top, to `take` with the
    /// first row's number in the rectangle.
    pub fn strips(
        &mut self,
        rect: Rect,
        mut take: impl FnMut(usize, ArrayView2<'_, f32>),
    ) -> Result<(), TerrainError> {
        if rect.cells() > MOST_READ {
            return Err(TerrainError::TooMuch {
                file: self.file.clone(),
                columns: rect.columns as u64,
                rows: rect.rows as u64,
                limit: MOST_READ / 1_000_000,
            });
        }
        let reading = Reading::begin(&self.file, "reading its heights").of_cells(rect.cells());
        let failed =
            |source| TerrainError::Read { file: self.file.clone(), source: Box::new(source) };
        let band = self.dataset.rasterband(1).map_err(failed)?;
        let scale = band.scale().unwrap_or(1.0);
        let offset = band.offset().unwrap_or(0.0);
        let masked = !band.mask_flags().map_err(failed)?.is_all_valid();
        let (mut voids, mut implausible, mut absent) = (0usize, 0usize, 0usize);
        let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
        let strip = (STRIP_CELLS / rect.columns.max(1)).clamp(1, rect.rows.max(1));
        for first in (0..rect.rows).step_by(strip) {
            reading.check().map_err(|e| TerrainError::Overrun(Box::new(e)))?;
            let part =
                Rect { row: rect.row + first as isize, rows: strip.min(rect.rows - first), ..rect };
            let (start, size) = ((part.column, part.row), (part.columns, part.rows));
            let values = band.read_as::<f64>(start, size, size, None).map_err(failed)?;
            let mask = if masked {
                let mask = band.open_mask_band().map_err(failed)?;
                mask.read_as::<u8>(start, size, size, None).map_err(failed)?.into_shape_and_vec().1
            } else {
                Vec::new()
            };
            let valid = mask.iter().map(|m| *m != 0).chain(std::iter::repeat(true));
            let to_height = |(&raw, valid): (&f64, bool)| {
                if !valid || !raw.is_finite() {
                    return f32::NAN;
                }
                if raw == SRTM_VOID {
                    voids += 1;
                    return f32::NAN;
                }
                let height = (raw * scale + offset) * self.to_metres;
                (lowest, highest) = (lowest.min(height), highest.max(height));
                implausible += usize::from(!POSSIBLE.contains(&height));
                height as f32
            };
            let cells: Vec<f32> = values.data().iter().zip(valid).map(to_height).collect();
            let shape = (part.rows, part.columns);
            let mut heights = Array2::from_shape_vec(shape, cells)
                .map_err(|_| TerrainError::Shape { found: (0, 0), grid: shape })?;
            if !masked {
                absent += drop_absent(&self.dataset, &band, part, &mut heights);
            }
            take(first, heights.view());
        }
        if implausible > 0 {
            return Err(TerrainError::Implausible {
                file: self.file.clone(),
                cells: implausible,
                lowest,
                highest,
            });
        }
        if voids > 0 {
            self.remarks.push(remark(
                &self.file,
                format!("{voids} cells hold {SRTM_VOID}, taken as void although the file does not declare it"),
            ));
        }
        if absent > 0 {
            self.remarks.push(remark(
                &self.file,
                format!("{absent} cells are covered by none of the rasters it refers to, or were never stored; they are gaps, not sea level"),
            ));
        }
        Ok(())
    }

    /// The file's name and hash.
    pub fn input_file(&self) -> Result<InputFile, TerrainError> {
        InputFile::of(&self.file)
            .map_err(|source| TerrainError::Missing { file: self.file.clone(), source })
    }
}

/// Turns cells that nothing is stored for into NaN: GDAL reads them as 0 where no
/// nodata value is declared. Returns how many there were. What a file system
/// makes of a run of zeros is no matter: a height of 0 that is stored is a height.
fn drop_absent(
    dataset: &Dataset,
    band: &RasterBand<'_>,
    part: Rect,
    heights: &mut Array2<f32>,
) -> usize {
    match dataset.driver().short_name().as_str() {
        "VRT" => drop_uncovered(band, part, part, heights),
        "GTiff" => drop_unstored(band, part, heights),
        _ => 0,
    }
}

/// The cells that no source of a virtual raster covers.
fn drop_uncovered(
    band: &RasterBand<'_>,
    whole: Rect,
    part: Rect,
    heights: &mut Array2<f32>,
) -> usize {
    match ffi::coverage(band, part) {
        ffi::Coverage::Full => 0,
        ffi::Coverage::None => clear(whole, part, heights),
        ffi::Coverage::Partly if part.columns * part.rows == 1 => 0,
        ffi::Coverage::Partly => {
            let (first, second) = halves(part);
            drop_uncovered(band, whole, first, heights)
                + drop_uncovered(band, whole, second, heights)
        }
    }
}

/// The cells of blocks that a sparse TIFF never stored: those without an offset.
fn drop_unstored(band: &RasterBand<'_>, part: Rect, heights: &mut Array2<f32>) -> usize {
    let (width, height) = band.block_size();
    let blocks = |start: isize, count: usize, side: usize| {
        let start = start.max(0) as usize;
        start / side.max(1)..(start + count).div_ceil(side.max(1))
    };
    let mut absent = 0;
    for row in blocks(part.row, part.rows, height) {
        for column in blocks(part.column, part.columns, width) {
            if band.metadata_item(&format!("BLOCK_OFFSET_{column}_{row}"), "TIFF").is_some() {
                continue;
            }
            let low = ((column * width) as f64, (row * height) as f64);
            let high = (low.0 + width as f64, low.1 + height as f64);
            if let Some(block) = Rect::around(low, high, part) {
                absent += clear(part, block, heights);
            }
        }
    }
    absent
}

/// Leaves no height in a part of a whole; returns its cells.
fn clear(whole: Rect, part: Rect, heights: &mut Array2<f32>) -> usize {
    let top = (part.row - whole.row) as usize;
    let left = (part.column - whole.column) as usize;
    heights.slice_mut(s![top..top + part.rows, left..left + part.columns]).fill(f32::NAN);
    part.columns * part.rows
}

fn halves(rect: Rect) -> (Rect, Rect) {
    if rect.columns >= rect.rows {
        let left = rect.columns / 2;
        (
            Rect { columns: left, ..rect },
            Rect { column: rect.column + left as isize, columns: rect.columns - left, ..rect },
        )
    } else {
        let top = rect.rows / 2;
        (
            Rect { rows: top, ..rect },
            Rect { row: rect.row + top as isize, rows: rect.rows - top, ..rect },
        )
    }
}

fn check_band(
    file: &Path,
    dataset: &Dataset,
    remarks: &mut Vec<Remark>,
) -> Result<(), TerrainError> {
    let bad = |found: String| TerrainError::BadBand { file: file.to_owned(), found };
    let bands = dataset.raster_count();
    if bands == 0 {
        return Err(bad("has no band".to_owned()));
    }
    let band = dataset
        .rasterband(1)
        .map_err(|source| TerrainError::Read { file: file.to_owned(), source: Box::new(source) })?;
    use ColorInterpretation::{
        BlueBand, CyanBand, GreenBand, HueBand, PaletteIndex, RedBand, YCbCrSpaceYBand,
    };
    let colour = band.color_interpretation();
    if matches!(
        colour,
        RedBand | GreenBand | BlueBand | PaletteIndex | HueBand | CyanBand | YCbCrSpaceYBand
    ) {
        return Err(bad(format!("is a picture (band 1 is {})", colour.name())));
    }
    if band.band_type() == GdalDataType::Unknown {
        return Err(bad("holds complex numbers or a type GDAL cannot read as heights".to_owned()));
    }
    if bands > 1 {
        remarks.push(remark(file, format!("has {bands} bands; the first is taken as the heights")));
    }
    Ok(())
}

fn tile_crs(
    file: &Path,
    dataset: &Dataset,
    in_plan: Option<&str>,
    remarks: &mut Vec<Remark>,
) -> Result<SpatialRef, TerrainError> {
    let own = dataset.projection();
    let in_file = |text: &str| {
        spatial_ref(text)
            .map_err(|e| TerrainError::FileCrs { file: file.to_owned(), source: Box::new(e) })
    };
    match (own.is_empty(), in_plan) {
        (true, None) => Err(TerrainError::NoCrs { file: file.to_owned() }),
        (false, None) => in_file(&own),
        (true, Some(text)) => {
            remarks.push(remark(
                file,
                format!("has no coordinate system of its own; the plan's {text} is used"),
            ));
            spatial_ref(text)
        }
        (false, Some(text)) => {
            let (own, stated) = (in_file(&own)?, spatial_ref(text)?);
            if own == stated {
                return Ok(own);
            }
            Err(TerrainError::CrsConflict {
                file: file.to_owned(),
                in_file: own.authority().ok().or_else(|| own.name()).unwrap_or_default(),
                in_plan: text.to_owned(),
            })
        }
    }
}

/// The file's grid, after making sure that PROJ can place it on the earth.
fn tile_grid(
    file: &Path,
    dataset: &Dataset,
    transform: GeoTransform,
    crs: &SpatialRef,
) -> Result<Grid, TerrainError> {
    let (columns, rows) = dataset.raster_size();
    let make = || {
        let wkt = crs
            .to_wkt()
            .map_err(|e| TerrainError::Crs { crs: String::new(), reason: e.to_string() })?;
        let grid = Grid::new(columns, rows, transform, &wkt)?;
        grid.projector()?;
        Ok(grid)
    };
    make()
        .map_err(|source| TerrainError::FileCrs { file: file.to_owned(), source: Box::new(source) })
}

/// Metres in one unit of the file's heights.
fn height_unit(
    file: &Path,
    dataset: &Dataset,
    in_plan: Option<HeightUnit>,
    remarks: &mut Vec<Remark>,
) -> Result<f64, TerrainError> {
    let stated = |text: String| (!text.trim().is_empty()).then_some(text);
    let in_file = dataset.rasterband(1).ok().and_then(|band| stated(band.unit())).or_else(|| {
        dataset.spatial_ref().ok()?.get_attr_value("VERT_CS|UNIT", 0).ok()?.and_then(stated)
    });
    let unit = match (in_file, in_plan) {
        (None, None) => {
            remarks.push(remark(
                file,
                "does not say in which unit its heights are; taken as metres (the plan's [terrain] height_unit states it)".to_owned(),
            ));
            HeightUnit::Metre
        }
        (None, Some(unit)) => unit,
        (Some(text), plan) => match (named_unit(&text), plan) {
            (Some(found), Some(wanted)) if found != wanted => {
                return Err(TerrainError::UnitConflict {
                    file: file.to_owned(),
                    in_file: text,
                    in_plan: unit_name(wanted),
                });
            }
            (Some(found), _) => found,
            (None, Some(wanted)) => {
                remarks.push(remark(
                    file,
                    format!(
                        "says its heights are in \"{text}\", which is not a known unit; the plan's {} is used",
                        unit_name(wanted)
                    ),
                ));
                wanted
            }
            (None, None) => {
                return Err(TerrainError::UnknownUnit { file: file.to_owned(), found: text });
            }
        },
    };
    Ok(match unit {
        HeightUnit::Metre => 1.0,
        HeightUnit::Foot => METRES_PER_FOOT,
        HeightUnit::UsSurveyFoot => METRES_PER_SURVEY_FOOT,
    })
}

/// The unit that a raster's text means.
fn named_unit(text: &str) -> Option<HeightUnit> {
    let word: String =
        text.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_ascii_lowercase();
    Some(match word.as_str() {
        "m" | "metre" | "meter" | "metres" | "meters" => HeightUnit::Metre,
        "ft" | "foot" | "feet" | "internationalfoot" | "internationalfeet" => HeightUnit::Foot,
        "ussurveyfoot" | "ussurveyfeet" | "usft" | "ftus" | "footus" | "surveyfoot" | "sft" => {
            HeightUnit::UsSurveyFoot
        }
        _ => return None,
    })
}

const fn unit_name(unit: HeightUnit) -> &'static str {
    match unit {
        HeightUnit::Metre => "m",
        HeightUnit::Foot => "ft",
        HeightUnit::UsSurveyFoot => "us-ft",
    }
}

pub(super) fn remark(file: &Path, text: String) -> Remark {
    Remark { about: file.display().to_string(), text: printable(&text) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_known_by_the_names_that_rasters_carry() {
        for (text, unit) in [
            ("m", Some(HeightUnit::Metre)),
            ("metre", Some(HeightUnit::Metre)),
            ("Feet", Some(HeightUnit::Foot)),
            ("US survey foot", Some(HeightUnit::UsSurveyFoot)),
            ("US_survey_foot", Some(HeightUnit::UsSurveyFoot)),
            ("fathom", None),
        ] {
            assert_eq!(named_unit(text), unit, "{text}");
        }
    }

    #[test]
    fn a_rectangle_is_cut_to_its_limit() {
        let limit = Rect { column: -2, row: 0, columns: 10, rows: 5 };
        let cut = Rect::around((-7.5, 1.2), (3.1, 99.0), limit);
        assert_eq!(cut, Some(Rect { column: -2, row: 1, columns: 6, rows: 4 }));
        assert_eq!(Rect::around((9.0, 0.0), (12.0, 2.0), limit), None);
        assert_eq!(Rect::around((f64::NAN, 0.0), (f64::NAN, 2.0), limit), None);
    }

    #[test]
    fn numbers_without_measure_make_no_rectangle() {
        let vast = Rect {
            column: isize::MIN / 4,
            row: isize::MIN / 4,
            columns: usize::MAX / 4,
            rows: usize::MAX / 4,
        };
        for low in [f64::NEG_INFINITY, -1e300, 0.0, 1e300, f64::INFINITY] {
            for high in [f64::NEG_INFINITY, -1e300, 0.0, 1e300, f64::INFINITY] {
                let found = Rect::around((low, low), (high, high), vast);
                assert_eq!(found.is_some(), low < high && low < 1e300 && high > -1e300);
                // More cells than can be counted are more than are read.
                assert!(found.is_none_or(|rect| rect.cells() > MOST_READ));
            }
        }
    }

    #[test]
    fn halving_loses_no_cell() {
        let rect = Rect { column: 3, row: 4, columns: 1, rows: 7 };
        let (a, b) = halves(rect);
        assert_eq!(a.cells() + b.cells(), 7);
        assert_eq!((a.row, b.row), (4, 7));
    }
}
