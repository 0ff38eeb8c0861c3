//! Land without coverage, and the names of places on it.

use std::collections::BTreeMap;

use crate::cautions::IN_A_LINE;
use crate::labels::{KeepClear, Label, Loose, PlacedLabel, place_labels, place_loose};
use crate::layers::Layers;
use crate::palette::{INK, PAPER};
use crate::sheet_layout::{Foot, SheetLayout, Side};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet};
use crate::{Provenance, ReportError, words};
use perchline_plan::Plan;

use super::frame;
use super::georeference::MapFrame;
use super::grid_lines;
use super::ground_names::{self, NameOnGround, NameSizes};
use super::inset;
use super::land::{self, HeightOnContour};
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
    land_and_frame(sheet, layers, &map)?;
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

/// Draws the land with what is on it, and the map's frame.
fn land_and_frame(
    sheet: &mut Sheet,
    layers: &Layers<'_>,
    map: &MapFrame,
) -> Result<(), ReportError> {
    let ground = map.frame();
    // The frame has whole pixels, a few thousand at most.
    let picture = layers.land((ground.width as u32, ground.height as u32))?;
    sheet.image(ground, &picture)?;
    land::draw(sheet, layers, map)?;
    frame::border(sheet, map)
}

/// Size of the heights on contours.
const HEIGHT_SIZE: f64 = 15.0;
/// Groups of texts of the ground, and how far apart they stand at least: heights on
/// contours, names, and names that are the same.
const HEIGHTS: usize = 0;
const NAMES: usize = 1;
const FIRST_OF_ALIKE: usize = 2;
const HEIGHTS_APART: f64 = 60.0;
const NAMES_APART: f64 = 16.0;
const ALIKE_APART: f64 = 420.0;

/// A text of the ground, which gives way to the names of places.
struct GroundText {
    text: String,
    lettering: Lettering,
}

impl GroundText {
    fn draw(&self, sheet: &mut Sheet, frame: Frame) {
        if !self.lettering.halo {
            sheet.rectangle(frame, 4.0, &Pen::fill(PAPER).faint(0.75));
        }
        let base = frame.top + frame.height / 2.0 + self.lettering.size * 0.36;
        let middle = frame.left + frame.width / 2.0;
        sheet.text((middle, base), &self.text, &self.lettering.aligned(Align::Middle));
    }
}

/// Names that are to stand beside their marks, the texts of the ground that give way to
/// them, and what they keep off.
#[derive(Default)]
pub struct PlaceNames {
    clear: KeepClear,
    labels: Vec<Label>,
    names: Vec<Name>,
    ground: Vec<GroundText>,
    loose: Vec<Loose>,
    /// What the texts of the ground keep off too.
    covered: Vec<Frame>,
}

/// The same with the place of each.
pub struct PlacedNames {
    names: Vec<Name>,
    places: Vec<Option<PlacedLabel>>,
    ground: Vec<GroundText>,
    ground_places: Vec<Option<Frame>>,
}

impl PlaceNames {
    /// Names for a map with the grid that the plan wants, which is drawn here: they keep
    /// off its numbers.
    ///
    /// # Errors
    /// [`ReportError`] when a line of the grid cannot be projected.
    pub fn on_grid(sheet: &mut Sheet, map: &MapFrame, plan: &Plan) -> Result<Self, ReportError> {
        let mut names = Self::default();
        names.clear.marks = grid_lines::draw(sheet, map, plan)?;
        Ok(names)
    }

    /// Keeps all names off this.
    pub fn keep_off(&mut self, frame: Frame) {
        self.clear.marks.push(frame);
    }

    /// Keeps the texts of the ground off what will lie over this.
    pub fn will_cover(&mut self, frame: Frame) {
        self.covered.push(frame);
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
        self.add_name(at, radius, Name::of(number, text, lettering), rank);
    }

    /// Adds the name of something that has no mark, but keeps names so far away.
    pub fn add_name(&mut self, at: Point, radius: f64, name: Name, rank: usize) {
        let short = name.is_numbered().then(|| name.size(true));
        self.labels.push(Label { at, radius, full: name.size(false), short, rank });
        self.names.push(name);
    }

    /// Adds the texts that the ground of a map has: the plan's names of it, and the heights
    /// of contours, the first to give way. Heights that would be smaller than names may be
    /// are left out.
    ///
    /// # Errors
    /// [`ReportError`] when a place cannot be projected.
    pub fn add_ground(
        &mut self,
        layers: &Layers<'_>,
        map: &MapFrame,
        sizes: NameSizes,
    ) -> Result<(), ReportError> {
        self.add_ground_names(layers, map, sizes)?;
        if HEIGHT_SIZE < sizes.least {
            return Ok(());
        }
        let lettering = Lettering::new(HEIGHT_SIZE).quiet();
        for HeightOnContour { text, places } in land::heights(layers, map)? {
            let width = lettering.width(&text) + 8.0;
            let box_ = |at: Point| Frame {
                left: at.0 - width / 2.0,
                top: at.1 - HEIGHT_SIZE / 2.0 - 1.0,
                width,
                height: HEIGHT_SIZE + 2.0,
            };
            let places = (0..).zip(places).map(|(n, at)| (f64::from(n), box_(at))).collect();
            self.loose.push(Loose { places, groups: vec![(HEIGHTS, HEIGHTS_APART)] });
            self.ground.push(GroundText { text, lettering });
        }
        Ok(())
    }

    /// Adds the plan's names of the ground alone.
    ///
    /// # Errors
    /// [`ReportError`] when a place cannot be projected.
    pub fn add_ground_names(
        &mut self,
        layers: &Layers<'_>,
        map: &MapFrame,
        sizes: NameSizes,
    ) -> Result<(), ReportError> {
        let mut alike: BTreeMap<String, usize> = BTreeMap::new();
        for NameOnGround { text, lettering, places } in ground_names::names(layers, map, sizes)? {
            // Streets come in many pieces of one name.
            let next = alike.len() + FIRST_OF_ALIKE;
            let same = *alike.entry(text.clone()).or_insert(next);
            let groups = vec![(NAMES, NAMES_APART), (same, ALIKE_APART)];
            self.loose.push(Loose { places, groups });
            self.ground.push(GroundText { text, lettering });
        }
        Ok(())
    }

    /// Places them all within the map's frame.
    pub fn placed(mut self, frame: Frame) -> PlacedNames {
        let within = inset(frame, 4.0);
        let places = place_labels(&self.labels, within, &self.clear);
        self.clear.marks.append(&mut self.covered);
        let named = (&*self.labels, &*places);
        let ground_places = place_loose(&self.loose, named, within, &self.clear);
        PlacedNames { names: self.names, places, ground: self.ground, ground_places }
    }
}

impl PlacedNames {
    /// Draws the texts of the ground.
    pub fn draw_ground(&self, sheet: &mut Sheet) {
        for (text, place) in self.ground.iter().zip(&self.ground_places) {
            if let Some(place) = place {
                text.draw(sheet, *place);
            }
        }
    }

    /// Draws the lines from marks to names that stand off them; the marks come over it.
    pub fn draw_leaders(&self, sheet: &mut Sheet) {
        for (from, to) in self.places.iter().flatten().filter_map(|place| place.leader) {
            sheet.line(from, to, &Pen::line(PAPER, 5.0).faint(0.85));
            sheet.line(from, to, &Pen::line(INK, 1.8));
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
