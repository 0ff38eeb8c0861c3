//! Land without coverage, and the names of places on it.

use crate::ReportError;
use crate::labels::{KeepClear, Label, PlacedLabel, place_labels};
use crate::layers::Layers;
use crate::palette::{INK, PAPER};
use crate::svg_page::{Frame, Lettering, Pen, Point, Sheet};

use super::footprints;
use super::frame;
use super::georeference::MapFrame;
use super::inset;
use super::names::{Name, spread, square};

/// Draws the land with its contours and houses, and the map's frame.
pub fn land(sheet: &mut Sheet, layers: &Layers<'_>, map: &MapFrame) -> Result<(), ReportError> {
    let ground = map.frame();
    // The frame has whole pixels, a few thousand at most.
    let picture = layers.land((ground.width as u32, ground.height as u32))?;
    sheet.image(ground, &picture)?;
    layers.contours(sheet, ground)?;
    footprints::draw(sheet, layers.terrain.buildings(), map)?;
    frame::border(sheet, map)
}

/// How far apart the contours are in height; nothing on level ground.
pub fn contours_told(layers: &Layers<'_>) -> Option<String> {
    let interval = layers.contour_interval()?;
    Some(format!("Contours: every {} of height.", layers.plan.units.height(interval)))
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
