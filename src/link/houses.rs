//! The houses that a plan states around the ends of a link.

use std::borrow::Cow;
use std::sync::Arc;

use geo::{Contains, Polygon};

use super::budget::LinkModel;
use super::path::Propagator;
use super::terminal::Terminal;
use perchline_plan::{Clutter, ClutterClass, Plan};
use perchline_propagation::p2108::{HEIGHT_GAIN_DEVIATION, height_gain};
use perchline_propagation::rows::{OverRows, Rows};
use perchline_propagation::{Path, Profile};
use perchline_units::{Db, Megahertz, Metres, Position};

/// From one row of houses to the next in widths of a street: 81 m where the plan states
/// no width, a block and its street (ours).
const STREETS_TO_A_ROW: f64 = 3.0;

/// Areas with houses of their own, in the plan's order.
pub(super) type Quarters = Arc<[(Polygon, Clutter)]>;

/// The areas of a plan that state houses of their own, where an end of a link may be
/// in any of them.
pub(super) fn quarters(plan: &Plan, carried: &Terminal) -> Quarters {
    let areas = plan.clutter_areas().filter(|_| carried.roams);
    areas.map(|(outline, clutter)| (outline.clone(), clutter)).collect()
}

/// What the houses around an end take at a frequency (ITU-R P.2108 section 3.1).
pub(super) fn loss_around(end: &Terminal, frequency: Megahertz) -> Db {
    let closed = |houses: &Clutter| houses.class != ClutterClass::Open;
    end.clutter.filter(closed).map_or(Db::new(0.0), |houses| {
        height_gain(frequency, houses.roof_height, end.antenna, houses.street_width)
    })
}

/// The budget line of that loss.
pub(super) fn line_around(end: &Terminal, loss: Db) -> Option<(String, Db)> {
    let houses = end.clutter.filter(|_| loss > Db::new(0.0))?;
    Some((format!("{} around {} (P.2108)", houses.class.word(), end.name), -loss))
}

/// Variance over places in dB squared that houses at both ends add.
pub(super) fn variance(ends: [&Terminal; 2]) -> f64 {
    let below = |end: &&Terminal| end.clutter.is_some_and(|h| h.roof_height > end.antenna);
    let own = HEIGHT_GAIN_DEVIATION.value().powi(2);
    ends.iter().filter(|end| below(end)).map(|_| own).sum()
}

impl LinkModel {
    /// The same link with the carried radio at `place`, among the houses there where
    /// it may be anywhere.
    #[must_use]
    pub fn at(&self, place: Position) -> Cow<'_, Self> {
        let holds = |(outline, _): &&(Polygon, Clutter)| outline.contains(&place.point());
        match self.quarters.iter().rev().find(holds) {
            Some((_, clutter)) => Cow::Owned(self.clone().with_carried_among(*clutter)),
            None => Cow::Borrowed(self),
        }
    }

    /// The same link with the station's antenna at this height above its ground.
    #[must_use]
    pub fn at_station_height(&self, antenna: Metres) -> Cow<'_, Self> {
        if antenna == self.station.antenna {
            return Cow::Borrowed(self);
        }
        let mut model = self.clone();
        model.station.antenna = antenna;
        Cow::Owned(model.among_houses())
    }

    fn with_carried_among(mut self, clutter: Clutter) -> Self {
        self.carried.clutter = Some(clutter);
        self.among_houses()
    }

    /// Whether the station's antenna is below the roofs that the plan states around it.
    #[must_use]
    pub fn station_is_below_roofs(&self) -> bool {
        self.station.clutter.is_some_and(|houses| houses.roof_height > self.station.antenna)
    }

    /// What rows of houses take on these paths, which run from the station, beyond even
    /// ground: around the carried radio where that is below their roofs, else around
    /// the station.
    pub(super) fn rows_under(&self, paths: &[Path<'_>; 2]) -> [Db; 2] {
        match self.rows() {
            None => [Db::new(0.0); 2],
            Some((rows, from_low)) => {
                let take = |path: &Path<'_>| rows.beyond_ground(path, OverRows::of(path, from_low));
                let [talk_in, talk_out] = paths;
                [take(talk_in), take(talk_out)]
            }
        }
    }

    /// The same where only the ends of a profile from the station are known.
    #[must_use]
    pub fn rows_over(&self, propagator: &Propagator, ends: &Profile) -> [Db; 2] {
        let (input, output) = self.frequencies();
        let (station, carried) = (self.station.antenna, self.carried.antenna);
        let path = propagator.path(ends, station, carried, output);
        self.rows_under(&[path.with_frequency(input), path])
    }

    /// The rows of houses around the low end, and whether that is the station's.
    #[must_use]
    pub fn rows(&self) -> Option<(Rows, bool)> {
        let rows = |end: &Terminal| {
            let houses = end.clutter.filter(|houses| houses.roof_height > end.antenna)?;
            // A village has fields between its houses and the relay, no rows.
            let in_rows = matches!(houses.class, ClutterClass::Suburb | ClutterClass::Town);
            let spacing = houses.street_width * STREETS_TO_A_ROW;
            in_rows.then_some(Rows { roofs: houses.roof_height, spacing })
        };
        let carried = rows(&self.carried).map(|rows| (rows, false));
        carried.or_else(|| rows(&self.station).map(|rows| (rows, true)))
    }

    /// The areas whose houses are others than those of the plan, where the carried
    /// radio may be in them.
    #[must_use]
    pub fn has_quarters(&self) -> bool {
        !self.quarters.is_empty()
    }

    /// By how much the margins of (talk-in, talk-out) of this link are over those of
    /// `other`, from which it differs in houses alone.
    #[must_use]
    pub fn margins_over(&self, other: &Self) -> [Db; 2] {
        let kept = other.allowance() - self.allowance();
        let [own_in, own_out] = self.houses();
        let [other_in, other_out] = other.houses();
        [other_in - own_in + kept, other_out - own_out + kept]
    }

    /// Mean heights of the roofs that the plan states around both ends; nothing where
    /// it states none around one.
    pub(super) fn stated_roofs(&self) -> Option<[Metres; 2]> {
        Some([self.station.clutter?.roof_height, self.carried.clutter?.roof_height])
    }
}
