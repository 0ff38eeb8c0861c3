//! A pack, or several in parallel, as one source.

use perchline_plan::{Chemistry, Pack};
use perchline_units::{AmpereHours, Celsius, Kilograms, Ohms, Volts};

use super::chemistry::{capacity_share, cell_ohms, resistance_factor, resting_cell, traits};

/// Packs in parallel, aged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Battery {
    chemistry: Chemistry,
    cells: f64,
    rated: f64,
    healthy: f64,
}

impl Battery {
    /// `count` packs in parallel.
    #[must_use]
    pub fn of(pack: &Pack, count: u32) -> Self {
        let fade = traits(pack.chemistry).fade_a_year;
        Self {
            chemistry: pack.chemistry,
            cells: f64::from(pack.cells),
            rated: pack.rated().value() * f64::from(count),
            healthy: (1.0 - fade).powf(pack.age_years),
        }
    }

    /// The same with its capacity times `factor`.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self { healthy: self.healthy * factor, ..self }
    }

    /// The same cells when new, of another rated capacity.
    #[must_use]
    pub fn of_capacity(self, rated: AmpereHours) -> Self {
        Self { rated: rated.value(), healthy: 1.0, ..self }
    }

    /// What it is made of.
    #[must_use]
    pub const fn chemistry(&self) -> Chemistry {
        self.chemistry
    }

    /// Rated capacity when new.
    #[must_use]
    pub const fn rated(&self) -> AmpereHours {
        AmpereHours::new(self.rated)
    }

    /// Capacity at `temperature` with its age counted, at the rate for which it is rated.
    #[must_use]
    pub fn capacity(&self, temperature: Celsius) -> AmpereHours {
        AmpereHours::new(self.rated * self.healthy * capacity_share(self.chemistry, temperature))
    }

    /// Voltage without load at `depth` of discharge, 0 full to 1 empty.
    #[must_use]
    pub fn resting(&self, depth: f64) -> Volts {
        Volts::new(self.cells * resting_cell(self.chemistry, depth).value())
    }

    /// Inner resistance at `temperature`. An old pack has more: it grows as
    /// capacity falls.
    #[must_use]
    pub fn resistance(&self, temperature: Celsius) -> Ohms {
        let cold = resistance_factor(self.chemistry, temperature);
        Ohms::new(self.cells * cell_ohms(self.chemistry, self.rated * self.healthy) * cold)
    }

    /// Weight of a pack of these cells and this capacity (typical, from memory).
    #[must_use]
    pub fn typical_weight(&self) -> Kilograms {
        let volts = self.cells * self.chemistry.nominal_cell().value();
        Kilograms::new(volts * self.rated / traits(self.chemistry).watt_hours_a_kilogram)
    }
}

/// Weight of one pack: the plan's, or what such packs typically weigh.
#[must_use]
pub fn pack_weight(pack: &Pack) -> Kilograms {
    pack.weight.unwrap_or_else(|| Battery::of(pack, 1).typical_weight())
}
