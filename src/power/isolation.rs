//! Loss between two antennas on one roof.
//!
//! Source: Report ITU-R M.2244 (isolation between antennas of base stations),
//! its formulas for horizontal, vertical and slant separation (from memory).

use serde::Serialize;

use perchline_units::{Db, Dbi, Megahertz, Metres};

/// Loss between antennas side by side: 22 + 20 log(d / λ) - (G1 + G2), which is
/// free space; it holds from about ten wavelengths, and is too favourable
/// closer than one.
#[must_use]
pub fn horizontal(distance: Metres, frequency: Megahertz, gains: (Dbi, Dbi)) -> Db {
    let wavelengths = distance.value() / frequency.wavelength().value();
    Db::new(22.0 + 20.0 * wavelengths.log10() - gains.0.value() - gains.1.value())
}

/// Loss between collinear or dipole antennas one above the other: 28 + 40 log(d / λ);
/// it holds from about a wavelength.
#[must_use]
pub fn vertical(distance: Metres, frequency: Megahertz) -> Db {
    let wavelengths = distance.value() / frequency.wavelength().value();
    Db::new(28.0 + 40.0 * wavelengths.log10())
}

/// Separation of two antennas: along the roof and in height.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Separation {
    /// Along the roof, 0 or more.
    pub along_m: Metres,
    /// In height, 0 or more.
    pub height_m: Metres,
}

/// Antennas are never nearer than this: their own size.
const NEAREST: Metres = Metres::new(0.3);

/// Less than this couples no less: an antenna's reach ends somewhere (common
/// practice, no source).
const LEAST: Db = Db::new(5.0);

/// Loss between two antennas that are apart in both ways:
/// (vertical - horizontal) θ / 90° + horizontal, with θ the angle of the line
/// between them over the horizontal. Where one of the two is nothing, the
/// formula of the other stands alone.
#[must_use]
pub fn slant(separation: Separation, frequency: Megahertz, gains: (Dbi, Dbi)) -> Db {
    let along = separation.along_m.value().abs();
    let height = separation.height_m.value().abs();
    let level = horizontal(Metres::new(along).max(NEAREST), frequency, gains);
    let upright = vertical(Metres::new(height).max(NEAREST), frequency);
    let share =
        if along == 0.0 && height == 0.0 { 0.0 } else { height.atan2(along).to_degrees() / 90.0 };
    let between = Db::new(level.value() + (upright - level).value() * share);
    between.max(LEAST)
}

/// Whether the formulas are stretched: less than a wavelength in both ways.
#[must_use]
pub fn is_stretched(separation: Separation, frequency: Megahertz) -> bool {
    let wavelength = frequency.wavelength().value();
    separation.along_m.value() < wavelength && separation.height_m.value() < wavelength
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    const DIPOLES: (Dbi, Dbi) = (Dbi::new(2.15), Dbi::new(2.15));

    /// Source: the charts of antenna isolation that makers print for land-mobile
    /// dipoles (from memory, read to a decibel or two): at 160 MHz 20 ft one
    /// above the other 48 dB, 100 ft side by side 42 dB; at 450 MHz 10 ft one
    /// above the other 54 dB.
    #[test]
    fn formulas_agree_with_printed_charts() {
        let mhz = Megahertz::new;
        let above = |feet, f| vertical(Metres::from_feet(feet), mhz(f)).value();
        assert_abs_diff_eq!(above(20.0, 160.0), 48.0, epsilon = 2.0);
        assert_abs_diff_eq!(above(10.0, 450.0), 54.0, epsilon = 2.0);
        let beside = horizontal(Metres::from_feet(100.0), mhz(160.0), DIPOLES).value();
        assert_abs_diff_eq!(beside, 42.0, epsilon = 2.0);
    }

    /// Source: ITU-R P.525 free-space loss, 32.45 + 20 log f + 20 log d, less
    /// both gains: side by side is free space.
    #[test]
    fn side_by_side_is_free_space() {
        for (metres, f) in [(10.0f64, 147.0f64), (50.0, 446.0)] {
            let free = 32.45 + 20.0 * f.log10() + 20.0 * (metres / 1000.0).log10() - 4.3;
            let found = horizontal(Metres::new(metres), Megahertz::new(f), DIPOLES).value();
            assert_abs_diff_eq!(found, free, epsilon = 0.05);
        }
    }

    #[test]
    fn slant_lies_between_and_meets_both_ends() {
        let at = |along: f64, height: f64| {
            let separation =
                Separation { along_m: Metres::new(along), height_m: Metres::new(height) };
            slant(separation, Megahertz::new(147.0), DIPOLES).value()
        };
        let f = Megahertz::new(147.0);
        assert_abs_diff_eq!(at(20.0, 0.0), horizontal(Metres::new(20.0), f, DIPOLES).value());
        assert_abs_diff_eq!(at(0.0, 6.0), vertical(Metres::new(6.0), f).value());
        // 45 degrees: the mean of the two.
        let mean = (at(10.0, 0.0) + at(0.0, 10.0)) / 2.0;
        assert_abs_diff_eq!(at(10.0, 10.0), mean, epsilon = 1e-9);
        // On one spot: no credit for what the formulas make of nothing.
        assert_abs_diff_eq!(at(0.0, 0.0), LEAST.value());
    }
}
