//! Which model gave a figure: a method may hand short paths to another.

use std::fmt;

use serde::{Serialize, Serializer};

use perchline_units::Db;

/// A model for paths too short for P.1812.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Near {
    /// Free space, or the smoothed two-ray law past its break distance.
    TwoRay,
    /// Free space and what stands in the way, by the delta-Bullington method.
    DeltaBullington,
}

/// Which model gave a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Model {
    /// The method of this name itself.
    Method(&'static str),
    /// A model for short paths.
    Near(Near),
    /// Part a model for short paths, part P.1812.
    Joint {
        /// The model for short paths.
        near: Near,
        /// The share of P.1812, above 0 and below 1.
        p1812: f64,
    },
}

impl Model {
    /// Whether it is the method asked for, and no other model stands in for it.
    #[must_use]
    pub const fn is_the_method(self) -> bool {
        matches!(self, Self::Method(_))
    }
}

impl Serialize for Model {
    /// As its name for people.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl fmt::Display for Near {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TwoRay => "two-ray",
            Self::DeltaBullington => "delta-bullington",
        })
    }
}

impl fmt::Display for Model {
    /// Its name for people, such as `40 % two-ray, 60 % p1812`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Method(name) => f.write_str(name),
            Self::Near(near) => near.fmt(f),
            Self::Joint { near, p1812 } => {
                // Whole percents, and none of either reads as none at all.
                let share = (p1812 * 100.0).round().clamp(1.0, 99.0);
                write!(f, "{:.0} % {near}, {share:.0} % p1812", 100.0 - share)
            }
        }
    }
}

/// A loss beyond free space, and the model that it is from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Excess {
    /// Beyond free space over the straight distance, dB; below nothing only
    /// where the method says so.
    pub loss: Db,
    /// The model.
    pub model: Model,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_model_is_named_for_people() {
        assert_eq!(Model::Near(Near::TwoRay).to_string(), "two-ray");
        let joint = |p1812| Model::Joint { near: Near::DeltaBullington, p1812 }.to_string();
        assert_eq!(joint(0.625), "37 % delta-bullington, 63 % p1812");
        assert_eq!(joint(0.001), "99 % delta-bullington, 1 % p1812");
        assert!(Model::Method("p1812").is_the_method());
        assert!(!Model::Near(Near::DeltaBullington).is_the_method());
    }
}
