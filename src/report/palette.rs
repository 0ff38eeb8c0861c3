//! The map's colours: coverage as lamp light, radio shadow as shadow.
//!
//! Ground that works is light and warm, ground that does not is dark and cool,
//! so the holes are what the eye finds first, and a pen still shows where
//! people will stand. Lightness alone carries the order: every class keeps
//! clear of the next one on a grey photocopy, also where the relief makes it
//! lighter or darker. Two classes that must not be taken for a step of the
//! scale carry a pattern as well.

use perchline_link::Outcome;

/// A colour as 8-bit sRGB.
pub type Rgb = [u8; 3];

/// A colour as style sheets and drawings write it, `#rrggbb`.
#[must_use]
pub fn hex([red, green, blue]: Rgb) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

/// Dark text and thin lines.
pub const INK: &str = "#1d2433";
/// Text of second rank.
pub const QUIET: &str = "#5a6272";
/// Hairlines.
pub const HAIRLINE: &str = "#c9cdd4";
/// Routes and the site: the one strong colour.
pub const ACCENT: &str = "#8a2846";
/// Fine lines that are to be seen on light ground and on dark.
pub const BETWEEN: &str = "#7d8290";
/// Shores, level lines on water, and its names.
pub const WATER: &str = "#3f6a88";
/// The sheet.
pub const PAPER: &str = "#ffffff";

/// How far the relief may move a class from its own lightness, in CIE L*.
pub const RELIEF_SWING: f64 = 3.0;

/// Side of the square after which the patterns repeat, in pixels.
const PATTERN_PERIOD: usize = 16;

/// The class's own colour, on level ground.
#[must_use]
pub const fn base(outcome: Outcome) -> Rgb {
    match outcome {
        Outcome::Strong => [0xfe, 0xf1, 0xd1],
        Outcome::Clear => [0xe6, 0xc4, 0x8b],
        Outcome::Patchy => [0x88, 0xaa, 0x9d],
        Outcome::OneWay => [0x47, 0x74, 0x87],
        Outcome::NoContact => [0x44, 0x53, 0x77],
        Outcome::Unknown => [0x2a, 0x2b, 0x30],
    }
}

/// The colour of the pattern's marks, for the classes that have one.
#[must_use]
pub const fn pattern_colour(outcome: Outcome) -> Option<Rgb> {
    match outcome {
        Outcome::OneWay => Some([0x78, 0xa0, 0xae]),
        Outcome::Unknown => Some([0xa9, 0xac, 0xb4]),
        _ => None,
    }
}

/// Ground by how many relays serve it: none, one, two, three, four and more. The more,
/// the lighter.
pub const SERVED_BY: [Rgb; 5] = [
    [0x44, 0x4c, 0x63],
    [0xb0, 0x60, 0x3c],
    [0xd8, 0x97, 0x4e],
    [0xf0, 0xc8, 0x84],
    [0xff, 0xf8, 0xe4],
];

/// Whether the pixel at (x, y) belongs to a mark of the class's pattern:
/// slanted lines where the relay is heard only, small crosses where nothing is known.
const fn in_pattern(outcome: Outcome, x: usize, y: usize) -> bool {
    match outcome {
        Outcome::OneWay => (x + y) % 8 < 2,
        Outcome::Unknown => {
            let (u, v) = (x % PATTERN_PERIOD, y % PATTERN_PERIOD);
            (u == 8 && v > 5 && v < 11) || (v == 8 && u > 5 && u < 11)
        }
        _ => false,
    }
}

/// Colours of one class under every light of the relief.
#[derive(Debug, Clone)]
pub struct Tints {
    plain: Vec<Rgb>,
    marked: Vec<Rgb>,
    outcome: Outcome,
}

impl Tints {
    /// The colours of `outcome`.
    #[must_use]
    pub fn new(outcome: Outcome) -> Self {
        // Where nothing is known the ground is flat: a relief would promise knowledge.
        let swing = if outcome == Outcome::Unknown { 0.0 } else { RELIEF_SWING };
        Self {
            plain: ramp(base(outcome), swing),
            marked: ramp(pattern_colour(outcome).unwrap_or(base(outcome)), swing),
            outcome,
        }
    }

    /// The colour at a pixel under `light`, 0 dark to 255 bright.
    #[must_use]
    pub fn at(&self, x: usize, y: usize, light: u8) -> Rgb {
        let ramp = if in_pattern(self.outcome, x, y) { &self.marked } else { &self.plain };
        ramp.get(usize::from(light)).copied().unwrap_or(base(self.outcome))
    }
}

