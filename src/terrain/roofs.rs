//! The roofs around a place.

use perchline_profile::Roofs;

use super::Terrain;

/// Roofs count up to here, less with distance (ours: two or three houses).
const AROUND: f64 = 150.0;

/// Points sampled on either side of the middle.
const STEPS: i32 = 10;

impl Terrain {
    /// Whether a house stands anywhere on the window.
    #[must_use]
    pub fn has_houses(&self) -> bool {
        let (cover, woods) = (self.flat_cover(), self.flat_woods());
        let tree = |cell: usize| woods.get(cell).copied().unwrap_or(0.0);
        cover.iter().enumerate().any(|(cell, cover)| *cover > tree(cell))
    }

    /// The roofs around a fractional cell of the window: houses by their distance,
    /// trees left out. What lies beyond the window does not count.
    pub(super) fn roofs_around(&self, (column, row): (f64, f64)) -> Roofs {
        let cover = self.flat_cover();
        if cover.is_empty() {
            return Roofs::NONE;
        }
        let woods = self.flat_woods();
        let (rows, columns) = self.heights().dim();
        let step = AROUND / f64::from(STEPS) / self.spacing().value();
        let (mut all, mut built, mut volume) = (0.0, 0.0, 0.0);
        for down in -STEPS..=STEPS {
            for right in -STEPS..=STEPS {
                let away = f64::from(down).hypot(f64::from(right)) / f64::from(STEPS);
                let weight = 1.0 - away;
                let (x, y) = (column + f64::from(right) * step, row + f64::from(down) * step);
                let inside = x >= 0.0 && y >= 0.0 && x < columns as f64 && y < rows as f64;
                if weight <= 0.0 || !inside {
                    continue;
                }
                let cell = y as usize * columns + x as usize;
                let at = |layer: &[f32]| layer.get(cell).copied().unwrap_or(0.0);
                let house = f64::from(at(cover) - at(woods));
                all += weight;
                if house > 0.0 {
                    built += weight;
                    volume += weight * house;
                }
            }
        }
        Roofs::new(volume / f64::max(built, f64::MIN_POSITIVE), built / f64::max(all, 1.0))
    }
}
