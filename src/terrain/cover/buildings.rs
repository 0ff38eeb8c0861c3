//! The plan's footprints, read and given their heights.

use std::path::Path;

use geo::{
    BoundingRect, ChamberlainDuquetteArea, Coord, InteriorPoint, Intersects, MultiPolygon, Rect,
};
use ndarray::Array2;

use super::CoverError;
use super::burn::{Burnt, burn};
use super::height::{HIGHEST, settle};
use crate::{Extent, Grid};
use perchline_plan::{BuildingInputs, Remark};
use perchline_units::{Metres, Position};
use perchline_vector::{Footprint, HouseFields, houses};

/// A building on the terrain.
#[derive(Debug, Clone, PartialEq)]
pub struct Building {
    /// What its file calls it.
    pub id: String,
    /// Height above the ground, above 0, up to 500 m.
    pub height: Metres,
    /// Its outline in longitude and latitude.
    pub(super) outline: MultiPolygon,
    pub(super) bounds: Rect,
}

impl Building {
    /// Its outline in longitude and latitude.
    #[must_use]
    pub fn outline(&self) -> &MultiPolygon {
        &self.outline
    }

    /// Whether a position lies in the footprint or on its rim.
    #[must_use]
    pub fn holds(&self, at: Position) -> bool {
        let point = at.point();
        self.bounds.intersects(&point) && self.outline.intersects(&point)
    }

    /// A place inside the footprint; `None` for one too thin to have any.
    pub(super) fn inside(&self) -> Option<Position> {
        let largest = self.outline.iter().max_by(|a, b| {
            a.chamberlain_duquette_unsigned_area()
                .total_cmp(&b.chamberlain_duquette_unsigned_area())
        })?;
        Position::from_point(largest.interior_point()?).ok()
    }
}

/// Every building in the window in order of ascending height, and remarks.
pub(super) fn read(
    inputs: &BuildingInputs,
    window: Extent,
) -> Result<(Vec<Building>, Vec<Remark>), CoverError> {
    let corner = |at: Position| Coord { x: at.longitude().value(), y: at.latitude().value() };
    let within = Rect::new(corner(window.south_west), corner(window.north_east));
    let mut buildings = Vec::new();
    let mut remarks = Vec::new();
    for file in &inputs.files {
        let fields = HouseFields {
            layer: inputs.layer.as_deref(),
            height: inputs.height_field.as_deref(),
            storeys: inputs.storeys_field.as_deref(),
        };
        let found =
            houses(file, within, &fields).map_err(|e| CoverError::Footprints(Box::new(e)))?;
        let told = Told { file, inputs, remarks: &mut remarks };
        if found.footprints.is_empty() {
            told.say("not needed: it has no footprint in the window".to_owned());
            continue;
        }
        buildings.extend(told.settle_all(found));
    }
    if buildings.is_empty() {
        let files: Vec<_> = inputs.files.iter().map(|f| f.display().to_string()).collect();
        let window = Box::new(window);
        return Err(CoverError::NoFootprints { files: files.join(", "), window });
    }
    // Stable, so that of equals the later in the plan ends on top.
    buildings.sort_by(|a: &Building, b| a.height.value().total_cmp(&b.height.value()));
    Ok((buildings, remarks))
}

/// Remarks of one file in the making.
struct Told<'a> {
    file: &'a Path,
    inputs: &'a BuildingInputs,
    remarks: &'a mut Vec<Remark>,
}