/// A colour under each light of the relief from 0, dark, to 255, bright, moved
/// by `swing` of CIE L* at most.
#[must_use]
pub fn ramp(colour: Rgb, swing: f64) -> Vec<Rgb> {
    let lab = Lab::from_rgb(colour);
    (0..=255u8)
        .map(|light| {
            let shift = swing * (f64::from(light) / 127.5 - 1.0);
            Lab { lightness: lab.lightness + shift, ..lab }.rgb()
        })
        .collect()
}

/// A colour in CIE 1976 L*a*b* under D65.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lab {
    /// L*, 0 black to 100 white.
    pub lightness: f64,
    /// a*, green to red.
    pub green_red: f64,
    /// b*, blue to yellow.
    pub blue_yellow: f64,
}

/// White of D65 in CIE XYZ, Y = 1 (IEC 61966-2-1).
const WHITE: [f64; 3] = [0.950_47, 1.0, 1.088_83];

/// Light of an sRGB channel, 0 to 1 (IEC 61966-2-1).
#[must_use]
pub fn to_linear(channel: u8) -> f64 {
    let c = f64::from(channel) / 255.0;
    if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
}

/// The sRGB channel of a light from 0 to 1, cut off outside.
#[must_use]
pub fn from_linear(light: f64) -> u8 {
    let c =
        if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    // Cut to the channel's range, so the conversion cannot wrap.
    (c * 255.0).round().clamp(0.0, 255.0) as u8
}

impl Lab {
    /// From sRGB (CIE 15:2004, section 8.2.1).
    #[must_use]
    pub fn from_rgb(rgb: Rgb) -> Self {
        let [r, g, b] = rgb.map(to_linear);
        Self::from_linear_rgb([r, g, b])
    }

    /// From linear sRGB light, each 0 to 1.
    #[must_use]
    pub fn from_linear_rgb([r, g, b]: [f64; 3]) -> Self {
        let [white_x, white_y, white_z] = WHITE;
        let x = 0.412_456_4 * r + 0.357_576_1 * g + 0.180_437_5 * b;
        let y = 0.212_672_9 * r + 0.715_152_2 * g + 0.072_175_0 * b;
        let z = 0.019_333_9 * r + 0.119_192_0 * g + 0.950_304_1 * b;
        let bend = |t: f64| {
            if t > 216.0 / 24_389.0 { t.cbrt() } else { (24_389.0 / 27.0 * t + 16.0) / 116.0 }
        };
        let (fx, fy, fz) = (bend(x / white_x), bend(y / white_y), bend(z / white_z));
        Self {
            lightness: 116.0 * fy - 16.0,
            green_red: 500.0 * (fx - fy),
            blue_yellow: 200.0 * (fy - fz),
        }
    }

