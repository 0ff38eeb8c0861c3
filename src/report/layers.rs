//! The pictures that pages lay over each other. Each spans exactly the ground
//! of one grid: the base picture of the land, the classes of a coverage, what
//! changed between two.

use std::io::Cursor;

use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ImageEncoder as _, RgbImage};
use ndarray::Array2;

use perchline_coverage::Coverage;
use perchline_link::Outcome;
use perchline_plan::{Plan, UnitSystem};
use perchline_terrain::{Grid, GroundPicture, Terrain};
use perchline_units::{METRES_PER_FOOT, Metres};

use super::map::georeference::MapFrame;
use super::map::ground_names::NameSizes;
use super::map::land;
use super::map::names::square;
use super::map::place_names::PlaceNames;
use super::palette::{RELIEF_SWING, SERVED_BY, Tints, ramp};
use super::sheet_layout::MAP_ROOM;
use super::svg_page::{Frame, Sheet, render_clear};
use super::{ReportError, axis, basemap};

/// Land without a class: between paper and the lightest class.
const LAND: [u8; 3] = [0xe9, 0xe7, 0xe1];
/// Open water: it parts from the land on a grey copy.
const OPEN_WATER: [u8; 3] = [0xbd, 0xce, 0xd8];
/// Land where no height is known.
const NO_LAND: [u8; 3] = [0xff, 0xff, 0xff];
/// How far the relief moves the land's lightness, CIE L*.
const LAND_SWING: f64 = 9.0;
/// About as many contour heights as a map bears.
const CONTOURS: f64 = 14.0;

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

    /// The land alone, shaded, with open water in its tint: what lies under everything.
    ///
    /// # Errors
    /// [`ReportError`] when the relief does not fit its grid.
    pub fn land(&self, (width, height): (u32, u32)) -> Result<RgbImage, ReportError> {
        let lights = self.shade((width, height))?;
        if let Some(picture) = self.terrain.picture() {
            return Ok(self.tiles(picture, (width, height)));
        }
        let colours = ramp(LAND, LAND_SWING);
        let heights = self.terrain.heights();
        Ok(lights.picture(|_, _, cell, light| {
            if self.terrain.is_water(cell.0, cell.1) {
                return OPEN_WATER;
            }
            let known = heights.get(cell).is_some_and(|h| !h.is_nan());
            let colour = colours.get(usize::from(light)).copied().unwrap_or(LAND);
            if known { colour } else { NO_LAND }
        }))
    }

    /// The person's own map on paper, paper where it is clear.
    fn tiles(&self, picture: &GroundPicture, (width, height): (u32, u32)) -> RgbImage {
        let (rows, columns, _) = picture.pixels.dim();
        let ground = self.terrain.grid();
        RgbImage::from_fn(width, height, |x, y| {
            let share = |at: u32, of: u32, cells: usize| {
                (f64::from(at) + 0.5) / f64::from(of.max(1)) * cells as f64
            };
            let cell = (share(x, width, self.grid.columns()), share(y, height, self.grid.rows()));
            let (column, row) = ground.cell_of(self.grid, cell);
            let pixel = |at: f64, cells: usize, pixels: usize| {
                // Cut to the picture, so the cut to whole pixels is safe.
                (at / cells.max(1) as f64 * pixels as f64).clamp(0.0, pixels as f64 - 1.0) as usize
            };
            let at = (pixel(row, ground.rows(), rows), pixel(column, ground.columns(), columns));
            let part = |band: usize| {
                f64::from(picture.pixels.get((at.0, at.1, band)).copied().unwrap_or(0))
            };
            let opacity = part(3) / 255.0;
            // A blend of two bytes is within a byte's range.
            let blend = |band| (part(band) * opacity + 255.0 * (1.0 - opacity)).round() as u8;
            image::Rgb([blend(0), blend(1), blend(2)])
        })
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

    /// The classes of several coverages laid together, on the cells of the layers' grid,
    /// as [`Layers::classes`] paints those of one.
    ///
    /// # Errors
    /// [`ReportError`] when a layer does not fit its grid.
    pub fn laid(
        &self,
        classes: &Array2<Outcome>,
        size: (u32, u32),
    ) -> Result<RgbImage, ReportError> {
        basemap::paint_classes(classes, &self.shade(size)?)
    }

    /// How many of several sites serve each cell of the layers' grid; nothing where that
    /// is not known.
    ///
    /// # Errors
    /// [`ReportError`] when a layer does not fit its grid.
    pub fn counts(
        &self,
        counts: &Array2<Option<u8>>,
        size: (u32, u32),
    ) -> Result<RgbImage, ReportError> {
        let ramps = SERVED_BY.map(|colour| ramp(colour, RELIEF_SWING));
        let unknown = Tints::new(Outcome::Unknown);
        self.shade(size)?.cells(counts, |x, y, count, light| match count.copied().flatten() {
            Some(count) => {
                let ramp = ramps.get(usize::from(count).min(SERVED_BY.len() - 1));
                let colour = ramp.and_then(|ramp| ramp.get(usize::from(light)));
                colour.copied().unwrap_or(LAND)
            }
            None => unknown.at(x as usize, y as usize, light),
        })
    }

    fn shade(&self, size: (u32, u32)) -> Result<basemap::Shade<'_>, ReportError> {
        basemap::Shade::new(self.relief, self.terrain.grid(), self.grid, size)
    }

    /// Water, contours, roads, houses and the plan's names of the ground on glass, as PNG,
    /// to lie over the classes. Names keep off sites, posts and routes where these stand now;
    /// a page tells heights where it is asked.
    ///
    /// # Errors
    /// [`ReportError`] when a place cannot be projected or the picture not be made.
    pub fn lines(&self, (width, height): (u32, u32)) -> Result<Vec<u8>, ReportError> {
        /// Radius of a mark on a page.
        const MARK: f64 = 16.0;
        let mut sheet = Sheet::clear(width, height);
        let frame = MapFrame::filling(self.grid, sheet.whole())?;
        land::draw(&mut sheet, self, &frame)?;
        let mut names = PlaceNames::default();
        let sites = self.plan.sites.iter().map(|site| site.at);
        for at in sites.chain(self.plan.posts.iter().map(|post| post.at)) {
            names.keep_off(square(frame.at(at)?, MARK));
        }
        for route in &self.plan.routes {
            names.spare(&frame.along(&route.line)?);
        }
        let scale = f64::from(width.max(height)) / MAP_ROOM.width;
        names.add_ground_names(self, &frame, NameSizes { scale, least: 0.0 })?;
        let placed = names.placed(sheet.whole());
        placed.draw_ground(&mut sheet);
        render_clear(&sheet.into_svg())
    }

    /// Height from one contour of a picture of this size to the next; nothing on level
    /// ground.
    #[must_use]
    pub fn contours_shown(&self, (width, height): (u32, u32)) -> Option<Metres> {
        let (width, height) = (f64::from(width), f64::from(height));
        land::interval(self, land::is_small(Frame { left: 0.0, top: 0.0, width, height }))
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
}

