//! Antenna gains by the slope of the path, from a table.

use crate::link::gain_towards;
use crate::plan::Antenna;
use crate::units::Degrees;

/// Steps of the sine of the elevation from -1 to 1.
const STEPS: usize = 8192;

/// Slope from which on patterns are too steep for the table: 71 degrees. Only
/// cells right below the antenna are seen so.
const STEEP: f32 = 3.0;

/// What an antenna's gain is over its gain towards the horizon, by elevation.
pub(super) struct Gains {
    antenna: Antenna,
    table: Vec<f32>,
}

impl Gains {
    pub(super) fn of(antenna: &Antenna) -> Self {
        let level = gain_towards(antenna, Degrees::new(0.0)).over_isotropic();
        let table = (0..STEPS + 2).map(|i| {
            let sine = (i as f64 / (STEPS / 2) as f64 - 1.0).min(1.0);
            let elevation = Degrees::new(sine.asin().to_degrees());
            (gain_towards(antenna, elevation).over_isotropic() - level).value() as f32
        });
        Self { antenna: *antenna, table: table.collect() }
    }

    /// The difference for a path that leaves at this slope, dB.
    #[inline(always)]
    pub(super) fn towards(&self, slope: f32) -> f32 {
        if slope.abs() > STEEP {
            return self.steep(slope);
        }
        let sine = slope / (slope * slope + 1.0).sqrt();
        let at = (sine + 1.0) * (STEPS / 2) as f32;
        let index = at as u32;
        let whole = index as f32;
        match self.table.get(index as usize..index as usize + 2) {
            Some(&[a, b]) => a + (b - a) * (at - whole),
            _ => 0.0,
        }
    }

    #[cold]
    fn steep(&self, slope: f32) -> f32 {
        let level = gain_towards(&self.antenna, Degrees::new(0.0));
        let elevation = Degrees::new(f64::from(slope).atan().to_degrees());
        let gain = gain_towards(&self.antenna, elevation);
        (gain.over_isotropic() - level.over_isotropic()).value() as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Pattern;
    use crate::units::Dbi;

    #[test]
    fn the_table_keeps_within_a_hundredth_of_a_decibel() {
        for pattern in [Pattern::Isotropic, Pattern::Dipole, Pattern::Collinear] {
            for gain in [-3.0, 2.15, 6.0, 9.0] {
                let antenna = Antenna { gain: Dbi::new(gain), pattern };
                let gains = Gains::of(&antenna);
                for tenths in -899..=899 {
                    let elevation = f64::from(tenths) / 10.0 + 0.013;
                    let exact = gain_towards(&antenna, Degrees::new(elevation)).over_isotropic()
                        - gain_towards(&antenna, Degrees::new(0.0)).over_isotropic();
                    let got = gains.towards(elevation.to_radians().tan() as f32);
                    let off = (f64::from(got) - exact.value()).abs();
                    assert!(off < 0.01, "{pattern:?} {gain} dBi at {elevation}: {off} dB");
                }
            }
        }
    }
}
