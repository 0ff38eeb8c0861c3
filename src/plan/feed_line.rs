//! Feed lines by type.

use crate::units::{Db, Megahertz, Metres};

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
