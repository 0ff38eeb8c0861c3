//! The buildings with an index of where each stands.

use geo::{Coord, Rect};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

use super::Building;
use perchline_units::Position;

/// A building's rectangle, in degrees, with its place in the list.
type Bounds = GeomWithData<Rectangle<[f64; 2]>, usize>;

/// Buildings in order of ascending height, found by where they stand.
#[derive(Debug, Clone, Default)]
pub(crate) struct Standing {
    list: Vec<Building>,
    places: RTree<Bounds>,
}

impl Standing {
    /// Buildings that come in order of ascending height.
    pub(super) fn of(list: Vec<Building>) -> Self {
        let corner = |c: Coord| [c.x, c.y];
        let bounds = list.iter().enumerate().map(|(place, building)| {
            let (low, high) = (building.bounds.min(), building.bounds.max());
            Bounds::new(Rectangle::from_corners(corner(low), corner(high)), place)
        });
        let places = RTree::bulk_load(bounds.collect());
        Self { list, places }
    }

    /// All of them.
    pub(super) fn list(&self) -> &[Building] {
        &self.list
    }

    /// The highest whose footprint holds a position.
    pub(super) fn at(&self, at: Position) -> Option<&Building> {
        let point = at.point();
        let here = self.places.locate_all_at_point(&[point.x(), point.y()]);
        let mut places: Vec<usize> = here.map(|found| found.data).collect();
        // They stand in order of height.
        places.sort_unstable();
        places.iter().rev().filter_map(|place| self.list.get(*place)).find(|b| b.holds(at))
    }

    /// Those whose rectangles touch this one, in degrees, in no order.
    pub(super) fn touching(&self, window: Rect) -> impl Iterator<Item = &Building> {
        let (low, high) = (window.min(), window.max());
        let window = AABB::from_corners([low.x, low.y], [high.x, high.y]);
        let found = self.places.locate_in_envelope_intersecting(&window);
        found.filter_map(|found| self.list.get(found.data))
    }
}
