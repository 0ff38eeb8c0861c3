//! Checks that look at all positions together: one that lies far off is more
//! often mistyped than meant.

use super::check::Placed;
use super::{Check, Entry};
use perchline_units::{Degrees, Metres, Position};

/// No hand-held net is wider than this.
const WIDEST: Metres = Metres::new(200_000.0);

impl Check<'_> {
    /// Looks for positions that lie far from the others.
    pub(super) fn spread(&mut self) {
        let placed = std::mem::take(&mut self.placed);
        let Some(middle) = middle(&placed) else { return };
        let mut told: Vec<String> = Vec::new();
        for one in &placed {
            let distance = middle.distance(one.at);
            if distance <= WIDEST || told.iter().any(|label| label == one.entry.label()) {
                continue;
            }
            told.push(one.entry.label().to_owned());
            self.far_off(one, middle, distance);
        }
        let longitudes = || placed.iter().map(|one| one.at.longitude().value());
        let width = longitudes().fold(f64::MIN, f64::max) - longitudes().fold(f64::MAX, f64::min);
        if width > 180.0 && told.is_empty() {
            let text = "the plan lies across the 180th meridian, where maps are not supported";
            self.problem(&Entry::single("site"), "", text);
        }
    }

    fn far_off(&mut self, one: &Placed, middle: Position, distance: Metres) {
        let (latitude, longitude) = (one.at.latitude(), one.at.longitude());
        let swapped = Position::new(longitude, latitude).ok();
        let mirrored = [(1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)].iter().find_map(|(north, east)| {
            Position::new(latitude * *north, longitude * *east)
                .ok()
                .filter(|at| middle.distance(*at) <= WIDEST)
        });
        let guess = if swapped.is_some_and(|at| middle.distance(at) <= WIDEST) {
            format!(
                "latitude and longitude look swapped: did you mean \"{}, {}\"?",
                longitude.value(),
                latitude.value()
            )
        } else if let Some(at) = mirrored {
            format!(
                "a sign or a letter N, S, E, W looks wrong: did you mean \"{}, {}\"?",
                at.latitude().value(),
                at.longitude().value()
            )
        } else {
            "check every digit".to_owned()
        };
        let text = format!(
            "this is {:.0} km from the middle of the plan's other places, and no hand-held net is \
             that wide; {guess}",
            distance.kilometres()
        );
        self.problem(&one.entry, &one.field, text);
    }
}

/// The median latitude and longitude: a few far-off places do not move it.
/// Each entry counts once, so that a long route does not outvote the rest.
fn middle(placed: &[Placed]) -> Option<Position> {
    let mut entries: Vec<&Placed> = Vec::new();
    for one in placed {
        if entries.last().is_none_or(|last| last.entry.label() != one.entry.label()) {
            entries.push(one);
        }
    }
    let median = |value: fn(&Placed) -> f64| {
        let mut values: Vec<f64> = entries.iter().map(|one| value(one)).collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    };
    let latitude = median(|one| one.at.latitude().value())?;
    let longitude = median(|one| one.at.longitude().value())?;
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).ok()
}
