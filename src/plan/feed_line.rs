//! Feed lines by type.

use perchline_units::{Db, Megahertz, Metres};

/// A coaxial cable: its loss follows the square root of frequency in the
/// conductors and frequency itself in the dielectric.
#[derive(Debug, PartialEq)]
pub struct Cable {
    /// The name typed in a plan.
    pub name: &'static str,
    /// Conductor loss, dB per 100 m at 1 MHz, grows with the square root of frequency.
    conductor: f64,
    /// Dielectric loss, dB per 100 m at 1 MHz, grows with frequency.
    dielectric: f64,
}

/// Cables that a plan may name. Each pair of coefficients goes through typical
/// catalogue values at 100 MHz and 1 GHz (typical, from memory): RG-174 27.6
/// and 111, RG-58 16.1 and 66, RG-8X 12.1 and 44, RG-213 6.4 and 26, 10 mm foam
/// 3.9 and 14, half-inch corrugated 2.2 and 7.3, seven-eighths 1.2 and 4.0 dB
/// per 100 m.
pub static CABLES: &[Cable] = &[
    Cable { name: "RG-174", conductor: 2.413, dielectric: 0.0347 },
    Cable { name: "RG-58", conductor: 1.389, dielectric: 0.0221 },
    Cable { name: "RG-8X", conductor: 1.126, dielectric: 0.0084 },
    Cable { name: "RG-213", conductor: 0.556, dielectric: 0.0084 },
    Cable { name: "foam-10mm", conductor: 0.373, dielectric: 0.0022 },
    Cable { name: "corrugated-1/2in", conductor: 0.215, dielectric: 0.0005 },
    Cable { name: "corrugated-7/8in", conductor: 0.117, dielectric: 0.0003 },
];

impl Cable {
    /// The cable with this name, letter case aside.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        CABLES.iter().find(|c| c.name.eq_ignore_ascii_case(name))
    }

    /// Loss of a matched run of this cable.
    #[must_use]
    pub fn loss(&self, length: Metres, frequency: Megahertz) -> Db {
        let f = frequency.value();
        Db::new((self.conductor * f.sqrt() + self.dielectric * f) * length.value() / 100.0)
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    fn per_100_m(name: &str, mhz: f64) -> f64 {
        Cable::named(name).unwrap().loss(Metres::new(100.0), Megahertz::new(mhz)).value()
    }

    /// Typical catalogue values at 100 MHz and 1 GHz in dB per 100 m (from
    /// memory, as above [`CABLES`]).
    #[test]
    fn the_coefficients_give_the_catalogue_values() {
        let catalogue = [
            ("RG-174", 27.6, 111.0),
            ("RG-58", 16.1, 66.0),
            ("RG-8X", 12.1, 44.0),
            ("RG-213", 6.4, 26.0),
            ("foam-10mm", 3.9, 14.0),
            ("corrugated-1/2in", 2.2, 7.3),
            ("corrugated-7/8in", 1.2, 4.0),
        ];
        assert_eq!(catalogue.len(), CABLES.len());
        for (name, at_100, at_1000) in catalogue {
            assert_relative_eq!(per_100_m(name, 100.0), at_100, max_relative = 0.03);
            assert_relative_eq!(per_100_m(name, 1000.0), at_1000, max_relative = 0.03);
        }
    }

    /// Loss in decibels is proportional to length (any handbook), and a thicker
    /// cable of one kind loses less.
    #[test]
    fn longer_and_thinner_lose_more() {
        let cable = Cable::named("rg-58").unwrap();
        let loss = |m: f64| cable.loss(Metres::new(m), Megahertz::new(147.0)).value();
        assert_relative_eq!(loss(30.0), 3.0 * loss(10.0), max_relative = 1e-12);
        assert!(loss(0.0).abs() < 1e-12);
        for pair in CABLES.windows(2) {
            for mhz in [30.0, 147.0, 446.0, 1000.0] {
                let [thin, thick] = [pair[0].name, pair[1].name].map(|n| per_100_m(n, mhz));
                assert!(thin > thick, "{} {} at {mhz}", pair[0].name, pair[1].name);
            }
        }
    }

    #[test]
    fn an_unknown_cable_is_none() {
        assert_eq!(Cable::named("RG-59"), None);
    }
}