    /// To sRGB, cut to its gamut.
    #[must_use]
    pub fn rgb(self) -> Rgb {
        let [white_x, white_y, white_z] = WHITE;
        let fy = (self.lightness + 16.0) / 116.0;
        let unbend = |f: f64| {
            if f > 6.0 / 29.0 { f.powi(3) } else { (116.0 * f - 16.0) * 27.0 / 24_389.0 }
        };
        let x = white_x * unbend(fy + self.green_red / 500.0);
        let y = white_y * unbend(fy);
        let z = white_z * unbend(fy - self.blue_yellow / 200.0);
        [
            from_linear(3.240_454_2 * x - 1.537_138_5 * y - 0.498_531_4 * z),
            from_linear(-0.969_266_0 * x + 1.876_010_8 * y + 0.041_556_0 * z),
            from_linear(0.055_643_4 * x - 0.204_025_9 * y + 1.057_225_2 * z),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Least lightness between the greys of two classes on level ground.
    const LEAST_STEP: f64 = 12.0;
    /// Least lightness that is left between them anywhere on the relief.
    const LEAST_STEP_ON_RELIEF: f64 = 8.0;
    /// Least colour difference to any eye.
    const LEAST_DIFFERENCE: f64 = 12.0;

    /// Colour difference of CIE 1976: the straight distance in L*a*b*.
    fn difference(a: Lab, b: Lab) -> f64 {
        (a.lightness - b.lightness)
            .hypot(a.green_red - b.green_red)
            .hypot(a.blue_yellow - b.blue_yellow)
    }

    /// Full dichromacy in linear sRGB: Machado, Oliveira and Fernandes 2009, "A
    /// physiologically-based model for simulation of color vision deficiency",
    /// IEEE TVCG 15(6), doi:10.1109/TVCG.2009.113, table 1 at severity 1.0.
    const EYES: [(&str, [[f64; 3]; 3]); 4] = [
        ("trichromat", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "protanope",
            [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
        ),
        (
            "deuteranope",
            [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
        ),
        (
            "tritanope",
            [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        ),
    ];

    /// Mean light of a class's fill, pattern included: what an eye sees from a
    /// distance, and a copier that cannot hold the pattern.
    fn mean_light(outcome: Outcome, light: u8) -> [f64; 3] {
        let tints = Tints::new(outcome);
        let mut sum = [0.0; 3];
        for y in 0..PATTERN_PERIOD {
            for x in 0..PATTERN_PERIOD {
                for (s, c) in sum.iter_mut().zip(tints.at(x, y, light)) {
                    *s += to_linear(c);
                }
            }
        }
        sum.map(|s| s / (PATTERN_PERIOD * PATTERN_PERIOD) as f64)
    }

    fn grey(outcome: Outcome, light: u8) -> f64 {
        Lab::from_linear_rgb(mean_light(outcome, light)).lightness
    }

    fn seen(matrix: [[f64; 3]; 3], light: [f64; 3]) -> Lab {
        let row =
            |r: [f64; 3]| r.iter().zip(light).map(|(a, b)| a * b).sum::<f64>().clamp(0.0, 1.0);
        Lab::from_linear_rgb(matrix.map(row))
    }

    fn pairs() -> impl Iterator<Item = (Outcome, Outcome)> {
        Outcome::ALL
            .iter()
            .enumerate()
            .flat_map(|(i, a)| Outcome::ALL.iter().skip(i + 1).map(move |b| (*a, *b)))
    }

    #[test]
    fn a_grey_photocopy_keeps_the_classes_apart() {
        for (a, b) in pairs() {
            let step = (grey(a, 127) - grey(b, 127)).abs();
            assert!(step >= LEAST_STEP, "{a:?} and {b:?} are {step:.1} L* apart");
            // `a` is the better and so the lighter one.
            let relief = grey(a, 0) - grey(b, 255);
            assert!(
                relief >= LEAST_STEP_ON_RELIEF,
                "{a:?} and {b:?} come within {relief:.1} L* on the relief"
            );
        }
    }

    #[test]
    fn better_is_lighter() {
        let greys: Vec<f64> = Outcome::ALL.iter().map(|o| grey(*o, 127)).collect();
        assert!(greys.is_sorted_by(|a, b| a > b), "{greys:?}");
    }

    #[test]
    fn a_grey_photocopy_and_every_eye_tell_how_many_relays_serve() {
        let light = |rgb: Rgb| Lab::from_rgb(rgb).lightness;
        for pair in SERVED_BY.windows(2) {
            let [fewer, more] = [pair[0], pair[1]];
            let relief = light(more) - light(fewer) - 2.0 * RELIEF_SWING;
            assert!(relief >= LEAST_STEP_ON_RELIEF, "{pair:?} come within {relief:.1} L*");
            for (eye, matrix) in EYES {
                let [one, two] = [fewer, more].map(|rgb| seen(matrix, rgb.map(to_linear)));
                let difference = difference(one, two);
                assert!(difference >= LEAST_DIFFERENCE, "{pair:?}: {difference:.1} to a {eye}");
            }
        }
    }

    #[test]
    fn every_eye_tells_the_classes_apart() {
        for (eye, matrix) in EYES {
            for (a, b) in pairs() {
                for light in [0, 127, 255] {
                    let (one, two) =
                        (seen(matrix, mean_light(a, light)), seen(matrix, mean_light(b, light)));
                    let difference = difference(one, two);
                    assert!(
                        difference >= LEAST_DIFFERENCE,
                        "{a:?} and {b:?} differ by {difference:.1} to a {eye}"
                    );
                }
            }
        }
    }

    #[test]
    fn the_relief_stays_within_its_swing() {
        for outcome in Outcome::ALL {
            for light in [0, 255] {
                let off = (grey(outcome, light) - grey(outcome, 127)).abs();
                assert!(off <= RELIEF_SWING + 0.4, "{outcome:?} moves by {off:.2} L*");
            }
        }
    }

    /// Reference values of pure sRGB colours under D65, CIE 15:2004 formulas
    /// evaluated with the Python package colorspacious 1.1.2 (two decimals).
    #[test]
    fn lightness_agrees_with_colorspacious() {
        for (rgb, lightness) in [([255, 0, 0], 53.24), ([0, 128, 0], 46.23), ([64, 64, 64], 27.09)]
        {
            approx::assert_abs_diff_eq!(Lab::from_rgb(rgb).lightness, lightness, epsilon = 0.02);
        }
        for rgb in [[12, 200, 99], [250, 240, 1]] {
            assert_eq!(Lab::from_rgb(rgb).rgb(), rgb);
        }
    }
}
