//! Land without coverage, and the names of places on it.

use crate::cautions::IN_A_LINE;
use crate::labels::{KeepClear, Label, PlacedLabel, place_labels};
use crate::layers::Layers;
use crate::layers::water;
use crate::palette::{INK, PAPER, QUIET};
use crate::sheet_layout::{Foot, SheetLayout, Side};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet, outline};
use crate::{Provenance, ReportError, words};
use image::{Rgb, RgbImage};
use perchline_plan::UnitSystem;
use perchline_units::Metres;

use super::footprints;
use super::frame;
use super::georeference::MapFrame;
use super::inset;
use super::names::{Name, spread, square, without_room};

/// A sheet with a map of the land: its head, what is drawn on the ground, which returns
/// too the names that found no room there, the column beside the map, and the foot.
///
/// # Errors
/// [`ReportError`] when the map has no area, the relief does not fit its grid, and
/// whatever the parts end in.
pub fn land_sheet<T>(
    (layers, provenance): (&Layers<'_>, &Provenance),
    head: impl FnOnce(&mut SheetLayout),
    on_the_ground: impl FnOnce(&mut Sheet, &MapFrame) -> Result<(T, Vec<String>), ReportError>,
    side: impl FnOnce(&mut Side<'_>, &T) -> Result<(), ReportError>,
) -> Result<String, ReportError> {
    let map = MapFrame::fit(layers.grid)?;
    let mut layout = SheetLayout::map();
    head(&mut layout);
    let sheet = layout.sheet();
    land(sheet, layers, &map)?;
    let (drawn, unnamed) = on_the_ground(sheet, &map)?;
    frame::below(sheet, &map, layers.plan, without_room(&unnamed).as_deref())?;
    side(&mut layout.side(), &drawn)?;
    layout.foot(&Foot {
        notes: &[],
        caveats: &words::foot(layers.plan.houses()).join(" "),
        care: &[IN_A_LINE],
        made: Some(&provenance.line()),
        remark: None,
    });
    Ok(layout.into_svg())
}

/// Draws the land with its water, contours, houses and roads, and the map's frame.
fn land(sheet: &mut Sheet, layers: &Layers<'_>, map: &MapFrame) -> Result<(), ReportError> {
    let ground = map.frame();
    // The frame has whole pixels, a few thousand at most.
    let picture = layers.land_and_water((ground.width as u32, ground.height as u32))?;
    sheet.image(ground, &picture)?;
    let heights = layers.contours(sheet, ground)?;
    footprints::draw(sheet, layers.terrain.buildings(), map)?;
    if let Some(roads) = &layers.plan.search.roads {
        let paths = roads.lines.iter().map(|line| Ok(outline(map.along(line)?, false)));
        let paths = paths.collect::<Result<Vec<String>, ReportError>>()?;
        for pen in ROAD {
            for path in &paths {
                sheet.path_within(ground, path, &pen);
            }
        }
    }
    draw_heights(sheet, layers, ground, &heights);
    frame::border(sheet, map)
}

/// How a road is drawn.
const ROAD: [Pen; 2] = [Pen::line(PAPER, 6.0), Pen::line(QUIET, 2.4)];

/// Size of the heights on contours.
const HEIGHT_SIZE: f64 = 15.0;

/// Draws the heights of contours, none near another or the frame.
fn draw_heights(
    sheet: &mut Sheet,
    layers: &Layers<'_>,
    ground: Frame,
    heights: &[(Point, Metres)],
) {
    let lettering = Lettering::new(HEIGHT_SIZE).quiet().aligned(Align::Middle);
    let within = inset(ground, 30.0);
    let mut taken: Vec<Frame> = Vec::new();
    for (at, height) in heights {
        let text = match layers.plan.units {
            UnitSystem::Metric => format!("{:.0}", height.value()),
            UnitSystem::Us => format!("{:.0}", height.feet()),
        };
        let width = lettering.width(&text) + 8.0;
        let own = Frame {
            left: at.0 - width / 2.0,
            top: at.1 - HEIGHT_SIZE / 2.0 - 1.0,
            width,
            height: HEIGHT_SIZE + 2.0,
        };
        if within.holds(&own) && taken.iter().all(|other| !other.grown(60.0).overlaps(&own)) {
            sheet.rectangle(own, 4.0, &Pen::fill(PAPER).faint(0.75));
            sheet.text((at.0, at.1 + HEIGHT_SIZE * 0.36), &text, &lettering);
            taken.push(own);
        }
    }
}

/// What water and roads look like, where the map has them.
///
/// # Errors
/// [`ReportError::Image`] when the tint cannot be packed as PNG.
pub fn land_legend(side: &mut Side<'_>, layers: &Layers<'_>) -> Result<(), ReportError> {
    let (rows, columns) = layers.terrain.heights().dim();
    let is_wet = |row: usize| (0..columns).any(|column| layers.terrain.is_water(row, column));
    if (0..rows).any(is_wet) {
        let tint = |width, height| RgbImage::from_fn(width, height, |x, y| Rgb(water(x, y)));
        side.tint(tint, "Open water")?;
    }
    if layers.plan.search.roads.is_some() {
        let road = |sheet: &mut Sheet, (x, y): Point| {
            for pen in &ROAD {
                sheet.line((x - 18.0, y), (x + 18.0, y), pen);
            }
        };
        side.mark(road, "Road");
    }
    Ok(())
}

/// How far apart the contours are in height; nothing on level ground.
pub fn contours_told(layers: &Layers<'_>) -> Option<String> {
    let interval = layers.contour_interval()?;
    let unit = match layers.plan.units {
        UnitSystem::Metric => "metres",
        UnitSystem::Us => "feet",
    };
    let every = layers.plan.units.height(interval);
    Some(format!("Contours: every {every}; numbers on them are heights above sea level in {unit}."))
}

/// Names that are to stand beside their marks, and what they keep off.
#[derive(Default)]
pub struct PlaceNames {
    clear: KeepClear,
    labels: Vec<Label>,
    names: Vec<Name>,
}

/// The same with the place of each.
pub struct PlacedNames {
    names: Vec<Name>,
    places: Vec<Option<PlacedLabel>>,
}

impl PlaceNames {
    /// Keeps all names off this.
    pub fn keep_off(&mut self, frame: Frame) {
        self.clear.marks.push(frame);
    }

    /// What no mark may stand on.
    pub fn taken(&self) -> &[Frame] {
        &self.clear.marks
    }

    /// Keeps names off this line where they can.
    pub fn spare(&mut self, line: &[Point]) {
        self.clear.soft.extend(spread(line));
    }

    /// Adds a mark's name, with its number if it has one; those of a lower rank are
    /// placed first.
    pub fn add(
        &mut self,
        at: Point,
        radius: f64,
        (number, text): (Option<usize>, &str),
        lettering: Lettering,
        rank: usize,
    ) {
        self.keep_off(square(at, radius));
        let name = Name::of(number, text, lettering);
        let short = number.map(|_| name.size(true));
        self.labels.push(Label { at, radius, full: name.size(false), short, rank });
        self.names.push(name);
    }

    /// Places them all within the map's frame.
    pub fn placed(self, frame: Frame) -> PlacedNames {
        let places = place_labels(&self.labels, inset(frame, 4.0), &self.clear);
        PlacedNames { names: self.names, places }
    }
}

impl PlacedNames {
    /// Draws the lines from marks to names that stand off them; the marks come over it.
    pub fn draw_leaders(&self, sheet: &mut Sheet) {
        for (from, to) in self.places.iter().flatten().filter_map(|place| place.leader) {
            sheet.line(from, to, &Pen::line(PAPER, 5.0).faint(0.85));
            sheet.line(from, to, &Pen::line(INK, 1.6));
        }
    }

    /// Draws the names; returns those that found no place.
    pub fn draw(self, sheet: &mut Sheet) -> Vec<String> {
        let mut unnamed = Vec::new();
        for (name, place) in self.names.into_iter().zip(&self.places) {
            match place {
                Some(place) => name.draw(sheet, place),
                None => unnamed.push(name.told()),
            }
        }
        unnamed
    }
}
