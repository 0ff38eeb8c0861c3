//! The pictures that pages lay over each other. Each spans exactly the ground
//! of one grid: the base picture of the land, the classes of a coverage, what
//! changed between two.

use std::io::Cursor;

use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ImageEncoder as _, RgbImage, RgbaImage};
use ndarray::Array2;

use crate::coverage::Coverage;
use crate::link::Outcome;
use crate::plan::{Plan, UnitSystem};
use crate::terrain::{Grid, Terrain};
use crate::units::{METRES_PER_FOOT, Metres};

use super::map::footprints;
use super::map::layout::MapFrame;
use super::palette::{INK, PAPER, QUIET, ramp};
use super::svg_page::{Frame, Pen, Point, Sheet, outline, render_clear};
use super::{ReportError, axis, basemap};

/// Land without a class: between paper and the lightest class.
const LAND: [u8; 3] = [0xe9, 0xe7, 0xe1];
/// Land where no height is known.
const NO_LAND: [u8; 3] = [0xff, 0xff, 0xff];
/// How far the relief moves the land's lightness, CIE L*.
const LAND_SWING: f64 = 9.0;
/// About as many contour heights as a map bears.
const CONTOURS: f64 = 14.0;
/// Every so many contours one is drawn stronger.
const STRONG: f64 = 5.0;

/// What the pictures of one map are made from.
#[derive(Debug, Clone, Copy)]
pub struct Layers<'a> {
    /// The plan, for its roads and its units.
    pub plan: &'a Plan,
    /// Its terrain.
    pub terrain: &'a Terrain,
    /// The terrain's shaded relief, on the terrain's own grid.
    pub relief: &'a Array2<u8>,
    /// The ground that every picture spans.
    pub grid: &'a Grid,
}

impl Layers<'_> {
    /// Pixels across and down, square on the ground, the longer side `longest`.
    ///
    /// # Errors
    /// [`ReportError`] when the grid has no area.
    pub fn size(&self, longest: u32) -> Result<(u32, u32), ReportError> {
        let (columns, rows) = (self.grid.columns(), self.grid.rows());
        let (cell_width, cell_height) = self.grid.cell_size()?;
        let (width, height) =
            (columns as f64 * cell_width.value(), rows as f64 * cell_height.value());
        let scale = f64::from(longest) / width.max(height);
        if !scale.is_finite() {
            return Err(ReportError::Empty { columns, rows });
        }
        // At most `longest`, so the cut to whole pixels is safe.
        let pixels = |length: f64| (length * scale).round().max(1.0) as u32;
        Ok((pixels(width), pixels(height)))
    }

    /// The land alone, shaded: what lies under everything.
    ///
    /// # Errors
    /// [`ReportError`] when the relief does not fit its grid.
    pub fn land(&self, (width, height): (u32, u32)) -> Result<RgbImage, ReportError> {
        let ground = self.terrain.grid();
        let lights = basemap::Shade::new(self.relief, ground, self.grid, (width, height))?;
        let colours = ramp(LAND, LAND_SWING);
        let heights = self.terrain.heights();
        Ok(lights.picture(|_, _, cell, light| {
            let known = heights.get(cell).is_some_and(|h| !h.is_nan());
            let colour = colours.get(usize::from(light)).copied().unwrap_or(LAND);
            if known { colour } else { NO_LAND }
        }))
    }

    /// The classes of `coverage` over the land's relief, in the colours and
    /// patterns of every other map. It must span the layers' grid, but for part
    /// of a coarse cell at its far ends.
    ///
    /// # Errors
    /// [`ReportError`] when a layer does not fit its grid.
    pub fn classes(
        &self,
        coverage: &Coverage,
        (width, height): (u32, u32),
    ) -> Result<RgbImage, ReportError> {
        basemap::paint(coverage, self.relief, self.terrain.grid(), width, height)
    }

    /// Contours, roads and houses on glass, as PNG, to lie over the classes.
    ///
    /// # Errors
    /// [`ReportError`] when a place cannot be projected or the picture not be made.
    pub fn lines(&self, (width, height): (u32, u32)) -> Result<Vec<u8>, ReportError> {
        let mut sheet = Sheet::clear(width, height);
        let whole = sheet.whole();
        let frame = MapFrame::filling(self.grid, whole)?;
        self.contours(&mut sheet, whole)?;
        footprints::draw(&mut sheet, self.terrain.buildings(), &frame)?;
        if let Some(roads) = &self.plan.search.roads {
            for (pen, width) in [(PAPER, 5.0), (QUIET, 2.2)] {
                for line in &roads.lines {
                    let path = outline(frame.along(line)?, false);
                    sheet.path_within(whole, &path, &Pen::line(pen, width));
                }
            }
        }
        render_clear(&sheet.into_svg())
    }

    /// Height from one contour to the next; nothing on level ground.
    #[must_use]
    pub fn contour_interval(&self) -> Option<Metres> {
        let unit = match self.plan.units {
            UnitSystem::Metric => 1.0,
            UnitSystem::Us => METRES_PER_FOOT,
        };
        let (low, high) = self.terrain.height_range()?;
        let range = (high.value() - low.value()) / unit;
        (range > 0.0).then(|| Metres::new(axis::round_down((range / CONTOURS).max(1.0)) * unit))
    }

    fn contours(&self, sheet: &mut Sheet, whole: Frame) -> Result<(), ReportError> {
        let Some(interval) = self.contour_interval() else { return Ok(()) };
        let ground = self.terrain.grid();
        let onto = |(column, row): (f64, f64)| -> Point {
            let (column, row) = self.grid.cell_of(ground, (column, row));
            (
                column / self.grid.columns() as f64 * whole.width,
                row / self.grid.rows() as f64 * whole.height,
            )
        };
        let mut paths = [String::new(), String::new()];
        for contour in self.terrain.contours(interval)? {
            let number = (contour.height.value() / interval.value()).round();
            let strong = number.rem_euclid(STRONG) == 0.0;
            let [fine, bold] = &mut paths;
            let path = if strong { bold } else { fine };
            for line in contour.lines {
                path.push_str(&outline(line.into_iter().map(onto), false));
            }
        }
        for (path, width) in paths.iter().zip([0.8, 1.6]).filter(|(path, _)| !path.is_empty()) {
            sheet.path_within(whole, path, &Pen::line(INK, width).faint(0.34));
        }
        Ok(())
    }
}