/// How two coverages of one grid differ: cells that work in both, in neither,
/// in the second alone and in the first alone.
///
/// # Errors
/// [`ReportError::Uneven`] when they are not on cells of one grid.
pub fn difference(
    first: &Coverage,
    second: &Coverage,
    (width, height): (u32, u32),
) -> Result<RgbImage, ReportError> {
    if first.outcome.dim() != second.outcome.dim() {
        return Err(ReportError::Uneven {
            layer: "second coverage",
            found: second.outcome.dim(),
            expected: first.outcome.dim(),
        });
    }
    let (rows, columns) = first.outcome.dim();
    Ok(RgbImage::from_fn(width, height, |x, y| {
        let cell = (
            (f64::from(y) + 0.5) / f64::from(height) * rows as f64,
            (f64::from(x) + 0.5) / f64::from(width) * columns as f64,
        );
        // The shares are below one, so the cut to whole cells is within the grid.
        let cell = (cell.0 as usize, cell.1 as usize);
        let at = |coverage: &Coverage| {
            coverage.outcome.get(cell).copied().unwrap_or(Outcome::Unknown).works()
        };
        image::Rgb(match (at(first), at(second)) {
            (true, true) => BOTH,
            (false, false) => NEITHER,
            (false, true) => GAINED,
            (true, false) if (x + y) % 8 < 4 => LOST,
            (true, false) => LOST_STRIPE,
        })
    }))
}

/// Where both work.
pub const BOTH: [u8; 3] = [0xf7, 0xf3, 0xe8];
/// Where neither does.
pub const NEITHER: [u8; 3] = [0xbc, 0xbf, 0xc7];
/// Where only the second works.
pub const GAINED: [u8; 3] = [0x17, 0x7a, 0x86];
/// Where only the first works: striped, so that a grey copy tells it from the rest.
pub const LOST: [u8; 3] = [0x6e, 0x1c, 0x3a];
/// The other stripe.
pub const LOST_STRIPE: [u8; 3] = [0xf0, 0xd4, 0xdc];

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
    let (width, height) = image.dimensions();
    let mut png = Cursor::new(Vec::new());
    let (compression, filter) = match packing {
        Packing::Fast => (CompressionType::Fast, FilterType::Sub),
        // The two levels above take five and nine times as long for a tenth less.
        Packing::Small => (CompressionType::Level(7), FilterType::Adaptive),
    };
    PngEncoder::new_with_quality(&mut png, compression, filter).write_image(
        image.as_raw(),
        width,
        height,
        image::ExtendedColorType::Rgb8,
    )?;
    Ok(png.into_inner())
}