impl Told<'_> {
    fn say(self, text: String) {
        self.remarks.push(Remark { about: self.file.display().to_string(), text });
    }

    fn settle_all(self, found: perchline_vector::Footprints) -> Vec<Building> {
        let mut texts = Vec::new();
        let (mut repaired, mut assumed, mut complaints) = (Vec::new(), 0, Vec::new());
        let mut buildings = Vec::with_capacity(found.footprints.len());
        let total = found.footprints.len();
        for footprint in found.footprints {
            let settled = settle(&footprint, self.inputs);
            assumed += usize::from(settled.assumed);
            let Footprint { id, outline, repaired: fixed, .. } = footprint;
            for complaint in settled.complaints {
                complaints.push(format!("{id}: {complaint}, {:.1} is used", settled.height));
            }
            if fixed {
                repaired.push(id.clone());
            }
            // An outline with an area has bounds.
            let Some(bounds) = outline.bounding_rect() else { continue };
            buildings.push(Building { id, height: settled.height, outline, bounds });
        }
        if !found.refused.is_empty() {
            let list = found.refused.iter().map(|r| format!("{}: {}", r.id, r.reason));
            texts.push(format!(
                "{} features are left out ({})",
                found.refused.len(),
                some_of(list)
            ));
        }
        if found.without_area > 0 {
            texts.push(format!(
                "{} features are points or lines, not polygons, and are left out",
                found.without_area
            ));
        }
        if !repaired.is_empty() {
            let count = repaired.len();
            texts.push(format!(
                "{count} outlines cross themselves and were repaired; look at them ({})",
                some_of(repaired)
            ));
        }
        if !complaints.is_empty() {
            texts.push(format!(
                "{} heights are none that a building has (above 0, up to {HIGHEST:.0} m; {})",
                complaints.len(),
                some_of(complaints)
            ));
        }
        if assumed > 0 {
            let unknown = if found.knows_heights {
                ""
            } else {
                "; the file has no field height or building:levels at all"
            };
            texts.push(format!(
                "{assumed} of {total} footprints state no usable height and no storeys: the plan's default_height of {:.1} is used{unknown}",
                self.inputs.default_height
            ));
        }
        let about = self.file.display().to_string();
        self.remarks.extend(texts.into_iter().map(|text| Remark { about: about.clone(), text }));
        buildings
    }
}

/// The buildings on cells, and what became of those that share cells or have none.
pub(super) fn on_cells(
    grid: &Grid,
    buildings: &[Building],
) -> Result<(Array2<i32>, Vec<Remark>), CoverError> {
    let Burnt { number, claimed_twice } = burn(grid, buildings)?;
    let about = "buildings".to_owned();
    let mut remarks = Vec::new();
    let of = |number: i32| usize::try_from(number - 1).ok().and_then(|index| buildings.get(index));
    let pairs: Vec<String> = claimed_twice
        .iter()
        .filter_map(|((lower, upper), cells)| {
            let (lower, upper) = (of(*lower)?, of(*upper)?);
            Some(format!(
                "{} ({:.1}) over {} ({:.1}) in {cells} cells",
                upper.id, upper.height, lower.id, lower.height
            ))
        })
        .collect();
    if !pairs.is_empty() {
        remarks.push(Remark {
            about: about.clone(),
            text: format!(
                "{} pairs of footprints overlap; the higher one stands ({})",
                pairs.len(),
                some_of(pairs)
            ),
        });
    }
    let mut seen = vec![false; buildings.len()];
    let claimed = claimed_twice.keys().map(|(lower, _)| lower);
    for number in number.iter().chain(claimed) {
        let index = usize::try_from(number - 1).ok();
        if let Some(seen) = index.and_then(|index| seen.get_mut(index)) {
            *seen = true;
        }
    }
    // What lies partly or wholly outside the window may have no cell for that.
    let bounds = grid.bounds()?;
    let lost: Vec<String> = buildings
        .iter()
        .zip(&seen)
        .filter(|(building, seen)| {
            let (low, high) = (building.bounds.min(), building.bounds.max());
            let inside = [low, high]
                .iter()
                .all(|c| Position::from_point((*c).into()).is_ok_and(|at| bounds.contains(at)));
            !**seen && inside
        })
        .map(|(building, _)| building.id.clone())
        .collect();
    if !lost.is_empty() {
        let (width, _) = grid.cell_size()?;
        remarks.push(Remark {
            about,
            text: format!(
                "{} footprints hold the centre of no cell of {width:.1}, so they stand in nobody's way; a smaller [buildings] cell would show them ({})",
                lost.len(),
                some_of(lost)
            ),
        });
    }
    Ok((number, remarks))
}

/// The first few, and how many more there are.
pub(super) fn some_of(all: impl IntoIterator<Item = String>) -> String {
    const SHOWN: usize = 5;
    let all: Vec<String> = all.into_iter().collect();
    let shown: Vec<&str> = all.iter().take(SHOWN).map(String::as_str).collect();
    let more = all.len().saturating_sub(SHOWN);
    let rest = if more > 0 { format!("; and {more} more") } else { String::new() };
    shown.join("; ") + &rest
}