/// How two coverages of one grid differ: cells that work in the second alone,
/// in the first alone, and on glass where nothing changes.
///
/// # Errors
/// [`ReportError::Uneven`] when they are not on cells of one grid.
pub fn difference(
    first: &Coverage,
    second: &Coverage,
    (width, height): (u32, u32),
) -> Result<RgbaImage, ReportError> {
    if first.outcome.dim() != second.outcome.dim() {
        return Err(ReportError::Uneven {
            layer: "second coverage",
            found: second.outcome.dim(),
            expected: first.outcome.dim(),
        });
    }
    let (rows, columns) = first.outcome.dim();
    Ok(RgbaImage::from_fn(width, height, |x, y| {
        let cell = (
            (f64::from(y) + 0.5) / f64::from(height) * rows as f64,
            (f64::from(x) + 0.5) / f64::from(width) * columns as f64,
        );
        // The shares are below one, so the cut to whole cells is within the grid.
        let cell = (cell.0 as usize, cell.1 as usize);
        let at = |coverage: &Coverage| {
            coverage.outcome.get(cell).copied().unwrap_or(Outcome::Unknown).works()
        };
        image::Rgba(match (at(first), at(second)) {
            (false, true) => GAINED,
            (true, false) if (x + y) % 8 < 4 => LOST,
            (true, false) => LOST_STRIPE,
            _ => [0, 0, 0, 0],
        })
    }))
}

/// Where only the second works: light.
pub const GAINED: [u8; 4] = [0xff, 0xf4, 0xb8, 0xf0];
/// Where only the first works: dark and striped, so that a grey copy tells them apart.
pub const LOST: [u8; 4] = [0x6e, 0x1c, 0x3a, 0xf0];
/// The other stripe.
const LOST_STRIPE: [u8; 4] = [0x36, 0x10, 0x22, 0xf0];

/// How a picture is packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Packing {
    /// At once: for a page on the same machine.
    Fast,
    /// Small: for a file.
    Small,
}

/// A picture as PNG.
///
/// # Errors
/// [`ReportError::Image`] when it cannot be packed.
pub fn png(image: &RgbImage, packing: Packing) -> Result<Vec<u8>, ReportError> {
    packed(image.as_raw(), image.dimensions(), image::ExtendedColorType::Rgb8, packing)
}

/// A picture on glass as PNG.
///
/// # Errors
/// [`ReportError::Image`] when it cannot be packed.
pub fn clear_png(image: &RgbaImage, packing: Packing) -> Result<Vec<u8>, ReportError> {
    packed(image.as_raw(), image.dimensions(), image::ExtendedColorType::Rgba8, packing)
}

fn packed(
    bytes: &[u8],
    (width, height): (u32, u32),
    colours: image::ExtendedColorType,
    packing: Packing,
) -> Result<Vec<u8>, ReportError> {
    let mut png = Cursor::new(Vec::new());
    let (compression, filter) = match packing {
        Packing::Fast => (CompressionType::Fast, FilterType::Sub),
        Packing::Small => (CompressionType::Best, FilterType::Adaptive),
    };
    PngEncoder::new_with_quality(&mut png, compression, filter)
        .write_image(bytes, width, height, colours)?;
    Ok(png.into_inner())
}
